// SPDX-License-Identifier: Apache-2.0
// The colour of each light, told apart from the colour of what it falls on: under two lights a surface's
// reflectance cancels in the ratio, and the median over the picture is the ratio of the lights.
#include "base/linalg.h"
#include "light/parts/answers.h"

static const double CARD_TOLERANCE_MIRED = 8.0;
static const double RATIO_TOLERANCE_MIRED =
    12.0; // the white the camera was set for stands in for the window's

enum { BLOCK_PX = 8, LEAST_BLOCKS = 30 };
static const double LEAST_SNR = 25.0;          // of a block in the part
static const double LEAST_OVER_AMBIENT = 0.02; // a part fainter than this against the ambient says little

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Sums of a block in the part and the ambient; false where it may not be used.
static bool block_colours(const struct pc_parts *parts, const struct pc_picture *part, int bx, int by,
                          double p[3], double a[3])
{
    const struct pc_picture *ambient = &parts->ambient;
    double variance = 0.0;
    memset(p, 0, 3 * sizeof *p);
    memset(a, 0, 3 * sizeof *a);
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++) {
            size_t i = (size_t)y * (size_t)part->width_px + (size_t)x;
            if (part->clipped[i] != 0 || ambient->clipped[i] != 0 || parts->leave_out[i] != 0)
                return false;
            for (int c = 0; c < 3; c++) {
                p[c] += (double)part->px[3 * i + (size_t)c];
                a[c] += (double)ambient->px[3 * i + (size_t)c];
                variance += part->noise.offset_var[c] +
                            part->noise.per_signal_var[c] * fmax((double)part->px[3 * i + (size_t)c], 0.0);
            }
        }
    for (int c = 0; c < 3; c++)
        if (!(p[c] > 0.0) || !(a[c] > 0.0))
            return false;
    return p[1] > LEAST_SNR * sqrt(variance) && p[1] > LEAST_OVER_AMBIENT * a[1];
}

// Camera colour of the part's light relative to the ambient's, green = 1.
static bool light_ratio(const struct pc_parts *parts, const struct pc_picture *part, double ratio[3])
{
    size_t room = (size_t)(part->width_px / BLOCK_PX + 1) * (size_t)(part->height_px / BLOCK_PX + 1), n = 0;
    double *red = calloc(2 * room, sizeof *red), *blue = red + room;
    PC_ASSERT(red != NULL);
    for (int by = 0; by + BLOCK_PX <= part->height_px; by += BLOCK_PX)
        for (int bx = 0; bx + BLOCK_PX <= part->width_px; bx += BLOCK_PX) {
            double p[3], a[3];
            if (!block_colours(parts, part, bx, by, p, a))
                continue;
            red[n] = p[0] / a[0] * a[1] / p[1];
            blue[n++] = p[2] / a[2] * a[1] / p[1];
        }
    if (n >= LEAST_BLOCKS) {
        qsort(red, n, sizeof *red, compare_doubles);
        qsort(blue, n, sizeof *blue, compare_doubles);
        ratio[0] = red[n / 2];
        ratio[1] = 1.0;
        ratio[2] = blue[n / 2];
    }
    free(red);
    return n >= LEAST_BLOCKS;
}

void pc_parts_whites(const struct pc_parts *parts, int greycard, struct pc_reading *reading)
{
    bool card = greycard != PC_NO_PLACE;
    reading->white_tolerance_mired = card ? CARD_TOLERANCE_MIRED : RATIO_TOLERANCE_MIRED;
    bool known = parts->has_xyz && (card || parts->has_neutral);
    for (int c = 0; c < 3; c++)
        reading->ambient_white_xyz[c] = NAN;
    if (known && card)
        memcpy(reading->ambient_white_xyz, reading->ambient_xyz[greycard], sizeof reading->ambient_white_xyz);
    else if (known)
        pc_linalg_apply3(parts->xyz_from_camera, parts->neutral_ratio, reading->ambient_white_xyz);
    struct pc_basis basis;
    pc_parts_basis(parts, reading, &basis);
    for (int e = 0; e < reading->emitter_count; e++) {
        struct pc_reading_emitter *emitter = &reading->emitter[e];
        double ratio[3];
        for (int c = 0; c < 3; c++)
            emitter->white_xyz[c] = NAN;
        if (known && card) {
            memcpy(emitter->white_xyz, emitter->xyz[greycard], sizeof emitter->white_xyz);
        } else if (known && light_ratio(parts, &parts->part[basis.part[e]].picture, ratio)) {
            for (int c = 0; c < 3; c++)
                ratio[c] *= parts->neutral_ratio[c];
            pc_linalg_apply3(parts->xyz_from_camera, ratio, emitter->white_xyz);
        }
    }
}
