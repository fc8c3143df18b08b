// SPDX-License-Identifier: Apache-2.0
#include "image/photo/tiff_priv.h"
#include "image/photo/write.h"

// Readers that hold a strip at a time should not need much memory for it.
static const size_t strip_bytes_wanted = (size_t)1 << 20;

// Where each strip begins and how long it is; they lie one behind the other after the header.
static bool cut_strips(uint64_t row_bytes, uint32_t height, uint32_t rows_per_strip, uint32_t count,
                       uint32_t **at, uint32_t **bytes)
{
    *at = calloc(count, sizeof **at);
    *bytes = calloc(count, sizeof **bytes);
    if (*at == NULL || *bytes == NULL)
        return false;
    for (uint32_t i = 0; i < count; i++) {
        uint32_t first = i * rows_per_strip;
        uint32_t rows = height - first < rows_per_strip ? height - first : rows_per_strip;
        (*at)[i] = (uint32_t)(8 + first * row_bytes);
        (*bytes)[i] = (uint32_t)(rows * row_bytes);
    }
    return true;
}

static void put_picture(struct pc_tiff_ifd *ifd, uint32_t width, uint32_t height, int channels)
{
    const double dpi =
        72; // baseline readers may ask for a resolution (TIFF 6.0, p. 24); it means nothing here
    pc_tiff_put_long(ifd, 254, 0);
    pc_tiff_put_long(ifd, 256, width);
    pc_tiff_put_long(ifd, 257, height);
    pc_tiff_put(ifd, 258, PC_TIFF_SHORT, (uint32_t)channels, (const uint16_t[]){16, 16, 16});
    pc_tiff_put_short(ifd, 259, 1);                     // Compression: none
    pc_tiff_put_short(ifd, 262, channels == 3 ? 2 : 1); // RGB, or black is zero
    pc_tiff_put_short(ifd, 277, (uint16_t)channels);
    pc_tiff_put_rationals(ifd, 282, 1, &dpi);
    pc_tiff_put_rationals(ifd, 283, 1, &dpi);
    pc_tiff_put_short(ifd, 284, 1); // interleaved
    pc_tiff_put_short(ifd, 296, 2);
}

enum pc_status pc_write_tiff16(const char *path, int width_px, int height_px, int channels,
                               const uint16_t *px, const struct pc_icc *icc, const char *description,
                               struct pc_err *err)
{
    PC_ASSERT(width_px > 0 && height_px > 0 && (channels == 1 || channels == 3));
    uint32_t width = (uint32_t)width_px, height = (uint32_t)height_px;
    size_t row_bytes = (size_t)width * (size_t)channels * sizeof *px;
    uint32_t rows_per_strip = (uint32_t)(row_bytes < strip_bytes_wanted ? strip_bytes_wanted / row_bytes : 1);
    if (rows_per_strip > height)
        rows_per_strip = height;
    uint32_t strips = (height - 1) / rows_per_strip + 1;
    struct pc_tiff_out out;
    PC_TRY(pc_tiff_begin(&out, path, err));
    PC_TRY(pc_tiff_bytes(&out, px, row_bytes * height, err));
    uint32_t *at, *bytes;
    enum pc_status status;
    if (cut_strips(row_bytes, height, rows_per_strip, strips, &at, &bytes)) {
        struct pc_tiff_ifd ifd = {0};
        put_picture(&ifd, width, height, channels);
        pc_tiff_put_far(&ifd, 273, PC_TIFF_LONG, strips, at);
        pc_tiff_put_long(&ifd, 278, rows_per_strip);
        pc_tiff_put_far(&ifd, 279, PC_TIFF_LONG, strips, bytes);
        if (description != NULL && description[0] != '\0')
            pc_tiff_put_far(&ifd, 270, PC_TIFF_ASCII, (uint32_t)strlen(description) + 1, description);
        if (icc != NULL)
            pc_tiff_put_far(&ifd, 34675, PC_TIFF_UNDEFINED, (uint32_t)icc->count, icc->bytes);
        status = pc_tiff_end(&out, &ifd, err);
    } else {
        pc_file_abandon(&out.file);
        status = pc_fail(err, PC_NO_MEMORY, path,
                         "There is not enough memory to write it; this file was not changed.");
    }
    free(at);
    free(bytes);
    return status;
}
