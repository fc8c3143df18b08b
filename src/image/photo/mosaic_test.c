// SPDX-License-Identifier: Apache-2.0
// A mosaic, written by this project: pixels against closed forms, facts against what was written.
#include "base/file.h"
#include "image/photo/photo_bench.h"

#include <setjmp.h>
#include <cmocka.h>

static void corners_are_where_exif_says(const struct pc_photo *photo, int orientation, double first,
                                        double last)
{
    int right = photo->picture.width_px - 1, bottom = photo->picture.height_px - 1;
    int xs[4] = {0, right, right, 0}, ys[4] = {0, 0, bottom, bottom};
    int a = first_corner[orientation], b = last_corner[orientation];
    near((double)px(photo, xs[a], ys[a], 0), first, 0.02);
    near((double)px(photo, xs[b], ys[b], 0), last, 0.02);
    assert_int_equal(photo->picture.clipped[ys[a] * (right + 1) + xs[a]], 0);
    assert_int_equal(photo->picture.clipped[ys[b] * (right + 1) + xs[b]], 7);
}

static void bins_by_the_closed_form(void **state)
{
    (void)state;
    static const char patterns[][5] = {"RGGB", "GRBG", "GBRG", "BGGR"};
    uint16_t dn[W * H];
    for (int i = 0; i < W * H; i++)
        dn[i] = (uint16_t)(600 + (i * 7919) % 12000);
    dn[3 * W + 4] = 15900; // above 16000 less 1 % of the range
    for (size_t k = 0; k < PC_COUNT(patterns); k++) {
        for (int lossless = 0; lossless < 2; lossless++) {
            struct pc_dng dng = plain_dng(dn);
            memcpy(dng.cfa, patterns[k], 5);
            dng.lossless = lossless;
            write_dng("bins.dng", &dng);
            struct pc_photo photo = read_good("bins.dng", PC_WANT_MEASURE, false);
            assert_int_equal(photo.picture.width_px, W / 2);
            assert_int_equal(photo.picture.height_px, H / 2);
            assert_int_equal(photo.picture.bin, 2);
            assert_int_equal(photo.picture.full_width_px, W);
            assert_int_equal(photo.picture.space, PC_SPACE_CAMERA);
            assert_false(photo.tone_mapped);
            for (int y = 0; y < H / 2; y++) {
                for (int x = 0; x < W / 2; x++) {
                    double sum[3] = {0}, n[3] = {0};
                    int clipped = 0;
                    for (int p = 0; p < 4; p++) {
                        int v = dn[(2 * y + p / 2) * W + 2 * x + p % 2];
                        int c = dng.cfa[p] == 'R' ? 0 : dng.cfa[p] == 'G' ? 1 : 2;
                        sum[c] += (v - dng.black_dn[p]) / (dng.white_dn - dng.black_dn[p]);
                        n[c]++;
                        clipped |= (v >= 15900) << c;
                    }
                    for (int c = 0; c < 3; c++)
                        near((double)px(&photo, x, y, c), sum[c] / n[c], 1e-6);
                    assert_int_equal(photo.picture.clipped[y * W / 2 + x], clipped);
                }
            }
            pc_photo_finish(&photo);
        }
    }
}

static void turns_upright(void **state)
{
    (void)state;
    uint16_t dn[W * H];
    for (int y = 0; y < H; y++)
        for (int x = 0; x < W; x++)
            dn[y * W + x] = y < 8 && x < 8 ? 8000 : y < 8 && x >= W - 8 ? 16000 : 1000;
    for (int o = 1; o <= 8; o++) {
        struct pc_dng dng = plain_dng(dn);
        for (int p = 0; p < 4; p++)
            dng.black_dn[p] = 0;
        dng.facts.orientation = o;
        write_dng("turned.dng", &dng);
        for (int want = PC_WANT_MEASURE; want <= PC_WANT_PICTURE; want++) {
            struct pc_photo photo = read_good("turned.dng", (enum pc_photo_want)want, false);
            assert_int_equal(photo.facts.orientation, o);
            assert_int_equal(photo.picture.full_width_px, o >= 5 ? H : W);
            assert_int_equal(photo.picture.full_height_px, o >= 5 ? W : H);
            assert_int_equal(photo.facts.width_px, photo.picture.full_width_px);
            corners_are_where_exif_says(&photo, o, 0.5, 1.0);
            pc_photo_finish(&photo);
        }
    }
}

