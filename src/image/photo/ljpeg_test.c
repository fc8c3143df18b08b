// SPDX-License-Identifier: Apache-2.0
// The stream is read back by a decoder written from the flow charts of ITU-T T.81 (F.2.2.3 DECODE, H.2), bit
// by bit and with none of the encoder's tables; raws of ordinary size are also read back by LibRaw in
// dng_test.c.
#include "image/photo/ljpeg_priv.h"

#include <setjmp.h>
#include <cmocka.h>

struct bytes {
    uint8_t *at;
    size_t count, room;
};

static enum pc_status take(void *to, const uint8_t *bytes, size_t count, struct pc_err *err)
{
    struct bytes *all = to;
    if (count > all->room - all->count)
        return pc_fail(err, PC_IO, "sink", "It is full.");
    memcpy(all->at + all->count, bytes, count);
    all->count += count;
    return PC_OK;
}

struct bits {
    const struct bytes *all;
    size_t at;
    int left;
    unsigned byte;
};

static unsigned next_bit(struct bits *bits)
{
    if (bits->left == 0) {
        assert_true(bits->at < bits->all->count);
        bits->byte = bits->all->at[bits->at++];
        if (bits->byte == 0xFF)
            assert_int_equal(bits->all->at[bits->at++], 0);
        bits->left = 8;
    }
    return bits->byte >> --bits->left & 1;
}

static int next_difference(struct bits *bits, const uint8_t *lengths, const uint8_t *symbols)
{
    unsigned code = 0, first = 0, below = 0; // the first code of this length; symbols with shorter ones
    for (unsigned l = 0; l < 16; l++) {
        code = code << 1 | next_bit(bits);
        if (code - first < lengths[l]) {
            assert_true(code + 1 < 2u << l); // all ones is no code (T.81, C.2)
            int s = symbols[below + code - first], low = 0;
            if (s == 16)
                return 32768;
            for (int i = 0; i < s; i++)
                low = low << 1 | (int)next_bit(bits);
            return s > 0 && low < 1 << (s - 1) ? low - (1 << s) + 1 : low;
        }
        below += lengths[l];
        first = (first + lengths[l]) << 1;
    }
    fail_msg("no such code");
    return 0;
}

static void decode(const struct bytes *all, int width, int height, uint16_t *px)
{
    const uint8_t *b = all->at;
    assert_true(b[0] == 0xFF && b[1] == 0xD8 && b[2] == 0xFF && b[3] == 0xC4 && b[6] == 0);
    const uint8_t *lengths = b + 7, *symbols = b + 23;
    b += 4 + (b[4] << 8 | b[5]);
    assert_true(b[0] == 0xFF && b[1] == 0xC3 && b[4] == 16);
    int components = b[9];
    assert_int_equal(b[5] << 8 | b[6], height);
    assert_int_equal((b[7] << 8 | b[8]) * components, width);
    b += 2 + (b[2] << 8 | b[3]);
    assert_true(b[0] == 0xFF && b[1] == 0xDA && b[4] == components);
    assert_int_equal(b[5 + 2 * components], 1);
    b += 2 + (b[2] << 8 | b[3]);
    struct bits bits = {.all = all, .at = (size_t)(b - all->at)};
    for (int i = 0; i < width * height; i++) {
        int x = i % width, y = i / width;
        int before = x >= components ? px[i - components] : y > 0 ? px[i - width] : 32768;
        px[i] = (uint16_t)((before + next_difference(&bits, lengths, symbols)) & 0xFFFF);
    }
    assert_int_equal(bits.at, all->count - 2);
    assert_int_equal(all->at[bits.at], 0xFF);
    assert_int_equal(all->at[bits.at + 1], 0xD9);
}

static uint32_t next_random(uint64_t *seed)
{
    *seed = *seed * 6364136223846793005u + 1442695040888963407u;
    return (uint32_t)(*seed >> 33);
}

enum scene { RANDOM, CONSTANT, BLACK, WHITE, EXTREMES, HALF_RANGE, SKEWED, SCENES };

static void fill(enum scene scene, uint16_t *px, size_t count)
{
    uint64_t seed = 7;
    for (size_t i = 0; i < count; i++) {
        uint32_t r = next_random(&seed);
        switch (scene) {
        case RANDOM:
            px[i] = (uint16_t)r;
            break;
        case EXTREMES:
            px[i] = (r & 1) != 0 ? 65535 : 0;
            break;
        case HALF_RANGE: // differences of exactly 32768, whose category has no extra bits
            px[i] = (uint16_t)(r << 15);
            break;
        case SKEWED: // each category half as frequent as the one before
            px[i] = (uint16_t)(i / 2 % 2 != 0 ? 1u << __builtin_ctz(r | 1u << 15) : 0u);
            break;
        default:
            px[i] = (uint16_t)(scene == CONSTANT ? 1234 : scene == WHITE ? 65535 : 0);
        }
    }
}

