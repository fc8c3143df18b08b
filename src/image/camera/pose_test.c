// SPDX-License-Identifier: Apache-2.0
// Frames drawn by src/image/camera/sheet_scene.c, which knows where its camera stood; exact lines by
// projection; and the tolerances against draws of the inputs.
#include "image/camera/pose.h"

#include "base/units.h"
#include "image/camera/sheet_scene.h"

#include <setjmp.h>
#include <cmocka.h>

#include "monte_carlo.h"

// The promises, for 19 frames in 20.
#define DISTANCE_KNOWN_ratio 0.01
#define TILT_KNOWN_deg       0.2
#define DISTANCE_FREE_ratio  0.02
#define FREE_FROM_deg        30.0

enum { FRAMES = 60, BARE_FRAMES = 50 };

// PC_SEEDS: how many frames; PC_SEEDS_ON: how far their seeds lie from the suite's.
static int from_environment(const char *name, int otherwise)
{
    const char *text = getenv(name);
    int wanted = text != NULL ? (int)strtol(text, NULL, 10) : 0;
    return wanted > 0 ? wanted : otherwise;
}

static int frames_wanted(int otherwise)
{
    return from_environment("PC_SEEDS", otherwise);
}

static uint64_t seed_of(int n)
{
    return (uint64_t)n + (uint64_t)from_environment("PC_SEEDS_ON", 0);
}

static struct pc_pose_lens lens_of(const struct pc_sheet_scene *s, bool known)
{
    return (struct pc_pose_lens){.width_px = s->width_px,
                                 .height_px = s->height_px,
                                 .focal_mm = known ? s->focal_mm : (double)NAN,
                                 .focal_tolerance_ratio = 0.0,
                                 .px_per_mm = known ? s->width_px / s->sensor_width_mm : (double)NAN,
                                 .close_up = known};
}

struct tally {
    int frames, found, distance_good, tilt_good, covered[3], steep, steep_good, flat, flat_refused;
    double off_per_tolerance[3][512];
};

static void note_tolerance(struct tally *t, int which, double off, double tolerance)
{
    t->covered[which] += fabs(off) <= tolerance;
    t->off_per_tolerance[which][t->found % 512] = fabs(off) / tolerance;
}

static double away_px(const struct pc_sheet *sheet, const struct pc_sheet_scene *s)
{
    double far = 0.0;
    for (int i = 0; i < 4; i++) {
        double near = INFINITY;
        for (int k = 0; k < 4; k++)
            near = fmin(near, hypot(sheet->corner_px[i][0] - s->corner_px[k][0],
                                    sheet->corner_px[i][1] - s->corner_px[k][1]));
        far = fmax(far, near);
    }
    return far;
}

static void judge_free(const struct pc_sheet *sheets, int count, const struct pc_sheet_scene *s,
                       struct tally *t)
{
    double tilt_deg = pc_deg_from_rad(s->tilt_rad);
    struct pc_pose_lens lens = lens_of(s, false);
    struct pc_pose pose;
    bool there = pc_pose_choose(sheets, count, &lens, &pose) >= 0;
    if (tilt_deg >= FREE_FROM_deg) {
        t->steep++;
        t->steep_good += there && fabs(1e3 * pose.distance_m / s->distance_mm - 1.0) <= DISTANCE_FREE_ratio;
    }
    if (tilt_deg < 19.0 && there) {
        t->flat++;
        t->flat_refused +=
            pose.focal == PC_POSE_FOCAL_REFUSED && isnan(pose.distance_m) && isnan(pose.image_px);
    }
}

static void judge(const struct pc_sheet *sheets, int count, const struct pc_sheet_scene *s, struct tally *t)
{
    struct pc_pose_lens lens = lens_of(s, true);
    struct pc_pose pose;
    int at = pc_pose_choose(sheets, count, &lens, &pose);
    t->frames++;
    judge_free(sheets, count, s, t);
    if (at < 0) {
        print_message("# seed %d: no sheet found (board %d, clipped %g)\n", (int)s->seed, (int)s->board,
                      s->clipped);
        return;
    }
    if (away_px(&sheets[at], s) > 8.0)
        fail_msg("seed %d: something else was taken for the sheet", (int)s->seed);
    double distance_m = 1e-3 * s->distance_mm, height_m = 0.0;
    for (int i = 0; i < 3; i++)
        height_m -= 1e-3 * s->up[i] * s->centre_mm[i];
    t->distance_good += fabs(pose.distance_m / distance_m - 1.0) <= DISTANCE_KNOWN_ratio;
    t->tilt_good += fabs(pc_deg_from_rad(pose.tilt_rad - s->tilt_rad)) <= TILT_KNOWN_deg;
    note_tolerance(t, 0, pose.distance_m - distance_m, pose.distance_tolerance_m);
    note_tolerance(t, 1, pose.tilt_rad - s->tilt_rad, pose.tilt_tolerance_rad);
    note_tolerance(t, 2, pose.height_m - height_m, pose.height_tolerance_m);
    t->found++;
}

