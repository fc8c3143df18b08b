// SPDX-License-Identifier: Apache-2.0
#include "image/camera/framing_priv.h"

#include "base/units.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// A spread of six plates, 114 cm wide on pages of 436 x 286 mm, from straight above, under a ceiling of 2.32
// m.
static struct pc_framing_wish spread(double sensor_width_mm, double sensor_height_mm, double focal_mm)
{
    return (struct pc_framing_wish){
        .sensor_width_m = sensor_width_mm / 1000,
        .sensor_height_m = sensor_height_mm / 1000,
        .focal_m = focal_mm / 1000,
        .pupil_ratio = 1,
        .principal_gap_m = 0,
        .front_m = NAN,
        .closest_m = NAN,
        .picture_width_m = 1.14,
        .picture_height_m = 1.14 * 286 / 436,
        .outlet_width_m = 0.436,
        .elevation_rad = PC_PI / 2,
        .ceiling_m = 2.32,
        .body_arm_m = 0.15,
        .table_m = {0.76, 0.45},
        .table_count = 2,
        .board_width_m = 1.40,
        .board_depth_m = 1.10,
        .tall_m = 0.16,
        .tall_off_axis_m = 0.40,
    };
}

static struct pc_framing find(const struct pc_framing_wish *wish)
{
    struct pc_framing framing;
    struct pc_err err = {0};
    if (pc_framing_find(wish, &framing, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return framing;
}

// Computed independently with the thin lens, by hand: L = f (2 + m + 1/m), u = f (1 + 1/m), lean x h/(u - h).
static void a_spread_from_above(void **state)
{
    (void)state;
    struct pc_framing_wish wish = spread(36, 24, 50);
    wish.sensor_width_px = 8192;
    wish.sensor_height_px = 5464;
    struct pc_framing c1 = find(&wish);
    near(c1.sensor_distance_m, 0.050 * (2 + 36 / 1140.0 + 1140 / 36.0), 1e-12, "50 mm, distance");
    near(c1.sensor_distance_m, 1.685, 5e-4, "50 mm, distance");
    near(c1.picture_height_m, 0.748, 5e-4, "height of the spread's shape");
    near(c1.covered_height_m, 0.76, 1e-9, "height covered");
    near(c1.table_most_m, 0.485, 5e-4, "highest table");
    assert_int_equal(c1.table, 1);
    assert_int_equal(c1.fit[0], PC_FRAMING_TOO_HIGH);
    assert_int_equal(c1.fit[1], PC_FRAMING_FITS);
    near(c1.lean_m, 0.0434, 5e-5, "50 mm, lean");
    near(c1.ppi, 477.2, 0.05, "pixels an inch");
    assert_false(c1.board_near_shows || c1.board_far_shows || c1.board_side_shows);
    double width_m, height_m;
    pc_framing_widest(&wish, 0.76, &width_m, &height_m);
    near(width_m, 0.942, 5e-4, "widest over the table as it is");
    near(height_m * 436 / 286, width_m, 1e-12, "its shape");
    // There and back: a picture as wide as that is at home exactly under the ceiling.
    struct pc_framing_wish back = wish;
    back.picture_width_m = width_m;
    back.picture_height_m = height_m;
    near(find(&back).spare_m[0], 0, 1e-9, "there and back");
    pc_framing_widest(&wish, 2.1, &width_m, &height_m);
    assert_true(isnan(width_m) && isnan(height_m));

    wish = spread(36, 24, 35);
    struct pc_framing wide = find(&wish);
    near(wide.sensor_distance_m, 1.179, 5e-4, "35 mm, distance");
    assert_int_equal(wide.table, 0);
    near(wide.lean_m, 0.0651, 5e-5, "35 mm, lean");

    wish = spread(23.5, 15.7, 35);
    wish.sensor_width_px = 4896;
    struct pc_framing c2 = find(&wish);
    near(c2.sensor_distance_m, 1.769, 5e-4, "C2, distance");
    near(c2.table_most_m, 0.401, 5e-4, "C2, highest table");
    assert_int_equal(c2.table, -1);
    near(c2.spare_m[1], -0.049, 5e-4, "C2, missing");
    near(c2.ppi, 285.2, 0.05, "C2, pixels an inch");

    // A phone of 24 mm by the diagonal, on a sensor of 4:3: half the diagonal is 21.63/24 of the distance.
    double diagonal_mm = 9.6, phone_m = pc_framing_focal_from_equivalent_m(0.024, 0.00768, 0.00576);
    near(phone_m, 0.024 * diagonal_mm / 43.2666, 1e-7, "phone's focal length");
    wish = spread(7.68, 5.76, phone_m * 1000);
    struct pc_framing c3 = find(&wish);
    near(c3.pupil_distance_m, 0.7904 + phone_m, 1e-4, "phone, distance");
    near(c3.lean_m, 0.160 * 0.4 / (c3.pupil_distance_m - 0.16), 1e-12, "phone, lean");
    near(c3.lean_m, 0.1007, 5e-4, "phone, lean");

    struct pc_framing all[4] = {wide, c3, c2, c1};
    int order[4];
    pc_framing_rank(all, 4, NAN, order);
    assert_int_equal(order[0], 3);
    assert_int_equal(order[1], 0);
    assert_int_equal(order[2], 1);
    assert_int_equal(order[3], 2);
    all[3].too_near = true;
    all[0].ppi = 150;
    pc_framing_rank(all, 4, 200, order);
    assert_int_equal(order[0], 1);
    assert_int_equal(order[1], 0);
    assert_int_equal(order[2], 3);
}

// A thick lens by its own parts: two thin lenses, the stop between them, traced surface by surface. Where
// its pupils and principal planes lie comes from the trace; the framing must agree with an image traced
// through.
static void a_thick_lens_is_exact(void **state)
{
    (void)state;
    const double fa = 0.080, fb = 0.070, apart = 0.030, stop = 0.010; // stop behind the first
    double f = fa * fb / (fa + fb - apart);
    double front_principal = apart * f / fb,
           rear_principal = -apart * f / fa; // from the first, from the second
    double gap = apart + rear_principal - front_principal;
    // The stop seen from the front, through the first lens, and its size from both sides.
    double entrance = stop / (1 - stop / fa); // behind the first
    double back = apart - stop;
    double entrance_size = 1 / (1 - stop / fa), exit_size = 1 / (1 - back / fb);
    double P = exit_size / entrance_size, object = 0.4; // in front of the first lens
    // Image by two steps.
    double first = 1 / (1 / fa - 1 / object), second_object = apart - first;
    double image = 1 / (1 / fb - 1 / second_object);
    double m = fabs(first / object * image / second_object);
    struct pc_framing_wish wish = spread(36, 24, f * 1000);
    wish.pupil_ratio = P;
    wish.principal_gap_m = gap;
    wish.picture_width_m = 0.036 / m;
    wish.picture_height_m = 0.024 / m;
    wish.tall_m = NAN;
    wish.ceiling_m = NAN;
    wish.front_m = image + apart;
    struct pc_framing framing = find(&wish);
    near(framing.sensor_distance_m, object + apart + image, 1e-12, "sensor to subject");
    near(framing.pupil_distance_m, object + entrance, 1e-12, "entrance pupil to subject");
    near(framing.working_distance_m, object, 1e-12, "working distance");
    assert_true(isnan(framing.lean_m) && isnan(framing.table_most_m) && framing.table == 0);
}

// What is seen of the table at an angle, and where a tall thing's top is carried: by lines of sight marched
// from the pupil in small steps, with the sensor built from the lens's axis.
static void corners_by_marching(void **state)
{
    (void)state;
    struct pc_framing_wish wish = spread(36, 24, 90);
    wish.picture_width_m = 0.30;
    wish.picture_height_m = NAN;
    wish.elevation_rad = pc_rad_from_deg(45);
    wish.hero_above_m = 0.04;
    wish.pupil_ratio = 0.8;
    struct pc_framing framing = find(&wish);
    near(framing.picture_height_m, 0.20, 1e-12, "the sensor's shape");
    double e = wish.elevation_rad, D = framing.pupil_distance_m;
    double py = -D * cos(e), pz = 0.04 + D * sin(e);
    for (int i = 0; i < 4; i++) {
        double right = (i == 1 || i == 2 ? 0.15 : -0.15) / D, up = (i >= 2 ? 0.10 : -0.10) / D;
        double dx = right, dy = cos(e) + up * sin(e), dz = -sin(e) + up * cos(e);
        double t = 0;
        for (double step = 0.1; step > 1e-13; step /= 2)
            while (pz + (t + step) * dz > 0)
                t += step;
        near(framing.corner_x_m[i], t * dx, 1e-9, "corner, right");
        near(framing.corner_y_m[i], py + t * dy, 1e-9, "corner, away");
    }
    // The picture of a thing's foot and top, scaled back to the hero's plane.
    double x = 0.4, h = 0.16, foot_along = (D * cos(e)) * cos(e) + pz * sin(e),
           top_along = (D * cos(e)) * cos(e) + (pz - h) * sin(e);
    near(framing.lean_m, x * D / top_along - x * D / foot_along, 1e-12, "lean");
    near(framing.back_m, framing.sensor_distance_m * cos(e), 1e-12, "back");
    near(framing.sensor_above_m, 0.04 + framing.sensor_distance_m * sin(e), 1e-12, "above");
    // The boards that just do.
    wish.board_width_m = framing.board_width_least_m;
    wish.board_depth_m = framing.board_depth_least_m;
    near(wish.board_width_m, framing.corner_x_m[2] - framing.corner_x_m[3], 1e-9, "least width");
    near(wish.board_depth_m, 2 * framing.corner_y_m[2], 1e-9, "least depth");
    framing = find(&wish);
    assert_true(framing.board_known);
    assert_false(framing.board_near_shows || framing.board_far_shows || framing.board_side_shows);
    wish.board_width_m -= 0.001;
    assert_true(find(&wish).board_side_shows && !find(&wish).board_far_shows);
    wish.board_width_m += 0.001;
    wish.board_depth_m -= 0.001;
    assert_true(find(&wish).board_far_shows && !find(&wish).board_near_shows);
    // Low down, the upper edge looks over the table: no board is deep enough, however wide.
    wish.elevation_rad = pc_rad_from_deg(2);
    framing = find(&wish);
    assert_true(framing.sees_past_table && framing.board_far_shows && isnan(framing.corner_x_m[2]));
    assert_true(isinf(framing.board_depth_least_m) && !isnan(framing.corner_x_m[0]));
}

static void an_upright_picture_turns_the_camera(void **state)
{
    (void)state;
    struct pc_framing_wish wish = spread(36, 24, 50);
    wish.sensor_width_px = 8192;
    wish.sensor_height_px = 5464;
    wish.picture_width_m = 0.221;
    wish.picture_height_m = 0.286;
    wish.outlet_width_m = 0.221;
    struct pc_framing framing = find(&wish);
    assert_true(framing.upright);
    near(framing.magnification_ratio, 24 / 221.0, 1e-12, "the short side fills first");
    near(framing.ppi, 5464 / 221.0 * 25.4, 1e-9, "pixels an inch");
    near(framing.covered_height_m, 0.036 * 221 / 24, 1e-12, "height covered");
}

static void tolerances_hold(void **state)
{
    (void)state;
    const double focal_mm[] = {50, 35, 90}, elevation_deg[] = {90, 60, 30};
    for (int i = 0; i < 3; i++) {
        struct pc_framing_wish wish = spread(36, 24, focal_mm[i]);
        wish.elevation_rad = pc_rad_from_deg(elevation_deg[i]);
        wish.focal_m_tolerance = PC_FRAMING_MARKED_FOCAL_TOLERANCE_RATIO * wish.focal_m;
        wish.pupil_ratio = wish.principal_gap_m = NAN;
        wish.elevation_rad_tolerance = pc_rad_from_deg(i == 0 ? 0 : 1);
        wish.ceiling_m_tolerance = wish.table_m_tolerance = wish.tall_tolerance_m = 0.01;
        wish.body_arm_m_tolerance = 0.04;
        wish.front_m = 0.12;
        double x[PC_FRAMING_X_COUNT], x_tolerance[PC_FRAMING_X_COUNT];
        pc_framing_gather(&wish, x, x_tolerance);
        mc_judge("framing", pc_framing_answer, &wish, PC_FRAMING_X_COUNT, x, x_tolerance, PC_FRAMING_Y_COUNT,
                 NULL);
        struct pc_framing framing = find(&wish);
        near(framing.sensor_distance_m_tolerance / framing.sensor_distance_m, 0.03, 0.003,
             "3 % of the distance");
        if (i == 0) // 3.5 cm to spare, known to 5 cm
            assert_int_equal(framing.fit[1], PC_FRAMING_FITS_BARELY);
    }
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct pc_framing framing;
    struct pc_err err = {0};
    struct pc_framing_wish wish = spread(36, 24, 50);
    wish.elevation_rad = 0;
    assert_int_equal(pc_framing_find(&wish, &framing, &err), PC_BAD_INPUT);
    assert_string_equal(err.place, "angle");
    wish = spread(36, 24, -50);
    assert_int_equal(pc_framing_find(&wish, &framing, NULL), PC_BAD_INPUT);
    wish = spread(36, 24, 50);
    wish.table_m[1] = 2.5;
    assert_int_equal(pc_framing_find(&wish, &framing, NULL), PC_BAD_INPUT);
    wish = spread(36, 24, 50);
    wish.table_count = 0;
    assert_int_equal(pc_framing_find(&wish, &framing, NULL), PC_BAD_INPUT);
    wish = spread(36, 24, 50);
    wish.tall_m = 1.7;
    err = (struct pc_err){0};
    assert_int_equal(pc_framing_find(&wish, &framing, &err), PC_BAD_INPUT);
    assert_string_equal(err.place, "tall thing");
    wish = spread(36, 24, 50);
    wish.front_m = 1.7;
    assert_int_equal(pc_framing_find(&wish, &framing, NULL), PC_BAD_INPUT);
    wish = spread(36, 24, 50);
    wish.picture_width_m = NAN;
    assert_int_equal(pc_framing_find(&wish, &framing, NULL), PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_spread_from_above), cmocka_unit_test(a_thick_lens_is_exact),
        cmocka_unit_test(corners_by_marching), cmocka_unit_test(an_upright_picture_turns_the_camera),
        cmocka_unit_test(tolerances_hold),     cmocka_unit_test(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
