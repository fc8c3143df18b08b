// SPDX-License-Identifier: Apache-2.0
#include "base/ctx.h"

#include <pthread.h>
#include <unistd.h>

enum { MOST_THREADS = 64 };

void pc_ctx_init(struct pc_ctx *ctx, int threads, size_t budget_bytes)
{
    memset(ctx, 0, sizeof *ctx);
    long online = sysconf(_SC_NPROCESSORS_ONLN);
    ctx->threads = threads > 0 ? threads : online > 0 ? (int)online : 1;
    if (ctx->threads > MOST_THREADS)
        ctx->threads = MOST_THREADS;
    long pages = sysconf(_SC_PHYS_PAGES), page_bytes = sysconf(_SC_PAGESIZE);
    size_t machine = pages > 0 && page_bytes > 0 ? (size_t)pages * (size_t)page_bytes : (size_t)4 << 30;
    ctx->budget_bytes = budget_bytes > 0 ? budget_bytes : machine / 2;
}

enum pc_status pc_ctx_step(struct pc_ctx *ctx, const char *doing, double done_ratio, struct pc_err *err)
{
    if (ctx->progress != NULL && !ctx->progress(ctx->user, doing, done_ratio))
        ctx->cancelled = true;
    if (ctx->cancelled)
        return pc_fail(err, PC_CANCELLED, NULL, "Stopped as you asked while %s; no file is half-written.",
                       doing);
    return PC_OK;
}

struct job {
    struct pc_ctx *ctx;
    int count;
    _Atomic int next;
    _Atomic bool failed;
    enum pc_status (*body)(void *arg, int i, struct pc_err *err);
    void *arg;
    pthread_mutex_t lock; // guards what follows
    int first_failed;
    enum pc_status status;
    struct pc_err err;
};

static void *run_bodies(void *p)
{
    struct job *job = p;
    for (;;) {
        int i = atomic_fetch_add(&job->next, 1);
        if (i >= job->count || job->failed || job->ctx->cancelled)
            return NULL;
        struct pc_err err = {0};
        enum pc_status status = job->body(job->arg, i, &err);
        if (status == PC_OK)
            continue;
        job->failed = true;
        pthread_mutex_lock(&job->lock);
        if (job->status == PC_OK || i < job->first_failed) {
            job->status = status;
            job->first_failed = i;
            job->err = err;
        }
        pthread_mutex_unlock(&job->lock);
    }
}

enum pc_status pc_parallel(struct pc_ctx *ctx, int count,
                           enum pc_status (*body)(void *arg, int i, struct pc_err *err), void *arg,
                           struct pc_err *err)
{
    struct job job = {.ctx = ctx, .count = count, .body = body, .arg = arg};
    pthread_mutex_init(&job.lock, NULL);
    pthread_t helpers[MOST_THREADS];
    int started = 0;
    int wanted = (count < ctx->threads ? count : ctx->threads) - 1;
    while (started < wanted && pthread_create(&helpers[started], NULL, run_bodies, &job) == 0)
        started++;
    run_bodies(&job);
    for (int i = 0; i < started; i++)
        pthread_join(helpers[i], NULL);
    pthread_mutex_destroy(&job.lock);
    if (job.status != PC_OK) {
        if (err != NULL && err->status == PC_OK)
            *err = job.err;
        return job.status;
    }
    if (ctx->cancelled)
        return pc_fail(err, PC_CANCELLED, NULL, "Stopped as you asked; no file is half-written.");
    return PC_OK;
}
