// SPDX-License-Identifier: Apache-2.0
// The log folded: what holds now of each kind and subject.
#include "front/job/job_priv.h"

// Lays the members of one body over another; null takes a member away.
static void lay_over(struct pc_json *under, const struct pc_json *over)
{
    void *at = NULL;
    const char *key = NULL;
    const struct pc_json *value = NULL;
    while (pc_json_next(over, &at, &key, &value)) {
        if (pc_json_kind(value) == PC_JSON_NULL)
            pc_json_remove(under, key);
        else
            pc_json_put(under, key, pc_json_copy(value));
    }
}

struct folded {
    const struct pc_kind *kind;
    struct pc_json *body; // NULL: nothing holds
    int64_t first, rev, at_ms;
};

static enum pc_status fold_row(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    struct folded *folded = user;
    const char *text = pc_db_text(row, 2);
    struct pc_json *body = NULL;
    PC_TRY(pc_json_parse(text, strlen(text), "job.db", &body, err));
    if (folded->body == NULL) {
        folded->body = pc_json_object();
        folded->first = pc_db_int(row, 0);
    } else if (folded->kind->whole) {
        pc_json_destroy(folded->body);
        folded->body = pc_json_object();
    }
    lay_over(folded->body, body);
    pc_json_destroy(body);
    folded->rev = pc_db_int(row, 0);
    folded->at_ms = pc_db_int(row, 1);
    return PC_OK;
}

static enum pc_status store(struct pc_db *db, const char *subject, const struct folded *folded,
                            struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    const struct pc_db_value values[] = {
        PC_DB_TEXT(folded->kind->what), PC_DB_TEXT(subject),
        PC_DB_INT(folded->first),       PC_DB_INT(folded->rev),
        PC_DB_INT(folded->at_ms),       PC_DB_TEXT(pc_json_print(arena, folded->body, true)),
    };
    enum pc_status status = pc_db_run(
        db, "INSERT OR REPLACE INTO now (what, subject, first, rev, at_ms, body) VALUES (?,?,?,?,?,?)",
        values, PC_COUNT(values), NULL, NULL, err);
    pc_arena_destroy(arena);
    return status;
}

enum pc_status pc_job_fold_again(struct pc_db *db, const struct pc_kind *kind, const char *subject,
                                 struct pc_err *err)
{
    if (kind->every)
        return PC_OK;
    const struct pc_db_value which[] = {PC_DB_TEXT(kind->what), PC_DB_TEXT(subject)};
    struct folded folded = {.kind = kind};
    enum pc_status status = pc_db_run(db,
                                      "SELECT rev, at_ms, body FROM change WHERE what = ? AND subject = ?"
                                      " AND rev NOT IN (SELECT rev FROM undone) ORDER BY rev",
                                      which, PC_COUNT(which), fold_row, &folded, err);
    if (status == PC_OK && folded.body == NULL)
        status = pc_db_run(db, "DELETE FROM now WHERE what = ? AND subject = ?", which, PC_COUNT(which), NULL,
                           NULL, err);
    else if (status == PC_OK)
        status = store(db, subject, &folded, err);
    pc_json_destroy(folded.body);
    return status;
}

enum pc_status pc_job_fold_add(struct pc_db *db, const struct pc_kind *kind,
                               const struct pc_job_change *change, struct pc_err *err)
{
    if (kind->every)
        return PC_OK;
    const struct pc_db_value which[] = {PC_DB_TEXT(kind->what), PC_DB_TEXT(change->subject)};
    struct folded folded = {.kind = kind};
    enum pc_status status = pc_db_run(db, "SELECT first, at_ms, body FROM now WHERE what = ? AND subject = ?",
                                      which, PC_COUNT(which), fold_row, &folded, err);
    struct pc_json *body = NULL;
    if (status == PC_OK)
        status = pc_json_parse(change->body, strlen(change->body), "body", &body, err);
    if (status == PC_OK) {
        if (folded.body == NULL || kind->whole) {
            if (folded.body == NULL)
                folded.first = change->rev;
            pc_json_destroy(folded.body);
            folded.body = pc_json_object();
        }
        lay_over(folded.body, body);
        folded.rev = change->rev;
        folded.at_ms = change->at_ms;
        status = store(db, change->subject, &folded, err);
    }
    pc_json_destroy(body);
    pc_json_destroy(folded.body);
    return status;
}

struct found {
    bool there;
    char what[32], subject[96], who[64];
    int64_t undoes;
};

static enum pc_status find_row(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    struct found *found = user;
    found->there = true;
    snprintf(found->what, sizeof found->what, "%s", pc_db_text(row, 0));
    snprintf(found->subject, sizeof found->subject, "%s", pc_db_text(row, 1));
    snprintf(found->who, sizeof found->who, "%s", pc_db_text(row, 2));
    found->undoes = pc_db_int(row, 3);
    return PC_OK;
}

static enum pc_status find(struct pc_db *db, int64_t rev, struct found *found, struct pc_err *err)
{
    memset(found, 0, sizeof *found);
    PC_TRY(pc_db_run(db, "SELECT what, subject, who, undoes FROM change WHERE rev = ?", &PC_DB_INT(rev), 1,
                     find_row, found, err));
    return found->there
               ? PC_OK
               : pc_fail(err, PC_NOT_FOUND, "rev", "There is no change number %lld.", (long long)rev);
}

enum pc_status pc_job_fold_undo(struct pc_db *db, const struct pc_job_change *undo, struct pc_err *err)
{
    struct found found;
    PC_TRY(find(db, undo->undoes, &found, err));
    if (undo->role != PC_JOB_PHOTOGRAPHER && strcmp(found.who, undo->who) != 0)
        return pc_fail(err, PC_MISUSE, "rev", "Only the photographer takes back what somebody else did.");
    if (strcmp(found.what, "frame") == 0 || strcmp(found.what, "verdict") == 0)
        return pc_fail(err, PC_MISUSE, "rev", "A frame that came in stays.");
    int64_t undone = 0;
    PC_TRY(pc_db_number(db, "SELECT count(*) FROM undone WHERE rev = ?", &PC_DB_INT(undo->undoes), 1, 0,
                        &undone, err));
    if (undone > 0)
        return pc_fail(err, PC_MISUSE, "rev", "Change number %lld is undone already.",
                       (long long)undo->undoes);
    PC_TRY(
        pc_db_run(db, "INSERT INTO undone (rev) VALUES (?)", &PC_DB_INT(undo->undoes), 1, NULL, NULL, err));
    // A change is undone when an undo of it holds. An undo that holds no longer may give back what it took,
    // and so on down.
    while (strcmp(found.what, "undo") == 0) {
        int64_t target = found.undoes, holding = 0;
        PC_TRY(pc_db_number(db,
                            "SELECT count(*) FROM change WHERE what = 'undo' AND undoes = ?"
                            " AND rev NOT IN (SELECT rev FROM undone)",
                            &PC_DB_INT(target), 1, 0, &holding, err));
        PC_TRY(pc_db_run(db,
                         holding > 0 ? "INSERT OR IGNORE INTO undone (rev) VALUES (?)"
                                     : "DELETE FROM undone WHERE rev = ?",
                         &PC_DB_INT(target), 1, NULL, NULL, err));
        PC_TRY(find(db, target, &found, err));
    }
    const struct pc_kind *kind = NULL;
    PC_TRY(pc_kind_find(found.what, &kind, err));
    return pc_job_fold_again(db, kind, found.subject, err);
}
