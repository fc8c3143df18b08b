// SPDX-License-Identifier: Apache-2.0
// A worker that does what the photograph it is handed tells it to, in one word: crash, hang, lie, break out.
// For tests; it speaks the decoder's protocol and closes itself in with the decoder's own sandbox.
#include "image/photo/worker/protocol.h"
#include "image/photo/worker/sandbox.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <unistd.h>

static int open_at_start; // descriptors beyond the two, counted before the sandbox

static void *in_thread(void *arg)
{
    *(int *)arg = 7;
    return NULL;
}

// Each returns 0 when it got through, else errno.
static int try_open(void)
{
    int fd = open("/etc/passwd", O_RDONLY | O_CLOEXEC);
    return fd >= 0 ? 0 : errno;
}

static int try_create(void)
{
    int fd = openat(AT_FDCWD, "/tmp/hostile", O_WRONLY | O_CREAT, 0600);
    return fd >= 0 ? 0 : errno;
}

static int try_unlink(void)
{
    return unlink("/tmp/hostile") == 0 ? 0 : errno;
}

static int try_socket(void)
{
    return socket(AF_INET, SOCK_STREAM, 0) >= 0 ? 0 : errno;
}

static int try_fork(void)
{
    pid_t pid = fork();
    if (pid == 0)
        _exit(0);
    return pid > 0 ? 0 : errno;
}

static int try_exec(void)
{
    char *arguments[] = {(char[]){"/bin/true"}, NULL};
    execv("/bin/true", arguments);
    return errno;
}

static int try_kill(void)
{
    return kill(getppid(), 0) == 0 ? 0 : errno;
}

static int try_executable_memory(void)
{
    void *p = mmap(NULL, 4096, PROT_READ | PROT_WRITE | PROT_EXEC, MAP_PRIVATE | MAP_ANONYMOUS, -1, 0);
    return p != MAP_FAILED ? 0 : errno;
}

static int try_shrink(void)
{
    if (ftruncate(PC_WORKER_FD_PIXELS, 1 << 20) != 0)
        return 0;
    return ftruncate(PC_WORKER_FD_PIXELS, 0) == 0 ? 0 : errno;
}

static int try_thread(void)
{
    pthread_t thread;
    int got = 0;
    int code = pthread_create(&thread, NULL, in_thread, &got);
    if (code != 0)
        return code;
    pthread_join(thread, NULL);
    return got == 7 ? 0 : EINVAL;
}

static int try_memory(void)
{
    const size_t step = (size_t)64 << 20;
    for (size_t got = 0; got < (size_t)64 << 30; got += step)
        if (mmap(NULL, step, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_NORESERVE, -1, 0) ==
            MAP_FAILED)
            return errno;
    return 0;
}

static const struct {
    const char *word;
    int (*attempt)(void);
} attempts[] = {
    {"open", try_open},     {"create", try_create}, {"unlink", try_unlink},
    {"socket", try_socket}, {"fork", try_fork},     {"exec", try_exec},
    {"kill", try_kill},     {"shrink", try_shrink}, {"executable", try_executable_memory},
    {"thread", try_thread}, {"memory", try_memory},
};

// A sound reply with a picture of 4 x 2, to be spoilt.
static void sound_reply(struct pc_reply *reply)
{
    reply->form = 1;
    reply->tone_mapped = 1;
    pc_facts_clear(&reply->facts);
    reply->width_px = 4;
    reply->height_px = 2;
    reply->channels = 3;
    reply->bin = 1;
    reply->full_width_px = 4;
    reply->full_height_px = 2;
    enum { BYTES = 1 << 20 };
    if (ftruncate(PC_WORKER_FD_PIXELS, BYTES) != 0)
        return; // it cannot shrink, and need not
    float *px = mmap(NULL, BYTES, PROT_READ | PROT_WRITE, MAP_SHARED, PC_WORKER_FD_PIXELS, 0);
    if (px == MAP_FAILED)
        return;
    for (int i = 0; i < 24; i++)
        px[i] = 0.25f;
    memset((uint8_t *)px + pc_pixels_mask_at(4, 2, 3), 0xff, 8);
    munmap(px, BYTES);
}

static void spoil_pixel(void)
{
    float *px = mmap(NULL, 4096, PROT_READ | PROT_WRITE, MAP_SHARED, PC_WORKER_FD_PIXELS, 0);
    if (px != MAP_FAILED)
        px[5] = NAN;
}

