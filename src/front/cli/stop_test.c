// SPDX-License-Identifier: Apache-2.0
#include "front/cli/stop.h"

#include <setjmp.h>
#include <signal.h>
#include <unistd.h>
#include <sys/wait.h>
#include <cmocka.h>

enum { WAIT_MS = 5000 };

static bool wait_for(const _Atomic bool *flag)
{
    for (int i = 0; i < WAIT_MS && !*flag; i++)
        usleep(1000);
    return *flag;
}

static void the_first_signal_asks_to_stop(void **state)
{
    (void)state;
    static const int signals[] = {SIGINT, SIGTERM};
    for (size_t i = 0; i < PC_COUNT(signals); i++) {
        struct pc_ctx ctx;
        pc_ctx_init(&ctx, 1, 0);
        struct pc_stop stop;
        pc_stop_init(&stop, &ctx);
        assert_false(ctx.cancelled);
        kill(getpid(), signals[i]);
        assert_true(wait_for(&ctx.cancelled));
        struct pc_err err = {0};
        assert_int_equal(pc_ctx_step(&ctx, "reading the frames", 0.5, &err), PC_CANCELLED);
        assert_non_null(strstr(err.text, "reading the frames"));
        pc_stop_finish(&stop);
    }
}

static void finishing_stops_nothing(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    struct pc_stop stop;
    pc_stop_init(&stop, &ctx);
    pc_stop_finish(&stop);
    assert_false(ctx.cancelled);
}

static void the_second_signal_ends_the_program(void **state)
{
    (void)state;
    pid_t child = fork();
    assert_true(child >= 0);
    if (child == 0) {
        struct pc_ctx ctx;
        pc_ctx_init(&ctx, 1, 0);
        struct pc_stop stop;
        pc_stop_init(&stop, &ctx);
        kill(getpid(), SIGINT);
        wait_for(&ctx.cancelled);
        kill(getpid(), SIGINT);
        usleep(WAIT_MS * 1000);
        _exit(0);
    }
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    assert_int_equal(WTERMSIG(status), SIGINT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_second_signal_ends_the_program),
        cmocka_unit_test(the_first_signal_asks_to_stop),
        cmocka_unit_test(finishing_stops_nothing),
    };
    return cmocka_run_group_tests_name("stop", tests, NULL, NULL);
}
