// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_ways.h"

#include "image/camera/depth_priv.h"
#include "image/camera/expose_blur.h"
#include "image/camera/mains.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// A full-frame camera with a 90 mm lens over a bowl 24 cm across.
static struct pc_expose_ask usual(void)
{
    return (struct pc_expose_ask){
        .ambient_lx = 3500,
        .ambient_lx_tolerance = 3500 * (exp2(0.3) - 1),
        .widest_f = 2.8,
        .narrowest_f = 22,
        .longest_s = 1,
        .shortest_s = 1.0 / 4000,
        .least_iso = 100,
        .most_iso = 12800,
        .sensor_width_m = 0.036,
        .sensor_px = 8192,
        .sensor = {80000, 30000, 3, 1.5, 0, 100},
        .focal_m = 0.09,
        .magnification_ratio = 0.15,
        .magnification_ratio_tolerance = 0.0045,
        .pupil_ratio = NAN,
        .output_px = 3840,
        .coc_m = 2 * 0.036 / 3840,
        .ambient_under_ev = NAN,
        .flash = {.duration_s = NAN},
    };
}

// Falls, blur and guide numbers by hand: g = 9.80665, v = sqrt(2 g h), blur m v t; f/16 at 1 m halves its
// f-number at twice the distance, and each whole f-number is half the power.
static void movement_and_flash_by_hand(void **state)
{
    (void)state;
    near(pc_blur_pour_m_s(0.1), 1.4005, 1e-4, "pour of 10 cm");
    near(pc_blur_moving_m(pc_blur_pour_m_s(0.1), 0.1, 1e-3), 140e-6, 0.1e-6, "on the sensor");
    // The habit for far subjects: 75 mm as seen on 36 x 24, 1/75 s, 0.03 mm.
    near(pc_blur_hand_m(0.075, 0, 1.0 / 75), 0.03e-3, 1e-9, "hand");
    struct pc_flash_head head = {
        .full_f = 16, .distance_m = 1, .least_power_ratio = 1.0 / 64, .step_ev = 1.0 / 3};
    near(pc_flash_ev(&head, 1, 16, 100), 0, 1e-12, "as its guide says");
    head.distance_m = 2;
    near(pc_flash_ev(&head, 1, 8, 100), 0, 1e-12, "inverse square");
    head.distance_m = 1;
    struct pc_flash_setting setting;
    pc_flash_setting_find(&head, 0, exp2(2.5), 100, &setting); // f/5.66, three stops under f/16
    near(setting.power_ratio, 0.125, 1e-9, "an eighth");
    near(setting.flash_ev, 0, 1e-9, "right");
    near(setting.beyond_ev, 0, 1e-12, "in range");
    pc_flash_setting_find(&head, 0, 32, 100, &setting);
    near(setting.power_ratio, 1, 1e-9, "all of it");
    near(setting.beyond_ev, 2, 1e-9, "two stops short");
    near(setting.flash_ev, -2, 1e-9, "two stops under");
    pc_flash_setting_find(&head, 0, 1, 100, &setting);
    near(setting.power_ratio, 1.0 / 64, 1e-9, "lowest");
    near(setting.beyond_ev, -2, 1e-9, "two stops too strong");
    pc_flash_setting_find(&head, 0, 11.0 * exp2(0.05), 100,
                          &setting); // 0.98 stops down: a whole stop is near enough
    near(setting.power_ratio, 0.5, 1e-9, "on a step");
    char text[32];
    assert_string_equal(pc_flash_power_text(text, 1), "full power");
    assert_string_equal(pc_flash_power_text(text, 0.125), "1/8 power");
    assert_string_equal(pc_flash_power_text(text, 0.125 * exp2(1.0 / 3)), "1/8 power + 0.3 EV");
}

static const struct pc_mark *mark(const struct pc_mark *marks, int count, double marked)
{
    for (int i = 0; i < count; i++)
        if (fabs(marks[i].marked / marked - 1) < 0.005)
            return &marks[i];
    fail_msg("no mark %g", marked);
    return NULL;
}

static const struct pc_mark *f_mark(double marked)
{
    return mark(pc_marks_f, PC_MARKS_F, marked);
}

static const struct pc_mark *shutter_mark(double marked)
{
    return mark(pc_marks_shutter, PC_MARKS_SHUTTER, marked);
}

