// SPDX-License-Identifier: Apache-2.0
// Any words (split at newlines) are a command line with whole values, or are refused with a sentence.
#include "front/cli/options.h"
#include "front/cli/there.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

enum { MOST_WORDS = 256 };

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    static const struct pc_option measures[] = {
        {.name = "page-mm", .kind = PC_ARG_SIZE, .metavar = "WxH"},
        {.name = "stands", .kind = PC_ARG_NAMED_STAND, .metavar = "NAME=CLOCK,CM,CM", .repeatable = true}};
    static const struct pc_option_group measures_group = {"Measures", measures, PC_COUNT(measures)};
    static const struct pc_option_group *const groups[] = {
        &measures_group,     &pc_options_frames, &pc_options_places,
        &pc_options_setting, &pc_options_goals,  &pc_options_limits,
        &pc_options_answer,  &pc_options_there,  NULL};
    static const struct pc_verb verb = {
        .name = "try", .operands = "DIR", .most_operands = 2, .groups = groups};
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    char *line = pc_arena_alloc(arena, count + 1, 1), *argv[MOST_WORDS], *rest = line;
    memcpy(line, bytes, count);
    int argc = 0;
    while (rest != NULL && argc < MOST_WORDS)
        argv[argc++] = strsep(&rest, "\n");
    struct pc_args *args;
    bool help;
    struct pc_err err = {0};
    if (pc_args_parse(arena, &verb, argc, argv, &args, &help, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0');
    } else if (!help) {
        double x, y;
        PC_ASSERT(pc_args_pair(args, "hero", &x, &y) && x >= 0 && y >= 0);
        PC_ASSERT(!pc_args_pair(args, "page-mm", &x, &y) || (x > 0 && y > 0));
        for (size_t i = 0; i < pc_args_count(args, "stands"); i++)
            PC_ASSERT(pc_args_at(args, "stands", i)->value[0] <= 12 &&
                      pc_args_at(args, "stands", i)->value[1] > 0 &&
                      pc_args_at(args, "stands", i)->name[0] != '\0');
        for (size_t i = 0; i < pc_args_count(args, "dials"); i++)
            PC_ASSERT(pc_args_at(args, "dials", i)->value[0] >= 0 &&
                      pc_args_at(args, "dials", i)->value[0] <= 1);
        if (pc_args_has(args, "at")) {
            const struct pc_moment *at = &pc_args_at(args, "at", 0)->moment;
            PC_ASSERT(!isnan(at->day_s) || (at->of_day_s >= 0 && at->of_day_s < 86401));
        }
        for (size_t i = 0; i < pc_args_count(args, "light"); i++)
            PC_ASSERT(pc_args_at(args, "light", i)->path[0] != '\0');
    }
    pc_arena_destroy(arena);
    return 0;
}
