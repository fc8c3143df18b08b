// SPDX-License-Identifier: Apache-2.0
#include "oracle_still.h"

#include <png.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

bool oracle_png_read(const char *path, struct oracle_still *still)
{
    memset(still, 0, sizeof *still);
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return false;
    png_structp png = png_create_read_struct(PNG_LIBPNG_VER_STRING, NULL, NULL, NULL);
    png_infop info = png_create_info_struct(png);
    png_init_io(png, file);
    png_read_png(png, info, PNG_TRANSFORM_SWAP_ENDIAN, NULL);
    still->width_px = (int)png_get_image_width(png, info);
    still->height_px = (int)png_get_image_height(png, info);
    still->channels = png_get_channels(png, info);
    still->bits = png_get_bit_depth(png, info);
    size_t row_bytes = png_get_rowbytes(png, info);
    still->px = malloc(row_bytes * (size_t)still->height_px);
    for (int y = 0; y < still->height_px; y++)
        memcpy((uint8_t *)still->px + (size_t)y * row_bytes, png_get_rows(png, info)[y], row_bytes);
    png_charp name;
    int method;
    png_bytep icc;
    if (png_get_iCCP(png, info, &name, &method, &icc, &still->icc_count)) {
        still->icc = malloc(still->icc_count);
        memcpy(still->icc, icc, still->icc_count);
    }
    png_destroy_read_struct(&png, &info, NULL);
    fclose(file);
    return true;
}