static const struct pc_mark *iso_mark(double marked)
{
    return mark(pc_marks_iso, PC_MARKS_ISO, marked);
}

static void costs_are_their_closed_forms(void **state)
{
    (void)state;
    struct pc_expose_ask ask = usual();
    ask.speed_m_s = pc_blur_pour_m_s(0.1);
    ask.ripple_hz = 100;
    ask.modulation_pct = 30;
    ask.depth_m = 0.0164;
    struct pc_way way;
    assert_true(pc_way_judge(&ask, f_mark(8), shutter_mark(1.0 / 200), iso_mark(1600), false, &way));
    near(way.effective_f, 8 * 1.15, 1e-5, "effective f");
    near(way.ambient_ev, log2(3500 * 1600.0 / 250) - log2(8 * 8 * 1.15 * 1.15 * exp2(23.0 / 3)), 1e-4,
         "ambient");
    near(way.cost[PC_COST_MOTION], 0.15 * 1.4005 * exp2(-23.0 / 3) * 3840 / 0.036, 0.01, "motion");
    near(way.cost[PC_COST_RIPPLE], 30 * 0.63662, 1e-3, "ripple");
    near(way.cost[PC_COST_SPOT], 2.44 * 0.55 * 9.2 / 18.75, 1e-3, "spot");
    near(way.cost[PC_COST_HAND], 0, 1e-12, "tripod");
    // Mid grey at 0.1195 of saturation for a right exposure, 5000 e at ISO 1600, 4.55 photosites to a pixel.
    double e = 0.65 * 250 * 0.18 / (78 * 3.14159265) * exp2(way.ambient_ev) * 5000;
    near(way.cost[PC_COST_NOISE], sqrt(e + 9) / e / (8192.0 / 3840), 1e-6, "noise");
    // Depth at f/8, 0.15, of 20 um: 16.4 mm by 2 N c (1 + m) / m^2; here 18.75 um.
    near(way.sharp_m, 2 * 8 * 18.75e-6 * 1.15 / 0.0225, 0.3e-3, "depth");
    assert_true(way.cost[PC_COST_DEPTH] > 0.02 && way.cost[PC_COST_DEPTH] < 0.12);
}

// 750 lx under f/11, 1/200 s, ISO 100: 6.44 stops by what the marks stand for (6.33 by the marks), lens at
// infinity.
static void steady_light_under_a_flash(void **state)
{
    (void)state;
    struct pc_expose_ask ask = usual();
    ask.ambient_lx = 750;
    ask.ambient_lx_tolerance = 750 * (exp2(0.3) - 1);
    ask.magnification_ratio = 1e-6;
    ask.magnification_ratio_tolerance = 0;
    ask.has_flash = true;
    ask.flash = (struct pc_flash_head){16, 0.8, 1, 0.05, 1.0 / 64, 1.0 / 3, 1.0 / 200, NAN};
    struct pc_way way;
    assert_true(pc_way_judge(&ask, f_mark(11), shutter_mark(1.0 / 200), iso_mark(100), true, &way));
    near(way.ambient_ev, -6.438, 2e-3, "stops under");
    near(way.ambient_ev_tolerance, 0.37, 0.1, "0.3 EV up, more down");
    near(way.power.power_ratio, 0.5, 1e-9, "half power");
    near(log2(exp2(way.ambient_ev) + exp2(way.power.flash_ev)), 0, 0.17, "both together");
    assert_false(pc_way_judge(&ask, f_mark(11), shutter_mark(1.0 / 250), iso_mark(100), true, &way)); // sync
    ask.ambient_under_ev = 7;
    assert_false(pc_way_judge(&ask, f_mark(11), shutter_mark(1.0 / 200), iso_mark(100), true, &way));
}

static bool judged_again(const void *given, const double x[], double y[])
{
    struct pc_expose_ask ask = *(const struct pc_expose_ask *)given;
    struct pc_mark shutter = *shutter_mark(1.0 / 200);
    struct pc_way way;
    ask.ambient_lx = x[0];
    shutter.marked = x[1];
    ask.speed_m_s = x[2];
    ask.magnification_ratio = x[3];
    ask.modulation_pct = x[4];
    ask.ripple_hz = x[5];
    ask.sensor.full_well_e = x[6];
    ask.sensor.read_noise_e = x[7];
    if (!pc_way_judge(&ask, f_mark(8), &shutter, iso_mark(1600), false, &way))
        return false;
    y[0] = way.cost[PC_COST_MOTION];
    y[1] = way.cost[PC_COST_RIPPLE];
    y[2] = way.cost[PC_COST_NOISE];
    y[3] = way.ambient_ev;
    y[4] = way.cost[PC_COST_HAND] * x[8];
    return true;
}

