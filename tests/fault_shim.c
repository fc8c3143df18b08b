// SPDX-License-Identifier: Apache-2.0
// Preloaded into a program, makes the FAULT_N-th call of one kind fail, as a bad disk or a full one would;
// see kinds[]. Writes "hit PATH" when it does, and in the end "count N", into the file FAULT_LOG. With
// FAULT_N 0 it counts only. Pipes, /proc, /dev and memory files are left alone.
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <sys/syscall.h>
#include <dirent.h>
#include <unistd.h>

#define SHOWN      __attribute__((visibility("default")))
#define REAL(name) ((__typeof__(&name))real(#name))

// How to add a kind: 1. a row here; 2. a call to fails() in a function below that bears the C library's name.
enum kind { NONE, WRITE, SHORT, SYNC, RENAME, OPEN, LOOK, CLOSE, MKDIR, LIST, THREAD, MEMORY };
static const struct {
    const char *name;
    int code;
} kinds[] = {
    [NONE] = {"", 0},
    [WRITE] = {"write", ENOSPC},
    [SHORT] = {"short", ENOSPC}, // the n-th write writes half, and from then on the disk is full
    [SYNC] = {"fsync", EIO},
    [RENAME] = {"rename", EIO},
    [OPEN] = {"open", ENOSPC}, // for writing
    [LOOK] = {"look", EIO},    // opened for reading
    [CLOSE] = {"close", EIO},  // of a stream that was written to
    [MKDIR] = {"mkdir", ENOSPC},
    [LIST] = {"list", EIO}, // the next name of a folder
    [THREAD] = {"thread", EAGAIN},
    [MEMORY] = {"memory", ENOMEM}, // over MEMORY_BYTES at once
};
enum { MEMORY_BYTES = 4096, STREAMS = 16 };

static enum kind kind;
static long wanted;
static char log_path[1024];
static _Atomic long count;
static _Atomic bool full; // SHORT: the disk
// What fdopen gave back, so that fileno can tell. Streams are opened in turn by one thread.
static struct {
    FILE *stream;
    int fd;
} streams[STREAMS];

static void *real(const char *name)
{
    return dlsym(RTLD_NEXT, name);
}

// By system calls alone: it is called from within allocations.
static void note(const char *word, const char *text)
{
    if (log_path[0] == '\0')
        return;
    long fd = syscall(SYS_openat, AT_FDCWD, log_path, O_WRONLY | O_CREAT | O_APPEND, 0644);
    syscall(SYS_write, fd, word, strlen(word));
    syscall(SYS_write, fd, text, strlen(text));
    syscall(SYS_write, fd, "\n", 1);
    syscall(SYS_close, fd);
}

__attribute__((constructor)) static void begin(void)
{
    const char *word = getenv("FAULT_KIND"), *n = getenv("FAULT_N"), *path = getenv("FAULT_LOG");
    snprintf(log_path, sizeof log_path, "%s", path != NULL ? path : "");
    wanted = n != NULL ? strtol(n, NULL, 10) : 0;
    for (size_t i = 1; word != NULL && i < sizeof kinds / sizeof *kinds; i++)
        if (strcmp(word, kinds[i].name) == 0)
            kind = (enum kind)i;
}

__attribute__((destructor)) static void end(void)
{
    char text[32];
    snprintf(text, sizeof text, "%ld", count);
    note("count ", text);
}

// Counts a call; true, with errno set, when it is to fail.
static bool fails(enum kind of, const char *path)
{
    if (of != kind || path == NULL || strncmp(path, "/proc/", 6) == 0 || strncmp(path, "/dev/", 5) == 0)
        return false;
    if (atomic_fetch_add(&count, 1) + 1 != wanted)
        return false;
    note("hit ", path);
    errno = kinds[of].code;
    return true;
}

// NULL for what is no file on a disk.
static const char *path_of(int fd, char path[1024])
{
    char link[64];
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, 1023);
    if (n <= 0 || path[0] != '/' || strncmp(path, "/memfd:", 7) == 0)
        return NULL;
    path[n] = '\0';
    return path;
}

// The C library's headers call the parameters __fd and so on, which is for them alone.
// NOLINTBEGIN(readability-inconsistent-declaration-parameter-name)

SHOWN ssize_t write(int fd, const void *bytes, size_t size)
{
    char buffer[1024];
    const char *path = path_of(fd, buffer);
    if (full && path != NULL && strncmp(path, "/dev/", 5) != 0) {
        errno = ENOSPC;
        return -1;
    }
    if (fails(WRITE, path))
        return -1;
    if (fails(SHORT, path)) {
        full = true;
        size /= 2;
    }
    return REAL(write)(fd, bytes, size);
}

