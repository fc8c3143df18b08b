// SPDX-License-Identifier: Apache-2.0
// Reading: pixels against closed forms, facts against what was written, bad files against their sentences.
#include "base/file.h"
#include "image/photo/write.h"

#include <setjmp.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static struct {
    struct pc_ctx ctx;
    struct pc_photo_reader *reader;
    char folder[256];
} on;

static int set_up(void **state)
{
    (void)state;
    pc_ctx_init(&on.ctx, 2, 0);
    const char *tmp = getenv("TMPDIR");
    snprintf(on.folder, sizeof on.folder, "%s/photo-test-XXXXXX", tmp != NULL ? tmp : "/tmp");
    struct pc_err err = {0};
    if (mkdtemp(on.folder) == NULL || pc_photo_reader_create(&on.ctx, NULL, &on.reader, &err) != PC_OK) {
        fprintf(stderr, "%s\n", err.text);
        return 1;
    }
    return 0;
}

static int tear_down(void **state)
{
    (void)state;
    pc_photo_reader_destroy(on.reader);
    struct pc_arena *arena = pc_arena_create();
    char **paths;
    size_t count;
    if (pc_file_list(arena, on.folder, &paths, &count, NULL) == PC_OK)
        for (size_t i = 0; i < count; i++)
            unlink(paths[i]);
    pc_arena_destroy(arena);
    rmdir(on.folder);
    return on.ctx.held_bytes == 0 ? 0 : 1;
}

static const char *path_of(const char *name)
{
    static char path[512];
    snprintf(path, sizeof path, "%s/%s", on.folder, name);
    return path;
}

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.9g, want %.9g within %g", got, want, within);
}

static struct pc_photo read_good(const char *name, enum pc_photo_want want, bool linear)
{
    struct pc_photo photo;
    struct pc_err err = {0};
    if (pc_photo_read(on.reader, path_of(name), want, linear, &photo, &err) != PC_OK)
        fail_msg("%s: %s", name, err.text);
    return photo;
}

// The file cannot be read, with this status, and a sentence that has these words in it.
static void refused(const char *name, enum pc_photo_want want, enum pc_status status, const char *words)
{
    struct pc_photo photo;
    struct pc_err err = {0};
    enum pc_status got = pc_photo_read(on.reader, path_of(name), want, false, &photo, &err);
    if (got != status || strstr(err.text, words) == NULL || strstr(err.place, name) == NULL)
        fail_msg("%s: status %d, want %d; [%s] %s; want \"%s\"", name, got, status, err.place, err.text,
                 words);
    assert_null(photo.picture.px);
}

static float px(const struct pc_photo *photo, int x, int y, int c)
{
    const struct pc_picture *p = &photo->picture;
    return p->px[((size_t)y * (size_t)p->width_px + (size_t)x) * (size_t)p->channels + (size_t)c];
}

enum { W = 48, H = 32 };

static struct pc_dng plain_dng(const uint16_t *dn)
{
    struct pc_dng dng = {
        .width_px = W,
        .height_px = H,
        .px = dn,
        .cfa = "RGGB",
        .black_dn = {500, 510, 520, 530},
        .white_dn = 16000,
        .camera_from_xyz = {{0.8, -0.2, -0.1}, {-0.4, 1.2, 0.2}, {-0.1, 0.2, 0.6}},
        .neutral_ratio = {0.5, 1, 0.625},
    };
    pc_facts_clear(&dng.facts);
    snprintf(dng.facts.maker, sizeof dng.facts.maker, "Maker");
    snprintf(dng.facts.model, sizeof dng.facts.model, "Model");
    dng.facts.orientation = 1;
    return dng;
}

