// SPDX-License-Identifier: Apache-2.0
// Two who write at once, threads and processes: nothing acknowledged is lost, nothing is in twice, and what
// holds is the log folded, by a second way of folding it.
#include "front/job/job_fixture.h"

#include <pthread.h>
#include <sched.h>
#include <sys/wait.h>
#include <unistd.h>

enum { ROUNDS = 1000, WRITERS = 2, MOST_SAID = 6 };

struct writer {
    struct pc_job *job;
    uint32_t seed;
    int round, number;
    int64_t acknowledged[MOST_SAID];
    int said;
};

static uint32_t draw(struct writer *w, uint32_t below)
{
    w->seed = w->seed * 1664525u + 1013904223u; // Numerical Recipes' quick generator
    return (uint32_t)(((uint64_t)w->seed * below) >> 32);
}

struct wish {
    const char *what;
    char subject[16], body[96], key[32];
};

static struct wish make_wish(struct writer *w, int i)
{
    struct wish wish = {.what = "shot"};
    uint32_t kind = draw(w, 8);
    snprintf(wish.subject, sizeof wish.subject, "S%u", draw(w, 3));
    snprintf(wish.key, sizeof wish.key, "%d-%d-%d", w->round, w->number, i);
    if (kind < 2) {
        snprintf(wish.body, sizeof wish.body, "{\"dish\": \"%s\"}", wish.key);
    } else if (kind < 4) {
        snprintf(wish.body, sizeof wish.body, "{\"angle_deg\": %u, \"dish_class\": %s}", draw(w, 90),
                 draw(w, 2) == 0 ? "null" : "\"leaf\"");
    } else if (kind == 4) {
        wish.what = "touch";
        snprintf(wish.subject, sizeof wish.subject, "hero");
        snprintf(wish.body, sizeof wish.body, "{\"x_ratio\": 0.%u, \"y_ratio\": 0.5%s}", draw(w, 10),
                 draw(w, 2) == 0 ? "" : ", \"radius_ratio\": 0.1");
    } else if (kind < 7) {
        wish.what = "tap";
        snprintf(wish.subject, sizeof wish.subject, "plate");
        snprintf(wish.body, sizeof wish.body, "{\"state\": \"called\", \"ago_ms\": %u}", draw(w, 5000));
    } else {
        wish.what = "undo";
        wish.subject[0] = '\0';
        // Any but the first, which is the plate that all taps are of.
        snprintf(wish.body, sizeof wish.body, "{\"rev\": %u}", 2 + draw(w, (uint32_t)pc_job_rev(w->job)));
    }
    return wish;
}

static void say_some(struct writer *w)
{
    int count = 1 + (int)draw(w, MOST_SAID);
    for (int i = 0; i < count; i++) {
        struct wish wish = make_wish(w, i);
        struct pc_json *body = NULL;
        int64_t rev = 0, again = 0;
        struct pc_err err = {0};
        // What goes wrong here ends a child with its own number.
        if (pc_json_parse(wish.body, strlen(wish.body), "body", &body, NULL) != PC_OK)
            _exit(3);
        struct pc_job_wish asked = {.who = "phone",
                                    .role = PC_JOB_PHOTOGRAPHER,
                                    .what = wish.what,
                                    .subject = wish.subject,
                                    .body = body,
                                    .key = wish.key};
        enum pc_status status = pc_job_append(w->job, &asked, &rev, &err);
        // A change of which nobody knows whether it came through is sent again.
        if (status == PC_OK && draw(w, 3) == 0 &&
            (pc_job_append(w->job, &asked, &again, NULL) != PC_OK || again != rev))
            _exit(4);
        pc_json_destroy(body);
        if (status == PC_OK)
            w->acknowledged[w->said++] = rev;
        else if (strcmp(wish.what, "undo") != 0) // undone already, by the other
            _exit(5);
        for (uint32_t turns = draw(w, 4); turns > 0; turns--)
            sched_yield();
    }
}

static void *run_thread(void *user)
{
    say_some(user);
    return NULL;
}

static void run_threads(struct writer *writers)
{
    pthread_t threads[WRITERS];
    for (int i = 0; i < WRITERS; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, run_thread, &writers[i]), 0);
    for (int i = 0; i < WRITERS; i++)
        pthread_join(threads[i], NULL);
}

