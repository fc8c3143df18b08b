// SPDX-License-Identifier: Apache-2.0
#include "image/photo/pool.h"

#include "base/clock.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <signal.h>
#include <spawn.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

enum {
    MOST_WORKERS = 64,
    LOOK_UP_MS = 100, // how often a wait looks whether the user said stop
    START_S = 20,     // for a worker to say hello, on a loaded machine
};

struct worker {
    pid_t pid; // 0: none is running
    int socket, pixels_fd;
    uint8_t *pixels; // mapped, read-only
    size_t pixels_bytes;
};

struct pc_pool {
    struct pc_ctx *ctx;
    struct pc_photo_limits limits;
    char program[4096];
    pthread_mutex_t lock; // guards busy; a worker is its holder's alone while it is busy
    pthread_cond_t freed;
    int count;
    bool busy[MOST_WORKERS];
    struct worker workers[MOST_WORKERS];
};

static bool is_program(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISREG(st.st_mode) && access(path, X_OK) == 0;
}

static bool find_program(char *path, size_t size)
{
    const char *told = getenv("PLATECALL_DECODER");
    if (told != NULL && told[0] != '\0')
        return snprintf(path, size, "%s", told) < (int)size && is_program(path);
    // Installed beside or under libexec; else where a build tree has it, seen from one of its programs.
    static const char *const places[] = {"", "../libexec/platecall/", "../../image/photo/worker/",
                                         "../src/image/photo/worker/"};
    char self[2048];
    ssize_t n = readlink("/proc/self/exe", self, sizeof self - 1);
    if (n <= 0)
        return false;
    self[n] = '\0';
    char *slash = strrchr(self, '/');
    if (slash == NULL)
        return false;
    slash[1] = '\0';
    for (size_t i = 0; i < PC_COUNT(places); i++)
        if (snprintf(path, size, "%s%splatecall-decode", self, places[i]) < (int)size && is_program(path))
            return true;
    return false;
}

