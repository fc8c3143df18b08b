// SPDX-License-Identifier: Apache-2.0
#include "oracle_tiff.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <tiffio.h>

static TIFF *open_at(const char *path, bool exif)
{
    TIFFSetWarningHandler(NULL);
    TIFF *tiff = TIFFOpen(path, "r");
    uint64_t at;
    if (tiff != NULL && exif &&
        (!TIFFGetField(tiff, TIFFTAG_EXIFIFD, &at) || !TIFFReadEXIFDirectory(tiff, (toff_t)at))) {
        TIFFClose(tiff);
        return NULL;
    }
    return tiff;
}

static double number_at(const void *data, TIFFDataType type, int size, int i)
{
    if (type == TIFF_RATIONAL || type == TIFF_SRATIONAL)
        return size == 8 ? ((const double *)data)[i] : (double)((const float *)data)[i];
    return size == 1   ? ((const uint8_t *)data)[i]
           : size == 2 ? ((const uint16_t *)data)[i]
                       : ((const uint32_t *)data)[i];
}

int oracle_tiff_numbers(const char *path, bool exif, uint32_t tag, double *values, int most)
{
    TIFF *tiff = open_at(path, exif);
    if (tiff == NULL)
        return 0;
    const TIFFField *field = TIFFFindField(tiff, tag, TIFF_ANY);
    int count = 0;
    if (field != NULL) {
        int fixed = TIFFFieldReadCount(field), size = TIFFFieldSetGetSize(field);
        union {
            const void *list;
            uint64_t bits;
            double room[4];
        } got = {0};
        if (TIFFFieldPassCount(field)) {
            uint32_t n32 = 0;
            uint16_t n16 = 0;
            bool wide = TIFFFieldSetGetCountSize(field) == 4;
            if (TIFFGetField(tiff, tag, wide ? (void *)&n32 : (void *)&n16, &got.list))
                count = wide ? (int)n32 : n16;
        } else if (TIFFGetField(tiff, tag, &got)) {
            count = fixed > 1 ? fixed : 1;
        }
        bool listed = TIFFFieldPassCount(field) || fixed > 1;
        for (int i = 0; i < count && i < most; i++)
            values[i] = number_at(listed ? got.list : (const void *)&got, TIFFFieldDataType(field), size, i);
    }
    TIFFClose(tiff);
    return count;
}

bool oracle_tiff_text(const char *path, bool exif, uint32_t tag, char *text, int size)
{
    TIFF *tiff = open_at(path, exif);
    const char *got = NULL;
    bool found = tiff != NULL && TIFFGetField(tiff, tag, &got) && got != NULL;
    if (found)
        snprintf(text, (size_t)size, "%s", got);
    if (tiff != NULL)
        TIFFClose(tiff);
    return found;
}

bool oracle_tiff_pixels(const char *path, int *width_px, int *height_px, int *channels, uint16_t **px)
{
    TIFF *tiff = open_at(path, false);
    uint32_t width = 0, height = 0;
    uint16_t samples = 0, bits = 0;
    if (tiff == NULL)
        return false;
    TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &width);
    TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &height);
    TIFFGetField(tiff, TIFFTAG_SAMPLESPERPIXEL, &samples);
    TIFFGetField(tiff, TIFFTAG_BITSPERSAMPLE, &bits);
    size_t row = (size_t)width * samples;
    *px = calloc(row * height + 1, sizeof **px);
    bool good = bits == 16 && *px != NULL && (size_t)TIFFScanlineSize(tiff) == row * sizeof **px;
    for (uint32_t y = 0; good && y < height; y++)
        good = TIFFReadScanline(tiff, *px + y * row, y, 0) == 1;
    TIFFClose(tiff);
    *width_px = (int)width;
    *height_px = (int)height;
    *channels = samples;
    return good;
}

bool oracle_tiff_icc(const char *path, uint8_t **bytes, uint32_t *count)
{
    TIFF *tiff = open_at(path, false);
    const void *got = NULL;
    bool found = tiff != NULL && TIFFGetField(tiff, TIFFTAG_ICCPROFILE, count, &got);
    if (found) {
        *bytes = malloc(*count);
        memcpy(*bytes, got, *count);
    }
    if (tiff != NULL)
        TIFFClose(tiff);
    return found;
}
