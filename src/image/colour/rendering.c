// SPDX-License-Identifier: Apache-2.0
// CIE 13.3-1995, and colour change by CIEDE2000.
#include "image/colour/spectrum.h"

#include "base/linalg.h"
#include "base/tolerance.h"
#include "image/colour/colour.h"
#include "image/colour/spectrum_priv.h"

static const double MOST_UV_OFF = 5.4e-3; // CIE 13.3: a reference further off is none
// An index has its crest at 100 and falls off it to every side, so changes that add as squares fall short
// there by up to an eighth (drawn for CIE F8, whose R9 is 98).
static const double CREST = 1.15;

static struct pc_spectrum test_colour(int i)
{
    struct pc_spectrum s;
    memcpy(s.value, pc_spectrum_test_colours[i], sizeof s.value);
    return s;
}

// The c and d of the von Kries transformation in CIE 1960 uv.
static void kries(const double uv[2], double *c, double *d)
{
    *c = (4.0 - uv[0] - 10.0 * uv[1]) / uv[1];
    *d = (1.708 * uv[1] + 0.404 - 1.481 * uv[0]) / uv[1];
}

// CIE 1964 W*, U*, V* of an object of luminance Y (0..100) against the reference white.
static void wuv(double Y, const double uv[2], const double white_uv[2], double out[3])
{
    out[0] = 25.0 * cbrt(Y) - 17.0;
    out[1] = 13.0 * out[0] * (uv[0] - white_uv[0]);
    out[2] = 13.0 * out[0] * (uv[1] - white_uv[1]);
}

static double one_index(const struct pc_spectrum *light, const struct pc_spectrum *reference,
                        const double light_uv[2], const double reference_uv[2], int i)
{
    struct pc_spectrum sample = test_colour(i);
    double xyz[3], uv[2], c, d, c_light, d_light, c_reference, d_reference, seen[3], wanted[3];
    pc_spectrum_xyz(reference, &sample, xyz);
    pc_colour_uv_from_xyz(xyz, uv);
    wuv(100.0 * xyz[1], uv, reference_uv, wanted);
    pc_spectrum_xyz(light, &sample, xyz);
    pc_colour_uv_from_xyz(xyz, uv);
    kries(uv, &c, &d);
    kries(light_uv, &c_light, &d_light);
    kries(reference_uv, &c_reference, &d_reference);
    c *= c_reference / c_light;
    d *= d_reference / d_light;
    double below = 16.518 + 1.481 * c - d;
    double moved[2] = {(10.872 + 0.404 * c - 4.0 * d) / below, 5.520 / below};
    wuv(100.0 * xyz[1], moved, reference_uv, seen);
    return 100.0 - 4.6 * sqrt(pow(seen[0] - wanted[0], 2) + pow(seen[1] - wanted[1], 2) +
                              pow(seen[2] - wanted[2], 2));
}

static bool render(const struct pc_spectrum *light, struct pc_rendering *out)
{
    struct pc_spectrum reference;
    double xyz[3], light_uv[2], reference_uv[2];
    if (!pc_spectrum_cct(light, &out->cct_K, &out->duv) || !pc_spectrum_reference(out->cct_K, &reference))
        return false;
    pc_spectrum_xyz(light, NULL, xyz);
    pc_colour_uv_from_xyz(xyz, light_uv);
    pc_spectrum_xyz(&reference, NULL, xyz);
    pc_colour_uv_from_xyz(xyz, reference_uv);
    out->near_white = hypot(light_uv[0] - reference_uv[0], light_uv[1] - reference_uv[1]) <= MOST_UV_OFF;
    out->ra = 0;
    for (int i = 0; i < PC_SPECTRUM_TEST_COLOURS; i++) {
        out->r[i] = one_index(light, &reference, light_uv, reference_uv, i);
        if (i < 8)
            out->ra += out->r[i] / 8.0;
    }
    return true;
}

struct pc_spectrum pc_spectrum_misread(const struct pc_spectrum *light, double off_nm, double tilt_ratio)
{
    struct pc_spectrum out;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double at = fmin(fmax(i + off_nm / PC_SPECTRUM_STEP_NM, 0.0), PC_SPECTRUM_BANDS - 1.0);
        int k = (int)fmin(floor(at), PC_SPECTRUM_BANDS - 2.0);
        double between = light->value[k] + (at - k) * (light->value[k + 1] - light->value[k]);
        out.value[i] = between * (1.0 + tilt_ratio * ((double)i / (PC_SPECTRUM_BANDS - 1) - 0.5));
    }
    return out;
}

static bool answer(const void *given, const double x[], double y[])
{
    struct pc_spectrum light = pc_spectrum_misread(given, x[0], x[1]);
    struct pc_rendering out;
    if (!render(&light, &out))
        return false;
    y[0] = out.cct_K;
    y[1] = out.duv;
    y[2] = out.ra;
    y[3] = out.r[8];
    return true;
}

bool pc_spectrum_rendering(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                           double tilt_tolerance_pct, struct pc_rendering *rendering)
{
    struct pc_rendering out;
    const double x[2] = {0, 0}, within[2] = {wavelength_tolerance_nm, tilt_tolerance_pct / 100.0};
    double y[4], y_within[4];
    if (!render(light, &out) || !pc_tolerance(answer, light, 2, x, within, 4, y, y_within))
        return false;
    out.cct_K_tolerance = y_within[0];
    out.duv_tolerance = y_within[1];
    out.ra_tolerance = CREST * y_within[2];
    out.r9_tolerance = CREST * y_within[3];
    *rendering = out;
    return true;
}

bool pc_spectrum_change(const struct pc_spectrum *light, const struct pc_spectrum *reflectance,
                        double *de2000, double lab_reference[3], double lab_light[3])
{
    struct pc_spectrum reference;
    double cct_K, duv, white[3], light_white[3], xyz[3], adapted[3], to_from_from[3][3];
    if (!pc_spectrum_cct(light, &cct_K, &duv) || !pc_spectrum_reference(cct_K, &reference) ||
        !pc_spectrum_xyz(&reference, NULL, white) || !pc_spectrum_xyz(light, NULL, light_white))
        return false;
    pc_spectrum_xyz(&reference, reflectance, xyz);
    pc_colour_lab_from_xyz(xyz, white, lab_reference);
    pc_spectrum_xyz(light, reflectance, xyz);
    pc_colour_adapt_cat16(light_white, white, to_from_from);
    pc_linalg_apply3(to_from_from, xyz, adapted);
    pc_colour_lab_from_xyz(adapted, white, lab_light);
    *de2000 = pc_colour_de2000(lab_reference, lab_light);
    return true;
}
