// SPDX-License-Identifier: Apache-2.0
// Mosaics that leave out what would have to be guessed, or claim too much.
#include "base/file.h"
#include "image/photo/photo_bench.h"

#include <setjmp.h>
#include <cmocka.h>

// Gives a tag of a little-endian TIFF's first directory another number, or another value.
static void patch_tag(const char *name, unsigned tag, unsigned new_tag, long new_value)
{
    struct pc_arena *arena = pc_arena_create();
    char *text;
    size_t count;
    struct pc_err err = {0};
    assert_int_equal(pc_file_read(arena, path_of(name), 1 << 20, &text, &count, &err), PC_OK);
    uint8_t *b = (uint8_t *)text;
    assert_int_equal(b[0], 'I');
    bool found = false;
    for (size_t at = 8; at + 12 <= count && !found; at += 2) {
        // The directory may stand anywhere: look for the entry's tag with a plausible type.
        if ((b[at] | (unsigned)b[at + 1] << 8) != tag || b[at + 2] < 1 || b[at + 2] > 12 || b[at + 3] != 0)
            continue;
        found = true;
        b[at] = (uint8_t)new_tag;
        b[at + 1] = (uint8_t)(new_tag >> 8);
        if (new_value >= 0) {
            b[at + 2] = 4;
            for (int i = 0; i < 4; i++) {
                b[at + 4 + (size_t)i] = i == 0;
                b[at + 8 + (size_t)i] = (uint8_t)((unsigned long)new_value >> (8 * i));
            }
        }
    }
    if (!found)
        fail_msg("no tag %u in %s", tag, name);
    assert_int_equal(pc_file_write(path_of(name), b, count, &err), PC_OK);
    pc_arena_destroy(arena);
}

// DNG 1.4 gives a mosaic without BlackLevel 0: taken, and said.
static void a_black_that_is_not_stated_is_0_and_said(void **state)
{
    (void)state;
    uint16_t dn[W * H];
    for (int i = 0; i < W * H; i++)
        dn[i] = (uint16_t)(i % 3000);
    struct pc_dng dng = plain_dng(dn);
    write_dng("black.dng", &dng);
    struct pc_photo photo = read_good("black.dng", PC_WANT_MEASURE, false);
    assert_false(photo.black_by_default);
    near(photo.black_dn, 515, 0.01);
    pc_photo_finish(&photo);
    patch_tag("black.dng", 50714, 60000, -1);
    for (int want = PC_WANT_MEASURE; want <= PC_WANT_PICTURE; want++) {
        photo = read_good("black.dng", (enum pc_photo_want)want, false);
        assert_true(photo.black_by_default);
        assert_false(photo.black_measured);
        near(photo.black_dn, 0, 0);
        near(photo.white_dn, 16000, 0);
        if (want == PC_WANT_MEASURE)
            near((double)px(&photo, 3, 5, 0), (10.0 * W + 6) / 16000, 1e-6);
        pc_photo_finish(&photo);
    }
    // A masked edge is believed before it.
    enum { MASK = 24, SIDE = 64 };
    uint16_t masked[SIDE * SIDE];
    for (int i = 0; i < SIDE * SIDE; i++)
        masked[i] = (uint16_t)(i % SIDE < MASK ? 530 : 5000);
    dng = plain_dng(masked);
    dng.width_px = dng.height_px = SIDE;
    dng.masked_left_px = MASK;
    write_dng("black.dng", &dng);
    patch_tag("black.dng", 50714, 60000, -1);
    photo = read_good("black.dng", PC_WANT_MEASURE, false);
    assert_true(photo.black_measured);
    assert_false(photo.black_by_default);
    near(photo.black_dn, 530, 0.6);
    pc_photo_finish(&photo);
}

static void silent_defaults_are_not_taken(void **state)
{
    (void)state;
    uint16_t dn[W * H];
    for (int i = 0; i < W * H; i++)
        dn[i] = 4000;
    static const struct {
        unsigned tag;
        const char *words; // NULL: reads, with something missing
    } cases[] = {
        {258, "BitsPerSample"}, {33422, "CFAPattern"}, {50717, "WhiteLevel"}, {50721, NULL}, {50728, NULL},
    };
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        struct pc_dng dng = plain_dng(dn);
        write_dng("lacks.dng", &dng);
        patch_tag("lacks.dng", cases[i].tag, 60000, -1);
        if (cases[i].words != NULL) {
            refused("lacks.dng", PC_WANT_MEASURE, PC_BAD_INPUT, cases[i].words);
            continue;
        }
        struct pc_photo photo = read_good("lacks.dng", PC_WANT_MEASURE, false);
        assert_int_equal(photo.has_xyz_from_camera, cases[i].tag != 50721);
        assert_int_equal(photo.has_neutral, cases[i].tag != 50728);
        pc_photo_finish(&photo);
    }
    struct pc_dng dng = plain_dng(dn);
    write_dng("huge.dng", &dng);
    patch_tag("huge.dng", 256, 256, 60000);
    patch_tag("huge.dng", 257, 257, 60000);
    refused("huge.dng", PC_WANT_MEASURE, PC_BAD_INPUT, "60000 x 60000");
    refused("huge.dng", PC_WANT_FACTS, PC_BAD_INPUT, "60000 x 60000");
    // Sensor data that is no DNG, of a camera nobody knows.
    write_dng("newer.dng", &dng);
    patch_tag("newer.dng", 50706, 60000, -1);
    refused("newer.dng", PC_WANT_PICTURE, PC_UNSUPPORTED, "\"Maker Model\"");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_black_that_is_not_stated_is_0_and_said),
        cmocka_unit_test(silent_defaults_are_not_taken),
    };
    return cmocka_run_group_tests(tests, photo_bench_open, photo_bench_close);
}
