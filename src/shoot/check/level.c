// SPDX-License-Identifier: Apache-2.0
// The hero's level against what was foretold of it.
#include "base/units.h"
#include "shoot/check/check_priv.h"

// Without parts: the plan's own figure.
static bool off_plan(const struct pc_check *check, double *ev, double *tolerance_ev)
{
    const struct pc_check_spot *hero = &check->now->spots.at[PC_CHECK_HERO];
    struct pc_level level;
    if (!pc_check_known(check, PC_CHECK_HERO) || isnan(check->plan->hero_ev) || check->now->tone_mapped)
        return false;
    pc_picture_level(&check->now->small, hero->x_px, hero->y_px, hero->radius_px, NULL, &level);
    double Y = level.pixels > 0 ? pc_check_Y(check->now, level.value) : 0.0;
    if (!(Y > 0.0))
        return false;
    *ev = pc_ev_from_ratio(Y) - check->plan->hero_ev;
    *tolerance_ev = isnan(check->plan->hero_ev_tolerance) ? 0.0 : check->plan->hero_ev_tolerance;
    return true;
}

bool pc_check_level(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    double ev, tolerance_ev;
    // A light that is off says it better, and of what clips there is no level.
    if (pc_check_has(check, PC_CHECK_LIGHT) || pc_check_has(check, PC_CHECK_CLIP))
        return false;
    if (check->closed) {
        const struct pc_closing_place *hero = &check->closing.place[PC_PLACE_HERO];
        ev = hero->actual_ev - hero->foretold_ev;
        tolerance_ev = hero->tolerance_ev;
    } else if (!off_plan(check, &ev, &tolerance_ev)) {
        return false;
    }
    if (!(fabs(ev) > PC_CHECK_SPEAKS_RATIO * harm) || !(fabs(ev) > tolerance_ev))
        return false;
    char stops[24];
    pc_check_stops(ev, stops, sizeof stops);
    finding->value = -ev;
    finding->tolerance = tolerance_ev;
    finding->over_ratio = fabs(ev) / harm;
    finding->x_px = check->now->spots.at[PC_CHECK_HERO].x_px;
    finding->y_px = check->now->spots.at[PC_CHECK_HERO].y_px;
    snprintf(finding->what, sizeof finding->what, "hero is too %s", ev > 0.0 ? "bright" : "dark");
    snprintf(finding->action, sizeof finding->action, "%s %s", ev > 0.0 ? "Down" : "Up", stops);
    return true;
}
