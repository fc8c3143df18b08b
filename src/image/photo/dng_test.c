// SPDX-License-Identifier: Apache-2.0
// What is written is read back by LibRaw and by libtiff, which share no code with it or with each other.
#include "base/file.h"
#include "image/photo/tiff_priv.h"
#include "image/photo/write.h"

#include "oracle_raw.h"
#include "oracle_tiff.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { WIDTH = 192, HEIGHT = 96, MASKED = 16 };

static char path[64];

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.12g, want %.12g within %g", what, got, want, within);
}

static uint16_t *make_px(int width, int height, int masked, uint16_t dark)
{
    uint16_t *px = calloc((size_t)width * (size_t)height, sizeof *px);
    uint64_t seed = 11;
    for (int i = 0; i < width * height; i++) {
        seed = seed * 6364136223846793005u + 1442695040888963407u;
        // Behind the masked columns anything a sensor can give, zero and the highest included.
        px[i] =
            i % width < masked ? dark : (uint16_t)(seed >> 62 == 0 ? (seed >> 61 & 1) * 65535 : seed >> 50);
    }
    return px;
}

static struct pc_dng make_dng(const uint16_t *px)
{
    struct pc_dng dng = {
        .width_px = WIDTH,
        .height_px = HEIGHT,
        .px = px,
        .cfa = "RGGB",
        .black_dn = {512, 513, 514, 515},
        .white_dn = 15872,
        .camera_from_xyz = {{0.8925, -0.2731, -0.0617}, {-0.4482, 1.2563, 0.2136}, {-0.0751, 0.1532, 0.6428}},
        .neutral_ratio = {0.4375, 1, 0.640625},
    };
    pc_facts_clear(&dng.facts);
    return dng;
}

static void check_tiff(const struct pc_dng *dng)
{
    double v[16];
    assert_int_equal(oracle_tiff_numbers(path, false, 50714, v, 16), 4);
    for (int i = 0; i < 4; i++)
        near("BlackLevel", v[i], dng->black_dn[i], 1e-4); // libtiff reads a fraction into a float
    assert_int_equal(oracle_tiff_numbers(path, false, 50713, v, 16), 2);
    assert_true(v[0] == 2 && v[1] == 2);
    assert_int_equal(oracle_tiff_numbers(path, false, 50717, v, 16), 1);
    near("WhiteLevel", v[0], dng->white_dn, 0);
    assert_int_equal(oracle_tiff_numbers(path, false, 50721, v, 16), 9);
    for (int i = 0; i < 9; i++)
        near("ColorMatrix1", v[i], dng->camera_from_xyz[i / 3][i % 3], 1e-6);
    assert_int_equal(oracle_tiff_numbers(path, false, 50728, v, 16), 3);
    for (int i = 0; i < 3; i++)
        near("AsShotNeutral", v[i], dng->neutral_ratio[i], 1e-7);
    assert_int_equal(oracle_tiff_numbers(path, false, 33422, v, 16), 4);
    for (int i = 0; i < 4; i++)
        near("CFAPattern", v[i], dng->cfa[i] == 'R' ? 0 : dng->cfa[i] == 'G' ? 1 : 2, 0);
    int area = oracle_tiff_numbers(path, false, 50829, v, 16);
    assert_int_equal(area, dng->masked_left_px > 0 ? 4 : 0);
    if (area == 4)
        assert_true(v[0] == 0 && v[1] == dng->masked_left_px && v[2] == dng->height_px &&
                    v[3] == dng->width_px);
    area = oracle_tiff_numbers(path, false, 50830, v, 16);
    assert_int_equal(area, dng->masked_left_px > 0 ? 4 : 0);
    if (area == 4)
        assert_true(v[0] == 0 && v[1] == 0 && v[2] == dng->height_px && v[3] == dng->masked_left_px);
    if (!dng->lossless) { // libtiff has no lossless JPEG
        uint16_t *px;
        int width, height, channels;
        assert_true(oracle_tiff_pixels(path, &width, &height, &channels, &px));
        assert_true(width == dng->width_px && height == dng->height_px && channels == 1);
        assert_memory_equal(px, dng->px, (size_t)width * (size_t)height * 2);
        free(px);
    }
}

