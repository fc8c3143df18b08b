// SPDX-License-Identifier: Apache-2.0
// Sensors that few files at hand have: other filter patterns, three values a pixel, no filters, odd sizes.
#include "image/photo/worker/sensor.h"

#include <setjmp.h>
#include <cmocka.h>

enum { RAW_W = 40, RAW_H = 30, LEFT = 3, TOP = 2 };

static uint8_t memory[1 << 20] __attribute__((aligned(64)));

static void *room(void *user, size_t bytes)
{
    (void)user;
    memset(memory, 0xff, sizeof memory); // floats that are no numbers, so that a pixel left out is seen
    return bytes <= sizeof memory ? memory : NULL;
}

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.9g, want %.9g within %g", got, want, within);
}

static uint16_t numbers[RAW_W * RAW_H * 4];
static float black[64];

static struct pc_sensor sensor_of(int width, int height, int orientation)
{
    for (size_t i = 0; i < PC_COUNT(numbers); i++)
        numbers[i] = (uint16_t)(300 + i * 7919 % 3000);
    return (struct pc_sensor){
        .dn = numbers,
        .pitch = RAW_W,
        .values = 1,
        .channels = 3,
        .raw_width_px = RAW_W,
        .raw_height_px = RAW_H,
        .left_px = LEFT,
        .top_px = TOP,
        .width_px = width,
        .height_px = height,
        .orientation = orientation,
        .filter_rows = 2,
        .filter_cols = 2,
        .filter = {{0, 1}, {1, 2}},
        .black_rows = 2,
        .black_cols = 2,
        .black_dn = black,
        .says_black = true,
        .white_dn = 4000,
    };
}

static struct pc_reply bin(const struct pc_sensor *sensor, enum pc_job_want want, int64_t about_pixels)
{
    struct pc_job job = {.want = want, .most_pixels = 1 << 20, .about_pixels = about_pixels, .room = room};
    struct pc_reply reply = {0};
    struct pc_err err = {0};
    if (pc_sensor_bin(sensor, &job, &reply, &err) != PC_OK)
        fail_msg("%s", err.text);
    return reply;
}

static float *px_at(const struct pc_reply *reply, int x, int y)
{
    return (float *)(void *)memory + (size_t)((y * reply->width_px + x) * reply->channels);
}

// The stored place that an upright place shows, by the meaning of each orientation (Exif 2.32, 0x0112).
static void stored_place(int orientation, int width, int height, int x, int y, int *sx, int *sy)
{
    const int back_x = width - 1, back_y = height - 1; // of the stored picture
    switch (orientation) {
    case 2:
        *sx = back_x - x, *sy = y;
        break;
    case 3:
        *sx = back_x - x, *sy = back_y - y;
        break;
    case 4:
        *sx = x, *sy = back_y - y;
        break;
    case 5:
        *sx = y, *sy = x;
        break;
    case 6:
        *sx = y, *sy = back_y - x;
        break;
    case 7:
        *sx = back_x - y, *sy = back_y - x;
        break;
    case 8:
        *sx = back_x - y, *sy = x;
        break;
    default:
        *sx = x, *sy = y;
        break;
    }
}

// Every bin, in every orientation, holds just the photosites that lie under it in the upright photograph,
// whose corner is where bins begin even when a row or column is left over.
static void check_bins(struct pc_sensor *sensor, int side, int64_t about_pixels)
{
    int w = sensor->width_px, h = sensor->height_px;
    for (int o = 1; o <= 8; o++) {
        sensor->orientation = o;
        struct pc_reply reply = bin(sensor, PC_JOB_MEASURE, about_pixels);
        assert_int_equal(reply.bin, side);
        assert_int_equal(reply.full_width_px, o >= 5 ? h : w);
        assert_int_equal(reply.width_px, (o >= 5 ? h : w) / side);
        const uint8_t *mask =
            memory + pc_pixels_mask_at((uint64_t)reply.width_px, (uint64_t)reply.height_px, 3);
        for (int y = 0; y < reply.height_px; y++) {
            for (int x = 0; x < reply.width_px; x++) {
                double sum[3] = {0}, n[3] = {0};
                int clipped = 0;
                for (int i = 0; i < side * side; i++) {
                    int sx, sy;
                    stored_place(o, w, h, x * side + i % side, y * side + i / side, &sx, &sy);
                    int c = sensor->filter[sy % sensor->filter_rows][sx % sensor->filter_cols];
                    double b =
                        (double)black[sy % sensor->black_rows * sensor->black_cols + sx % sensor->black_cols];
                    clipped |= (numbers[(sy + TOP) * RAW_W + sx + LEFT] == 3990) << c;
                    sum[c] += (numbers[(sy + TOP) * RAW_W + sx + LEFT] - b) / (4000 - b);
                    n[c]++;
                }
                for (int c = 0; c < 3; c++)
                    near((double)px_at(&reply, x, y)[c], sum[c] / n[c], 1e-5);
                assert_int_equal(mask[y * reply.width_px + x], clipped);
            }
        }
    }
}

static void set_black(int count)
{
    for (int i = 0; i < count; i++)
        black[i] = (float)(200 + 5 * i);
}

static void odd_sizes_begin_at_the_upright_corner(void **state)
{
    (void)state;
    set_black(4);
    struct pc_sensor sensor = sensor_of(31, 27, 1);
    check_bins(&sensor, 2, 0);
    sensor.width_px = 30;
    check_bins(&sensor, 2, 0);
}