static void check_tolerances(struct tally *t)
{
    static const char *const what[] = {"distance", "tilt", "height"};
    // Of 60 frames 54 or more, of 200 frames 184 or more lie inside when 19 in 20 do (binomial, 0.1 %).
    double least = 0.95 - 3.1 * sqrt(0.95 * 0.05 / t->found);
    for (int k = 0; k < 3; k++) {
        int kept = t->found < 512 ? t->found : 512;
        qsort(t->off_per_tolerance[k], (size_t)kept, sizeof(double), mc_ascending);
        double enough = t->off_per_tolerance[k][kept * 19 / 20];
        print_message("# %s: inside its tolerance in %d of %d; %.2f of it would do\n", what[k], t->covered[k],
                      t->found, enough);
        if (t->covered[k] < least * t->found || enough < 1.0 / MC_MOST_WIDE)
            fail_msg("the tolerance of the %s is wrong", what[k]);
    }
}

static void the_camera_is_placed_from_a_sheet(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    static struct tally tally;
    double seconds = 0.0;
    for (int i = 0, n = frames_wanted(FRAMES); i < n; i++) {
        struct pc_sheet_scene s;
        struct pc_picture picture;
        struct pc_sheet sheets[PC_SHEETS_MAX];
        int count;
        pc_sheet_scene_init(&s, seed_of(i + 1), i % 2, 0.0, 60.0, true);
        assert_int_equal(pc_sheet_scene_draw(&ctx, &s, &picture, NULL), PC_OK);
        clock_t start = clock();
        assert_int_equal(pc_find_sheets(&ctx, &picture, sheets, &count, NULL), PC_OK);
        seconds += (double)(clock() - start) / CLOCKS_PER_SEC;
        judge(sheets, count, &s, &tally);
        pc_picture_finish(&picture);
    }
    print_message(
        "# %d frames: found %d; distance within 1 %% in %d, tilt within 0.2 degrees in %d; focal length not "
        "known: distance within 2 %% in %d of %d from 30 degrees, refused in %d of %d under 19; %.0f ms "
        "for each search\n",
        tally.frames, tally.found, tally.distance_good, tally.tilt_good, tally.steep_good, tally.steep,
        tally.flat_refused, tally.flat, 1e3 * seconds / tally.frames);
    assert_true(tally.distance_good >= 0.95 * tally.frames);
    assert_true(tally.tilt_good >= 0.95 * tally.frames);
    assert_true(tally.steep_good >= 0.95 * tally.steep);
    assert_int_equal(tally.flat_refused, tally.flat);
    check_tolerances(&tally);
}

static void no_sheet_is_found_where_there_is_none(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    int wrong = 0, wrong_free = 0, n = frames_wanted(BARE_FRAMES), rectangles = 0;
    for (int i = 0; i < n; i++) {
        struct pc_sheet_scene s;
        struct pc_picture picture;
        struct pc_sheet sheets[PC_SHEETS_MAX];
        struct pc_pose pose;
        int count;
        pc_sheet_scene_init(&s, seed_of(i + 7001), i % 2, 0.0, 60.0, false);
        assert_int_equal(pc_sheet_scene_draw(&ctx, &s, &picture, NULL), PC_OK);
        assert_int_equal(pc_find_sheets(&ctx, &picture, sheets, &count, NULL), PC_OK);
        struct pc_pose_lens known = lens_of(&s, true), free_lens = lens_of(&s, false);
        rectangles += count;
        wrong += pc_pose_choose(sheets, count, &known, &pose) >= 0;
        wrong_free += pc_pose_choose(sheets, count, &free_lens, &pose) >= 0;
        pc_picture_finish(&picture);
    }
    print_message("# %d scenes with other things, %d plain rectangles in them: taken for A4 in %d; in %d "
                  "when the focal "
                  "length is not known\n",
                  n, rectangles, wrong, wrong_free);
    assert_true(rectangles > n / 3); // there was something to be wrong about
    assert_true(wrong <= n / 50);
    assert_true(wrong_free <= n / 50);
}