enum pc_status pc_pool_create(struct pc_ctx *ctx, const struct pc_photo_limits *limits, struct pc_pool **pool,
                              struct pc_err *err)
{
    struct pc_pool *made = calloc(1, sizeof *made);
    if (made == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left to read photographs with.");
    if (!find_program(made->program, sizeof made->program)) {
        free(made);
        const char *told = getenv("PLATECALL_DECODER");
        if (told != NULL && told[0] != '\0')
            return pc_fail(
                err, PC_NOT_FOUND, told,
                "PLATECALL_DECODER says that the program that decodes photographs is here, and there is none "
                "that can be run: say where platecall-decode is, or unset it.");
        return pc_fail(
            err, PC_NOT_FOUND, "platecall-decode",
            "The program that decodes photographs is not beside this one: install platecall again, or say "
            "in PLATECALL_DECODER where it is.");
    }
    made->ctx = ctx;
    made->limits = *limits;
    made->count = ctx->threads < MOST_WORKERS ? ctx->threads : MOST_WORKERS;
    pthread_mutex_init(&made->lock, NULL);
    pthread_cond_init(&made->freed, NULL);
    *pool = made;
    return PC_OK;
}

// Ends the worker (our own child, by its id) and gives back how it ended, as waitpid has it. kill: do not
// wait for it to end by itself.
static int end_worker(struct worker *worker, bool kill_it)
{
    int status = 0;
    if (worker->pid == 0)
        return 0;
    if (kill_it)
        kill(worker->pid, SIGKILL);
    close(worker->socket); // which a waiting worker takes for goodbye
    pid_t gone = 0;
    for (int i = 0; i < 500 && gone == 0; i++) {
        gone = waitpid(worker->pid, &status, WNOHANG);
        if (gone == 0)
            usleep(i < 100 ? 200 : 1000);
    }
    if (gone == 0) {
        kill(worker->pid, SIGKILL);
        while (waitpid(worker->pid, &status, 0) < 0 && errno == EINTR)
            ;
    }
    if (worker->pixels != NULL)
        munmap(worker->pixels, worker->pixels_bytes);
    close(worker->pixels_fd);
    *worker = (struct worker){0};
    return status;
}

void pc_pool_destroy(struct pc_pool *pool)
{
    if (pool == NULL)
        return;
    for (int i = 0; i < pool->count; i++)
        end_worker(&pool->workers[i], false);
    pthread_cond_destroy(&pool->freed);
    pthread_mutex_destroy(&pool->lock);
    free(pool);
}

static enum pc_status fail_start(struct pc_err *err, const char *why)
{
    return pc_fail(
        err, PC_CRASHED, "platecall-decode",
        "The program that decodes photographs cannot be started (%s). Photographs are only read in "
        "isolation; see that this system allows seccomp filters, and install platecall again.",
        why);
}

// The worker sees nothing of this process' environment but what a sanitizer or a moved library needs.
static void make_environment(char *lines, size_t size, char **environment)
{
    static const char *const handed_on[] = {"LD_LIBRARY_PATH", "ASAN_OPTIONS", "UBSAN_OPTIONS",
                                            "LIBHEIF_PLUGIN_PATH"};
    static const char *const fixed[] = {"OMP_NUM_THREADS=1", "TZ=UTC0", "LC_ALL=C"};
    int n = 0;
    for (size_t i = 0; i < PC_COUNT(fixed); i++)
        environment[n++] = (char *)(uintptr_t)fixed[i]; // posix_spawn does not write there
    for (size_t i = 0; i < PC_COUNT(handed_on); i++) {
        const char *value = getenv(handed_on[i]);
        int took = value != NULL ? snprintf(lines, size, "%s=%s", handed_on[i], value) : 0;
        if (took <= 0 || (size_t)took >= size)
            continue;
        environment[n++] = lines;
        lines += took + 1;
        size -= (size_t)took + 1;
    }
    environment[n] = NULL;
}

static int spawn(const struct pc_pool *pool, int socket_fd, int pixels_fd, pid_t *pid)
{
    char memory[32], pixels[32], lines[4096];
    char *environment[16];
    snprintf(memory, sizeof memory, "%zu", pool->limits.memory_bytes);
    // Three floats and a mask byte for each pixel, and the rounding.
    snprintf(pixels, sizeof pixels, "%lld", (long long)pool->limits.pixels * 13 + 64);
    char *arguments[] = {(char *)(uintptr_t)pool->program, memory, pixels, NULL};
    make_environment(lines, sizeof lines, environment);

    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    if (posix_spawn_file_actions_init(&actions) != 0)
        return ENOMEM;
    if (posix_spawnattr_init(&attributes) != 0) {
        posix_spawn_file_actions_destroy(&actions);
        return ENOMEM;
    }
    sigset_t none, usual;
    sigemptyset(&none);
    sigfillset(&usual);
    // A group of its own: Ctrl-C is for the reader, which then hangs up.
    int code = posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK |
                                                         POSIX_SPAWN_SETSIGDEF);
    code = code != 0 ? code : posix_spawnattr_setsigmask(&attributes, &none);
    code = code != 0 ? code : posix_spawnattr_setsigdefault(&attributes, &usual);
    for (int fd = 0; fd < 3 && code == 0; fd++)
        code = posix_spawn_file_actions_addopen(&actions, fd, "/dev/null", O_RDWR, 0);
    code = code != 0 ? code : posix_spawn_file_actions_adddup2(&actions, socket_fd, PC_WORKER_FD_SOCKET);
    code = code != 0 ? code : posix_spawn_file_actions_adddup2(&actions, pixels_fd, PC_WORKER_FD_PIXELS);
    code = code != 0 ? code : posix_spawn_file_actions_addclosefrom_np(&actions, PC_WORKER_FD_PIXELS + 1);
    code = code != 0 ? code : posix_spawn(pid, pool->program, &actions, &attributes, arguments, environment);
    posix_spawn_file_actions_destroy(&actions);
    posix_spawnattr_destroy(&attributes);
    return code;
}

// Out of the way of the numbers that the worker's descriptors get.
static int move_up(int fd)
{
    if (fd < 0)
        return fd;
    int moved = fcntl(fd, F_DUPFD_CLOEXEC, 16);
    close(fd);
    return moved;
}

enum wait_end { CAME, HUNG_UP, TOO_LATE, STOPPED };

