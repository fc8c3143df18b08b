// SPDX-License-Identifier: Apache-2.0
// Bands of a lamp that pulses with the mains.
#include "image/camera/mains.h"
#include "shoot/check/check_priv.h"

bool pc_check_bands(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    const struct pc_bands *bands = &check->bands;
    if (!check->banded || bands->verdict != PC_BANDS_FOUND || bands->depth_pct < PC_CHECK_SPEAKS_RATIO * harm)
        return false;
    finding->value = bands->depth_pct;
    finding->tolerance = bands->depth_pct_tolerance;
    finding->over_ratio = bands->depth_pct / harm;
    finding->says_what_first = true;
    snprintf(finding->what, sizeof finding->what, "Bands");
    double hz = 2.0 * check->plan->mains_hz, shutter_s = check->now->facts.shutter_s;
    if (hz > 0.0 && shutter_s > 0.0) {
        char shutter[24];
        double waves = fmax(1.0, round(shutter_s * hz));
        finding->value = waves / hz;
        finding->tolerance = 0.0;
        finding->unit = "s";
        pc_check_shutter(waves / hz, shutter, sizeof shutter);
        snprintf(finding->action, sizeof finding->action, "shutter %s", shutter);
    } else {
        snprintf(finding->what, sizeof finding->what, "Bands %.0f %% deep", bands->depth_pct);
        snprintf(finding->action, sizeof finding->action, "a longer shutter");
    }
    return true;
}