// ---- exact lines ----

struct exact {
    double tilt_deg, way_deg, turn_deg, distance_mm, aside, focal_mm;
    double aspect; // of what lies there, NAN: A4
};

// Sides as the projection of a rectangle gives them, by a way of its own: points of the table, in the world's
// axes.
static void exact_sheet(const struct exact *e, struct pc_sheet *sheet, struct pc_pose_lens *lens,
                        double camera_m[3])
{
    *lens = (struct pc_pose_lens){8192, 5464, e->focal_mm, 0.0, 8192 / 36.0, true};
    // World: z up, the camera at its origin looking down, tipped by tilt towards way (0: to the picture's
    // head).
    double tilt = pc_rad_from_deg(e->tilt_deg), way = pc_rad_from_deg(e->way_deg);
    double axis[3] = {sin(tilt) * sin(way), sin(tilt) * cos(way), -cos(tilt)};
    // The shortest turn that takes straight down to the axis carries right (1,0,0) and head (0,1,0) with it.
    double k[3] = {cos(way), -sin(way), 0.0}, c = cos(tilt), s = sin(tilt),
           frame[2][3] = {{1, 0, 0}, {0, 1, 0}};
    for (int f = 0; f < 2; f++) {
        double *v = frame[f], dot = k[0] * v[0] + k[1] * v[1];
        double turned[3] = {k[1] * v[2] - k[2] * v[1], k[2] * v[0] - k[0] * v[2], k[0] * v[1] - k[1] * v[0]};
        for (int i = 0; i < 3; i++)
            turned[i] = c * v[i] + s * turned[i] + (1.0 - c) * dot * k[i];
        memcpy(v, turned, sizeof turned);
    }
    double ray[3], length = 0.0, centre[3];
    for (int i = 0; i < 3; i++) {
        ray[i] = axis[i] + e->aside * frame[0][i];
        length += ray[i] * ray[i];
    }
    for (int i = 0; i < 3; i++)
        centre[i] = e->distance_mm * ray[i] / sqrt(length);
    memcpy(camera_m, (double[3]){0, 0, -1e-3 * centre[2]}, 3 * sizeof(double));
    double depth = 0.0, turn = pc_rad_from_deg(e->turn_deg);
    for (int i = 0; i < 3; i++)
        depth += centre[i] * axis[i];
    double image_px = e->focal_mm * depth / (depth - e->focal_mm) * lens->px_per_mm;
    double half_x = 148.5, half_y = isnan(e->aspect) ? 105.0 : 148.5 / e->aspect;
    for (int i = 0; i < 4; i++) {
        double x = (i == 1 || i == 2 ? half_x : -half_x), y = (i >= 2 ? -half_y : half_y);
        double p[3] = {centre[0] + cos(turn) * x - sin(turn) * y, centre[1] + sin(turn) * x + cos(turn) * y,
                       centre[2]};
        double u = 0.0, v = 0.0, w = 0.0;
        for (int n = 0; n < 3; n++) {
            u += p[n] * frame[0][n];
            v -= p[n] * frame[1][n];
            w += p[n] * axis[n];
        }
        sheet->corner_px[i][0] = 4096.0 + image_px * u / w;
        sheet->corner_px[i][1] = 2732.0 + image_px * v / w;
    }
    for (int i = 0; i < 4; i++) {
        const double *a = sheet->corner_px[i], *b = sheet->corner_px[(i + 1) % 4];
        double dx = b[0] - a[0], dy = b[1] - a[1], l = hypot(dx, dy);
        sheet->side[i] = (struct pc_sheet_side){
            0.5 * (a[0] + b[0]), 0.5 * (a[1] + b[1]), -dy / l, dx / l, 0.06, 0.06 * 3.5 / l, 1.0};
    }
    sheet->halo_sd_px = 0.1;
    sheet->score_ratio = 1.0;
}

static const struct exact exacts[] = {
    {0.0, 0.0, 10.0, 1200.0, 0.0, 50.0, NAN},    {1.0, 90.0, 80.0, 1700.0, 0.1, 35.0, NAN},
    {12.0, 3.0, 33.0, 900.0, -0.1, 50.0, NAN},   {35.0, -2.0, -50.0, 1300.0, 0.15, 50.0, NAN},
    {60.0, 1.0, 5.0, 1600.0, 0.0, 90.0, NAN},    {45.0, 0.0, 88.0, 1100.0, -0.2, 35.0, NAN},
    {25.0, 0.0, -170.0, 1000.0, 0.05, 50.0, NAN}};

