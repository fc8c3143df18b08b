// SPDX-License-Identifier: Apache-2.0
// What holds now, as JSON.
#include "front/job/job_priv.h"

#define PHOTOGRAPHER (1u << PC_JOB_PROGRAM | 1u << PC_JOB_PHOTOGRAPHER)
#define COOK         (1u << PC_JOB_COOK)
#define CLIENT       (1u << PC_JOB_CLIENT)

static struct pc_json *item(const struct pc_db_row *row, const char *id)
{
    struct pc_json *body = NULL;
    const char *text = pc_db_text(row, 3);
    if (pc_json_parse(text, strlen(text), "job.db", &body, NULL) != PC_OK)
        body = pc_json_object();
    if (id != NULL)
        pc_json_put_text(body, "id", id);
    pc_json_put_int(body, "rev", pc_db_int(row, 1));
    pc_json_put_int(body, "at_ms", pc_db_int(row, 2));
    return body;
}

static enum pc_status by_subject(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    pc_json_put(user, pc_db_text(row, 0), item(row, NULL));
    return PC_OK;
}

static enum pc_status in_order(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    pc_json_add(user, item(row, pc_db_text(row, 0)));
    return PC_OK;
}

static enum pc_status the_one(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    *(struct pc_json **)user = item(row, pc_db_text(row, 0));
    return PC_OK;
}

static const char now_sql[] = "SELECT subject, rev, at_ms, body FROM now WHERE what = ? ORDER BY first";
static const char now_of_sql[] = "SELECT subject, rev, at_ms, body FROM now WHERE what = ? AND subject = ?";
static const char latest_sql[] =
    "SELECT subject, rev, at_ms, body FROM now WHERE what = ? ORDER BY rev DESC LIMIT 1";

enum pc_status pc_job_now(struct pc_job *job, const char *what, struct pc_json **now, struct pc_err *err)
{
    *now = pc_json_object();
    pthread_mutex_lock(&job->lock);
    enum pc_status status = pc_db_run(job->db, now_sql, &PC_DB_TEXT(what), 1, by_subject, *now, err);
    pthread_mutex_unlock(&job->lock);
    if (status != PC_OK) {
        pc_json_destroy(*now);
        *now = NULL;
    }
    return status;
}

enum pc_status pc_job_now_of(struct pc_job *job, const char *what, const char *subject, struct pc_json **now,
                             struct pc_err *err)
{
    *now = NULL;
    const struct pc_db_value values[] = {PC_DB_TEXT(what), PC_DB_TEXT(subject)};
    pthread_mutex_lock(&job->lock);
    enum pc_status status = pc_db_run(job->db, now_of_sql, values, PC_COUNT(values), the_one, now, err);
    pthread_mutex_unlock(&job->lock);
    return status;
}

static enum pc_status tap_row(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    struct pc_json *o = pc_json_object();
    pc_json_put_int(o, "rev", pc_db_int(row, 0));
    pc_json_put_text(o, "plate", pc_db_text(row, 1));
    pc_json_put_text(o, "state", pc_db_text(row, 2));
    pc_json_put_int(o, "at_ms", pc_db_int(row, 3));
    pc_json_put_text(o, "who", pc_db_text(row, 4));
    pc_json_add(user, o);
    return PC_OK;
}

static enum pc_status taps_within(struct pc_job *job, struct pc_json *taps, struct pc_err *err)
{
    return pc_db_run(job->db,
                     "SELECT rev, subject, json_extract(body, '$.state'),"
                     " at_ms - CAST(ifnull(json_extract(body, '$.ago_ms'), 0) AS INTEGER) AS made_ms, who"
                     " FROM change WHERE what = 'tap' AND rev NOT IN (SELECT rev FROM undone)"
                     " ORDER BY made_ms, rev",
                     NULL, 0, tap_row, taps, err);
}

