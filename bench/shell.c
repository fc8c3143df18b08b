// SPDX-License-Identifier: Apache-2.0
// How long a verb takes at the shell, start and end of the program counted: its processor time, the median of
// some runs after one that warms up.
#include "bench.h"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

enum { RUNS = 15 };
static const double LIMIT_MS = 50.0;

static double run_ms(char **command)
{
    posix_spawn_file_actions_t actions;
    pid_t program;
    int status = 0;
    double before_s = bench_cpu_s();
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    bool good = posix_spawn(&program, command[0], &actions, NULL, command, environ) == 0 &&
                waitpid(program, &status, 0) == program && WIFEXITED(status) && WEXITSTATUS(status) == 0;
    posix_spawn_file_actions_destroy(&actions);
    return good ? 1e3 * (bench_cpu_s() - before_s) : (double)NAN;
}

int main(int argc, char **argv)
{
    double took_ms[RUNS];
    if (argc < 3) {
        fprintf(stderr, "Usage: bench-shell NAME PROGRAM [ARGUMENT]...\n");
        return 2;
    }
    for (int i = -1; i < RUNS; i++) {
        double ms = run_ms(argv + 2);
        if (isnan(ms)) {
            fprintf(stderr, "%s did not end well.\n", argv[2]);
            return 1;
        }
        if (i >= 0)
            took_ms[i] = ms;
    }
    bench_print(argv[1], bench_median(took_ms, RUNS), LIMIT_MS, "ms");
    return 0;
}
