// SPDX-License-Identifier: Apache-2.0
#include "front/cli/stop.h"

#include <signal.h>

static void ours(sigset_t *set)
{
    sigemptyset(set);
    sigaddset(set, SIGINT);
    sigaddset(set, SIGTERM);
}

static void *watch(void *p)
{
    struct pc_stop *stop = p;
    sigset_t set;
    ours(&set);
    for (int caught; sigwait(&set, &caught) == 0 && !stop->over;) {
        if (stop->ctx->cancelled) { // the second time: die of it, as the sender expects
            signal(caught, SIG_DFL);
            pthread_sigmask(SIG_UNBLOCK, &set, NULL);
            raise(caught);
        }
        stop->ctx->cancelled = true;
    }
    return NULL;
}

void pc_stop_init(struct pc_stop *stop, struct pc_ctx *ctx)
{
    *stop = (struct pc_stop){.ctx = ctx};
    sigset_t set;
    ours(&set);
    pthread_sigmask(SIG_BLOCK, &set, NULL);
    stop->watching = pthread_create(&stop->thread, NULL, watch, stop) == 0;
    if (!stop->watching)
        pthread_sigmask(SIG_UNBLOCK, &set, NULL); // Ctrl-C then ends the program at once
}

void pc_stop_finish(struct pc_stop *stop)
{
    if (!stop->watching)
        return;
    stop->over = true;
    pthread_kill(stop->thread, SIGINT);
    pthread_join(stop->thread, NULL);
}