SHOWN int fsync(int fd)
{
    char path[1024];
    return fails(SYNC, path_of(fd, path)) ? -1 : REAL(fsync)(fd);
}

SHOWN int rename(const char *from, const char *to)
{
    return fails(RENAME, to) ? -1 : REAL(rename)(from, to);
}

SHOWN int mkdir(const char *path, mode_t mode)
{
    return fails(MKDIR, path) ? -1 : REAL(mkdir)(path, mode);
}

SHOWN int open64(const char *path, int flags, ...)
{
    va_list args;
    va_start(args, flags);
    mode_t mode = (flags & O_CREAT) != 0 ? va_arg(args, mode_t) : 0;
    va_end(args);
    return fails((flags & O_ACCMODE) != O_RDONLY ? OPEN : LOOK, path) ? -1 : REAL(open64)(path, flags, mode);
}

SHOWN DIR *opendir(const char *path)
{
    return fails(LOOK, path) ? NULL : REAL(opendir)(path);
}

SHOWN struct dirent64 *readdir64(DIR *dir)
{
    return fails(LIST, "the folder") ? NULL : REAL(readdir64)(dir);
}

SHOWN int pthread_create(pthread_t *thread, const pthread_attr_t *attributes, void *(*body)(void *),
                         void *arg)
{
    return fails(THREAD, "a thread") ? EAGAIN : REAL(pthread_create)(thread, attributes, body, arg);
}

// The C library's streams write by a way of their own that nobody can step into, so a stream is made of the
// functions here.
static ssize_t put(void *cookie, const char *bytes, size_t size)
{
    size_t done = 0;
    while (done < size) { // as the library's own streams do; a cookie says 0, not -1, when it fails
        ssize_t n = write((int)(intptr_t)cookie, bytes + done, size - done);
        if (n < 0)
            return (ssize_t)done;
        done += (size_t)n;
    }
    return (ssize_t)done;
}

static int seek(void *cookie, off64_t *at, int whence)
{
    *at = lseek64((int)(intptr_t)cookie, *at, whence);
    return *at < 0 ? -1 : 0;
}

static int shut(void *cookie)
{
    int fd = (int)(intptr_t)cookie;
    char path[1024];
    bool bad = fails(CLOSE, path_of(fd, path));
    int code = errno;
    for (int i = 0; i < STREAMS; i++)
        if (streams[i].stream != NULL && streams[i].fd == fd)
            streams[i].stream = NULL;
    close(fd);
    errno = code;
    return bad ? -1 : 0;
}

SHOWN FILE *fdopen(int fd, const char *mode)
{
    if (mode[0] != 'w' || (kind != WRITE && kind != SHORT && kind != CLOSE && kind != SYNC))
        return REAL(fdopen)(fd, mode);
    FILE *stream = fopencookie((void *)(intptr_t)fd, mode,
                               (cookie_io_functions_t){.write = put, .seek = seek, .close = shut});
    for (int i = 0; i < STREAMS && stream != NULL; i++)
        if (streams[i].stream == NULL) {
            streams[i].stream = stream;
            streams[i].fd = fd;
            return stream;
        }
    return stream;
}

SHOWN int fileno(FILE *stream)
{
    for (int i = 0; i < STREAMS; i++)
        if (streams[i].stream == stream)
            return streams[i].fd;
    return REAL(fileno)(stream);
}

static bool no_memory(size_t size)
{
    return kind == MEMORY && size > MEMORY_BYTES && fails(MEMORY, "memory");
}

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t items, size_t size);
void *__libc_realloc(void *old, size_t size);
void *__libc_memalign(size_t align, size_t size);

SHOWN void *malloc(size_t size)
{
    return no_memory(size) ? NULL : __libc_malloc(size);
}

SHOWN void *calloc(size_t items, size_t size)
{
    return no_memory(items * size) ? NULL : __libc_calloc(items, size);
}

SHOWN void *realloc(void *old, size_t size)
{
    return no_memory(size) ? NULL : __libc_realloc(old, size);
}

SHOWN void *aligned_alloc(size_t align, size_t size)
{
    return no_memory(size) ? NULL : __libc_memalign(align, size);
}

SHOWN void *mmap64(void *at, size_t size, int access, int flags, int fd, off64_t from)
{
    if ((flags & MAP_ANONYMOUS) != 0 && no_memory(size))
        return MAP_FAILED;
    return REAL(mmap64)(at, size, access, flags, fd, from);
}

// NOLINTEND(readability-inconsistent-declaration-parameter-name)