static void tolerances_hold(void **state)
{
    (void)state;
    struct pc_expose_ask ask = usual();
    ask.speed_m_s = 0.35;
    ask.speed_m_s_tolerance = 0.15;
    ask.ripple_hz = 100;
    ask.modulation_pct = 30;
    ask.modulation_pct_tolerance = 10;
    ask.hand = true;
    struct pc_way way;
    assert_true(pc_way_judge(&ask, f_mark(8), shutter_mark(1.0 / 200), iso_mark(1600), false, &way));
    double x[] = {3500, 1.0 / 200, 0.35, 0.15, 30, 100, 80000, 3, 1};
    double tolerance[] = {
        ask.ambient_lx_tolerance,    1.0 / 200 - exp2(-23.0 / 3), 0.15, 0.0045, 10, 0.2, 30000, 1.5,
        PC_BLUR_HAND_TOLERANCE_RATIO};
    double stated[] = {way.cost_tolerance[PC_COST_MOTION], way.cost_tolerance[PC_COST_RIPPLE],
                       way.cost_tolerance[PC_COST_NOISE], way.ambient_ev_tolerance,
                       way.cost_tolerance[PC_COST_HAND]};
    mc_judge("way", judged_again, &ask, 9, x, tolerance, 5, stated);
    // Magnification moves the image and the light lost by the same error: only the first was counted.
    assert_true(way.effective_f > 8);
}

// Depth and spot again, straight from the lens and the circle of confusion.
static bool sharp_again(const void *given, const double x[], double y[])
{
    const struct pc_expose_ask *ask = given;
    double stop = x[0] * f_mark(11)->value, coc_m = x[1], m = x[2], pupil_ratio = x[3];
    double lens[PC_DEPTH_X_COUNT] = {[PC_DEPTH_X_FOCAL] = ask->focal_m,
                                     [PC_DEPTH_X_F_NUMBER] = stop,
                                     [PC_DEPTH_X_COC] = coc_m,
                                     [PC_DEPTH_X_MAGNIFICATION] = m,
                                     [PC_DEPTH_X_PUPIL] = pupil_ratio};
    double sharp[PC_DEPTH_Y_COUNT];
    if (!pc_depth_answer(NULL, lens, sharp))
        return false;
    y[0] = 2.44 * 550e-9 * stop * (1 + m / pupil_ratio) / coc_m;
    y[1] = fmax(0, 1 - sharp[PC_DEPTH_Y_SHARP_TOTAL] / ask->depth_m);
    y[2] = sharp[PC_DEPTH_Y_SHARP_TOTAL];
    return true;
}

// From a depth of which most is lacking to one that is just there, where the share lacking turns into none.
static void depth_and_spot_hold(void **state)
{
    (void)state;
    static const double wanted_m[] = {0.06, 0.03, 0.0235, 0.0215};
    for (size_t i = 0; i < PC_COUNT(wanted_m); i++) {
        struct pc_expose_ask ask = usual();
        ask.depth_m = wanted_m[i];
        struct pc_way way;
        assert_true(pc_way_judge(&ask, f_mark(11), shutter_mark(1.0 / 200), iso_mark(1600), false, &way));
        double x[] = {1, ask.coc_m, ask.magnification_ratio, 1};
        double tolerance[] = {0.05, 0.12 * ask.coc_m, ask.magnification_ratio_tolerance, 0.3};
        double stated[] = {way.cost_tolerance[PC_COST_SPOT], way.cost_tolerance[PC_COST_DEPTH],
                           way.sharp_m_tolerance};
        mc_judge("depth and spot", sharp_again, &ask, 4, x, tolerance, 3, stated);
    }
}

// Flash again, at the power that was set: stops under the exposure wanted, the head's number and a tape.
struct flash_given {
    struct pc_flash_head head;
    double power_ratio;
};

