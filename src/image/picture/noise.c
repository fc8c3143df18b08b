// SPDX-License-Identifier: Apache-2.0
// Noise from pictures. A picture is cut into small blocks; what is left of a block when a bi-quadratic
// surface is taken off is noise, or detail; transfer.c tells the two apart and lays the photon-transfer line.
#include "image/picture/picture.h"
#include "image/picture/transfer_priv.h"

enum {
    SIDE_PX = 8, // of a block
    BLOCK_PX = SIDE_PX * SIDE_PX,
    SHAPES = 3,                           // 1, x, x^2 along each side
    FREEDOM = BLOCK_PX - SHAPES * SHAPES, // what is left to vary
    BLOCKS_MAX = 8192,                    // more say nothing new and take time
};

// Detail can only add to a block of one picture; in a difference it cancels, and half of the blocks are
// plain.
static const double ONE_SHARE = 0.1, PAIR_SHARE = 0.5;
// A block of a pair whose gain is further from the whole's has changed its light; this share of them may not
// have.
static const double PAIR_GAIN_OFF = 0.2, PAIR_COMMON_LEAST = 0.25;
static const double DIM_SHARE = 0.05; // of the mean level: a block's own gain counts from there on

// Orthonormal 1, x, x^2 on SIDE_PX points.
struct shapes {
    double along[SHAPES][SIDE_PX];
};

static struct shapes shapes_make(void)
{
    struct shapes shapes;
    for (int k = 0; k < SHAPES; k++) {
        double *row = shapes.along[k];
        for (int i = 0; i < SIDE_PX; i++)
            row[i] = k == 0 ? 1.0 : pow(i - 0.5 * (SIDE_PX - 1), k);
        for (int other = 0; other <= k; other++) { // the last round scales to length 1
            double dot = 0.0;
            for (int i = 0; i < SIDE_PX; i++)
                dot += row[i] * shapes.along[other][i];
            for (int i = 0; i < SIDE_PX; i++)
                row[i] = other == k ? row[i] / sqrt(dot) : row[i] - dot * shapes.along[other][i];
        }
    }
    return shapes;
}

// Mean square of what the surface leaves over.
static double block_var(const struct shapes *shapes, const double block[BLOCK_PX])
{
    double mean = 0.0, total = 0.0, fitted = 0.0, by_row[SHAPES][SIDE_PX] = {{0}};
    for (int i = 0; i < BLOCK_PX; i++)
        mean += block[i] / BLOCK_PX;
    for (int y = 0; y < SIDE_PX; y++)
        for (int x = 0; x < SIDE_PX; x++) {
            double value = block[y * SIDE_PX + x] - mean;
            total += value * value;
            for (int k = 0; k < SHAPES; k++)
                by_row[k][y] += value * shapes->along[k][x];
        }
    for (int k = 0; k < SHAPES; k++)
        for (int l = 0; l < SHAPES; l++) {
            double c = 0.0;
            for (int y = 0; y < SIDE_PX; y++)
                c += by_row[k][y] * shapes->along[l][y];
            fitted += c * c;
        }
    return fmax(total - fitted, 0.0) / FREEDOM;
}

// Reads one channel of a block; false where a pixel of it is clipped, or where all are the same (a border, or
// a file of few levels: nothing to learn).
static bool block_read(const struct pc_picture *picture, int x0, int y0, int channel, double block[BLOCK_PX],
                       double *mean)
{
    bool varies = false;
    double sum = 0.0;
    for (int y = 0; y < SIDE_PX; y++) {
        size_t pixel = (size_t)(y0 + y) * (size_t)picture->width_px + (size_t)x0;
        const float *px = picture->px + pixel * (size_t)picture->channels + channel;
        for (int x = 0; x < SIDE_PX; x++) {
            if (picture->clipped[pixel + (size_t)x] >> channel & 1)
                return false;
            double value = (double)px[x * picture->channels];
            block[y * SIDE_PX + x] = value;
            varies = varies || value < block[0] || value > block[0];
            sum += value;
        }
    }
    *mean = sum / BLOCK_PX;
    return varies && isfinite(sum);
}

// An even lattice of blocks, at most BLOCKS_MAX.
struct lattice {
    int across, down, step_px;
};

static struct lattice lattice_over(const struct pc_picture *picture)
{
    struct lattice lattice = {.step_px = SIDE_PX};
    for (;; lattice.step_px++) {
        lattice.across = (picture->width_px - SIDE_PX) / lattice.step_px + 1;
        lattice.down = (picture->height_px - SIDE_PX) / lattice.step_px + 1;
        if (picture->width_px < SIDE_PX || picture->height_px < SIDE_PX)
            lattice.across = lattice.down = 0;
        if ((int64_t)lattice.across * lattice.down <= BLOCKS_MAX)
            return lattice;
    }
}

