// SPDX-License-Identifier: Apache-2.0
// Dials wanted, against every step of every dial tried on the table.
#include "light/parts/want.h"
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

enum { WANT_LIGHTS = 4, WANT_STEPS = 20, WANT_SETS = 50 };

static void four_straight_lamps(struct sim_setup *setup, int seed)
{
    // The first seeded set-up from here on that has four lights or more.
    for (int k = seed; setup->light_count < WANT_LIGHTS; k += 1000)
        sim_setup_seeded(setup, (uint64_t)k);
    setup->light_count = WANT_LIGHTS;
    straight_still_lamps(setup, seed);
}

// Noiseless luminance at hero and surface, each light alone at full and the window, as the camera has it.
struct want_truth {
    double light_Y[WANT_LIGHTS][2], window_Y[2], reflect_ev;
};

static void find_want_truth(struct bench *b, struct want_truth *t)
{
    struct pc_picture picture;
    const struct pc_picture *like = &b->parts.ambient;
    // On the pixels that can be read: those that clip in no frame.
    size_t pixels = (size_t)like->width_px * (size_t)like->height_px;
    uint8_t *unread = calloc(1, pixels);
    assert_non_null(unread);
    for (int k = 0; k < b->parts.part_count; k++)
        for (size_t i = 0; i < pixels; i++)
            unread[i] |= b->parts.part[k].picture.clipped[i];
    assert_int_equal(pc_picture_init(&b->ctx, &picture, like->width_px, like->height_px, 3, &b->err), PC_OK);
    picture.bin = like->bin;
    picture.full_width_px = like->full_width_px;
    picture.full_height_px = like->full_height_px;
    for (int k = -1; k < WANT_LIGHTS; k++) {
        struct sim_shot shot = b->shot[0];
        if (k >= 0) {
            shot.lit[sim_light_of(b, b->reading.light[k].name)] = true;
            shot.dial_ratio[sim_light_of(b, b->reading.light[k].name)] = 1.0;
        }
        assert_int_equal(sim_render(b->scene, &shot, picture.px, &b->err), PC_OK);
        for (int p = 0; p < 2; p++) {
            struct pc_level level;
            pc_picture_level(&picture, b->reading.place[p].x_px, b->reading.place[p].y_px,
                             0.01 * picture.full_width_px, unread, &level);
            const double *row = b->parts.xyz_from_camera[1];
            double Y = row[0] * level.value[0] + row[1] * level.value[1] + row[2] * level.value[2];
            if (k < 0)
                t->window_Y[p] = Y;
            else
                t->light_Y[k][p] = Y - t->window_Y[p];
        }
    }
    // How much of its light each place sends back is the reading's own estimate, good to 0.3 EV and told so:
    // what is judged here is the wanting.
    t->reflect_ev = b->reading.reflect_ev[PC_PLACE_HERO];
    pc_picture_finish(&picture);
    free(unread);
}

// The worst miss of a setting on the pictures; goals as want.h words them, reckoned here by themselves.
static double true_worst_miss(const struct want_truth *t, const struct pc_want *want, const double *dial)
{
    double hero = t->window_Y[0], surface = t->window_Y[1], hero_now = hero, lit[WANT_LIGHTS], worst = 0.0;
    for (int k = 0; k < WANT_LIGHTS; k++) {
        hero += dial[k] * t->light_Y[k][0];
        hero_now += t->light_Y[k][0];
        lit[k] = dial[k] * t->light_Y[k][1];
        surface += lit[k];
    }
    double first = 0.0, second = 0.0;
    for (int k = 0; k < WANT_LIGHTS; k++) {
        second = fmax(second, fmin(lit[k], first));
        first = fmax(first, lit[k]);
    }
    for (int g = 0; g < want->goal_count; g++) {
        double value = want->goal[g].value, miss = 0.0;
        if (want->goal[g].kind == PC_GOAL_HERO_LEVEL)
            miss = fabs(log2(hero / hero_now) - value);
        else if (want->goal[g].kind == PC_GOAL_SURFACE_UNDER)
            miss = fabs(log2(hero / surface) - t->reflect_ev - value);
        else
            miss = fmax(0.0, log2(surface / (surface - second)) - value);
        worst = fmax(worst, miss);
    }
    return worst;
}

static double best_by_trying_all(const struct want_truth *t, const struct pc_want *want)
{
    double best = INFINITY, dial[WANT_LIGHTS];
    for (int i = 0; i <= WANT_STEPS; i++)
        for (int j = 0; j <= WANT_STEPS; j++)
            for (int k = 0; k <= WANT_STEPS; k++)
                for (int l = 0; l <= WANT_STEPS; l++) {
                    dial[0] = (double)i / WANT_STEPS;
                    dial[1] = (double)j / WANT_STEPS;
                    dial[2] = (double)k / WANT_STEPS;
                    dial[3] = (double)l / WANT_STEPS;
                    best = fmin(best, true_worst_miss(t, want, dial));
                }
    return best;
}

static double drawn(uint64_t *state, double least, double most)
{
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return least + (most - least) * (double)(*state >> 11) * 0x1p-53;
}

void wanted_dials_do_on_the_table_what_was_wanted(void **state)
{
    (void)state;
    int from, count, failed = 0, tried = 0;
    double widest = 0.0;
    seeds_asked(&from, &count, 4);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, four_straight_lamps);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        if (bench_parts(b) != PC_OK || bench_read(b, false) != PC_OK) {
            print_message("seed %d refused: %s: %s\n", seed, b->err.place, b->err.text);
            failed += WANT_SETS;
            tried += WANT_SETS;
            bench_end(b);
            continue;
        }
        struct want_truth truth;
        find_want_truth(b, &truth);
        uint64_t dice = (uint64_t)seed * 977;
        for (int set = 0; set < WANT_SETS; set++) {
            struct pc_want want;
            struct pc_want_answer answer;
            pc_want_init(&b->reading, &want);
            for (int k = 0; k < WANT_LIGHTS; k++)
                want.limit[k].step_ratio = 1.0 / WANT_STEPS;
            if (drawn(&dice, 0, 1) < 0.7)
                want.goal[want.goal_count++] =
                    (struct pc_goal){.kind = PC_GOAL_HERO_LEVEL, .value = drawn(&dice, -3.0, 0.3)};
            if (drawn(&dice, 0, 1) < 0.4)
                want.goal[want.goal_count++] =
                    (struct pc_goal){.kind = PC_GOAL_SECOND_SHADOW, .value = drawn(&dice, 0.05, 0.8)};
            if (want.goal_count == 0 || drawn(&dice, 0, 1) < 0.7)
                want.goal[want.goal_count++] =
                    (struct pc_goal){.kind = PC_GOAL_SURFACE_UNDER, .value = drawn(&dice, -1.0, 3.0)};
            assert_int_equal(pc_want_solve(&b->reading, &want, &answer, &b->err), PC_OK);
            double ours = true_worst_miss(&truth, &want, answer.dials.dial_ratio);
            double gap = ours - best_by_trying_all(&truth, &want);
            widest = fmax(widest, gap);
            tried++;
            if (gap > 0.02) {
                print_message("seed %d set %d: miss %.3f EV, %.3f above the best of all steps\n", seed, set,
                              ours, gap);
                failed++;
            }
        }
        bench_end(b);
    }
    print_message("wanting on the table: widest gap %.4f EV\n", widest);
    judge("wanting on the table", failed, tried, 0);
}
