// SPDX-License-Identifier: Apache-2.0
// The tables, and how an older file becomes one of today. The log is the only thing that cannot be made
// again: the other tables follow from it.
#include "front/job/job_priv.h"

enum { APPLICATION_ID = 0x706c6174, VERSION = 2 };

static const char version_1[] =
    "CREATE TABLE change ("
    "  rev INTEGER PRIMARY KEY, at_ms INTEGER NOT NULL, who TEXT NOT NULL, role TEXT NOT NULL,"
    "  what TEXT NOT NULL, subject TEXT NOT NULL, body TEXT NOT NULL, key TEXT UNIQUE,"
    "  undoes INTEGER REFERENCES change (rev)) STRICT;"
    "CREATE INDEX change_of ON change (what, subject);"
    "CREATE TRIGGER change_stays BEFORE UPDATE ON change BEGIN SELECT RAISE (ABORT, 'the log only grows'); "
    "END;"
    "CREATE TRIGGER change_is_kept BEFORE DELETE ON change"
    " BEGIN SELECT RAISE (ABORT, 'the log only grows'); END;"
    "CREATE TABLE frame (id TEXT PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE, file TEXT NOT NULL UNIQUE) "
    "STRICT;";

// What holds now is kept beside the log instead of being folded at each look, and so is what was undone.
static const char version_2[] =
    "CREATE TABLE undone (rev INTEGER PRIMARY KEY REFERENCES change (rev)) STRICT;"
    "CREATE TABLE now ("
    "  what TEXT NOT NULL, subject TEXT NOT NULL, first INTEGER NOT NULL, rev INTEGER NOT NULL,"
    "  at_ms INTEGER NOT NULL, body TEXT NOT NULL, PRIMARY KEY (what, subject)) STRICT;";

struct subject {
    char *what, *name;
};
struct subjects {
    struct pc_arena *arena;
    struct subject *items;
    size_t count, room;
};

static enum pc_status add_subject(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    struct subjects *all = user;
    if (all->count == all->room) {
        size_t room = all->room == 0 ? 256 : 2 * all->room;
        struct subject *items = PC_NEW_N(all->arena, room, struct subject);
        if (all->count > 0)
            memcpy(items, all->items, all->count * sizeof *items);
        all->items = items;
        all->room = room;
    }
    all->items[all->count++] = (struct subject){
        .what = pc_arena_strdup(all->arena, pc_db_text(row, 0)),
        .name = pc_arena_strdup(all->arena, pc_db_text(row, 1)),
    };
    return PC_OK;
}

static enum pc_status fill_now(struct pc_db *db, struct pc_arena *arena, struct pc_err *err)
{
    // In version 1 an undo could not itself be undone.
    PC_TRY(pc_db_run(db, "INSERT INTO undone SELECT DISTINCT undoes FROM change WHERE undoes IS NOT NULL",
                     NULL, 0, NULL, NULL, err));
    struct subjects all = {.arena = arena};
    PC_TRY(pc_db_run(db, "SELECT what, subject FROM change GROUP BY what, subject ORDER BY min(rev)", NULL, 0,
                     add_subject, &all, err));
    for (size_t i = 0; i < all.count; i++) {
        const struct pc_kind *kind = NULL;
        PC_TRY(pc_kind_find(all.items[i].what, &kind, err));
        PC_TRY(pc_job_fold_again(db, kind, all.items[i].name, err));
    }
    return PC_OK;
}

static enum pc_status to_version_1(struct pc_db *db, struct pc_arena *arena, struct pc_err *err)
{
    (void)arena;
    return pc_db_run(db, version_1, NULL, 0, NULL, NULL, err);
}

static enum pc_status to_version_2(struct pc_db *db, struct pc_arena *arena, struct pc_err *err)
{
    PC_TRY(pc_db_run(db, version_2, NULL, 0, NULL, NULL, err));
    return fill_now(db, arena, err);
}

// How to add a version: a step at the end, VERSION one more, and a kept file of the one before in the tests.
static enum pc_status (*const steps[VERSION])(struct pc_db *db, struct pc_arena *arena,
                                              struct pc_err *err) = {
    to_version_1,
    to_version_2,
};

static enum pc_status bring_up(struct pc_db *db, struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    int64_t from = 0;
    enum pc_status status = pc_db_begin(db, err);
    if (status == PC_OK) // within the transaction: another program may have come first
        status = pc_db_number(db, "PRAGMA user_version", NULL, 0, 0, &from, err);
    for (int64_t i = from; status == PC_OK && i < VERSION; i++)
        status = steps[i](db, arena, err);
    if (status == PC_OK) {
        char stamp[96];
        snprintf(stamp, sizeof stamp, "PRAGMA application_id = %d; PRAGMA user_version = %d", APPLICATION_ID,
                 VERSION);
        status = pc_db_run(db, stamp, NULL, 0, NULL, NULL, err);
    }
    if (status == PC_OK)
        status = pc_db_commit(db, err);
    if (status != PC_OK)
        pc_db_rollback(db);
    pc_arena_destroy(arena);
    return status;
}

static enum pc_status check(struct pc_db *db, const char *place, int64_t *found, struct pc_err *err)
{
    int64_t id = 0, version = 0;
    PC_TRY(pc_db_number(db, "PRAGMA application_id", NULL, 0, 0, &id, err));
    PC_TRY(pc_db_number(db, "PRAGMA user_version", NULL, 0, 0, &version, err));
    if (id != APPLICATION_ID || version < 1)
        return pc_fail(err, PC_BAD_INPUT, place, "It is a database, but not the record of a job.");
    if (version > VERSION)
        return pc_fail(
            err, PC_UNSUPPORTED, place,
            "This job was written by a newer platecall (its record is version %d, this one knows %d). "
            "Nothing was changed: open it with the newer one.",
            (int)version, VERSION);
    *found = version;
    return PC_OK;
}

enum pc_status pc_job_schema_check(struct pc_db *db, const char *place, bool *old, struct pc_err *err)
{
    int64_t version = VERSION;
    enum pc_status status = check(db, place, &version, err);
    *old = version < VERSION;
    return status;
}

enum pc_status pc_job_schema(struct pc_db *db, const char *place, bool make, struct pc_err *err)
{
    int64_t version = 0;
    if (!make)
        PC_TRY(check(db, place, &version, err));
    PC_TRY(pc_db_log_ahead(db, err));
    return version < VERSION ? bring_up(db, err) : PC_OK;
}
