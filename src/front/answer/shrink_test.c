// SPDX-License-Identifier: Apache-2.0
// Averaging by area against closed forms: a plane stays a plane, and sums are kept.
#include "front/answer/shrink.h"

#include <setjmp.h>
#include <cmocka.h>

static void picture_of(struct pc_ctx *ctx, struct pc_picture *p, int width, int height)
{
    assert_int_equal(pc_picture_init(ctx, p, width, height, 3, NULL), PC_OK);
    for (int y = 0; y < height; y++)
        for (int x = 0; x < width; x++)
            for (int c = 0; c < 3; c++)
                p->px[(y * width + x) * 3 + c] = (float)((x + 0.5) * (c + 1) + 10.0 * (y + 0.5));
}

// The mean of a plane over an area of whole pixels is its value in the middle.
static void a_plane_is_kept(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    struct pc_picture p, small;
    pc_ctx_init(&ctx, 2, 0);
    picture_of(&ctx, &p, 120, 80);
    assert_int_equal(pc_shrink(&ctx, &p, 30, &small, NULL), PC_OK);
    assert_int_equal(small.width_px, 30);
    assert_int_equal(small.height_px, 20);
    for (int y = 0; y < 20; y++)
        for (int x = 0; x < 30; x++)
            for (int c = 0; c < 3; c++)
                assert_true(fabs((double)small.px[(y * 30 + x) * 3 + c] - 4 * (x + 0.5) * (c + 1) -
                                 40 * (y + 0.5)) < 1e-3);
    pc_picture_finish(&small);
    pc_picture_finish(&p);
    assert_int_equal(ctx.held_bytes, 0);
}

static double mean(const struct pc_picture *p, int channel)
{
    double sum = 0.0;
    for (int i = 0; i < p->width_px * p->height_px; i++)
        sum += (double)p->px[3 * i + channel];
    return sum / (p->width_px * p->height_px);
}

static void any_size_keeps_the_mean(void **state)
{
    (void)state;
    static const int widths[] = {1, 7, 64, 79, 118, 119};
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    for (size_t i = 0; i < PC_COUNT(widths); i++) {
        struct pc_picture p, small;
        picture_of(&ctx, &p, 119, 83);
        p.px[3 * 1000] = 5e4F;
        assert_int_equal(pc_shrink(&ctx, &p, widths[i], &small, NULL), PC_OK);
        for (int c = 0; c < 3; c++)
            assert_true(fabs(mean(&small, c) / mean(&p, c) - 1.0) < 1e-6);
        pc_picture_finish(&small);
        pc_picture_finish(&p);
    }
}

static void what_clipped_stays_clipped(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    struct pc_picture p, small;
    pc_ctx_init(&ctx, 1, 0);
    picture_of(&ctx, &p, 100, 60);
    p.clipped[31 * 100 + 47] = 2;
    assert_int_equal(pc_shrink(&ctx, &p, 20, &small, NULL), PC_OK);
    for (int i = 0; i < 20 * 12; i++)
        assert_int_equal(small.clipped[i], i == 6 * 20 + 9 ? 2 : 0);
    pc_picture_finish(&small);
    pc_picture_finish(&p);
}

static void no_wider_than_it_is(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    struct pc_picture p, small;
    pc_ctx_init(&ctx, 1, 0);
    picture_of(&ctx, &p, 40, 30);
    assert_int_equal(pc_shrink(&ctx, &p, 1280, &small, NULL), PC_OK);
    assert_int_equal(small.width_px, 40);
    assert_memory_equal(small.px, p.px, 40 * 30 * 3 * sizeof(float));
    pc_picture_finish(&small);
    pc_picture_finish(&p);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plane_is_kept), cmocka_unit_test(any_size_keeps_the_mean),
        cmocka_unit_test(what_clipped_stays_clipped), cmocka_unit_test(no_wider_than_it_is)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
