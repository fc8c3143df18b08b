// SPDX-License-Identifier: Apache-2.0
// Depth too shallow: the front of the hero is sharp and its back is not.
#include "shoot/check/check_priv.h"

static const double MOST_F = 22.0; // beyond it diffraction takes more than depth gives

bool pc_check_depth(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    if (!pc_check_known(check, PC_CHECK_HERO) || !pc_check_known(check, PC_CHECK_FRONT) ||
        pc_check_has(check, PC_CHECK_SHAKE) || pc_check_has(check, PC_CHECK_FOCUS))
        return false;
    bool same = pc_check_same_spot(check, PC_CHECK_HERO) && pc_check_same_spot(check, PC_CHECK_FRONT);
    // A soft back is many a picture's wish: it is a fault where the plan says so, or the locked frame had it
    // sharp.
    if (!same && !check->plan->sharp_through)
        return false;
    double disc_px = pc_check_disc_px(check, &check->now->back, same ? &check->locked->back : NULL);
    const struct pc_check_spot *hero = &check->now->spots.at[PC_CHECK_HERO],
                               *front = &check->now->spots.at[PC_CHECK_FRONT];
    if (!(disc_px > PC_CHECK_SPEAKS_RATIO * harm))
        return false;
    double is = check->now->facts.fnumber,
           sharp_px = isnan(check->plan->sharp_px) ? PC_CHECK_SHARP_PX : check->plan->sharp_px;
    double needed = is * disc_px / sharp_px;
    finding->over_ratio = disc_px / harm;
    finding->x_px = 2.0 * hero->x_px - front->x_px;
    finding->y_px = 2.0 * hero->y_px - front->y_px;
    finding->says_what_first = true;
    snprintf(finding->what, sizeof finding->what, "Back of the hero soft");
    double thirds = ceil(6.0 * log2(needed)); // of a stop of aperture
    if (needed <= MOST_F) {
        finding->value = fmin(exp2(thirds / 6.0), MOST_F);
        finding->tolerance = 0.25 * finding->value;
        finding->unit = "f";
        snprintf(finding->action, sizeof finding->action, "stop down to f/%.2g", finding->value);
    } else {
        finding->value = disc_px;
        finding->tolerance = 0.25 * disc_px;
        snprintf(finding->action, sizeof finding->action, "several frames, focus stepped back");
    }
    return true;
}
