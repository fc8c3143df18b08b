// SPDX-License-Identifier: Apache-2.0
#include "front/answer/desk_priv.h"

#include <unistd.h>

#include "base/clock.h"
#include "base/file.h"
#include "front/answer/part_files.h"
#include "front/answer/view.h"

static const double TELL_AGAIN_S = 0.25, TRY_AGAIN_S = 10.0;

const char *pc_desk_made(const struct pc_desk *desk, struct pc_arena *arena)
{
    return pc_arena_printf(arena, "%s/made", pc_job_folder(desk->job));
}

void pc_desk_prune(const struct pc_desk *desk, const char *prefix, const char *keep)
{
    struct pc_arena *arena = pc_arena_create();
    char **paths;
    size_t count;
    if (arena != NULL && pc_file_list(arena, pc_desk_made(desk, arena), &paths, &count, NULL) == PC_OK)
        for (size_t i = 0; i < count; i++) {
            const char *name = pc_file_name(paths[i]);
            if (strncmp(name, prefix, strlen(prefix)) == 0 && strncmp(name, keep, strlen(keep)) != 0)
                unlink(paths[i]);
        }
    pc_arena_destroy(arena);
}

// Under the lock, like the next: gives back what is to be freed outside it.
static struct pc_desk_set *drop_set(struct pc_desk_set *set)
{
    return set != NULL && --set->holders == 0 ? set : NULL;
}

static struct pc_desk_answer *drop_answer(struct pc_desk_answer *answer, struct pc_desk_set **set)
{
    *set = NULL;
    if (answer == NULL || --answer->holders > 0)
        return NULL;
    *set = drop_set(answer->set);
    return answer;
}

static void free_set(struct pc_desk_set *set)
{
    if (set == NULL)
        return;
    pc_measured_destroy(set->measured);
    pc_arena_destroy(set->arena);
    free(set);
}

static void free_answer(struct pc_desk_answer *answer)
{
    if (answer == NULL)
        return;
    pc_weighed_finish(&answer->weighed);
    pc_job_asked_destroy(answer->asked);
    free(answer);
}

void pc_desk_let_go(struct pc_desk *desk, struct pc_desk_answer *answer)
{
    struct pc_desk_set *set;
    pthread_mutex_lock(&desk->lock);
    answer = drop_answer(answer, &set);
    pthread_mutex_unlock(&desk->lock);
    free_answer(answer);
    free_set(set);
}

static bool newer_frames(const struct pc_desk *desk)
{
    return desk->next != NULL && strcmp(desk->next->set_key, desk->now_set_key) != 0;
}

static bool progress(void *user, const char *doing, double done_ratio)
{
    struct pc_desk *desk = user;
    double now_s = pc_clock_monotonic_s();
    pthread_mutex_lock(&desk->lock);
    bool tell = strcmp(doing, desk->doing) != 0 || now_s - desk->told_s > TELL_AGAIN_S;
    if (tell)
        desk->told_s = now_s;
    snprintf(desk->doing, sizeof desk->doing, "%s", doing);
    desk->done_ratio = done_ratio;
    bool go_on = !desk->over && !newer_frames(desk);
    pthread_mutex_unlock(&desk->lock);
    if (tell && go_on && desk->told.work != NULL)
        desk->told.work(desk->told.user, doing, done_ratio);
    return go_on;
}

