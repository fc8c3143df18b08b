// SPDX-License-Identifier: Apache-2.0
// The log of changes: one more, and those after a number.
#include "front/job/job_priv.h"

enum { WHO_BYTES = 60, KEY_BYTES = 80, BODY_BYTES = 16384 };

const char *const pc_job_role_names[4] = {"program", "photographer", "cook", "client"};

int64_t pc_job_now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

static enum pc_status check_text(const char *text, const char *place, size_t most, struct pc_err *err)
{
    size_t n = strlen(text);
    bool plain = n <= most;
    for (size_t i = 0; i < n && plain; i++)
        plain = (unsigned char)text[i] >= 0x20 && text[i] != 0x7f;
    return plain ? PC_OK
                 : pc_fail(err, PC_MISUSE, place,
                           "It has to be at most %zu bytes on one line, without control characters.", most);
}

// What is spoken of has to be there.
static enum pc_status check_there(struct pc_job *job, const struct pc_kind *kind, const char *subject,
                                  struct pc_err *err)
{
    int64_t there = 1;
    if (kind->subject == PC_SUBJECT_FRAME && strcmp(kind->what, "frame") != 0)
        PC_TRY(pc_db_number(job->db, "SELECT count(*) FROM frame WHERE id = ?", &PC_DB_TEXT(subject), 1, 0,
                            &there, err));
    if (there == 0)
        return pc_fail(err, PC_NOT_FOUND, "subject", "This job has no frame of that name.");
    if (strcmp(kind->what, "tap") == 0)
        PC_TRY(pc_db_number(job->db, "SELECT count(*) FROM now WHERE what = 'plate' AND subject = ?",
                            &PC_DB_TEXT(subject), 1, 0, &there, err));
    if (there == 0)
        return pc_fail(err, PC_NOT_FOUND, "subject",
                       "This job has no plate of that name: write the plate first.");
    return PC_OK;
}

static enum pc_status insert(struct pc_job *job, const struct pc_job_change *change, struct pc_err *err)
{
    const struct pc_db_value values[] = {
        PC_DB_INT(change->rev),
        PC_DB_INT(change->at_ms),
        PC_DB_TEXT(change->who),
        PC_DB_TEXT(pc_job_role_names[change->role]),
        PC_DB_TEXT(change->what),
        PC_DB_TEXT(change->subject),
        PC_DB_TEXT(change->body),
        PC_DB_TEXT(change->key),
        {.number = change->undoes, .null = change->undoes == 0},
    };
    return pc_db_run(job->db,
                     "INSERT INTO change (rev, at_ms, who, role, what, subject, body, key, undoes)"
                     " VALUES (?,?,?,?,?,?,?,?,?)",
                     values, PC_COUNT(values), NULL, NULL, err);
}

static enum pc_status append(struct pc_job *job, const struct pc_kind *kind, const struct pc_job_wish *wish,
                             const char *body, int64_t *rev, struct pc_err *err)
{
    PC_TRY(check_there(job, kind, wish->subject == NULL ? "" : wish->subject, err));
    int64_t last = 0;
    PC_TRY(pc_db_number(job->db, "SELECT ifnull(max(rev), 0) FROM change", NULL, 0, 0, &last, err));
    struct pc_job_change change = {
        .rev = last + 1,
        .at_ms = wish->at_ms != 0 ? wish->at_ms : pc_job_now_ms(),
        .who = wish->who,
        .role = wish->role,
        .what = kind->what,
        .subject = wish->subject == NULL ? "" : wish->subject,
        .body = body,
        .key = wish->key,
    };
    bool undo = strcmp(kind->what, "undo") == 0;
    if (undo) {
        double target = 0.0;
        (void)pc_json_number(pc_json_get(wish->body, "rev"), &target);
        change.undoes = (int64_t)target;
        int64_t there = 0;
        PC_TRY(pc_db_number(job->db, "SELECT count(*) FROM change WHERE rev = ?", &PC_DB_INT(change.undoes),
                            1, 0, &there, err));
        if (there == 0)
            return pc_fail(err, PC_NOT_FOUND, "rev", "There is no change number %lld.",
                           (long long)change.undoes);
    }
    PC_TRY(insert(job, &change, err));
    PC_TRY(undo ? pc_job_fold_undo(job->db, &change, err) : pc_job_fold_add(job->db, kind, &change, err));
    *rev = change.rev;
    return PC_OK;
}

enum pc_status pc_job_append_within(struct pc_job *job, const struct pc_job_wish *wish, int64_t *rev,
                                    bool *fresh, struct pc_err *err)
{
    *fresh = false;
    *rev = 0;
    const struct pc_kind *kind = NULL;
    PC_TRY(pc_kind_find(wish->what, &kind, err));
    PC_TRY(pc_kind_check(kind, wish, err));
    PC_TRY(check_text(wish->who, "who", WHO_BYTES, err));
    if (wish->key != NULL) {
        PC_TRY(check_text(wish->key, "key", KEY_BYTES, err));
        PC_TRY(pc_db_number(job->db, "SELECT rev FROM change WHERE key = ?", &PC_DB_TEXT(wish->key), 1, 0,
                            rev, err));
        if (*rev > 0) // sent again: it is in
            return PC_OK;
    }
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    const char *body = wish->body == NULL ? "{}" : pc_json_print(arena, wish->body, true);
    enum pc_status status = strlen(body) <= BODY_BYTES
                                ? append(job, kind, wish, body, rev, err)
                                : pc_fail(err, PC_MISUSE, "body", "It is longer than %d bytes.", BODY_BYTES);
    *fresh = status == PC_OK;
    pc_arena_destroy(arena);
    return status;
}

