// SPDX-License-Identifier: Apache-2.0
// A shutter too short for the flash: its curtains cover part of the frame when the flash fires.
#include "base/units.h"
#include "shoot/check/check_priv.h"

static bool flash_is_used(const struct pc_check *check)
{
    const struct pc_check_plan *plan = check->plan;
    if (check->now->facts.flash_fired == 1)
        return true;
    for (int i = 0; plan->reading != NULL && plan->dials != NULL && i < plan->reading->light_count; i++)
        if (plan->reading->light[i].flash && plan->dials->dial_ratio[i] > 0.0)
            return true;
    return false;
}

bool pc_check_sync(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    double shutter_s = check->now->facts.shutter_s, sync_s = check->plan->sync_s;
    if (!(shutter_s > 0.0 && sync_s > 0.0) || !flash_is_used(check))
        return false;
    double short_ev = pc_ev_from_ratio(sync_s / shutter_s);
    char needed[24];
    if (!(short_ev > PC_CHECK_SPEAKS_RATIO * harm))
        return false;
    pc_check_shutter(sync_s, needed, sizeof needed);
    finding->value = sync_s;
    finding->over_ratio = short_ev / harm;
    snprintf(finding->what, sizeof finding->what, "too short for the flash");
    snprintf(finding->action, sizeof finding->action, "Shutter %s", needed);
    return true;
}
