// SPDX-License-Identifier: Apache-2.0
// Grey that is not grey, or not the grey of the last good frame.
#include "base/linalg.h"
#include "base/units.h"
#include "image/colour/colour.h"
#include "shoot/check/check_priv.h"

static const double TINT_HARM_DUV = 0.005; // as far in CIE 1960 uv as the mired that harm, at 5000 K
static const double WITHIN_MIRED = 3.0, WITHIN_DUV = 0.001;

static bool level_at(const struct pc_check_look *look, const struct pc_check_spot *spot, double rgb[3])
{
    struct pc_level level;
    pc_picture_level(&look->small, spot->x_px, spot->y_px, spot->radius_px, NULL, &level);
    memcpy(rgb, level.value, sizeof level.value);
    return level.pixels > 0 && level.clipped_ratio < 0.05 && rgb[0] > 0.0 && rgb[1] > 0.0 && rgb[2] > 0.0;
}

static bool white_of(const struct pc_check_look *look, const double camera[3], double *mired, double *duv)
{
    double xyz[3], uv[2], cct_K;
    pc_linalg_apply3(look->xyz_from_camera, camera, xyz);
    if (!pc_colour_uv_from_xyz(xyz, uv) || !pc_colour_cct_from_uv(uv, &cct_K, duv))
        return false;
    *mired = pc_mired_from_K(cct_K);
    return true;
}

// By how much the light's colour differs: what a neutral would be now, and what it ought to be.
static bool find_cast(const struct pc_check *check, enum pc_check_place place, double *mired, double *duv)
{
    const struct pc_check_look *now = check->now;
    const struct pc_check_spot *spot = &now->spots.at[place];
    double is[3], was[3], neutral[3], mired_is, duv_is, mired_was, duv_was;
    if (!level_at(now, spot, is))
        return false;
    memcpy(neutral, now->neutral_ratio, sizeof neutral);
    if (check->registered && pc_check_same_spot(check, place)) {
        if (!level_at(check->locked, spot, was))
            return false;
    } else if (place == PC_CHECK_GREYCARD && check->plan->white_set) {
        memcpy(was, neutral, sizeof was);
    } else {
        return false;
    }
    for (int c = 0; c < 3; c++)
        is[c] = neutral[c] * is[c] / was[c];
    if (!white_of(now, is, &mired_is, &duv_is) || !white_of(now, neutral, &mired_was, &duv_was))
        return false;
    *mired = mired_is - mired_was;
    *duv = duv_is - duv_was;
    return true;
}

static enum pc_check_place place_for(const struct pc_check *check)
{
    return pc_check_known(check, PC_CHECK_GREYCARD) ? PC_CHECK_GREYCARD : PC_CHECK_SURFACE;
}

bool pc_check_cast_gains(const struct pc_check *check, double gain[3])
{
    double mired, duv, is[3], was[3];
    enum pc_check_place place = place_for(check);
    const struct pc_check_spot *spot = &check->now->spots.at[place];
    if (!check->now->has_xyz || !check->now->has_neutral || !pc_check_same_spot(check, place) ||
        !find_cast(check, place, &mired, &duv) || !level_at(check->now, spot, is) ||
        !level_at(check->locked, spot, was))
        return false;
    for (int c = 0; c < 3; c++)
        gain[c] = is[c] / was[c] / (is[1] / was[1]);
    return fabs(mired) > PC_CHECK_SPEAKS_RATIO * pc_check_kind_harm(PC_CHECK_CAST) ||
           fabs(duv) > PC_CHECK_SPEAKS_RATIO * TINT_HARM_DUV;
}

bool pc_check_cast(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    if (!check->now->has_xyz || !check->now->has_neutral || check->now->tone_mapped ||
        pc_check_has(check, PC_CHECK_LIGHT))
        return false;
    enum pc_check_place place = place_for(check);
    double mired, duv;
    if (!pc_check_known(check, place) || !find_cast(check, place, &mired, &duv))
        return false;
    double warm = fabs(mired) / harm, tint = fabs(duv) / TINT_HARM_DUV;
    if (fmax(warm, tint) < PC_CHECK_SPEAKS_RATIO)
        return false;
    finding->over_ratio = fmax(warm, tint);
    finding->x_px = check->now->spots.at[place].x_px;
    finding->y_px = check->now->spots.at[place].y_px;
    const char *name = place == PC_CHECK_GREYCARD ? "grey card" : "surface";
    if (warm >= tint) {
        finding->value = -mired;
        finding->tolerance = WITHIN_MIRED;
        snprintf(finding->what, sizeof finding->what, "%s is too %s", name, mired > 0.0 ? "warm" : "cool");
        snprintf(finding->action, sizeof finding->action, "%.0f mired %s", fabs(mired),
                 mired > 0.0 ? "cooler" : "warmer");
    } else {
        finding->value = duv;
        finding->tolerance = WITHIN_DUV;
        finding->unit = "Duv";
        finding->says_what_first = true;
        snprintf(finding->what, sizeof finding->what, "The %s leans %s by Duv %.3f", name,
                 duv > 0.0 ? "green" : "pink", fabs(duv));
        snprintf(finding->action, sizeof finding->action, "look for a wall or a shirt beside the set");
    }
    return true;
}
