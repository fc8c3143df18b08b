// SPDX-License-Identifier: Apache-2.0
#include "image/colour/spectrum.h"

#include "image/colour/colour.h"
#include "image/colour/spectrum_priv.h"

static const double C2_NM_K = 1.4388e7; // as image/colour/locus_priv.h

static double band_nm(int i)
{
    return PC_SPECTRUM_FIRST_NM + PC_SPECTRUM_STEP_NM * i;
}

struct pc_spectrum pc_spectrum_planck(double T_K)
{
    struct pc_spectrum s;
    const double at_scale = expm1(C2_NM_K / (560.0 * T_K));
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double relative = 560.0 / band_nm(i);
        s.value[i] = pow(relative, 5) * at_scale / expm1(C2_NM_K / (band_nm(i) * T_K));
    }
    return s;
}

bool pc_spectrum_daylight(double cct_K, struct pc_spectrum *light)
{
    double xy[2];
    if (!pc_colour_daylight_xy(cct_K, xy))
        return false;
    double m = 0.0241 + 0.2562 * xy[0] - 0.7341 * xy[1];
    double m1 = (-1.3515 - 1.7703 * xy[0] + 5.9114 * xy[1]) / m;
    double m2 = (0.0300 - 31.4424 * xy[0] + 30.0717 * xy[1]) / m;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
        light->value[i] = pc_spectrum_daylight_curves[0][i] + m1 * pc_spectrum_daylight_curves[1][i] +
                          m2 * pc_spectrum_daylight_curves[2][i];
    return true;
}

bool pc_spectrum_reference(double cct_K, struct pc_spectrum *reference)
{
    if (!(cct_K >= 1000.0 && cct_K <= 25000.0))
        return false;
    if (cct_K >= 5000.0)
        return pc_spectrum_daylight(cct_K, reference);
    *reference = pc_spectrum_planck(cct_K);
    return true;
}

bool pc_spectrum_xyz(const struct pc_spectrum *light, const struct pc_spectrum *reflectance, double xyz[3])
{
    double sum[3] = {0}, white = 0;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double power = light->value[i], seen = reflectance != NULL ? power * reflectance->value[i] : power;
        white += power * pc_spectrum_cmf[1][i];
        for (int c = 0; c < 3; c++)
            sum[c] += seen * pc_spectrum_cmf[c][i];
    }
    if (!(white > 0) || !isfinite(white))
        return false;
    for (int c = 0; c < 3; c++)
        xyz[c] = sum[c] / white;
    return true;
}

bool pc_spectrum_cct(const struct pc_spectrum *light, double *cct_K, double *duv)
{
    double xyz[3], uv[2];
    return pc_spectrum_xyz(light, NULL, xyz) && pc_colour_uv_from_xyz(xyz, uv) &&
           pc_colour_cct_from_uv(uv, cct_K, duv);
}

struct pc_spectrum pc_spectrum_gel(const struct pc_spectrum *light, double mired, double *transmission_ratio)
{
    // Warming takes blue away, so it passes most at the red end, and the other way round.
    double clear_nm = mired > 0 ? PC_SPECTRUM_LAST_NM : PC_SPECTRUM_FIRST_NM, before = 0, after = 0;
    struct pc_spectrum out;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double passed = exp(-C2_NM_K * mired * 1e-6 * (1.0 / band_nm(i) - 1.0 / clear_nm));
        out.value[i] = light->value[i] * passed;
        before += light->value[i] * pc_spectrum_cmf[1][i];
        after += out.value[i] * pc_spectrum_cmf[1][i];
    }
    if (transmission_ratio != NULL)
        *transmission_ratio = after / before;
    return out;
}
