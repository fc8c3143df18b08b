// SPDX-License-Identifier: Apache-2.0
#include "oracle_raw.h"

#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <libraw/libraw.h>

bool oracle_raw_read(const char *path, struct oracle_raw *raw)
{
    LibRaw reader;
    std::memset(raw, 0, sizeof *raw);
    if (reader.open_file(path) != LIBRAW_SUCCESS || reader.unpack() != LIBRAW_SUCCESS)
        return false;
    const libraw_image_sizes_t &sizes = reader.imgdata.sizes;
    const libraw_colordata_t &color = reader.imgdata.color;
    if (reader.imgdata.rawdata.raw_image == nullptr)
        return false;
    raw->raw_width_px = sizes.raw_width;
    raw->raw_height_px = sizes.raw_height;
    raw->left_px = sizes.left_margin;
    raw->top_px = sizes.top_margin;
    raw->width_px = sizes.width;
    raw->height_px = sizes.height;
    raw->flip = sizes.flip;
    size_t row_bytes = size_t(sizes.raw_width) * 2;
    raw->px = static_cast<uint16_t *>(std::malloc(row_bytes * sizes.raw_height));
    for (size_t y = 0; y < sizes.raw_height; y++)
        std::memcpy(reinterpret_cast<char *>(raw->px) + y * row_bytes,
                    reinterpret_cast<const char *>(reader.imgdata.rawdata.raw_image) + y * sizes.raw_pitch,
                    row_bytes);
    for (int i = 0; i < 4; i++) {
        int filter = reader.COLOR(i / 2, i % 2);
        raw->cfa[i] = reader.imgdata.idata.cdesc[filter];
        raw->black_dn[i] = double(color.black) + color.cblack[filter];
        if (color.cblack[4] == 2 && color.cblack[5] == 2)
            raw->black_dn[i] += color.cblack[6 + i];
    }
    raw->white_dn = color.maximum;
    for (int r = 0; r < 3; r++) {
        for (int c = 0; c < 3; c++)
            raw->camera_from_xyz[r][c] = double(color.dng_color[0].colormatrix[r][c]);
        raw->neutral_ratio[r] = double(color.cam_mul[1]) / double(color.cam_mul[r]);
    }
    raw->shutter_s = double(reader.imgdata.other.shutter);
    raw->fnumber = double(reader.imgdata.other.aperture);
    raw->iso = double(reader.imgdata.other.iso_speed);
    raw->focal_mm = double(reader.imgdata.other.focal_len);
    raw->focal_35mm_mm = double(reader.imgdata.lens.FocalLengthIn35mmFormat);
    raw->time_s = double(reader.imgdata.other.timestamp);
    std::snprintf(raw->maker, sizeof raw->maker, "%s", reader.imgdata.idata.make);
    std::snprintf(raw->model, sizeof raw->model, "%s", reader.imgdata.idata.model);
    std::snprintf(raw->serial, sizeof raw->serial, "%s", reader.imgdata.shootinginfo.BodySerial);
    std::snprintf(raw->lens, sizeof raw->lens, "%s", reader.imgdata.lens.Lens);
    return true;
}
