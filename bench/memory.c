// SPDX-License-Identifier: Apache-2.0
// The most memory that the program and its decoding workers hold together while it weighs a folder of raws.
//
// Every millisecond or so the program and its children are looked at in /proc/PID/status (proc(5)), which,
// unlike smaps, stays readable although the workers let nobody look inside them:
//   RssAnon of all, and RssFile of all (libraries count once a process, mapped raw files count although they
//   are the page cache's: both make it read high, not low), and RssShmem of the workers only: that is the
//   shared memory through which pixels come, each worker has written all of its own, and the program maps the
//   same pages again.
#include "bench.h"

#include <ctype.h>
#include <dirent.h>
#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

static const double LIMIT_MIB = 1024.0;

struct held {
    double anon_KiB, file_KiB, shared_KiB;
};

static double field(const char *status, const char *name)
{
    const char *at = strstr(status, name);
    return at != NULL ? strtod(at + strlen(name), NULL) : 0.0;
}

// Adds what a process holds if it is the program or a child of its.
static void add_process(const char *pid_text, pid_t program, struct held *held)
{
    char path[64], status[4096];
    snprintf(path, sizeof path, "/proc/%.20s/status", pid_text);
    int fd = open(path, O_RDONLY | O_CLOEXEC);
    ssize_t n = fd >= 0 ? read(fd, status, sizeof status - 1) : 0;
    if (fd >= 0)
        close(fd);
    status[n > 0 ? n : 0] = '\0';
    bool is_child = (pid_t)field(status, "\nPPid:") == program;
    if (!is_child && (pid_t)strtol(pid_text, NULL, 10) != program)
        return;
    held->anon_KiB += field(status, "\nRssAnon:");
    held->file_KiB += field(status, "\nRssFile:");
    if (is_child)
        held->shared_KiB += field(status, "\nRssShmem:");
}

static struct held look(pid_t program)
{
    struct held held = {0};
    DIR *proc = opendir("/proc");
    for (struct dirent *entry = proc != NULL ? readdir(proc) : NULL; entry != NULL; entry = readdir(proc))
        if (isdigit((unsigned char)entry->d_name[0]))
            add_process(entry->d_name, program, &held);
    if (proc != NULL)
        closedir(proc);
    return held;
}

static double total_MiB(const struct held *held)
{
    return (held->anon_KiB + held->file_KiB + held->shared_KiB) / 1024.0;
}

int main(int argc, char **argv)
{
    if (argc < 2) {
        fprintf(stderr, "Usage: bench-memory PROGRAM [ARGUMENT]...\n");
        return 2;
    }
    posix_spawn_file_actions_t actions;
    pid_t program;
    int status = 0, looks = 0;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    if (posix_spawn(&program, argv[1], &actions, NULL, argv + 1, environ) != 0) {
        fprintf(stderr, "%s cannot be started.\n", argv[1]);
        return 1;
    }
    struct held most = {0};
    while (waitpid(program, &status, WNOHANG) == 0) {
        struct held held = look(program);
        if (total_MiB(&held) > total_MiB(&most))
            most = held;
        looks++;
        usleep(1000);
    }
    posix_spawn_file_actions_destroy(&actions);
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
        fprintf(stderr, "%s did not end well.\n", argv[1]);
        return 1;
    }
    fprintf(stderr, "%d looks; at the most: %.0f MiB of their own, %.0f of files, %.0f shared\n", looks,
            most.anon_KiB / 1024.0, most.file_KiB / 1024.0, most.shared_KiB / 1024.0);
    bench_print("memory", total_MiB(&most), LIMIT_MIB, "MiB");
    return 0;
}
