// SPDX-License-Identifier: Apache-2.0
// Pictures with all colours in each pixel, as linear light.
#include "base/file.h"
#include "image/photo/photo_bench.h"

#include <setjmp.h>
#include <cmocka.h>

// A little-endian TIFF of one strip, by hand (TIFF 6.0): grey or RGB of 8 bits or 32-bit float.
static size_t hand_made_tiff(uint8_t *out, int width, int height, int samples, int bits, int orientation,
                             const void *data)
{
    size_t data_bytes = (size_t)(width * height * samples * bits / 8), at = 8 + data_bytes + data_bytes % 2;
    const unsigned entries[][3] = {
        {256, 3, (unsigned)width},       {257, 3, (unsigned)height},
        {258, 3, (unsigned)bits},        {259, 3, 1},
        {262, 3, samples == 3 ? 2 : 1},  {273, 4, 8},
        {274, 3, (unsigned)orientation}, {277, 3, (unsigned)samples},
        {278, 3, (unsigned)height},      {279, 4, (unsigned)data_bytes},
        {339, 3, bits == 32 ? 3 : 1},
    };
    memset(out, 0, at);
    memcpy(out, "II*", 3);
    memcpy(out + 4, &(uint32_t){(uint32_t)at}, 4);
    memcpy(out + 8, data, data_bytes);
    memcpy(out + at, &(uint16_t){PC_COUNT(entries)}, 2);
    at += 2;
    for (size_t i = 0; i < PC_COUNT(entries); i++, at += 12) {
        memcpy(out + at, &(uint16_t){(uint16_t)entries[i][0]}, 2);
        memcpy(out + at + 2, &(uint16_t){(uint16_t)entries[i][1]}, 2);
        memcpy(out + at + 4, &(uint32_t){1}, 4);
        memcpy(out + at + 8, &(uint32_t){entries[i][2]}, 4);
    }
    memset(out + at, 0, 4);
    return at + 4;
}

static void still_pictures_are_linear_light(void **state)
{
    (void)state;
    uint16_t deep[W * H * 3];
    uint8_t plain[W * H * 3];
    for (int i = 0; i < W * H * 3; i++) {
        deep[i] = (uint16_t)(i % 3 == 0 ? 65535 : i % 3 == 1 ? 20000 : 1000);
        plain[i] = (uint8_t)(i % 3 == 0 ? 255 : i % 3 == 1 ? 128 : 30);
    }
    struct pc_err err = {0};
    assert_int_equal(pc_write_png16(path_of("a.png"), W, H, 3, deep, NULL, &err), PC_OK);
    assert_int_equal(pc_write_tiff16(path_of("a.tif"), W, H, 3, deep, NULL, NULL, &err), PC_OK);
    assert_int_equal(pc_write_jpeg(path_of("a.jpg"), W, H, 3, plain, 100, NULL, &err), PC_OK);
    assert_int_equal(pc_write_png16(path_of("grey.png"), W, H, 1, deep, NULL, &err), PC_OK);
    static const struct {
        const char *name;
        enum pc_photo_form form;
        double most, tolerance;
        double code[3];
    } cases[] = {
        {"a.png", PC_FORM_PNG, 65535, 1e-6, {65535, 20000, 1000}},
        {"a.tif", PC_FORM_TIFF, 65535, 1e-6, {65535, 20000, 1000}},
        {"a.jpg", PC_FORM_JPEG, 255, 0.012, {255, 128, 30}}, // colour conversion rounds
    };
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        for (int want = PC_WANT_MEASURE; want <= PC_WANT_PICTURE; want++) {
            for (int linear = 0; linear < 2; linear++) {
                struct pc_photo photo = read_good(cases[i].name, (enum pc_photo_want)want, linear);
                bool straight = linear && cases[i].form != PC_FORM_JPEG;
                assert_int_equal(photo.form, cases[i].form);
                assert_int_equal(photo.tone_mapped, !straight);
                assert_int_equal(photo.picture.space, straight ? PC_SPACE_CAMERA : PC_SPACE_DISPLAY);
                assert_int_equal(photo.picture.bin, want == PC_WANT_MEASURE ? 2 : 1);
                assert_true(isnan(photo.black_dn) && isnan(photo.white_dn));
                for (int c = 0; c < 3; c++) {
                    double v = cases[i].code[c] / cases[i].most;
                    near((double)px(&photo, 5, 7, c), straight ? v : srgb_light(v), cases[i].tolerance);
                }
                if (cases[i].form != PC_FORM_JPEG)
                    assert_int_equal(photo.picture.clipped[0], 1);
                pc_photo_finish(&photo);
            }
        }
    }
    struct pc_photo photo = read_good("grey.png", PC_WANT_PICTURE, false);
    assert_int_equal(photo.picture.channels, 1);
    pc_photo_finish(&photo);
}

