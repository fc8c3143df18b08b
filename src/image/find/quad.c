// SPDX-License-Identifier: Apache-2.0
#include "image/find/quad.h"

enum { STRETCHES = 20, LOOK_STEPS_MAX = 128 };

static const double STEP_px = 0.5; // along a look

// A line as a point on it and a unit normal.
struct line {
    double x, y, nx, ny;
};

static double cross(const double o[2], const double a[2], const double b[2])
{
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]);
}

double pc_quad_area(const double corner[4][2])
{
    double twice = 0.0;
    for (int i = 0; i < 4; i++) {
        const double *a = corner[i], *b = corner[(i + 1) % 4];
        twice += a[0] * b[1] - a[1] * b[0];
    }
    return 0.5 * twice;
}

bool pc_quad_holds(const double corner[4][2], double x, double y)
{
    const double p[2] = {x, y};
    for (int i = 0; i < 4; i++)
        if (cross(corner[i], corner[(i + 1) % 4], p) < 0.0)
            return false;
    return true;
}

static bool lines_cross(const struct line *a, const struct line *b, double xy[2])
{
    double det = a->nx * b->ny - a->ny * b->nx;
    if (fabs(det) < 0.05) // under 3 degrees apart: no corner
        return false;
    double ca = a->nx * a->x + a->ny * a->y, cb = b->nx * b->x + b->ny * b->y;
    xy[0] = (ca * b->ny - cb * a->ny) / det;
    xy[1] = (a->nx * cb - b->nx * ca) / det;
    return true;
}

static bool line_through(const double a[2], const double b[2], struct line *line)
{
    double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy);
    if (!(length > 0.0))
        return false;
    *line = (struct line){a[0], a[1], -dy / length, dx / length};
    return true;
}

bool pc_quad_centre(const double corner[4][2], double xy[2])
{
    struct line a, b;
    return line_through(corner[0], corner[2], &a) && line_through(corner[1], corner[3], &b) &&
           lines_cross(&a, &b, xy);
}

// Total least squares through the points that are in use.
static bool line_fit(const double (*p)[2], const bool *use, int count, struct line *line)
{
    double n = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, syy = 0;
    for (int i = 0; i < count; i++)
        if (use[i]) {
            n += 1.0;
            sx += p[i][0];
            sy += p[i][1];
        }
    if (n < 3.0)
        return false;
    double mx = sx / n, my = sy / n;
    for (int i = 0; i < count; i++)
        if (use[i]) {
            double x = p[i][0] - mx, y = p[i][1] - my;
            sxx += x * x;
            sxy += x * y;
            syy += y * y;
        }
    double along = 0.5 * atan2(2.0 * sxy, sxx - syy);
    *line = (struct line){mx, my, -sin(along), cos(along)};
    return true;
}

static double line_off(const struct line *line, const double p[2])
{
    return (p[0] - line->x) * line->nx + (p[1] - line->y) * line->ny;
}

// Fits, leaves out what is far from the line, fits again. Returns how many points stayed; 0: no line.
static int line_fit_robust(const double (*p)[2], bool *use, int count, double least_px, struct line *line,
                           double *off_px)
{
    int kept = 0;
    for (int pass = 0; pass < 6; pass++) {
        if (!line_fit(p, use, count, line))
            return 0;
        double sum = 0.0;
        kept = 0;
        for (int i = 0; i < count; i++)
            if (use[i]) {
                double off = line_off(line, p[i]);
                sum += off * off;
                kept++;
            }
        *off_px = sqrt(sum / kept);
        double most = fmax(2.2 * *off_px, least_px);
        bool changed = false;
        for (int i = 0; i < count; i++)
            if (use[i] && fabs(line_off(line, p[i])) > most) {
                use[i] = false;
                changed = true;
            }
        if (!changed)
            break;
    }
    return kept;
}

static int compare_points(const void *a, const void *b)
{
    const double *p = a, *q = b;
    if (p[0] != q[0])
        return p[0] < q[0] ? -1 : 1;
    return p[1] < q[1] ? -1 : p[1] > q[1];
}