static void check_raw(const struct pc_dng *dng, const double black_dn[4])
{
    struct oracle_raw raw;
    assert_true(oracle_raw_read(path, &raw));
    assert_true(raw.raw_width_px == dng->width_px && raw.raw_height_px == dng->height_px);
    assert_true(raw.left_px == dng->masked_left_px && raw.top_px == 0);
    assert_true(raw.width_px == dng->width_px - dng->masked_left_px && raw.height_px == dng->height_px);
    assert_memory_equal(raw.px, dng->px, (size_t)dng->width_px * (size_t)dng->height_px * 2);
    assert_string_equal(raw.cfa, dng->cfa);
    for (int i = 0; i < 4; i++)
        near("black", raw.black_dn[i], black_dn[i], 0.5); // LibRaw rounds
    near("white", raw.white_dn, dng->white_dn, 0);
    for (int i = 0; i < 9; i++)
        near("matrix", raw.camera_from_xyz[i / 3][i % 3], dng->camera_from_xyz[i / 3][i % 3], 1e-6);
    for (int i = 0; i < 3; i++)
        near("neutral", raw.neutral_ratio[i], dng->neutral_ratio[i], 1e-6);
    free(raw.px);
}

static void both_readers_agree(void **state)
{
    (void)state;
    static const char *const patterns[] = {"RGGB", "BGGR", "GRBG", "GBRG"};
    for (int k = 0; k < 16; k++) {
        bool lossless = k / 4 % 2 != 0;
        int masked = k / 8 != 0 ? MASKED : 0;
        uint16_t *px = make_px(WIDTH, HEIGHT, masked, 521);
        struct pc_dng dng = make_dng(px);
        snprintf(dng.cfa, sizeof dng.cfa, "%s", patterns[k % 4]);
        dng.lossless = lossless;
        dng.masked_left_px = masked;
        struct pc_err err = {0};
        if (pc_write_dng(path, &dng, &err) != PC_OK)
            fail_msg("%s: %s", err.place, err.text);
        check_tiff(&dng);
        // Where there are masked columns LibRaw takes the black of this very frame from them, not from the
        // tag.
        const double measured[4] = {521, 521, 521, 521};
        check_raw(&dng, masked > 0 ? measured : dng.black_dn);
        free(px);
    }
}

static void odd_sizes_come_back(void **state)
{
    (void)state;
    static const int sizes[][2] = {{193, 97}, {194, 95}, {65, 4000}, {4098, 33}};
    for (size_t i = 0; i < 2 * PC_COUNT(sizes); i++) {
        int width = sizes[i / 2][0], height = sizes[i / 2][1];
        uint16_t *px = make_px(width, height, 0, 0);
        struct pc_dng dng = make_dng(px);
        dng.width_px = width;
        dng.height_px = height;
        dng.lossless = i % 2 != 0;
        assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
        check_tiff(&dng);
        check_raw(&dng, dng.black_dn);
        free(px);
    }
}

static uint32_t number_in(FILE *file, long at, int bytes)
{
    uint8_t b[4] = {0};
    assert_int_equal(fseek(file, at, SEEK_SET), 0);
    assert_int_equal(fread(b, 1, (size_t)bytes, file), bytes);
    return b[0] | (uint32_t)b[1] << 8 | (uint32_t)b[2] << 16 | (uint32_t)b[3] << 24;
}

// Where the last four bytes of a tag's entry lie, by TIFF 6.0, section 2.
static long value_of(FILE *file, long directory_at, uint32_t tag)
{
    uint32_t count = number_in(file, directory_at, 2);
    for (uint32_t i = 0; i < count; i++)
        if (number_in(file, directory_at + 2 + 12 * (long)i, 2) == tag)
            return directory_at + 2 + 12 * (long)i + 8;
    fail_msg("tag %u is missing", tag);
    return 0;
}

