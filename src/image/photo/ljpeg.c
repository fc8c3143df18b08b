// SPDX-License-Identifier: Apache-2.0
#include "image/photo/ljpeg_priv.h"

enum {
    CATEGORIES = 17,   // SSSS 0..16 (T.81, table H.2)
    LONGEST_CODE = 16, // T.81, B.2.4.2
    CHUNK_BYTES = 1 << 16,
};

struct code {
    uint32_t bits; // the Huffman code with the extra bits behind it, right-aligned: 31 bits at most
    uint32_t length;
};

struct writer {
    const struct pc_ljpeg_sink *sink;
    struct pc_err *err;
    enum pc_status status;
    uint64_t held; // bits not yet out, right-aligned
    unsigned held_count;
    size_t used;
    uint8_t chunk[CHUNK_BYTES + 8];
};

static unsigned category(int16_t difference)
{
    unsigned magnitude = (unsigned)abs((int)difference);
    return magnitude == 0 ? 0 : 32 - (unsigned)__builtin_clz(magnitude);
}

// What stands before the first sample of a row, for each of the components (T.81, H.1.2.1): half of the range
// in the first row, the first samples of the row above in all others.
static void before_row(const uint16_t *px, int width_px, int row, int components, uint16_t before[2])
{
    for (int c = 0; c < components; c++)
        before[c] = row == 0 ? 1u << 15 : px[(size_t)(row - 1) * (size_t)width_px + (size_t)c];
}

static void row_differences(const uint16_t *px, int width_px, int row, int components, int16_t *differences)
{
    const uint16_t *at = px + (size_t)row * (size_t)width_px;
    uint16_t before[2];
    before_row(px, width_px, row, components, before);
    for (int c = 0; c < components; c++)
        differences[c] = (int16_t)(uint16_t)(at[c] - before[c]); // modulo 2^16 (H.1.2.1)
    for (int x = components; x < width_px; x++)
        differences[x] = (int16_t)(uint16_t)(at[x] - at[x - components]);
}

// Code lengths of a Huffman code no longer than 16 bits whose all-ones code is left free (T.81, annex K.2).
static void code_lengths(const uint64_t counts[CATEGORIES], uint8_t per_length[LONGEST_CODE + 1],
                         uint8_t order[CATEGORIES])
{
    enum { SYMBOLS = CATEGORIES + 1, DEEPEST = SYMBOLS };
    uint64_t weight[SYMBOLS];
    int length[SYMBOLS] = {0}, next[SYMBOLS];
    for (int i = 0; i < SYMBOLS; i++) {
        weight[i] = i < CATEGORIES ? counts[i] : 1; // the last one keeps the all-ones code from being used
        next[i] = -1;
    }
    for (;;) {
        int least = -1, second = -1; // of equal weights the later symbol first
        for (int i = 0; i < SYMBOLS; i++)
            if (weight[i] > 0 && (least < 0 || weight[i] <= weight[least]))
                least = i;
        for (int i = 0; i < SYMBOLS; i++)
            if (i != least && weight[i] > 0 && (second < 0 || weight[i] <= weight[second]))
                second = i;
        if (second < 0)
            break;
        weight[second] += weight[least];
        weight[least] = 0;
        int last = second;
        for (length[second]++; next[last] >= 0; length[last]++)
            last = next[last];
        next[last] = least;
        for (int i = least; i >= 0; i = next[i])
            length[i]++;
    }
    int at_length[DEEPEST + 1] = {0};
    for (int i = 0; i < SYMBOLS; i++)
        at_length[length[i]]++;
    at_length[0] = 0;
    for (int i = DEEPEST; i > LONGEST_CODE; i--)
        while (at_length[i] > 0) {
            int shorter = i - 2;
            while (at_length[shorter] == 0)
                shorter--;
            at_length[i] -= 2;
            at_length[i - 1]++;
            at_length[shorter + 1] += 2;
            at_length[shorter]--;
        }
    int longest = LONGEST_CODE;
    while (at_length[longest] == 0)
        longest--;
    at_length[longest]--; // the kept-free one
    for (int i = 0; i <= LONGEST_CODE; i++)
        per_length[i] = (uint8_t)at_length[i];
    int n = 0;
    for (int l = 1; l <= DEEPEST; l++)
        for (int i = 0; i < CATEGORIES; i++)
            if (length[i] == l)
                order[n++] = (uint8_t)i;
}

// The whole code word of every difference: category, then its low bits (T.81, H.1.2.2).
static void code_table(const uint8_t per_length[LONGEST_CODE + 1], const uint8_t order[CATEGORIES],
                       struct code *table)
{
    struct code of_category[CATEGORIES] = {0};
    uint32_t bits = 0;
    int n = 0;
    for (uint32_t l = 1; l <= LONGEST_CODE; l++, bits <<= 1)
        for (int i = 0; i < per_length[l]; i++)
            of_category[order[n++]] = (struct code){bits++, l};
    for (int d = INT16_MIN; d <= INT16_MAX; d++) {
        unsigned s = category((int16_t)d);
        unsigned extra = s == 16 ? 0 : s; // 32768 has no extra bits (table H.2)
        struct code head = of_category[s];
        uint32_t low = (uint32_t)(d < 0 ? d - 1 : d) & ((1u << extra) - 1);
        table[(uint16_t)d] = (struct code){head.bits << extra | low, head.length + extra};
    }
}

static void hand_over(struct writer *w)
{
    if (w->status == PC_OK && w->used > 0)
        w->status = w->sink->take(w->sink->to, w->chunk, w->used, w->err);
    w->used = 0;
}

