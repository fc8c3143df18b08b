// SPDX-License-Identifier: Apache-2.0
// The sides of a sheet laid on the edges of the picture itself, whole sides, whatever may cover a part of
// them.
#include "image/find/quad.h"
#include "image/find/sheet_priv.h"

enum { LOOKS_MAX = 96, STEPS_MAX = 256, REACH_steps = 8 };

static const double STEP_px = 0.5;     // along a look
static const double SIGMA_px = 1.0;    // of the Gaussian whose derivative weighs the profile
static const double LEAST_STEP = 0.03; // of the paper's own level: paper on white plaster has 0.08
// What repeated looks cannot average away: sampling, and how the paper's edge is cut and lies.
static const double FLOOR_px = 0.022;

struct looks {
    int count;
    double along[LOOKS_MAX], off[LOOKS_MAX]; // from the first corner; into the sheet
    bool use[LOOKS_MAX], clipped[LOOKS_MAX];
};

static double level_at(const struct pc_picture *picture, double x, double y, int *clipped)
{
    double fx = fmin(fmax(x - 0.5, 0.0), picture->width_px - 1.001);
    double fy = fmin(fmax(y - 0.5, 0.0), picture->height_px - 1.001);
    int ix = (int)fx, iy = (int)fy;
    double u = fx - ix, v = fy - iy;
    size_t channels = (size_t)picture->channels, green = channels == 3 ? 1 : 0;
    size_t at = (size_t)iy * (size_t)picture->width_px + (size_t)ix, down = (size_t)picture->width_px;
    const float *p = picture->px + at * channels + green;
    *clipped += picture->clipped[at] != 0;
    return (1.0 - v) * ((1.0 - u) * fmin(1.0, (double)p[0]) + u * fmin(1.0, (double)p[channels])) +
           v * ((1.0 - u) * fmin(1.0, (double)p[down * channels]) +
                u * fmin(1.0, (double)p[(down + 1) * channels]));
}

// The mean level over a stretch of the side, step by step from outside to inside.
static int profile_take(const struct pc_picture *picture, const double from[2], const double to[2],
                        const double inward[2], double within_px, int rows, double profile[STEPS_MAX],
                        bool *clipped)
{
    int steps = 2 * ((int)ceil(within_px / STEP_px) + REACH_steps);
    steps = steps > STEPS_MAX ? STEPS_MAX : steps;
    int inner_clipped = 0;
    rows = (int)fmin(rows, fmax(2.0, hypot(to[0] - from[0], to[1] - from[1])));
    for (int i = 0; i < steps; i++) {
        double s = (i + 0.5 - 0.5 * steps) * STEP_px, sum = 0.0;
        inner_clipped = 0;
        for (int k = 0; k < rows; k++) {
            double t = (k + 0.5) / rows;
            sum += level_at(picture, from[0] + t * (to[0] - from[0]) + s * inward[0],
                            from[1] + t * (to[1] - from[1]) + s * inward[1], &inner_clipped);
        }
        profile[i] = sum / rows;
    }
    *clipped = 2 * inner_clipped > rows;
    return steps;
}

// Where the profile rises most into the sheet, by the derivative of a Gaussian (Canny, IEEE PAMI 8:679,
// 1986). Where the paper is clipped its edge is still the steepest place as long as it is clipped by less
// than a stop.
static bool steepest(const double profile[STEPS_MAX], int steps, double *s_px)
{
    double weight[REACH_steps + 1], norm = 0.0, slope[STEPS_MAX] = {0};
    for (int k = 1; k <= REACH_steps; k++) {
        double r = k * STEP_px / SIGMA_px;
        weight[k] = r * exp(-0.5 * r * r);
        norm += weight[k];
    }
    int at = 0;
    for (int i = REACH_steps; i < steps - REACH_steps; i++) {
        for (int k = 1; k <= REACH_steps; k++)
            slope[i] += weight[k] / norm * (profile[i + k] - profile[i - k]);
        if (at == 0 || slope[i] > slope[at])
            at = i;
    }
    if (at <= REACH_steps || at >= steps - REACH_steps - 1)
        return false;
    double in = 0.0;
    for (int k = 2; k < REACH_steps; k++)
        in += profile[at + k] / (REACH_steps - 2);
    double l = slope[at - 1], m = slope[at], r = slope[at + 1], bend = l - 2.0 * m + r;
    if (!(m > LEAST_STEP * in) || !(bend < 0.0))
        return false;
    *s_px = (at + 0.5 * (l - r) / bend + 0.5 - 0.5 * steps) * STEP_px;
    return true;
}

