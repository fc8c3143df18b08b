// SPDX-License-Identifier: Apache-2.0
#include "front/job/db.h"

#include <sqlite3.h>
#include <unistd.h>

enum { WAIT_MS = 10000, MOST_BYTES = 64 << 20 };

struct pc_db {
    sqlite3 *handle;
    char path[4096];
};

struct pc_db_row {
    sqlite3_stmt *statement;
};

static enum pc_status fail(const struct pc_db *db, int code, struct pc_err *err)
{
    const char *why = sqlite3_errmsg(db->handle);
    switch (code & 0xff) {
    case SQLITE_FULL:
        return pc_fail(err, PC_IO, db->path,
                       "The disk is full: free some space and do it again. Nothing of before is lost.");
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return pc_fail(err, PC_TIMEOUT, db->path,
                       "Another program holds this job: close it and do it again.");
    case SQLITE_NOTADB:
    case SQLITE_CORRUPT:
        return pc_fail(err, PC_BAD_INPUT, db->path,
                       "It is damaged or no job (%s). Keep it as it is, and restore the job from its backup.",
                       why);
    case SQLITE_NOMEM:
        return pc_fail(err, PC_NO_MEMORY, db->path, "There is not enough memory.");
    default:
        return pc_fail(err, PC_IO, db->path, "The job's record cannot be read or written (%s).", why);
    }
}