// The readers turn fractions into floats; this is what stands in the file.
static void times_stand_in_the_file_as_fractions(void **state)
{
    (void)state;
    static const struct {
        double shutter_s;
        uint32_t p, q;
    } rows[] = {{1.0 / 60, 1, 60}, {1.0 / 64, 1, 64}, {0.8, 4, 5}, {30, 30, 1}, {10.0 / 643, 10, 643}};
    uint16_t *px = make_px(WIDTH, HEIGHT, 0, 0);
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_dng dng = make_dng(px);
        dng.facts.shutter_s = rows[i].shutter_s;
        dng.facts.shutter_apex_s = 1.0 / 64;
        assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
        FILE *file = fopen(path, "rb");
        assert_non_null(file);
        long exif_at = (long)number_in(file, value_of(file, (long)number_in(file, 4, 4), 34665), 4);
        long time_at = (long)number_in(file, value_of(file, exif_at, 33434), 4);
        assert_int_equal(number_in(file, time_at, 4), rows[i].p);
        assert_int_equal(number_in(file, time_at + 4, 4), rows[i].q);
        long apex_at = (long)number_in(file, value_of(file, exif_at, 37377), 4);
        assert_int_equal(number_in(file, apex_at, 4), 6000000);
        assert_int_equal(number_in(file, apex_at + 4, 4), 1000000);
        fclose(file);
    }
    free(px);
}

static void exposures_are_what_the_camera_said(void **state)
{
    (void)state;
    static const double shutters_s[][2] = {
        {1.0 / 60, 1.0 / 64},       {1.0 / 8000, 1.0 / 8192}, {30, 32},
        {0.3, 0.3149802624737183},  {2.5, 2.519842099789746}, {1.0 / 63.37, 0.0157},
        {1.0 / 125, 1.0 / 127.9991}};
    const double float_step = 6e-8; // libtiff turns fractions into floats on the way
    uint16_t *px = make_px(WIDTH, HEIGHT, 0, 0);
    for (size_t i = 0; i < PC_COUNT(shutters_s); i++) {
        double v[4], fnumber = 2.8 + 1.3 * (double)i;
        struct pc_dng dng = make_dng(px);
        dng.facts.shutter_s = shutters_s[i][0];
        dng.facts.shutter_apex_s = shutters_s[i][1];
        dng.facts.fnumber = fnumber;
        dng.facts.iso = i == 3 ? 102400 : 100 + 50 * (double)i;
        dng.facts.focal_mm = 23.5 + (double)i;
        dng.facts.focal_35mm_mm = 35;
        assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
        assert_int_equal(oracle_tiff_numbers(path, true, 33434, v, 4), 1);
        near("ExposureTime", v[0], shutters_s[i][0], float_step * shutters_s[i][0]);
        assert_int_equal(oracle_tiff_numbers(path, true, 37377, v, 4), 1);
        // A millionth of an APEX step is 7e-7 of the time; the rest is for floats.
        near("ShutterSpeedValue", exp2(-v[0]), shutters_s[i][1], 1e-6 * shutters_s[i][1]);
        assert_int_equal(oracle_tiff_numbers(path, true, 33437, v, 4), 1);
        near("FNumber", v[0], fnumber, float_step * fnumber);
        assert_int_equal(oracle_tiff_numbers(path, true, 37378, v, 4), 1);
        near("ApertureValue", exp2(v[0] / 2), fnumber, 4 * float_step * fnumber);
        assert_int_equal(oracle_tiff_numbers(path, true, 34855, v, 4), 1);
        near("ISO", v[0], i == 3 ? 65535 : dng.facts.iso, 0);
        assert_int_equal(oracle_tiff_numbers(path, true, 34866, v, 4), i == 3);
        if (i == 3)
            near("RecommendedExposureIndex", v[0], 102400, 0);
        struct oracle_raw raw;
        assert_true(oracle_raw_read(path, &raw));
        // LibRaw keeps floats, and takes whichever of the two times it met last for its own.
        double off =
            fmin(fabs(raw.shutter_s / shutters_s[i][0] - 1), fabs(raw.shutter_s / shutters_s[i][1] - 1));
        near("shutter, relative", off, 0, 2e-6);
        near("f-number", raw.fnumber, fnumber, 1e-5 * fnumber);
        near("ISO", raw.iso, i == 3 ? 65535 : dng.facts.iso,
             0.01); // LibRaw 0.20 looks no further than the old tag
        near("focal length", raw.focal_mm, dng.facts.focal_mm, 1e-5);
        near("35 mm focal length", raw.focal_35mm_mm, 35, 0);
        free(raw.px);

        dng.no_apex = true;
        assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
        assert_int_equal(oracle_tiff_numbers(path, true, 37377, v, 4), 0);
        assert_int_equal(oracle_tiff_numbers(path, true, 37378, v, 4), 0);
        assert_int_equal(oracle_tiff_numbers(path, true, 33434, v, 4), 1);
    }
    free(px);
}

