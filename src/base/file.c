// SPDX-License-Identifier: Apache-2.0
#include "base/file.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

static enum pc_status fail_write(struct pc_err *err, const char *path, int code)
{
    if (code == ENOSPC || code == EDQUOT)
        return pc_fail(err, PC_IO, path,
                       "The disk is full: free some space and run it again; this file was not changed.");
    return pc_fail(err, PC_IO, path, "It cannot be written (%s); this file was not changed.", strerror(code));
}

enum pc_status pc_file_create(struct pc_file_writer *writer, const char *path, struct pc_err *err)
{
    memset(writer, 0, sizeof *writer);
    if (strlen(path) >= sizeof writer->path)
        return pc_fail(err, PC_BAD_INPUT, NULL, "The path to write to is longer than %zu bytes.",
                       sizeof writer->path - 1);
    snprintf(writer->path, sizeof writer->path, "%s", path);
    int fd = -1;
    for (unsigned i = 0; fd < 0 && i < 1000; i++) {
        snprintf(writer->beside, sizeof writer->beside, "%s.part-%ld-%u", path, (long)getpid(), i);
        fd = open(writer->beside, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0644);
        if (fd < 0 && errno != EEXIST)
            break;
    }
    if (fd >= 0)
        writer->stream = fdopen(fd, "wb");
    if (writer->stream == NULL) {
        int code = errno;
        if (fd >= 0) {
            close(fd);
            unlink(writer->beside);
        }
        return fail_write(err, path, code);
    }
    return PC_OK;
}

static bool sync_folder_of(const char *path)
{
    char folder[4096];
    const char *slash = strrchr(path, '/');
    size_t n = slash == NULL ? 0 : (size_t)(slash - path);
    snprintf(folder, sizeof folder, "%.*s", n > 0 ? (int)n : 1, n > 0 ? path : slash != NULL ? "/" : ".");
    int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd < 0)
        return false;
    bool good = fsync(fd) == 0 || errno == EINVAL; // some file systems cannot sync a folder
    close(fd);
    return good;
}

enum pc_status pc_file_sync_folder(const char *path, struct pc_err *err)
{
    return sync_folder_of(path) ? PC_OK : fail_write(err, path, errno);
}

enum pc_status pc_file_commit(struct pc_file_writer *writer, struct pc_err *err)
{
    errno = 0;
    bool good = fflush(writer->stream) == 0 && !ferror(writer->stream) && fsync(fileno(writer->stream)) == 0;
    int code = errno != 0 ? errno : EIO;
    if (fclose(writer->stream) != 0 && good) {
        good = false;
        code = errno;
    }
    writer->stream = NULL;
    if (good && rename(writer->beside, writer->path) != 0) {
        good = false;
        code = errno;
    }
    if (!good) {
        unlink(writer->beside);
        return fail_write(err, writer->path, code);
    }
    if (!sync_folder_of(writer->path))
        return pc_fail(err, PC_IO, writer->path,
                       "It was written, but the disk does not confirm that its folder is safe: check the "
                       "disk, and run it again.");
    return PC_OK;
}

void pc_file_abandon(struct pc_file_writer *writer)
{
    if (writer->stream == NULL)
        return;
    fclose(writer->stream);
    writer->stream = NULL;
    unlink(writer->beside);
}

static enum pc_status abandon_with(struct pc_file_writer *writer, int code, struct pc_err *err)
{
    pc_file_abandon(writer);
    return fail_write(err, writer->path, code != 0 ? code : EIO);
}

enum pc_status pc_file_put(struct pc_file_writer *writer, const void *bytes, size_t count, struct pc_err *err)
{
    errno = 0;
    return fwrite(bytes, 1, count, writer->stream) == count ? PC_OK : abandon_with(writer, errno, err);
}

enum pc_status pc_file_patch(struct pc_file_writer *writer, uint32_t at_bytes, const void *bytes,
                             size_t count, struct pc_err *err)
{
    errno = 0;
    if (fseeko(writer->stream, (off_t)at_bytes, SEEK_SET) != 0)
        return abandon_with(writer, errno, err);
    PC_TRY(pc_file_put(writer, bytes, count, err));
    return fseeko(writer->stream, 0, SEEK_END) == 0 ? PC_OK : abandon_with(writer, errno, err);
}

enum pc_status pc_file_write(const char *path, const void *bytes, size_t count, struct pc_err *err)
{
    struct pc_file_writer writer;
    PC_TRY(pc_file_create(&writer, path, err));
    PC_TRY(pc_file_put(&writer, bytes, count, err));
    return pc_file_commit(&writer, err);
}

// 0 or an errno, and then the file is as long as it was. A last line that somebody left open is closed first.
static int append_line(int fd, const char *line)
{
    struct stat st;
    if (fstat(fd, &st) != 0)
        return errno;
    size_t n = strlen(line), open_line = 0;
    char *whole = malloc(n + 2), last;
    PC_ASSERT(whole != NULL);
    if (st.st_size > 0 && pread(fd, &last, 1, st.st_size - 1) == 1 && last != '\n')
        whole[open_line++] = '\n';
    memcpy(whole + open_line, line, n);
    n += open_line;
    whole[n++] = '\n';
    errno = 0;
    int code = write(fd, whole, n) == (ssize_t)n ? 0 : errno != 0 ? errno : ENOSPC;
    if (code == 0 && fsync(fd) != 0)
        code = errno;
    free(whole);
    if (code != 0 && S_ISREG(st.st_mode) && ftruncate(fd, st.st_size) != 0)
        return errno;
    return code;
}

