// SPDX-License-Identifier: Apache-2.0
#include "tests/monte_carlo.h"

// A product and a sum, whose errors add in closed form.
static bool product_and_sum(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = x[0] * x[1];
    y[1] = x[0] + 2.0 * x[1];
    return true;
}

static void errors_add_as_squares(void **state)
{
    (void)state;
    double x[2] = {10.0, 4.0}, dx[2] = {0.3, 0.4}, y[2], dy[2];
    assert_true(pc_tolerance(product_and_sum, NULL, 2, x, dx, 2, y, dy));
    assert_float_equal(y[0], 40.0, 1e-12);
    assert_float_equal(dy[0], hypot(0.3 * 4.0, 0.4 * 10.0), 1e-9);
    assert_float_equal(dy[1], hypot(0.3, 0.8), 1e-9);
    mc_judge("product and sum", product_and_sum, NULL, 2, x, dx, 2, NULL);
}

// Depth of field behind the subject is endless from some distance on.
static bool beyond(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = x[0] < 1.0 ? 1.0 / (1.0 - x[0]) : (double)INFINITY;
    return x[0] < 2.0;
}

static void an_answer_that_may_cease_has_no_bound(void **state)
{
    (void)state;
    double y, dy, at[] = {0.95, 1.5, 1.95, 2.5}, tolerance = 0.1;
    assert_true(pc_tolerance(beyond, NULL, 1, &at[0], &tolerance, 1, &y, &dy));
    assert_float_equal(y, 20.0, 1e-9);
    assert_true(isinf(dy));
    assert_true(pc_tolerance(beyond, NULL, 1, &at[1], &tolerance, 1, &y, &dy));
    assert_true(isinf(y) && isnan(dy));
    assert_false(pc_tolerance(beyond, NULL, 1, &at[3], &tolerance, 1, &y, &dy));
}

// What is seen of a thing over an edge: two inputs that only together bring it into sight.
static bool over_the_edge(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = fmax(x[0] + x[1] - 1.5, 0.0);
    y[1] = fmin(2.0 * x[0], 1.0);
    return true;
}

static void draws_see_over_an_edge(void **state)
{
    (void)state;
    double x[2] = {0.0, 0.0}, dx[2] = {1.2, 1.2}, y[2], dy[2], linear[2];
    assert_true(pc_tolerance(over_the_edge, NULL, 2, x, dx, 2, y, linear));
    assert_float_equal(linear[0], 0.0, 1e-12);
    assert_true(pc_tolerance_drawn(over_the_edge, NULL, 2, x, dx, 2, y, dy));
    mc_judge("over the edge", over_the_edge, NULL, 2, x, dx, 2, dy);
    // A plain sum gets what linearising gives, but for the chance of the draws and 24 for 19: 2.05
    // deviations.
    double at[2] = {10.0, 4.0}, within[2] = {0.3, 0.4};
    assert_true(pc_tolerance_drawn(product_and_sum, NULL, 2, at, within, 2, y, dy));
    double wider = dy[1] / hypot(0.3, 0.8);
    assert_float_equal(wider, 1.046, 0.1);
    mc_judge("sum by draws", product_and_sum, NULL, 2, at, within, 2, dy);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(errors_add_as_squares),
        cmocka_unit_test(an_answer_that_may_cease_has_no_bound),
        cmocka_unit_test(draws_see_over_an_edge),
    };
    return cmocka_run_group_tests_name("tolerance", tests, NULL, NULL);
}
