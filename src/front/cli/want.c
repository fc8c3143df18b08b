// SPDX-License-Identifier: Apache-2.0
// The verb `want`: what is wished for in, dial numbers out.
#include "front/cli/measured.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"
#include "light/parts/want.h"

static enum pc_status add_goal(struct pc_want *want, enum pc_goal_kind kind, int place, double value,
                               struct pc_err *err)
{
    if (want->goal_count == PC_GOALS_MAX)
        return pc_fail(err, PC_MISUSE, NULL, "There are more than %d goals.", PC_GOALS_MAX);
    want->goal[want->goal_count++] = (struct pc_goal){.kind = kind, .place = place, .value = value};
    return PC_OK;
}

static enum pc_status read_goals(const struct pc_cli *cli, const struct pc_reading *reading,
                                 struct pc_want *want, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    double value;
    int place;
    if (pc_args_number(args, "hero-ev", &value))
        PC_TRY(add_goal(want, PC_GOAL_HERO_LEVEL, PC_PLACE_HERO, value, err));
    if (pc_args_number(args, "surface-stops", &value))
        PC_TRY(add_goal(want, PC_GOAL_SURFACE_UNDER, PC_PLACE_SURFACE, value, err));
    if (pc_args_number(args, "key-to-fill", &value))
        PC_TRY(add_goal(want, PC_GOAL_KEY_OVER, PC_PLACE_HERO, value, err));
    for (size_t i = 0; i < pc_args_count(args, "change"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "change", i);
        PC_TRY(pc_measured_place(reading, "--change", arg->name, &place, err));
        PC_TRY(add_goal(want, PC_GOAL_PLACE_LEVEL, place, arg->value[0] / 3.0, err));
    }
    for (size_t i = 0; i < pc_args_count(args, "warmer"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "warmer", i);
        PC_TRY(pc_measured_place(reading, "--warmer", arg->name, &place, err));
        PC_TRY(add_goal(want, PC_GOAL_PLACE_WARMTH, place, arg->value[0], err));
    }
    if (pc_args_number(args, "second-shadow", &value))
        PC_TRY(add_goal(want, PC_GOAL_SECOND_SHADOW, PC_PLACE_SURFACE, value, err));
    if (want->goal_count == 0)
        return pc_fail(
            err, PC_MISUSE, NULL,
            "Say what is wanted, with --hero-ev, --surface-stops, --change, --warmer or --second-shadow.");
    return PC_OK;
}

