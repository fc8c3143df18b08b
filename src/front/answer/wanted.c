// SPDX-License-Identifier: Apache-2.0
#include "front/answer/wanted.h"

static const char *const goal_keys[] = {
    [PC_GOAL_HERO_LEVEL] = "hero_ev",         [PC_GOAL_SURFACE_UNDER] = "surface_under_hero_light_stops",
    [PC_GOAL_PLACE_LEVEL] = "place_ev",       [PC_GOAL_PLACE_WARMTH] = "place_mired",
    [PC_GOAL_KEY_OVER] = "key_to_fill_stops", [PC_GOAL_SECOND_SHADOW] = "second_shadow_stops"};

bool pc_wanted_kind(const char *key, enum pc_goal_kind *kind)
{
    for (size_t i = 0; i < PC_COUNT(goal_keys); i++)
        if (strcmp(goal_keys[i], key) == 0) {
            *kind = (enum pc_goal_kind)i;
            return true;
        }
    return false;
}

static const char *binding_key(enum pc_binding binding)
{
    static const char *const keys[] = {
        [PC_BINDING_NONE] = NULL,         [PC_BINDING_MOST] = "cap",   [PC_BINDING_LEAST] = "least",
        [PC_BINDING_FIXED] = "fixed",     [PC_BINDING_STEP] = "step",  [PC_BINDING_KELVIN] = "kelvin",
        [PC_BINDING_AMBIENT] = "ambient", [PC_BINDING_GOALS] = "goals"};
    return keys[binding];
}

static int own_place(enum pc_goal_kind kind)
{
    return kind == PC_GOAL_SURFACE_UNDER || kind == PC_GOAL_SECOND_SHADOW ? PC_PLACE_SURFACE : PC_PLACE_HERO;
}

static enum pc_status put_goals(const struct pc_asked *asked, const struct pc_wanted_goal *goals,
                                int goal_count, struct pc_wanted *wanted, struct pc_err *err)
{
    if (goal_count > PC_GOALS_MAX)
        return pc_fail(err, PC_MISUSE, NULL, "There are more than %d goals.", PC_GOALS_MAX);
    for (int i = 0; i < goal_count; i++) {
        int place = own_place(goals[i].kind);
        if (goals[i].place != NULL)
            PC_TRY(pc_measured_place(&wanted->reading, asked,
                                     goals[i].kind == PC_GOAL_PLACE_WARMTH ? "warmer" : "change",
                                     goals[i].place, &place, err));
        wanted->want.goal[wanted->want.goal_count++] = (struct pc_goal){goals[i].kind, place, goals[i].value};
    }
    return PC_OK;
}

// Nobody who asks for levels wants the colour turned on the way: a kelvin stays unless warmth or its range is
// asked.
static void hold_kelvins(const struct pc_asked *asked, struct pc_wanted *wanted)
{
    for (int g = 0; g < wanted->want.goal_count; g++)
        if (wanted->want.goal[g].kind == PC_GOAL_PLACE_WARMTH)
            return;
    for (int i = 0; i < wanted->reading.light_count; i++) {
        const struct pc_reading_light *light = &wanted->reading.light[i];
        bool ranged = false;
        for (int k = 0; k < asked->limit_count; k++)
            ranged = ranged || (asked->limit[k].kind == PC_LIMIT_KELVIN &&
                                strcmp(asked->limit[k].light, light->name) == 0);
        if (!ranged && light->emitter_count == 2)
            wanted->want.limit[i].least_K = wanted->want.limit[i].most_K = light->kelvin_K;
    }
}

enum pc_status pc_wanted_make(const struct pc_measured *measured, const struct pc_asked *asked,
                              const struct pc_wanted_goal *goals, int goal_count, struct pc_wanted *wanted,
                              struct pc_err *err)
{
    struct pc_dials now;
    memset(wanted, 0, sizeof *wanted);
    wanted->measured = measured;
    wanted->reading = measured->reading;
    PC_TRY(pc_measured_dials(measured, asked, &now, err));
    for (int i = 0; i < wanted->reading.light_count; i++) {
        wanted->reading.light[i].dial_ratio = now.dial_ratio[i];
        wanted->reading.light[i].kelvin_K = now.kelvin_K[i];
    }
    PC_TRY(pc_measured_limits(&wanted->reading, asked, &wanted->want, err));
    PC_TRY(put_goals(asked, goals, goal_count, wanted, err));
    hold_kelvins(asked, wanted);
    return pc_want_solve(&wanted->reading, &wanted->want, &wanted->answer, err);
}

struct pc_json *pc_wanted_json(const struct pc_wanted *wanted)
{
    const struct pc_reading *reading = &wanted->reading;
    const struct pc_want *want = &wanted->want;
    const struct pc_want_answer *answer = &wanted->answer;
    struct pc_json *o = pc_json_object(), *goals = pc_json_array(), *changes = pc_json_array();
    pc_measured_put_dials(reading, &answer->dials, o);
    for (int g = 0; g < want->goal_count; g++) {
        const struct pc_goal *goal = &want->goal[g];
        char text[256];
        struct pc_json *item = pc_json_object();
        pc_json_put_text(item, "goal", goal_keys[goal->kind]);
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
    pc_json_put(o, "notes", pc_measured_notes_json(wanted->measured));
    return o;
}
