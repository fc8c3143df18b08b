// SPDX-License-Identifier: Apache-2.0
// The verb `want`: what is wished for in, dial numbers out.
#include "front/answer/wanted.h"
#include "front/cli/asked.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"

static void add_goal(struct pc_wanted_goal *goals, int *count, enum pc_goal_kind kind, const char *place,
                     double value)
{
    goals[(*count)++] = (struct pc_wanted_goal){kind, place, value};
}

static enum pc_status read_goals(const struct pc_cli *cli, struct pc_wanted_goal **goals, int *count,
                                 struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    size_t changes = pc_args_count(args, "change"), warmths = pc_args_count(args, "warmer");
    struct pc_wanted_goal *all = PC_NEW_N(cli->arena, changes + warmths + 4, struct pc_wanted_goal);
    double value;
    *goals = all;
    *count = 0;
    if (pc_args_number(args, "hero-ev", &value))
        add_goal(all, count, PC_GOAL_HERO_LEVEL, NULL, value);
    if (pc_args_number(args, "surface-stops", &value))
        add_goal(all, count, PC_GOAL_SURFACE_UNDER, NULL, value);
    if (pc_args_number(args, "key-to-fill", &value))
        add_goal(all, count, PC_GOAL_KEY_OVER, NULL, value);
    for (size_t i = 0; i < changes; i++) {
        const struct pc_arg *arg = pc_args_at(args, "change", i);
        add_goal(all, count, PC_GOAL_PLACE_LEVEL, arg->name, arg->value[0] / 3.0);
    }
    for (size_t i = 0; i < warmths; i++) {
        const struct pc_arg *arg = pc_args_at(args, "warmer", i);
        add_goal(all, count, PC_GOAL_PLACE_WARMTH, arg->name, arg->value[0]);
    }
    if (pc_args_number(args, "second-shadow", &value))
        add_goal(all, count, PC_GOAL_SECOND_SHADOW, NULL, value);
    if (*count == 0)
        return pc_fail(
            err, PC_MISUSE, NULL,
            "Say what is wanted, with --hero-ev, --surface-stops, --change, --warmer or --second-shadow.");
    return PC_OK;
}

static const char *goal_words(const struct pc_reading *reading, const struct pc_goal *goal, char out[128])
{
    const char *place = reading->place[goal->place].name;
    switch (goal->kind) {
    case PC_GOAL_HERO_LEVEL:
        snprintf(out, 128, "the hero %+.2f EV", goal->value);
        break;
    case PC_GOAL_SURFACE_UNDER:
        snprintf(out, 128, "the surface %.2f stops of light under the hero", goal->value);
        break;
    case PC_GOAL_PLACE_LEVEL:
        snprintf(out, 128, "the %s %+.2f EV", place, goal->value);
        break;
    case PC_GOAL_PLACE_WARMTH:
        snprintf(out, 128, "the %s %.0f mired %s", place, fabs(goal->value),
                 goal->value >= 0.0 ? "warmer" : "cooler");
        break;
    case PC_GOAL_KEY_OVER:
        snprintf(out, 128, "the key %.2f stops over everything else at the hero", goal->value);
        break;
    case PC_GOAL_SECOND_SHADOW:
        snprintf(out, 128, "a second shadow of %.2f stops at most", goal->value);
        break;
    }
    return out;
}

static void print_dials(struct pc_cli *cli, const struct pc_wanted *wanted)
{
    const struct pc_reading *reading = &wanted->reading;
    struct pc_dials now;
    char dial[32];
    pc_reading_dials_now(reading, &now);
    struct pc_table *table = pc_table_create(cli->arena, "light|>is|>set");
    for (int i = 0; i < reading->light_count; i++) {
        pc_table_cell(table, "%s", reading->light[i].name);
        pc_table_cell(table, "%s", pc_cli_dial_text(reading, &now, i, dial));
        pc_table_cell(table, "%s", pc_cli_dial_text(reading, &wanted->answer.dials, i, dial));
    }
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
}

static void print_text(struct pc_cli *cli, const struct pc_wanted *wanted)
{
    const struct pc_reading *reading = &wanted->reading;
    const struct pc_want *want = &wanted->want;
    const struct pc_want_answer *answer = &wanted->answer;
    char words[128], why[256], mired[PC_FIGURE_BYTES];
    pc_cli_print_notes(wanted->measured, cli->out);
    if (wanted->measured->notes.count > 0)
        fprintf(cli->out, "\n");
    print_dials(cli, wanted);
    for (int g = 0; g < want->goal_count; g++) {
        const struct pc_goal *goal = &want->goal[g];
        goal_words(reading, goal, words);
        if (answer->binding[g] == PC_BINDING_NONE) {
            pc_print_sentence(cli->out, "Wanted: %s; reached.", words);
            continue;
        }
        pc_want_binding_text(reading, want, answer, g, why, sizeof why);
        bool is_mired = goal->kind == PC_GOAL_PLACE_WARMTH;
        pc_print_sentence(cli->out, "Wanted: %s; %s%.*f%s is as near as it goes. %s", words,
                          answer->value[g] >= 0.0 ? "" : "-", is_mired ? 0 : 2, fabs(answer->value[g]),
                          is_mired ? " mired" : "", why);
    }
    for (int p = 0; p < reading->place_count; p++) {
        if (fabs(answer->place_ev[p]) < 0.05 &&
            !(fabs(answer->place_mired[p]) >= reading->white_tolerance_mired))
            continue;
        bool turns = fabs(answer->place_mired[p]) >= reading->white_tolerance_mired;
        pc_print_sentence(
            cli->out, "The %s changes by %+.2f EV%s%s%s.", reading->place[p].name, answer->place_ev[p],
            turns ? " and turns " : "",
            turns ? pc_print_figure(mired, fabs(answer->place_mired[p]), reading->white_tolerance_mired) : "",
            !turns                         ? ""
            : answer->place_mired[p] > 0.0 ? " mired warmer"
                                           : " mired cooler");
    }
    pc_cli_print_trust(reading, cli->out);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_asked asked;
    struct pc_measured *measured;
    struct pc_wanted_goal *goals;
    struct pc_wanted wanted;
    int goal_count;
    PC_TRY(pc_cli_asked(cli, false, &asked, err));
    PC_TRY(read_goals(cli, &goals, &goal_count, err));
    PC_TRY(pc_measured_create(cli->ctx, cli->arena, &asked, &measured, err));
    enum pc_status status = pc_wanted_make(measured, &asked, goals, goal_count, &wanted, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_wanted_json(&wanted));
    else if (status == PC_OK)
        print_text(cli, &wanted);
    pc_measured_destroy(measured);
    return status;
}

static const struct pc_option_group *const groups[] = {
    &pc_options_places, &pc_options_goals, &pc_options_limits, &pc_options_frames, &pc_options_json, NULL,
};

const struct pc_verb pc_verb_want = {
    .name = "want",
    .question = "which dials give what I want?",
    .about = "Takes the same frames as weigh and what is wanted of the light, and answers with dial numbers, "
             "with what else "
             "changes, and, where something cannot be had, with the one limit that stands in the way. "
             "Everything is "
             "measured against the dials the frames were taken at.",
    .hour = PC_HOUR_SETUP,
    .operands = "DIR | FILE...",
    .least_operands = 1,
    .most_operands = PC_FRAMES_MAX,
    .groups = groups,
    .run = run,
};