enum pc_status pc_file_append_line(const char *path, const char *line, struct pc_err *err)
{
    int fd = open(path, O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
    if (fd < 0)
        return fail_write(err, path, errno);
    // So that what is cut off below is ours; where a file system has no locks, two runs at once may miss
    // this.
    (void)flock(fd, LOCK_EX);
    int code = append_line(fd, line);
    close(fd);
    return code == 0 ? PC_OK : fail_write(err, path, code);
}

enum pc_status pc_file_read(struct pc_arena *arena, const char *path, size_t most_bytes, char **bytes,
                            size_t *count, struct pc_err *err)
{
    PC_ASSERT(most_bytes <= (size_t)32 << 20);
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    struct stat st;
    if (fd < 0 || fstat(fd, &st) != 0) {
        int code = errno;
        if (fd >= 0)
            close(fd);
        return pc_fail(err, code == ENOENT ? PC_NOT_FOUND : PC_IO, path, "It cannot be read (%s).",
                       strerror(code));
    }
    if (!S_ISREG(st.st_mode) || (uint64_t)st.st_size > most_bytes) {
        close(fd);
        return pc_fail(err, PC_BAD_INPUT, path,
                       S_ISREG(st.st_mode) ? "It is larger than such a file can be."
                                           : "It is not a plain file.");
    }
    char *data = pc_arena_alloc(arena, (size_t)st.st_size + 1, 1);
    size_t have = 0;
    while (have < (size_t)st.st_size) {
        ssize_t n = read(fd, data + have, (size_t)st.st_size - have);
        if (n == 0)
            break;
        if (n < 0 && errno != EINTR) {
            int code = errno;
            close(fd);
            return pc_fail(err, PC_IO, path, "It cannot be read (%s).", strerror(code));
        }
        if (n > 0)
            have += (size_t)n;
    }
    close(fd);
    *bytes = data;
    *count = have;
    return PC_OK;
}

static int compare_paths(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

enum pc_status pc_file_list(struct pc_arena *arena, const char *folder, char ***paths, size_t *count,
                            struct pc_err *err)
{
    DIR *dir = opendir(folder);
    if (dir == NULL)
        return pc_fail(err, errno == ENOENT ? PC_NOT_FOUND : PC_IO, folder,
                       "This folder cannot be opened (%s).", strerror(errno));
    size_t room = 64, n = 0;
    char **list = PC_NEW_N(arena, room, char *);
    bool slash = folder[0] != '\0' && folder[strlen(folder) - 1] == '/';
    int code = 0;
    for (;;) {
        struct stat st;
        errno = 0;
        struct dirent *entry = readdir(dir);
        if (entry == NULL) {
            code = errno;
            break;
        }
        if (entry->d_name[0] == '.' || fstatat(dirfd(dir), entry->d_name, &st, 0) != 0 ||
            !S_ISREG(st.st_mode))
            continue;
        if (n == room) {
            char **more = PC_NEW_N(arena, room * 2, char *);
            memcpy(more, list, n * sizeof *list);
            list = more;
            room *= 2;
        }
        list[n++] = pc_arena_printf(arena, "%s%s%s", folder, slash ? "" : "/", entry->d_name);
    }
    closedir(dir);
    if (code != 0) // half a list would pass for a smaller set
        return pc_fail(err, PC_IO, folder, "This folder cannot be read to its end (%s): check the card.",
                       strerror(code));
    qsort(list, n, sizeof *list, compare_paths);
    *paths = list;
    *count = n;
    return PC_OK;
}

static enum pc_status fail_folder(struct pc_err *err, const char *path, int code)
{
    if (code == ENOSPC || code == EDQUOT)
        return pc_fail(err, PC_IO, path,
                       "The disk is full and this folder cannot be made: free some space and run it again.");
    if (code == EEXIST)
        return pc_fail(err, PC_IO, path,
                       "A file of this name is in the way of a folder; name another folder.");
    return pc_fail(err, PC_IO, path,
                   "This folder cannot be made (%s): see that you may write there, or name another.",
                   strerror(code));
}

enum pc_status pc_file_make_folder(const char *path, struct pc_err *err)
{
    char part[4096];
    size_t n = strlen(path);
    if (n == 0 || n >= sizeof part)
        return pc_fail(err, PC_MISUSE, path, "This is not a folder name that can be made.");
    for (size_t i = 1; i <= n; i++) {
        if (path[i] != '/' && path[i] != '\0')
            continue;
        memcpy(part, path, i);
        part[i] = '\0';
        if (mkdir(part, 0755) == 0)
            continue;
        int code = errno;
        struct stat st;
        if (stat(part, &st) != 0 || !S_ISDIR(st.st_mode))
            return fail_folder(err, part, code);
    }
    return PC_OK;
}

int pc_file_move_new(const char *from, const char *to)
{
    if (renameat2(AT_FDCWD, from, AT_FDCWD, to, RENAME_NOREPLACE) == 0)
        return 0;
    if (errno != EINVAL && errno != ENOSYS && errno != ENOTSUP)
        return errno;
    // A file system that cannot say so in one step: a second name for a file, where it has such.
    if (link(from, to) == 0)
        return unlink(from) == 0 ? 0 : errno;
    struct stat st;
    if (errno == EEXIST || lstat(to, &st) == 0)
        return EEXIST;
    return rename(from, to) == 0 ? 0 : errno;
}

const char *pc_file_name(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash != NULL ? slash + 1 : path;
}
