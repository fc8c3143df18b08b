// SPDX-License-Identifier: Apache-2.0
#include "front/job/backup.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/digest.h"
#include "base/file.h"
#include "front/job/job_priv.h"

enum { COPY_BYTES = 1 << 18 };

struct frame {
    char *file, *sha256;
};
struct frames {
    struct pc_arena *arena;
    struct frame *items;
    size_t count, room;
};

static enum pc_status add_frame(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    struct frames *all = user;
    const char *file = pc_db_text(row, 0);
    if (!pc_job_stays_within(file))
        return pc_fail(err, PC_BAD_INPUT, "job.db", "A frame's name in the record leads out of its folder.");
    if (all->count == all->room) {
        size_t room = all->room == 0 ? 256 : 2 * all->room;
        struct frame *items = PC_NEW_N(all->arena, room, struct frame);
        if (all->count > 0)
            memcpy(items, all->items, all->count * sizeof *items);
        all->items = items;
        all->room = room;
    }
    all->items[all->count++] =
        (struct frame){pc_arena_strdup(all->arena, file), pc_arena_strdup(all->arena, pc_db_text(row, 1))};
    return PC_OK;
}

static enum pc_status list(struct pc_db *db, struct frames *frames, struct pc_err *err)
{
    return pc_db_run(db, "SELECT file, sha256 FROM frame ORDER BY rowid", NULL, 0, add_frame, frames, err);
}

static enum pc_status pour(struct pc_ctx *ctx, int fd, const char *from, struct pc_file_writer *writer,
                           double done_ratio, int64_t *bytes, struct pc_err *err)
{
    char *piece = malloc(COPY_BYTES);
    PC_ASSERT(piece != NULL);
    enum pc_status status = PC_OK;
    ssize_t n = 1;
    while (status == PC_OK && (n = read(fd, piece, COPY_BYTES)) != 0) {
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0) {
            status = pc_fail(err, PC_IO, from, "It cannot be read to its end (%s).", strerror(errno));
            break;
        }
        status = pc_file_put(writer, piece, (size_t)n, err);
        *bytes += n;
        if (status == PC_OK)
            status = pc_ctx_step(ctx, "copying frames", done_ratio, err);
    }
    free(piece);
    return status;
}

static enum pc_status hold(const char *path, const char *sha256, struct pc_err *err)
{
    char hex[PC_DIGEST_HEX_BYTES];
    PC_TRY(pc_digest_of_file(path, hex, err));
    return strcmp(hex, sha256) == 0
               ? PC_OK
               : pc_fail(
                     err, PC_BAD_INPUT, path,
                     "Its bytes are not those that came from the camera (SHA-256 %.12s..., the record says "
                     "%.12s...). Keep both disks as they are and take the frame from another copy.",
                     hex, sha256);
}