// On light that changes slowly the interpolated picture, averaged over 2 x 2, is the binned one: same scale,
// same colour. What is left is the half pixel between the colours' centres times the slope.
static void demosaic_is_on_the_same_scale(void **state)
{
    (void)state;
    enum { BIG_W = 128, BIG_H = 96 };
    static uint16_t dn[BIG_W * BIG_H];
    struct pc_dng dng = plain_dng(dn);
    dng.width_px = BIG_W;
    dng.height_px = BIG_H;
    static const double light[3] = {0.25, 0.5, 0.35};
    for (int y = 0; y < BIG_H; y++) {
        for (int x = 0; x < BIG_W; x++) {
            int p = (y & 1) * 2 + (x & 1), c = p == 0 ? 0 : p == 3 ? 2 : 1;
            double level = light[c] * (0.02 + 0.98 * x / BIG_W) * (0.5 + 0.5 * y / BIG_H);
            dn[y * BIG_W + x] = (uint16_t)lrint(dng.black_dn[p] + level * (dng.white_dn - dng.black_dn[p]));
        }
    }
    write_dng("slope.dng", &dng);
    struct pc_photo binned = read_good("slope.dng", PC_WANT_MEASURE, false);
    struct pc_photo full = read_good("slope.dng", PC_WANT_PICTURE, false);
    assert_int_equal(full.picture.width_px, BIG_W);
    assert_int_equal(full.picture.bin, 1);
    for (int y = 4; y < BIG_H / 2 - 4; y++) {
        for (int x = 4; x < BIG_W / 2 - 4; x++) {
            for (int c = 0; c < 3; c++) {
                double mean = 0;
                for (int i = 0; i < 4; i++)
                    mean += (double)px(&full, 2 * x + i % 2, 2 * y + i / 2, c) / 4;
                near(mean, (double)px(&binned, x, y, c), 0.006);
            }
        }
    }
    pc_photo_finish(&binned);
    pc_photo_finish(&full);
}

static void black_is_measured_behind_the_mask(void **state)
{
    (void)state;
    enum { SIDE = 64, MASK = 24 };
    uint16_t dn[SIDE * SIDE];
    for (int i = 0; i < SIDE * SIDE; i++) {
        int x = i % SIDE, p = ((i / SIDE) & 1) * 2 + ((x - MASK) & 1);
        // 30 above what the tags say, different by place, with noise of a mean of zero; light leaks into the
        // mask's last column.
        int black = 530 + 10 * p + (i * 7919 % 7) - 3;
        dn[i] = (uint16_t)(x == MASK - 1 ? black + 900 : x < MASK ? black : 5000);
    }
    struct pc_dng dng = plain_dng(dn);
    dng.width_px = dng.height_px = SIDE;
    dng.masked_left_px = MASK;
    write_dng("masked.dng", &dng);
    struct pc_photo photo = read_good("masked.dng", PC_WANT_MEASURE, false);
    assert_true(photo.black_measured);
    near(photo.black_dn, 545, 0.6);
    near(photo.white_dn, 16000, 0);
    assert_int_equal(photo.picture.full_width_px, SIDE - MASK);
    near((double)px(&photo, 3, 3, 0), (5000.0 - 530) / (16000 - 530), 1e-4);
    near((double)px(&photo, 3, 3, 2), (5000.0 - 560) / (16000 - 560), 1e-4);
    pc_photo_finish(&photo);
    // A border far off the tags is no black at all.
    for (int i = 0; i < SIDE * SIDE; i++)
        dn[i] = 5000;
    write_dng("masked.dng", &dng);
    photo = read_good("masked.dng", PC_WANT_MEASURE, false);
    assert_false(photo.black_measured);
    near(photo.black_dn, 515, 0.01);
    pc_photo_finish(&photo);
}

