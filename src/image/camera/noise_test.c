// SPDX-License-Identifier: Apache-2.0
#include "image/camera/noise.h"

#include "image/camera/expose.h"
#include "image/picture/meter.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// Derived from the model by hand: K 0.25 DN/e, read noise 2 e.
static void variance_and_snr_follow_the_linear_camera(void **state)
{
    (void)state;
    static const struct {
        double electrons, var_dn2, snr;
    } rows[] = {
        {10, 0.95833, 2.55377}, {100, 6.58333, 9.74355}, {1000, 62.8333, 31.5388}, {10000, 625.333, 99.9733}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        near(pc_noise_variance_dn2(0.25, 2, rows[i].electrons), rows[i].var_dn2, 1e-5 * rows[i].var_dn2,
             "var");
        near(pc_noise_snr(0.25, 2, rows[i].electrons), rows[i].snr, 1e-5 * rows[i].snr, "snr");
        // The two say the same: signal over the root of the variance, both in DN.
        near(0.25 * rows[i].electrons / sqrt(pc_noise_variance_dn2(0.25, 2, rows[i].electrons)), rows[i].snr,
             1e-4 * rows[i].snr, "snr from var");
    }
}

// Made-up sensors of three sizes, not measured ones; the largest ratio is the root of the full well.
static void range_and_best_snr_of_three_sizes(void **state)
{
    (void)state;
    static const struct {
        double full_e, read_e, best, range_ev;
    } rows[] = {{6000, 1.5, 77, 11.6}, {30000, 2.5, 173, 13.3}, {80000, 3, 283, 14.5}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_sensor sensor = {.full_well_e = rows[i].full_e, .read_noise_e = rows[i].read_e};
        near(pc_noise_range_ev(&sensor), rows[i].range_ev, 0.05, "range");
        near(pc_noise_snr(0, rows[i].read_e, rows[i].full_e), rows[i].best, 0.5, "best");
    }
}

// The factor 50.34 from the constants: lambda / (h c) (SI 2019, exact), 1 um2, 1 ms, 1 um, 1 uW/cm2.
static void photons_are_energy_over_quantum(void **state)
{
    (void)state;
    double want = 1e-12 * 1e-3 * 1e-2 * 1e-6 / (6.62607015e-34 * 299792458.0);
    near(pc_noise_photons(1, 1e-3, 1, 1), want, 1e-4 * want, "photons");
    // 1 lx s at 555 nm is 1/683 J/m2 (the definition of the candela is at 555.016 nm).
    near(PC_NOISE_PHOTONS_GREEN, 1e-12 / 683 * 555e-9 / (6.62607015e-34 * 299792458.0), 0.1, "at 555 nm");
    // Illuminant A is a black body of 2856 K. The eye by the fit of Wyman, Sloan and Shirley (JCGT 2(2):1,
    // 2013), good to a per cent. (The figure for D65 was run with an open library of colour science, over its
    // table of D65.)
    double photons = 0, lumens = 0;
    for (double nm = 400; nm <= 700; nm++) {
        double power = pow(560 / nm, 5) / (exp(1.4388e7 / (nm * 2855.5)) - 1);
        double a = (nm - 568.8) / (nm < 568.8 ? 46.9 : 40.5), b = (nm - 530.9) / (nm < 530.9 ? 16.3 : 31.1);
        photons += power * nm * 1e-9 / (6.62607015e-34 * 299792458.0) * 1e-12;
        lumens += power * 683 * (0.821 * exp(-0.5 * a * a) + 0.286 * exp(-0.5 * b * b));
    }
    near(PC_NOISE_PHOTONS_TUNGSTEN, photons / lumens, 0.015 * PC_NOISE_PHOTONS_TUNGSTEN, "illuminant A");
}

// A frame of known full well and read noise, averaged over two photosites, gives them back.
static void a_sensor_is_found_from_its_noise(void **state)
{
    (void)state;
    double full_e = 20000, read_e = 4; // at ISO 200
    struct pc_noise noise = {.offset_var = {0, read_e * read_e / full_e / full_e / 2, 0},
                             .per_signal_var = {0, 1 / full_e / 2, 0}};
    struct pc_sensor sensor;
    assert_true(pc_noise_sensor_from(&noise, 1, 2, 200, 100, 0.15, &sensor));
    near(sensor.full_well_e, 40000, 1e-6, "full well");
    near(sensor.read_noise_e, 4, 1e-9, "read noise");
    assert_false(pc_noise_sensor_from(&noise, 0, 2, 200, 100, 0.15, &sensor));
}

