// SPDX-License-Identifier: Apache-2.0
// PNG, TIFF and JPEG read back by libpng, libtiff and libjpeg; and what is left when the disk is full.
#include "base/file.h"
#include "image/photo/write.h"

#include "oracle_still.h"
#include "oracle_tiff.h"

#include <dirent.h>
#include <setjmp.h>
#include <signal.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>
#include <cmocka.h>
#include <lcms2.h>

static char folder[] = "/tmp/pc-write-XXXXXX";
static char path[64];

static uint32_t next_random(uint64_t *seed)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33);
}

static uint16_t *make_px16(size_t count)
{
    uint16_t *px = calloc(count, sizeof *px);
    uint64_t seed = 5;
    for (size_t i = 0; i < count; i++)
        px[i] = (uint16_t)next_random(&seed);
    px[0] = 0;
    px[count - 1] = 65535;
    return px;
}

static struct pc_icc make_icc(int channels)
{
    cmsToneCurve *curve = cmsBuildGamma(NULL, 2.2);
    cmsHPROFILE profile = channels == 3 ? cmsCreate_sRGBProfile() : cmsCreateGrayProfile(cmsD50_xyY(), curve);
    cmsUInt32Number count = 0;
    assert_true(cmsSaveProfileToMem(profile, NULL, &count));
    uint8_t *bytes = malloc(count);
    assert_true(cmsSaveProfileToMem(profile, bytes, &count));
    cmsCloseProfile(profile);
    cmsFreeToneCurve(curve);
    return (struct pc_icc){bytes, count};
}

static void check(enum pc_status status, const struct pc_err *err)
{
    if (status != PC_OK)
        fail_msg("%s: %s", err->place, err->text);
}

static const int sizes[][2] = {{1, 1}, {7, 3}, {3, 701}, {320, 241}};

static void png_comes_back(void **state)
{
    (void)state;
    for (size_t i = 0; i < 4 * PC_COUNT(sizes); i++) {
        int width = sizes[i / 4][0], height = sizes[i / 4][1], channels = i % 2 != 0 ? 3 : 1;
        size_t count = (size_t)width * (size_t)height * (size_t)channels;
        uint16_t *px = make_px16(count);
        struct pc_icc icc = make_icc(channels);
        struct pc_err err = {0};
        check(pc_write_png16(path, width, height, channels, px, i % 4 < 2 ? &icc : NULL, &err), &err);
        struct oracle_still still;
        assert_true(oracle_png_read(path, &still));
        assert_true(still.width_px == width && still.height_px == height);
        assert_true(still.channels == channels && still.bits == 16);
        assert_memory_equal(still.px, px, count * 2);
        assert_int_equal(still.icc_count, i % 4 < 2 ? icc.count : 0);
        if (i % 4 < 2)
            assert_memory_equal(still.icc, icc.bytes, icc.count);
        free(still.px);
        free(still.icc);
        free((void *)(uintptr_t)icc.bytes);
        free(px);
    }
}

static void tiff_comes_back(void **state)
{
    (void)state;
    static const int more[][2] = {{1, 1}, {7, 3}, {3, 701}, {320, 241}, {700, 900}, {180001, 2}};
    for (size_t i = 0; i < 4 * PC_COUNT(more); i++) {
        int width = more[i / 4][0], height = more[i / 4][1], channels = i % 2 != 0 ? 3 : 1;
        size_t count = (size_t)width * (size_t)height * (size_t)channels;
        uint16_t *px = make_px16(count), *back;
        struct pc_icc icc = make_icc(channels);
        struct pc_err err = {0};
        const char *words = i % 4 < 2 ? "Foretold at dials 0.5, 0.25; linear" : NULL;
        check(pc_write_tiff16(path, width, height, channels, px, i % 4 < 2 ? &icc : NULL, words, &err), &err);
        int got_width, got_height, got_channels;
        assert_true(oracle_tiff_pixels(path, &got_width, &got_height, &got_channels, &back));
        assert_true(got_width == width && got_height == height && got_channels == channels);
        assert_memory_equal(back, px, count * 2);
        uint8_t *got;
        uint32_t got_count;
        char text[64];
        double v[4];
        assert_int_equal(oracle_tiff_text(path, false, 270, text, sizeof text), words != NULL);
        assert_int_equal(oracle_tiff_icc(path, &got, &got_count), words != NULL);
        if (words != NULL) {
            assert_string_equal(text, words);
            assert_int_equal(got_count, icc.count);
            assert_memory_equal(got, icc.bytes, icc.count);
            free(got);
        }
        assert_int_equal(oracle_tiff_numbers(path, false, 262, v, 4), 1);
        assert_true(v[0] == (channels == 3 ? 2 : 1));
        assert_int_equal(oracle_tiff_numbers(path, false, 278, v, 4), 1);
        size_t row_bytes = (size_t)width * (size_t)channels * 2;
        assert_true(v[0] == 1 || (size_t)v[0] * row_bytes <= 1 << 20);
        free(back);
        free((void *)(uintptr_t)icc.bytes);
        free(px);
    }
}

