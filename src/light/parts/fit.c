// SPDX-License-Identifier: Apache-2.0
#include "light/parts/fit.h"

static const double MEASURED_TOLERANCE_PCT = 3.0; // of four or more dials, held-out dials between them
static const double SPARSE_TOLERANCE_PCT = 8.0;   // of two or three: a curve's bend is not seen
static const double DEAD_ZONE_SLOPE = 4.0;    // in log light by log dial: no working dimmer's law is as steep
static const double CLOSE_DIALS_RATIO = 1.05; // nearer to each other a slope is the readings' own error
static const double LEAST_RISE_RATIO = 1e-6;  // keeps levelled points ascending, as a curve needs them
static const double MIX_TOLERANCE_EV = 0.05;  // where the drive turns nowhere unseen
static const double MIX_TOLERANCE_MIRED = 8.0,
                    SPARSE_MIX_TOLERANCE_MIRED = 15.0; // of three kelvins or more; of fewer

// A slope read over less than this part of the way that is bridged is not gone on with, and a turn of less is
// the readings' own error.
static const double DOUBT_GROWS = 3.0;
enum { TURN_STEPS = 256 };
static const double LEAST_NEIGHBOUR_RATIO = 1.0 / 3.0, LEAST_TURN = 0.1;

struct point {
    double dial, light, weight; // a mix: mired, warm share
    double drive;               // of a mix
};

static int compare_points(const void *a, const void *b)
{
    const struct point *x = a, *y = b;
    return (x->dial > y->dial) - (x->dial < y->dial);
}

static int merge_equal_dials(struct point *points, int count)
{
    int n = 0;
    for (int i = 0; i < count; i++) {
        if (n > 0 && points[i].dial - points[n - 1].dial < 1e-4) {
            double w = points[n - 1].weight + 1.0;
            points[n - 1].light += (points[i].light - points[n - 1].light) / w;
            points[n - 1].weight = w;
        } else {
            points[n] = points[i];
            points[n++].weight = 1.0;
        }
    }
    return n;
}

static double level_falls(struct point *points, int n)
{
    struct point block[PC_CURVE_POINTS_MAX];
    int length[PC_CURVE_POINTS_MAX], blocks = 0;
    double fell = 0.0;
    for (int i = 0; i < n; i++) {
        block[blocks] = points[i];
        length[blocks++] = 1;
        while (blocks > 1 && block[blocks - 2].light >= block[blocks - 1].light) {
            struct point *a = &block[blocks - 2], *b = &block[blocks - 1];
            fell = fmax(fell, (a->light - b->light) / a->light);
            a->light = (a->light * a->weight + b->light * b->weight) / (a->weight + b->weight);
            a->weight += b->weight;
            length[blocks - 2] += length[blocks - 1];
            blocks--;
        }
    }
    for (int b = 0, i = 0; b < blocks; b++)
        for (int k = 0; k < length[b]; k++, i++)
            points[i].light = block[b].light * (1.0 + LEAST_RISE_RATIO * k);
    return fell;
}

// The second dial where the first two are as steep as beside a dead zone.
static double steep_below(const struct point *points)
{
    double dials = points[1].dial / points[0].dial;
    bool steep =
        dials > CLOSE_DIALS_RATIO && log(points[1].light / points[0].light) > DEAD_ZONE_SLOPE * log(dials);
    return steep ? points[1].dial : 0.0;
}

struct pc_curve pc_fit_curve(const double *dial_ratio, const double *light, int count, double *fell)
{
    struct point points[PC_CURVE_POINTS_MAX];
    int n = 0;
    if (fell != NULL)
        *fell = 0.0;
    for (int i = 0; i < count && n < PC_CURVE_POINTS_MAX; i++)
        if (dial_ratio[i] > 0.0 && light[i] > 0.0)
            points[n++] = (struct point){.dial = dial_ratio[i], .light = light[i]};
    qsort(points, (size_t)n, sizeof *points, compare_points);
    n = merge_equal_dials(points, n);
    if (n < 2)
        return pc_curve_straight();
    double most_fell = level_falls(points, n);
    if (fell != NULL)
        *fell = most_fell;
    struct pc_curve curve = {.points = n,
                             .tolerance_pct = n >= 4 ? MEASURED_TOLERANCE_PCT : SPARSE_TOLERANCE_PCT};
    curve.steep_below_ratio = steep_below(points);
    for (int i = 0; i < n; i++) {
        curve.dial_ratio[i] = points[i].dial;
        curve.light_ratio[i] = points[i].light;
    }
    return curve;
}

// Shares off their bounds and from each other by at least a hair, so that there is one setting for each.
static void keep_apart(struct point *points, int n)
{
    for (int i = 0; i < n; i++)
        points[i].light = fmax(points[i].light, (i > 0 ? points[i - 1].light : 0.0) + LEAST_RISE_RATIO);
    for (int i = n - 1; i >= 0; i--)
        points[i].light = fmin(points[i].light, (i < n - 1 ? points[i + 1].light : 1.0) - LEAST_RISE_RATIO);
}

static void add_mix(struct pc_kelvin *kelvin, double mired, double share, double drive)
{
    kelvin->mired[kelvin->points] = mired;
    kelvin->share_ratio[kelvin->points] = share;
    kelvin->drive_ratio[kelvin->points++] = drive;
}

// Slope of the inverse drive from point k to the next; NAN past the ends.
static double inverse_slope(const struct pc_kelvin *kelvin, int k)
{
    if (k < 0 || k + 1 >= kelvin->points)
        return NAN;
    return (1.0 / kelvin->drive_ratio[k + 1] - 1.0 / kelvin->drive_ratio[k]) /
           (kelvin->share_ratio[k + 1] - kelvin->share_ratio[k]);
}

