// SPDX-License-Identifier: Apache-2.0
// The little of SQL that the store needs. Not for two threads at once: the store's lock is held around it.
#ifndef PC_FRONT_JOB_DB_H
#define PC_FRONT_JOB_DB_H

#include "base/arena.h"

struct pc_db;
struct pc_db_row; // valid within the callback

struct pc_db_value {
    const char *text; // NULL: number, unless null
    int64_t number;
    bool null;
};
#define PC_DB_TEXT(t) ((struct pc_db_value){.text = (t), .null = (t) == NULL})
#define PC_DB_INT(n)  ((struct pc_db_value){.number = (n)})

// Foreign keys, full sync. make: the file must not be there; else it must. Nothing is written yet: whose file
// it is is for the caller to find out.
enum pc_status pc_db_open(const char *path, bool make, struct pc_db **opened,
                          struct pc_err *err) PC_MUST_CHECK;
// The same for looking only. Where nobody has it open nothing is written, not even beside it, and the disk
// may be one that cannot be written to.
enum pc_status pc_db_open_to_read(const char *path, struct pc_db **opened, struct pc_err *err) PC_MUST_CHECK;
void pc_db_close(struct pc_db *db); // NULL is fine
// From now on changes go into a log beside the file first, so that readers and a writer do not wait for each
// other. A property of the file.
enum pc_status pc_db_log_ahead(struct pc_db *db, struct pc_err *err) PC_MUST_CHECK;

// One statement (or several without values); told is called for each row, may be NULL, and stops the
// statement with its failure.
enum pc_status pc_db_run(struct pc_db *db, const char *sql, const struct pc_db_value *values, size_t count,
                         enum pc_status (*told)(void *user, const struct pc_db_row *row, struct pc_err *err),
                         void *user, struct pc_err *err) PC_MUST_CHECK;
const char *pc_db_text(const struct pc_db_row *row, int column); // NULL for null
int64_t pc_db_int(const struct pc_db_row *row, int column);

// A first row's first number, or otherwise when there is no row.
enum pc_status pc_db_number(struct pc_db *db, const char *sql, const struct pc_db_value *values, size_t count,
                            int64_t otherwise, int64_t *number, struct pc_err *err) PC_MUST_CHECK;

// Writers of other processes are waited for, up to ten seconds.
enum pc_status pc_db_begin(struct pc_db *db, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_db_commit(struct pc_db *db, struct pc_err *err) PC_MUST_CHECK;
void pc_db_rollback(struct pc_db *db); // fine when nothing was begun

// The whole of it as it is now into a new file; verified (integrity check) before it is said to be there.
enum pc_status pc_db_copy(struct pc_db *db, const char *path, struct pc_err *err) PC_MUST_CHECK;
// The database's own check of its pages and keys.
enum pc_status pc_db_verify(struct pc_db *db, struct pc_err *err) PC_MUST_CHECK;

#endif
