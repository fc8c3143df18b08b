// SPDX-License-Identifier: Apache-2.0
// The hero's front edge against the sharpest plane elsewhere, with how far to move the focus.
#include "shoot/check/check_priv.h"

static const double WITHOUT_LOCKED_RATIO = 2.0; // soft food beside a hard rim is no fault

bool pc_check_focus(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    const struct pc_check_spots *spots = &check->now->spots;
    enum pc_check_place place = PC_CHECK_FRONT;
    if (!pc_check_known(check, place))
        place = PC_CHECK_HERO;
    if (!pc_check_known(check, place) || pc_check_has(check, PC_CHECK_SHAKE))
        return false;
    bool same = pc_check_same_spot(check, place);
    // An edge ought to be sharp, a hero need not have anything that is: there only the locked frame can tell.
    if (place == PC_CHECK_HERO && !same)
        return false;
    double disc_px =
        pc_check_disc_px(check, &check->now->place[place], same ? &check->locked->place[place] : NULL);
    double x_px = 0.0, y_px = 0.0;
    pc_check_sharpest_px2(check, &x_px, &y_px);
    if (!(disc_px > PC_CHECK_SPEAKS_RATIO * harm * (same ? 1.0 : WITHOUT_LOCKED_RATIO)))
        return false;
    // What lies lower in the frame lies nearer, unless the camera looks straight down.
    bool told = !check->plan->overhead && y_px != spots->at[place].y_px,
         nearer = y_px < spots->at[place].y_px;
    double by_m = pc_check_focus_m(check, disc_px, nearer);
    finding->over_ratio = disc_px / harm;
    finding->x_px = spots->at[place].x_px;
    finding->y_px = spots->at[place].y_px;
    finding->says_what_first = true;
    const char *name = place == PC_CHECK_FRONT ? "Front edge" : "Hero";
    snprintf(finding->what, sizeof finding->what, "%s soft", name);
    if (told && by_m > 0.0 && by_m < 1.0) {
        finding->value = 1e3 * by_m;
        finding->tolerance = 0.25 * finding->value;
        finding->unit = "mm";
        snprintf(finding->action, sizeof finding->action, "focus %.0f mm %s", fmax(1.0, finding->value),
                 nearer ? "nearer" : "farther");
    } else {
        finding->value = disc_px;
        finding->tolerance = 0.25 * disc_px;
        snprintf(finding->action, sizeof finding->action, "focus on it");
    }
    return true;
}
