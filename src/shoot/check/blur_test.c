// SPDX-License-Identifier: Apache-2.0
// Edges drawn from the closed form of a blurred step: the normal integral.
#include "shoot/check/blur.h"

#include "base/units.h"

#include <setjmp.h>
#include <cmocka.h>

enum { SIDE = 120 };
static const double LEVEL = 0.3, STEP = 0.15;

// One edge through the middle, facing a way, blurred along x and y by deviations of its own: across an edge
// that faces u the blur is sqrt((u_x s_x)^2 + (u_y s_y)^2).
static void draw(struct pc_ctx *ctx, struct pc_picture *picture, int way, double sx_px, double sy_px,
                 double noise)
{
    struct pc_err err = {0};
    assert_int_equal(pc_picture_init(ctx, picture, SIDE, SIDE, 1, &err), PC_OK);
    picture->bin = 1;
    picture->full_width_px = picture->full_height_px = SIDE;
    picture->noise.offset_var[0] = noise * noise;
    double angle = PC_PI * (way + 0.1) / PC_BLUR_WAYS, ux = cos(angle), uy = sin(angle);
    uint64_t state = 7;
    for (int y = 0; y < SIDE; y++)
        for (int x = 0; x < SIDE; x++) {
            double across = (x + 0.5 - SIDE / 2.0) * ux + (y + 0.5 - SIDE / 2.0) * uy, grain = 0.0;
            double step = 0.5 * (1.0 + erf(across / hypot(ux * sx_px, uy * sy_px) / sqrt(2.0)));
            for (int k = 0; k < 12; k++) {
                state = state * 6364136223846793005u + 1442695040888963407u;
                grain += (double)(state >> 40) / (double)(1 << 24) - 0.5;
            }
            picture->px[y * SIDE + x] = (float)(LEVEL + STEP * step + noise * grain);
        }
}

static double measured_px(double sx_px, double sy_px, double noise, int way)
{
    struct pc_ctx ctx;
    struct pc_picture picture;
    struct pc_blur blur = {0};
    pc_ctx_init(&ctx, 1, 0);
    for (int edge = 0; edge < PC_BLUR_WAYS; edge++) {
        draw(&ctx, &picture, edge, sx_px, sy_px, noise);
        pc_blur_add(&picture, 0, 0, SIDE, SIDE, &blur);
        pc_picture_finish(&picture);
    }
    return sqrt(way < 0 ? pc_blur_var_px2(&blur, 1) : pc_blur_way_var_px2(&blur, 1, way, 0));
}

static void the_blur_of_an_edge_is_found(void **state)
{
    (void)state;
    static const double s[] = {0.8, 1.2, 1.8, 2.5};
    for (size_t i = 0; i < PC_COUNT(s); i++) {
        double still = measured_px(s[i], s[i], 0.0, -1), grainy = measured_px(s[i], s[i], 0.004, -1);
        if (fabs(still - s[i]) > 0.15 * s[i] + 0.1 || fabs(grainy - s[i]) > 0.2 * s[i] + 0.1)
            fail_msg("of %.2f px: %.3f without grain, %.3f with", s[i], still, grainy);
    }
}

static void blur_one_way_is_found_that_way(void **state)
{
    (void)state;
    double along = measured_px(2.2, 0.8, 0.002, 0), across = measured_px(2.2, 0.8, 0.002, PC_BLUR_WAYS / 2);
    if (!(along > 1.7 && across < 1.3))
        fail_msg("2.2 px along x read %.3f, 0.8 px along y read %.3f", along, across);
}

static void plain_grain_has_no_edges(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    struct pc_picture picture;
    struct pc_blur blur = {0};
    pc_ctx_init(&ctx, 1, 0);
    draw(&ctx, &picture, 0, 1e6, 1e6, 0.01);
    pc_blur_add(&picture, 0, 0, SIDE, SIDE, &blur);
    pc_picture_finish(&picture);
    assert_true(isnan(pc_blur_var_px2(&blur, 1)));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_blur_of_an_edge_is_found),
        cmocka_unit_test(blur_one_way_is_found_that_way),
        cmocka_unit_test(plain_grain_has_no_edges),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