// The frames of a question, measured, or those at hand where they are the same. Held for the caller.
static enum pc_status find_set(struct pc_desk *desk, const struct pc_job_asked *asked,
                               struct pc_desk_set **set, struct pc_err *err)
{
    pthread_mutex_lock(&desk->lock);
    struct pc_desk_set *same =
        desk->set != NULL && strcmp(desk->set->key, asked->set_key) == 0 ? desk->set : NULL;
    if (same != NULL)
        same->holders++;
    pthread_mutex_unlock(&desk->lock);
    *set = same;
    if (same != NULL)
        return PC_OK;
    struct pc_desk_set *made = calloc(1, sizeof *made);
    PC_ASSERT(made != NULL);
    made->arena = pc_arena_create();
    PC_ASSERT(made->arena != NULL);
    made->holders = 2; // the desk and the caller
    memcpy(made->key, asked->set_key, sizeof made->key);
    enum pc_status status = pc_measured_create(&desk->ctx, made->arena, &asked->asked, &made->measured, err);
    char name[64];
    snprintf(name, sizeof name, "parts-%.*s", PC_DESK_KEY_LETTERS, made->key);
    if (status == PC_OK && !made->measured->hand_held)
        status = pc_part_files_write(&desk->ctx, made->measured, PC_PART_FILES_WIDTH_PX,
                                     pc_desk_made(desk, made->arena), name, err);
    if (status != PC_OK) {
        free_set(made);
        return status;
    }
    pthread_mutex_lock(&desk->lock);
    struct pc_desk_set *old = drop_set(desk->set);
    desk->set = made;
    pthread_mutex_unlock(&desk->lock);
    free_set(old);
    pc_desk_prune(desk, "parts-", name);
    *set = made;
    return PC_OK;
}

static void say_why(const struct pc_err *err, char *text, size_t size)
{
    const char *place = pc_file_name(err->place);
    snprintf(text, size, "%s%s%s", place, place[0] != '\0' ? ": " : "", err->text);
}

// A closing frame that cannot be read does not take the rest of the answer with it.
static enum pc_status weigh(struct pc_desk *desk, struct pc_desk_answer *answer, struct pc_err *err)
{
    struct pc_job_asked *asked = answer->asked;
    struct pc_err inner = {0};
    answer->sentence = pc_job_asked_fit(asked, &answer->set->measured->reading);
    enum pc_status status =
        pc_weighed_make(&desk->ctx, answer->set->measured, &asked->asked, &answer->weighed, &inner);
    if (status != PC_OK && status != PC_CANCELLED && asked->asked.actual != NULL) {
        char text[sizeof inner.place + sizeof inner.text + 4];
        say_why(&inner, text, sizeof text);
        answer->sentence = pc_arena_strdup(asked->arena, text);
        asked->asked.actual = NULL;
        memset(&inner, 0, sizeof inner);
        pc_weighed_finish(&answer->weighed);
        memset(&answer->weighed, 0, sizeof answer->weighed);
        status = pc_weighed_make(&desk->ctx, answer->set->measured, &asked->asked, &answer->weighed, &inner);
    }
    if (status != PC_OK)
        *err = inner;
    if (status != PC_OK || !answer->weighed.closed)
        return status;
    const char *name = pc_arena_printf(asked->arena, "residual-%.*s", PC_DESK_KEY_LETTERS, asked->key);
    PC_TRY(pc_view_write_residual(
        &desk->ctx, &answer->weighed.closing.residual,
        pc_arena_printf(asked->arena, "%s/%s.jpg", pc_desk_made(desk, asked->arena), name), err));
    pc_desk_prune(desk, "residual-", name);
    return PC_OK;
}

static void publish(struct pc_desk *desk, struct pc_desk_answer *answer)
{
    struct pc_desk_set *set;
    pthread_mutex_lock(&desk->lock);
    struct pc_desk_answer *old = drop_answer(desk->answer, &set);
    desk->answer = answer;
    desk->now_key[0] = '\0';
    pthread_mutex_unlock(&desk->lock);
    free_answer(old);
    free_set(set);
    if (desk->told.answers != NULL)
        desk->told.answers(desk->told.user, "weigh", "ready");
}