// Noise without any likeness between neighbours, so that halved colour or a coarse quantiser would be far
// off.
static void jpeg_comes_back(void **state)
{
    (void)state;
    // At quality 100 every quantiser is 1: 64 coefficients off by up to 1/2 make a sample off by a standard
    // deviation of 0.3 in Y, Cb and Cr, rounding each adds 0.5, and blue takes 1.77 times the error of Cb.
    const int most = 4;
    for (size_t i = 0; i < 4 * PC_COUNT(sizes); i++) {
        int width = sizes[i / 4][0], height = sizes[i / 4][1], channels = i % 2 != 0 ? 3 : 1;
        size_t count = (size_t)width * (size_t)height * (size_t)channels;
        uint8_t *px = calloc(count, 1);
        uint64_t seed = 9;
        for (size_t k = 0; k < count; k++)
            px[k] = (uint8_t)(next_random(&seed) >> 8);
        // Profiles may need several APP2 markers: 150 kB is three. libjpeg does not look inside.
        struct pc_icc icc = {(uint8_t *)make_px16(75000), 150000};
        struct pc_err err = {0};
        check(pc_write_jpeg(path, width, height, channels, px, 100, i % 4 < 2 ? &icc : NULL, &err), &err);
        struct oracle_still still;
        assert_true(oracle_jpeg_read(path, &still));
        assert_true(still.width_px == width && still.height_px == height && still.channels == channels);
        assert_true(still.bits == 8 && still.full_chroma);
        for (size_t k = 0; k < count; k++)
            if (abs(still.px[k] - px[k]) > most)
                fail_msg("sample %zu: got %d, want %d within %d", k, still.px[k], px[k], most);
        assert_int_equal(still.icc_count, i % 4 < 2 ? icc.count : 0);
        if (i % 4 < 2)
            assert_memory_equal(still.icc, icc.bytes, icc.count);
        free(still.px);
        free(still.icc);
        free((void *)(uintptr_t)icc.bytes);
        free(px);
    }
}

static int files_in_folder(void)
{
    int n = 0;
    DIR *dir = opendir(folder);
    assert_non_null(dir);
    for (struct dirent *entry; (entry = readdir(dir)) != NULL;)
        n += entry->d_name[0] != '.';
    closedir(dir);
    return n;
}

enum kind { PNG, TIFF, JPEG, DNG_PLAIN, DNG_LOSSLESS, KINDS };
enum { SIDE = 400 }; // big enough that stdio and the libraries write more than once

static enum pc_status write_kind(enum kind kind, const uint16_t *px, struct pc_err *err)
{
    struct pc_dng dng = {.width_px = SIDE,
                         .height_px = SIDE,
                         .px = px,
                         .cfa = "RGGB",
                         .white_dn = 65535,
                         .camera_from_xyz = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
                         .neutral_ratio = {1, 1, 1},
                         .lossless = kind == DNG_LOSSLESS,
                         .facts = {.flash_fired = -1}};
    switch (kind) {
    case PNG:
        return pc_write_png16(path, SIDE, SIDE, 1, px, NULL, err);
    case TIFF:
        return pc_write_tiff16(path, SIDE, SIDE, 1, px, NULL, "words", err);
    case JPEG:
        return pc_write_jpeg(path, SIDE, SIDE, 1, (const uint8_t *)px, 100, NULL, err);
    default:
        return pc_write_dng(path, &dng, err);
    }
}

