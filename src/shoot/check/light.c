// SPDX-License-Identifier: Apache-2.0
// A light that is off, or at another dial than planned: the frame explained as a sum of the parts.
#include "base/units.h"
#include "shoot/check/check_priv.h"

static const double OFF_EV = -3.0; // an eighth of its light is what a wall sends back

// What every light and the window have in common is no lamp's doing: the least change there is, where all go
// the same way.
static double common_ev(const struct pc_check *check)
{
    const struct pc_closing *closing = &check->closing;
    double least = closing->ambient_ev;
    int told = isnan(least) ? 0 : 1;
    for (int i = 0; i < check->plan->reading->light_count; i++) {
        double ev = closing->light_ev[i];
        if (isnan(ev))
            continue;
        if (told++ == 0)
            least = ev;
        else if (ev * least <= 0.0)
            return 0.0;
        else
            least = fabs(ev) < fabs(least) ? ev : least;
    }
    return told > 1 ? least : 0.0;
}

bool pc_check_light(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    if (!check->closed)
        return false;
    const struct pc_reading *reading = check->plan->reading;
    const struct pc_closing *closing = &check->closing;
    double common = common_ev(check);
    int worst = -1;
    for (int i = 0; i < reading->light_count; i++) {
        double ev = closing->light_ev[i] - common, within = closing->light_tolerance_ev[i];
        if (isnan(ev) || !(fabs(ev) > PC_CHECK_SPEAKS_RATIO * harm) || !(fabs(ev) > within))
            continue;
        if (fabs(ev) / harm > finding->over_ratio) {
            finding->over_ratio = fabs(ev) / harm;
            worst = i;
        }
    }
    if (worst < 0)
        return false;
    double ev = closing->light_ev[worst] - common, dial_ratio = check->plan->dials->dial_ratio[worst];
    const char *name = reading->light[worst].name;
    finding->tolerance = closing->light_tolerance_ev[worst];
    if (ev < OFF_EV) {
        finding->value = 100.0 * dial_ratio;
        finding->unit = "%";
        finding->tolerance = 0.0;
        finding->says_what_first = true;
        snprintf(finding->what, sizeof finding->what, "%s is off", name);
    } else {
        char stops[24];
        pc_check_stops(ev, stops, sizeof stops);
        finding->value = ev;
        finding->says_what_first = true;
        snprintf(finding->what, sizeof finding->what, "%s is %s too %s", name, stops,
                 ev > 0.0 ? "bright" : "dark");
    }
    snprintf(finding->action, sizeof finding->action, "dial to %.0f %%", 100.0 * dial_ratio);
    return true;
}