static void exact_lines_give_the_exact_pose(void **state)
{
    (void)state;
    for (size_t n = 0; n < PC_COUNT(exacts); n++) {
        const struct exact *e = &exacts[n];
        struct pc_sheet sheet = {0};
        struct pc_pose_lens lens;
        struct pc_pose pose;
        double camera_m[3], tilt = pc_rad_from_deg(e->tilt_deg), way = pc_rad_from_deg(e->way_deg);
        exact_sheet(e, &sheet, &lens, camera_m);
        assert_true(pc_pose_from_sheet(&sheet, &lens, &pose));
        assert_true(fabs(pose.distance_m - 1e-3 * e->distance_mm) < 1e-6);
        assert_true(fabs(pose.height_m - camera_m[2]) < 1e-6);
        assert_true(fabs(pose.tilt_rad - tilt) < 1e-6);
        // Which side is the higher one: the camera tipped towards its right (90) has its left side up ... and
        // the picture's foot is high when it looks towards its head.
        assert_true(fabs(pose.side_rad - asin(sin(tilt) * -sin(-way))) < 1e-6);
        assert_true(fabs(pose.fore_rad - asin(sin(tilt) * -cos(way))) < 1e-6);
        if (e->tilt_deg >= 10.0)
            assert_true(fabs(pose.roll_rad - way) < 1e-6);
        else
            assert_true(isnan(pose.roll_rad));
        assert_true(pose.misfit_sd < 1e-3);
        lens.focal_mm = NAN;
        assert_true(pc_pose_from_sheet(&sheet, &lens, &pose));
        assert_int_equal(pose.focal, e->tilt_deg >= 20.0 ? PC_POSE_FOCAL_FOUND : PC_POSE_FOCAL_REFUSED);
        if (e->tilt_deg >= 20.0)
            assert_true(fabs(pose.distance_m - 1e-3 * e->distance_mm) < 2e-4);
    }
}

// The sensor lies behind the entrance pupil by the image distance f u / (u - f): for 50 mm at 1200 mm, 52.17
// mm.
static void the_sensor_is_higher_than_the_lens(void **state)
{
    (void)state;
    struct pc_sheet sheet = {0};
    struct pc_pose_lens lens;
    struct pc_pose pose;
    double camera_m[3];
    exact_sheet(&exacts[0], &sheet, &lens, camera_m);
    assert_true(pc_pose_from_sheet(&sheet, &lens, &pose));
    assert_true(fabs(pose.sensor_m - 1.2 - 0.0521739130) < 1e-6);
    assert_true(fabs(pose.image_px - 52.1739130 * 8192 / 36) < 0.05);
}

static void other_shapes_are_refused(void **state)
{
    (void)state;
    static const double aspects[] = {1.0, 1.25, 4.0 / 3.0, 1.5, 16.0 / 9.0, 2.0};
    for (size_t n = 0; n < PC_COUNT(exacts); n++)
        for (size_t k = 0; k < PC_COUNT(aspects); k++) {
            struct exact e = exacts[n];
            struct pc_sheet sheet = {0};
            struct pc_pose_lens lens;
            struct pc_pose pose;
            double camera_m[3];
            e.aspect = aspects[k];
            exact_sheet(&e, &sheet, &lens, camera_m);
            if (pc_pose_choose(&sheet, 1, &lens, &pose) >= 0)
                fail_msg("pose %d: a rectangle of %.2f to 1 was taken for A4, misfit %.2f", (int)n,
                         aspects[k], pose.misfit_sd);
        }
}

static void tolerances_cover_what_they_promise(void **state)
{
    (void)state;
    static const int judged[] = {2, 3, 4, 6};
    for (size_t n = 0; n < PC_COUNT(judged); n++) {
        struct pc_sheet sheet = {0};
        struct pc_pose_lens lens;
        struct pc_pose_answer answer;
        double camera_m[3];
        exact_sheet(&exacts[judged[n]], &sheet, &lens, camera_m);
        lens.focal_tolerance_ratio = n % 2 == 0 ? pc_pose_marked_focal_tolerance : 0.0;
        assert_true(pc_pose_answer_init(&sheet, &lens, &answer));
        mc_judge("pose", pc_pose_answer, &answer, PC_POSE_INPUTS, answer.x, answer.x_tolerance,
                 PC_POSE_OUTPUTS, NULL);
    }
}