void pc_picture_noise_from_one(struct pc_picture *picture)
{
    picture->noise = (struct pc_noise){0};
    struct lattice lattice = lattice_over(picture);
    struct pc_transfer_sample *samples = calloc(BLOCKS_MAX, sizeof *samples);
    PC_ASSERT(samples != NULL);
    struct shapes shapes = shapes_make();
    for (int c = 0; c < picture->channels; c++) {
        int count = 0;
        for (int j = 0; j < lattice.down; j++)
            for (int i = 0; i < lattice.across; i++) {
                double block[BLOCK_PX], mean;
                if (block_read(picture, i * lattice.step_px, j * lattice.step_px, c, block, &mean))
                    samples[count++] =
                        (struct pc_transfer_sample){mean, block_var(&shapes, block), 1.0, fmax(mean, 0.0)};
            }
        struct pc_transfer_line line = pc_transfer_fit(samples, count, FREEDOM, ONE_SHARE);
        picture->noise.offset_var[c] = line.offset_var;
        picture->noise.per_signal_var[c] = line.per_signal_var;
    }
    free(samples);
}

// One channel of two blocks at one place.
struct twin {
    double a[BLOCK_PX], b[BLOCK_PX], mean_a, mean_b;
};

static bool twin_read(const struct pc_picture *a, const struct pc_picture *b, int x0, int y0, int channel,
                      struct twin *twin)
{
    return block_read(a, x0, y0, channel, twin->a, &twin->mean_a) &&
           block_read(b, x0, y0, channel, twin->b, &twin->mean_b);
}

// What the whole says of the pair: a's mean level and the ratio of b's light to a's, over the blocks that
// both have.
struct common {
    double mean_a, gain;
    int blocks;
};

static struct common common_find(const struct pc_picture *a, const struct pc_picture *b,
                                 const struct lattice *lattice, int channel)
{
    struct common common = {0};
    double sum_a = 0.0, sum_b = 0.0;
    for (int j = 0; j < lattice->down; j++)
        for (int i = 0; i < lattice->across; i++) {
            struct twin twin;
            if (!twin_read(a, b, i * lattice->step_px, j * lattice->step_px, channel, &twin))
                continue;
            sum_a += twin.mean_a;
            sum_b += twin.mean_b;
            common.blocks++;
        }
    if (sum_a > 0.0 && sum_b > 0.0) {
        common.mean_a = sum_a / common.blocks;
        common.gain = sum_b / sum_a;
    }
    return common;
}

// The difference of the two, b less gain times a: var = offset (1 + gain^2) + per_signal (b + gain^2 a).
// False where the light changed in another measure than in the whole.
static bool twin_sample(const struct shapes *shapes, struct twin *twin, const struct common *common,
                        struct pc_transfer_sample *sample)
{
    double dim =
        DIM_SHARE * common->mean_a; // far below it a block's own ratio is noise, and the whole's counts
    double expected = common->gain * twin->mean_a;
    if (!(fabs(twin->mean_b - expected) <= PAIR_GAIN_OFF * (fabs(expected) + common->gain * dim)))
        return false;
    double gain = (fmax(twin->mean_b, 0.0) + common->gain * dim) / (fmax(twin->mean_a, 0.0) + dim);
    for (int i = 0; i < BLOCK_PX; i++)
        twin->b[i] -= gain * twin->a[i];
    *sample = (struct pc_transfer_sample){
        .level = twin->mean_a,
        .var = block_var(shapes, twin->b),
        .x_offset = 1.0 + gain * gain,
        .x_signal = fmax(twin->mean_b, 0.0) + gain * gain * fmax(twin->mean_a, 0.0),
    };
    return true;
}

// The line of one channel; false when there is too little in common.
static bool pair_line(const struct pc_picture *a, const struct pc_picture *b, int channel,
                      struct pc_transfer_sample *samples, struct pc_transfer_line *line)
{
    struct shapes shapes = shapes_make();
    struct lattice lattice = lattice_over(a);
    struct common common = common_find(a, b, &lattice, channel);
    if (!(common.gain > 0.0))
        return false;
    int count = 0;
    for (int j = 0; j < lattice.down; j++)
        for (int i = 0; i < lattice.across; i++) {
            struct twin twin;
            if (twin_read(a, b, i * lattice.step_px, j * lattice.step_px, channel, &twin) &&
                twin_sample(&shapes, &twin, &common, &samples[count]))
                count++;
        }
    if (count < PC_TRANSFER_SAMPLES_LEAST || count < PAIR_COMMON_LEAST * common.blocks)
        return false;
    *line = pc_transfer_fit(samples, count, FREEDOM, PAIR_SHARE);
    return true;
}

bool pc_picture_noise_from_pair(struct pc_picture *a, struct pc_picture *b)
{
    if (a->width_px != b->width_px || a->height_px != b->height_px || a->channels != b->channels)
        return false;
    struct pc_transfer_sample *samples = calloc(BLOCKS_MAX, sizeof *samples);
    PC_ASSERT(samples != NULL);
    struct pc_noise noise = {0};
    bool found = true;
    for (int c = 0; found && c < a->channels; c++) {
        struct pc_transfer_line line = {0};
        found = pair_line(a, b, c, samples, &line);
        noise.offset_var[c] = line.offset_var;
        noise.per_signal_var[c] = line.per_signal_var;
    }
    free(samples);
    if (found)
        a->noise = b->noise = noise;
    return found;
}
