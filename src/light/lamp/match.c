// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/match.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "image/colour/colour.h"
#include "light/lamp/area.h"

static const double LEAST_K = 1000.0, MOST_K = 40000.0;
static const double MOST_GEL_MIRED = 400.0;

struct ends {
    double warmest_K, coolest_K;
};

// x: what the lamp gives over what it shows, as a ratio; what it shows; the other light. y: apart, left.
static bool match_answer(const void *given, const double x[], double y[])
{
    const struct ends *ends = given;
    double truth_ratio = x[0], lamp_K = truth_ratio * x[1], against_K = x[2];
    if (!(lamp_K > 0 && against_K > 0))
        return false;
    double set_K = fmin(fmax(against_K, truth_ratio * ends->warmest_K), truth_ratio * ends->coolest_K);
    y[0] = pc_mired_from_K(lamp_K) - pc_mired_from_K(against_K);
    y[1] = pc_mired_from_K(set_K) - pc_mired_from_K(against_K);
    return true;
}

struct pc_match pc_match_kelvin(double lamp_K, double lamp_K_tolerance, double warmest_K, double coolest_K,
                                double against_K, double against_K_tolerance)
{
    const struct ends ends = {warmest_K, coolest_K};
    const double x[] = {1, lamp_K, against_K}, within[] = {lamp_K_tolerance / lamp_K, 0, against_K_tolerance};
    double y[2], y_within[2];
    bool good = pc_tolerance(match_answer, &ends, 3, x, within, 2, y, y_within);
    PC_ASSERT(good);
    return (struct pc_match){
        .apart_mired = y[0],
        .apart_mired_tolerance = y_within[0],
        .set_K = fmin(fmax(against_K, warmest_K), coolest_K),
        .left_mired = y[1],
        .left_mired_tolerance = y_within[1],
        .at_limit = against_K < warmest_K || against_K > coolest_K,
    };
}

// x: wavelengths off by, tilt, the other light's kelvin and Duv. y: mired, stops, tint left.
static bool gel_answer(const void *given, const double x[], double y[])
{
    struct pc_spectrum light = pc_spectrum_misread(given, x[0], x[1]), seen;
    double low = -MOST_GEL_MIRED, high = MOST_GEL_MIRED, K, duv, passed;
    // The kelvin falls as the gel grows. A gel so strong that nothing is left to be called white is too
    // strong.
    for (int round = 0; round < 60; round++) {
        double middle = 0.5 * (low + high);
        seen = pc_spectrum_gel(&light, middle, NULL);
        double guess_K = pc_spectrum_cct(&seen, &K, &duv) ? K : middle > 0 ? 0 : HUGE_VAL;
        if (guess_K > x[2])
            low = middle;
        else
            high = middle;
    }
    seen = pc_spectrum_gel(&light, 0.5 * (low + high), &passed);
    if (!pc_spectrum_cct(&seen, &K, &duv) || fabs(K - x[2]) > 1e-3 * x[2])
        return false;
    y[0] = 0.5 * (low + high);
    y[1] = -pc_ev_from_ratio(passed);
    y[2] = duv - x[3];
    return true;
}

bool pc_gel_towards(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                    double tilt_tolerance_pct, double to_K, double to_K_tolerance, double to_duv,
                    double to_duv_tolerance, struct pc_gel *gel)
{
    const double x[] = {0, 0, to_K, to_duv}, within[] = {wavelength_tolerance_nm, tilt_tolerance_pct / 100,
                                                         to_K_tolerance, to_duv_tolerance};
    double y[3], y_within[3];
    if (!pc_tolerance(gel_answer, light, 4, x, within, 3, y, y_within))
        return false;
    *gel = (struct pc_gel){y[0], y_within[0], y[1], y_within[1], y[2], y_within[2]};
    return true;
}

// x: lx, K, Duv of each light in turn. y: lx, CCT, Duv, then the shares, then the shadows.
static bool mix_answer(const void *given, const double x[], double y[])
{
    int count = *(const int *)given;
    double lx[PC_MIX_MAX], sum[3] = {0}, uv[2];
    bool coloured = true;
    y[0] = 0;
    for (int i = 0; i < count; i++) {
        lx[i] = fmax(x[3 * i], 0);
        y[0] += lx[i];
        double K = x[3 * i + 1];
        coloured = coloured && K >= LEAST_K && K <= MOST_K;
        if (!coloured)
            continue;
        pc_colour_uv_from_cct(K, x[3 * i + 2], uv);
        double below = 2 * uv[0] - 8 * uv[1] + 4, xy[2] = {3 * uv[0] / below, 2 * uv[1] / below}, xyz[3];
        pc_colour_xyz_from_xy(xy, lx[i], xyz);
        for (int c = 0; c < 3; c++)
            sum[c] += xyz[c];
    }
    if (!(y[0] > 0))
        return false;
    y[1] = y[2] = NAN;
    if (coloured && pc_colour_uv_from_xyz(sum, uv) && !pc_colour_cct_from_uv(uv, &y[1], &y[2]))
        y[1] = y[2] = NAN;
    pc_shadow_depths(count, lx, y + 3, y + 3 + count);
    return true;
}

bool pc_mix_lights(int count, const struct pc_mix_light lights[], struct pc_mix *mix)
{
    PC_ASSERT(count >= 1 && count <= PC_MIX_MAX);
    double x[3 * PC_MIX_MAX], within[3 * PC_MIX_MAX], y[3 + 2 * PC_MIX_MAX], y_within[3 + 2 * PC_MIX_MAX];
    for (int i = 0; i < count; i++) {
        const struct pc_mix_light *l = &lights[i];
        const double row[] = {l->lx, l->K, l->duv},
                     row_within[] = {l->lx_tolerance, isnan(l->K) ? 0 : l->K_tolerance, l->duv_tolerance};
        memcpy(x + 3 * i, row, sizeof row);
        memcpy(within + 3 * i, row_within, sizeof row_within);
    }
    if (!pc_tolerance(mix_answer, &count, 3 * count, x, within, 3 + 2 * count, y, y_within))
        return false;
    *mix = (struct pc_mix){y[0], y_within[0], y[1], y_within[1], y[2], y_within[2], {0}, {0}, {0}, {0}};
    for (int i = 0; i < count; i++) {
        mix->share_ratio[i] = y[3 + i];
        mix->share_ratio_tolerance[i] = y_within[3 + i];
        mix->shadow_ev[i] = y[3 + count + i];
        mix->shadow_ev_tolerance[i] = y_within[3 + count + i];
    }
    return true;
}

double pc_mix_daylight_duv(double K)
{
    double xy[2], xyz[3], uv[2], cct_K, duv;
    if (!pc_colour_daylight_xy(K, xy))
        return NAN;
    pc_colour_xyz_from_xy(xy, 1, xyz);
    if (!pc_colour_uv_from_xyz(xyz, uv) || !pc_colour_cct_from_uv(uv, &cct_K, &duv))
        return NAN;
    return duv;
}