// Each opens the job for itself and tells through a pipe what was acknowledged.
static void run_processes(struct fixture *f, struct writer *writers)
{
    int ends[WRITERS][2];
    pid_t children[WRITERS];
    pc_job_close(f->job); // SQLite's locks are those of a process and may not be carried into another
    f->job = NULL;
    for (int i = 0; i < WRITERS; i++) {
        assert_int_equal(pipe(ends[i]), 0);
        children[i] = fork();
        if (children[i] == 0) {
            if (pc_job_open(f->folder, &writers[i].job, NULL) != PC_OK)
                _exit(1);
            say_some(&writers[i]);
            pc_job_close(writers[i].job);
            _exit(write(ends[i][1], &writers[i], sizeof writers[i]) == (ssize_t)sizeof writers[i] ? 0 : 2);
        }
        close(ends[i][1]);
    }
    for (int i = 0; i < WRITERS; i++) {
        int status = 0;
        ssize_t told = read(ends[i][0], &writers[i], sizeof writers[i]);
        close(ends[i][0]);
        assert_int_equal(waitpid(children[i], &status, 0), children[i]);
        if (status != 0 || told != (ssize_t)sizeof writers[i])
            fail_msg("round %d: writer %d ended with %d", writers[i].round, i, WEXITSTATUS(status));
    }
    assert_int_equal(pc_job_open(f->folder, &f->job, NULL), PC_OK);
}

// Every number that was acknowledged is that of the change with its key, and there are no others.
static void assert_all_there(struct fixture *f, const struct writer *writers, int64_t before)
{
    struct pc_arena *arena = pc_arena_create();
    struct pc_job_change *changes = NULL;
    size_t count = 0, acknowledged = 0;
    assert_int_equal(pc_job_since(f->job, arena, before, 100, &changes, &count, NULL), PC_OK);
    for (size_t i = 0; i < count; i++)
        assert_int_equal(changes[i].rev, before + 1 + (int64_t)i);
    for (int w = 0; w < WRITERS; w++)
        for (int i = 0; i < writers[w].said; i++, acknowledged++) {
            int64_t at = writers[w].acknowledged[i] - before - 1;
            assert_true(at >= 0 && at < (int64_t)count);
            int round = 0, number = 0;
            assert_int_equal(sscanf(changes[at].key, "%d-%d", &round, &number), 2);
            assert_int_equal(round, writers[w].round);
            assert_int_equal(number, w);
        }
    assert_int_equal(count, acknowledged);
    pc_arena_destroy(arena);
}

// From the end of the log to its beginning: an undo that nothing later undid takes what it names.
static bool *find_undone(const struct pc_job_change *changes, size_t count)
{
    bool *undone = calloc(count + 1, sizeof *undone);
    for (size_t i = count; i > 0; i--)
        if (strcmp(changes[i - 1].what, "undo") == 0 && !undone[i])
            undone[changes[i - 1].undoes] = true;
    return undone;
}

// One member of one subject, by looking for the last body that speaks of it.
static const char *folded_member(struct pc_arena *arena, const struct pc_job_change *changes, size_t count,
                                 const bool *undone, const char *what, const char *subject,
                                 const char *member)
{
    bool whole = strcmp(what, "touch") == 0;
    for (size_t i = count; i > 0; i--) {
        if (undone[i] || strcmp(changes[i - 1].what, what) != 0 ||
            strcmp(changes[i - 1].subject, subject) != 0)
            continue;
        struct pc_json *body = NULL;
        assert_int_equal(pc_json_parse(changes[i - 1].body, strlen(changes[i - 1].body), "body", &body, NULL),
                         PC_OK);
        const struct pc_json *value = pc_json_get(body, member);
        bool said = value != NULL, null = said && pc_json_kind(value) == PC_JSON_NULL;
        const char *text = said && !null ? pc_json_print(arena, value, true) : NULL;
        pc_json_destroy(body);
        if (said || whole)
            return text;
    }
    return NULL;
}

