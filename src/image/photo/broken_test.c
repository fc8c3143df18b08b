// SPDX-License-Identifier: Apache-2.0
// Files cut short at many lengths and with bytes flipped: each an answer in time, and the next file reads as
// if nothing had been.
#include "base/file.h"
#include "image/photo/photo_bench.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { MOST = 1 << 16 };

struct base_file {
    const char *name;
    uint8_t bytes[MOST];
    size_t count;
};

static struct {
    struct base_file files[8];
    size_t count;
} on;

static bool load(const char *name, const char *path)
{
    struct base_file *file = &on.files[on.count++];
    FILE *in = fopen(path, "rb");
    if (in == NULL)
        return false;
    file->name = name;
    file->count = fread(file->bytes, 1, sizeof file->bytes, in);
    fclose(in);
    return file->count > 100 && file->count < sizeof file->bytes;
}

// Cameras write directories before the pixels, this project's writer after them: a copy of the pixels is put
// at the end, so that cutting the end cuts them.
static bool move_pixels_to_the_end(struct base_file *file)
{
    for (size_t at = 8; at + 24 <= file->count; at += 2) {
        uint8_t *entry = file->bytes + at;
        uint32_t value, bytes = 0;
        memcpy(&value, entry + 8, 4);
        if (entry[0] != 0x11 || entry[1] != 0x01 || entry[2] != 4 || value != 8) // StripOffsets
            continue;
        for (const uint8_t *e = entry; bytes == 0 && e + 12 <= file->bytes + file->count; e += 12)
            if (e[0] == 0x17 && e[1] == 0x01) // StripByteCounts
                memcpy(&bytes, e + 8, 4);
        if (bytes == 0 || file->count + bytes > sizeof file->bytes)
            return false;
        memcpy(entry + 8, &(uint32_t){(uint32_t)file->count}, 4);
        memcpy(file->bytes + file->count, file->bytes + 8, bytes);
        memset(file->bytes + 8, 0, bytes);
        file->count += bytes;
        return true;
    }
    return false;
}

static bool make_files(void)
{
    static uint16_t dn[W * H * 3];
    static uint8_t codes[W * H * 3];
    for (int i = 0; i < W * H * 3; i++) {
        dn[i] = (uint16_t)(600 + (i * 7919) % 12000);
        codes[i] = (uint8_t)(i * 31 % 251);
    }
    struct pc_dng dng = {
        .width_px = W,
        .height_px = H,
        .px = dn,
        .cfa = "RGGB",
        .black_dn = {500, 500, 500, 500},
        .white_dn = 16000,
        .camera_from_xyz = {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
        .neutral_ratio = {0.5, 1, 0.6},
    };
    pc_facts_clear(&dng.facts);
    dng.facts.shutter_s = 0.01;
    snprintf(dng.facts.maker, sizeof dng.facts.maker, "Maker");
    bool good = pc_write_dng(path_of("a.dng"), &dng, NULL) == PC_OK && load("a.dng", path_of("a.dng"));
    good = good && move_pixels_to_the_end(&on.files[on.count - 1]);
    dng.lossless = true;
    good = good && pc_write_dng(path_of("b.dng"), &dng, NULL) == PC_OK && load("b.dng", path_of("b.dng"));
    good = good && move_pixels_to_the_end(&on.files[on.count - 1]);
    good = good && pc_write_jpeg(path_of("c.jpg"), W, H, 3, codes, 90, NULL, NULL) == PC_OK &&
           load("c.jpg", path_of("c.jpg"));
    good = good && pc_write_png16(path_of("d.png"), W, H, 3, dn, NULL, NULL) == PC_OK &&
           load("d.png", path_of("d.png"));
    good = good && pc_write_tiff16(path_of("e.tif"), W, H, 3, dn, NULL, NULL, NULL) == PC_OK &&
           load("e.tif", path_of("e.tif"));
    good = good && move_pixels_to_the_end(&on.files[on.count - 1]);
    char path[4096];
    snprintf(path, sizeof path, "%s/fuzz/corpus/heif/eight-bit.heic", getenv("PC_SOURCE_ROOT"));
    return good && load("f.heic", path);
}

static int set_up(void **state)
{
    (void)state;
    struct pc_photo_limits limits = {.time_s = 10, .memory_bytes = (size_t)2 << 30, .pixels = 1000000};
    return photo_bench_open_with(1, &limits) == 0 && make_files() ? 0 : 1;
}

static enum pc_status read_bytes(const char *name, const uint8_t *bytes, size_t count,
                                 enum pc_photo_want want, struct pc_err *err)
{
    FILE *out = fopen(path_of(name), "wb"); // not synced: thousands of these are written
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, count, out), count);
    fclose(out);
    struct pc_photo photo;
    enum pc_status status = read_photo(name, want, false, &photo, err);
    pc_photo_finish(&photo);
    return status;
}

