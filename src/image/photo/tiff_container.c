// SPDX-License-Identifier: Apache-2.0
#include "image/photo/tiff_priv.h"

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "values are written as they lie in memory");

static uint32_t size_of_type(unsigned type)
{
    switch (type) {
    case PC_TIFF_SHORT:
        return 2;
    case PC_TIFF_LONG:
        return 4;
    case PC_TIFF_RATIONAL:
    case PC_TIFF_SRATIONAL:
        return 8;
    default:
        return 1;
    }
}

static struct pc_tiff_entry *add_entry(struct pc_tiff_ifd *ifd, uint16_t tag, enum pc_tiff_type type,
                                       uint32_t count)
{
    PC_ASSERT((size_t)ifd->count < PC_COUNT(ifd->entries));
    int i = ifd->count++;
    for (; i > 0 && ifd->entries[i - 1].tag > tag;
         i--) // readers may rely on ascending tags (TIFF 6.0, p. 15)
        ifd->entries[i] = ifd->entries[i - 1];
    PC_ASSERT(i == 0 || ifd->entries[i - 1].tag != tag);
    ifd->entries[i] = (struct pc_tiff_entry){.tag = tag, .type = (uint16_t)type, .count = count};
    return &ifd->entries[i];
}

void pc_tiff_put(struct pc_tiff_ifd *ifd, uint16_t tag, enum pc_tiff_type type, uint32_t count,
                 const void *values)
{
    struct pc_tiff_entry *entry = add_entry(ifd, tag, type, count);
    size_t n = (size_t)count * size_of_type(type);
    PC_ASSERT(n <= sizeof ifd->heap - ifd->used_bytes);
    memcpy(ifd->heap + ifd->used_bytes, values, n);
    entry->near_at = ifd->used_bytes;
    ifd->used_bytes += (uint32_t)n;
}

void pc_tiff_put_far(struct pc_tiff_ifd *ifd, uint16_t tag, enum pc_tiff_type type, uint32_t count,
                     const void *values)
{
    add_entry(ifd, tag, type, count)->far = values;
}

void pc_tiff_put_short(struct pc_tiff_ifd *ifd, uint16_t tag, uint16_t value)
{
    pc_tiff_put(ifd, tag, PC_TIFF_SHORT, 1, &value);
}

void pc_tiff_put_long(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t value)
{
    pc_tiff_put(ifd, tag, PC_TIFF_LONG, 1, &value);
}

void pc_tiff_put_text(struct pc_tiff_ifd *ifd, uint16_t tag, const char *text)
{
    if (text[0] != '\0')
        pc_tiff_put(ifd, tag, PC_TIFF_ASCII, (uint32_t)strlen(text) + 1, text);
}

void pc_tiff_fraction(double value, uint32_t pq[2])
{
    // Convergents of the continued fraction: h/k with h = a h' + h'', k = a k' + k''.
    double h = 1, h_before = 0, k = 0, k_before = 1, rest = value;
    pq[0] = value < 1 ? 0 : UINT32_MAX;
    pq[1] = 1;
    for (int i = 0; i < 64; i++) {
        double a = floor(rest);
        double h_next = a * h + h_before, k_next = a * k + k_before;
        if (!(h_next <= UINT32_MAX && k_next <= UINT32_MAX))
            return;
        pq[0] = (uint32_t)h_next;
        pq[1] = (uint32_t)k_next;
        if (fabs(h_next / k_next - value) <= 1e-10 * value || rest == a)
            return;
        h_before = h;
        h = h_next;
        k_before = k;
        k = k_next;
        rest = 1 / (rest - a);
    }
}

void pc_tiff_put_rationals(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t count, const double *values)
{
    uint32_t pq[16][2];
    PC_ASSERT(count <= PC_COUNT(pq));
    for (uint32_t i = 0; i < count; i++)
        pc_tiff_fraction(values[i], pq[i]);
    pc_tiff_put(ifd, tag, PC_TIFF_RATIONAL, count, pq);
}