static void write_dng(const char *name, const struct pc_dng *dng)
{
    struct pc_err err = {0};
    if (pc_write_dng(path_of(name), dng, &err) != PC_OK)
        fail_msg("%s", err.text);
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

// Exif 2.32, 0x0112: for each orientation, where in the upright picture the stored corner pixels (first of
// the first row, last of the first row) lie: 0 top left, 1 top right, 2 bottom right, 3 bottom left.
static const int first_corner[9] = {0, 0, 1, 2, 3, 0, 1, 2, 3}, last_corner[9] = {0, 1, 0, 3, 2, 3, 2, 1, 0};

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
        {258, "BitsPerSample"}, {33422, "CFAPattern"}, {50714, "BlackLevel"},
        {50717, "WhiteLevel"},  {50721, NULL},         {50728, NULL},
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

static double srgb_light(double v)
{
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4); // IEC 61966-2-1
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

static struct pc_photo read_kept(const char *name)
{
    char path[4096];
    snprintf(path, sizeof path, "%s/fuzz/corpus/%s", getenv("PC_SOURCE_ROOT"), name);
    struct pc_photo photo;
    struct pc_err err = {0};
    if (pc_photo_read(on.reader, path, PC_WANT_PICTURE, false, &photo, &err) != PC_OK)
        fail_msg("%s: %s", name, err.text);
    return photo;
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

static void wrong_files_get_a_sentence(void **state)
{
    (void)state;
    struct pc_err err = {0};
    assert_int_equal(pc_file_write(path_of("notes.txt"), "two plates\n", 11, &err), PC_OK);
    assert_int_equal(pc_file_write(path_of("empty.dng"), "", 0, &err), PC_OK);
    refused("notes.txt", PC_WANT_FACTS, PC_BAD_INPUT, "not a photograph");
    refused("empty.dng", PC_WANT_MEASURE, PC_BAD_INPUT, "empty");
    refused("nowhere.dng", PC_WANT_MEASURE, PC_NOT_FOUND, "no file of this name");
    refused("", PC_WANT_MEASURE, PC_BAD_INPUT, "folder");
    // What a raw of a camera to come may look like: the right box, and nothing known in it.
    static const uint8_t to_come[64] = {0, 0, 0, 24, 'f', 't', 'y', 'p', 'c', 'r', 'x', ' ', 0, 0, 0, 1};
    assert_int_equal(pc_file_write(path_of("to come.cr3"), to_come, sizeof to_come, &err), PC_OK);
    refused("to come.cr3", PC_WANT_FACTS, PC_UNSUPPORTED, "Convert it to DNG");
    assert_int_equal(mkfifo(path_of("pipe"), 0600), 0);
    refused("pipe", PC_WANT_MEASURE, PC_BAD_INPUT, "not a file");
    unlink(path_of("pipe"));
}

static void names_tell_what_to_try(void **state)
{
    (void)state;
    static const char *const raws[] = {"a.dng", "A b.NEF", "/x.y/c.cr3", "d.Raf"};
    static const char *const photos[] = {"a.jpg", "b.JPEG", "c.heic", "d.TIFF", "e.png"};
    static const char *const neither[] = {"a.xmp",     "._a.dng",       ".dng", "dng",
                                          "a.dng.txt", "/d.dng/readme", "b.zip"};
    for (size_t i = 0; i < PC_COUNT(raws); i++)
        assert_true(pc_photo_name_is_raw(raws[i]) && pc_photo_name_is_photo(raws[i]));
    for (size_t i = 0; i < PC_COUNT(photos); i++)
        assert_true(!pc_photo_name_is_raw(photos[i]) && pc_photo_name_is_photo(photos[i]));
    for (size_t i = 0; i < PC_COUNT(neither); i++)
        assert_false(pc_photo_name_is_raw(neither[i]) || pc_photo_name_is_photo(neither[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bins_by_the_closed_form),
        cmocka_unit_test(turns_upright),
        cmocka_unit_test(demosaic_is_on_the_same_scale),
        cmocka_unit_test(black_is_measured_behind_the_mask),
        cmocka_unit_test(facts_come_back),
        cmocka_unit_test(silent_defaults_are_not_taken),
        cmocka_unit_test(still_pictures_are_linear_light),
        cmocka_unit_test(tiff_of_8_bits_and_float),
        cmocka_unit_test(heif_of_8_and_10_bits),
        cmocka_unit_test(other_layouts),
        cmocka_unit_test(wrong_files_get_a_sentence),
        cmocka_unit_test(names_tell_what_to_try),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