// Andrew's monotone chain; points are sorted in place. Clockwise as seen (y down).
static int hull_of(double (*p)[2], int count, double (*hull)[2])
{
    qsort(p, (size_t)count, sizeof *p, compare_points);
    int n = 0;
    for (int i = 0; i < count; i++) {
        while (n >= 2 && cross(hull[n - 2], hull[n - 1], p[i]) <= 0.0)
            n--;
        memcpy(hull[n++], p[i], sizeof *p);
    }
    int lower = n + 1;
    for (int i = count - 2; i >= 0; i--) {
        while (n >= lower && cross(hull[n - 2], hull[n - 1], p[i]) <= 0.0)
            n--;
        memcpy(hull[n++], p[i], sizeof *p);
    }
    return n - 1;
}

// The largest four-sided figure with its corners on the hull: for each diagonal the farthest point on either
// side, both of which only move forward as the diagonal turns.
static bool largest_four(const double (*hull)[2], int n, double corner[4][2])
{
    double best = 0.0;
    int at[4] = {0};
    for (int i = 0; n >= 4 && i < n - 2; i++) {
        int p = i + 1, q = i + 3;
        for (int j = i + 2; j < n; j++) {
            while (p + 1 < j && cross(hull[i], hull[p + 1], hull[j]) >= cross(hull[i], hull[p], hull[j]))
                p++;
            if (q <= j)
                q = j + 1;
            while (q + 1 < n + i &&
                   cross(hull[j], hull[(q + 1) % n], hull[i]) >= cross(hull[j], hull[q % n], hull[i]))
                q++;
            if (q >= n + i)
                continue;
            double twice = cross(hull[i], hull[p], hull[j]) + cross(hull[j], hull[q % n], hull[i]);
            if (twice > best) {
                best = twice;
                at[0] = i, at[1] = p, at[2] = j, at[3] = q % n;
            }
        }
    }
    for (int i = 0; i < 4; i++)
        memcpy(corner[i], hull[at[i]], sizeof corner[i]);
    return best > 0.0;
}

static double segment_distance(const double a[2], const double b[2], const double p[2], double *along)
{
    double dx = b[0] - a[0], dy = b[1] - a[1], square = dx * dx + dy * dy;
    double t = square > 0.0 ? ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square : 0.0;
    *along = t;
    t = fmin(1.0, fmax(0.0, t));
    return hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy);
}

static bool corners_from_lines(const struct line line[4], double corner[4][2])
{
    double at[4][2];
    for (int i = 0; i < 4; i++)
        if (!lines_cross(&line[(i + 3) % 4], &line[i], at[i]))
            return false;
    for (int i = 0; i < 4; i++) // convex, and in the order it had
        if (!(cross(at[i], at[(i + 1) % 4], at[(i + 2) % 4]) > 0.0))
            return false;
    memcpy(corner, at, sizeof at);
    return true;
}

// One round of: each point of the rim to its side, a line to each side's points.
static bool fit_sides(const double (*rim)[2], int count, bool *use, double corner[4][2], double *off_px)
{
    struct line line[4];
    double sum = 0.0;
    int counted = 0;
    for (int side = 0; side < 4; side++) {
        int on_side = 0;
        for (int i = 0; i < count; i++) {
            double nearest = INFINITY, along_nearest = 0.0;
            int of = 0;
            for (int s = 0; s < 4; s++) {
                double along, d = segment_distance(corner[s], corner[(s + 1) % 4], rim[i], &along);
                if (d < nearest)
                    nearest = d, of = s, along_nearest = along;
            }
            use[i] = of == side && along_nearest > 0.08 && along_nearest < 0.92;
            on_side += use[i];
        }
        double off;
        if (on_side < 3 || !line_fit(rim, use, count, &line[side]))
            return false;
        for (int i = 0; i < count; i++) // before the outliers go: a round rim may not pass for four sides
            if (use[i]) {
                off = line_off(&line[side], rim[i]);
                sum += off * off;
                counted++;
            }
        if (line_fit_robust(rim, use, count, 0.5, &line[side], &off) < 3)
            return false;
    }
    *off_px = sqrt(sum / counted);
    return corners_from_lines(line, corner);
}