static void a_focal_length_in_35mm_terms_gives_pixels(void **state)
{
    (void)state;
    // A full 36 x 24 mm sensor is its own equivalent: 8192 px over 36 mm (the diagonal is cut to 8192 x
    // 5461).
    assert_true(fabs(pc_pose_px_per_mm_from_35mm(8192, 5461, 50.0, 50.0) - 8192 / 36.0) < 0.01);
    // Half the focal length for the same picture: half the sensor, twice the pixels to a millimetre.
    assert_true(fabs(pc_pose_px_per_mm_from_35mm(8192, 5461, 25.0, 50.0) - 2 * 8192 / 36.0) < 0.02);
}

static void four_given_places_do_as_well(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    for (int i = 0; i < 6; i++) {
        struct pc_sheet_scene s;
        struct pc_picture picture;
        struct pc_sheet sheet;
        struct pc_pose pose;
        pc_sheet_scene_init(&s, (uint64_t)i + 301, 1, 5.0, 50.0, true);
        assert_int_equal(pc_sheet_scene_draw(&ctx, &s, &picture, NULL), PC_OK);
        static const int order[4] = {2, 0, 3, 1};
        double corner[4][2];
        for (int k = 0; k < 4; k++)
            for (int c = 0; c < 2; c++)
                corner[k][c] = s.corner_px[order[k]][c] + 0.004 * s.width_px * ((k + c + i) % 3 - 1);
        struct pc_pose_lens lens = lens_of(&s, true);
        assert_true(pc_find_sheet_at(&picture, corner, &sheet));
        assert_true(pc_pose_from_sheet(&sheet, &lens, &pose));
        assert_true(fabs(1e3 * pose.distance_m / s.distance_mm - 1.0) < DISTANCE_KNOWN_ratio);
        assert_true(fabs(pc_deg_from_rad(pose.tilt_rad - s.tilt_rad)) < 2.0 * TILT_KNOWN_deg);
        memcpy(corner[1], corner[0], sizeof corner[0]); // no four corners
        assert_false(pc_find_sheet_at(&picture, corner, &sheet));
        pc_picture_finish(&picture);
    }
}

// Nothing, flat grey, not-a-number and all clipped: no sheet, and no harm.
static void bare_pictures_hold_no_sheet(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    static const float fills[] = {0.0F, 0.18F, -1.0F, (float)NAN, (float)INFINITY};
    static const int sizes[][2] = {{1, 1}, {3000, 1}, {64, 64}, {70, 2000}, {640, 427}};
    for (size_t f = 0; f < PC_COUNT(fills); f++)
        for (size_t s = 0; s < PC_COUNT(sizes); s++)
            for (int channels = 1; channels <= 3; channels += 2) {
                struct pc_picture picture;
                struct pc_sheet sheets[PC_SHEETS_MAX];
                int count = -1;
                assert_int_equal(pc_picture_init(&ctx, &picture, sizes[s][0], sizes[s][1], channels, NULL),
                                 PC_OK);
                for (int i = 0; i < sizes[s][0] * sizes[s][1] * channels; i++)
                    picture.px[i] = fills[f];
                assert_int_equal(pc_find_sheets(&ctx, &picture, sheets, &count, NULL), PC_OK);
                assert_int_equal(count, 0);
                static const double corner[4][2] = {{10, 10}, {50, 12}, {52, 40}, {9, 42}};
                assert_false(pc_find_sheet_at(&picture, corner, sheets));
                pc_picture_finish(&picture);
            }
    assert_true(atomic_load(&ctx.held_bytes) == 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(exact_lines_give_the_exact_pose),
        cmocka_unit_test(the_sensor_is_higher_than_the_lens),
        cmocka_unit_test(other_shapes_are_refused),
        cmocka_unit_test(tolerances_cover_what_they_promise),
        cmocka_unit_test(a_focal_length_in_35mm_terms_gives_pixels),
        cmocka_unit_test(bare_pictures_hold_no_sheet),
        cmocka_unit_test(four_given_places_do_as_well),
        cmocka_unit_test(no_sheet_is_found_where_there_is_none),
        cmocka_unit_test(the_camera_is_placed_from_a_sheet),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
