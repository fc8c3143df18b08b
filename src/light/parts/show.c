// SPDX-License-Identifier: Apache-2.0
#include "light/parts/show.h"

#include "base/linalg.h"
#include "image/colour/colour.h"

enum { CODES = 4096 };                       // steps of the display curve's table: finer than 8 bits anywhere
static const double RESIDUAL_RANGE_EV = 2.0; // black to mid grey

static void fill_codes(uint8_t codes[CODES + 1])
{
    for (int i = 0; i <= CODES; i++)
        codes[i] = (uint8_t)lround(255.0 * pc_colour_srgb_encode((double)i / CODES));
}

static uint8_t code_of(const uint8_t codes[CODES + 1], double linear)
{
    return codes[(int)lround(CODES * fmin(1.0, fmax(0.0, linear)))];
}

struct pc_show_colour pc_show_colour_of(const struct pc_parts *parts)
{
    struct pc_show_colour colour = {.has_xyz = parts->has_xyz};
    memcpy(colour.xyz_from_camera, parts->xyz_from_camera, sizeof colour.xyz_from_camera);
    memcpy(colour.neutral_ratio, parts->neutral_ratio, sizeof colour.neutral_ratio);
    return colour;
}

void pc_show_matrix(const struct pc_show_colour *colour, const double white_xyz[3],
                    double rgb_from_camera[3][3])
{
    memset(rgb_from_camera, 0, 9 * sizeof(double));
    if (!colour->has_xyz) {
        for (int c = 0; c < 3; c++)
            rgb_from_camera[c][c] = 1.0 / colour->neutral_ratio[c];
        return;
    }
    double white[3], to_d65[3][3], rgb_from_xyz[3][3];
    if (isnan(white_xyz[0]))
        pc_linalg_apply3(colour->xyz_from_camera, colour->neutral_ratio, white);
    else
        memcpy(white, white_xyz, sizeof white);
    double scale = white[1] > 0.0 ? white[1] : 1.0;
    for (int c = 0; c < 3; c++)
        white[c] /= scale;
    pc_colour_adapt_bradford(white, pc_colour_d65, to_d65);
    pc_linalg_multiply3(pc_colour_srgb_from_xyz, to_d65, rgb_from_xyz);
    pc_linalg_multiply3(rgb_from_xyz, colour->xyz_from_camera, rgb_from_camera);
}

void pc_show_rgb8(const struct pc_picture *picture, double rgb_from_camera[3][3], double exposure_ratio,
                  uint8_t *rgb)
{
    uint8_t codes[CODES + 1];
    fill_codes(codes);
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px, channels = (size_t)picture->channels;
    for (size_t i = 0; i < n; i++) {
        double camera[3], linear[3];
        for (size_t c = 0; c < 3; c++)
            camera[c] = exposure_ratio * (double)picture->px[i * channels + (channels == 3 ? c : 0)];
        if (channels == 3)
            pc_linalg_apply3(rgb_from_camera, camera, linear);
        else
            memcpy(linear, camera, sizeof linear);
        // What clipped has lost its colour, and would show as that of the channel that clipped last.
        double whitest = fmax(linear[0], fmax(linear[1], linear[2]));
        for (size_t c = 0; c < 3; c++)
            rgb[3 * i + c] = code_of(codes, picture->clipped[i] != 0 ? whitest : linear[c]);
    }
}

void pc_show_srgb8(const struct pc_parts *parts, const struct pc_picture *picture, const double white_xyz[3],
                   double exposure_ratio, uint8_t *rgb)
{
    const struct pc_show_colour colour = pc_show_colour_of(parts);
    double m[3][3];
    pc_show_matrix(&colour, white_xyz, m);
    pc_show_rgb8(picture, m, exposure_ratio, rgb);
}

void pc_show_residual8(const struct pc_picture *residual_ev, uint8_t *grey)
{
    size_t n = (size_t)residual_ev->width_px * (size_t)residual_ev->height_px;
    for (size_t i = 0; i < n; i++) {
        double ev = (double)residual_ev->px[i];
        double part = fmin(1.0, fmax(-1.0, ev / RESIDUAL_RANGE_EV));
        grey[i] = isnan(ev) ? 0 : (uint8_t)lround(128.0 + 127.0 * part);
    }
}

void pc_show_residual16(const struct pc_picture *residual_ev, uint16_t *grey)
{
    size_t n = (size_t)residual_ev->width_px * (size_t)residual_ev->height_px;
    for (size_t i = 0; i < n; i++) {
        double ev = (double)residual_ev->px[i];
        double part = fmin(1.0, fmax(-1.0, ev / RESIDUAL_RANGE_EV));
        grey[i] = isnan(ev) ? 0 : (uint16_t)lround(32768.0 + 32767.0 * part);
    }
}

void pc_show_linear16(const struct pc_picture *picture, uint16_t *out)
{
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px * (size_t)picture->channels;
    for (size_t i = 0; i < n; i++)
        out[i] = (uint16_t)lroundf(65535.0F * fminf(1.0F, fmaxf(0.0F, picture->px[i])));
}

void pc_show_white(const struct pc_reading *reading, const struct pc_dials *dials, int place,
                   double white_xyz[3])
{
    double weights[PC_EMITTERS_MAX], ambient_weight;
    pc_reading_weights(reading, dials, weights, &ambient_weight);
    for (int c = 0; c < 3; c++)
        white_xyz[c] = ambient_weight * reading->ambient_xyz[place][1] * reading->ambient_white_xyz[c] /
                       reading->ambient_white_xyz[1];
    for (int e = 0; e < reading->emitter_count; e++) {
        const struct pc_reading_emitter *emitter = &reading->emitter[e];
        double Y = weights[e] * emitter->xyz[place][1];
        if (!(Y > 0.0) || isnan(emitter->white_xyz[0]))
            continue;
        for (int c = 0; c < 3; c++)
            white_xyz[c] += Y * emitter->white_xyz[c] / emitter->white_xyz[1];
    }
}