static bool flash_again(const void *given, const double x[], double y[])
{
    const struct flash_given *g = given;
    struct pc_flash_head head = g->head;
    head.full_f = x[0];
    head.distance_m = x[1];
    y[0] = pc_flash_ev(&head, g->power_ratio, 11.0, 100);
    return x[0] > 0 && x[1] > 0;
}

static void flash_holds(void **state)
{
    (void)state;
    static const double off_m[] = {0.02, 0.1, 0.3}; // a tape, a guess, a glance
    for (size_t i = 0; i < PC_COUNT(off_m); i++) {
        struct flash_given given = {{.full_f = 16,
                                     .full_f_tolerance = 0.96,
                                     .distance_m = 1.45,
                                     .distance_m_tolerance = off_m[i],
                                     .least_power_ratio = 1.0 / 64,
                                     .step_ev = 1.0 / 3},
                                    1.0};
        struct pc_flash_setting setting;
        pc_flash_setting_find(&given.head, 0, 11, 100, &setting);
        given.power_ratio = setting.power_ratio;
        double x[] = {16, 1.45}, tolerance[] = {0.96, off_m[i]};
        mc_judge("flash", flash_again, &given, 2, x, tolerance, 1, &setting.flash_ev_tolerance);
    }
}

// ---- the ways against brute force ----

struct all {
    struct pc_way *way;
    int count;
};

// Every setting of the dials that exposes right, one by one.
static struct all try_all(const struct pc_expose_ask *ask)
{
    struct all all = {calloc(60000, sizeof *all.way), 0};
    struct pc_expose_ask flat = *ask; // depth takes its time
    flat.depth_m = 0;
    for (int i = 0; i < PC_MARKS_F; i++)
        for (int j = 0; j < PC_MARKS_SHUTTER; j++)
            for (int k = 0; k < PC_MARKS_ISO; k++)
                for (int flash = 0; flash < 2; flash++) {
                    const struct pc_mark *f = &pc_marks_f[i], *s = &pc_marks_shutter[j],
                                         *iso = &pc_marks_iso[k];
                    struct pc_way *way = &all.way[all.count];
                    if (f->marked < ask->widest_f - 1e-9 || f->marked > ask->narrowest_f + 1e-9 ||
                        s->marked < ask->shortest_s - 1e-9 || s->marked > ask->longest_s + 1e-9 ||
                        iso->marked < ask->least_iso - 1e-9 || iso->marked > ask->most_iso + 1e-9 ||
                        !pc_way_judge(&flat, f, s, iso, flash == 1, way) ||
                        (flash == 0 && fabs(way->ambient_ev) > 1.0 / 6 + 1e-6))
                        continue;
                    if (ask->depth_m > 0)
                        assert_true(pc_way_judge(ask, f, s, iso, flash == 1, way));
                    all.count++;
                }
    return all;
}

// a is as good in everything, and better in something, by the costs themselves.
static bool beats(const struct pc_way *a, const struct pc_way *b)
{
    bool better = false;
    for (int c = 0; c < PC_COSTS; c++) {
        if (a->cost[c] > b->cost[c])
            return false;
        better = better || a->cost[c] < b->cost[c] - 1e-12;
    }
    return better;
}

static bool grades_beat(const struct pc_way *a, const struct pc_way *b)
{
    bool better = false;
    for (int c = 0; c < PC_COSTS; c++) {
        if (a->grade[c] > b->grade[c])
            return false;
        better = better || a->grade[c] < b->grade[c];
    }
    return better;
}

static void check_against(const struct pc_ways *ways, const struct all *all)
{
    assert_int_equal(ways->tried, all->count);
    for (int i = 0; i < ways->count; i++)
        for (int n = 0; n < all->count; n++)
            if (beats(&all->way[n], &ways->way[i]))
                fail_msg("way %d is beaten by %s %s %s", i, all->way[n].f.text, all->way[n].shutter.text,
                         all->way[n].iso.text);
    for (int n = 0; n < all->count; n++) {
        const struct pc_way *way = &all->way[n];
        bool out = false;
        for (int k = 0; k < all->count && !out; k++)
            out = grades_beat(&all->way[k], way);
        if (out)
            continue;
        int like = 0;
        for (int i = 0; i < ways->count; i++)
            like += memcmp(ways->way[i].grade, way->grade, sizeof way->grade) == 0;
        assert_int_equal(like, 1); // its class is there, once
    }
}