// In a child of its own, as the limit cannot be lifted again: 0 when it fails as it should.
static int try_with_room(enum kind kind, const uint16_t *px, off_t room)
{
    pid_t child = fork();
    if (child == 0) {
        struct rlimit limit = {(rlim_t)room, (rlim_t)room};
        struct pc_err err = {0};
        signal(SIGXFSZ, SIG_IGN);
        if (setrlimit(RLIMIT_FSIZE, &limit) != 0)
            _exit(3);
        if (write_kind(kind, px, &err) != PC_IO || err.status != PC_IO || strcmp(err.place, path) != 0)
            _exit(1);
        _exit(strcmp(err.text, "It cannot be written (File too large); this file was not changed.") == 0 ? 0
                                                                                                         : 2);
    }
    int status = -1;
    assert_true(child > 0 && waitpid(child, &status, 0) == child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void no_room_leaves_what_was_there(void **state)
{
    (void)state;
    uint16_t *px = make_px16((size_t)SIDE * SIDE);
    for (enum kind kind = 0; kind < KINDS; kind++) {
        struct pc_err err = {0};
        check(write_kind(kind, px, &err), &err);
        struct stat st;
        assert_int_equal(stat(path, &st), 0);
        const off_t rooms[] = {0, 9, 5000, st.st_size / 2, st.st_size - 200, st.st_size - 1};
        check(pc_file_write(path, "before", 6, &err), &err);
        for (size_t i = 0; i < PC_COUNT(rooms); i++) {
            int how = try_with_room(kind, px, rooms[i]);
            if (how != 0)
                fail_msg("kind %d with room for %lld bytes of %lld: %d", (int)kind, (long long)rooms[i],
                         (long long)st.st_size, how);
            assert_int_equal(files_in_folder(), 1);
            char text[16] = "";
            FILE *file = fopen(path, "rb");
            assert_non_null(file);
            assert_int_equal(fread(text, 1, sizeof text, file), 6);
            fclose(file);
            assert_string_equal(text, "before");
        }
    }
    free(px);
}

// /dev/full refuses every write as a full disk does.
static void a_full_disk_is_named(void **state)
{
    (void)state;
    struct pc_file_writer writer = {.stream = fopen("/dev/full", "wb")};
    if (writer.stream == NULL)
        skip();
    snprintf(writer.path, sizeof writer.path, "%s", path);
    snprintf(writer.beside, sizeof writer.beside, "%s.beside", path);
    struct pc_err err = {0};
    uint16_t *px = make_px16(1 << 16);
    assert_int_equal(pc_file_put(&writer, px, 1 << 17, &err), PC_IO);
    assert_string_equal(err.text,
                        "The disk is full: free some space and run it again; this file was not changed.");
    assert_null(writer.stream);
    free(px);
}

static void what_a_form_cannot_hold_is_said(void **state)
{
    (void)state;
    unlink(path);
    uint8_t *px = calloc(70000, 3);
    struct pc_err err = {0};
    assert_int_equal(pc_write_jpeg(path, 70000, 1, 3, px, 90, NULL, &err), PC_BAD_INPUT);
    assert_string_equal(err.text,
                        "A JPEG holds at most 65500 pixels on a side and this picture has 70000 x 1: "
                        "write a TIFF instead.");
    // libpng looks into the profile: one for grey does not belong on colour.
    struct pc_icc grey = make_icc(1);
    err = (struct pc_err){0};
    assert_int_equal(pc_write_png16(path, 4, 4, 3, (const uint16_t *)px, &grey, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "cannot be written as a PNG"));
    assert_int_equal(files_in_folder(), 0);
    free((void *)(uintptr_t)grey.bytes);
    free(px);
}

int main(void)
{
    if (mkdtemp(folder) == NULL)
        return 1;
    snprintf(path, sizeof path, "%s/picture", folder);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(png_comes_back),       cmocka_unit_test(tiff_comes_back),
        cmocka_unit_test(jpeg_comes_back),      cmocka_unit_test(no_room_leaves_what_was_there),
        cmocka_unit_test(a_full_disk_is_named), cmocka_unit_test(what_a_form_cannot_hold_is_said),
    };
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    unlink(path);
    rmdir(folder);
    return failed;
}