// How surely the slope turns in one corner and not all along, 0..1: a turn all along goes on beyond the
// neighbours. Where nothing is known of those a corner is the likelier of the two. *doubt, of the way between
// line and corner, is how far off a guess of so much of it may be: in the end either may be true, unless it
// is nearly sure.
static double cornered(double before, double left, double right, double after, double *doubt)
{
    double half_turn = 0.5 * (right - left), beyond = 0.0;
    int sides = 0;
    if (!isnan(before)) {
        beyond += fabs(left - before);
        sides++;
    }
    if (!isnan(after)) {
        beyond += fabs(after - right);
        sides++;
    }
    double sure = sides > 0 ? fmax(0.0, 1.0 - beyond / (sides * half_turn)) : 1.0;
    *doubt = sides > 0 ? fmin(fmax(sure, 1.0 - sure), DOUBT_GROWS * (1.0 - sure)) : 1.0;
    return sure;
}

// How much more drive there could be between point k and the next than the straight line has: if the lines on
// both sides go on until they meet, and no emitter is over its own full. EV.
static double unseen_turn_ev(const struct pc_kelvin *kelvin, int k)
{
    double left = inverse_slope(kelvin, k - 1), chord = inverse_slope(kelvin, k),
           right = inverse_slope(kelvin, k + 1);
    double from = kelvin->share_ratio[k], to = kelvin->share_ratio[k + 1], most_ev = 0.0;
    for (int i = 1; i < TURN_STEPS; i++) {
        double way = (to - from) * i / TURN_STEPS, share = from + way;
        double straight = 1.0 / kelvin->drive_ratio[k] + way * chord, least = fmax(share, 1.0 - share);
        // fmax takes the number where the other, past the ends, is none
        least = fmax(least, 1.0 / kelvin->drive_ratio[k] + way * left);
        least = fmax(least, 1.0 / kelvin->drive_ratio[k + 1] - (to - share) * right);
        most_ev = fmax(most_ev, log2(straight / least));
    }
    return most_ev;
}

// Where the lines on both sides of point k and the next, gone on with, meet between the two.
// Returns the doubt about it, 0..1.
static double find_corner(struct pc_kelvin *kelvin, int k)
{
    double left = inverse_slope(kelvin, k - 1), chord = inverse_slope(kelvin, k),
           right = inverse_slope(kelvin, k + 1);
    double from = kelvin->share_ratio[k], width = kelvin->share_ratio[k + 1] - from;
    bool turns = left < chord && chord < right && right - left > LEAST_TURN;
    bool known = k > 0 && k + 2 < kelvin->points &&
                 from - kelvin->share_ratio[k - 1] > LEAST_NEIGHBOUR_RATIO * width &&
                 kelvin->share_ratio[k + 2] - kelvin->share_ratio[k + 1] > LEAST_NEIGHBOUR_RATIO * width;
    if (!turns || !known)
        return 1.0;
    double doubt, way = width * (right - chord) / (right - left), share = from + way;
    double straight = 1.0 / kelvin->drive_ratio[k] + way * chord;
    double sure = cornered(inverse_slope(kelvin, k - 2), left, right, inverse_slope(kelvin, k + 2), &doubt);
    double inverse = straight + sure * way * (left - chord);
    inverse = fmin(fmax(inverse, fmax(share, 1.0 - share)), straight); // no emitter over its own full
    kelvin->corner_share_ratio[k] = share;
    kelvin->corner_drive_ratio[k] = 1.0 / inverse;
    return doubt;
}

struct pc_kelvin pc_fit_kelvin(double cool_mired, double warm_mired, const struct pc_fit_mix *mixes,
                               int count, double *fell)
{
    struct point points[PC_KELVIN_POINTS_MAX - 2];
    struct pc_kelvin kelvin = {.points = 0};
    double shares[PC_KELVIN_POINTS_MAX], most_fell = 0.0;
    int n = 0;
    for (int i = 0; i < count && n < PC_KELVIN_POINTS_MAX - 2; i++) {
        const struct pc_fit_mix *mix = &mixes[i];
        double drive = mix->warm_ratio + mix->cool_ratio;
        if (mix->mired > cool_mired && mix->mired < warm_mired && drive > 0.0)
            points[n++] = (struct point){
                .dial = mix->mired, .light = mix->warm_ratio / drive, .weight = 1.0, .drive = drive};
    }
    qsort(points, (size_t)n, sizeof *points, compare_points);
    for (int i = 0; i < n; i++)
        shares[i] = points[i].light;
    level_falls(points, n);
    for (int i = 0; i < n; i++)
        most_fell = fmax(most_fell, fabs(points[i].light - shares[i]));
    if (fell != NULL)
        *fell = most_fell;
    if (n == 0)
        return kelvin;
    keep_apart(points, n);
    add_mix(&kelvin, cool_mired, 0.0, 1.0);
    for (int i = 0; i < n; i++)
        add_mix(&kelvin, points[i].dial, points[i].light, points[i].drive);
    add_mix(&kelvin, warm_mired, 1.0, 1.0);
    for (int k = 0; k + 1 < kelvin.points; k++) {
        double doubt = find_corner(&kelvin, k);
        kelvin.tolerance_ev = fmax(kelvin.tolerance_ev, doubt * unseen_turn_ev(&kelvin, k));
    }
    kelvin.tolerance_ev = hypot(kelvin.tolerance_ev, MIX_TOLERANCE_EV);
    kelvin.tolerance_mired = n >= 3 ? MIX_TOLERANCE_MIRED : SPARSE_MIX_TOLERANCE_MIRED;
    return kelvin;
}