// Nobody who asks for levels wants the colour turned on the way: a kelvin stays unless warmth or its range is
// asked.
static void hold_kelvins(const struct pc_cli *cli, const struct pc_reading *reading, struct pc_want *want)
{
    if (pc_args_has(cli->args, "warmer"))
        return;
    for (int i = 0; i < reading->light_count; i++) {
        bool asked = false;
        for (size_t k = 0; k < pc_args_count(cli->args, "kelvin"); k++)
            asked = asked || strcmp(pc_args_at(cli->args, "kelvin", k)->name, reading->light[i].name) == 0;
        if (!asked && reading->light[i].emitter_count == 2)
            want->limit[i].least_K = want->limit[i].most_K = reading->light[i].kelvin_K;
    }
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

static const char *goal_key(enum pc_goal_kind kind)
{
    static const char *const keys[] = {
        [PC_GOAL_HERO_LEVEL] = "hero_ev",         [PC_GOAL_SURFACE_UNDER] = "surface_under_hero_light_stops",
        [PC_GOAL_PLACE_LEVEL] = "place_ev",       [PC_GOAL_PLACE_WARMTH] = "place_mired",
        [PC_GOAL_KEY_OVER] = "key_to_fill_stops", [PC_GOAL_SECOND_SHADOW] = "second_shadow_stops"};
    return keys[kind];
}

static const char *binding_key(enum pc_binding binding)
{
    static const char *const keys[] = {
        [PC_BINDING_NONE] = NULL,         [PC_BINDING_MOST] = "cap",   [PC_BINDING_LEAST] = "least",
        [PC_BINDING_FIXED] = "fixed",     [PC_BINDING_STEP] = "step",  [PC_BINDING_KELVIN] = "kelvin",
        [PC_BINDING_AMBIENT] = "ambient", [PC_BINDING_GOALS] = "goals"};
    return keys[binding];
}

static void print_json(struct pc_cli *cli, const struct pc_measured *m, const struct pc_want *want,
                       const struct pc_want_answer *answer)
{
    const struct pc_reading *reading = &m->reading;
    struct pc_json *o = pc_json_object(), *goals = pc_json_array(), *changes = pc_json_array();
    pc_measured_put_dials(reading, &answer->dials, o);
    for (int g = 0; g < want->goal_count; g++) {
        const struct pc_goal *goal = &want->goal[g];
        char text[256];
        struct pc_json *item = pc_json_object();
        pc_json_put_text(item, "goal", goal_key(goal->kind));
        pc_json_put_text(item, "place", reading->place[goal->place].name);
        pc_json_put_number(item, "wanted", goal->value, 3);
        pc_json_put_number(item, "reached", answer->value[g], 3);
        pc_json_put_number(item, "miss_ev", answer->miss[g], 3);
        pc_json_put_text(item, "binding", binding_key(answer->binding[g]));
        pc_json_put_text(item, "binding_light",
                         answer->binding_light[g] >= 0 ? reading->light[answer->binding_light[g]].name
                                                       : NULL);
        pc_want_binding_text(reading, want, answer, g, text, sizeof text);
        pc_json_put_text(item, "why_not", answer->binding[g] == PC_BINDING_NONE ? NULL : text);
        pc_json_add(goals, item);
    }
    pc_json_put(o, "goals", goals);
    for (int p = 0; p < reading->place_count; p++) {
        struct pc_json *item = pc_json_object();
        pc_json_put_text(item, "place", reading->place[p].name);
        pc_json_put_number(item, "change_ev", answer->place_ev[p], 3);
        pc_json_put_number(item, "change_mired", answer->place_mired[p], 1);
        pc_json_add(changes, item);
    }
    pc_json_put(o, "changes", changes);
    double tolerance_pct = 0.0;
    for (int i = 0; i < reading->light_count; i++)
        tolerance_pct = fmax(tolerance_pct, reading->light[i].curve.tolerance_pct);
    pc_json_put_number(o, "dials_light_tolerance_pct", tolerance_pct, 0);
    pc_json_put(o, "notes", pc_measured_notes_json(m));
    pc_cli_put_json(cli, o);
}

static void print_dials(struct pc_cli *cli, const struct pc_measured *m, const struct pc_want_answer *answer)
{
    const struct pc_reading *reading = &m->reading;
    struct pc_dials now;
    char dial[32];
    pc_reading_dials_now(reading, &now);
    struct pc_table *table = pc_table_create(cli->arena, "light|>is|>set");
    for (int i = 0; i < reading->light_count; i++) {
        pc_table_cell(table, "%s", reading->light[i].name);
        pc_table_cell(table, "%s", pc_measured_dial_text(reading, &now, i, dial));
        pc_table_cell(table, "%s", pc_measured_dial_text(reading, &answer->dials, i, dial));
    }
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
}

static void print_text(struct pc_cli *cli, const struct pc_measured *m, const struct pc_want *want,
                       const struct pc_want_answer *answer)
{
    const struct pc_reading *reading = &m->reading;
    char words[128], why[256], mired[PC_FIGURE_BYTES];
    pc_measured_print_notes(m, cli->out);
    if (m->notes.count > 0)
        fprintf(cli->out, "\n");
    print_dials(cli, m, answer);
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
    pc_measured_print_trust(reading, cli->out);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_measured *m;
    PC_TRY(pc_measured_create(cli, false, &m, err));
    struct pc_want want;
    struct pc_want_answer answer;
    enum pc_status status = pc_measured_limits(cli, m, &want, err);
    if (status == PC_OK)
        status = read_goals(cli, &m->reading, &want, err);
    if (status == PC_OK)
        hold_kelvins(cli, &m->reading, &want);
    if (status == PC_OK)
        status = pc_want_solve(&m->reading, &want, &answer, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        print_json(cli, m, &want, &answer);
    else if (status == PC_OK)
        print_text(cli, m, &want, &answer);
    pc_measured_destroy(m);
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
