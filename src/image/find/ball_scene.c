// SPDX-License-Identifier: Apache-2.0
#include "image/find/ball_scene.h"

#define PI 3.14159265358979323846

enum { SUB = 4, LIGHT_LOOKS = 5 };

static double between(uint64_t *state, double least, double most)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u); // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return least + (most - least) * (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

static void cross(const double a[3], const double b[3], double c[3])
{
    c[0] = a[1] * b[2] - a[2] * b[1];
    c[1] = a[2] * b[0] - a[0] * b[2];
    c[2] = a[0] * b[1] - a[1] * b[0];
}

static void unit(double v[3])
{
    double l = sqrt(dot(v, v));
    for (int i = 0; i < 3; i++)
        v[i] /= l;
}

// The light's own axes, square to the line from the ball.
static void light_axes(const struct pc_ball_scene *s, double a[3], double b[3])
{
    cross(s->up, s->direction, a); // level, unless straight above
    if (dot(a, a) < 1e-6)
        a[0] = 1.0, a[1] = 0.0, a[2] = 0.0;
    unit(a);
    cross(s->direction, a, b);
    unit(b);
}

void pc_ball_scene_init(struct pc_ball_scene *s, uint64_t seed, bool matte)
{
    uint64_t state = seed * 101 + 3;
    *s = (struct pc_ball_scene){.seed = seed, .width_px = 480, .height_px = 360, .matte = matte};
    // A piece of a frame about the axis of its lens; the ball 60 to 220 pixels across.
    double tilt = between(&state, 0.0, 65.0) * PI / 180.0, roll = between(&state, -0.05, 0.05);
    s->up[0] = sin(tilt) * sin(roll);
    s->up[1] = -sin(tilt) * cos(roll);
    s->up[2] = -cos(tilt);
    s->image_px = between(&state, 2800.0, 6000.0);
    s->radius_mm = between(&state, 12.5, 30.0);
    double across_px = between(&state, 60.0, 220.0), away = 2.0 * s->radius_mm * s->image_px / across_px;
    s->centre_mm[0] = away * between(&state, -60.0, 60.0) / s->image_px;
    s->centre_mm[1] = away * between(&state, -30.0, 30.0) / s->image_px;
    s->centre_mm[2] = away;
    double light_m = between(&state, 0.6, 1.6);
    double to_camera[3] = {-s->centre_mm[0], -s->centre_mm[1], -s->centre_mm[2]}, a[3], b[3];
    unit(to_camera);
    do { // above the table, and not behind the ball
        double high = between(&state, 0.25, 0.98), way = between(&state, -PI, PI);
        double right[3] = {1.0, 0.0, 0.0}, ahead[3];
        for (int i = 0; i < 3; i++)
            right[i] -= s->up[0] * s->up[i];
        unit(right);
        cross(s->up, right, ahead);
        for (int i = 0; i < 3; i++)
            s->direction[i] =
                high * s->up[i] + sqrt(1.0 - high * high) * (cos(way) * right[i] + sin(way) * ahead[i]);
    } while (dot(s->direction, to_camera) < -0.35);
    for (int i = 0; i < 3; i++)
        s->light_mm[i] = s->centre_mm[i] + 1000.0 * light_m * s->direction[i];
    light_axes(s, a, b);
    s->round = between(&state, 0.0, 1.0) < 0.4;
    // As wide as 10 to 45 degrees, wider for a small ball so that its image has three pixels or more.
    double least = fmax(10.0, 10.0 * 120.0 / across_px);
    s->wide_rad = between(&state, least, 45.0) * PI / 180.0;
    s->narrow_rad = s->round ? s->wide_rad : s->wide_rad * between(&state, 0.6, 1.0);
    s->half_a_mm = 1000.0 * light_m * tan(0.5 * s->wide_rad);
    s->half_b_mm = 1000.0 * light_m * tan(0.5 * s->narrow_rad);
    s->board_ratio = between(&state, 0.06, 0.6);
    s->exposure = between(&state, 0.15, 0.8);
    s->blur_px = between(&state, 0.5, 1.0);
}

