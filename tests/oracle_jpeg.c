// SPDX-License-Identifier: Apache-2.0
#include "oracle_still.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <jpeglib.h>

bool oracle_jpeg_read(const char *path, struct oracle_still *still)
{
    memset(still, 0, sizeof *still);
    FILE *file = fopen(path, "rb");
    if (file == NULL)
        return false;
    struct jpeg_decompress_struct cinfo;
    struct jpeg_error_mgr errors;
    cinfo.err = jpeg_std_error(&errors);
    jpeg_create_decompress(&cinfo);
    jpeg_stdio_src(&cinfo, file);
    jpeg_save_markers(&cinfo, JPEG_APP0 + 2, 0xFFFF);
    jpeg_read_header(&cinfo, TRUE);
    still->full_chroma = cinfo.max_h_samp_factor == 1 && cinfo.max_v_samp_factor == 1;
    JOCTET *icc;
    unsigned count;
    if (jpeg_read_icc_profile(&cinfo, &icc, &count)) {
        still->icc = icc;
        still->icc_count = count;
    }
    jpeg_start_decompress(&cinfo);
    still->width_px = (int)cinfo.output_width;
    still->height_px = (int)cinfo.output_height;
    still->channels = cinfo.output_components;
    still->bits = cinfo.data_precision;
    size_t row = (size_t)still->width_px * (size_t)still->channels;
    still->px = malloc(row * (size_t)still->height_px * sizeof *still->px);
    JSAMPLE *line = malloc(row);
    for (int y = 0; y < still->height_px; y++) {
        jpeg_read_scanlines(&cinfo, &line, 1);
        for (size_t i = 0; i < row; i++)
            still->px[(size_t)y * row + i] = line[i];
    }
    free(line);
    jpeg_finish_decompress(&cinfo);
    jpeg_destroy_decompress(&cinfo);
    fclose(file);
    return true;
}