static void the_rest_of_the_facts(void **state)
{
    (void)state;
    static const struct {
        double time_s;
        const char *text, *sub;
    } times[] = {
        // 1e9 s after 1970 is 2001-09-09 01:46:40, a known day.
        {1e9, "2001:09:09 01:46:40", ""},
        {1e9 + 0.25, "2001:09:09 01:46:40", "250"},
        {1e9 + 0.007, "2001:09:09 01:46:40", "007"},
        {1e9 + 0.123456, "2001:09:09 01:46:40", "123456"},
        {1e9 - 1e-7, "2001:09:09 01:46:40", ""},
    };
    static const int flip_of[9] = {[1] = 0, [3] = 3, [6] = 6, [8] = 5}; // LibRaw's sizes.flip
    uint16_t *px = make_px(WIDTH, HEIGHT, 0, 0);
    for (int i = 1; i <= 8; i++) {
        double v[4];
        char text[128];
        size_t t = (size_t)i % PC_COUNT(times);
        struct pc_dng dng = make_dng(px);
        dng.facts.orientation = i;
        dng.facts.flash_fired = i % 2;
        dng.facts.time_s = times[t].time_s;
        dng.facts.utc_offset_s = i < 4 ? -12600 : 7200;
        snprintf(dng.facts.maker, sizeof dng.facts.maker, "Alm");
        snprintf(dng.facts.model, sizeof dng.facts.model, "Tisch %d", i);
        snprintf(dng.facts.serial, sizeof dng.facts.serial, "00%d71", i);
        snprintf(dng.facts.lens, sizeof dng.facts.lens, "90 mm f/2.8");
        assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
        assert_int_equal(oracle_tiff_numbers(path, false, 274, v, 4), 1);
        near("Orientation", v[0], i, 0);
        assert_int_equal(oracle_tiff_numbers(path, true, 37385, v, 4), 1);
        near("Flash", v[0], i % 2, 0);
        assert_true(oracle_tiff_text(path, true, 36867, text, sizeof text));
        assert_string_equal(text, times[t].text);
        assert_int_equal(oracle_tiff_text(path, true, 37521, text, sizeof text), times[t].sub[0] != '\0');
        if (times[t].sub[0] != '\0')
            assert_string_equal(text, times[t].sub);
        assert_true(oracle_tiff_text(path, true, 36881, text, sizeof text));
        assert_string_equal(text, i < 4 ? "-03:30" : "+02:00");
        assert_true(oracle_tiff_text(path, false, 50708, text, sizeof text));
        char unique[32];
        snprintf(unique, sizeof unique, "Alm Tisch %d", i);
        assert_string_equal(text, unique);
        assert_true(oracle_tiff_text(path, true, 42033, text, sizeof text));
        assert_string_equal(text, dng.facts.serial);
        struct oracle_raw raw;
        assert_true(oracle_raw_read(path, &raw));
        if (i == 1 || flip_of[i] != 0)
            assert_int_equal(raw.flip, flip_of[i]);
        near("time", raw.time_s, 1e9, 0);
        assert_string_equal(raw.maker, "Alm");
        assert_string_equal(raw.model, dng.facts.model);
        assert_string_equal(raw.serial, dng.facts.serial);
        assert_string_equal(raw.lens, "90 mm f/2.8");
        free(raw.px);
    }
    free(px);
}

