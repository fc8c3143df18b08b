// SPDX-License-Identifier: Apache-2.0
// Files: folders listed, small files read whole, and files written so that they are there whole or not at
// all.
#ifndef PC_BASE_FILE_H
#define PC_BASE_FILE_H

#include "base/arena.h"

// A file being written beside its final name. Fields are private.
struct pc_file_writer {
    FILE *stream;      // borrowed for writing through stdio; NULL once closed
    char path[4096];   // the final name
    char beside[4160]; // the temporary name
};

// Opens a new file beside path. An existing file at path stays until commit.
enum pc_status pc_file_create(struct pc_file_writer *writer, const char *path,
                              struct pc_err *err) PC_MUST_CHECK;
// Adds bytes at the end. On failure the file is abandoned, and the sentence says why.
enum pc_status pc_file_put(struct pc_file_writer *writer, const void *bytes, size_t count,
                           struct pc_err *err) PC_MUST_CHECK;
// Writes over bytes that are there already (a header known last); failure as in pc_file_put.
enum pc_status pc_file_patch(struct pc_file_writer *writer, uint32_t at_bytes, const void *bytes,
                             size_t count, struct pc_err *err) PC_MUST_CHECK;
// Flushes, fsyncs, renames over path, fsyncs the folder. On failure nothing is left but what was there
// before.
enum pc_status pc_file_commit(struct pc_file_writer *writer, struct pc_err *err) PC_MUST_CHECK;
// Gives up: removes the temporary file. Fine after commit and after a failed create.
void pc_file_abandon(struct pc_file_writer *writer);

// Both in one, for bytes at hand.
enum pc_status pc_file_write(const char *path, const void *bytes, size_t count,
                             struct pc_err *err) PC_MUST_CHECK;

// One line (without its newline) added at the end of path with a single write, then fsync; made if missing. A
// last line left open is closed first. On failure the file is as long as it was.
enum pc_status pc_file_append_line(const char *path, const char *line, struct pc_err *err) PC_MUST_CHECK;

// Makes the names in the folder of path last (a link or a new file is then there after a loss of power).
enum pc_status pc_file_sync_folder(const char *path, struct pc_err *err) PC_MUST_CHECK;

// The whole file as NUL-terminated bytes in arena; over most_bytes (at most 32 MiB) is an error.
enum pc_status pc_file_read(struct pc_arena *arena, const char *path, size_t most_bytes, char **bytes,
                            size_t *count, struct pc_err *err) PC_MUST_CHECK;

// The plain files in a folder (not in folders below it, no names that begin with a dot), as paths, sorted by
// name in byte order.
enum pc_status pc_file_list(struct pc_arena *arena, const char *folder, char ***paths, size_t *count,
                            struct pc_err *err) PC_MUST_CHECK;

// Makes the folder (and those above it) unless it is there.
enum pc_status pc_file_make_folder(const char *path, struct pc_err *err) PC_MUST_CHECK;

// The part of a path after the last slash. Borrowed from path.
const char *pc_file_name(const char *path);

// Gives a file or folder its name, on the same disk, unless that name is taken. 0, or an errno: EEXIST.
int pc_file_move_new(const char *from, const char *to);

#endif