static void spoil(const char *word, struct pc_reply *reply)
{
    if (strcmp(word, "lie-large") == 0)
        reply->width_px = reply->full_width_px = 60000, reply->height_px = reply->full_height_px = 3000;
    else if (strcmp(word, "lie-negative") == 0)
        reply->width_px = -4;
    else if (strcmp(word, "lie-channels") == 0)
        reply->channels = 1 << 30;
    else if (strcmp(word, "lie-bin") == 0)
        reply->bin = 0;
    else if (strcmp(word, "lie-form") == 0)
        reply->form = 99;
    else if (strcmp(word, "lie-flag") == 0)
        reply->tone_mapped = 2;
    else if (strcmp(word, "lie-status") == 0)
        reply->status = 77;
    else if (strcmp(word, "lie-ok") == 0)
        reply->status = PC_CANCELLED;
    else if (strcmp(word, "lie-nan") == 0)
        spoil_pixel();
    else if (strcmp(word, "lie-raw") == 0)
        reply->form = 0, reply->black_dn = NAN, reply->white_dn = INFINITY;
    else if (strcmp(word, "lie-magic") == 0)
        reply->magic = 1;
    else if (strcmp(word, "wild-facts") == 0) {
        memset(reply->facts.maker, 'M', sizeof reply->facts.maker);
        memset(reply->facts.lens, 27, sizeof reply->facts.lens);
        reply->facts.shutter_s = -1;
        reply->facts.iso = INFINITY;
        reply->facts.orientation = 1000;
        reply->facts.flash_fired = -9;
        reply->has_neutral = 1;
        reply->neutral_ratio[0] = NAN;
        reply->has_camera_from_xyz = 1; // all zero: has no inverse
    } else if (strcmp(word, "wild-text") == 0) {
        reply->status = PC_BAD_INPUT;
        memset(reply->text, 27, sizeof reply->text);
    }
}

static void act(const char *word, struct pc_reply *reply)
{
    reply->magic = PC_WORKER_MAGIC;
    for (size_t i = 0; i < PC_COUNT(attempts); i++) {
        if (strcmp(word, attempts[i].word) != 0)
            continue;
        reply->status = PC_BAD_INPUT;
        snprintf(reply->text, sizeof reply->text, "%s gave %d", word, attempts[i].attempt());
        return;
    }
    if (strcmp(word, "descriptors") == 0) {
        reply->status = PC_BAD_INPUT;
        snprintf(reply->text, sizeof reply->text, "descriptors gave %d", open_at_start);
        return;
    }
    sound_reply(reply);
    if (strcmp(word, "crash") == 0)
        __builtin_trap();
    if (strcmp(word, "end") == 0)
        _exit(3);
    if (strcmp(word, "hang") == 0)
        for (;;)
            sched_yield();
    if (strcmp(word, "hang-up") == 0) {
        close(PC_WORKER_FD_SOCKET);
        for (;;)
            sched_yield();
    }
    spoil(word, reply);
}

static int receive(int *fd)
{
    union {
        struct cmsghdr header;
        char bytes[CMSG_SPACE(sizeof(int))];
    } control;
    struct pc_ask ask;
    struct iovec part = {.iov_base = &ask, .iov_len = sizeof ask};
    struct msghdr message = {
        .msg_iov = &part, .msg_iovlen = 1, .msg_control = &control, .msg_controllen = sizeof control};
    if (recvmsg(PC_WORKER_FD_SOCKET, &message, 0) != (ssize_t)sizeof ask)
        return -1;
    struct cmsghdr *header = CMSG_FIRSTHDR(&message);
    if (header == NULL)
        return -1;
    memcpy(fd, CMSG_DATA(header), sizeof *fd);
    return 0;
}

int main(int argc, char **argv)
{
    if (argc != 3)
        return 2;
    for (int fd = PC_WORKER_FD_PIXELS + 1; fd < 1024; fd++)
        open_at_start += fcntl(fd, F_GETFD) >= 0;
    char *end;
    struct pc_sandbox sandbox = {.memory_bytes = strtoull(argv[1], &end, 10),
                                 .pixels_bytes = strtoull(argv[2], &end, 10)};
    struct pc_hello hello = {.magic = PC_WORKER_MAGIC,
                             .reply_bytes = sizeof(struct pc_reply),
                             .sandboxed = pc_sandbox_enter(&sandbox)};
    send(PC_WORKER_FD_SOCKET, &hello, sizeof hello, MSG_NOSIGNAL);
    int fd;
    while (receive(&fd) == 0) {
        char word[32] = "";
        lseek(fd, 0, SEEK_SET);
        ssize_t n = read(fd, word, sizeof word - 1);
        word[n > 0 ? n : 0] = '\0';
        bool written = write(fd, "x", 1) == 1; // the original was opened for reading only
        close(fd);
        static struct pc_reply reply;
        memset(&reply, 0, sizeof reply);
        act(word, &reply);
        if (written)
            reply.form = 98;
        size_t size = strcmp(word, "short") == 0 ? 100 : sizeof reply;
        send(PC_WORKER_FD_SOCKET, &reply, size, MSG_NOSIGNAL);
    }
    _exit(0);
}
