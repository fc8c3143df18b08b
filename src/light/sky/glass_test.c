// SPDX-License-Identifier: Apache-2.0
#include "light/sky/glass.h"

#include <setjmp.h>
#include <cmocka.h>

#include "light/sky/check_priv.h"

static double at(const struct pc_glass *glass, double angle_deg)
{
    return pc_glass_ratio(glass, pc_rad_from_deg(angle_deg));
}

static void a_clear_pane_follows_fresnel(void **state)
{
    (void)state;
    // Computed independently: (1 - r) / (1 + r), the mean of both polarisations, index 1.52.
    static const double rows[][2] = {{0, 0.91832},  {30, 0.91596}, {45, 0.90253},
                                     {60, 0.84347}, {75, 0.61481}, {85, 0.24565}};
    struct pc_glass clear = {1, 1.0, 1.0};
    for (size_t i = 0; i < PC_COUNT(rows); i++)
        near(at(&clear, rows[i][0]), rows[i][1], 6e-6);
    near(at(&clear, 90), 0.0, 1e-12);
    // N lossless panes let (1 - r) / (1 + (2 N - 1) r) through (Duffie and Beckman, eq. 5.1.6).
    double r = (0.52 / 2.52) * (0.52 / 2.52);
    for (int panes = 1; panes <= 3; panes++) {
        clear.panes = panes;
        near(at(&clear, 0), (1 - r) / (1 + (2 * panes - 1) * r), 1e-12);
    }
}

static void what_is_stated_square_on_is_met(void **state)
{
    (void)state;
    struct pc_glass glass;
    for (int panes = 1; panes <= 3; panes++) {
        assert_int_equal(pc_glass_make(panes, 0.6, &glass, NULL), PC_OK);
        near(at(&glass, 0), 0.6, 1e-9);
        // Absorption makes it fall with the angle, and never rise.
        for (int a = 0; a < 90; a += 5)
            assert_true(at(&glass, a + 5) < at(&glass, a) + 1e-12);
        // Light from all sides comes at 52 to 60 degrees on the mean.
        assert_true(pc_glass_diffuse_ratio(&glass) < at(&glass, 48) &&
                    pc_glass_diffuse_ratio(&glass) > at(&glass, 64));
    }
    assert_int_equal(pc_glass_make(0, 1.0, &glass, NULL), PC_OK);
    near(at(&glass, 80), 1.0, 0.0);
    near(pc_glass_diffuse_ratio(&glass), 1.0, 1e-12);
}

static void glass_that_cannot_be_is_refused(void **state)
{
    (void)state;
    struct pc_glass glass;
    struct pc_err err = {0};
    assert_int_equal(pc_glass_make(2, 0.95, &glass, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "at most 85 %"));
    assert_int_equal(pc_glass_make(1, 0.0, &glass, NULL), PC_BAD_INPUT);
    assert_int_equal(pc_glass_make(1, (double)NAN, &glass, NULL), PC_BAD_INPUT);
    assert_int_equal(pc_glass_make(4, 0.5, &glass, NULL), PC_BAD_INPUT);
    // Whatever may be stated has panes that can do it.
    for (int pct = 1; pct <= 100; pct++)
        assert_int_equal(pc_glass_make(pc_glass_panes(pct / 100.0), pct / 100.0, &glass, NULL), PC_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clear_pane_follows_fresnel),
        cmocka_unit_test(what_is_stated_square_on_is_met),
        cmocka_unit_test(glass_that_cannot_be_is_refused),
    };
    return cmocka_run_group_tests_name("glass", tests, NULL, NULL);
}