static void tiff_of_8_bits_and_float(void **state)
{
    (void)state;
    static uint8_t file[W * H * 16 + 512];
    struct pc_err err = {0};
    float light[W * H];
    uint8_t codes[W * H];
    for (int i = 0; i < W * H; i++) {
        light[i] = i == 0 ? 2.5f : i == 1 ? (float)NAN : 0.125f;
        codes[i] = (uint8_t)(i / W < 8 && i % W < 8 ? 188 : i / W < 8 && i % W >= W - 8 ? 255 : 0);
    }
    size_t n = hand_made_tiff(file, W, H, 1, 32, 1, light);
    assert_int_equal(pc_file_write(path_of("float.tif"), file, n, &err), PC_OK);
    struct pc_photo photo = read_good("float.tif", PC_WANT_PICTURE, false);
    assert_false(photo.tone_mapped);
    assert_int_equal(photo.picture.space, PC_SPACE_CAMERA);
    near((double)px(&photo, 0, 0, 0), 2.5, 0);
    near((double)px(&photo, 2, 0, 0), 0.125, 0);
    assert_int_equal(photo.picture.clipped[0], 1);
    assert_int_equal(photo.picture.clipped[1], 1); // no number
    assert_int_equal(photo.picture.clipped[2], 0);
    pc_photo_finish(&photo);
    for (int o = 1; o <= 8; o++) {
        n = hand_made_tiff(file, W, H, 1, 8, o, codes);
        assert_int_equal(pc_file_write(path_of("eight.tif"), file, n, &err), PC_OK);
        photo = read_good("eight.tif", PC_WANT_MEASURE, false);
        int right = photo.picture.width_px - 1, bottom = photo.picture.height_px - 1;
        int xs[4] = {0, right, right, 0}, ys[4] = {0, 0, bottom, bottom};
        near((double)px(&photo, xs[first_corner[o]], ys[first_corner[o]], 0), srgb_light(188 / 255.0), 1e-6);
        near((double)px(&photo, xs[last_corner[o]], ys[last_corner[o]], 0), 1, 1e-6);
        pc_photo_finish(&photo);
    }
}

static void heif_of_8_and_10_bits(void **state)
{
    (void)state;
    static const char *const names[] = {"eight-bit.heic", "ten-bit.heic"};
    struct pc_arena *arena = pc_arena_create();
    for (size_t i = 0; i < PC_COUNT(names); i++) {
        char path[4096];
        snprintf(path, sizeof path, "%s/fuzz/corpus/heif/%s", getenv("PC_SOURCE_ROOT"), names[i]);
        char *bytes;
        size_t count;
        struct pc_err err = {0};
        assert_int_equal(pc_file_read(arena, path, 1 << 20, &bytes, &count, &err), PC_OK);
        // Content tells what a file is, not its name.
        assert_int_equal(pc_file_write(path_of("heif.jpg"), bytes, count, &err), PC_OK);
        struct pc_photo photo = read_good("heif.jpg", PC_WANT_PICTURE, true);
        assert_int_equal(photo.form, PC_FORM_HEIF);
        assert_true(photo.tone_mapped);
        assert_int_equal(photo.picture.width_px,
                         64); // Exif says turned by 90 degrees; the container has the say
        assert_int_equal(photo.picture.height_px, 48);
        assert_int_equal(photo.facts.orientation, 1);
        near(photo.facts.shutter_s, 1.0 / 60, 1e-9);
        near(photo.facts.utc_offset_s, 3600, 0);
        assert_string_equal(photo.facts.model, "Model  Z"); // a control byte was between the blanks
        // Encoded as 3/4, 1/2, 1/4 at the left and mid grey at the right; lossy, and colour halved in size.
        near((double)px(&photo, 10, 20, 0), srgb_light(0.75), 0.03);
        near((double)px(&photo, 10, 20, 1), srgb_light(0.5), 0.03);
        near((double)px(&photo, 10, 20, 2), srgb_light(0.25), 0.03);
        for (int c = 0; c < 3; c++)
            near((double)px(&photo, 54, 20, c), srgb_light(0.5), 0.03);
        pc_photo_finish(&photo);
    }
    pc_arena_destroy(arena);
}

