// SPDX-License-Identifier: Apache-2.0
// One frame read and brought to the size of a part.
#include "base/linalg.h"
#include "image/picture/lines.h"
#include "light/parts/parts_priv.h"

enum pc_status pc_parts_load(struct pc_photo_reader *reader, const char *path, bool linear,
                             struct pc_loaded *loaded, struct pc_facts *facts, struct pc_err *err)
{
    struct pc_photo photo;
    memset(loaded, 0, sizeof *loaded);
    PC_TRY(pc_photo_measure(reader, path, PC_PARTS_PIXELS, linear, &photo, err));
    if (photo.tone_mapped) {
        pc_photo_finish(&photo);
        return pc_fail(
            err, PC_BAD_INPUT, path,
            "The camera has bent the tones of this file, so no light can be measured in it; send the raw.");
    }
    *facts = photo.facts;
    loaded->clipped_ratio = pc_picture_clipped_ratio(&photo.picture);
    loaded->black_by_default = photo.black_by_default;
    loaded->has_xyz = photo.has_xyz_from_camera;
    memcpy(loaded->xyz_from_camera, photo.xyz_from_camera, sizeof loaded->xyz_from_camera);
    loaded->has_neutral = photo.has_neutral;
    memcpy(loaded->neutral_ratio, photo.neutral_ratio, sizeof loaded->neutral_ratio);
    loaded->picture = photo.picture;
    memset(&photo.picture, 0, sizeof photo.picture);
    pc_photo_finish(&photo);
    loaded->mended = pc_picture_mend_lines(&loaded->picture);
    return PC_OK;
}

void pc_parts_note_sensor(const struct pc_loaded *loaded, const char *frame, struct pc_notes *notes)
{
    if (loaded->black_by_default)
        pc_notes_add(
            notes,
            "%s does not state its black level, so 0 was taken, as the DNG specification has it. If the "
            "converter left it out by mistake, the window and all shadows read too bright; what each "
            "light adds does not change, as it is the difference of two frames.",
            frame);
    if (loaded->mended > 0)
        pc_notes_add(notes, "%d line%s of the sensor %s dead in %s; what lies beside stands in for %s.",
                     loaded->mended, loaded->mended == 1 ? "" : "s", loaded->mended == 1 ? "is" : "are",
                     frame, loaded->mended == 1 ? "it" : "them");
}

void pc_parts_scale(struct pc_picture *picture, double factor)
{
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px * (size_t)picture->channels;
    const float f = (float)factor;
    for (size_t i = 0; i < n; i++)
        picture->px[i] *= f;
    for (int c = 0; c < 3; c++) {
        picture->noise.offset_var[c] *= factor * factor;
        picture->noise.per_signal_var[c] *= factor;
    }
}

void pc_parts_set_colour(struct pc_parts *parts, const struct pc_loaded *reference)
{
    parts->has_neutral = reference->has_neutral;
    for (int c = 0; c < 3; c++)
        parts->neutral_ratio[c] = reference->has_neutral ? reference->neutral_ratio[c] : 1.0;
    parts->has_xyz = false;
    if (!reference->has_xyz || reference->picture.channels != 3)
        return;
    double neutral_xyz[3];
    pc_linalg_apply3(reference->xyz_from_camera, parts->neutral_ratio, neutral_xyz);
    if (!(neutral_xyz[1] > 0.0))
        return;
    for (int i = 0; i < 9; i++)
        parts->xyz_from_camera[i / 3][i % 3] = reference->xyz_from_camera[i / 3][i % 3] / neutral_xyz[1];
    parts->has_xyz = true;
}

double pc_parts_Y(const struct pc_parts *parts, const double camera[3])
{
    if (!parts->has_xyz)
        return parts->ambient.channels == 3 ? camera[1] : camera[0];
    const double *row = parts->xyz_from_camera[1];
    return row[0] * camera[0] + row[1] * camera[1] + row[2] * camera[2];
}

