// SPDX-License-Identifier: Apache-2.0
#include "image/camera/depth_priv.h"

#include "base/tolerance.h"
#include "base/units.h"

// What the eye takes for a point on paper, 0.2 mm at 25 cm, as an angle; 5 line pairs a millimetre.
#define EYE_BLUR_RATIO           (0.2 / 250)
#define PIXELS_A_POINT           1.5
#define PUPIL_UNKNOWN            1.0
#define PUPIL_UNKNOWN_TOLERANCE  0.3
#define AIRY_FIRST_DARK_DIAMETER 2.43934 // of lambda N: 2 x 3.83171 / pi, the first zero of J1

#define FOUND_RATIO    1e-10 // of the circle of confusion
#define FOUND_CONTRAST 1e-12

enum { SIMPSON_HALVES = 16, ROUNDS = 60 };

double pc_depth_coc_from_print_m(double used_m, double print_m, double viewing_m)
{
    return EYE_BLUR_RATIO * viewing_m * used_m / print_m;
}

double pc_depth_coc_from_pixels_m(double used_m, double output_px)
{
    return PIXELS_A_POINT * used_m / output_px;
}

// Two pupils sheared by twice s share |x| + s <= cos; the phase between them grows with x. With x + s = sin t
// the integrand is smooth to both ends, so Simpson's rule is as good as exact.
double pc_depth_contrast(double blur_m, double line_pairs_per_m, double effective_f)
{
    double s = PC_DEPTH_WAVELENGTH_M * effective_f * line_pairs_per_m;
    if (s >= 1)
        return 0.0;
    double from = asin(s), step = (PC_PI / 2 - from) / (2 * SIMPSON_HALVES), sum = 0.0;
    for (int i = 0; i <= 2 * SIMPSON_HALVES; i++) {
        double t = from + i * step, weight = i == 0 || i == 2 * SIMPSON_HALVES ? 1 : i % 2 ? 4 : 2;
        sum += weight * cos(t) * cos(t) * cos(PC_PI * blur_m * line_pairs_per_m * (sin(t) - s));
    }
    return 4 / PC_PI * sum * step / 3;
}

// The widest blur disc, up to coc_m, that leaves the contrast a disc of coc_m leaves by itself; 0: none. The
// contrast falls all the way, so the root is bracketed (regula falsi with the Illinois halving).
static double sharp_blur_m(double coc_m, double effective_f)
{
    double least = 2 * j1(PC_PI) / PC_PI, low_m = 0.0, high_m = coc_m;
    double low = pc_depth_contrast(low_m, 1 / coc_m, effective_f) - least;
    double high = pc_depth_contrast(high_m, 1 / coc_m, effective_f) - least;
    if (high >= 0)
        return coc_m;
    if (low < 0)
        return 0.0;
    for (int i = 0, kept = 0; i < ROUNDS && high_m - low_m > FOUND_RATIO * coc_m; i++) {
        double m = low_m + (high_m - low_m) * low / (low - high);
        double here = pc_depth_contrast(m, 1 / coc_m, effective_f) - least;
        if (fabs(here) < FOUND_CONTRAST)
            return m;
        if (here > 0) {
            low_m = m;
            low = here;
            high *= kept == 1 ? 0.5 : 1.0;
            kept = 1;
        } else {
            high_m = m;
            high = here;
            low *= kept == -1 ? 0.5 : 1.0;
            kept = -1;
        }
    }
    return low_m;
}

static void limits(const double x[], double blur_m, double *near_m, double *far_m)
{
    double m = x[PC_DEPTH_X_MAGNIFICATION], f = x[PC_DEPTH_X_FOCAL];
    double pupil_m = f / x[PC_DEPTH_X_F_NUMBER];
    double u_m = f * (1 / m + 1 / x[PC_DEPTH_X_PUPIL]), b_m = blur_m / m;
    *near_m = b_m * u_m / (pupil_m + b_m);
    *far_m = b_m < pupil_m ? b_m * u_m / (pupil_m - b_m) : (double)INFINITY;
}

static double effective_f(const double x[])
{
    return x[PC_DEPTH_X_F_NUMBER] * (1 + x[PC_DEPTH_X_MAGNIFICATION] / x[PC_DEPTH_X_PUPIL]);
}

bool pc_depth_answer(const void *given, const double x[], double y[])
{
    (void)given;
    for (int i = 0; i < PC_DEPTH_X_COUNT; i++)
        if (!(x[i] > 0))
            return false;
    limits(x, x[PC_DEPTH_X_COC], &y[PC_DEPTH_Y_NEAR], &y[PC_DEPTH_Y_FAR]);
    limits(x, sharp_blur_m(x[PC_DEPTH_X_COC], effective_f(x)), &y[PC_DEPTH_Y_SHARP_NEAR],
           &y[PC_DEPTH_Y_SHARP_FAR]);
    y[PC_DEPTH_Y_TOTAL] = y[PC_DEPTH_Y_NEAR] + y[PC_DEPTH_Y_FAR];
    y[PC_DEPTH_Y_SHARP_TOTAL] = y[PC_DEPTH_Y_SHARP_NEAR] + y[PC_DEPTH_Y_SHARP_FAR];
    return true;
}

