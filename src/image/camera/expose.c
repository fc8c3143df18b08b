// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose.h"

#include "base/units.h"

static const double LENS_Q = 0.65;           // ISO 2720
static const double SATURATION_LX_S = 78.0;  // ISO 12232
static const double MID_LX_S = 10.0;         // ISO 12232
static const double SAME_MARK_RATIO = 0.005; // 1/64 typed as 0.0156 is still no mark, 1/60 as 0.01667 is
static const double WIDEST_SHORT_TEXT_S = 0.3;

double pc_expose_ev100(double fnumber, double shutter_s, double iso)
{
    return log2(fnumber * fnumber / shutter_s) - log2(iso / 100.0);
}

double pc_expose_cd_m2_from_ev100(double ev100)
{
    return exp2(ev100) * PC_EXPOSE_K_CD_M2 / 100.0;
}

double pc_expose_lx_from_ev100(double ev100)
{
    return exp2(ev100) * PC_EXPOSE_C_LX / 100.0;
}

double pc_expose_ev100_from_cd_m2(double luminance_cd_m2)
{
    return log2(luminance_cd_m2 * 100.0 / PC_EXPOSE_K_CD_M2);
}

double pc_expose_ev100_from_lx(double illuminance_lx)
{
    return log2(illuminance_lx * 100.0 / PC_EXPOSE_C_LX);
}

double pc_expose_cd_m2_from_lx(double illuminance_lx, double reflectance_ratio)
{
    return illuminance_lx * reflectance_ratio / PC_PI;
}

double pc_expose_focal_plane_lx_s(double luminance_cd_m2, double effective_f, double shutter_s)
{
    return LENS_Q * luminance_cd_m2 * shutter_s / (effective_f * effective_f);
}

double pc_expose_speed_from_saturation(double saturation_lx_s)
{
    return SATURATION_LX_S / saturation_lx_s;
}

double pc_expose_speed_from_output(double mid_lx_s)
{
    return MID_LX_S / mid_lx_s;
}

double pc_expose_speed_from_noise(double lx_s)
{
    return MID_LX_S / lx_s;
}

double pc_expose_effective_f(double fnumber, double magnification_ratio, double pupil_ratio)
{
    return fnumber * (1.0 + magnification_ratio / pupil_ratio);
}

double pc_expose_ambient_ev(double illuminance_lx, double effective_f, double shutter_s, double iso)
{
    return pc_expose_ev100_from_lx(illuminance_lx) - pc_expose_ev100(effective_f, shutter_s, iso);
}

static double meant(const struct pc_mark *marks, size_t count, double marked)
{
    for (size_t i = 0; i < count; i++)
        if (fabs(marked / marks[i].marked - 1.0) < SAME_MARK_RATIO)
            return marks[i].value;
    return marked;
}

double pc_expose_f_meant(double marked)
{
    return meant(pc_marks_f, PC_MARKS_F, marked);
}

double pc_expose_shutter_meant_s(double marked_s)
{
    return meant(pc_marks_shutter, PC_MARKS_SHUTTER, marked_s);
}

double pc_expose_iso_meant(double marked)
{
    return meant(pc_marks_iso, PC_MARKS_ISO, marked);
}

const char *pc_expose_shutter_text(char out[24], double shutter_s)
{
    double under = 1.0 / shutter_s;
    if (shutter_s < WIDEST_SHORT_TEXT_S)
        snprintf(out, 24, "1/%.*f s", fabs(under - round(under)) > 0.05 && under < 100 ? 1 : 0, under);
    else
        snprintf(out, 24, "%.3g s", shutter_s);
    return out;
}
