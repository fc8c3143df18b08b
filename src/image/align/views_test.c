// SPDX-License-Identifier: Apache-2.0
// A table of closed form, seen from two places whose views are known exactly.
#include "image/align/views.h"

#include <setjmp.h>
#include <cmocka.h>

#include "base/linalg.h"
#include "base/units.h"
#include "scene_test.h"

enum { WIDTH = 600, HEIGHT = 400, WAVES = 40, SEEDS = 4 };

static const double PLACED_PX = 2.0; // full-resolution: one pixel of these pictures
// Of a level, as a natural logarithm: an area's rim lies on texture of 20 %.
static const double BIAS = 0.003, SCATTER = 0.02;

struct table {
    double wave[WAVES]
               [4]; // along x, along y (rad per px of the reference), phase, amplitude of the logarithm
};

static void table_make(struct table *table, uint64_t *dice)
{
    for (int i = 0; i < WAVES; i++) {
        double length_px = 12.0 * pow(20.0, scene_uniform(dice)), way = 2.0 * PC_PI * scene_uniform(dice);
        table->wave[i][0] = 2.0 * PC_PI / length_px * cos(way);
        table->wave[i][1] = 2.0 * PC_PI / length_px * sin(way);
        table->wave[i][2] = 2.0 * PC_PI * scene_uniform(dice);
        table->wave[i][3] = 0.05;
    }
}

static double lens_at(double x_px, double y_px)
{
    double r = hypot(x_px - WIDTH, y_px - HEIGHT) / hypot(WIDTH, HEIGHT);
    return 1.0 / ((1.0 + 0.15 * r * r) * (1.0 + 0.15 * r * r));
}

static void map(const double view[3][3], double x, double y, double to[2])
{
    const double from[3] = {x, y, 1.0};
    double q[3];
    pc_linalg_apply3(view, from, q);
    to[0] = q[0] / q[2];
    to[1] = q[1] / q[2];
}

// The table as its view from the reference says, with the lens's fall-off and noise.
static void shoot(struct pc_ctx *ctx, const struct table *table, const double view[3][3], double level,
                  uint64_t *dice, struct pc_picture *picture)
{
    double back[3][3];
    assert_true(pc_linalg_invert3(view, back));
    assert_int_equal(pc_picture_init(ctx, picture, WIDTH, HEIGHT, 3, NULL), PC_OK);
    picture->bin = 2;
    picture->full_width_px = 2 * WIDTH;
    picture->full_height_px = 2 * HEIGHT;
    for (int c = 0; c < 3; c++)
        picture->noise.offset_var[c] = 1e-6;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            double at[2], sum = 0.0;
            map(back, 2.0 * x + 1.0, 2.0 * y + 1.0, at);
            for (int i = 0; i < WAVES; i++)
                sum += table->wave[i][3] *
                       sin(table->wave[i][0] * at[0] + table->wave[i][1] * at[1] + table->wave[i][2]);
            for (int c = 0; c < 3; c++)
                picture->px[((size_t)y * WIDTH + (size_t)x) * 3 + (size_t)c] =
                    (float)(level * exp(sum) * lens_at(2.0 * x + 1.0, 2.0 * y + 1.0) +
                            1e-3 * scene_gauss(dice));
        }
}

// A camera that rolled, came nearer, moved and leant a little.
static void view_make(double view[3][3], uint64_t *dice)
{
    double turn = 0.3 * (2.0 * scene_uniform(dice) - 1.0), scale = 0.85 + 0.3 * scene_uniform(dice);
    double about[3][3] = {{1.0, 0.0, -WIDTH}, {0.0, 1.0, -HEIGHT}, {0.0, 0.0, 1.0}}, inner[3][3];
    const double seen[3][3] = {
        {scale * cos(turn), -scale * sin(turn), WIDTH + 120.0 * (scene_uniform(dice) - 0.5)},
        {scale * sin(turn), scale * cos(turn), HEIGHT + 120.0 * (scene_uniform(dice) - 0.5)},
        {2e-4 * (scene_uniform(dice) - 0.5), 2e-4 * (scene_uniform(dice) - 0.5), 1.0}};
    // Leaning about the picture's centre: what the last row adds goes with the centre's place.
    double leant[3][3];
    memcpy(leant, seen, sizeof leant);
    for (int c = 0; c < 2; c++) {
        leant[0][c] += WIDTH * seen[2][c];
        leant[1][c] += HEIGHT * seen[2][c];
    }
    pc_linalg_multiply3(leant, about, inner);
    memcpy(view, inner, sizeof inner);
}

static void areas_of_a_table_are_found_from_elsewhere(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct pc_ctx ctx;
        struct table table;
        struct pc_picture a, b;
        struct pc_shared *shared = calloc(1, sizeof *shared);
        static const double still[3][3] = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}};
        double view[3][3], about[3][3];
        uint64_t dice = seed * 7919;
        pc_ctx_init(&ctx, 1, 0);
        table_make(&table, &dice);
        view_make(view, &dice);
        shoot(&ctx, &table, still, 0.2, &dice, &a);
        shoot(&ctx, &table, view, 0.05, &dice, &b);
        // The first view is 20 pixels off.
        memcpy(about, view, sizeof about);
        for (int c = 0; c < 3; c++) {
            about[0][c] += 14.0 * view[2][c];
            about[1][c] -= 14.0 * view[2][c];
        }
        assert_int_equal(pc_align_shared(&ctx, &a, &b, about, true, shared, NULL), PC_OK);
        assert_true(shared->structured > 100);
        assert_true(shared->count > 0.8 * shared->structured);
        double square = 0.0, sum = 0.0;
        for (int i = 0; i < shared->count; i++) {
            const struct pc_shared_area *area = &shared->area[i];
            double at[2];
            map(view, area->a_px[0], area->a_px[1], at);
            assert_true(hypot(at[0] - area->b_px[0], at[1] - area->b_px[1]) < PLACED_PX);
            double truth = log(0.05 / 0.2 * lens_at(area->b_px[0], area->b_px[1]) /
                               lens_at(area->a_px[0], area->a_px[1]));
            square += (area->log_ratio - truth) * (area->log_ratio - truth);
            sum += area->log_ratio - truth;
        }
        print_message("seed %d: %d of %d areas, levels off by %.4f on average, %.4f scatter\n", (int)seed,
                      shared->count, shared->structured, sum / shared->count, sqrt(square / shared->count));
        assert_true(fabs(sum / shared->count) < BIAS && sqrt(square / shared->count) < SCATTER);
        // What the view of another place shows is not the table.
        for (int c = 0; c < 3; c++)
            about[0][c] += 150.0 * view[2][c];
        assert_int_equal(pc_align_shared(&ctx, &a, &b, about, false, shared, NULL), PC_OK);
        assert_true(shared->count <= 0.1 * shared->structured);
        pc_picture_finish(&a);
        pc_picture_finish(&b);
        assert_int_equal(ctx.held_bytes, 0);
        free(shared);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(areas_of_a_table_are_found_from_elsewhere)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
