// SPDX-License-Identifier: Apache-2.0
// What a panel gives at kelvins between those of its frames.
#include "light/parts/handheld.h"
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

// One panel with a warm and a cool emitter, at the kelvin set exactly; on odd seeds it gives up to twice as
// much in between.
static void one_mixing_panel(struct sim_setup *setup, int seed)
{
    setup->light_count = 1;
    straight_still_lamps(setup, seed);
    struct sim_light *light = &setup->light[0];
    light->flash = false;
    light->emitters = 2;
    light->cct_K[0] = 2700.0 + 80.0 * (seed % 7);
    light->cct_K[1] = 5600.0 + 170.0 * (seed % 6);
    light->duv[0] = 0.001 * (seed % 5 - 2);
    light->duv[1] = 0.001 * (seed % 3 - 1);
    light->led[0] = light->led[1] = true;
    light->boost_ratio = seed % 2 ? 1.0 : 0.0;
    sim_setup_expose(setup, light->boost_ratio > 0.0 ? 1.4 : 0.4);
}

// The window, the two ends, what lies between (count of them, evenly in mired) at a dial of their own, the
// window; with the cards of a set from the hand or without.
static void shoot_mixes(struct bench *b, int count, bool cards)
{
    const struct sim_light *light = &b->setup.light[0];
    double warm = 1e6 / light->cct_K[0], cool = 1e6 / light->cct_K[1];
    struct sim_shot job[SIM_SHOTS_MAX];
    int n = sim_series_emitters(&b->setup, 1.0, job);
    b->shots = 0;
    for (int i = 0; i < n - 1; i++)
        b->shot[b->shots++] = job[i];
    for (int i = 1; i <= count; i++) {
        struct sim_shot *shot = &b->shot[b->shots];
        char what[40];
        snprintf(what, sizeof what, "mix-%d", i);
        sim_shot_one_light(&b->setup, 0, 0.8, 1e6 / (cool + i * (warm - cool) / (count + 1)), shot);
        sim_shot_number(&b->setup, shot, b->shots++, what);
    }
    b->shot[b->shots] = job[n - 1];
    sim_shot_number(&b->setup, &b->shot[b->shots], b->shots, "window");
    b->shots++;
    for (int i = 0; i < b->shots; i++)
        b->shot[i].cards = cards;
    bench_shoot(b);
}

struct mix_misses {
    double ev, mired;
};

// Drives foretold at kelvins between all those of the frames against the true ones, as the light and the
// colour that a neutral gets.
static struct mix_misses worst_mixes(struct bench *b)
{
    const struct sim_light *light = &b->setup.light[0];
    double warm = 1e6 / light->cct_K[0], cool = 1e6 / light->cct_K[1], end[2][3];
    struct mix_misses worst = {0.0, 0.0};
    sim_emitter_xyz(&b->setup, 0, end[0]);
    sim_emitter_xyz(&b->setup, 1, end[1]);
    for (int i = 1; i < 24; i++) {
        struct sim_shot shot;
        double mired = cool + i * (warm - cool) / 24.0, weights[PC_EMITTERS_MAX], ambient, got[3], truth[3],
               K[2], duv;
        sim_shot_one_light(&b->setup, 0, 0.6, 1e6 / mired, &shot);
        struct pc_dials dials = {.dial_ratio = {0.6}, .kelvin_K = {1e6 / mired}, .shutter_ratio = 1.0};
        pc_reading_weights(&b->reading, &dials, weights, &ambient);
        const int *e = b->reading.light[0].emitter;
        for (int c = 0; c < 3; c++) {
            got[c] = weights[e[0]] * end[0][c] + weights[e[1]] * end[1][c];
            truth[c] = sim_emitter_level(&b->setup, &shot, 0) * end[0][c] +
                       sim_emitter_level(&b->setup, &shot, 1) * end[1][c];
        }
        sim_cct_from_xyz(got, &K[0], &duv);
        sim_cct_from_xyz(truth, &K[1], &duv);
        worst.ev = fmax(worst.ev, ev_between(got[1], truth[1]));
        worst.mired = fmax(worst.mired, fabs(1e6 / K[0] - 1e6 / K[1]));
    }
    return worst;
}

// Both readings of an end, of other frames, within what they say of themselves.
static bool ends_agree(const struct pc_reading_emitter *a, const struct pc_reading_emitter *b, int place)
{
    double tolerance_ev = 2.0 / log(2.0) * hypot(a->se_ratio[place], b->se_ratio[place]);
    return ev_between(a->xyz[place][1], b->xyz[place][1]) <= fmax(0.01, tolerance_ev);
}

void frames_between_two_kelvins_foretell_the_rest(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 6);
    for (int seed = from; seed < from + count; seed++) {
        struct mix_misses misses[2] = {{INFINITY, INFINITY}, {INFINITY, INFINITY}};
        struct pc_reading *reading = calloc(2, sizeof *reading);
        bool good = true;
        for (int with = 0; with < 2; with++) {
            struct bench *b = seeded(seed, one_mixing_panel);
            shoot_mixes(b, with ? 3 : 0, false);
            if (bench_parts(b) == PC_OK && bench_read(b, false) == PC_OK) {
                misses[with] = worst_mixes(b);
                reading[with] = b->reading;
                good = good && reading[with].light[0].kelvin.points == (with ? 5 : 0);
            } else {
                print_message("seed %d: %s: %s\n", seed, b->err.place, b->err.text);
                good = false;
            }
            bench_end(b);
        }
        // The ends are what they were without the frames between them.
        for (int e = 0; e < 2 && good; e++)
            for (int p = 0; p < 2; p++)
                good = good && ends_agree(&reading[0].emitter[e], &reading[1].emitter[e], p);
        good = good && misses[1].ev <= 0.05 && misses[1].mired <= 8.0;
        print_message("seed %d: kelvins between the frames %.3f EV, %.1f mired off; by the chord %.3f EV, "
                      "%.1f mired%s\n",
                      seed, misses[1].ev, misses[1].mired, misses[0].ev, misses[0].mired,
                      good ? "" : "  FAILED");
        free(reading);
        failed += !good;
    }
    judge("kelvins between the frames", failed, count, 0);
}

// The same from grey cards alone. The camera stays here: where it goes is another test's.
void a_mix_is_measured_on_the_cards(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 2);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, one_mixing_panel);
        struct pc_place hero = {.name = "hero"}, surface = {.name = "surface"};
        struct pc_handheld *hand = calloc(1, sizeof *hand);
        struct mix_misses misses = {INFINITY, INFINITY};
        shoot_mixes(b, 3, true);
        assert_true(sim_place_px(b->scene, &b->shot[0], SIM_PLACE_HERO_CARD, &hero.x_px, &hero.y_px));
        assert_true(
            sim_place_px(b->scene, &b->shot[0], SIM_PLACE_SURFACE_CARD, &surface.x_px, &surface.y_px));
        if (bench_series(b) == PC_OK && pc_handheld_read(&b->ctx, b->reader, &b->series, &hero, &surface,
                                                         NULL, 0, hand, &b->notes, &b->err) == PC_OK) {
            b->reading = hand->reading;
            misses = worst_mixes(b);
        }
        bool good = b->reading.light[0].kelvin.points == 5 && misses.ev <= 0.05 && misses.mired <= 8.0;
        print_message("seed %d: kelvins between the frames %.3f EV, %.1f mired off %s\n", seed, misses.ev,
                      misses.mired, b->err.text);
        failed += !good;
        free(hand);
        bench_end(b);
    }
    judge("kelvins on the cards", failed, count, 2);
}
