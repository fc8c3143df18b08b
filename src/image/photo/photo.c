// SPDX-License-Identifier: Apache-2.0
#include "image/photo/photo.h"

#include "base/file.h"
#include "base/text.h"
#include "image/photo/reply.h"

#include <errno.h>
#include <fcntl.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

struct pc_photo_reader {
    struct pc_ctx *ctx;
    struct pc_photo_limits limits;
    struct pc_pool *pool;
};

void pc_photo_finish(struct pc_photo *photo)
{
    if (photo == NULL)
        return;
    pc_picture_finish(&photo->picture);
    memset(photo, 0, sizeof *photo);
}

enum pc_status pc_photo_reader_create(struct pc_ctx *ctx, const struct pc_photo_limits *limits,
                                      struct pc_photo_reader **reader, struct pc_err *err)
{
    struct pc_photo_reader *made = calloc(1, sizeof *made);
    if (made == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left to read photographs with.");
    made->ctx = ctx;
    if (limits != NULL)
        made->limits = *limits;
    if (!(made->limits.time_s > 0))
        made->limits.time_s = 60;
    if (made->limits.memory_bytes == 0)
        made->limits.memory_bytes = (size_t)4 << 30;
    if (made->limits.pixels <= 0)
        made->limits.pixels = 200000000;
    enum pc_status status = pc_pool_create(ctx, &made->limits, &made->pool, err);
    if (status != PC_OK) {
        free(made);
        return status;
    }
    *reader = made;
    return PC_OK;
}

void pc_photo_reader_destroy(struct pc_photo_reader *reader)
{
    if (reader == NULL)
        return;
    pc_pool_destroy(reader->pool);
    free(reader);
}

static enum pc_status open_original(const char *path, const char *place, int *fd, uint64_t *bytes,
                                    struct pc_err *err)
{
    // Non-blocking for the sake of pipes and devices, which are then refused.
    *fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
    if (*fd < 0 && (errno == ENOENT || errno == ENOTDIR))
        return pc_fail(err, PC_NOT_FOUND, place,
                       "There is no file of this name: check the name and the folder.");
    if (*fd < 0)
        return pc_fail(err, PC_IO, place,
                       "It cannot be opened (%s): check the file's permissions and the card.",
                       strerror(errno));
    struct stat st;
    if (fstat(*fd, &st) != 0)
        return pc_fail(err, PC_IO, place, "It cannot be read (%s): check the card.", strerror(errno));
    if (S_ISDIR(st.st_mode))
        return pc_fail(err, PC_BAD_INPUT, place, "It is a folder: name a photograph in it.");
    if (!S_ISREG(st.st_mode))
        return pc_fail(err, PC_BAD_INPUT, place, "It is not a file: name a photograph.");
    if (st.st_size == 0)
        return pc_fail(err, PC_BAD_INPUT, place, "It is empty: copy it from the card again.");
    *bytes = (uint64_t)st.st_size;
    return PC_OK;
}

static enum pc_status read_open(struct pc_photo_reader *reader, int fd, uint64_t bytes, const char *place,
                                const struct pc_ask *wish, struct pc_photo *photo, struct pc_err *err)
{
    struct pc_ask ask = *wish;
    enum pc_photo_want want = (enum pc_photo_want)wish->want;
    ask.magic = PC_WORKER_MAGIC;
    ask.time_s = (int32_t)fmin(ceil(reader->limits.time_s) + 5, 1e6);
    ask.most_pixels = reader->limits.pixels;
    ask.memory_bytes = reader->limits.memory_bytes;
    ask.file_bytes = bytes;
    struct pc_lease *lease = calloc(1, sizeof *lease);
    if (lease == NULL)
        return pc_fail(err, PC_NO_MEMORY, place, "There is no memory left to read it with.");
    enum pc_status status = pc_pool_ask(reader->pool, fd, &ask, place, lease, err);
    if (status == PC_OK) {
        bool lied = false;
        status = pc_reply_take(reader->ctx, lease, want, reader->limits.pixels, place, photo, &lied, err);
        pc_pool_give_back(reader->pool, lease, !lied);
    }
    free(lease);
    return status;
}

// wish holds what the caller asks for; the rest is filled in.
static enum pc_status read_path(struct pc_photo_reader *reader, const char *path, const struct pc_ask *wish,
                                struct pc_photo *photo, struct pc_err *err)
{
    memset(photo, 0, sizeof *photo);
    char place[192]; // as much as an error holds; of a longer path the end, which tells files apart
    size_t length = strlen(path);
    pc_text_printable(length < sizeof place ? path : pc_file_name(path), place, sizeof place);
    int fd = -1;
    uint64_t bytes = 0;
    enum pc_status status = open_original(path, place, &fd, &bytes, err);
    if (status == PC_OK)
        status = read_open(reader, fd, bytes, place, wish, photo, err);
    if (fd >= 0)
        close(fd);
    if (status != PC_OK)
        pc_photo_finish(photo);
    return status;
}

enum pc_status pc_photo_read(struct pc_photo_reader *reader, const char *path, enum pc_photo_want want,
                             bool linear, struct pc_photo *photo, struct pc_err *err)
{
    struct pc_ask wish = {.want = (int32_t)want, .linear = linear};
    return read_path(reader, path, &wish, photo, err);
}

enum pc_status pc_photo_measure(struct pc_photo_reader *reader, const char *path, int64_t about_pixels,
                                bool linear, struct pc_photo *photo, struct pc_err *err)
{
    struct pc_ask wish = {.want = PC_WANT_MEASURE, .linear = linear, .about_pixels = about_pixels};
    return read_path(reader, path, &wish, photo, err);
}

static bool ends_like(const char *path, const char *const *endings, size_t count)
{
    const char *name = pc_file_name(path);
    const char *dot = strrchr(name, '.');
    // "._x.jpg" is what some systems leave beside x.jpg; a name that begins with its only dot has no ending.
    if (dot == NULL || name[0] == '.')
        return false;
    for (size_t i = 0; i < count; i++)
        if (strcasecmp(dot + 1, endings[i]) == 0)
            return true;
    return false;
}

bool pc_photo_name_is_raw(const char *path)
{
    static const char *const endings[] = {
        "dng", "3fr", "arw", "cr2", "cr3", "crw", "dcr", "dcs", "erf", "fff",
        "gpr", "iiq", "k25", "kdc", "mef", "mos", "mrw", "nef", "nrw", "orf",
        "pef", "raf", "raw", "rw2", "rwl", "sr2", "srf", "srw", "x3f",
    };
    return ends_like(path, endings, PC_COUNT(endings));
}

bool pc_photo_name_is_photo(const char *path)
{
    static const char *const endings[] = {"jpg", "jpeg", "jpe",  "tif", "tiff",
                                          "png", "heic", "heif", "hif", "avif"};
    return pc_photo_name_is_raw(path) || ends_like(path, endings, PC_COUNT(endings));
}