// Kinds that this project does not write, from kept files whose contents follow a rule.
static void other_layouts(void **state)
{
    (void)state;
    struct pc_photo photo =
        read_kept("tiff/tiled-float.tif"); // 20 x 18 in tiles of 16 x 16, each a ramp of 256ths
    for (int y = 0; y < 18; y++)
        for (int x = 0; x < 20; x++)
            near((double)px(&photo, x, y, 0), (y % 16 * 16 + x % 16) / 256.0, 0);
    pc_photo_finish(&photo);
    photo = read_kept("tiff/by-plane.tif"); // 8 x 4 x 3: one byte after another
    for (int i = 0; i < 96; i++)
        near((double)px(&photo, i % 8, i / 8 % 4, i / 32), srgb_light(i / 255.0), 1e-6);
    pc_photo_finish(&photo);
    photo = read_kept("tiff/white-is-zero.tif");
    near((double)px(&photo, 0, 0, 0), 1, 0);
    near((double)px(&photo, 7, 3, 0), srgb_light((255 - 31) / 255.0), 1e-6);
    pc_photo_finish(&photo);
    photo = read_kept("png/interlaced.png"); // stored 16 x + y; its eXIf says turned by 90 degrees
    assert_int_equal(photo.facts.orientation, 6);
    near(photo.facts.fnumber, 8, 0);
    for (int y = 0; y < 8; y++)
        for (int x = 0; x < 8; x++)
            near((double)px(&photo, 7 - y, x, 0), srgb_light((16 * x + y) / 255.0), 1e-6);
    pc_photo_finish(&photo);
    photo = read_kept("png/turned-at-the-end.png"); // the same with eXIf after the pixels
    assert_int_equal(photo.facts.orientation, 6);
    near((double)px(&photo, 7, 0, 0), 0, 0);
    near((double)px(&photo, 7, 7, 0), srgb_light(112 / 255.0), 1e-6);
    pc_photo_finish(&photo);
    photo = read_kept("png/palette.png"); // colours 0 1 2, 3 4 5 ... by (x + y) % 4
    near((double)px(&photo, 2, 1, 1), srgb_light(10 / 255.0), 1e-6);
    pc_photo_finish(&photo);
    photo = read_kept("jpeg/turned.jpg");
    assert_int_equal(photo.picture.width_px, 16);
    assert_int_equal(photo.picture.height_px, 24);
    assert_int_equal(photo.facts.flash_fired, 1);
    near(photo.facts.shutter_apex_s, 1.0 / 64, 1e-9);
    near(photo.facts.time_s, 1769854830.25, 1e-3); // date -u -d '2026-01-31 10:20:30' +%s
    pc_photo_finish(&photo);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(still_pictures_are_linear_light),
        cmocka_unit_test(tiff_of_8_bits_and_float),
        cmocka_unit_test(heif_of_8_and_10_bits),
        cmocka_unit_test(other_layouts),
    };
    return cmocka_run_group_tests(tests, photo_bench_open, photo_bench_close);
}
