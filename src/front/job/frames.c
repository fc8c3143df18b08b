// SPDX-License-Identifier: Apache-2.0
// Frames taken in: copied, hashed on the way, synced, and only then recorded. frames/ is not written
// otherwise.
#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/digest.h"
#include "base/file.h"
#include "base/text.h"
#include "front/job/job_priv.h"

enum { COPY_BYTES = 1 << 18, NAME_BYTES = 100, TRIES = 10000 };

struct copied {
    char sha256[PC_DIGEST_HEX_BYTES];
    int64_t bytes;
};

static enum pc_status copy_to(struct pc_file_writer *writer, int fd, const char *from, char *bytes,
                              struct pc_digest *digest, struct copied *copied, struct pc_err *err)
{
    ssize_t n = 0;
    while ((n = read(fd, bytes, COPY_BYTES)) != 0) {
        if (n < 0 && errno == EINTR)
            continue;
        if (n < 0)
            return pc_fail(err, PC_IO, from, "It cannot be read to its end (%s).", strerror(errno));
        pc_digest_add(digest, bytes, (size_t)n);
        copied->bytes += n;
        PC_TRY(pc_file_put(writer, bytes, (size_t)n, err));
    }
    pc_digest_hex(digest, copied->sha256);
    return PC_OK;
}