static void put_bytes(struct writer *w, const uint8_t *bytes, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        w->chunk[w->used++] = bytes[i];
        if (w->used >= CHUNK_BYTES)
            hand_over(w);
    }
}

static inline void put_code(struct writer *w, struct code code)
{
    w->held = w->held << code.length | code.bits;
    w->held_count += code.length;
    if (w->held_count < 32)
        return;
    w->held_count -= 32;
    uint32_t word = (uint32_t)(w->held >> w->held_count);
    if (((~word - 0x01010101u) & word & 0x80808080u) == 0) { // no byte is FF
        uint32_t swapped = __builtin_bswap32(word);
        memcpy(w->chunk + w->used, &swapped, 4);
        w->used += 4;
    } else {
        for (int shift = 24; shift >= 0; shift -= 8) {
            uint8_t byte = (uint8_t)(word >> shift);
            w->chunk[w->used++] = byte;
            if (byte == 0xFF)
                w->chunk[w->used++] = 0; // T.81, F.1.2.3
        }
    }
    if (w->used >= CHUNK_BYTES)
        hand_over(w);
}

static void put_last_bits(struct writer *w)
{
    unsigned fill = (8 - w->held_count % 8) % 8; // with ones (T.81, F.1.2.3)
    w->held = w->held << fill | ((1u << fill) - 1);
    w->held_count += fill;
    for (; w->held_count > 0; w->held_count -= 8) {
        uint8_t byte = (uint8_t)(w->held >> (w->held_count - 8));
        put_bytes(w, (const uint8_t[]){byte, 0}, byte == 0xFF ? 2 : 1);
    }
}

static void put_headers(struct writer *w, int width_px, int height_px, int components,
                        const uint8_t per_length[LONGEST_CODE + 1], const uint8_t order[CATEGORIES])
{
    uint8_t head[128];
    size_t n = 0;
    unsigned wide = (unsigned)(width_px / components), high = (unsigned)height_px, symbols = 0;
    for (int l = 1; l <= LONGEST_CODE; l++)
        symbols += per_length[l];
#define BYTE(v) head[n++] = (uint8_t)(v)
#define PAIR(v) (BYTE((v) >> 8), BYTE((v)&0xFF))
    PAIR(0xFFD8); // SOI
    PAIR(0xFFC4); // DHT: one table, class 0, destination 0
    PAIR(19 + symbols);
    BYTE(0);
    for (int l = 1; l <= LONGEST_CODE; l++)
        BYTE(per_length[l]);
    for (unsigned i = 0; i < symbols; i++)
        BYTE(order[i]);
    PAIR(0xFFC3); // SOF3: lossless, Huffman
    PAIR(8 + 3 * components);
    BYTE(16);
    PAIR(high);
    PAIR(wide);
    BYTE(components);
    for (int c = 0; c < components; c++) {
        BYTE(c);
        BYTE(0x11);
        BYTE(0);
    }
    PAIR(0xFFDA); // SOS
    PAIR(6 + 2 * components);
    BYTE(components);
    for (int c = 0; c < components; c++) {
        BYTE(c);
        BYTE(0);
    }
    BYTE(1); // selection value 1: the sample to the left
    BYTE(0);
    BYTE(0); // no point transform
#undef PAIR
#undef BYTE
    put_bytes(w, head, n);
}

static void count_categories(const uint16_t *px, int width_px, int height_px, int components,
                             int16_t *differences, uint64_t counts[CATEGORIES])
{
    uint64_t lanes[2][CATEGORIES] = {{0}}; // two, so that equal neighbours do not wait for each other
    for (int row = 0; row < height_px; row++) {
        row_differences(px, width_px, row, components, differences);
        int x = 0;
        for (; x + 1 < width_px; x += 2) {
            lanes[0][category(differences[x])]++;
            lanes[1][category(differences[x + 1])]++;
        }
        if (x < width_px)
            lanes[0][category(differences[x])]++;
    }
    for (int i = 0; i < CATEGORIES; i++)
        counts[i] = lanes[0][i] + lanes[1][i];
}

enum pc_status pc_ljpeg_encode(const struct pc_ljpeg_sink *sink, int width_px, int height_px,
                               const uint16_t *px, struct pc_err *err)
{
    int components = width_px % 2 == 0 ? 2 : 1;
    PC_ASSERT(width_px > 0 && width_px / components <= 65535 && height_px > 0 && height_px <= 65535);
    struct writer *w = calloc(1, sizeof *w);
    struct code *table = calloc(1 << 16, sizeof *table);
    int16_t *differences = calloc((size_t)width_px, sizeof *differences);
    enum pc_status status;
    if (w == NULL || table == NULL || differences == NULL) {
        status = pc_fail(err, PC_NO_MEMORY, NULL, "There is not enough memory to compress the picture.");
    } else {
        uint64_t counts[CATEGORIES];
        uint8_t per_length[LONGEST_CODE + 1], order[CATEGORIES];
        w->sink = sink;
        w->err = err;
        count_categories(px, width_px, height_px, components, differences, counts);
        code_lengths(counts, per_length, order);
        code_table(per_length, order, table);
        put_headers(w, width_px, height_px, components, per_length, order);
        for (int row = 0; row < height_px && w->status == PC_OK; row++) {
            row_differences(px, width_px, row, components, differences);
            for (int x = 0; x < width_px; x++)
                put_code(w, table[(uint16_t)differences[x]]);
        }
        put_last_bits(w);
        put_bytes(w, (const uint8_t[]){0xFF, 0xD9}, 2); // EOI
        hand_over(w);
        status = w->status;
    }
    free(differences);
    free(table);
    free(w);
    return status;
}