// Copies a frame and reads the copy back from its file against the record.
static enum pc_status copy_frame(struct pc_ctx *ctx, const char *from, const char *to, const char *sha256,
                                 double done_ratio, int64_t *bytes, struct pc_err *err)
{
    int fd = open(from, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (fd < 0)
        return pc_fail(err, PC_NOT_FOUND, from, "This frame is missing (%s).", strerror(errno));
    struct pc_file_writer writer;
    enum pc_status status = pc_file_create(&writer, to, err);
    if (status == PC_OK) {
        status = pour(ctx, fd, from, &writer, done_ratio, bytes, err);
        if (status == PC_OK && fflush(writer.stream) != 0)
            status = pc_fail(err, PC_IO, to, "It cannot be written (%s).", strerror(errno));
        // Dropped from memory as far as the system will, so that the disk is read and not what was just
        // written.
        if (status == PC_OK && fsync(fileno(writer.stream)) == 0)
            (void)posix_fadvise(fileno(writer.stream), 0, 0, POSIX_FADV_DONTNEED);
        if (status == PC_OK)
            status = hold(writer.beside, sha256, err);
        if (status == PC_OK)
            status = pc_file_commit(&writer, err);
        else
            pc_file_abandon(&writer);
    }
    close(fd);
    return status;
}

// Whether a frame need not be copied: it was held against its hash when it came there, which the older record
// says; whatever else lies there under its name is held against it now.
static bool is_there(const char *source, const char *target, const char *sha256, bool recorded)
{
    struct stat own, there;
    if (lstat(target, &there) != 0 || !S_ISREG(there.st_mode))
        return false;
    if (recorded && stat(source, &own) == 0)
        return own.st_size == there.st_size;
    return hold(target, sha256, NULL) == PC_OK;
}

// The first recorded frames are those of the older record, which does not lose any.
static enum pc_status copy_frames(struct pc_ctx *ctx, struct pc_arena *arena, const struct frames *frames,
                                  size_t recorded, const char *from, const char *to,
                                  struct pc_job_backed *backed, struct pc_err *err)
{
    backed->frames = (int64_t)frames->count;
    for (size_t i = 0; i < frames->count; i++) {
        double done_ratio = (double)i / (double)frames->count;
        const struct frame *frame = &frames->items[i];
        const char *source = pc_arena_printf(arena, "%s/frames/%s", from, frame->file);
        const char *target = pc_arena_printf(arena, "%s/frames/%s", to, frame->file);
        PC_TRY(pc_ctx_step(ctx, "copying frames", done_ratio, err));
        if (is_there(source, target, frame->sha256, i < recorded))
            continue;
        PC_TRY(copy_frame(ctx, source, target, frame->sha256, done_ratio, &backed->bytes, err));
        backed->copied++;
    }
    return PC_OK;
}

// The last row of a log, as one text: it names its number, its moment and its maker.
static const char last_sql[] =
    "SELECT rev, at_ms || ' ' || who || ' ' || what || ' ' || subject || ' ' || body FROM change";

struct last {
    struct pc_arena *arena;
    int64_t rev;
    const char *row;
};

static enum pc_status told_last(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    struct last *last = user;
    last->rev = pc_db_int(row, 0);
    last->row = pc_arena_strdup(last->arena, pc_db_text(row, 1));
    return PC_OK;
}

static enum pc_status last_of(struct pc_db *db, const char *which, int64_t rev, struct last *last,
                              struct pc_err *err)
{
    char sql[sizeof last_sql + 64];
    snprintf(sql, sizeof sql, "%s %s", last_sql, which);
    return pc_db_run(db, sql, &PC_DB_INT(rev), strchr(which, '?') != NULL ? 1 : 0, told_last, last, err);
}

// An earlier copy in the folder has to be one of this job. *frames: how many it has.
static enum pc_status check_earlier(struct pc_arena *arena, struct pc_job *job, const char *to,
                                    size_t *frames, struct pc_err *err)
{
    const char *record = pc_arena_printf(arena, "%s/job.db", to);
    struct pc_db *earlier = NULL;
    *frames = 0;
    if (access(record, F_OK) != 0)
        return PC_OK;
    struct last theirs = {.arena = arena}, ours = {.arena = arena};
    int64_t count = 0;
    bool old = false;
    PC_TRY(pc_db_open_to_read(record, &earlier, err));
    enum pc_status status = pc_job_schema_check(earlier, record, &old, err);
    if (status == PC_OK)
        status = last_of(earlier, "ORDER BY rev DESC LIMIT 1", 0, &theirs, err);
    if (status == PC_OK)
        status = pc_db_number(earlier, "SELECT count(*) FROM frame", NULL, 0, 0, &count, err);
    pc_db_close(earlier);
    PC_TRY(status);
    *frames = (size_t)count;
    if (theirs.row == NULL)
        return PC_OK;
    pthread_mutex_lock(&job->lock);
    status = last_of(job->db, "WHERE rev = ?", theirs.rev, &ours, err);
    pthread_mutex_unlock(&job->lock);
    PC_TRY(status);
    if (ours.row != NULL && strcmp(ours.row, theirs.row) == 0)
        return PC_OK;
    return pc_fail(err, PC_MISUSE, to,
                   "The copy that lies here is of another job, or holds changes that this one does not: name "
                   "another folder for the copy. Nothing was changed.");
}

static enum pc_status check_target(struct pc_job *job, const char *to, struct pc_err *err)
{
    struct stat own, there;
    if (stat(job->folder, &own) == 0 && stat(to, &there) == 0 && own.st_dev == there.st_dev &&
        own.st_ino == there.st_ino)
        return pc_fail(err, PC_MISUSE, to,
                       "This is the job itself: name a folder on another disk for its copy.");
    return PC_OK;
}

static enum pc_status remove_broken_off(struct pc_arena *arena, const char *beside, struct pc_err *err)
{
    static const char *const endings[] = {"-wal", "-shm", "-journal", ""};
    for (size_t i = 0; i < PC_COUNT(endings); i++)
        if (unlink(pc_arena_printf(arena, "%s%s", beside, endings[i])) != 0 && errno != ENOENT)
            return pc_fail(err, PC_IO, beside, "What a broken-off copy left cannot be removed (%s).",
                           strerror(errno));
    return PC_OK;
}

static enum pc_status backup(struct pc_ctx *ctx, struct pc_arena *arena, struct pc_job *job, const char *to,
                             bool reread, struct pc_job_backed *backed, struct pc_err *err)
{
    size_t earlier = 0;
    PC_TRY(check_target(job, to, err));
    PC_TRY(check_earlier(arena, job, to, &earlier, err));
    PC_TRY(pc_file_make_folder(pc_arena_printf(arena, "%s/frames", to), err));
    const char *record = pc_arena_printf(arena, "%s/job.db", to);
    const char *beside = pc_arena_printf(arena, "%s/job.db.part", to);
    PC_TRY(remove_broken_off(arena, beside, err));
    pthread_mutex_lock(&job->lock);
    enum pc_status status = pc_db_copy(job->db, beside, err);
    pthread_mutex_unlock(&job->lock);
    PC_TRY(status);
    // The frames of the copied record, not of the job: it may have gone on.
    struct pc_db *copy = NULL;
    struct frames frames = {.arena = arena};
    PC_TRY(pc_db_open_to_read(beside, &copy, err));
    status = list(copy, &frames, err);
    pc_db_close(copy);
    if (status == PC_OK)
        status = copy_frames(ctx, arena, &frames, reread ? 0 : earlier, job->folder, to, backed, err);
    if (status == PC_OK && rename(beside, record) != 0)
        status = pc_fail(err, PC_IO, record, "The record cannot be put in place (%s).", strerror(errno));
    if (status != PC_OK) {
        unlink(beside);
        return status;
    }
    return pc_file_sync_folder(record, err);
}

enum pc_status pc_job_backup(struct pc_ctx *ctx, struct pc_job *job, const char *to, bool reread,
                             struct pc_job_backed *backed, struct pc_err *err)
{
    *backed = (struct pc_job_backed){0};
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    enum pc_status status = backup(ctx, arena, job, to, reread, backed, err);
    pc_arena_destroy(arena);
    return status;
}

// Nothing in the copy is written, though its record may have a log beside it: it is opened for reading only.
static enum pc_status restore_into(struct pc_ctx *ctx, struct pc_arena *arena, const char *from,
                                   const char *to, struct pc_job_backed *backed, struct pc_err *err)
{
    const char *record = pc_arena_printf(arena, "%s/job.db", from);
    if (access(record, F_OK) != 0)
        return pc_fail(err, PC_NOT_FOUND, from, "There is no job here: job.db is missing.");
    struct pc_db *db = NULL;
    struct frames frames = {.arena = arena};
    bool old = false;
    PC_TRY(pc_db_open_to_read(record, &db, err));
    enum pc_status status = pc_job_schema_check(db, record, &old, err);
    if (status == PC_OK)
        status = pc_db_verify(db, err);
    if (status == PC_OK)
        status = pc_db_copy(db, pc_arena_printf(arena, "%s/job.db", to), err);
    pc_db_close(db);
    PC_TRY(status);
    struct pc_job *job = NULL;
    PC_TRY(pc_job_open(to, &job, err)); // brings its schema up to date, makes its folders
    status = list(job->db, &frames, err);
    if (status == PC_OK)
        status = copy_frames(ctx, arena, &frames, 0, from, to, backed, err);
    pc_job_close(job);
    return status;
}

static void remove_restored(struct pc_arena *arena, const char *folder)
{
    static const char *const below[] = {"frames", "made", "readable", "inbox"};
    static const char *const files[] = {"job.db", "job.db-wal", "job.db-shm"};
    for (size_t i = 0; i < PC_COUNT(below); i++) {
        const char *path = pc_arena_printf(arena, "%s/%s", folder, below[i]);
        char **names = NULL;
        size_t count = 0;
        if (pc_file_list(arena, path, &names, &count, NULL) == PC_OK)
            for (size_t k = 0; k < count; k++)
                unlink(names[k]);
        rmdir(path);
    }
    for (size_t i = 0; i < PC_COUNT(files); i++)
        unlink(pc_arena_printf(arena, "%s/%s", folder, files[i]));
    rmdir(folder);
}

enum pc_status pc_job_restore(struct pc_ctx *ctx, const char *from, const char *to,
                              struct pc_job_backed *backed, struct pc_err *err)
{
    *backed = (struct pc_job_backed){0};
    struct stat there;
    if (lstat(to, &there) == 0)
        return pc_fail(err, PC_MISUSE, to, "It is there already; a job is never restored over another.");
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    const char *part = pc_arena_printf(arena, "%s.part-%ld", to, (long)getpid());
    enum pc_status status = mkdir(part, 0755) == 0
                                ? PC_OK
                                : pc_fail(err, PC_IO, to, "The folder cannot be made (%s).", strerror(errno));
    if (status == PC_OK) {
        status = restore_into(ctx, arena, from, part, backed, err);
        int code = status == PC_OK ? pc_file_move_new(part, to) : 0;
        if (code != 0)
            status = pc_fail(err, PC_IO, to, "The restored job cannot be put in place (%s).", strerror(code));
        if (status == PC_OK)
            status = pc_file_sync_folder(to, err);
        else
            remove_restored(arena, part);
    }
    pc_arena_destroy(arena);
    return status;
}
