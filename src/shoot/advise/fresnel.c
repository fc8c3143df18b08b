// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/fresnel.h"

#include <complex.h>

#include "base/tolerance.h"
#include "base/units.h"

// Indices at 589 nm, 20 to 40 degrees; the ranges hold what kitchens make of it. Sugar in water after the
// ICUMSA scale (0 % 1.3330, 7 % 1.3432, 60 % 1.4418, 75 % 1.4774), edible oils after Codex standards 19 and
// 33, soda-lime glass after its makers; ceramic glazes and steel are rules of thumb.
const struct pc_gloss pc_glosses[] = {
    {"broth", "clear soup, stock, tea", 1.338, 0.006, 0},
    {"wine", "wine, beer, spirits", 1.350, 0.010, 0},
    {"sauce", "thin sweet or reduced sauce", 1.390, 0.030, 0},
    {"syrup", "syrup, honey, sugar glaze", 1.470, 0.030, 0},
    {"oil", "oil, melted butter", 1.463, 0.012, 0},
    {"glass", "glass, carafe, pane", 1.52, 0.02, 0},
    {"glaze", "glazed plate or bowl", 1.55, 0.05, 0},
    {"steel", "steel cutlery or tray", 2.5, 0.5, 3.4},
};
const int pc_gloss_count = PC_COUNT(pc_glosses);

const struct pc_gloss *pc_gloss_find(const char *name)
{
    for (int i = 0; i < pc_gloss_count; i++)
        if (strcmp(pc_glosses[i].name, name) == 0)
            return &pc_glosses[i];
    return NULL;
}

static double squared(double complex z)
{
    return creal(z) * creal(z) + cimag(z) * cimag(z);
}

void pc_fresnel(double index, double absorption, double incidence_rad, double *across_ratio,
                double *in_plane_ratio)
{
    double complex index2 =
        (index + absorption * (double complex)_Complex_I) * (index + absorption * (double complex)_Complex_I);
    double c = cos(incidence_rad), s = sin(incidence_rad);
    double complex inside = csqrt(index2 - s * s);
    *across_ratio = squared((c - inside) / (c + inside));
    *in_plane_ratio = squared((index2 * c - inside) / (index2 * c + inside));
}

static bool mirrored(const void *given, const double x[], double y[])
{
    const struct pc_gloss *gloss = given;
    double across, in_plane;
    pc_fresnel(x[0], gloss->absorption, fmin(fabs(x[1]), PC_PI / 2), &across, &in_plane);
    y[0] = (across + in_plane) / 2;
    y[1] = in_plane;
    return x[0] > 0;
}

struct pc_mirrored pc_fresnel_mirrored(const struct pc_gloss *gloss, double incidence_rad,
                                       double incidence_rad_tolerance)
{
    // By draws: near the best angle what is left goes through nothing, and grows to both sides.
    double x[2] = {gloss->index, incidence_rad},
           x_tolerance[2] = {gloss->index_tolerance, incidence_rad_tolerance}, y[2], tolerance[2];
    bool answered = pc_tolerance_drawn(mirrored, gloss, 2, x, x_tolerance, 2, y, tolerance);
    PC_ASSERT(answered);
    return (struct pc_mirrored){y[0], tolerance[0], y[1], tolerance[1]};
}

double pc_fresnel_best_incidence_rad(const struct pc_gloss *gloss)
{
    return atan(gloss->index);
}
