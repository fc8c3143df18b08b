// SPDX-License-Identifier: Apache-2.0
// The picture maker's set-ups and series: sane for every seed, with things where they are said to be.
#include "sim_bench.h"

#include <setjmp.h>
#include <cmocka.h>

// The share of a lamp seen, on the mean over the three by three grid points that a picture's light is
// smoothed by.
static double seen_around(const struct sim_scene *scene, const struct sim_stage *stage, int light, double x,
                          double y)
{
    struct sim_hit at, hit;
    double sum = 0, count = 0;
    sim_stage_hit(stage, x, y, &at);
    for (int dy = -3; dy <= 3; dy++)
        for (int dx = -3; dx <= 3; dx++) {
            sim_stage_hit(stage, x + dx, y + dy, &hit);
            if (hit.thing != at.thing)
                continue;
            sum += sim_panel_visible(&scene->panel[light], stage->blocker, stage->blockers, hit.thing, hit.p,
                                     hit.n, 48, 0.5);
            count += 1;
        }
    return sum / count;
}

// In the shadow of each lamp the picture's light is its even part and the seen share of its closed form.
static void shadows_lie_where_they_are_said_to_lie(void **state)
{
    (void)state;
    int found = 0, deep = 0;
    for (uint64_t seed = 20; seed < 23; seed++) {
        struct sim_setup setup;
        sim_setup_seeded(&setup, seed);
        struct sim_scene *scene = scene_of(&setup);
        for (int l = 0; l < setup.light_count; l++) {
            struct sim_shot shot;
            struct sim_stage stage;
            struct sim_hit hit;
            struct sim_truth truth;
            double x, y, seen;
            sim_shot_one_light(&setup, l, 1, setup.light[l].kelvin_K, &shot);
            if (!sim_shadow_px(scene, &shot, l, &x, &y, &seen))
                continue;
            sim_stage_init(&stage, &setup, &shot);
            sim_stage_hit(&stage, x, y, &hit);
            assert_int_equal(sim_truth_at(scene, &shot, x, y, &truth, NULL), PC_OK);
            double level =
                sim_emitter_level(&setup, &shot, 2 * l) + sim_emitter_level(&setup, &shot, 2 * l + 1);
            double open = sim_panel_lx(&scene->panel[l], hit.p, hit.n);
            double got = (truth.emitter_lx[2 * l] + truth.emitter_lx[2 * l + 1]) / (level * open);
            double around = seen_around(scene, &stage, l, x, y);
            // where a shadow is only a few pixels wide the grid rounds it
            near(got, around + scene->fill_lx[l] / open, 0.01 + 0.3 * fabs(around - seen),
                 "light in a shadow over light without it");
            found++;
            deep += seen < 0.3;
        }
        sim_scene_destroy(scene);
    }
    if (found < 6 || deep < 4)
        fail_msg("%d shadows, %d deep ones", found, deep);
}

static double card_edge_ratio(struct sim_scene *scene, const struct sim_shot *shot, int seed)
{
    double corner[4][2];
    int w, h;
    sim_upright_size(sim_scene_setup(scene), &w, &h);
    if (!sim_card_px(scene, shot, SIM_PLACE_CARD, corner))
        fail_msg("seed %d: the card is not in the picture", seed);
    double least = INFINITY;
    for (int i = 0; i < 4; i++)
        least =
            fmin(least, hypot(corner[i][0] - corner[(i + 1) % 4][0], corner[i][1] - corner[(i + 1) % 4][1]));
    return least / w;
}

// In every seed each place is in the picture, free, and made of what it should be made of; no frame of the
// series is drowned in white and none is black.
static void seeded_set_ups_are_sane(void **state)
{
    (void)state;
    for (int seed = 0; seed < 80; seed++) {
        struct sim_setup setup;
        sim_setup_seeded(&setup, (uint64_t)seed);
        struct sim_shot shot;
        struct sim_stage stage;
        struct sim_scene *scene = scene_of(&setup);
        sim_shot_init(&setup, &shot);
        sim_stage_init(&stage, &setup, &shot);
        static const enum sim_thing things[] = {SIM_T_DOME, SIM_T_BOARD,  SIM_T_CARD, SIM_T_NONE,
                                                SIM_T_NONE, SIM_T_NAPKIN, SIM_T_PLATE};
        for (int p = 0; p < SIM_PLACE_COUNT; p++) {
            struct sim_hit hit;
            double x, y;
            if (things[p] == SIM_T_NONE)
                continue;
            if (!sim_place_px(scene, &shot, (enum sim_place)p, &x, &y))
                fail_msg("seed %d: place %d is not in the picture", seed, p);
            sim_stage_hit(&stage, x, y, &hit);
            if (hit.thing != things[p])
                fail_msg("seed %d: place %d shows thing %d", seed, p, hit.thing);
        }
        for (int i = 0; i < SIM_PATCHES; i++) {
            struct sim_hit hit;
            double x, y, radius;
            if (!sim_patch_px(scene, &shot, i, &x, &y, &radius))
                fail_msg("seed %d: patch %d is not in the picture", seed, i);
            for (int way = 0; way < 5; way++) {
                sim_stage_hit(&stage, x + radius * (way == 1) - radius * (way == 2),
                              y + radius * (way == 3) - radius * (way == 4), &hit);
                if (hit.thing != SIM_T_CHART || hit.a != SIM_M_PATCH + i)
                    fail_msg("seed %d: patch %d shows thing %d, material %d", seed, i, hit.thing, hit.a);
            }
        }
        double edge = card_edge_ratio(scene, &shot, seed);
        if (edge < 0.03)
            fail_msg("seed %d: the card is %.3f of the picture", seed, edge);
        if (setup.shutter_thirds < -33 || setup.shutter_thirds > 9)
            fail_msg("seed %d: shutter %g s", seed, exp2(setup.shutter_thirds / 3.0));
        sim_scene_destroy(scene);
    }
}