static void refuse(struct pc_desk *desk, const char *key, const struct pc_err *err)
{
    bool tell = err->status != PC_CANCELLED;
    bool for_good = err->status == PC_BAD_INPUT || err->status == PC_NOT_FOUND || err->status == PC_MISUSE ||
                    err->status == PC_UNSUPPORTED;
    pthread_mutex_lock(&desk->lock);
    if (tell) {
        snprintf(desk->refused_key, sizeof desk->refused_key, "%s", key);
        say_why(err, desk->refused_text, sizeof desk->refused_text);
        desk->refused_until_s = for_good ? (double)INFINITY : pc_clock_monotonic_s() + TRY_AGAIN_S;
    }
    desk->now_key[0] = '\0';
    pthread_mutex_unlock(&desk->lock);
    if (tell && desk->told.answers != NULL)
        desk->told.answers(desk->told.user, "weigh", "refused");
}

// asked is taken.
static void work_on(struct pc_desk *desk, struct pc_job_asked *asked)
{
    struct pc_err err = {0};
    struct pc_desk_answer *answer = calloc(1, sizeof *answer);
    PC_ASSERT(answer != NULL);
    answer->holders = 1;
    answer->asked = asked;
    enum pc_status status = find_set(desk, asked, &answer->set, &err);
    if (status == PC_OK)
        status = weigh(desk, answer, &err);
    if (status == PC_OK) {
        publish(desk, answer);
        return;
    }
    err.status = status;
    refuse(desk, asked->key, &err);
    pc_desk_let_go(desk, answer);
}

static void *worker(void *p)
{
    struct pc_desk *desk = p;
    pthread_mutex_lock(&desk->lock);
    while (!desk->over) {
        if (desk->next == NULL) {
            pthread_cond_wait(&desk->asked_for, &desk->lock);
            continue;
        }
        struct pc_job_asked *asked = desk->next;
        desk->next = NULL;
        memcpy(desk->now_key, asked->key, sizeof desk->now_key);
        memcpy(desk->now_set_key, asked->set_key, sizeof desk->now_set_key);
        snprintf(desk->doing, sizeof desk->doing, "reading frames");
        desk->done_ratio = 0.0;
        desk->ctx.cancelled = false;
        pthread_mutex_unlock(&desk->lock);
        work_on(desk, asked);
        pthread_mutex_lock(&desk->lock);
    }
    pthread_mutex_unlock(&desk->lock);
    return NULL;
}

