// SPDX-License-Identifier: Apache-2.0
#include "shoot/day/plate.h"

#define MS_PER_S      1000.0
#define LEARN_FROM    3
#define SPREAD_RATIO  0.075
#define SPREAD_PLATES 2.0
#define SIGMAS        2.0
#define ALARM_RATIO   0.2

const char *const pc_plate_state_keys[] = {"stand_in", "called", "down", "have_it", "gone", NULL};
_Static_assert(PC_COUNT(pc_plate_state_keys) == PC_PLATE_STATE_COUNT + 1, "each state has its key");

void pc_plate_life(int dish_class, const double *lives_s, size_t count, double *life_s, double *tolerance_s)
{
    *life_s = *tolerance_s = (double)NAN;
    if (dish_class < 0 || (size_t)dish_class >= pc_dish_class_count)
        return;
    *life_s = pc_dish_classes[dish_class].life_s;
    *tolerance_s = pc_dish_classes[dish_class].life_s_tolerance;
    if (count < LEARN_FROM)
        return;
    double mean = 0.0, squares = 0.0, n = (double)count;
    for (size_t i = 0; i < count; i++)
        mean += lives_s[i] / n;
    for (size_t i = 0; i < count; i++)
        squares += (lives_s[i] - mean) * (lives_s[i] - mean);
    double usual = SPREAD_RATIO * mean, prior = *tolerance_s / SIGMAS;
    double spread2 = (squares + SPREAD_PLATES * usual * usual) / (n - 1 + SPREAD_PLATES);
    double weight = n / spread2, prior_weight = 1 / (prior * prior);
    *life_s = (weight * mean + prior_weight * *life_s) / (weight + prior_weight);
    *tolerance_s = SIGMAS * sqrt(spread2 + 1 / (weight + prior_weight));
}

static struct pc_plate_now *plate_of(struct pc_plate_clock *clock, const char *id)
{
    for (size_t i = 0; i < clock->count; i++)
        if (strcmp(clock->plates[i].plate->id, id) == 0)
            return &clock->plates[i];
    return NULL;
}

static void count_tap(struct pc_plate_clock *clock, const struct pc_tap *tap)
{
    struct pc_plate_now *now = plate_of(clock, tap->plate);
    clock->taps++;
    if (now == NULL) {
        clock->strays++;
        return;
    }
    int64_t *at_ms = &now->at_ms[tap->state];
    if (*at_ms < 0 || tap->made_ms < *at_ms)
        *at_ms = tap->made_ms;
    if ((int)tap->state > now->state)
        now->state = (int)tap->state;
}

static size_t lives_of(const struct pc_plate_clock *clock, int dish_class, double *lives_s)
{
    size_t count = 0;
    for (size_t i = 0; i < clock->count; i++) {
        const struct pc_plate_now *now = &clock->plates[i];
        const int64_t *at_ms = now->at_ms;
        if (now->plate->dish_class == dish_class && at_ms[PC_PLATE_DOWN] >= 0 &&
            at_ms[PC_PLATE_GONE] > at_ms[PC_PLATE_DOWN])
            lives_s[count++] = (double)(at_ms[PC_PLATE_GONE] - at_ms[PC_PLATE_DOWN]) / MS_PER_S;
    }
    return count;
}

static void run_down(struct pc_plate_now *now, int64_t now_ms)
{
    now->left_s = (double)NAN;
    now->gone_at_ms = -1;
    if (now->state != PC_PLATE_DOWN || isnan(now->life_s))
        return;
    now->gone_at_ms = now->at_ms[PC_PLATE_DOWN] + llround(now->life_s * MS_PER_S);
    // A clock put back must not give a plate more than its life.
    now->left_s = fmin((double)(now->gone_at_ms - now_ms) / MS_PER_S, now->life_s);
    now->alarm = now->left_s <= ALARM_RATIO * now->life_s;
}

void pc_plate_clock_find(struct pc_arena *arena, const struct pc_plate *plates, size_t plate_count,
                         const struct pc_tap *taps, size_t tap_count, int64_t now_ms,
                         struct pc_plate_clock *clock)
{
    *clock = (struct pc_plate_clock){
        .plates = PC_NEW_N(arena, plate_count, struct pc_plate_now), .count = plate_count, .now_ms = now_ms};
    for (size_t i = 0; i < plate_count; i++) {
        clock->plates[i] = (struct pc_plate_now){.plate = &plates[i], .state = PC_PLATE_NOT_YET};
        for (int s = 0; s < PC_PLATE_STATE_COUNT; s++)
            clock->plates[i].at_ms[s] = -1;
    }
    for (size_t i = 0; i < tap_count; i++)
        count_tap(clock, &taps[i]);
    double *lives_s = PC_NEW_N(arena, plate_count, double);
    for (size_t i = 0; i < plate_count; i++) {
        struct pc_plate_now *now = &clock->plates[i];
        size_t count = lives_of(clock, now->plate->dish_class, lives_s);
        pc_plate_life(now->plate->dish_class, lives_s, count, &now->life_s, &now->life_tolerance_s);
        run_down(now, now_ms);
    }
    pc_plate_clock_say(arena, clock);
}
