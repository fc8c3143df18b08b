// SPDX-License-Identifier: Apache-2.0
// Kelvin curves of panels whose mixing is known in closed form, and of crooked ones.
#include "light/lamp/kelvin.h"

#include "base/units.h"

#include <setjmp.h>
#include <cmocka.h>

static const double COOL_MIRED = 1e6 / 6500, WARM_MIRED = 1e6 / 2700;

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static struct pc_kelvin crooked(void)
{
    return (struct pc_kelvin){.points = 6,
                              .mired = {COOL_MIRED, 170, 175, 250, 330, WARM_MIRED},
                              .share_ratio = {0, 1e-6, 0.3, 0.31, 0.32, 1},
                              .drive_ratio = {1, 1.4, 1.1, 1.9, 0.7, 1}};
}

static void it_goes_through_what_was_measured(void **state)
{
    (void)state;
    struct pc_kelvin kelvin = crooked();
    for (int k = 0; k < kelvin.points; k++) {
        double warm, cool;
        pc_kelvin_drives(&kelvin, kelvin.mired[k], &warm, &cool);
        near(warm, kelvin.share_ratio[k] * kelvin.drive_ratio[k], 1e-12);
        near(cool, (1 - kelvin.share_ratio[k]) * kelvin.drive_ratio[k], 1e-12);
    }
    double warm, cool;
    pc_kelvin_drives(&kelvin, 100, &warm, &cool); // beyond the ends
    near(warm, 0, 0);
    near(cool, 1, 1e-15);
    pc_kelvin_drives(&kelvin, 500, &warm, &cool);
    near(warm, 1, 1e-15);
    near(cool, 0, 0);
}

static void warmer_never_turns_back(void **state)
{
    (void)state;
    struct pc_kelvin kelvin = crooked();
    double before = -1;
    for (double mired = COOL_MIRED - 5; mired < WARM_MIRED + 5; mired += 0.05) {
        double share = pc_kelvin_share(&kelvin, mired);
        if (share < before)
            fail_msg("share %.12g at %.2f mired is under %.12g before it", share, mired, before);
        before = share;
    }
    // Between two points the drive stays between theirs.
    for (int k = 0; k + 1 < kelvin.points; k++)
        for (double part = 0; part <= 1; part += 0.01) {
            double share = kelvin.share_ratio[k] + part * (kelvin.share_ratio[k + 1] - kelvin.share_ratio[k]);
            double drive = pc_kelvin_drive(&kelvin, share), a = kelvin.drive_ratio[k],
                   b = kelvin.drive_ratio[k + 1];
            assert_true(drive >= fmin(a, b) - 1e-12 && drive <= fmax(a, b) + 1e-12);
        }
}

static void there_and_back(void **state)
{
    (void)state;
    struct pc_kelvin kelvin = crooked();
    for (double share = 0; share <= 1; share += 0.001)
        near(pc_kelvin_share(&kelvin, pc_kelvin_mired(&kelvin, share)), share, 1e-9);
    for (double mired = COOL_MIRED; mired <= WARM_MIRED; mired += 0.37) {
        double share = pc_kelvin_share(&kelvin, mired);
        if (share > 1e-5 && share < 1 - 1e-5) // level to rounding close to the ends
            near(pc_kelvin_mired(&kelvin, share), mired, 1e-3);
    }
    near(pc_kelvin_mired(&kelvin, -0.5), COOL_MIRED, 0);
    near(pc_kelvin_mired(&kelvin, 1.5), WARM_MIRED, 0);
}

// What the whole drive does at warm share s by three ways of building a panel.
static double keeps_drive(double s)
{
    (void)s;
    return 1;
}

static double stronger_at_full(double s)
{
    return 1 / fmax(s, 1 - s);
}

// The same within a supply for one and a half emitters.
static double within_supply(double s)
{
    return fmin(stronger_at_full(s), 1.5);
}

static double worst_ev(double (*drive)(double), const double *shares, int count, double low, double high)
{
    struct pc_kelvin kelvin = {.points = count};
    for (int k = 0; k < count; k++) {
        kelvin.share_ratio[k] = shares[k];
        kelvin.mired[k] = COOL_MIRED + shares[k] * (WARM_MIRED - COOL_MIRED);
        kelvin.drive_ratio[k] = drive(shares[k]);
    }
    double worst = 0;
    for (double s = low; s <= high; s += 0.003) {
        double warm, cool;
        pc_kelvin_drives(&kelvin, COOL_MIRED + s * (WARM_MIRED - COOL_MIRED), &warm, &cool);
        worst = fmax(worst, fabs(pc_ev_from_ratio((warm + cool) / drive(s))));
        near(warm / (warm + cool), s, 1e-12);
    }
    return worst;
}

static void natural_laws_are_exact_between_the_points(void **state)
{
    (void)state;
    static const double shares[5] = {0, 0.3, 0.5, 0.8, 1};
    near(worst_ev(keeps_drive, shares, 5, 0, 1), 0, 1e-12);
    near(worst_ev(stronger_at_full, shares, 5, 0, 1), 0, 1e-12);
    static const double supply[5] = {0, 1.0 / 3, 0.4, 2.0 / 3, 1};
    near(worst_ev(within_supply, supply, 5, 0, 1), 0, 1e-12);
    // Where the change from one emitter to the other is not among the points, it is bridged by a straight
    // line.
    static const double astride[4] = {0, 0.4, 0.6, 1};
    near(worst_ev(stronger_at_full, astride, 4, 0, 0.4), 0, 1e-12);
    near(worst_ev(stronger_at_full, astride, 4, 0.5, 0.501), log2(0.6 / 0.5), 1e-2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_goes_through_what_was_measured),
        cmocka_unit_test(warmer_never_turns_back),
        cmocka_unit_test(there_and_back),
        cmocka_unit_test(natural_laws_are_exact_between_the_points),
    };
    return cmocka_run_group_tests_name("kelvin", tests, NULL, NULL);
}