enum pc_status pc_job_taps(struct pc_job *job, struct pc_json **taps, struct pc_err *err)
{
    *taps = pc_json_array();
    pthread_mutex_lock(&job->lock);
    enum pc_status status = taps_within(job, *taps, err);
    pthread_mutex_unlock(&job->lock);
    if (status != PC_OK) {
        pc_json_destroy(*taps);
        *taps = NULL;
    }
    return status;
}

// How each kind appears in the state, and to whom.
enum shape { LIST, BY_SUBJECT, ONE, LATEST };
static const struct {
    const char *what, *key;
    enum shape shape;
    unsigned roles;
} shown[] = {
    {"job", "job", ONE, PHOTOGRAPHER | COOK | CLIENT},
    {"shot", "shots", LIST, PHOTOGRAPHER | COOK | CLIENT},
    {"outlet", "outlets", LIST, PHOTOGRAPHER | CLIENT},
    {"frame", "frames", LIST, PHOTOGRAPHER | CLIENT},
    {"role", "roles", BY_SUBJECT, PHOTOGRAPHER | CLIENT}, // which frames are takes
    {"touch", "touches", BY_SUBJECT, PHOTOGRAPHER},
    {"dials", "dials", ONE, PHOTOGRAPHER},
    {"locked", "locked", LATEST, PHOTOGRAPHER},
    {"plate", "plates", LIST, PHOTOGRAPHER | COOK},
    {"verdict", "verdicts", BY_SUBJECT, PHOTOGRAPHER},
    {"choice", "choices", BY_SUBJECT, PHOTOGRAPHER | CLIENT},
};

static enum pc_status put_shown(struct pc_job *job, size_t i, struct pc_json *state, struct pc_err *err)
{
    struct pc_json *value = NULL;
    const struct pc_db_value what = PC_DB_TEXT(shown[i].what);
    switch (shown[i].shape) {
    case LIST:
        value = pc_json_array();
        break;
    case BY_SUBJECT:
        value = pc_json_object();
        break;
    case ONE:
    case LATEST:
        break;
    }
    enum pc_status status = PC_OK;
    if (shown[i].shape == LIST)
        status = pc_db_run(job->db, now_sql, &what, 1, in_order, value, err);
    else if (shown[i].shape == BY_SUBJECT)
        status = pc_db_run(job->db, now_sql, &what, 1, by_subject, value, err);
    else
        status = pc_db_run(job->db, latest_sql, &what, 1, the_one, &value, err);
    if (value != NULL)
        pc_json_put(state, shown[i].key, value);
    else
        pc_json_put_text(state, shown[i].key, NULL);
    return status;
}

static enum pc_status fill(struct pc_job *job, enum pc_job_role role, struct pc_json *state,
                           struct pc_err *err)
{
    int64_t rev = 0;
    PC_TRY(pc_db_number(job->db, "SELECT ifnull(max(rev), 0) FROM change", NULL, 0, 0, &rev, err));
    pc_json_put_int(state, "rev", rev);
    pc_json_put_int(state, "now_ms", pc_job_now_ms());
    for (size_t i = 0; i < PC_COUNT(shown); i++)
        if ((shown[i].roles & (1u << role)) != 0)
            PC_TRY(put_shown(job, i, state, err));
    if (role != PC_JOB_CLIENT) {
        struct pc_json *taps = pc_json_array();
        pc_json_put(state, "taps", taps);
        PC_TRY(taps_within(job, taps, err));
    }
    return PC_OK;
}

enum pc_status pc_job_state_json(struct pc_job *job, enum pc_job_role role, struct pc_json **state,
                                 struct pc_err *err)
{
    *state = pc_json_object();
    pthread_mutex_lock(&job->lock);
    // One transaction, so that all of it is of one moment though another process writes.
    enum pc_status status = pc_db_run(job->db, "BEGIN", NULL, 0, NULL, NULL, err);
    if (status == PC_OK)
        status = fill(job, role, *state, err);
    pc_db_rollback(job->db);
    pthread_mutex_unlock(&job->lock);
    if (status != PC_OK) {
        pc_json_destroy(*state);
        *state = NULL;
    }
    return status;
}
