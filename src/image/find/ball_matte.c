// SPDX-License-Identifier: Apache-2.0
// The light's direction from a matte ball's shading.
#include "image/find/ball.h"

#include "base/linalg.h"
#include "image/find/ball_priv.h"

enum { SAMPLES_MAX = 1600, UNKNOWNS = 5, PASSES = 24 };

// The sine of a light's height over a place's own horizon under which a part of a large light may have set.
// Where all of it is up a light of any size shades like a point: linearly in the normal.
static const double SHADE_EDGE = 0.2;
static const double EVEN_deg = 8.0, COARSE_deg = 18.0; // docs/pose.md

struct sample {
    double normal[3], up, level;
    bool use;
};

static int gather(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                  const double up[3], struct sample *sample)
{
    const double LEAST_FACING = 0.25; // nearer to the rim a pixel holds what lies behind
    double cx = ball->x_px / picture->bin, cy = ball->y_px / picture->bin,
           r = 0.6 * ball->across_px / picture->bin;
    int every = (int)ceil(sqrt(4.0 * r * r / SAMPLES_MAX)), n = 0;
    for (int y = (int)fmax(0.0, cy - r); y < fmin(picture->height_px, cy + r); y += every)
        for (int x = (int)fmax(0.0, cx - r); x < fmin(picture->width_px, cx + r) && n < SAMPLES_MAX;
             x += every) {
            struct sample *s = &sample[n];
            double ray[3];
            ball_ray(picture, image_px, x + 0.5, y + 0.5, ray);
            s->level = ball_level(picture, x, y);
            if (!ball_normal(ball, ray, s->normal) || -ball_dot(ray, s->normal) < LEAST_FACING ||
                s->level >= 0.999)
                continue;
            s->up = ball_dot(s->normal, up);
            s->use = s->up > -0.6; // under it lies its own shadow
            n++;
        }
    return n;
}

// Level = g . n where g . n > 0, plus an even part, plus one that grows downwards (the table's). Linear once
// it is known which side is lit, so: by turns.
static bool fit(struct sample *sample, int count, double shade_edge, double g[UNKNOWNS], double *scatter)
{
    double *a = calloc((size_t)count * (UNKNOWNS + 1), sizeof *a), *b = a + (ptrdiff_t)count * UNKNOWNS;
    PC_ASSERT(a != NULL);
    bool good = true;
    for (int pass = 0; good && pass < PASSES; pass++) {
        int n = 0;
        for (int i = 0; i < count; i++) {
            const struct sample *s = &sample[i];
            if (!s->use)
                continue;
            bool lit = ball_dot(s->normal, g) > 0.0;
            double *row = a + (ptrdiff_t)n * UNKNOWNS;
            for (int k = 0; k < 3; k++)
                row[k] = lit ? s->normal[k] : 0.0;
            row[3] = 1.0;
            row[4] = -s->up;
            b[n++] = s->level;
        }
        good = n > 60 && pc_linalg_least_squares(n, UNKNOWNS, a, b, g);
        double square = 0.0;
        for (int i = 0; good && i < count; i++) {
            const struct sample *s = &sample[i];
            double off = s->level - fmax(0.0, ball_dot(s->normal, g)) - g[3] + g[4] * s->up;
            square += s->use ? off * off / n : 0.0;
        }
        *scatter = sqrt(square);
        double edge = shade_edge * sqrt(ball_dot(g, g));
        for (int i = 0; good && pass > 3 && i < count; i++) {
            struct sample *s = &sample[i];
            double off = s->level - fmax(0.0, ball_dot(s->normal, g)) - g[3] + g[4] * s->up;
            s->use = s->up > -0.6 && fabs(off) < 2.5 * *scatter + 1e-4 && fabs(ball_dot(s->normal, g)) > edge;
        }
    }
    free(a);
    return good;
}

static bool stands_out(const double g[UNKNOWNS])
{
    return sqrt(ball_dot(g, g)) > 0.5 * (fabs(g[3]) + fabs(g[4]));
}

bool pc_ball_matte(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                   const double up[3], double direction[3], double *tolerance_rad)
{
    struct sample *sample = calloc(SAMPLES_MAX, sizeof *sample);
    PC_ASSERT(sample != NULL);
    int count = gather(picture, image_px, ball, up, sample);
    double g[UNKNOWNS] = {0.0}, scatter = 0.0;
    // To begin with: towards where it is bright.
    double mean = 0.0;
    for (int i = 0; i < count; i++)
        mean += sample[i].level / count;
    for (int i = 0; i < count; i++)
        for (int k = 0; k < 3; k++)
            g[k] += (sample[i].level - mean) * sample[i].normal[k];
    bool good = count > 100 && fit(sample, count, 0.0, g, &scatter) && stands_out(g);
    if (good) {
        memcpy(direction, g, 3 * sizeof *g);
        ball_unit(direction);
        // What is left over is not noise but a source of some size and a ball that is not quite matte.
        double strength = sqrt(ball_dot(g, g)), coarse_rad = COARSE_deg * M_PI / 180.0;
        *tolerance_rad = hypot(1.96 * scatter / strength, coarse_rad);
        // Without the soft edge of the shade, where enough is left.
        if (fit(sample, count, SHADE_EDGE, g, &scatter) && stands_out(g)) {
            ball_unit(g);
            double apart_rad = acos(fmin(1.0, ball_dot(g, direction)));
            *tolerance_rad = hypot(apart_rad, EVEN_deg * M_PI / 180.0);
            memcpy(direction, g, 3 * sizeof *g);
        }
    }
    free(sample);
    return good;
}