static struct pc_expose_ask random_ask(uint64_t *state)
{
    struct pc_expose_ask ask = usual();
    ask.ambient_lx = exp2(6 + 7 * mc_uniform(state));
    ask.widest_f = 2.8;
    ask.narrowest_f = mc_uniform(state) < 0.5 ? 8 : 16;
    ask.longest_s = mc_uniform(state) < 0.5 ? 0.1 : 1.0 / 30;
    ask.shortest_s = 1.0 / 4000;
    ask.most_iso = 12800;
    ask.magnification_ratio = 0.02 + 0.2 * mc_uniform(state);
    ask.speed_m_s = mc_uniform(state) < 0.6 ? 0.1 + mc_uniform(state) : 0;
    ask.hand = mc_uniform(state) < 0.4;
    ask.ripple_hz = mc_uniform(state) < 0.6 ? 100 : 0;
    ask.modulation_pct = 60 * mc_uniform(state);
    ask.has_flash = mc_uniform(state) < 0.5;
    ask.flash =
        (struct pc_flash_head){16, 0.8, 0.5 + mc_uniform(state), 0.05, 1.0 / 64, 1.0 / 3, 1.0 / 200, NAN};
    ask.frames_hz = mc_uniform(state) < 0.2 ? 25 : 0;
    ask.sensor.full_well_e = exp2(11 + 6 * mc_uniform(state));
    return ask;
}

static void ways_are_what_nothing_beats(void **state)
{
    (void)state;
    uint64_t random = 5;
    int met = 0, most = 0;
    static struct pc_ways ways;
    for (int n = 0; n < 40; n++) {
        struct pc_expose_ask ask = random_ask(&random);
        if (n % 4 == 0) {
            ask.has_flash = false;
            ask.depth_m = 0.01 + 0.1 * mc_uniform(&random);
            ask.widest_f = ask.narrowest_f / 2;
            ask.longest_s = 1.0 / 15;
            ask.shortest_s = 1.0 / 500;
            ask.least_iso = 800;
        }
        struct all all = try_all(&ask);
        enum pc_status status = pc_ways_find(&ask, &ways, NULL);
        assert_int_equal(status == PC_OK, all.count > 0);
        if (status == PC_OK) {
            check_against(&ways, &all);
            met++;
            most = ways.count > most ? ways.count : most;
        }
        free(all.way);
    }
    print_message("# %d asks met, at most %d ways\n", met, most);
    assert_true(met >= 30 && most >= 4);
}

static void reasons_say_what_differs(void **state)
{
    (void)state;
    static struct pc_ways ways;
    struct pc_expose_ask ask = usual();
    ask.ambient_lx = 700;
    ask.speed_m_s = 0.35;
    ask.ripple_hz = 100;
    ask.modulation_pct = 20;
    ask.sensor.full_well_e = 6000;
    assert_int_equal(pc_ways_find(&ask, &ways, NULL), PC_OK);
    for (int i = 0; i < ways.count; i++) {
        char reason[PC_WAY_REASON_BYTES], other[PC_WAY_REASON_BYTES];
        pc_way_reason(&ask, &ways, i, reason);
        assert_true(strlen(reason) > 10);
        for (int k = 0; k < i; k++) {
            pc_way_reason(&ask, &ways, k, other);
            assert_string_not_equal(reason, other);
        }
        print_message("# %s, %s, %s: %s\n", ways.way[i].f.text, ways.way[i].shutter.text,
                      ways.way[i].iso.text, reason);
    }
}

static void no_light_no_way(void **state)
{
    (void)state;
    static struct pc_ways ways;
    struct pc_expose_ask ask = usual();
    struct pc_err err = {0};
    ask.ambient_lx = 0.001;
    assert_int_equal(pc_ways_find(&ask, &ways, &err), PC_NOT_FOUND);
    assert_non_null(strstr(err.text, "more light"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(movement_and_flash_by_hand),
        cmocka_unit_test(costs_are_their_closed_forms),
        cmocka_unit_test(steady_light_under_a_flash),
        cmocka_unit_test(tolerances_hold),
        cmocka_unit_test(depth_and_spot_hold),
        cmocka_unit_test(flash_holds),
        cmocka_unit_test(ways_are_what_nothing_beats),
        cmocka_unit_test(reasons_say_what_differs),
        cmocka_unit_test(no_light_no_way),
    };
    return cmocka_run_group_tests_name("expose_ways", tests, NULL, NULL);
}
