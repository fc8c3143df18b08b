// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/photometry.h"

#include "base/file.h"
#include "base/tolerance.h"
#include "base/units.h"
#include "light/lamp/photometry_priv.h"

static const double SAME_DEG = 1e-6;

bool pc_photometry_same_deg(double a, double b)
{
    return fabs(a - b) <= SAME_DEG;
}

bool pc_photometry_v_fits(const double *v_deg, size_t count)
{
    double first = v_deg[0], last = v_deg[count - 1];
    return count >= 2 && (pc_photometry_same_deg(first, 0) || pc_photometry_same_deg(first, 90)) &&
           (pc_photometry_same_deg(last, 90) || pc_photometry_same_deg(last, 180));
}

void pc_photometry_add_note(struct pc_photometry *photometry, const char *sentence)
{
    if (photometry->notes < PC_PHOTOMETRY_NOTES_MAX)
        photometry->note[photometry->notes++] = sentence;
}

// Angles written out: which of the table's each is.
struct axis {
    size_t count;
    double *deg;
    size_t *from;
};

static struct axis axis_of(struct pc_arena *arena, const double *deg, size_t count)
{
    // Twice mirrored, or one more to close the circle.
    struct axis axis = {count, PC_NEW_N(arena, 4 * count + 1, double),
                        PC_NEW_N(arena, 4 * count + 1, size_t)};
    for (size_t i = 0; i < count; i++) {
        axis.deg[i] = deg[i];
        axis.from[i] = i;
    }
    return axis;
}

static void mirror_about_last(struct axis *axis)
{
    size_t last = axis->count - 1;
    for (size_t i = last; i-- > 0;) {
        axis->deg[axis->count] = 2 * axis->deg[last] - axis->deg[i];
        axis->from[axis->count++] = axis->from[i];
    }
}

static void mirror_about_first(struct axis *axis)
{
    size_t n = axis->count;
    for (size_t i = n; i-- > 0;) {
        axis->deg[i + n - 1] = axis->deg[i];
        axis->from[i + n - 1] = axis->from[i];
    }
    for (size_t i = 0; i + 1 < n; i++) {
        axis->deg[i] = 2 * axis->deg[n - 1] - axis->deg[2 * (n - 1) - i];
        axis->from[i] = axis->from[2 * (n - 1) - i];
    }
    axis->count = 2 * n - 1;
}

static struct axis h_axis(struct pc_arena *arena, const struct pc_photometry_table *table,
                          enum pc_photometry_type type)
{
    struct axis axis = axis_of(arena, table->h_deg, table->h_count);
    if (type != PC_PHOTOMETRY_C) {
        if (pc_photometry_same_deg(axis.deg[0], 0))
            mirror_about_first(&axis);
        return axis;
    }
    if (axis.count == 1) {
        axis.deg[1] = axis.deg[0] + 360;
        axis.from[1] = 0;
        axis.count = 2;
        return axis;
    }
    while (axis.deg[axis.count - 1] - axis.deg[0] < 360 - SAME_DEG)
        mirror_about_last(&axis);
    return axis;
}

void pc_photometry_unfold(struct pc_arena *arena, const struct pc_photometry_table *table,
                          struct pc_photometry *photometry)
{
    struct axis h = h_axis(arena, table, photometry->type), v = axis_of(arena, table->v_deg, table->v_count);
    if (photometry->type != PC_PHOTOMETRY_C && pc_photometry_same_deg(v.deg[0], 0))
        mirror_about_first(&v);
    double *candela = PC_NEW_N(arena, h.count * v.count, double);
    for (size_t j = 0; j < h.count; j++)
        for (size_t i = 0; i < v.count; i++)
            candela[j * v.count + i] = table->candela[h.from[j] * table->v_count + v.from[i]];
    photometry->h_count = h.count;
    photometry->h_deg = h.deg;
    photometry->v_count = v.count;
    photometry->v_deg = v.deg;
    photometry->candela = candela;
}

static bool begins_tilt(const char *text, size_t count)
{
    for (size_t i = 0; i + 5 <= count; i++)
        if ((i == 0 || text[i - 1] == '\n' || text[i - 1] == '\r') && memcmp(text + i, "TILT=", 5) == 0)
            return true;
    return false;
}

static bool named_ies(const char *path)
{
    size_t n = strlen(path);
    return n > 4 && path[n - 4] == '.' && (path[n - 3] | 32) == 'i' && (path[n - 2] | 32) == 'e' &&
           (path[n - 1] | 32) == 's';
}

enum pc_status pc_photometry_read_file(struct pc_arena *arena, const char *path,
                                       struct pc_photometry *photometry, struct pc_err *err)
{
    char *text;
    size_t count;
    PC_TRY(pc_file_read(arena, path, PC_PHOTOMETRY_BYTES_MAX, &text, &count, err));
    if (named_ies(path) || begins_tilt(text, count))
        return pc_photometry_read_lm63(arena, text, count, path, photometry, err);
    return pc_photometry_read_eulumdat(arena, text, count, path, photometry, err);
}

// The cell that holds an angle, and how far into it; false outside.
static bool find_cell(const double *deg, size_t count, double at, size_t *cell, double *into_ratio)
{
    if (!(at >= deg[0] - SAME_DEG && at <= deg[count - 1] + SAME_DEG))
        return false;
    size_t low = 0, high = count - 1;
    while (high - low > 1) {
        size_t middle = low + (high - low) / 2;
        if (deg[middle] <= at)
            low = middle;
        else
            high = middle;
    }
    *cell = low;
    *into_ratio = fmin(fmax((at - deg[low]) / (deg[high] - deg[low]), 0.0), 1.0);
    return true;
}