bool pc_quad_from_rim(const double (*rim)[2], int count, double corner[4][2], double *off_px)
{
    if (count < 12)
        return false;
    double(*work)[2] = calloc((size_t)count * 3 + 2, sizeof *work);
    bool *use = calloc((size_t)count, sizeof *use);
    PC_ASSERT(work != NULL && use != NULL);
    memcpy(work, rim, sizeof *work * (size_t)count);
    double(*hull)[2] = work + count;
    int n = hull_of(work, count, hull);
    bool good = largest_four(hull, n, corner) && fit_sides(rim, count, use, corner, off_px) &&
                fit_sides(rim, count, use, corner, off_px);
    free(work);
    free(use);
    return good;
}

static void sample(const struct pc_picture *picture, double x, double y, double value[3])
{
    double fx = fmin(fmax(x - 0.5, 0.0), picture->width_px - 1.001);
    double fy = fmin(fmax(y - 0.5, 0.0), picture->height_px - 1.001);
    int ix = (int)fx, iy = (int)fy, channels = picture->channels;
    int right = picture->width_px > 1 ? channels : 0;
    size_t down = picture->height_px > 1 ? (size_t)picture->width_px * (size_t)channels : 0;
    double u = fx - ix, v = fy - iy;
    const float *p = picture->px + ((size_t)iy * (size_t)picture->width_px + (size_t)ix) * (size_t)channels;
    for (int c = 0; c < channels; c++) {
        const float *q = p + c;
        value[c] = (1.0 - v) * ((1.0 - u) * (double)q[0] + u * (double)q[right]) +
                   v * ((1.0 - u) * (double)q[down] + u * (double)q[down + (size_t)right]);
    }
}

// The mean of several looks across a side along its normal, from outside to inside in half pixels, relative
// to the level at the inner end.
struct profile {
    int steps, channels;
    double value[LOOK_STEPS_MAX][3];
};

static bool profile_take(const struct pc_picture *picture, const double from[2], const double to[2],
                         int looks, const double inward[2], double within_px, struct profile *profile)
{
    int steps = 2 * (int)ceil((within_px + 3.0) / STEP_px), channels = picture->channels;
    if (steps > LOOK_STEPS_MAX)
        steps = LOOK_STEPS_MAX;
    memset(profile, 0, sizeof *profile);
    profile->steps = steps;
    profile->channels = channels;
    for (int k = 0; k < looks; k++) {
        double t = (k + 0.5) / looks, x = from[0] + t * (to[0] - from[0]),
               y = from[1] + t * (to[1] - from[1]);
        for (int i = 0; i < steps; i++) {
            double s = (i + 0.5 - 0.5 * steps) * STEP_px, value[3];
            sample(picture, x + s * inward[0], y + s * inward[1], value);
            for (int c = 0; c < channels; c++)
                profile->value[i][c] += value[c];
        }
    }
    for (int c = 0; c < channels; c++) {
        double in = 0.0;
        for (int i = steps - 4; i < steps; i++)
            in += 0.25 * profile->value[i][c];
        if (!(in > 0.0))
            return false;
        for (int i = 0; i < steps; i++)
            profile->value[i][c] /= in;
    }
    return true;
}

