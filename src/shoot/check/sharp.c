// SPDX-License-Identifier: Apache-2.0
// Sharpness as the checks go by it: blur beyond what the frame has where it is sharpest, and what that means
// in front of the lens.
#include "base/units.h"
#include "image/camera/depth.h"
#include "shoot/check/check_priv.h"

// Of the tiles of a look the second sharpest: one alone may hold a freak.
static double sharpest(const struct pc_check_look *look, double *x_px, double *y_px)
{
    double best = (double)INFINITY, second = (double)INFINITY;
    int at = -1;
    for (int t = 0; t < PC_CHECK_TILES; t++) {
        double var = pc_blur_var_px2(&look->tile[t], look->bin);
        if (isnan(var))
            continue;
        if (var < best) {
            second = best;
            best = var;
            at = t;
        } else {
            second = fmin(second, var);
        }
    }
    if (isinf(second))
        return (double)NAN;
    if (x_px != NULL) {
        *x_px = (at % PC_CHECK_TILES_X + 0.5) * look->small.full_width_px / PC_CHECK_TILES_X;
        *y_px = ((double)(at / PC_CHECK_TILES_X) + 0.5) * look->small.full_height_px / PC_CHECK_TILES_Y;
    }
    return second;
}

double pc_check_sharpest_px2(const struct pc_check *check, double *x_px, double *y_px)
{
    double now = sharpest(check->now, x_px, y_px);
    double was = check->registered ? sharpest(check->locked, NULL, NULL) : (double)NAN;
    return fmin(now, was); // of a number and a NAN the number
}

double pc_check_disc_px(const struct pc_check *check, const struct pc_blur *now, const struct pc_blur *was)
{
    double var = pc_blur_var_px2(now, check->now->bin);
    double more = var - pc_check_sharpest_px2(check, NULL, NULL);
    if (was != NULL) {
        double then = pc_blur_var_px2(was, check->locked->bin) - sharpest(check->locked, NULL, NULL);
        if (!isnan(then))
            more -= fmax(then, 0.0);
    }
    // A disc of width c has the variance c^2 / 16 along any axis.
    return isnan(more) ? (double)NAN : 4.0 * sqrt(fmax(more, 0.0));
}

bool pc_check_same_spot(const struct pc_check *check, enum pc_check_place place)
{
    if (!check->registered)
        return false;
    const struct pc_check_spot *a = &check->now->spots.at[place], *b = &check->locked->spots.at[place];
    return b->radius_px > 0.0 && hypot(a->x_px - b->x_px, a->y_px - b->y_px) < 0.5 * a->radius_px;
}

double pc_check_focus_m(const struct pc_check *check, double disc_px, bool nearer)
{
    const struct pc_check_plan *plan = check->plan;
    const struct pc_facts *facts = &check->now->facts;
    struct pc_depth_setup setup = {
        .focal_m = 1e-3 * facts->focal_mm,
        .f_number = facts->fnumber,
        .coc_m = disc_px * plan->pixel_pitch_m,
        .magnification_ratio = plan->magnification_ratio,
        .pupil_ratio = (double)NAN,
    };
    struct pc_depth depth;
    if (!(setup.focal_m > 0.0 && setup.f_number > 0.0 && setup.coc_m > 0.0 &&
          setup.magnification_ratio > 0.0))
        return (double)NAN;
    if (pc_depth_find(&setup, &depth, NULL) != PC_OK)
        return (double)NAN;
    return nearer ? depth.near_m : depth.far_m;
}
