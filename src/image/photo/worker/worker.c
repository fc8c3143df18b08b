// SPDX-License-Identifier: Apache-2.0
// The program that decodes: one photograph after another, from the descriptors it is handed, until the reader
// hangs up. See protocol.h.
#include "image/photo/worker/decode.h"
#include "image/photo/worker/sandbox.h"

#include <errno.h>
#include <malloc.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <unistd.h>

struct pixels {
    uint8_t *base;
    size_t bytes;
};

// The shared memory only grows: its pages are kept for the next photograph, which saves getting them zeroed
// again.
static void *room(void *user, size_t bytes)
{
    struct pixels *pixels = user;
    if (bytes <= pixels->bytes)
        return pixels->base;
    if (pixels->base != NULL)
        munmap(pixels->base, pixels->bytes);
    *pixels = (struct pixels){0};
    off_t have = lseek(PC_WORKER_FD_PIXELS, 0, SEEK_END);
    if (have < 0 || ((size_t)have < bytes && ftruncate(PC_WORKER_FD_PIXELS, (off_t)bytes) != 0))
        return NULL;
    void *base = mmap(NULL, bytes, PROT_READ | PROT_WRITE, MAP_SHARED, PC_WORKER_FD_PIXELS, 0);
    if (base == MAP_FAILED)
        return NULL;
    *pixels = (struct pixels){.base = base, .bytes = bytes};
    return base;
}

static enum pc_status decode_fd(const struct pc_ask *ask, int fd, struct pixels *pixels,
                                struct pc_reply *reply, struct pc_err *err)
{
    size_t count = (size_t)ask->file_bytes;
    void *bytes = mmap(NULL, count, PROT_READ, MAP_PRIVATE | MAP_POPULATE, fd, 0);
    if (bytes == MAP_FAILED && errno != ENOMEM)
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "It cannot be read where it lies (%s): copy it to a disk of this computer.",
                       strerror(errno));
    if (bytes == MAP_FAILED)
        return pc_fail(err, PC_NO_MEMORY, NULL, "Its %.0f MiB do not fit into the memory allowed for a file.",
                       (double)count / 1048576.0);
    struct pc_job job = {
        .bytes = bytes,
        .count = count,
        .want = (enum pc_job_want)ask->want,
        .linear = ask->linear != 0,
        .most_pixels = ask->most_pixels,
        .about_pixels = ask->about_pixels,
        .memory_bytes = (size_t)ask->memory_bytes,
        .room = room,
        .user = pixels,
    };
    enum pc_status status = pc_decode(&job, reply, err);
    munmap(bytes, count);
    return status;
}

// False when the reader is gone, or says something else than an ask.
static bool receive(struct pc_ask *ask, int *fd)
{
    union {
        struct cmsghdr header;
        char bytes[CMSG_SPACE(sizeof(int))];
    } control;
    struct iovec part = {.iov_base = ask, .iov_len = sizeof *ask};
    struct msghdr message = {
        .msg_iov = &part, .msg_iovlen = 1, .msg_control = &control, .msg_controllen = sizeof control};
    ssize_t n;
    do
        n = recvmsg(PC_WORKER_FD_SOCKET, &message, MSG_CMSG_CLOEXEC);
    while (n < 0 && errno == EINTR);
    struct cmsghdr *header = n == (ssize_t)sizeof *ask ? CMSG_FIRSTHDR(&message) : NULL;
    if (header == NULL || header->cmsg_type != SCM_RIGHTS || header->cmsg_len != CMSG_LEN(sizeof(int)))
        return false;
    memcpy(fd, CMSG_DATA(header), sizeof *fd);
    return ask->magic == PC_WORKER_MAGIC;
}

static bool answer(const struct pc_reply *reply)
{
    ssize_t n;
    do
        n = send(PC_WORKER_FD_SOCKET, reply, sizeof *reply, MSG_NOSIGNAL);
    while (n < 0 && errno == EINTR);
    return n == (ssize_t)sizeof *reply;
}

static size_t number_from(const char *text)
{
    char *end;
    unsigned long long v = strtoull(text, &end, 10);
    return *end == '\0' ? (size_t)v : 0;
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        static const char words[] = "platecall-decode is started by platecall and is of no use on its own.\n";
        return write(STDERR_FILENO, words, sizeof words - 1) < 0 ? 1 : 2;
    }
    struct pc_sandbox sandbox = {.memory_bytes = number_from(argv[1]), .pixels_bytes = number_from(argv[2])};
    // One photograph follows another of the same size: keep memory instead of giving it back and having it
    // zeroed.
    mallopt(M_MMAP_MAX, 0);
    mallopt(M_TRIM_THRESHOLD, 256 << 20);
    pc_decode_prepare();
    struct pc_hello hello = {.magic = PC_WORKER_MAGIC, .reply_bytes = sizeof(struct pc_reply)};
    hello.sandboxed = pc_sandbox_enter(&sandbox);
    if (send(PC_WORKER_FD_SOCKET, &hello, sizeof hello, MSG_NOSIGNAL) != (ssize_t)sizeof hello ||
        !hello.sandboxed)
        _exit(1);

    struct pixels pixels = {0};
    struct pc_ask ask;
    int fd;
    while (receive(&ask, &fd)) {
        struct pc_reply reply; // all bytes zero first: padding, too, goes to the reader
        memset(&reply, 0, sizeof reply);
        struct pc_err err = {0};
        alarm((unsigned)ask.time_s); // should nobody be left to end a decode that hangs
        reply.magic = PC_WORKER_MAGIC;
        reply.status = (int32_t)decode_fd(&ask, fd, &pixels, &reply, &err);
        snprintf(reply.text, sizeof reply.text, "%s", err.text);
        alarm(0);
        close(fd);
        if (!answer(&reply))
            break;
    }
    _exit(0);
}