// How closely a side is looked at, coarse first: wide looks find it, narrow ones are not disturbed by what
// lies farther out.
struct care {
    double most_px; // to either side
    double line_px; // how far a look may be from the line of most
    int looks, rows;
};
static const struct care cares[] = {{60.0, 1.5, 36, 4}, {6.0, 1.0, 48, 6}, {3.0, 0.7, LOOKS_MAX, 16}};

static int look_count(const struct care *care, double length_px)
{
    return (int)fmin(care->looks, fmax(16.0, length_px / 4.0));
}

static void look(const struct pc_picture *picture, const double a[2], const double b[2], double within_px,
                 const struct care *care, struct looks *looks)
{
    double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy);
    const double inward[2] = {-dy / length, dx / length};
    double margin = fmin(0.2, fmax(0.02, (within_px + 3.0) / length)); // near a corner a look meets two sides
    int count = look_count(care, length);
    double step = (1.0 - 2.0 * margin) / count;
    looks->count = 0;
    for (int i = 0; i < count; i++) {
        double t = margin + i * step, s, profile[STEPS_MAX];
        const double from[2] = {a[0] + t * dx, a[1] + t * dy};
        const double to[2] = {from[0] + step * dx, from[1] + step * dy};
        bool clipped;
        int steps = profile_take(picture, from, to, inward, within_px, care->rows, profile, &clipped);
        if (!steepest(profile, steps, &s))
            continue;
        looks->along[looks->count] = (t + 0.5 * step) * length;
        looks->off[looks->count] = s;
        looks->clipped[looks->count++] = clipped;
    }
}

// The line that most looks lie on: of all through two of them the one with the least sum of squares, each cut
// at within_px (Torr and Zisserman, CVIU 78:138, 2000).
static bool line_of_most(const struct looks *looks, double within_px, double *offset, double *slope)
{
    double least = INFINITY, most = within_px * within_px;
    for (int i = 0; i < looks->count; i++)
        for (int j = i + looks->count / 8 + 1; j < looks->count; j++) {
            double b = (looks->off[j] - looks->off[i]) / (looks->along[j] - looks->along[i]);
            double a = looks->off[i] - b * looks->along[i], sum = 0.0;
            for (int k = 0; k < looks->count && sum < least; k++) {
                double off = looks->off[k] - a - b * looks->along[k];
                sum += fmin(off * off, most);
            }
            if (sum < least)
                least = sum, *offset = a, *slope = b;
        }
    return isfinite(least);
}

struct line {
    double middle, offset, slope, scatter, spread; // along at its middle; there; sum of squares of along
    int kept;
};