static bool hits_ball(const struct pc_ball_scene *s, const double from[3], const double way[3], double *t)
{
    double d[3] = {from[0] - s->centre_mm[0], from[1] - s->centre_mm[1], from[2] - s->centre_mm[2]};
    double b = dot(d, way), c = dot(d, d) - s->radius_mm * s->radius_mm, inside = b * b - c;
    if (inside < 0.0)
        return false;
    *t = -b - sqrt(inside);
    return *t > 1e-6;
}

// Illuminance from a grid over the light, relative to what faces it at the ball.
static double lit(const struct pc_ball_scene *s, const double at[3], const double normal[3], bool shadowed)
{
    double a[3], b[3], sum = 0.0, whole = 0.0;
    light_axes(s, a, b);
    double d0[3] = {s->light_mm[0] - s->centre_mm[0], s->light_mm[1] - s->centre_mm[1],
                    s->light_mm[2] - s->centre_mm[2]};
    for (int j = 0; j < LIGHT_LOOKS; j++)
        for (int i = 0; i < LIGHT_LOOKS; i++) {
            double u = 2.0 * (i + 0.5) / LIGHT_LOOKS - 1.0, v = 2.0 * (j + 0.5) / LIGHT_LOOKS - 1.0, way[3],
                   t;
            if (s->round && hypot(u, v) > 1.0)
                continue;
            whole += 1.0;
            for (int k = 0; k < 3; k++)
                way[k] = s->light_mm[k] + u * s->half_a_mm * a[k] + v * s->half_b_mm * b[k] - at[k];
            double square = dot(way, way);
            unit(way);
            double cosine = dot(way, normal);
            if (cosine <= 0.0 || (shadowed && hits_ball(s, at, way, &t)))
                continue;
            sum += cosine * fabs(dot(way, s->direction)) * dot(d0, d0) / square;
        }
    return sum / whole;
}

static double board(const struct pc_ball_scene *s, const double at[3])
{
    double x = at[0] / 3.0, y = at[1] / 3.0 + at[2] / 3.0;
    return s->board_ratio * (1.0 + 0.08 * sin(x) * sin(1.3 * y) + 0.05 * sin(0.31 * x + 0.2 * y));
}

// Radiance along a ray that has left the ball or the camera; white that faces the light gives 1.
static double radiance(const struct pc_ball_scene *s, const double from[3], const double way[3],
                       bool may_see_light)
{
    if (may_see_light) {
        double d[3] = {s->light_mm[0] - from[0], s->light_mm[1] - from[1], s->light_mm[2] - from[2]}, a[3],
               b[3];
        double facing = dot(way, s->direction), t = dot(d, s->direction) / facing;
        light_axes(s, a, b);
        if (facing > 0.0 && t > 0.0) {
            double p[3] = {t * way[0] - d[0], t * way[1] - d[1], t * way[2] - d[2]};
            double u = dot(p, a) / s->half_a_mm, v = dot(p, b) / s->half_b_mm;
            if (s->round ? hypot(u, v) < 1.0 : fabs(u) < 1.0 && fabs(v) < 1.0) {
                double area = (s->round ? PI : 4.0) * s->half_a_mm * s->half_b_mm;
                double d0 = 0.0;
                for (int i = 0; i < 3; i++)
                    d0 += (s->light_mm[i] - s->centre_mm[i]) * (s->light_mm[i] - s->centre_mm[i]);
                return PI * d0 / area; // L = E d^2 / area, in units of E / pi
            }
        }
    }
    double down = dot(way, s->up);
    if (down < -1e-6) {
        double foot[3], at[3], off = 0.0;
        for (int i = 0; i < 3; i++) {
            foot[i] = s->centre_mm[i] - s->radius_mm * s->up[i];
            off += (foot[i] - from[i]) * s->up[i];
        }
        double t = off / down;
        for (int i = 0; i < 3; i++)
            at[i] = from[i] + t * way[i];
        double r2 = 0.0;
        for (int i = 0; i < 3; i++)
            r2 += (at[i] - foot[i]) * (at[i] - foot[i]);
        if (r2 < 500.0 * 500.0)
            return board(s, at) * (lit(s, at, s->up, true) + 0.02);
    }
    return 0.015 + 0.01 * dot(way, s->up); // a dark room
}

