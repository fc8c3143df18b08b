// SPDX-License-Identifier: Apache-2.0
// Dead lines drawn into pictures whose every pixel is known.
#include "image/picture/lines.h"

#include <setjmp.h>
#include <cmocka.h>

enum { WIDTH = 300, HEIGHT = 200 };

struct made {
    struct pc_ctx ctx;
    struct pc_picture picture;
    uint64_t dice;
};

static double roll(struct made *m)
{
    m->dice = m->dice * 6364136223846793005u + 1442695040888963407u;
    return (double)(m->dice >> 11) * 0x1p-53;
}

static double level(int x, int y, int c)
{
    return (0.1 + 0.001 * x + 0.0005 * y) * (c == 1 ? 1.0 : 0.6);
}

static void make(struct made *m, double noise_ratio)
{
    memset(m, 0, sizeof *m);
    pc_ctx_init(&m->ctx, 1, 0);
    m->dice = 7;
    assert_int_equal(pc_picture_init(&m->ctx, &m->picture, WIDTH, HEIGHT, 3, NULL), PC_OK);
    for (int i = 0; i < WIDTH * HEIGHT * 3; i++)
        m->picture.px[i] =
            (float)(level(i / 3 % WIDTH, i / 3 / WIDTH, i % 3) * (1.0 + noise_ratio * (2.0 * roll(m) - 1.0)));
}

static void scale(struct made *m, int x, int y, int c, double factor)
{
    m->picture.px[((size_t)y * WIDTH + (size_t)x) * 3 + (size_t)c] *= (float)factor;
}

static double worst_off(const struct made *m)
{
    double worst = 0.0;
    for (int i = 0; i < WIDTH * HEIGHT * 3; i++)
        worst =
            fmax(worst, fabs((double)m->picture.px[i] / level(i / 3 % WIDTH, i / 3 / WIDTH, i % 3) - 1.0));
    return worst;
}

static void a_dead_column_and_a_bright_row_are_mended(void **state)
{
    (void)state;
    struct made m;
    make(&m, 0.02);
    // A photosite column of a Bayer sensor at 2 x 2 binning: half the green, all of one other colour.
    for (int y = 0; y < HEIGHT; y++) {
        scale(&m, 120, y, 1, 0.5);
        scale(&m, 120, y, 0, 0.0);
    }
    for (int x = 0; x < WIDTH; x++)
        scale(&m, x, 77, 2, 1.5);
    assert_true(worst_off(&m) > 0.4);
    assert_int_equal(pc_picture_mend_lines(&m.picture), 2);
    assert_true(worst_off(&m) <= 0.021); // the noise's own, and the level is a plane
    pc_picture_finish(&m.picture);
}

static void what_lies_on_the_table_is_left(void **state)
{
    (void)state;
    struct made m;
    make(&m, 0.1);
    // The gap between two boards, along the sensor, over three quarters of the picture; and an edge.
    for (int y = 0; y < HEIGHT * 3 / 4; y++)
        scale(&m, 90, y, 1, 0.3);
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 200; x < WIDTH; x++)
            for (int c = 0; c < 3; c++)
                scale(&m, x, y, c, 0.25);
    size_t bytes = (size_t)WIDTH * HEIGHT * 3 * sizeof(float);
    float *before = malloc(bytes);
    assert_non_null(before);
    memcpy(before, m.picture.px, bytes);
    assert_int_equal(pc_picture_mend_lines(&m.picture), 0);
    assert_memory_equal(before, m.picture.px, bytes);
    free(before);
    pc_picture_finish(&m.picture);
}

static void a_dark_frame_tells_nothing(void **state)
{
    (void)state;
    struct made m;
    make(&m, 0.0);
    memset(m.picture.px, 0, (size_t)WIDTH * HEIGHT * 3 * sizeof(float));
    assert_int_equal(pc_picture_mend_lines(&m.picture), 0);
    pc_picture_finish(&m.picture);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_dead_column_and_a_bright_row_are_mended),
        cmocka_unit_test(what_lies_on_the_table_is_left),
        cmocka_unit_test(a_dark_frame_tells_nothing),
    };
    return cmocka_run_group_tests_name("lines", tests, NULL, NULL);
}