static void assert_folded(struct fixture *f)
{
    static const struct {
        const char *what, *subject, *member;
    } looked_at[] = {
        {"shot", "S0", "dish"},       {"shot", "S0", "angle_deg"},       {"shot", "S0", "dish_class"},
        {"shot", "S1", "dish"},       {"shot", "S1", "angle_deg"},       {"shot", "S1", "dish_class"},
        {"shot", "S2", "dish"},       {"shot", "S2", "angle_deg"},       {"shot", "S2", "dish_class"},
        {"touch", "hero", "x_ratio"}, {"touch", "hero", "radius_ratio"},
    };
    struct pc_job_change *changes = NULL;
    size_t count = 0, taps_wanted = 0;
    assert_int_equal(pc_job_since(f->job, f->arena, 0, 100000, &changes, &count, NULL), PC_OK);
    bool *undone = find_undone(changes, count);
    for (size_t i = 0; i < PC_COUNT(looked_at); i++) {
        const char *want = folded_member(f->arena, changes, count, undone, looked_at[i].what,
                                         looked_at[i].subject, looked_at[i].member);
        const char *got = job_now(f, looked_at[i].what, looked_at[i].subject, looked_at[i].member);
        if ((want == NULL) != (got == NULL) || (want != NULL && strcmp(want, got) != 0))
            fail_msg("after %zu changes, %s of %s %s is %s, want %s", count, looked_at[i].member,
                     looked_at[i].what, looked_at[i].subject, got == NULL ? "nothing" : got,
                     want == NULL ? "nothing" : want);
    }
    for (size_t i = 0; i < count; i++)
        taps_wanted += strcmp(changes[i].what, "tap") == 0 && !undone[i + 1];
    struct pc_json *taps = NULL;
    assert_int_equal(pc_job_taps(f->job, &taps, NULL), PC_OK);
    assert_int_equal(pc_json_count(taps), taps_wanted);
    pc_json_destroy(taps);
    free(undone);
}

static void a_thousand_interleavings_lose_nothing(void **state)
{
    struct fixture *f = *state;
    job_say(f, "plate", "plate", "{}");
    for (int round = 0; round < ROUNDS; round++) {
        struct writer writers[WRITERS];
        for (int i = 0; i < WRITERS; i++)
            writers[i] = (struct writer){
                .job = f->job, .seed = (uint32_t)(2 * round + i) * 2654435761u, .round = round, .number = i};
        int64_t before = pc_job_rev(f->job);
        if (round % 2 == 0)
            run_threads(writers);
        else
            run_processes(f, writers);
        assert_all_there(f, writers, before);
        if (round % 50 == 0 || round == ROUNDS - 1)
            assert_folded(f);
    }
}

enum { THREADS = 4, EACH = 60 };
struct tapper {
    struct fixture *f;
    int number;
};

static void *write_many(void *user)
{
    struct tapper *w = user;
    for (int i = 0; i < EACH; i++) {
        char key[32];
        int64_t rev = 0;
        snprintf(key, sizeof key, "%d-%d", w->number, i);
        for (int twice = 0; twice < 2; twice++) // a phone that is not sure sends again
            assert_int_equal(job_say_as(w->f, PC_JOB_COOK, "phone", "tap", "1", "{\"state\": \"called\"}",
                                        key, &rev, NULL),
                             PC_OK);
    }
    return NULL;
}

static void threads_and_processes_lose_nothing(void **state)
{
    struct fixture *f = *state;
    job_say(f, "plate", "1", "{}");
    pc_job_close(f->job);
    f->job = NULL;
    pid_t child = fork();
    if (child == 0) { // another program with the same job
        struct pc_job *job = NULL;
        if (pc_job_open(f->folder, &job, NULL) != PC_OK)
            _exit(1);
        for (int i = 0; i < EACH; i++) {
            struct pc_json *body = pc_json_object();
            pc_json_put_text(body, "state", "down");
            int64_t rev = 0;
            if (pc_job_append(
                    job,
                    &(struct pc_job_wish){
                        .who = "other", .role = PC_JOB_COOK, .what = "tap", .subject = "1", .body = body},
                    &rev, NULL) != PC_OK)
                _exit(2);
            pc_json_destroy(body);
        }
        pc_job_close(job);
        _exit(0);
    }
    assert_int_equal(pc_job_open(f->folder, &f->job, NULL), PC_OK);
    pthread_t threads[THREADS];
    struct tapper writers[THREADS];
    for (int i = 0; i < THREADS; i++) {
        writers[i] = (struct tapper){f, i};
        assert_int_equal(pthread_create(&threads[i], NULL, write_many, &writers[i]), 0);
    }
    for (int i = 0; i < THREADS; i++)
        pthread_join(threads[i], NULL);
    int status = 0;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_int_equal(status, 0);
    assert_int_equal(pc_job_rev(f->job), 1 + THREADS * EACH + EACH);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_thousand_interleavings_lose_nothing, job_begin, job_end),
        cmocka_unit_test_setup_teardown(threads_and_processes_lose_nothing, job_begin, job_end),
    };
    return cmocka_run_group_tests_name("writers", tests, NULL, NULL);
}
