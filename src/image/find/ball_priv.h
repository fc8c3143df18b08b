// SPDX-License-Identifier: Apache-2.0
#ifndef PC_IMAGE_FIND_BALL_PRIV_H
#define PC_IMAGE_FIND_BALL_PRIV_H

#include "image/find/ball.h"

static inline double ball_dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static inline void ball_unit(double v[3])
{
    double length = sqrt(ball_dot(v, v));
    for (int i = 0; i < 3; i++)
        v[i] /= length;
}

// The ray through a place of the picture at hand (its own pixels).
static inline void ball_ray(const struct pc_picture *picture, double image_px, double x, double y,
                            double ray[3])
{
    ray[0] = x * picture->bin - 0.5 * picture->full_width_px;
    ray[1] = y * picture->bin - 0.5 * picture->full_height_px;
    ray[2] = image_px;
    ball_unit(ray);
}

// Green or the only channel, no more than what clips.
static inline double ball_level(const struct pc_picture *picture, int x, int y)
{
    size_t at = (size_t)y * (size_t)picture->width_px + (size_t)x;
    double value = (double)picture->px[picture->channels == 3 ? 3 * at + 1 : at];
    return picture->clipped[at] != 0 || value > 1.0 ? 1.0 : value > 0.0 ? value : 0.0;
}

// The outward normal where a ray meets the ball. False when it does not.
bool ball_normal(const struct pc_ball *ball, const double ray[3], double normal[3]);

// How far outside of the outline a ray passes, in pixels of the picture at hand; near it.
double ball_outside_px(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                       const double ray[3]);

// Lays the outline of a mirror ball that stands on the table by the table that it mirrors, from the best of
// several first guesses, or wherever a place (full-resolution pixels) lies in it, its radius at most most_px
// of the picture at hand. False when too little of that table lies in the picture, or none foretells it.
bool ball_fit_mirror(const struct pc_picture *picture, double image_px, const double up[3],
                     const struct pc_ball *guesses, int count, double x_px, double y_px, double most_px,
                     struct pc_ball *ball);

#endif