enum pc_status pc_job_append(struct pc_job *job, const struct pc_job_wish *wish, int64_t *rev,
                             struct pc_err *err)
{
    bool fresh = false;
    pthread_mutex_lock(&job->lock);
    enum pc_status status = pc_db_begin(job->db, err);
    if (status == PC_OK)
        status = pc_job_append_within(job, wish, rev, &fresh, err);
    if (status == PC_OK)
        status = pc_db_commit(job->db, err);
    if (status != PC_OK)
        pc_db_rollback(job->db);
    pthread_mutex_unlock(&job->lock);
    if (status == PC_OK && fresh)
        pc_job_tell(job, *rev);
    return status;
}

int64_t pc_job_rev(struct pc_job *job)
{
    int64_t rev = 0;
    pthread_mutex_lock(&job->lock);
    enum pc_status status =
        pc_db_number(job->db, "SELECT ifnull(max(rev), 0) FROM change", NULL, 0, 0, &rev, NULL);
    pthread_mutex_unlock(&job->lock);
    return status == PC_OK ? rev : 0;
}

struct listed {
    struct pc_arena *arena;
    struct pc_job_change *changes;
    size_t count, room;
};

static enum pc_job_role role_of(const char *name)
{
    for (size_t i = 0; i < PC_COUNT(pc_job_role_names); i++)
        if (strcmp(name, pc_job_role_names[i]) == 0)
            return (enum pc_job_role)i;
    return PC_JOB_PROGRAM;
}

static char *copy(struct pc_arena *arena, const char *text)
{
    return text == NULL ? NULL : pc_arena_strdup(arena, text);
}

static enum pc_status list_row(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    struct listed *list = user;
    if (list->count == list->room) {
        size_t room = list->room == 0 ? 64 : 2 * list->room;
        struct pc_job_change *changes = PC_NEW_N(list->arena, room, struct pc_job_change);
        if (list->count > 0)
            memcpy(changes, list->changes, list->count * sizeof *changes);
        list->changes = changes;
        list->room = room;
    }
    list->changes[list->count++] = (struct pc_job_change){
        .rev = pc_db_int(row, 0),
        .at_ms = pc_db_int(row, 1),
        .who = copy(list->arena, pc_db_text(row, 2)),
        .role = role_of(pc_db_text(row, 3)),
        .what = copy(list->arena, pc_db_text(row, 4)),
        .subject = copy(list->arena, pc_db_text(row, 5)),
        .body = copy(list->arena, pc_db_text(row, 6)),
        .key = copy(list->arena, pc_db_text(row, 7)),
        .undoes = pc_db_int(row, 8),
    };
    return PC_OK;
}

enum pc_status pc_job_since(struct pc_job *job, struct pc_arena *arena, int64_t rev, size_t most,
                            struct pc_job_change **changes, size_t *count, struct pc_err *err)
{
    struct listed list = {.arena = arena};
    const struct pc_db_value values[] = {PC_DB_INT(rev), PC_DB_INT((int64_t)most)};
    pthread_mutex_lock(&job->lock);
    enum pc_status status = pc_db_run(job->db,
                                      "SELECT rev, at_ms, who, role, what, subject, body, key, undoes"
                                      " FROM change WHERE rev > ? ORDER BY rev LIMIT ?",
                                      values, PC_COUNT(values), list_row, &list, err);
    pthread_mutex_unlock(&job->lock);
    *changes = list.changes;
    *count = list.count;
    return status;
}

struct pc_json *pc_job_change_json(const struct pc_job_change *change)
{
    struct pc_json *o = pc_json_object(), *body = NULL;
    pc_json_put_int(o, "rev", change->rev);
    pc_json_put_int(o, "at_ms", change->at_ms);
    pc_json_put_text(o, "who", change->who);
    pc_json_put_text(o, "role", pc_job_role_names[change->role]);
    pc_json_put_text(o, "what", change->what);
    pc_json_put_text(o, "subject", change->subject);
    if (pc_json_parse(change->body, strlen(change->body), "body", &body, NULL) == PC_OK)
        pc_json_put(o, "body", body);
    if (change->undoes != 0)
        pc_json_put_int(o, "undoes", change->undoes);
    return o;
}

void pc_job_on_change(struct pc_job *job, void (*told)(void *user, const struct pc_job_change *change),
                      void *user)
{
    pthread_mutex_lock(&job->lock);
    job->told = told;
    job->told_user = user;
    pthread_mutex_unlock(&job->lock);
}

void pc_job_tell(struct pc_job *job, int64_t rev)
{
    pthread_mutex_lock(&job->lock);
    void (*told)(void *user, const struct pc_job_change *change) = job->told;
    void *user = job->told_user;
    pthread_mutex_unlock(&job->lock);
    if (told == NULL)
        return;
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_job_change *changes = NULL;
    size_t count = 0;
    if (pc_job_since(job, arena, rev - 1, 1, &changes, &count, NULL) == PC_OK && count == 1)
        told(user, &changes[0]);
    pc_arena_destroy(arena);
}