void pc_tiff_put_millionths(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t count, const double *values)
{
    int32_t pq[16][2];
    PC_ASSERT(count <= PC_COUNT(pq));
    for (uint32_t i = 0; i < count; i++) {
        pq[i][0] = (int32_t)fmax(-INT32_MAX, fmin(INT32_MAX, round(values[i] * 1e6)));
        pq[i][1] = 1000000;
    }
    pc_tiff_put(ifd, tag, PC_TIFF_SRATIONAL, count, pq);
}

enum pc_status pc_tiff_bytes(struct pc_tiff_out *out, const void *bytes, size_t count, struct pc_err *err)
{
    if (count > UINT32_MAX - out->at_bytes) {
        pc_file_abandon(&out->file);
        return pc_fail(err, PC_BAD_INPUT, out->file.path,
                       "The picture is larger than such a file can hold (4 GiB); write a smaller one.");
    }
    out->at_bytes += count;
    return pc_file_put(&out->file, bytes, count, err);
}

enum pc_status pc_tiff_begin(struct pc_tiff_out *out, const char *path, struct pc_err *err)
{
    static const uint8_t header[8] = {'I', 'I', 42, 0}; // the offset of the first directory comes last
    out->at_bytes = 0;
    PC_TRY(pc_file_create(&out->file, path, err));
    return pc_tiff_bytes(out, header, sizeof header, err);
}

static enum pc_status pad_to_word(struct pc_tiff_out *out, struct pc_err *err)
{
    return out->at_bytes % 2 != 0 ? pc_tiff_bytes(out, "", 1, err) : PC_OK;
}

enum pc_status pc_tiff_directory(struct pc_tiff_out *out, const struct pc_tiff_ifd *ifd, uint32_t *at_bytes,
                                 struct pc_err *err)
{
    PC_TRY(pad_to_word(out, err));
    *at_bytes = (uint32_t)out->at_bytes;
    uint8_t table[2 + 12 * PC_COUNT(ifd->entries) + 4] = {(uint8_t)ifd->count};
    size_t table_bytes = 2 + 12 * (size_t)ifd->count + 4;
    uint64_t value_at = out->at_bytes + table_bytes;
    for (int i = 0; i < ifd->count; i++) {
        const struct pc_tiff_entry *entry = &ifd->entries[i];
        uint8_t *row = table + 2 + 12 * i;
        uint64_t n = (uint64_t)entry->count * size_of_type(entry->type);
        memcpy(row, &entry->tag, 2);
        memcpy(row + 2, &entry->type, 2);
        memcpy(row + 4, &entry->count, 4);
        if (n <= 4) {
            memcpy(row + 8, entry->far != NULL ? entry->far : ifd->heap + entry->near_at, (size_t)n);
        } else {
            uint32_t at = (uint32_t)value_at; // past 4 GiB the writing of the values below fails
            memcpy(row + 8, &at, 4);
            value_at += n + n % 2;
        }
    }
    PC_TRY(pc_tiff_bytes(out, table, table_bytes, err));
    for (int i = 0; i < ifd->count; i++) {
        const struct pc_tiff_entry *entry = &ifd->entries[i];
        size_t n = (size_t)entry->count * size_of_type(entry->type);
        if (n <= 4)
            continue;
        PC_TRY(pc_tiff_bytes(out, entry->far != NULL ? entry->far : ifd->heap + entry->near_at, n, err));
        PC_TRY(pad_to_word(out, err));
    }
    return PC_OK;
}

enum pc_status pc_tiff_end(struct pc_tiff_out *out, const struct pc_tiff_ifd *ifd, struct pc_err *err)
{
    uint32_t at_bytes;
    PC_TRY(pc_tiff_directory(out, ifd, &at_bytes, err));
    PC_TRY(pc_file_patch(&out->file, 4, &at_bytes, sizeof at_bytes, err));
    return pc_file_commit(&out->file, err);
}
