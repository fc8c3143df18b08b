// SPDX-License-Identifier: Apache-2.0
#include "light/kit/caution.h"
#include "shoot/day/plate.h"

#define MS_PER_HOUR 3600000

static const char *time_text(struct pc_arena *arena, double s)
{
    return s < 60 ? pc_arena_printf(arena, "%d s", (int)fmax(s, 0.0))
                  : pc_arena_printf(arena, "%d min", (int)(s / 60));
}

// The plate that the set waits for or works on: the first in the order of the day that is down, else called.
static const struct pc_plate_now *on_the_set(const struct pc_plate_clock *clock)
{
    for (int state = PC_PLATE_DOWN; state >= PC_PLATE_CALLED; state--)
        for (size_t i = 0; i < clock->count; i++)
            if (clock->plates[i].state == state)
                return &clock->plates[i];
    return NULL;
}

// From the call to the plate on the set, as it went on this job; 0 before the first.
static double carrying_s(const struct pc_plate_clock *clock)
{
    double sum_s = 0.0;
    int count = 0;
    for (size_t i = 0; i < clock->count; i++) {
        const int64_t *at_ms = clock->plates[i].at_ms;
        if (at_ms[PC_PLATE_CALLED] < 0 || at_ms[PC_PLATE_DOWN] < at_ms[PC_PLATE_CALLED])
            continue;
        sum_s += (double)(at_ms[PC_PLATE_DOWN] - at_ms[PC_PLATE_CALLED]) / 1000.0;
        count++;
    }
    return count > 0 ? sum_s / count : 0.0;
}

static const char *say_next(struct pc_arena *arena, const struct pc_plate_clock *clock,
                            const struct pc_plate_now *now)
{
    const struct pc_plate_now *next = NULL;
    for (size_t i = 0; i < clock->count && next == NULL; i++)
        if (clock->plates[i].state < PC_PLATE_CALLED)
            next = &clock->plates[i];
    if (next == NULL)
        return "No plate after this one.";
    const char *dish = next->plate->dish;
    if (now == NULL)
        return pc_arena_printf(arena,
                               next->state == PC_PLATE_STAND_IN
                                   ? "Be ready to fire the %s: its stand-in is set."
                                   : "After that the %s.",
                               dish);
    if (isnan(now->left_s))
        return pc_arena_printf(arena, "Then fire the %s.", dish);
    double in_s = now->left_s - carrying_s(clock);
    if (in_s < 1)
        return pc_arena_printf(arena, "Fire the %s now.", dish);
    return pc_arena_printf(arena, "Fire the %s in %s.", dish, time_text(arena, in_s));
}

void pc_plate_clock_say(struct pc_arena *arena, struct pc_plate_clock *clock)
{
    const struct pc_plate_now *now = on_the_set(clock);
    if (now == NULL)
        clock->line_now = "No plate is called.";
    else if (now->state == PC_PLATE_CALLED)
        clock->line_now = pc_arena_printf(arena, "Bring the %s.", now->plate->dish);
    else if (isnan(now->left_s))
        clock->line_now = pc_arena_printf(arena, "The %s is down.", now->plate->dish);
    else if (now->left_s <= 0)
        clock->line_now = pc_arena_printf(arena, "The %s is past its time.", now->plate->dish);
    else
        clock->line_now = pc_arena_printf(arena, "The %s is down, %s left.", now->plate->dish,
                                          time_text(arena, now->left_s));
    clock->line_next = say_next(arena, clock, now);
    for (size_t i = 0; i < clock->count; i++) {
        const struct pc_plate_now *plate = &clock->plates[i];
        bool out = plate->state == PC_PLATE_DOWN || plate->state == PC_PLATE_HAVE_IT;
        int64_t down_ms = plate->at_ms[PC_PLATE_DOWN];
        if (out && down_ms >= 0 && clock->now_ms - down_ms >= MS_PER_HOUR)
            clock->caution = pc_caution_text(PC_CAUTION_FOOD_TIME);
    }
}

struct pc_json *pc_clock_json(const struct pc_plate_clock *clock)
{
    struct pc_json *json = pc_json_object(), *list = pc_json_array();
    pc_json_put_int(json, "now_ms", clock->now_ms);
    for (size_t i = 0; i < clock->count; i++) {
        const struct pc_plate_now *now = &clock->plates[i];
        struct pc_json *one = pc_json_object(), *at = pc_json_object();
        pc_json_put_text(one, "plate", now->plate->id);
        pc_json_put_text(one, "dish", now->plate->dish);
        pc_json_put_text(one, "now", now->state < 0 ? NULL : pc_plate_state_keys[now->state]);
        for (int s = 0; s < PC_PLATE_STATE_COUNT; s++)
            if (now->at_ms[s] >= 0)
                pc_json_put_int(at, pc_plate_state_keys[s], now->at_ms[s]);
        pc_json_put(one, "at_ms", at);
        pc_json_put_number(one, "life_s", now->life_s, 0);
        pc_json_put_number(one, "life_s_tolerance", now->life_tolerance_s, 0);
        pc_json_put_number(one, "left_s", now->left_s, 1);
        if (now->gone_at_ms >= 0)
            pc_json_put_int(one, "gone_at_ms", now->gone_at_ms);
        pc_json_put_bool(one, "alarm", now->alarm);
        pc_json_add(list, one);
    }
    pc_json_put(json, "plates", list);
    pc_json_put_text(json, "line_now", clock->line_now);
    pc_json_put_text(json, "line_next", clock->line_next);
    pc_json_put_text(json, "caution", clock->caution);
    return json;
}