enum pc_status pc_desk_create(struct pc_job *job, int threads, const struct pc_desk_told *told,
                              struct pc_desk **desk, struct pc_err *err)
{
    struct pc_desk *made = calloc(1, sizeof *made);
    if (made == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory left; end other programs first.");
    made->job = job;
    made->told = *told;
    pc_ctx_init(&made->ctx, threads, 0);
    pc_ctx_init(&made->view_ctx, threads, 0);
    made->ctx.progress = progress;
    made->ctx.user = made;
    pthread_mutex_init(&made->lock, NULL);
    pthread_mutex_init(&made->view_lock, NULL);
    pthread_cond_init(&made->asked_for, NULL);
    made->running = pthread_create(&made->thread, NULL, worker, made) == 0;
    if (!made->running) {
        pc_desk_destroy(made);
        return pc_fail(err, PC_NO_MEMORY, NULL,
                       "The system gives no more threads; end other programs first.");
    }
    *desk = made;
    return PC_OK;
}

void pc_desk_destroy(struct pc_desk *desk)
{
    if (desk == NULL)
        return;
    pthread_mutex_lock(&desk->lock);
    desk->over = true;
    desk->ctx.cancelled = true;
    pthread_cond_signal(&desk->asked_for);
    pthread_mutex_unlock(&desk->lock);
    if (desk->running)
        pthread_join(desk->thread, NULL);
    pc_desk_let_go(desk, desk->answer);
    free_set(drop_set(desk->set));
    pc_job_asked_destroy(desk->next);
    pc_photo_reader_destroy(desk->view_reader);
    pthread_cond_destroy(&desk->asked_for);
    pthread_mutex_destroy(&desk->view_lock);
    pthread_mutex_destroy(&desk->lock);
    free(desk);
}

// Under the lock; asked is taken when it is to be worked on.
static enum pc_desk_state place_question(struct pc_desk *desk, struct pc_job_asked **asked,
                                         struct pc_desk_answer **answer)
{
    const char *key = (*asked)->key;
    if (desk->answer != NULL && strcmp(desk->answer->asked->key, key) == 0) {
        desk->answer->holders++;
        *answer = desk->answer;
        return PC_DESK_READY;
    }
    if (strcmp(desk->refused_key, key) == 0 && pc_clock_monotonic_s() < desk->refused_until_s)
        return PC_DESK_REFUSED;
    if (desk->next != NULL ? strcmp(desk->next->key, key) == 0 : strcmp(desk->now_key, key) == 0)
        return PC_DESK_WORKING;
    pc_job_asked_destroy(desk->next);
    desk->next = *asked;
    *asked = NULL;
    pthread_cond_signal(&desk->asked_for);
    return PC_DESK_WORKING;
}

enum pc_desk_state pc_desk_now(struct pc_desk *desk, struct pc_desk_answer **answer, char sentence[900])
{
    struct pc_job_asked *asked;
    struct pc_err err = {0};
    *answer = NULL;
    sentence[0] = '\0';
    if (pc_job_ask(desk->job, &asked, &err) != PC_OK) {
        say_why(&err, sentence, 900);
        return PC_DESK_REFUSED;
    }
    if (asked->needs != NULL) {
        snprintf(sentence, 900, "%s", asked->needs);
        pc_job_asked_destroy(asked);
        return PC_DESK_NEEDS;
    }
    pthread_mutex_lock(&desk->lock);
    enum pc_desk_state state = place_question(desk, &asked, answer);
    if (state == PC_DESK_REFUSED)
        snprintf(sentence, 900, "%s", desk->refused_text);
    else if (state == PC_DESK_READY && (*answer)->sentence != NULL)
        snprintf(sentence, 900, "%s", (*answer)->sentence);
    pthread_mutex_unlock(&desk->lock);
    pc_job_asked_destroy(asked);
    return state;
}

void pc_desk_changed(struct pc_desk *desk, const char *what)
{
    static const char *const counts[] = {"frame", "role", "touch", "dials", "locked", "undo"};
    struct pc_desk_answer *answer;
    char sentence[900];
    for (size_t i = 0; i < PC_COUNT(counts); i++)
        if (strcmp(counts[i], what) == 0) {
            pc_desk_now(desk, &answer, sentence);
            pc_desk_let_go(desk, answer);
            return;
        }
}

struct pc_json *pc_desk_state_json(struct pc_desk *desk, enum pc_desk_state state, const char *sentence)
{
    static const char *const words[] = {[PC_DESK_READY] = "ready",
                                        [PC_DESK_WORKING] = "working",
                                        [PC_DESK_NEEDS] = "needs",
                                        [PC_DESK_REFUSED] = "refused"};
    struct pc_json *o = pc_json_object();
    bool working = state == PC_DESK_WORKING;
    pthread_mutex_lock(&desk->lock);
    pc_json_put_text(o, "state", words[state]);
    pc_json_put_text(o, "sentence", sentence[0] != '\0' ? sentence : NULL);
    pc_json_put_text(o, "doing", working ? desk->doing : NULL);
    pc_json_put_number(o, "done_ratio", working ? desk->done_ratio : (double)NAN, 3);
    pthread_mutex_unlock(&desk->lock);
    return o;
}

struct pc_json *pc_desk_weigh(struct pc_desk *desk)
{
    struct pc_desk_answer *answer;
    char sentence[900];
    enum pc_desk_state state = pc_desk_now(desk, &answer, sentence);
    struct pc_json *o = pc_desk_state_json(desk, state, sentence);
    if (answer != NULL)
        pc_json_put(o, "answer", pc_weighed_json(&answer->weighed));
    else
        pc_json_put_text(o, "answer", NULL);
    pc_desk_let_go(desk, answer);
    return o;
}