static const struct pc_sensor middling = {.full_well_e = 30000,
                                          .full_well_e_tolerance = 9000,
                                          .read_noise_e = 2.5,
                                          .read_noise_e_tolerance = 1.2,
                                          .base_iso = 100};

// A grey card exposed as an incident meter says lies at q C rho / (78 pi) = 11.9 % of saturation at any
// light.
static void a_grey_as_metered_lies_where_the_standards_put_it(void **state)
{
    (void)state;
    for (double lx = 50; lx < 1e5; lx *= 7) {
        double shutter_s = 64 / (lx * 400 / PC_EXPOSE_C_LX); // f/8, ISO 400
        struct pc_noise_grey grey = {lx, 0, 0.18, 8, shutter_s, 400, 1};
        struct pc_snr snr;
        assert_true(pc_noise_of_grey(&middling, &grey, &snr));
        near(snr.level_ratio, 0.65 * 250 * 0.18 / (78 * 3.14159265358979), 1e-9, "level");
        near(pc_meter_lx(snr.level_ratio, shutter_s, 8, 400, 0.18), lx, 1e-9 * lx, "and back");
        near(snr.electrons, snr.level_ratio * 7500, 1e-6, "electrons at two stops over base");
        near(snr.snr, snr.electrons / sqrt(snr.electrons + 2.5 * 2.5), 1e-9, "snr");
        grey.averaged = 16;
        struct pc_snr out;
        assert_true(pc_noise_of_grey(&middling, &grey, &out));
        near(out.snr, 4 * snr.snr, 1e-9, "averaged over 16");
    }
}

static void a_clipped_grey_has_no_snr(void **state)
{
    (void)state;
    struct pc_noise_grey grey = {1000, 0, 0.18, 1, 1, 100, 1};
    struct pc_snr snr;
    assert_true(pc_noise_of_grey(&middling, &grey, &snr));
    assert_true(snr.level_ratio > 1 && !(snr.snr > 0));
    grey.shutter_s = 0;
    assert_false(pc_noise_of_grey(&middling, &grey, &snr));
}

// The public answer again, as a function that mc_judge can draw from.
static bool grey_again(const void *given, const double x[], double y[])
{
    struct pc_noise_grey grey = *(const struct pc_noise_grey *)given;
    struct pc_sensor sensor = {.full_well_e = x[1], .read_noise_e = x[2], .base_iso = 100};
    struct pc_snr snr;
    grey.card_lx = x[0];
    if (!pc_noise_of_grey(&sensor, &grey, &snr))
        return false;
    y[0] = snr.level_ratio;
    y[1] = snr.electrons;
    y[2] = snr.snr;
    return true;
}

static void tolerances_hold(void **state)
{
    (void)state;
    struct pc_noise_grey grey = {750, 750 * (exp2(0.3) - 1), 0.18, 8, 1.0 / 64, 1600, 4};
    struct pc_snr snr;
    assert_true(pc_noise_of_grey(&middling, &grey, &snr));
    double x[] = {750, 30000, 2.5}, tolerance[] = {grey.card_lx_tolerance, 9000, 1.2};
    double stated[] = {snr.level_ratio_tolerance, snr.electrons_tolerance, snr.snr_tolerance};
    mc_judge("snr", grey_again, &grey, 3, x, tolerance, 3, stated);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(variance_and_snr_follow_the_linear_camera),
        cmocka_unit_test(range_and_best_snr_of_three_sizes),
        cmocka_unit_test(photons_are_energy_over_quantum),
        cmocka_unit_test(a_sensor_is_found_from_its_noise),
        cmocka_unit_test(a_grey_as_metered_lies_where_the_standards_put_it),
        cmocka_unit_test(a_clipped_grey_has_no_snr),
        cmocka_unit_test(tolerances_hold),
    };
    return cmocka_run_group_tests_name("noise", tests, NULL, NULL);
}