static void whole_files_read(void)
{
    for (size_t i = 0; i < on.count; i++) {
        struct pc_err err;
        if (read_bytes(on.files[i].name, on.files[i].bytes, on.files[i].count, PC_WANT_MEASURE, &err) !=
            PC_OK)
            fail_msg("%s: %s", on.files[i].name, err.text);
    }
}

static void cut_short_is_said(void **state)
{
    (void)state;
    whole_files_read();
    for (size_t i = 0; i < on.count; i++) {
        const struct base_file *file = &on.files[i];
        for (size_t k = 0; k < 48; k++) {
            // Evenly along the file, and then byte by byte at its end.
            size_t count = k < 40 ? file->count * k / 40 : file->count - 4 * (48 - k);
            for (int want = PC_WANT_MEASURE; want <= PC_WANT_PICTURE; want++) {
                struct pc_err err;
                enum pc_status status =
                    read_bytes(file->name, file->bytes, count, (enum pc_photo_want)want, &err);
                if (status != PC_BAD_INPUT && status != PC_UNSUPPORTED)
                    fail_msg("%s cut to %zu of %zu: %d %s", file->name, count, file->count, status, err.text);
            }
        }
    }
    whole_files_read();
}

static uint64_t next_random(uint64_t *seed)
{
    *seed ^= *seed << 13; // Marsaglia's xorshift64
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static void flipped_bytes_do_no_harm(void **state)
{
    (void)state;
    enum { ROUNDS = 120 };
    uint64_t seed = 20260131;
    static uint8_t bytes[MOST];
    for (size_t i = 0; i < on.count; i++) {
        const struct base_file *file = &on.files[i];
        for (int round = 0; round < ROUNDS; round++) {
            memcpy(bytes, file->bytes, file->count);
            for (uint64_t flips = 1 + next_random(&seed) % 8; flips > 0; flips--)
                bytes[next_random(&seed) % file->count] ^= (uint8_t)(1 + next_random(&seed) % 255);
            struct pc_err err;
            enum pc_photo_want want = (enum pc_photo_want)(round % 3);
            enum pc_status status = read_bytes(file->name, bytes, file->count, want, &err);
            // In time, within the memory, and in our own words.
            if (status == PC_TIMEOUT || (status != PC_OK && err.text[0] == '\0'))
                fail_msg("%s, round %d: %d %s", file->name, round, status, err.text);
            if (status == PC_CRASHED)
                print_message("# %s, round %d: %s\n", file->name, round, err.text);
        }
    }
    whole_files_read();
}

static void huge_headers_are_refused(void **state)
{
    (void)state;
    static uint8_t bytes[MOST];
    for (size_t i = 0; i < on.count; i++) {
        const struct base_file *file = &on.files[i];
        memcpy(bytes, file->bytes, file->count);
        bool found = false;
        // Where the header has 48 and 32 it gets 60,000 and 60,000: as 16 or 32 bits, in either byte order.
        for (size_t at = 0; at + 24 <= file->count && !(found && file->name[0] != 'f'); at++) {
            uint8_t *b = bytes + at;
            if (file->name[0] == 'c' && b[0] == 0xff && b[1] == 0xc0) { // SOF0: height, width
                b[5] = b[7] = 60000 >> 8;
                b[6] = b[8] = 60000 & 255;
                found = true;
            } else if (file->name[0] == 'f' && memcmp(b, "ispe", 4) == 0) { // ISO/IEC 23008-12, 6.5.3
                b[10] = b[14] = 60000 >> 8;
                b[11] = b[15] = 60000 & 255;
                found = true;
            } else if (file->name[2] == 't' && b[0] == 0x00 && b[1] == 0x01 && (b[2] == 3 || b[2] == 4) &&
                       b[8] == W) {
                b[2] = b[14] = 4; // ImageWidth, ImageLength
                b[8] = b[20] = 60000 & 255;
                b[9] = b[21] = 60000 >> 8;
                found = true;
            }
        }
        if (!found)
            continue; // the raws are in lacks_test.c; a PNG's header is guarded by its checksum
        struct pc_err err;
        enum pc_status status = read_bytes(file->name, bytes, file->count, PC_WANT_FACTS, &err);
        if (status != PC_BAD_INPUT || strstr(err.text, "60000 x 60000") == NULL)
            fail_msg("%s: %d %s", file->name, status, err.text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cut_short_is_said),
        cmocka_unit_test(huge_headers_are_refused),
        cmocka_unit_test(flipped_bytes_do_no_harm),
    };
    return cmocka_run_group_tests(tests, set_up, photo_bench_close);
}