// One message of exactly size bytes; anything else counts as hanging up.
static enum wait_end await(const struct pc_pool *pool, int socket_fd, double until_s, void *message,
                           size_t size)
{
    for (;;) {
        double left_s = until_s - pc_clock_monotonic_s();
        if (left_s <= 0)
            return TOO_LATE;
        if (pool->ctx->cancelled)
            return STOPPED;
        struct pollfd waiting = {.fd = socket_fd, .events = POLLIN};
        int ms = left_s * 1000 < LOOK_UP_MS ? (int)(left_s * 1000) + 1 : LOOK_UP_MS;
        if (poll(&waiting, 1, ms) <= 0)
            continue;
        ssize_t n = recv(socket_fd, message, size, MSG_DONTWAIT | MSG_TRUNC);
        if (n == (ssize_t)size)
            return CAME;
        if (n >= 0 || (errno != EINTR && errno != EAGAIN))
            return HUNG_UP;
    }
}

static enum pc_status start_worker(const struct pc_pool *pool, struct worker *worker, struct pc_err *err)
{
    int pair[2] = {-1, -1};
    if (socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair) != 0)
        return fail_start(err, strerror(errno));
    int ours = move_up(pair[0]), theirs = move_up(pair[1]);
    int pixels_fd = move_up(memfd_create("platecall-pixels", MFD_CLOEXEC | MFD_ALLOW_SEALING));
    pid_t pid = 0;
    // It cannot shrink: a worker gone bad may not pull pages away from under a reader.
    int code = ours < 0 || theirs < 0 || pixels_fd < 0 ||
                       fcntl(pixels_fd, F_ADD_SEALS, F_SEAL_SHRINK | F_SEAL_SEAL) != 0
                   ? errno
                   : spawn(pool, theirs, pixels_fd, &pid);
    if (theirs >= 0)
        close(theirs);
    if (code != 0) {
        if (ours >= 0)
            close(ours);
        if (pixels_fd >= 0)
            close(pixels_fd);
        return fail_start(err, strerror(code));
    }
    *worker = (struct worker){.pid = pid, .socket = ours, .pixels_fd = pixels_fd};
    struct pc_hello hello = {0};
    enum wait_end end = await(pool, ours, pc_clock_monotonic_s() + START_S, &hello, sizeof hello);
    if (end == CAME && hello.magic == PC_WORKER_MAGIC && hello.reply_bytes == sizeof(struct pc_reply) &&
        hello.sandboxed == 1)
        return PC_OK;
    end_worker(worker, true);
    if (end == STOPPED)
        return pc_fail(err, PC_CANCELLED, NULL, "Stopped as you asked while a photograph was being read.");
    return fail_start(err, end == CAME
                               ? hello.sandboxed == 0 ? "its sandbox is refused" : "it is another version"
                           : end == HUNG_UP ? "it ends at once"
                                            : "it does not answer");
}

static bool send_ask(int socket_fd, const struct pc_ask *ask, int fd)
{
    union {
        struct cmsghdr header;
        char bytes[CMSG_SPACE(sizeof(int))];
    } control = {0};
    struct iovec part = {.iov_base = (void *)(uintptr_t)ask, .iov_len = sizeof *ask};
    struct msghdr message = {
        .msg_iov = &part, .msg_iovlen = 1, .msg_control = &control, .msg_controllen = sizeof control};
    struct cmsghdr *header = CMSG_FIRSTHDR(&message);
    header->cmsg_level = SOL_SOCKET;
    header->cmsg_type = SCM_RIGHTS;
    header->cmsg_len = CMSG_LEN(sizeof fd);
    memcpy(CMSG_DATA(header), &fd, sizeof fd);
    ssize_t n;
    do
        n = sendmsg(socket_fd, &message, MSG_NOSIGNAL);
    while (n < 0 && errno == EINTR);
    return n == (ssize_t)sizeof *ask;
}

static enum pc_status fail_ended(struct pc_err *err, const char *place, enum wait_end end, int status,
                                 double time_s)
{
    if (end == STOPPED)
        return pc_fail(err, PC_CANCELLED, place,
                       "Stopped as you asked while this photograph was being read.");
    if (end == TOO_LATE || (WIFSIGNALED(status) && WTERMSIG(status) == SIGALRM))
        return pc_fail(
            err, PC_TIMEOUT, place,
            "It could not be decoded within %.0f seconds and was given up: it is probably damaged. Copy it "
            "from the card again, or leave it out.",
            time_s);
    if (WIFSIGNALED(status) && WTERMSIG(status) == SIGKILL)
        return pc_fail(
            err, PC_CRASHED, place,
            "The system ended its decoder, probably for want of memory: close other programs and read it "
            "again, or leave it out.");
    char how[48];
    if (WIFSIGNALED(status))
        snprintf(how, sizeof how, "signal %d", WTERMSIG(status));
    else
        snprintf(how, sizeof how, "it ended with %d", WEXITSTATUS(status));
    return pc_fail(
        err, PC_CRASHED, place,
        "Its decoder crashed (%s): the file is probably damaged. Copy it from the card again, or leave it "
        "out; the other files are not affected.",
        how);
}