static void every_sample_comes_back(void **state)
{
    (void)state;
    static const int sizes[][2] = {{1, 1},   {2, 1},    {1, 2},     {3, 5},  {2, 2},
                                   {64, 48}, {101, 77}, {4096, 33}, {1, 900}};
    for (size_t s = 0; s < PC_COUNT(sizes); s++) {
        int width = sizes[s][0], height = sizes[s][1];
        size_t count = (size_t)width * (size_t)height;
        uint16_t *px = calloc(count, 2), *back = calloc(count, 2);
        struct bytes all = {calloc(count * 6 + 200, 1), 0, count * 6 + 200};
        for (enum scene scene = 0; scene < SCENES; scene++) {
            fill(scene, px, count);
            all.count = 0;
            struct pc_ljpeg_sink sink = {take, &all};
            struct pc_err err = {0};
            assert_int_equal(pc_ljpeg_encode(&sink, width, height, px, &err), PC_OK);
            memset(back, 0, count * 2);
            decode(&all, width, height, back);
            if (memcmp(px, back, count * 2) != 0)
                fail_msg("scene %d of %d x %d came back changed", (int)scene, width, height);
        }
        free(all.at);
        free(px);
        free(back);
    }
}

// Differences whose counts fall off like Fibonacci numbers make the deepest of all Huffman trees: 17 levels
// with 18 leaves, one more than the standard allows, so that the limiting of annex K.2 has to act.
static void deepest_codes_are_limited(void **state)
{
    (void)state;
    enum { ROOM = 20000 };
    uint16_t *px = calloc(ROOM, 2), *back = calloc(ROOM, 2);
    size_t n = 1;
    uint64_t a = 1, b = 1;
    px[0] = 32768; // one component: the foretelling of the first sample is 32768
    for (int s = 16; s >= 0; s--) {
        for (uint64_t i = 0; i < a && n < ROOM; i++, n++)
            px[n] = (uint16_t)(px[n - 1] + (s == 0 ? 0 : 1 << (s - 1)));
        uint64_t c = a + b;
        a = b;
        b = c;
    }
    int width = (int)(n % 2 == 0 ? n - 1 : n); // odd: one component
    struct bytes all = {calloc(ROOM * 6, 1), 0, ROOM * 6};
    struct pc_ljpeg_sink sink = {take, &all};
    struct pc_err err = {0};
    assert_int_equal(pc_ljpeg_encode(&sink, width, 1, px, &err), PC_OK);
    int longest = 16;
    while (all.at[7 + longest - 1] == 0)
        longest--;
    assert_int_equal(longest, 16);
    decode(&all, width, 1, back);
    assert_memory_equal(px, back, (size_t)width * 2);
    free(all.at);
    free(px);
    free(back);
}

// Differences of uniform noise over 8 values are triangular: categories 0, 1, 2, 3 in the ratio 8 : 14 : 22
// : 20. The best code beside a kept-free word has lengths 3, 2, 2, 2; with 0, 1, 2, 3 extra bits that is (8 *
// 3 + 14 * 3 + 22 * 4 + 20 * 5) / 64 bits a sample.
static void size_is_the_best_codes(void **state)
{
    (void)state;
    enum { SIDE = 512 };
    const double best_bits = 254.0 / 64;
    const double within = 0.02; // sampling of 2.6e5 values, headers, FF bytes stuffed
    uint16_t *px = calloc(SIDE * SIDE, 2);
    uint64_t seed = 3;
    for (int i = 0; i < SIDE * SIDE; i++)
        px[i] = (uint16_t)(1000 + next_random(&seed) % 8);
    struct bytes all = {calloc(SIDE * SIDE, 6), 0, SIDE * SIDE * 6};
    struct pc_ljpeg_sink sink = {take, &all};
    assert_int_equal(pc_ljpeg_encode(&sink, SIDE, SIDE, px, NULL), PC_OK);
    double got_bits = 8.0 * (double)all.count / (SIDE * SIDE);
    if (!(fabs(got_bits - best_bits) < within))
        fail_msg("%g bits a sample, best %g", got_bits, best_bits);
    free(all.at);
    free(px);
}

static void a_refusing_sink_ends_it(void **state)
{
    (void)state;
    uint16_t *px = calloc(1 << 20, 2);
    fill(RANDOM, px, 1 << 20);
    for (size_t room = 0; room < 400000; room += 130000) {
        struct bytes all = {calloc(room + 1, 1), 0, room};
        struct pc_ljpeg_sink sink = {take, &all};
        struct pc_err err = {0};
        assert_int_equal(pc_ljpeg_encode(&sink, 1024, 1024, px, &err), PC_IO);
        assert_string_equal(err.text, "It is full.");
        free(all.at);
    }
    free(px);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_sample_comes_back),
        cmocka_unit_test(deepest_codes_are_limited),
        cmocka_unit_test(size_is_the_best_codes),
        cmocka_unit_test(a_refusing_sink_ends_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