static void hand_held_frames_show_both_cards(void **state)
{
    (void)state;
    static struct sim_shot shots[SIM_SHOTS_MAX];
    double furthest = 0;
    for (uint64_t seed = 0; seed < 24; seed++) {
        struct sim_setup setup;
        sim_setup_seeded(&setup, seed);
        struct sim_scene *scene = scene_of(&setup);
        int count = sim_series_hand(&setup, 1, 0.3, 10, shots);
        for (int i = 0; i < count; i++)
            for (int card = SIM_PLACE_HERO_CARD; card <= SIM_PLACE_SURFACE_CARD; card++) {
                struct sim_stage stage;
                struct sim_hit hit;
                double x, y;
                if (!sim_place_px(scene, &shots[i], (enum sim_place)card, &x, &y))
                    fail_msg("seed %d: a card is not in frame %d", (int)seed, i);
                sim_stage_init(&stage, &setup, &shots[i]);
                sim_stage_hit(&stage, x, y, &hit);
                assert_int_equal(hit.a, SIM_M_CARD);
                const double *m = shots[i].move_m;
                furthest = fmax(furthest, sqrt(m[0] * m[0] + m[1] * m[1] + m[2] * m[2]));
            }
        sim_scene_destroy(scene);
    }
    if (furthest < 0.2 || furthest > 0.3)
        fail_msg("the furthest of all moves is %g m", furthest);
}

static void a_nudge_moves_the_napkin_and_nothing_else(void **state)
{
    (void)state;
    struct sim_setup setup = small(11);
    struct sim_scene *scene = scene_of(&setup);
    static struct sim_shot shots[2];
    double x0, y0, x1, y1;
    int w, h;
    sim_shot_init(&setup, &shots[0]);
    shots[1] = shots[0];
    sim_series_nudge(shots, 2, 1, 4, -2);
    assert_true(sim_place_px(scene, &shots[0], SIM_PLACE_NAPKIN, &x0, &y0));
    assert_true(sim_place_px(scene, &shots[1], SIM_PLACE_NAPKIN, &x1, &y1));
    near(x1 - x0, 4, 1e-6, "right");
    near(y1 - y0, -2, 1e-6, "up");
    float *a = render(scene, &shots[0]), *b = render(scene, &shots[1]);
    sim_upright_size(&setup, &w, &h);
    int moved = 0, away = 0;
    for (int y = 0; y < h / 2; y++)
        for (int x = 0; x < w / 2; x++) {
            size_t i = 3 * ((size_t)y * (size_t)(w / 2) + (size_t)x) + 1;
            if (fabs((double)b[i] / (double)a[i] - 1) < 0.005)
                continue;
            moved++;
            away += hypot(2 * x - x0, 2 * y - y0) > 0.25 * w;
        }
    if (moved < 50 || away > 0)
        fail_msg("%d pixels changed, %d of them far from the napkin", moved, away);
    free(a);
    free(b);
    sim_scene_destroy(scene);
}

static void shutters_have_their_usual_names(void **state)
{
    (void)state;
    struct sim_shot shot = {.shutter_thirds = -18};
    near(sim_shutter_s(&shot), 1.0 / 64, 1e-12, "true");
    near(sim_shutter_nominal_s(&shot), 1.0 / 60, 1e-12, "named");
    for (shot.shutter_thirds = -39; shot.shutter_thirds <= 15; shot.shutter_thirds++) {
        double off_ev = log2(sim_shutter_nominal_s(&shot) / sim_shutter_s(&shot));
        near(off_ev, 0, 0.095, "a name is within a tenth of a stop of the time");
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(shadows_lie_where_they_are_said_to_lie),
        cmocka_unit_test(seeded_set_ups_are_sane),
        cmocka_unit_test(hand_held_frames_show_both_cards),
        cmocka_unit_test(a_nudge_moves_the_napkin_and_nothing_else),
        cmocka_unit_test(shutters_have_their_usual_names),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