static void black_finer_than_the_filter(void **state)
{
    (void)state;
    set_black(16);
    struct pc_sensor sensor = sensor_of(32, 24, 1);
    sensor.black_rows = sensor.black_cols = 4;
    check_bins(&sensor, 2, 0);
}

static void six_by_six_filters(void **state)
{
    (void)state;
    // Each 3 x 3 holds all three colours, twice or more.
    static const char pattern[6][7] = {"GBGGRG", "RGRBGB", "GBGGRG", "GRGGBG", "BGBRGR", "GRGGBG"};
    set_black(36);
    struct pc_sensor sensor = sensor_of(34, 25, 1);
    sensor.filter_rows = sensor.filter_cols = sensor.black_rows = sensor.black_cols = 6;
    for (int i = 0; i < 36; i++)
        sensor.filter[i / 6][i % 6] = pattern[i / 6][i % 6] == 'R' ? 0 : pattern[i / 6][i % 6] == 'G' ? 1 : 2;
    check_bins(&sensor, 3, 0);
    check_bins(&sensor, 6, 22); // 11 x 8 of them by two
}

static void averages_down_to_about_the_size_asked_for(void **state)
{
    (void)state;
    set_black(4);
    struct pc_sensor sensor = sensor_of(31, 27, 1);
    numbers[(10 + TOP) * RAW_W + 13 + LEFT] =
        3990; // saturated: one of each colour, the rest stays under 3300
    numbers[(15 + TOP) * RAW_W + 20 + LEFT] = 3990;
    numbers[(5 + TOP) * RAW_W + 7 + LEFT] = 3990;
    check_bins(&sensor, 2, 15 * 13);
    check_bins(&sensor, 4, 50); // 15 x 13 windows are nearest to it by two
    check_bins(&sensor, 6, 22);
    sensor.black_rows = sensor.black_cols = 4;
    set_black(16);
    check_bins(&sensor, 4, 50);
}

static void three_values_a_pixel_and_none(void **state)
{
    (void)state;
    set_black(1);
    struct pc_sensor sensor = sensor_of(20, 16, 1);
    sensor.filter_rows = sensor.filter_cols = sensor.black_rows = sensor.black_cols = 1;
    sensor.values = 4;
    sensor.pitch = RAW_W * 4;
    for (int want = PC_JOB_MEASURE; want <= PC_JOB_PICTURE; want++) {
        struct pc_reply reply = bin(&sensor, (enum pc_job_want)want, 0);
        int side = want == PC_JOB_MEASURE ? 2 : 1;
        assert_int_equal(reply.bin, side);
        for (int c = 0; c < 3; c++) {
            double sum = 0;
            for (int i = 0; i < side * side; i++)
                sum += numbers[((size_t)(4 * side + i / side + TOP) * RAW_W +
                                (size_t)(5 * side + i % side + LEFT)) *
                                   4 +
                               (size_t)c];
            near((double)px_at(&reply, 5, 4)[c], (sum / (side * side) - 200) / 3800, 1e-5);
        }
    }
    sensor.values = 1;
    sensor.channels = 1;
    sensor.pitch = RAW_W;
    numbers[(4 + TOP) * RAW_W + 4 + LEFT] = 3965; // within 1 % of 3800 below 4000
    struct pc_reply reply = bin(&sensor, PC_JOB_PICTURE, 0);
    assert_int_equal(reply.channels, 1);
    near((double)px_at(&reply, 4, 4)[0], 3765.0 / 3800, 1e-5);
    const uint8_t *mask = memory + pc_pixels_mask_at(20, 16, 1);
    assert_int_equal(mask[4 * 20 + 4], 1);
    assert_int_equal(mask[4 * 20 + 5], 0);
}

static void levels_upside_down_are_refused(void **state)
{
    (void)state;
    set_black(4);
    struct pc_sensor sensor = sensor_of(32, 24, 1);
    sensor.white_dn = 150;
    struct pc_reply reply = {0};
    struct pc_err err = {0};
    assert_int_equal(pc_sensor_settle_black(&sensor, &reply, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "not below its white"));
}

// A DNG without BlackLevel: 0 as its specification has it, unless the decoder knows of another for the
// camera.
static void a_black_not_stated_is_0_or_refused(void **state)
{
    (void)state;
    struct pc_sensor sensor = sensor_of(32, 24, 1);
    struct pc_reply reply = {0};
    struct pc_err err = {0};
    sensor.says_black = false;
    memset(black, 0, sizeof black);
    assert_int_equal(pc_sensor_settle_black(&sensor, &reply, &err), PC_OK);
    assert_true(reply.black_by_default);
    near(reply.black_dn, 0, 0);
    black[3] = 512;
    memset(&reply, 0, sizeof reply);
    assert_int_equal(pc_sensor_settle_black(&sensor, &reply, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "BlackLevel"));
    assert_false(reply.black_by_default);
    memset(black, 0, sizeof black);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_black_not_stated_is_0_or_refused),
        cmocka_unit_test(odd_sizes_begin_at_the_upright_corner),
        cmocka_unit_test(black_finer_than_the_filter),
        cmocka_unit_test(six_by_six_filters),
        cmocka_unit_test(averages_down_to_about_the_size_asked_for),
        cmocka_unit_test(three_values_a_pixel_and_none),
        cmocka_unit_test(levels_upside_down_are_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