// The whole file under its final, temporary name "inbox/arriving-..." on the job's own disk.
static enum pc_status copy_in(const char *from, const char *to, struct copied *copied, struct pc_err *err)
{
    memset(copied, 0, sizeof *copied);
    int fd = open(from, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    struct stat info;
    if (fd < 0 || fstat(fd, &info) != 0 || !S_ISREG(info.st_mode)) {
        int code = errno;
        bool opened = fd >= 0;
        if (opened)
            close(fd);
        return pc_fail(err, PC_NOT_FOUND, from, opened ? "It is no plain file." : "It cannot be opened (%s).",
                       strerror(code));
    }
    struct pc_file_writer writer;
    enum pc_status status = pc_file_create(&writer, to, err);
    if (status == PC_OK) {
        char *bytes = malloc(COPY_BYTES);
        PC_ASSERT(bytes != NULL);
        struct pc_digest *digest = pc_digest_create();
        status = copy_to(&writer, fd, from, bytes, digest, copied, err);
        pc_digest_destroy(digest);
        free(bytes);
        if (status == PC_OK)
            status = pc_file_commit(&writer, err);
        else
            pc_file_abandon(&writer);
    }
    close(fd);
    return status;
}

// The name a frame gets in frames/: the camera's own, what is unusual in it made plain; with a number where
// that name is taken by other bytes.
static void plain_name(const char *name, char out[NAME_BYTES])
{
    const char *last = pc_file_name(name);
    size_t used = 0;
    for (; *last != '\0' && used + 1 < NAME_BYTES; last++) {
        unsigned char c = (unsigned char)*last;
        bool plain = (c >= '0' && c <= '9') || (c >= 'A' && c <= 'Z') || (c >= 'a' && c <= 'z') || c == '-' ||
                     c == '_' || (c == '.' && used > 0);
        out[used++] = plain ? (char)c : '_';
    }
    out[used] = '\0';
    if (used == 0)
        snprintf(out, NAME_BYTES, "frame");
}

// The last part of what the camera called it, without what a terminal or a page would take for more than
// text; cut before a character of UTF-8 and not within.
static void shown_name(const char *name, char out[NAME_BYTES])
{
    pc_text_printable(pc_file_name(name), out, NAME_BYTES);
    size_t n = strlen(out), cut = n;
    if (n + 1 == NAME_BYTES) {
        while (cut > 0 && ((unsigned char)out[cut - 1] & 0xc0) == 0x80)
            cut--;
        if (cut > 0 && ((unsigned char)out[cut - 1] & 0x80) != 0)
            cut--;
        out[cut] = '\0';
    }
    if (out[0] == '\0')
        snprintf(out, NAME_BYTES, "frame");
}

static void numbered_name(const char *plain, int number, char out[NAME_BYTES + 16])
{
    const char *dot = strrchr(plain, '.');
    size_t stem = dot == NULL ? strlen(plain) : (size_t)(dot - plain);
    if (number == 1)
        snprintf(out, NAME_BYTES + 16, "%s", plain);
    else
        snprintf(out, NAME_BYTES + 16, "%.*s-%d%s", (int)stem, plain, number, dot == NULL ? "" : dot);
}

// Moves the copy to a free name in frames/. A file left there by a run that ended before it recorded it, with
// the same bytes, is taken for it.
static enum pc_status settle(struct pc_job *job, const char *copy, const struct copied *copied,
                             const char *plain, char file[NAME_BYTES + 16], struct pc_err *err)
{
    char path[sizeof job->folder + NAME_BYTES + 32];
    for (int i = 1; i <= TRIES; i++) {
        numbered_name(plain, i, file);
        int64_t taken = 0;
        PC_TRY(pc_db_number(job->db, "SELECT count(*) FROM frame WHERE file = ? COLLATE NOCASE",
                            &PC_DB_TEXT(file), 1, 0, &taken, err));
        if (taken > 0)
            continue;
        snprintf(path, sizeof path, "%s/frames/%s", job->folder, file);
        int code = pc_file_move_new(copy, path);
        if (code == 0)
            return pc_file_sync_folder(path, err);
        if (code != EEXIST)
            return pc_fail(err, PC_IO, path, "The frame cannot be put there (%s).", strerror(code));
        char there[PC_DIGEST_HEX_BYTES];
        if (pc_digest_of_file(path, there, NULL) == PC_OK && strcmp(there, copied->sha256) == 0)
            return PC_OK;
    }
    return pc_fail(err, PC_IO, plain, "There are %d frames of this name already.", TRIES);
}

static enum pc_status told_id(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    snprintf(user, 24, "%s", pc_db_text(row, 0));
    return PC_OK;
}

static enum pc_status record(struct pc_job *job, const struct pc_job_arrival *arrival, const char *file,
                             const struct copied *copied, const char *id, int64_t *rev, struct pc_err *err)
{
    const struct pc_db_value values[] = {PC_DB_TEXT(id), PC_DB_TEXT(copied->sha256), PC_DB_TEXT(file)};
    PC_TRY(pc_db_run(job->db, "INSERT INTO frame (id, sha256, file) VALUES (?,?,?)", values, PC_COUNT(values),
                     NULL, NULL, err));
    struct pc_json *body = pc_json_object();
    char name[NAME_BYTES];
    shown_name(arrival->name, name);
    pc_json_put_text(body, "name", name);
    pc_json_put_text(body, "file", file);
    pc_json_put_text(body, "sha256", copied->sha256);
    pc_json_put_int(body, "bytes", copied->bytes);
    pc_json_put_text(body, "from", arrival->from);
    pc_json_put_text(body, "device", arrival->device);
    bool fresh = false;
    enum pc_status status = pc_job_append_within(
        job,
        &(struct pc_job_wish){
            .who = "platecall", .role = PC_JOB_PROGRAM, .what = "frame", .subject = id, .body = body},
        rev, &fresh, err);
    pc_json_destroy(body);
    return status;
}

static enum pc_status told_file(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    (void)err;
    snprintf(user, NAME_BYTES + 16, "%s", pc_db_text(row, 0));
    return PC_OK;
}

bool pc_job_stays_within(const char *file)
{
    return file[0] != '\0' && file[0] != '.' && strchr(file, '/') == NULL;
}

// A frame that is recorded, and was removed from frames/ by somebody's hand, is there again when its bytes
// come again.
static enum pc_status put_back(struct pc_job *job, const char *copy, const char *id, struct pc_err *err)
{
    char file[NAME_BYTES + 16] = "", path[sizeof job->folder + NAME_BYTES + 32];
    PC_TRY(
        pc_db_run(job->db, "SELECT file FROM frame WHERE id = ?", &PC_DB_TEXT(id), 1, told_file, file, err));
    if (!pc_job_stays_within(file))
        return PC_OK;
    snprintf(path, sizeof path, "%s/frames/%s", job->folder, file);
    int code = pc_file_move_new(copy, path);
    if (code == EEXIST)
        return PC_OK;
    return code == 0 ? pc_file_sync_folder(path, err)
                     : pc_fail(err, PC_IO, path, "The frame cannot be put there (%s).", strerror(code));
}

static enum pc_status take_in_within(struct pc_job *job, const struct pc_job_arrival *arrival,
                                     const char *copy, const struct copied *copied, char id[24], int64_t *rev,
                                     struct pc_err *err)
{
    id[0] = '\0';
    PC_TRY(pc_db_run(job->db, "SELECT id FROM frame WHERE sha256 = ?", &PC_DB_TEXT(copied->sha256), 1,
                     told_id, id, err));
    if (id[0] != '\0')
        return put_back(job, copy, id, err);
    int64_t count = 0;
    PC_TRY(pc_db_number(job->db, "SELECT count(*) FROM frame", NULL, 0, 0, &count, err));
    snprintf(id, 24, "f%lld", (long long)count + 1);
    char plain[NAME_BYTES], file[NAME_BYTES + 16];
    plain_name(arrival->name, plain);
    PC_TRY(settle(job, copy, copied, plain, file, err));
    return record(job, arrival, file, copied, id, rev, err);
}

enum pc_status pc_job_take_in(struct pc_job *job, const struct pc_job_arrival *arrival, char id[24],
                              bool *fresh, struct pc_err *err)
{
    *fresh = false;
    unsigned char random[8];
    pc_random_bytes(random, sizeof random);
    char copy[sizeof job->folder + 64];
    uint64_t number = 0;
    memcpy(&number, random, sizeof number);
    snprintf(copy, sizeof copy, "%s/inbox/" PC_JOB_ARRIVING "%016llx", job->folder,
             (unsigned long long)number);
    struct copied copied;
    PC_TRY(copy_in(arrival->path, copy, &copied, err));
    int64_t rev = 0;
    pthread_mutex_lock(&job->lock);
    enum pc_status status = copied.bytes > 0
                                ? pc_db_begin(job->db, err)
                                : pc_fail(err, PC_BAD_INPUT, arrival->path, "The file is empty.");
    if (status == PC_OK)
        status = take_in_within(job, arrival, copy, &copied, id, &rev, err);
    if (status == PC_OK)
        status = pc_db_commit(job->db, err);
    if (status != PC_OK)
        pc_db_rollback(job->db);
    pthread_mutex_unlock(&job->lock);
    unlink(copy);
    *fresh = status == PC_OK && rev > 0;
    if (*fresh)
        pc_job_tell(job, rev);
    return status;
}

enum pc_status pc_job_frame_path(struct pc_job *job, struct pc_arena *arena, const char *id, char **path,
                                 struct pc_err *err)
{
    char file[NAME_BYTES + 16] = "";
    pthread_mutex_lock(&job->lock);
    enum pc_status status =
        pc_db_run(job->db, "SELECT file FROM frame WHERE id = ?", &PC_DB_TEXT(id), 1, told_file, file, err);
    pthread_mutex_unlock(&job->lock);
    PC_TRY(status);
    if (!pc_job_stays_within(file))
        return pc_fail(err, PC_NOT_FOUND, "frame", "This job has no frame of that name.");
    *path = pc_arena_printf(arena, "%s/frames/%s", job->folder, file);
    return PC_OK;
}
