// SPDX-License-Identifier: Apache-2.0
#include "light/sky/glass.h"

#include "base/units.h"

static const double INDEX = 1.52;
enum { PANES_MAX = 3 };

struct through {
    double passed, returned;
};

// One pane: both faces, of reflectance r, and what a crossing leaves.
static struct through pane(double r, double crossing)
{
    double again = 1.0 - r * r * crossing * crossing;
    double passed = (1.0 - r) * (1.0 - r) * crossing / again;
    return (struct through){passed, r * (1.0 + crossing * passed)};
}

static struct through behind(struct through a, struct through b)
{
    double again = 1.0 - a.returned * b.returned;
    return (struct through){a.passed * b.passed / again,
                            a.returned + a.passed * a.passed * b.returned / again};
}

double pc_glass_ratio(const struct pc_glass *glass, double angle_rad)
{
    if (glass->panes == 0)
        return glass->normal_ratio;
    double c = cos(angle_rad);
    if (c < 1e-6)
        return 0.0;
    double inside = sqrt(1.0 - (1.0 - c * c) / (INDEX * INDEX));
    double s = (c - INDEX * inside) / (c + INDEX * inside), p = (INDEX * c - inside) / (INDEX * c + inside);
    double crossing = pow(glass->pane_inside_ratio, 1.0 / inside), sum = 0.0;
    const double r[2] = {s * s, p * p};
    for (int k = 0; k < 2; k++) {
        struct through one = pane(r[k], crossing), all = one;
        for (int i = 1; i < glass->panes; i++)
            all = behind(all, one);
        sum += 0.5 * all.passed;
    }
    return sum;
}

double pc_glass_diffuse_ratio(const struct pc_glass *glass)
{
    // Midpoints in the square of the sine, which weighs by the cosine.
    enum { STEPS = 64 };
    double sum = 0.0;
    for (int i = 0; i < STEPS; i++)
        sum += pc_glass_ratio(glass, asin(sqrt((i + 0.5) / STEPS)));
    return sum / STEPS;
}

int pc_glass_panes(double normal_ratio)
{
    return normal_ratio > 0.918 ? 0 : normal_ratio > 0.82 ? 1 : 2;
}

enum pc_status pc_glass_make(int panes, double normal_ratio, struct pc_glass *glass, struct pc_err *err)
{
    struct pc_glass g = {panes, normal_ratio, 1.0};
    if (panes < 0 || panes > PANES_MAX)
        return pc_fail(err, PC_BAD_INPUT, "glass", "A window has from 0 to %d panes.", PANES_MAX);
    double most = panes == 0 ? 1.0 : pc_glass_ratio(&g, 0.0);
    if (!(normal_ratio > 0.0 && normal_ratio <= most))
        return pc_fail(err, PC_BAD_INPUT, "glass",
                       "%d clear pane%s let%s at most %.0f %% of the light through, and more than nothing; "
                       "%.0f %% cannot be.",
                       panes, panes == 1 ? "" : "s", panes == 1 ? "s" : "", 100.0 * most,
                       100.0 * normal_ratio);
    double low = 0.0, high = 1.0;
    for (int i = 0; panes > 0 && i < 60; i++) {
        g.pane_inside_ratio = 0.5 * (low + high);
        if (pc_glass_ratio(&g, 0.0) < normal_ratio)
            low = g.pane_inside_ratio;
        else
            high = g.pane_inside_ratio;
    }
    *glass = g;
    return PC_OK;
}