double pc_parts_largest_move_px(const struct pc_picture *picture, const struct pc_align *align)
{
    double half_diagonal_px = 0.5 * hypot(picture->full_width_px, picture->full_height_px);
    double turn = hypot(align->scale_ratio * cos(align->rotation_rad) - 1.0,
                        align->scale_ratio * sin(align->rotation_rad));
    return hypot(align->shift_x_px, align->shift_y_px) + turn * half_diagonal_px;
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

enum { BLOCK_PX = 8, LEAST_BLOCKS = 20 };
static const double LEAST_SNR =
    20.0; // of a block's sum in the brighter picture, and of the whole of the other

static double block_sum(const struct pc_picture *p, int bx, int by, int channel)
{
    double sum = 0.0;
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++)
            sum += (double)p->px[((size_t)y * (size_t)p->width_px + (size_t)x) * (size_t)p->channels +
                                 (size_t)channel];
    return sum;
}

double pc_parts_brightest_ratio(const struct pc_picture *ambient, const struct pc_picture *part)
{
    int channel = ambient->channels == 3 ? 1 : 0;
    size_t room = (size_t)(ambient->width_px / BLOCK_PX) * (size_t)(ambient->height_px / BLOCK_PX), count = 0;
    double *ratios = calloc(room + 1, sizeof *ratios);
    PC_ASSERT(ratios != NULL);
    for (int by = 0; by + BLOCK_PX <= ambient->height_px; by += BLOCK_PX)
        for (int bx = 0; bx + BLOCK_PX <= ambient->width_px; bx += BLOCK_PX) {
            double a = block_sum(ambient, bx, by, channel);
            if (a > 0.0)
                ratios[count++] = block_sum(part, bx, by, channel) / a;
        }
    qsort(ratios, count, sizeof *ratios, compare_doubles);
    double brightest = count > 0 ? ratios[(count - 1) * 19 / 20] : (double)INFINITY;
    free(ratios);
    return brightest;
}

struct block {
    double ratio, weight;
};

static int compare_blocks(const void *a, const void *b)
{
    const struct block *x = a, *y = b;
    return (x->ratio > y->ratio) - (x->ratio < y->ratio);
}

struct block_sums {
    double a, b, a_var, b_var;
};

static bool sum_block(const struct pc_picture *a, const struct pc_picture *b, int bx, int by,
                      struct block_sums *sums)
{
    int channel = a->channels == 3 ? 1 : 0;
    memset(sums, 0, sizeof *sums);
    for (int y = by; y < by + BLOCK_PX; y++)
        for (int x = bx; x < bx + BLOCK_PX; x++) {
            size_t i = (size_t)y * (size_t)a->width_px + (size_t)x;
            if (a->clipped[i] != 0 || b->clipped[i] != 0)
                return false;
            double va = (double)a->px[i * (size_t)a->channels + (size_t)channel];
            double vb = (double)b->px[i * (size_t)b->channels + (size_t)channel];
            sums->a += va;
            sums->b += vb;
            sums->a_var += a->noise.offset_var[channel] + a->noise.per_signal_var[channel] * fmax(va, 0.0);
            sums->b_var += b->noise.offset_var[channel] + b->noise.per_signal_var[channel] * fmax(vb, 0.0);
        }
    return true;
}

// Blocks are chosen by a alone: chosen by b's own noise as well, a faint b would read too bright.
double pc_parts_level_ratio(const struct pc_picture *a, const struct pc_picture *b)
{
    size_t room = (size_t)(a->width_px / BLOCK_PX) * (size_t)(a->height_px / BLOCK_PX), count = 0;
    struct block *blocks = calloc(room + 1, sizeof *blocks);
    PC_ASSERT(blocks != NULL);
    double weights = 0.0, b_sum = 0.0, b_var = 0.0;
    for (int by = 0; by + BLOCK_PX <= a->height_px; by += BLOCK_PX)
        for (int bx = 0; bx + BLOCK_PX <= a->width_px; bx += BLOCK_PX) {
            struct block_sums sums;
            if (!sum_block(a, b, bx, by, &sums) || !(sums.a > LEAST_SNR * sqrt(sums.a_var)))
                continue;
            blocks[count++] = (struct block){.ratio = sums.b / sums.a, .weight = sums.a};
            weights += sums.a;
            b_sum += sums.b;
            b_var += sums.b_var;
        }
    double median = NAN;
    if (count >= LEAST_BLOCKS && b_sum > LEAST_SNR * sqrt(b_var)) {
        qsort(blocks, count, sizeof *blocks, compare_blocks);
        double passed = 0.0;
        for (size_t i = 0; passed < 0.5 * weights && i < count; i++) {
            passed += blocks[i].weight;
            median = blocks[i].ratio;
        }
    }
    free(blocks);
    return median;
}