static double seen(const struct pc_ball_scene *s, double x, double y)
{
    double ray[3] = {x - 0.5 * s->width_px, y - 0.5 * s->height_px, s->image_px}, from[3] = {0}, t;
    unit(ray);
    if (!hits_ball(s, from, ray, &t))
        return radiance(s, from, ray, false);
    double at[3], normal[3], way[3];
    for (int i = 0; i < 3; i++) {
        at[i] = t * ray[i];
        normal[i] = (at[i] - s->centre_mm[i]) / s->radius_mm;
    }
    if (s->matte) // and what an even, wide board throws back
        return 0.7 * (lit(s, at, normal, false) + 0.02 +
                      0.8 * s->board_ratio * dot(s->direction, s->up) * 0.5 * (1.0 - dot(normal, s->up)));
    double along = dot(ray, normal);
    for (int i = 0; i < 3; i++)
        way[i] = ray[i] - 2.0 * along * normal[i];
    double grazing = pow(1.0 + along, 5.0);
    return (0.6 + 0.4 * grazing) * radiance(s, at, way, true);
}

static void blur_rows(const float *in, float *out, int rows, int columns, size_t step_row, size_t step_column,
                      double sigma)
{
    double weight[9], sum = 0.0;
    for (int k = 0; k < 9; k++)
        sum += weight[k] = exp(-0.5 * (k - 4) * (k - 4) / (sigma * sigma));
    for (int j = 0; j < rows; j++)
        for (int i = 0; i < columns; i++) {
            double value = 0.0;
            for (int k = 0; k < 9; k++) {
                int at = i + k - 4;
                at = at < 0 ? 0 : at >= columns ? columns - 1 : at;
                value += weight[k] / sum * (double)in[(size_t)j * step_row + (size_t)at * step_column];
            }
            out[(size_t)j * step_row + (size_t)i * step_column] = (float)value;
        }
}

enum pc_status pc_ball_scene_draw(struct pc_ctx *ctx, const struct pc_ball_scene *s,
                                  struct pc_picture *picture, struct pc_err *err)
{
    int w = s->width_px, h = s->height_px;
    PC_TRY(pc_picture_init(ctx, picture, w, h, 1, err));
    picture->bin = 1;
    picture->full_width_px = w;
    picture->full_height_px = h;
    float *plane = calloc((size_t)w * (size_t)h, sizeof *plane);
    PC_ASSERT(plane != NULL);
    double cx = 0.5 * w + s->image_px * s->centre_mm[0] / s->centre_mm[2];
    double cy = 0.5 * h + s->image_px * s->centre_mm[1] / s->centre_mm[2];
    double near = 1.15 * s->image_px * s->radius_mm / s->centre_mm[2] + 4.0;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            int sub = hypot(x - cx, y - cy) < near ? SUB : 1;
            double sum = 0.0;
            for (int j = 0; j < sub; j++)
                for (int i = 0; i < sub; i++)
                    sum += seen(s, x + (i + 0.5) / sub, y + (j + 0.5) / sub);
            plane[(size_t)y * (size_t)w + (size_t)x] = (float)(s->exposure * sum / (sub * sub));
        }
    blur_rows(plane, picture->px, h, w, (size_t)w, 1, s->blur_px);
    blur_rows(picture->px, plane, w, h, 1, (size_t)w, s->blur_px);
    uint64_t noise = s->seed + 99;
    for (size_t i = 0; i < (size_t)w * (size_t)h; i++) {
        double sum = 0.0, level = (double)plane[i];
        for (int k = 0; k < 4; k++)
            sum += between(&noise, -1.0, 1.0);
        level += 0.866 * sum * sqrt(4e-7 + 4e-5 * level);
        picture->clipped[i] = level >= 1.0;
        picture->px[i] = (float)fmin(1.0, level);
    }
    free(plane);
    return PC_OK;
}