static enum pc_status check(const struct pc_depth_setup *setup, struct pc_err *err)
{
    const struct {
        double value;
        const char *name;
    } needed[] = {{setup->focal_m, "focal length"},
                  {setup->f_number, "f-number"},
                  {setup->coc_m, "circle of confusion"},
                  {setup->magnification_ratio, "magnification"},
                  {isnan(setup->pupil_ratio) ? PUPIL_UNKNOWN : setup->pupil_ratio, "pupil ratio"}};
    for (size_t i = 0; i < PC_COUNT(needed); i++)
        if (!(needed[i].value > 0 && isfinite(needed[i].value)))
            return pc_fail(err, PC_BAD_INPUT, needed[i].name, "It must be more than nothing.");
    return PC_OK;
}

static void gather(const struct pc_depth_setup *setup, double x[], double x_tolerance[])
{
    bool known = !isnan(setup->pupil_ratio);
    x[PC_DEPTH_X_FOCAL] = setup->focal_m;
    x[PC_DEPTH_X_F_NUMBER] = setup->f_number;
    x[PC_DEPTH_X_COC] = setup->coc_m;
    x[PC_DEPTH_X_MAGNIFICATION] = setup->magnification_ratio;
    x[PC_DEPTH_X_PUPIL] = known ? setup->pupil_ratio : PUPIL_UNKNOWN;
    x_tolerance[PC_DEPTH_X_FOCAL] = setup->focal_m_tolerance;
    x_tolerance[PC_DEPTH_X_F_NUMBER] = setup->f_number_tolerance;
    x_tolerance[PC_DEPTH_X_COC] = setup->coc_m_tolerance;
    x_tolerance[PC_DEPTH_X_MAGNIFICATION] = setup->magnification_ratio_tolerance;
    x_tolerance[PC_DEPTH_X_PUPIL] = known ? setup->pupil_ratio_tolerance : PUPIL_UNKNOWN_TOLERANCE;
}

enum pc_status pc_depth_find(const struct pc_depth_setup *setup, struct pc_depth *depth, struct pc_err *err)
{
    double x[PC_DEPTH_X_COUNT], x_tolerance[PC_DEPTH_X_COUNT], y[PC_DEPTH_Y_COUNT],
        tolerance[PC_DEPTH_Y_COUNT], drawn[PC_DEPTH_Y_COUNT];
    PC_TRY(check(setup, err));
    gather(setup, x, x_tolerance);
    bool answered = pc_tolerance(pc_depth_answer, NULL, PC_DEPTH_X_COUNT, x, x_tolerance, PC_DEPTH_Y_COUNT, y,
                                 tolerance) &&
                    pc_tolerance_drawn(pc_depth_answer, NULL, PC_DEPTH_X_COUNT, x, x_tolerance,
                                       PC_DEPTH_Y_COUNT, y, drawn);
    PC_ASSERT(answered);
    double far_focus_ratio =
        setup->coc_m * setup->f_number / setup->focal_m; // magnification of the hyperfocal
    *depth = (struct pc_depth){
        .near_m = y[PC_DEPTH_Y_NEAR],
        .near_m_tolerance = tolerance[PC_DEPTH_Y_NEAR],
        .far_m = y[PC_DEPTH_Y_FAR],
        .far_m_tolerance = tolerance[PC_DEPTH_Y_FAR],
        .total_m = y[PC_DEPTH_Y_TOTAL],
        .total_m_tolerance = tolerance[PC_DEPTH_Y_TOTAL],
        .sharp_near_m = y[PC_DEPTH_Y_SHARP_NEAR],
        .sharp_near_m_tolerance = drawn[PC_DEPTH_Y_SHARP_NEAR],
        .sharp_far_m = y[PC_DEPTH_Y_SHARP_FAR],
        .sharp_far_m_tolerance = drawn[PC_DEPTH_Y_SHARP_FAR],
        .sharp_total_m = y[PC_DEPTH_Y_SHARP_TOTAL],
        .sharp_total_m_tolerance = drawn[PC_DEPTH_Y_SHARP_TOTAL],
        .effective_f = effective_f(x),
        .exposure_loss_ev = 2 * log2(effective_f(x) / setup->f_number),
        .airy_m = AIRY_FIRST_DARK_DIAMETER * PC_DEPTH_WAVELENGTH_M * effective_f(x),
        .focus_contrast_ratio = pc_depth_contrast(0.0, 1 / setup->coc_m, effective_f(x)),
        .hyperfocal_m = setup->focal_m * (2 + far_focus_ratio + 1 / far_focus_ratio),
    };
    return PC_OK;
}
