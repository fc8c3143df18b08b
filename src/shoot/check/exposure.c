// SPDX-License-Identifier: Apache-2.0
// ISO, aperture or shutter changed by accident: a wheel turned in the bag or by a sleeve.
#include "base/units.h"
#include "shoot/check/check_priv.h"

bool pc_check_exposure(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    const struct pc_facts *facts = &check->now->facts;
    const struct pc_check_plan *plan = check->plan;
    const struct {
        double is, meant, stops_per_ev;
        const char *unit;
    } of[] = {
        {facts->iso, plan->iso, 1.0, "ISO"},
        {facts->fnumber, plan->fnumber, 2.0, "f"},
        {facts->shutter_s, plan->shutter_s, 1.0, "s"},
    };
    int worst = -1;
    for (int i = 0; i < (int)PC_COUNT(of); i++) {
        if (!(of[i].is > 0.0 && of[i].meant > 0.0))
            continue;
        double ev = fabs(of[i].stops_per_ev * pc_ev_from_ratio(of[i].is / of[i].meant));
        if (ev > PC_CHECK_SPEAKS_RATIO * harm && ev / harm > finding->over_ratio) {
            finding->over_ratio = ev / harm;
            worst = i;
        }
    }
    if (worst < 0)
        return false;
    char meant[24];
    finding->value = of[worst].meant;
    finding->unit = of[worst].unit;
    snprintf(finding->what, sizeof finding->what, "it was changed");
    pc_check_shutter(of[worst].meant, meant, sizeof meant);
    if (worst == 2)
        snprintf(finding->action, sizeof finding->action, "Shutter %s", meant);
    else if (worst == 1)
        snprintf(finding->action, sizeof finding->action, "Aperture f/%.2g", of[worst].meant);
    else
        snprintf(finding->action, sizeof finding->action, "ISO %.0f", of[worst].meant);
    return true;
}