static void what_is_missing_is_not_written(void **state)
{
    (void)state;
    static const uint32_t in_first[] = {271, 272, 274, 50708, 50735};
    static const uint32_t in_exif[] = {33434, 33437, 34855, 36867, 36881, 37377, 37378,
                                       37385, 37386, 37521, 41989, 42033, 42036};
    uint16_t *px = make_px(WIDTH, HEIGHT, 0, 0);
    struct pc_dng dng = make_dng(px);
    assert_int_equal(pc_write_dng(path, &dng, NULL), PC_OK);
    check_tiff(&dng);
    check_raw(&dng, dng.black_dn);
    for (size_t i = 0; i < PC_COUNT(in_first) + PC_COUNT(in_exif); i++) {
        bool exif = i >= PC_COUNT(in_first);
        uint32_t tag = exif ? in_exif[i - PC_COUNT(in_first)] : in_first[i];
        double v[4];
        if (oracle_tiff_numbers(path, exif, tag, v, 4) != 0)
            fail_msg("tag %u is there", tag);
    }
    free(px);
}

static void fractions_are_the_simplest(void **state)
{
    (void)state;
    static const struct {
        double value;
        uint32_t p, q;
    } rows[] = {{1.0 / 60, 1, 60},
                {1.0 / 64, 1, 64},
                {1.0 / 8000, 1, 8000},
                {30, 30, 1},
                {2.5, 5, 2},
                {0.3, 3, 10},
                {1.0 / 3, 1, 3},
                {0, 0, 1},
                {5.6, 28, 5},
                {512.25, 2049, 4},
                {1e-12, 0, 1},
                {1e12, UINT32_MAX, 1},
                {4294967295.0, UINT32_MAX, 1}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        uint32_t pq[2];
        pc_tiff_fraction(rows[i].value, pq);
        if (pq[0] != rows[i].p || pq[1] != rows[i].q)
            fail_msg("%g became %u/%u", rows[i].value, pq[0], pq[1]);
    }
    for (double v = 1.1e-4; v < 100; v *= 1.0371) { // any other value: within 1e-10
        uint32_t pq[2];
        pc_tiff_fraction(v, pq);
        near("fraction", (double)pq[0] / pq[1], v, 1e-10 * v);
    }
}

static void over_4_gib_is_refused(void **state)
{
    (void)state;
    struct pc_tiff_out out;
    struct pc_err err = {0};
    unlink(path);
    assert_int_equal(pc_tiff_begin(&out, path, &err), PC_OK);
    out.at_bytes = UINT32_MAX - 4; // as if so much had been written
    assert_int_equal(pc_tiff_bytes(&out, "abcd", 4, &err), PC_OK);
    assert_int_equal(pc_tiff_bytes(&out, "e", 1, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "4 GiB"));
    assert_int_equal(access(path, F_OK), -1);
    assert_int_equal(access(out.file.beside, F_OK), -1);
}

int main(void)
{
    setenv("TZ", "UTC", 1); // LibRaw tells the time by this machine's zone
    char folder[] = "/tmp/pc-dng-XXXXXX";
    if (mkdtemp(folder) == NULL)
        return 1;
    snprintf(path, sizeof path, "%s/frame.dng", folder);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_readers_agree),
        cmocka_unit_test(odd_sizes_come_back),
        cmocka_unit_test(times_stand_in_the_file_as_fractions),
        cmocka_unit_test(exposures_are_what_the_camera_said),
        cmocka_unit_test(the_rest_of_the_facts),
        cmocka_unit_test(what_is_missing_is_not_written),
        cmocka_unit_test(fractions_are_the_simplest),
        cmocka_unit_test(over_4_gib_is_refused),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    unlink(path);
    rmdir(folder);
    return failed;
}