// Where the profile is steepest, coming from inside: the card is plain and its own edge is the first one met,
// while a shadow or a grain may lie beyond. The slope is taken with the derivative of a Gaussian (Canny, IEEE
// PAMI 8:679, 1986), narrow so that a soft shadow that begins at the edge moves it little. False when there
// is no step of LEAST_STEP.
static bool profile_edge(const struct profile *profile, double *s_px)
{
    enum { REACH = 5 };
    const double LEAST_STEP = 0.04, FIRST_ratio = 0.6, SIGMA_px = 0.8;
    double slope[LOOK_STEPS_MAX] = {0}, weight[REACH + 1], most = 0.0, norm = 0.0;
    for (int k = 1; k <= REACH; k++) {
        double r = k * STEP_px / SIGMA_px;
        weight[k] = r * exp(-0.5 * r * r);
        norm += weight[k];
    }
    int n = profile->steps;
    for (int i = REACH; i < n - REACH; i++) {
        double square = 0.0;
        for (int c = 0; c < profile->channels; c++) {
            double d = 0.0;
            for (int k = 1; k <= REACH; k++)
                d += weight[k] / norm * (profile->value[i + k][c] - profile->value[i - k][c]);
            square += d * d;
        }
        slope[i] = sqrt(square);
        most = fmax(most, slope[i]);
    }
    if (!(most > LEAST_STEP))
        return false;
    for (int i = n - REACH - 2; i > REACH; i--) {
        double l = slope[i - 1], m = slope[i], r = slope[i + 1];
        if (m < FIRST_ratio * most || m < l || m < r)
            continue;
        double bend = l - 2.0 * m + r;
        *s_px = (i + (bend < 0.0 ? 0.5 * (l - r) / bend : 0.0) + 0.5 - 0.5 * n) * STEP_px;
        return true;
    }
    return false;
}

static bool refine_once(const struct pc_picture *picture, double within_px, double corner[4][2],
                        struct pc_quad_edges *edges)
{
    struct line line[4];
    double sum = 0.0, moved[4][2];
    for (int side = 0; side < 4; side++) {
        const double *a = corner[side], *b = corner[(side + 1) % 4];
        double dx = b[0] - a[0], dy = b[1] - a[1], length = hypot(dx, dy);
        if (!(length > 4.0))
            return false;
        const double inward[2] = {-dy / length, dx / length};
        double margin =
            fmin(0.25, fmax(0.05, (within_px + 2.0) / length)); // near a corner a look meets two sides
        double step = (1.0 - 2.0 * margin) / STRETCHES;
        int looks = (int)fmin(24.0, fmax(4.0, length * step));
        double edge[STRETCHES][2];
        bool use[STRETCHES];
        int seen = 0;
        for (int i = 0; i < STRETCHES; i++) {
            double t = margin + i * step, s;
            const double from[2] = {a[0] + t * dx, a[1] + t * dy};
            const double to[2] = {from[0] + step * dx, from[1] + step * dy};
            struct profile profile;
            if (!profile_take(picture, from, to, looks, inward, within_px, &profile) ||
                !profile_edge(&profile, &s))
                continue;
            edge[seen][0] = 0.5 * (from[0] + to[0]) + s * inward[0];
            edge[seen][1] = 0.5 * (from[1] + to[1]) + s * inward[1];
            use[seen++] = true;
        }
        double off = 0.0;
        int kept = line_fit_robust(edge, use, seen, 0.4, &line[side], &off);
        edges->seen_ratio[side] = kept / (double)STRETCHES;
        if (kept < STRETCHES / 4)
            return false;
        sum += off * off;
    }
    edges->off_px = sqrt(sum / 4.0);
    memcpy(moved, corner, sizeof moved);
    if (!corners_from_lines(line, moved))
        return false;
    memcpy(corner, moved, sizeof moved);
    return true;
}

bool pc_quad_refine(const struct pc_picture *picture, double within_px, double corner[4][2],
                    struct pc_quad_edges *edges)
{
    double moved[4][2];
    memcpy(moved, corner, sizeof moved);
    // Wide looks find the sides; narrow ones are not disturbed by what lies farther out.
    if (!refine_once(picture, within_px, moved, edges) ||
        !refine_once(picture, fmin(4.0, within_px), moved, edges) || !refine_once(picture, 2.5, moved, edges))
        return false;
    memcpy(corner, moved, sizeof moved);
    return true;
}