static int take_free(struct pc_pool *pool)
{
    pthread_mutex_lock(&pool->lock);
    int found = -1;
    while (found < 0) {
        // One that runs already rather than one that would have to be started.
        for (int i = 0; i < pool->count; i++)
            if (!pool->busy[i] && (found < 0 || (pool->workers[found].pid == 0 && pool->workers[i].pid != 0)))
                found = i;
        if (found < 0)
            pthread_cond_wait(&pool->freed, &pool->lock);
    }
    pool->busy[found] = true;
    pthread_mutex_unlock(&pool->lock);
    return found;
}

static void set_free(struct pc_pool *pool, int i)
{
    pthread_mutex_lock(&pool->lock);
    pool->busy[i] = false;
    pthread_cond_signal(&pool->freed);
    pthread_mutex_unlock(&pool->lock);
}

// As far as the shared memory goes, up to what such a reply would need.
static bool map_pixels(struct worker *worker, uint64_t bytes)
{
    if (bytes <= worker->pixels_bytes)
        return true;
    struct stat st;
    if (fstat(worker->pixels_fd, &st) != 0 || st.st_size < 0 || (uint64_t)st.st_size < bytes)
        return false;
    if (worker->pixels != NULL)
        munmap(worker->pixels, worker->pixels_bytes);
    worker->pixels = NULL;
    worker->pixels_bytes = 0;
    void *base = mmap(NULL, (size_t)bytes, PROT_READ, MAP_SHARED, worker->pixels_fd, 0);
    if (base == MAP_FAILED)
        return false;
    worker->pixels = base;
    worker->pixels_bytes = (size_t)bytes;
    return true;
}

static uint64_t claimed_bytes(const struct pc_reply *reply)
{
    if (reply->width_px < 1 || reply->width_px > 65535 || reply->height_px < 1 || reply->height_px > 65535 ||
        (reply->channels != 1 && reply->channels != 3))
        return 0;
    return pc_pixels_bytes((uint64_t)reply->width_px, (uint64_t)reply->height_px, (uint64_t)reply->channels);
}

enum pc_status pc_pool_ask(struct pc_pool *pool, int fd, const struct pc_ask *ask, const char *place,
                           struct pc_lease *lease, struct pc_err *err)
{
    int i = take_free(pool);
    struct worker *worker = &pool->workers[i];
    enum pc_status status = worker->pid == 0 ? start_worker(pool, worker, err) : PC_OK;
    // A worker that died of itself between two files is not this file's fault.
    if (status == PC_OK && !send_ask(worker->socket, ask, fd)) {
        end_worker(worker, true);
        status = start_worker(pool, worker, err);
        if (status == PC_OK && !send_ask(worker->socket, ask, fd))
            status = fail_start(err, "it does not listen");
    }
    if (status == PC_OK) {
        double until_s = pc_clock_monotonic_s() + pool->limits.time_s;
        enum wait_end end = await(pool, worker->socket, until_s, &lease->reply, sizeof lease->reply);
        if (end != CAME) {
            int how = end_worker(worker, end != HUNG_UP);
            status = fail_ended(err, place, end, how, pool->limits.time_s);
        }
    }
    if (status != PC_OK) {
        set_free(pool, i);
        return status;
    }
    bool mapped = map_pixels(worker, claimed_bytes(&lease->reply));
    lease->pixels = mapped ? worker->pixels : NULL;
    lease->pixels_bytes = mapped ? worker->pixels_bytes : 0;
    lease->worker = i;
    return PC_OK;
}

void pc_pool_give_back(struct pc_pool *pool, struct pc_lease *lease, bool trusted)
{
    if (!trusted)
        end_worker(&pool->workers[lease->worker], true);
    set_free(pool, lease->worker);
}