static void facts_come_back(void **state)
{
    (void)state;
    uint16_t dn[W * H] = {0};
    for (int i = 0; i < W * H; i++)
        dn[i] = 4000;
    struct pc_dng dng = plain_dng(dn);
    dng.facts.shutter_s = 1.0 / 60;
    dng.facts.shutter_apex_s = 1.0 / 64;
    dng.facts.fnumber = 5.6;
    dng.facts.iso = 400;
    dng.facts.focal_mm = 100;
    dng.facts.focal_35mm_mm = 150;
    dng.facts.time_s = 1e9 + 0.25;
    dng.facts.utc_offset_s = -12600;
    dng.facts.flash_fired = 1;
    snprintf(dng.facts.serial, sizeof dng.facts.serial, "SN-7");
    snprintf(dng.facts.lens, sizeof dng.facts.lens, "100 mm macro");
    write_dng("facts \xc3\xa4\xe6\x9c\xac.dng", &dng); // a blank and letters beyond ASCII
    struct pc_photo photo = read_good("facts \xc3\xa4\xe6\x9c\xac.dng", PC_WANT_FACTS, false);
    assert_null(photo.picture.px);
    near(photo.facts.shutter_s, 1.0 / 60, 1e-6);
    near(photo.facts.shutter_apex_s, 1.0 / 64, 1e-6);
    near(photo.facts.fnumber, 5.6, 1e-6);
    near(photo.facts.iso, 400, 0);
    near(photo.facts.focal_mm, 100, 1e-6);
    near(photo.facts.focal_35mm_mm, 150, 0);
    near(photo.facts.time_s, 1e9 + 0.25, 1e-3);
    near(photo.facts.utc_offset_s, -12600, 0);
    assert_int_equal(photo.facts.flash_fired, 1);
    assert_string_equal(photo.facts.maker, "Maker");
    assert_string_equal(photo.facts.model, "Model");
    assert_string_equal(photo.facts.serial, "SN-7");
    assert_string_equal(photo.facts.lens, "100 mm macro");
    assert_true(photo.has_neutral);
    near(photo.neutral_ratio[0], 0.5, 1e-5);
    near(photo.neutral_ratio[2], 0.625, 1e-5);
    assert_true(photo.has_xyz_from_camera);
    for (int i = 0; i < 9; i++) { // the file's matrix times what was read is the unit matrix
        double sum = 0;
        for (int k = 0; k < 3; k++)
            sum += dng.camera_from_xyz[i / 3][k] * photo.xyz_from_camera[k][i % 3];
        near(sum, i % 4 == 0 ? 1 : 0, 1e-3);
    }
    pc_photo_finish(&photo);
    dng = plain_dng(dn);
    write_dng("few.dng", &dng);
    photo = read_good("few.dng", PC_WANT_FACTS, false);
    assert_true(isnan(photo.facts.shutter_s) && isnan(photo.facts.shutter_apex_s) &&
                isnan(photo.facts.fnumber));
    assert_true(isnan(photo.facts.iso) && isnan(photo.facts.time_s) && isnan(photo.facts.focal_mm));
    assert_int_equal(photo.facts.flash_fired, -1);
    assert_string_equal(photo.facts.lens, "");
    pc_photo_finish(&photo);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bins_by_the_closed_form),
        cmocka_unit_test(turns_upright),
        cmocka_unit_test(demosaic_is_on_the_same_scale),
        cmocka_unit_test(black_is_measured_behind_the_mask),
        cmocka_unit_test(facts_come_back),
    };
    return cmocka_run_group_tests(tests, photo_bench_open, photo_bench_close);
}
