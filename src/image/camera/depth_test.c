// SPDX-License-Identifier: Apache-2.0
#include "image/camera/depth_priv.h"

#include "base/units.h"
#include "tests/monte_carlo.h"

static struct pc_depth_setup setup(double focal_mm, double f_number, double coc_mm, double magnification,
                                   double pupil_ratio)
{
    return (struct pc_depth_setup){.focal_m = focal_mm / 1000,
                                   .f_number = f_number,
                                   .coc_m = coc_mm / 1000,
                                   .magnification_ratio = magnification,
                                   .pupil_ratio = pupil_ratio};
}

static struct pc_depth find(const struct pc_depth_setup *s)
{
    struct pc_depth depth;
    struct pc_err err = {0};
    if (pc_depth_find(s, &depth, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return depth;
}

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// Lens equation only: the cone of light from a point at distance past the plane in focus, through the
// entrance pupil, to the sensor. Traced by the principal planes (Gauss), with the pupils where P puts them.
static double traced_blur_m(const struct pc_depth_setup *s, double behind_m)
{
    double f = s->focal_m, m = s->magnification_ratio, P = s->pupil_ratio;
    double object_m = f * (1 + 1 / m), sensor_m = f * (1 + m); // from the principal planes
    double exit_pupil_m = f * (1 - P);                         // behind the rear principal plane
    double exit_m = P * f / s->f_number;                       // its diameter
    double from_m = object_m + behind_m, image_m = 1 / (1 / f - 1 / from_m);
    return exit_m * fabs(sensor_m - image_m) / (image_m - exit_pupil_m);
}

// near, far, total in mm, effective aperture and loss: computed twice, by the closed form and by hand; and
// for each the blur at both ends, traced by the lens equation, is the circle of confusion.
static void depth_is_exact(void **state)
{
    (void)state;
    const struct {
        struct pc_depth_setup setup;
        double near_mm, far_mm, total_mm, effective_f, loss_ev;
    } known[] = {
        {setup(100, 8, 0.03, 0.5, 1), 1.4331, 1.4469, 2.8801, 12, 1.170},
        {setup(100, 8, 0.03, 0.5, 0.5), 1.9108, 1.9293, 3.8401, 16, 2.000},
        {setup(50, 2.8, 0.02, 0.1, 1), 6.0918, 6.2298, 12.3215, 3.08, 0.275},
    };
    for (size_t i = 0; i < PC_COUNT(known); i++) {
        struct pc_depth depth = find(&known[i].setup);
        near(depth.near_m * 1000, known[i].near_mm, 6e-5, "near");
        near(depth.far_m * 1000, known[i].far_mm, 6e-5, "far");
        near(depth.total_m * 1000, known[i].total_mm, 6e-5, "total");
        near(depth.effective_f, known[i].effective_f, 1e-9, "effective aperture");
        near(depth.exposure_loss_ev, known[i].loss_ev, 6e-4, "loss");
        near(traced_blur_m(&known[i].setup, -depth.near_m), known[i].setup.coc_m, 1e-12, "blur in front");
        near(traced_blur_m(&known[i].setup, depth.far_m), known[i].setup.coc_m, 1e-12, "blur behind");
        // 2 N c (1 + m/P) / m^2 holds while the depth is small beside the distance.
        const struct pc_depth_setup *s = &known[i].setup;
        double m = s->magnification_ratio,
               small = 2 * s->f_number * s->coc_m * (1 + m / s->pupil_ratio) / (m * m);
        near(depth.total_m, small, 5e-4 * small, "total of a small depth");
    }
}

static void depth_reaches_infinity(void **state)
{
    (void)state;
    struct pc_depth_setup s = setup(35, 11, 0.03, 1, 1.3);
    struct pc_depth depth = find(&s);
    // Published form of the hyperfocal distance from the entrance pupil side: f^2/(N c); here from the
    // sensor, with the lens's own length: f (2 + m + 1/m), m = c N / f.
    double m = s.coc_m * s.f_number / s.focal_m;
    near(depth.hyperfocal_m, s.focal_m * s.focal_m / (s.f_number * s.coc_m) + s.focal_m * (2 + m), 1e-9,
         "hyperfocal");
    s.magnification_ratio = m;
    depth = find(&s);
    assert_true(isinf(depth.far_m) && isinf(depth.total_m) && isnan(depth.far_m_tolerance));
    near(depth.near_m, s.focal_m * (1 / m + 1 / s.pupil_ratio) / 2, 1e-9, "half of the distance");
    s.magnification_ratio = m * 1.001;
    assert_true(isfinite(find(&s).far_m));
}

// The transfer function of a defocused round pupil as a plain sum over the pupil, no integral solved.
static double summed_contrast(double blur_m, double line_pairs_per_m, double effective_f)
{
    enum { SIDE = 801 };
    double s = PC_DEPTH_WAVELENGTH_M * effective_f * line_pairs_per_m, sum = 0.0, whole = 0.0;
    // Path difference at the rim of the pupil, in waves, of a blur disc of that width: blur / (8 N) / lambda.
    double waves = blur_m / (8 * effective_f) / PC_DEPTH_WAVELENGTH_M;
    for (int i = 0; i < SIDE; i++)
        for (int j = 0; j < SIDE; j++) {
            double x = 2.0 * i / (SIDE - 1) - 1, y = 2.0 * j / (SIDE - 1) - 1;
            whole += x * x + y * y <= 1;
            double right = (x + s) * (x + s) + y * y, left = (x - s) * (x - s) + y * y;
            if (right <= 1 && left <= 1)
                sum += cos(2 * PC_PI * waves * (right - left));
        }
    return sum / whole;
}

static void contrast_is_that_of_a_round_pupil(void **state)
{
    (void)state;
    // In focus: (2/pi)(acos s - s sqrt(1 - s^2)); at a quarter and half of the cut-off 0.68504 and 0.39100.
    double f8 = 8, cutoff = 1 / (PC_DEPTH_WAVELENGTH_M * f8);
    near(cutoff / 1000, 227.27, 0.005, "cut-off at f/8 in line pairs a millimetre");
    near(pc_depth_contrast(0, cutoff / 4, f8), 0.68504, 2e-5, "quarter of the cut-off");
    near(pc_depth_contrast(0, cutoff / 2, f8), 0.39100, 2e-5, "half of the cut-off");
    near(pc_depth_contrast(0, cutoff * 1.01, f8), 0, 0, "past the cut-off");
    // Without diffraction it is a disc's: 2 J1(x)/x.
    for (double blur_um = 4; blur_um < 40; blur_um += 4) {
        double x = PC_PI * blur_um / 20;
        near(pc_depth_contrast(blur_um * 1e-6, 1 / 20e-6, 1e-3), 2 * j1(x) / x, 1e-4, "contrast of a disc");
    }
    // Between the two: summed over the pupil, to the graininess of the sum.
    near(pc_depth_contrast(20e-6, 50e3, 18.4), summed_contrast(20e-6, 50e3, 18.4), 0.003, "f/18.4, 20 um");
    near(pc_depth_contrast(30e-6, 50e3, 9.2), summed_contrast(30e-6, 50e3, 9.2), 0.003, "f/9.2, 30 um");
    near(pc_depth_contrast(14e-6, 50e3, 25.3), summed_contrast(14e-6, 50e3, 25.3), 0.003, "f/25.3, 14 um");
    // First dark ring of f/8: 10.736 um with 2.44, the rounded factor.
    struct pc_depth_setup s = setup(50, 8, 0.02, 1e-9, 1);
    near(find(&s).airy_m * 1e6, 10.736, 0.004, "first dark ring");
}

// A stack of galettes: 90 mm, m 0.15, c 0.02 mm. 16.4 mm at f/8, 14 frames at 30 % for 160 mm; 33 mm at f/16,
// 7 frames. Computed independently: 2 N c (1 + m)/m^2, and 1 + ceil((160 - T)/(0.7 T)).
static void a_stack_of_galettes(void **state)
{
    (void)state;
    const struct {
        double f_number, total_mm;
        int frames;
    } known[] = {{8, 16.4, 14}, {16, 32.7, 7}};
    for (size_t i = 0; i < PC_COUNT(known); i++) {
        struct pc_depth_setup s = setup(90, known[i].f_number, 0.02, 0.15, 1);
        struct pc_depth depth = find(&s);
        struct pc_focus_plan plan;
        near(depth.total_m * 1000, known[i].total_mm, 0.05, "depth");
        near(depth.sharp_total_m, depth.total_m, 1e-12, "diffraction takes nothing away yet");
        assert_int_equal(pc_focus_by_rail(&s, 0.160, 0.3, &plan, NULL), PC_OK);
        assert_int_equal(plan.frames, known[i].frames);
        assert_int_equal(plan.frames, 1 + (int)ceil((0.160 - depth.total_m) / (0.7 * depth.total_m)));
        near(plan.at_m[0], depth.near_m, 1e-9, "front edge");
        near(plan.at_m[plan.frames - 1] + depth.far_m, 0.160, 1e-9, "back edge");
        near((plan.at_m[1] - plan.at_m[0]) / depth.total_m, 1 - plan.overlap_ratio, 1e-6, "overlap");
        assert_true(plan.overlap_ratio >= 0.3);
    }
    // f/22: what the disc allows is no longer reached; f/25: nothing is.
    struct pc_depth_setup s = setup(90, 22, 0.02, 0.15, 1);
    struct pc_depth depth = find(&s);
    assert_true(depth.sharp_total_m < 0.8 * depth.total_m && depth.sharp_total_m > 0);
    double end_m = traced_blur_m(&s, -depth.sharp_near_m);
    near(summed_contrast(end_m, 1 / s.coc_m, depth.effective_f), 2 * j1(PC_PI) / PC_PI, 0.003,
         "contrast at the end of the depth");
    s.f_number = 25;
    struct pc_focus_plan plan;
    struct pc_err err = {0};
    near(find(&s).sharp_total_m, 0, 0, "nothing sharp");
    assert_int_equal(pc_focus_by_rail(&s, 0.160, 0.3, &plan, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "open the aperture"));
}

// By the ring the sensor stays: each frame's limits are checked by tracing a blur from the lens equation.
static void focus_by_the_ring(void **state)
{
    (void)state;
    struct pc_depth_setup s = setup(90, 8, 0.02, 0.15, 0.8);
    struct pc_focus_plan ring, rail;
    assert_int_equal(pc_focus_by_ring(&s, 0.160, 0.3, &ring, NULL), PC_OK);
    assert_int_equal(pc_focus_by_rail(&s, 0.160, 0.3, &rail, NULL), PC_OK);
    assert_true(ring.frames < rail.frames); // farther planes are shown smaller, so deeper
    double f = s.focal_m, total = f * (2 + 0.15 + 1 / 0.15), end_m = 0;
    for (int i = 0; i < ring.frames; i++) {
        // f (2 + m + 1/m) = total + at, solved by halving.
        double low = 1e-4, high = 0.15 + 1e-3;
        for (int k = 0; k < 80; k++) {
            double m = (low + high) / 2;
            if (f * (2 + m + 1 / m) > total + ring.at_m[i])
                low = m;
            else
                high = m;
        }
        struct pc_depth_setup at = s;
        at.magnification_ratio = low;
        struct pc_depth depth = find(&at);
        near(traced_blur_m(&at, depth.far_m), s.coc_m, 1e-12, "blur");
        if (i > 0) {
            double before_m = end_m - (ring.at_m[i] - depth.near_m);
            assert_true(before_m > 0.29 * depth.total_m * 0.8); // of the nearer frame's depth, the smaller
        } else {
            near(ring.at_m[0] - depth.near_m, 0, 1e-7, "front edge");
        }
        end_m = ring.at_m[i] + depth.far_m;
    }
    near(end_m, 0.160, 1e-6, "back edge");
    // One frame does when the depth is wide.
    s.magnification_ratio = 0.03;
    assert_int_equal(pc_focus_by_ring(&s, 0.02, 0.3, &ring, NULL), PC_OK);
    assert_int_equal(ring.frames, 1);
}

static void circles_of_confusion(void **state)
{
    (void)state;
    // 0.2 mm at 25 cm: a picture shown as large as it was taken, at 25 cm.
    near(pc_depth_coc_from_print_m(0.036, 0.036, 0.25), 0.0002, 1e-12, "no enlargement");
    // Full page, 221 x 286 mm with bleed, from the short side of 24 mm, at 25 cm: 0.2 / 9.208.
    near(pc_depth_coc_from_print_m(0.024, 0.221, 0.25) * 1000, 0.02172, 1e-5, "full page");
    near(pc_depth_coc_from_print_m(0.024, 0.221, 0.50) / pc_depth_coc_from_print_m(0.024, 0.221, 0.25), 2,
         1e-12, "twice as far");
    near(pc_depth_coc_from_pixels_m(0.036, 3840) * 1000, 0.0140625, 1e-9, "1.5 pixels of 3840");
}

static void tolerances_hold(void **state)
{
    (void)state;
    const struct {
        double focal_m, f_number, coc_m, magnification;
    } at[] = {{0.09, 8, 20e-6, 0.15},  {0.05, 5.6, 22e-6, 0.0316}, {0.035, 11, 30e-6, 0.4},
              {0.09, 16, 20e-6, 0.15}, {0.09, 19, 20e-6, 0.15},    {0.09, 20.5, 20e-6, 0.15},
              {0.09, 22, 20e-6, 0.15}, {0.09, 24, 20e-6, 0.15}};
    for (size_t i = 0; i < PC_COUNT(at); i++) {
        double x[PC_DEPTH_X_COUNT] = {at[i].focal_m, at[i].f_number, at[i].coc_m, at[i].magnification, 1};
        double x_tolerance[PC_DEPTH_X_COUNT] = {0.03 * x[0], PC_DEPTH_F_NUMBER_TOLERANCE_RATIO * x[1],
                                                PC_DEPTH_COC_TOLERANCE_RATIO * x[2],
                                                PC_DEPTH_MAGNIFICATION_TOLERANCE_RATIO * x[3], 0.3};
        // As pc_depth_find does: linearised, and by draws where diffraction takes over from the disc.
        double y[PC_DEPTH_Y_COUNT], tolerance[PC_DEPTH_Y_COUNT], drawn[PC_DEPTH_Y_COUNT];
        assert_true(pc_tolerance(pc_depth_answer, NULL, PC_DEPTH_X_COUNT, x, x_tolerance, PC_DEPTH_Y_COUNT, y,
                                 tolerance));
        assert_true(pc_tolerance_drawn(pc_depth_answer, NULL, PC_DEPTH_X_COUNT, x, x_tolerance,
                                       PC_DEPTH_Y_COUNT, y, drawn));
        memcpy(&tolerance[PC_DEPTH_Y_SHARP_NEAR], &drawn[PC_DEPTH_Y_SHARP_NEAR], 3 * sizeof drawn[0]);
        mc_judge("depth", pc_depth_answer, NULL, PC_DEPTH_X_COUNT, x, x_tolerance, PC_DEPTH_Y_COUNT,
                 tolerance);
    }
    // What docs/camera.md says: 15 %.
    struct pc_depth_setup s = setup(90, 8, 0.02, 0.15, 1);
    s.f_number_tolerance = PC_DEPTH_F_NUMBER_TOLERANCE_RATIO * s.f_number;
    s.coc_m_tolerance = PC_DEPTH_COC_TOLERANCE_RATIO * s.coc_m;
    s.magnification_ratio_tolerance = PC_DEPTH_MAGNIFICATION_TOLERANCE_RATIO * s.magnification_ratio;
    struct pc_depth depth = find(&s);
    near(depth.total_m_tolerance / depth.total_m, 0.15, 0.01, "tolerance");
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct pc_depth depth;
    struct pc_focus_plan plan;
    const struct pc_depth_setup bad[] = {setup(0, 8, 0.02, 0.15, 1), setup(90, -8, 0.02, 0.15, 1),
                                         setup(90, 8, 0, 0.15, 1), setup(90, 8, 0.02, (double)NAN, 1),
                                         setup(90, 8, 0.02, 0.15, 0)};
    for (size_t i = 0; i < PC_COUNT(bad); i++)
        assert_int_equal(pc_depth_find(&bad[i], &depth, NULL), PC_BAD_INPUT);
    struct pc_depth_setup s = setup(90, 8, 0.02, 0.15, 1);
    assert_int_equal(pc_focus_by_rail(&s, -1, 0.3, &plan, NULL), PC_BAD_INPUT);
    assert_int_equal(pc_focus_by_rail(&s, 0.1, 0.95, &plan, NULL), PC_BAD_INPUT);
    assert_int_equal(pc_focus_by_rail(&s, 50, 0.3, &plan, NULL), PC_BAD_INPUT);
    s.pupil_ratio = NAN;
    assert_int_equal(pc_focus_by_rail(&s, 0.1, 0.3, &plan, NULL), PC_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(depth_is_exact),
        cmocka_unit_test(depth_reaches_infinity),
        cmocka_unit_test(contrast_is_that_of_a_round_pupil),
        cmocka_unit_test(a_stack_of_galettes),
        cmocka_unit_test(focus_by_the_ring),
        cmocka_unit_test(circles_of_confusion),
        cmocka_unit_test(tolerances_hold),
        cmocka_unit_test(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
