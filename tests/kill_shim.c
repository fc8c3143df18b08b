// SPDX-License-Identifier: Apache-2.0
// Preloaded into a program, ends it as kill -9 would at the KILL_N-th call that touches a disk: before a
// sync, a rename, a link, a cut; half-way through a write. With KILL_N 0 it counts only, and writes the count
// into KILL_LOG. Standard streams are left alone.
// Each call by its own name: the short one and the one for large files.
#undef _FILE_OFFSET_BITS
#include <dlfcn.h>
#include <fcntl.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#define SHOWN __attribute__((visibility("default")))

static _Atomic long count;

static void *real(const char *name)
{
    return dlsym(RTLD_NEXT, name);
}

static bool dies(void)
{
    const char *wanted = getenv("KILL_N");
    long n = atomic_fetch_add(&count, 1) + 1;
    return wanted != NULL && n == strtol(wanted, NULL, 10);
}

__attribute__((destructor)) static void tell(void)
{
    const char *path = getenv("KILL_LOG");
    FILE *log = path == NULL ? NULL : fopen(path, "w");
    if (log == NULL)
        return;
    fprintf(log, "%ld\n", atomic_load(&count));
    fclose(log);
}

// NOLINTBEGIN(readability-inconsistent-declaration-parameter-name)

#define DIES_BEFORE(type, name, params, args)                                                                \
    SHOWN type name params;                                                                                  \
    SHOWN type name params                                                                                   \
    {                                                                                                        \
        if (dies())                                                                                          \
            _exit(137);                                                                                      \
        return ((type(*) params)real(#name))args;                                                            \
    }

DIES_BEFORE(int, fsync, (int fd), (fd))
DIES_BEFORE(int, fdatasync, (int fd), (fd))
DIES_BEFORE(int, rename, (const char *from, const char *to), (from, to))
DIES_BEFORE(int, link, (const char *from, const char *to), (from, to))
DIES_BEFORE(int, unlink, (const char *path), (path))
DIES_BEFORE(int, ftruncate, (int fd, off_t size), (fd, size))
DIES_BEFORE(int, ftruncate64, (int fd, off64_t size), (fd, size))

SHOWN ssize_t write(int fd, const void *bytes, size_t size)
{
    ssize_t (*write_on)(int, const void *, size_t) = (ssize_t(*)(int, const void *, size_t))real("write");
    if (fd > STDERR_FILENO && dies()) {
        (void)!write_on(fd, bytes, size / 2);
        _exit(137);
    }
    return write_on(fd, bytes, size);
}

#define PWRITE(name, offset)                                                                                 \
    SHOWN ssize_t name(int fd, const void *bytes, size_t size, offset at)                                    \
    {                                                                                                        \
        ssize_t (*write_on)(int, const void *, size_t, offset) =                                             \
            (ssize_t(*)(int, const void *, size_t, offset))real(#name);                                      \
        if (dies()) {                                                                                        \
            (void)!write_on(fd, bytes, size / 2, at);                                                        \
            _exit(137);                                                                                      \
        }                                                                                                    \
        return write_on(fd, bytes, size, at);                                                                \
    }

PWRITE(pwrite, off_t)
PWRITE(pwrite64, off64_t)

// NOLINTEND(readability-inconsistent-declaration-parameter-name)