enum pc_status pc_db_open(const char *path, bool make, struct pc_db **opened, struct pc_err *err)
{
    *opened = NULL;
    bool there = access(path, F_OK) == 0;
    if (make && there)
        return pc_fail(err, PC_MISUSE, path, "It is there already.");
    if (!make && !there)
        return pc_fail(err, PC_NOT_FOUND, path, "There is no job here: job.db is missing.");
    struct pc_db *db = calloc(1, sizeof *db);
    PC_ASSERT(db != NULL);
    snprintf(db->path, sizeof db->path, "%s", path);
    int code = sqlite3_open_v2(
        path, &db->handle, SQLITE_OPEN_READWRITE | SQLITE_OPEN_FULLMUTEX | (make ? SQLITE_OPEN_CREATE : 0),
        NULL);
    enum pc_status status = PC_OK;
    if (code != SQLITE_OK) {
        status = fail(db, code, err);
    } else {
        sqlite3_extended_result_codes(db->handle, 1);
        sqlite3_busy_timeout(db->handle, WAIT_MS);
        // A job's file may come from anywhere: its schema may not run functions of its own making.
        sqlite3_db_config(db->handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
        sqlite3_db_config(db->handle, SQLITE_DBCONFIG_DEFENSIVE, 1, NULL);
        sqlite3_limit(db->handle, SQLITE_LIMIT_LENGTH, MOST_BYTES);
        status = pc_db_run(db, "PRAGMA synchronous = FULL", NULL, 0, NULL, NULL, err);
        if (status == PC_OK)
            status = pc_db_run(db, "PRAGMA foreign_keys = ON", NULL, 0, NULL, NULL, err);
    }
    if (status != PC_OK) {
        pc_db_close(db);
        return status;
    }
    *opened = db;
    return PC_OK;
}

enum pc_status pc_db_log_ahead(struct pc_db *db, struct pc_err *err)
{
    return pc_db_run(db, "PRAGMA journal_mode = WAL", NULL, 0, NULL, NULL, err);
}

static bool is_beside(const char *path, const char *ending)
{
    char beside[4160];
    snprintf(beside, sizeof beside, "%s%s", path, ending);
    return access(beside, F_OK) == 0;
}

// A path as a URI that SQLite reads (RFC 3986, 2.1), with a word for its options.
static void uri_of(const char *path, const char *options, char *out, size_t size)
{
    static const char hex[] = "0123456789ABCDEF";
    size_t n = (size_t)snprintf(out, size, "file:");
    for (const unsigned char *c = (const unsigned char *)path; *c != '\0' && n + 4 < size; c++) {
        bool plain = (*c >= 'a' && *c <= 'z') || (*c >= 'A' && *c <= 'Z') || (*c >= '0' && *c <= '9') ||
                     strchr("/-_.", *c) != NULL;
        if (!plain) {
            out[n++] = '%';
            out[n++] = hex[*c >> 4];
        }
        out[n++] = plain ? (char)*c : hex[*c & 15];
    }
    snprintf(out + n, size - n, "%s", options);
}

enum pc_status pc_db_open_to_read(const char *path, struct pc_db **opened, struct pc_err *err)
{
    *opened = NULL;
    struct pc_db *db = calloc(1, sizeof *db);
    PC_ASSERT(db != NULL);
    snprintf(db->path, sizeof db->path, "%s", path);
    // A log that changes go into first has to be written to even by those who only read. Without one the file
    // is all there is.
    bool alone = !is_beside(path, "-wal") && !is_beside(path, "-shm") && !is_beside(path, "-journal");
    char uri[3 * sizeof db->path + 32];
    uri_of(path, alone ? "?immutable=1" : "", uri, sizeof uri);
    int code = sqlite3_open_v2(uri, &db->handle, SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, NULL);
    if (code != SQLITE_OK) {
        enum pc_status status = fail(db, code, err);
        pc_db_close(db);
        return status;
    }
    sqlite3_extended_result_codes(db->handle, 1);
    sqlite3_busy_timeout(db->handle, WAIT_MS);
    sqlite3_db_config(db->handle, SQLITE_DBCONFIG_TRUSTED_SCHEMA, 0, NULL);
    *opened = db;
    return PC_OK;
}

void pc_db_close(struct pc_db *db)
{
    if (db == NULL)
        return;
    sqlite3_close(db->handle);
    free(db);
}

static int bind(sqlite3_stmt *statement, int at, const struct pc_db_value *value)
{
    if (value->null)
        return sqlite3_bind_null(statement, at);
    if (value->text != NULL)
        return sqlite3_bind_text(statement, at, value->text, -1, SQLITE_TRANSIENT);
    return sqlite3_bind_int64(statement, at, value->number);
}

static enum pc_status
run_one(struct pc_db *db, sqlite3_stmt *statement, const struct pc_db_value *values, size_t count,
        enum pc_status (*told)(void *user, const struct pc_db_row *row, struct pc_err *err), void *user,
        struct pc_err *err)
{
    for (size_t i = 0; i < count; i++) {
        int code = bind(statement, (int)i + 1, &values[i]);
        if (code != SQLITE_OK)
            return fail(db, code, err);
    }
    int code = SQLITE_OK;
    while ((code = sqlite3_step(statement)) == SQLITE_ROW)
        if (told != NULL)
            PC_TRY(told(user, &(struct pc_db_row){statement}, err));
    return code == SQLITE_DONE ? PC_OK : fail(db, code, err);
}

enum pc_status pc_db_run(struct pc_db *db, const char *sql, const struct pc_db_value *values, size_t count,
                         enum pc_status (*told)(void *user, const struct pc_db_row *row, struct pc_err *err),
                         void *user, struct pc_err *err)
{
    while (*sql != '\0') {
        sqlite3_stmt *statement = NULL;
        int code = sqlite3_prepare_v2(db->handle, sql, -1, &statement, &sql);
        if (code != SQLITE_OK)
            return fail(db, code, err);
        if (statement == NULL) // white space
            return PC_OK;
        enum pc_status status = run_one(db, statement, values, count, told, user, err);
        sqlite3_finalize(statement);
        PC_TRY(status);
    }
    return PC_OK;
}

const char *pc_db_text(const struct pc_db_row *row, int column)
{
    return (const char *)sqlite3_column_text(row->statement, column);
}

int64_t pc_db_int(const struct pc_db_row *row, int column)
{
    return sqlite3_column_int64(row->statement, column);
}

static enum pc_status told_number(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    *(int64_t *)user = pc_db_int(row, 0);
    return PC_OK;
}

enum pc_status pc_db_number(struct pc_db *db, const char *sql, const struct pc_db_value *values, size_t count,
                            int64_t otherwise, int64_t *number, struct pc_err *err)
{
    *number = otherwise;
    return pc_db_run(db, sql, values, count, told_number, number, err);
}

enum pc_status pc_db_begin(struct pc_db *db, struct pc_err *err)
{
    return pc_db_run(db, "BEGIN IMMEDIATE", NULL, 0, NULL, NULL, err);
}

enum pc_status pc_db_commit(struct pc_db *db, struct pc_err *err)
{
    return pc_db_run(db, "COMMIT", NULL, 0, NULL, NULL, err);
}

void pc_db_rollback(struct pc_db *db)
{
    if (!sqlite3_get_autocommit(db->handle))
        (void)sqlite3_exec(db->handle, "ROLLBACK", NULL, NULL, NULL);
}

static enum pc_status told_verdict(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    const struct pc_db *db = user;
    const char *verdict = pc_db_text(row, 0);
    if (verdict != NULL && strcmp(verdict, "ok") == 0)
        return PC_OK;
    return pc_fail(err, PC_BAD_INPUT, db->path,
                   "The record does not hold together (%s). Keep it as it is, and restore the job from its "
                   "backup.",
                   verdict == NULL ? "no verdict" : verdict);
}

enum pc_status pc_db_verify(struct pc_db *db, struct pc_err *err)
{
    return pc_db_run(db, "PRAGMA integrity_check(1)", NULL, 0, told_verdict, db, err);
}

enum pc_status pc_db_copy(struct pc_db *db, const char *path, struct pc_err *err)
{
    struct pc_db *copy = NULL;
    PC_TRY(pc_db_open(path, true, &copy, err));
    enum pc_status status = PC_OK;
    sqlite3_backup *backup = sqlite3_backup_init(copy->handle, "main", db->handle, "main");
    if (backup == NULL) {
        status = fail(copy, sqlite3_errcode(copy->handle), err);
    } else {
        int code = sqlite3_backup_step(backup, -1);
        sqlite3_backup_finish(backup);
        if (code != SQLITE_DONE)
            status = fail(copy, code, err);
    }
    if (status == PC_OK)
        status = pc_db_verify(copy, err);
    // A copy is one file, without a log beside it.
    if (status == PC_OK)
        status = pc_db_run(copy, "PRAGMA journal_mode = DELETE", NULL, 0, NULL, NULL, err);
    pc_db_close(copy);
    if (status != PC_OK)
        unlink(path);
    return status;
}
