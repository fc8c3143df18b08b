// SPDX-License-Identifier: Apache-2.0
// Shake told from defocus: both soften edges, but shake only those that it crosses, all over the frame.
#include "base/linalg.h"
#include "base/units.h"
#include "shoot/check/check_priv.h"

enum { WAYS = PC_BLUR_WAYS, LEAST_WAYS = 5, LEAST_TILES = 3 };
static const double LEAST_ONE_WAY_RATIO = 0.55; // of the mean growth; a pure smear has 1, defocus 0
static const double TILES_RATIO = 0.65;         // of those that can tell must show it
static const double WITHOUT_LOCKED_RATIO = 1.5; // what grain of wood and cloth may look like

// var(way) = mean + with cos(2 (way - at)).
struct smear {
    double mean, with, at_rad;
};

static void sum_tiles(const struct pc_check_look *look, struct pc_blur *sum)
{
    memset(sum, 0, sizeof *sum);
    for (int t = 0; t < PC_CHECK_TILES; t++)
        pc_blur_join(sum, &look->tile[t]);
}

static double growth(const struct pc_check *check, const struct pc_blur *now, const struct pc_blur *was,
                     int way, int beside)
{
    double var = pc_blur_way_var_px2(now, check->now->bin, way, beside);
    return was == NULL ? var : var - pc_blur_way_var_px2(was, check->locked->bin, way, beside);
}

static bool fit(const struct pc_check *check, const struct pc_blur *now, const struct pc_blur *was,
                struct smear *smear)
{
    double a[WAYS * 3], b[WAYS], x[3], least = (double)INFINITY;
    int rows = 0;
    for (int way = 0; way < WAYS; way++) {
        double more = growth(check, now, was, way, 0);
        if (isnan(more))
            continue;
        double weight = sqrt(now->edges[way]), angle = 2.0 * PC_PI * way / WAYS;
        a[3 * rows] = weight;
        a[3 * rows + 1] = weight * cos(angle);
        a[3 * rows + 2] = weight * sin(angle);
        b[rows++] = weight * more;
        least = fmin(least, more);
    }
    if (rows < LEAST_WAYS || !pc_linalg_least_squares(rows, 3, a, b, x))
        return false;
    // Without a locked frame the sharpest way stands for what the frame has anyway.
    smear->mean = was != NULL ? x[0] : x[0] - least;
    smear->with = hypot(x[1], x[2]);
    smear->at_rad = 0.5 * atan2(x[2], x[1]);
    return true;
}

// Whether most tiles show it: a soft front with level edges is no shake.
static bool all_over(const struct pc_check *check, const struct smear *smear)
{
    int way = (int)lround(smear->at_rad / PC_PI * WAYS + WAYS) % WAYS, told = 0, shown = 0;
    struct pc_blur all;
    sum_tiles(check->now, &all);
    double least = (double)INFINITY;
    for (int i = 0; !check->registered && i < WAYS; i++)
        least = fmin(least, growth(check, &all, NULL, i, 0));
    for (int t = 0; t < PC_CHECK_TILES; t++) {
        const struct pc_blur *was = check->registered ? &check->locked->tile[t] : NULL;
        double more = growth(check, &check->now->tile[t], was, way, 1);
        if (isnan(more))
            continue;
        told++;
        shown += more - (was == NULL ? least : 0.0) > smear->with;
    }
    return told >= LEAST_TILES && shown > TILES_RATIO * told;
}

bool pc_check_shake(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    struct pc_blur now, was;
    struct smear smear;
    sum_tiles(check->now, &now);
    if (check->registered)
        sum_tiles(check->locked, &was);
    if (!fit(check, &now, check->registered ? &was : NULL, &smear))
        return false;
    // A smear of length L has the variance L^2 / 12 along itself and none across.
    double length_px = sqrt(24.0 * smear.with);
    double speaks = PC_CHECK_SPEAKS_RATIO * harm * (check->registered ? 1.0 : WITHOUT_LOCKED_RATIO);
    if (!(length_px > speaks) || smear.with < LEAST_ONE_WAY_RATIO * smear.mean || !all_over(check, &smear))
        return false;
    finding->value = length_px;
    finding->tolerance = 0.2 * length_px;
    finding->over_ratio = length_px / harm;
    finding->says_what_first = true;
    snprintf(finding->what, sizeof finding->what, "Shaken by %.0f px", length_px);
    snprintf(finding->action, sizeof finding->action, "once more when all stands still");
    return true;
}