// Least squares through the looks near the line; twice, as the line moves.
static bool line_settle(struct looks *looks, double within_px, double offset, double slope, struct line *line)
{
    for (int pass = 0; pass < 3; pass++) {
        double n = 0, st = 0, so = 0, stt = 0, sto = 0, square = 0;
        for (int k = 0; k < looks->count; k++) {
            looks->use[k] = fabs(looks->off[k] - offset - slope * looks->along[k]) <= within_px;
            n += looks->use[k];
            st += looks->use[k] ? looks->along[k] : 0.0;
            so += looks->use[k] ? looks->off[k] : 0.0;
        }
        if (n < 5.0)
            return false;
        double mt = st / n, mo = so / n;
        for (int k = 0; k < looks->count; k++)
            if (looks->use[k]) {
                stt += (looks->along[k] - mt) * (looks->along[k] - mt);
                sto += (looks->along[k] - mt) * (looks->off[k] - mo);
            }
        slope = sto / stt;
        offset = mo - slope * mt;
        for (int k = 0; k < looks->count; k++)
            if (looks->use[k]) {
                double off = looks->off[k] - offset - slope * looks->along[k];
                square += off * off;
            }
        *line = (struct line){mt, mo, slope, sqrt(square / (n - 2.0)), stt, (int)n};
        within_px = fmin(within_px, fmax(2.5 * line->scatter, 0.15));
    }
    return true;
}

static bool lines_meet(const struct pc_sheet_side *a, const struct pc_sheet_side *b, double xy[2])
{
    double det = a->nx * b->ny - a->ny * b->nx;
    if (fabs(det) < 0.15)
        return false;
    double ca = a->nx * a->x_px + a->ny * a->y_px, cb = b->nx * b->x_px + b->ny * b->y_px;
    xy[0] = (ca * b->ny - cb * a->ny) / det;
    xy[1] = (a->nx * cb - b->nx * ca) / det;
    return true;
}

static bool lay_side(const struct pc_picture *picture, const double a[2], const double b[2], double within_px,
                     const struct care *care, struct pc_sheet_side *side, double *clipped_ratio)
{
    const double LEAST_SEEN = 0.3;
    double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy), offset = 0.0, slope = 0.0;
    if (!(length > 16.0))
        return false;
    struct looks looks;
    struct line line;
    look(picture, a, b, within_px, care, &looks);
    if (!line_of_most(&looks, care->line_px, &offset, &slope) ||
        !line_settle(&looks, care->line_px, offset, slope, &line))
        return false;
    double tx = dx / length, ty = dy / length, turn = atan(line.slope), c = cos(turn), s = sin(turn);
    *side = (struct pc_sheet_side){
        .x_px = a[0] + line.middle * tx - line.offset * ty,
        .y_px = a[1] + line.middle * ty + line.offset * tx,
        .nx = -ty * c - tx * s,
        .ny = tx * c - ty * s,
        .offset_sd_px = hypot(line.scatter / sqrt(line.kept), FLOOR_px),
        .slope_sd_ratio = hypot(line.scatter / sqrt(line.spread), FLOOR_px * sqrt(line.kept / line.spread)),
        .seen_ratio = line.kept / (double)look_count(care, length),
    };
    int clipped = 0;
    for (int k = 0; k < looks.count; k++)
        clipped += looks.use[k] && looks.clipped[k];
    *clipped_ratio = clipped / (double)line.kept;
    return side->seen_ratio >= LEAST_SEEN;
}

bool sheet_sides(const struct pc_picture *picture, const double corner[4][2], double within_px,
                 struct pc_sheet *sheet)
{
    struct pc_sheet laid = {0};
    memcpy(laid.corner_px, corner, sizeof laid.corner_px);
    for (size_t pass = 0; pass < PC_COUNT(cares); pass++) {
        double at[4][2];
        laid.clipped_ratio = 0.0;
        for (int i = 0; i < 4; i++) {
            double clipped;
            if (!lay_side(picture, laid.corner_px[i], laid.corner_px[(i + 1) % 4],
                          fmin(within_px, cares[pass].most_px), &cares[pass], &laid.side[i], &clipped))
                return false;
            laid.clipped_ratio += 0.25 * clipped;
        }
        for (int i = 0; i < 4; i++)
            if (!lines_meet(&laid.side[(i + 3) % 4], &laid.side[i], at[i]))
                return false;
        if (!(pc_quad_area(at) > 0.0))
            return false;
        memcpy(laid.corner_px, at, sizeof at);
    }
    *sheet = laid;
    return true;
}