double pc_photometry_cd(const struct pc_photometry *photometry, double v_deg, double h_deg)
{
    size_t v, h, n = photometry->v_count;
    double in_v, in_h;
    if (photometry->type == PC_PHOTOMETRY_C) {
        double first = photometry->h_deg[0];
        h_deg = first + fmod(h_deg - first, 360.0);
        if (h_deg < first)
            h_deg += 360.0;
    }
    if (!find_cell(photometry->v_deg, n, v_deg, &v, &in_v) ||
        !find_cell(photometry->h_deg, photometry->h_count, h_deg, &h, &in_h))
        return 0;
    const double *low = photometry->candela + h * n + v, *high = low + n;
    return (1 - in_h) * ((1 - in_v) * low[0] + in_v * low[1]) +
           in_h * ((1 - in_v) * high[0] + in_v * high[1]);
}

// Integral of I sin(x) from a to b, I going straight from at_a to at_b; radians. By parts.
static double sine_integral(double a, double b, double at_a, double at_b)
{
    return at_a * cos(a) - at_b * cos(b) + (at_b - at_a) / (b - a) * (sin(b) - sin(a));
}

double pc_photometry_zone_lm(const struct pc_photometry *photometry, double from_v_deg, double to_v_deg)
{
    PC_ASSERT(photometry->type == PC_PHOTOMETRY_C);
    const size_t n = photometry->v_count;
    double sum = 0;
    for (size_t i = 0; i + 1 < n; i++) {
        double v0 = photometry->v_deg[i], v1 = photometry->v_deg[i + 1], a = fmax(v0, from_v_deg),
               b = fmin(v1, to_v_deg);
        if (!(b > a))
            continue;
        for (size_t j = 0; j + 1 < photometry->h_count; j++) {
            const double *low = photometry->candela + j * n + i, *high = low + n;
            double at0 = 0.5 * (low[0] + high[0]), at1 = 0.5 * (low[1] + high[1]),
                   slope = (at1 - at0) / (v1 - v0);
            sum += pc_rad_from_deg(photometry->h_deg[j + 1] - photometry->h_deg[j]) *
                   sine_integral(pc_rad_from_deg(a), pc_rad_from_deg(b), at0 + slope * (a - v0),
                                 at0 + slope * (b - v0));
        }
    }
    return sum;
}

// Types A and B: the angle in the plane counts with its cosine, the turning of the plane evenly.
static double planes_flux_lm(const struct pc_photometry *photometry)
{
    const size_t n = photometry->v_count;
    const double quarter = PC_PI / 2;
    double sum = 0;
    for (size_t j = 0; j + 1 < photometry->h_count; j++)
        for (size_t i = 0; i + 1 < n; i++) {
            const double *low = photometry->candela + j * n + i, *high = low + n;
            double v0 = pc_rad_from_deg(photometry->v_deg[i]), v1 = pc_rad_from_deg(photometry->v_deg[i + 1]);
            double h0 = pc_rad_from_deg(photometry->h_deg[j]), h1 = pc_rad_from_deg(photometry->h_deg[j + 1]);
            if (photometry->type == PC_PHOTOMETRY_A)
                sum += (h1 - h0) * sine_integral(v0 + quarter, v1 + quarter, 0.5 * (low[0] + high[0]),
                                                 0.5 * (low[1] + high[1]));
            else
                sum += (v1 - v0) * sine_integral(h0 + quarter, h1 + quarter, 0.5 * (low[0] + low[1]),
                                                 0.5 * (high[0] + high[1]));
        }
    return sum;
}

double pc_photometry_flux_lm(const struct pc_photometry *photometry)
{
    return photometry->type == PC_PHOTOMETRY_C ? pc_photometry_zone_lm(photometry, 0, 180)
                                               : planes_flux_lm(photometry);
}

double pc_photometry_peak_cd(const struct pc_photometry *photometry, double *v_deg, double *h_deg)
{
    const size_t n = photometry->v_count;
    size_t best = 0;
    for (size_t i = 1; i < n * photometry->h_count; i++)
        if (photometry->candela[i] > photometry->candela[best])
            best = i;
    *v_deg = photometry->v_deg[best % n];
    *h_deg = photometry->h_deg[best / n];
    return photometry->candela[best];
}

static bool lx_answer(const void *given, const double x[], double y[])
{
    y[0] = *(const double *)given / (x[0] * x[0]);
    return x[0] > 0;
}

double pc_photometry_lx(const struct pc_photometry *photometry, double v_deg, double h_deg, double distance_m,
                        double distance_m_tolerance, double *lx_tolerance)
{
    double cd = pc_photometry_cd(photometry, v_deg, h_deg), lx = NAN;
    *lx_tolerance = NAN;
    (void)pc_tolerance(lx_answer, &cd, 1, &distance_m, &distance_m_tolerance, 1, &lx, lx_tolerance);
    return lx;
}

double pc_photometry_tilt_ratio(const struct pc_photometry *photometry, double tilt_deg)
{
    size_t cell;
    double into, untilted = 1;
    if (photometry->tilt_count == 0)
        return 1;
    const double *ratio = photometry->tilt_ratio;
    if (photometry->tilt_count == 1)
        return pc_photometry_same_deg(tilt_deg, photometry->tilt_deg[0]) ? 1 : (double)NAN;
    if (find_cell(photometry->tilt_deg, photometry->tilt_count, 0, &cell, &into))
        untilted = ratio[cell] + into * (ratio[cell + 1] - ratio[cell]);
    if (!find_cell(photometry->tilt_deg, photometry->tilt_count, tilt_deg, &cell, &into))
        return NAN;
    return (ratio[cell] + into * (ratio[cell + 1] - ratio[cell])) / untilted;
}
