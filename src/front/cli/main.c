// SPDX-License-Identifier: Apache-2.0
#include "front/cli/cli.h"

#include <errno.h>
#include <unistd.h>

#include "base/clock.h"
#include "base/text.h"
#include "front/cli/stop.h"

enum { EXIT_DONE = 0, EXIT_FAILED = 1, EXIT_MISUSED = 2 };

// Words that the build calls the program with, and no person has to know.
static const struct {
    const char *word;
    void (*put)(FILE *out);
} generators[] = {
    {"@man", pc_help_man},
    {"@bash-completion", pc_help_bash_completion},
};

// The line on a terminal that says how far the work is.
struct progress {
    struct pc_ctx *ctx;
    double last_s; // when it was last drawn
    bool drawn;
};

static bool show_progress(void *user, const char *doing, double done_ratio)
{
    enum { REDRAWS_A_SECOND = 10 };
    struct progress *progress = user;
    double now_s = pc_clock_monotonic_s();
    if (now_s - progress->last_s >= 1.0 / REDRAWS_A_SECOND) {
        fprintf(stderr, "\r\033[K%s: %.0f %%", doing, 100 * done_ratio);
        progress->last_s = now_s;
        progress->drawn = true;
    }
    return !progress->ctx->cancelled;
}

static void put_complaint(const char *place, const char *text)
{
    char safe_place[256], safe_text[1024];
    pc_text_printable(place, safe_place, sizeof safe_place);
    pc_text_printable(text, safe_text, sizeof safe_text);
    if (safe_place[0] != '\0')
        fprintf(stderr, "platecall: %s: %s\n", safe_place, safe_text);
    else
        fprintf(stderr, "platecall: %s\n", safe_text);
}

void pc_cli_note(const char *place, const char *fmt, ...)
{
    char text[1024];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    put_complaint(place != NULL ? place : "", text);
}

void pc_cli_put_json(struct pc_cli *cli, struct pc_json *json)
{
    fprintf(cli->out, "%s\n", pc_json_print(cli->arena, json, false));
    pc_json_destroy(json);
}

static enum pc_status run_verb(struct pc_arena *arena, const struct pc_verb *verb, const struct pc_args *args,
                               struct pc_err *err)
{
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 0, 0);
    struct pc_stop stop;
    pc_stop_init(&stop, &ctx);
    struct progress progress = {.ctx = &ctx};
    if (isatty(STDERR_FILENO)) {
        ctx.progress = show_progress;
        ctx.user = &progress;
    }
    struct pc_cli cli = {&ctx, arena, args, stdout};
    enum pc_status status = verb->run(&cli, err);
    pc_stop_finish(&stop);
    if (progress.drawn)
        fputs("\r\033[K", stderr);
    return status;
}

static enum pc_status find_verb(const char *word, const struct pc_verb **verb, struct pc_err *err)
{
    static const char *const own_options[] = {"help", "version"};
    *verb = pc_verb_find(word);
    if (*verb != NULL)
        return PC_OK;
    if (strncmp(word, "--", 2) == 0)
        return pc_args_no_such(err, "option", word + 2, own_options, PC_COUNT(own_options), "--");
    enum { MOST_VERBS = 64 };
    PC_ASSERT(pc_verb_count < MOST_VERBS);
    const char *names[MOST_VERBS];
    for (size_t i = 0; i < pc_verb_count; i++)
        names[i] = pc_verbs[i]->name;
    return pc_args_no_such(err, "verb", word, names, pc_verb_count, "");
}

static enum pc_status dispatch(struct pc_arena *arena, int argc, char *const *argv, struct pc_err *err)
{
    if (argc < 2)
        return pc_fail(err, PC_MISUSE, NULL,
                       "Say what you want to know; platecall --help lists the questions.");
    if (strcmp(argv[1], "--help") == 0) {
        pc_help_program(stdout);
        return PC_OK;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts("platecall " PC_VERSION);
        return PC_OK;
    }
    for (size_t i = 0; i < PC_COUNT(generators); i++)
        if (strcmp(argv[1], generators[i].word) == 0) {
            generators[i].put(stdout);
            return PC_OK;
        }
    const struct pc_verb *verb;
    PC_TRY(find_verb(argv[1], &verb, err));
    struct pc_args *args;
    bool help;
    PC_TRY(pc_args_parse(arena, verb, argc - 2, argv + 2, &args, &help, err));
    if (help) {
        pc_help_verb(stdout, verb);
        return PC_OK;
    }
    return run_verb(arena, verb, args, err);
}

int main(int argc, char **argv)
{
    struct pc_arena *arena = pc_arena_create();
    if (arena == NULL) {
        put_complaint("", "There is no memory left on this machine to start with.");
        return EXIT_FAILED;
    }
    struct pc_err err = {0};
    enum pc_status status = dispatch(arena, argc, argv, &err);
    errno = 0;
    if (status == PC_OK && (fflush(stdout) != 0 || ferror(stdout)))
        status = pc_fail(&err, PC_IO, "the answer", "It could not be written out whole (%s).",
                         errno != 0 ? strerror(errno) : "the other end was closed");
    pc_arena_destroy(arena);
    if (status == PC_OK)
        return EXIT_DONE;
    put_complaint(err.place, err.text);
    return status == PC_MISUSE ? EXIT_MISUSED : EXIT_FAILED;
}
