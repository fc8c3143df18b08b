// SPDX-License-Identifier: Apache-2.0
#include "light/parts/reading.h"

#include "base/units.h"
#include "image/colour/colour.h"
#include "image/picture/meter.h"
#include "light/parts/answers.h"
#include "light/parts/reading_priv.h"
#include "light/parts/warmth_priv.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static void xyz_of(double cct_K, double Y, double xyz[3])
{
    double xy[2];
    pc_colour_planck_xy(cct_K, xy);
    pc_colour_xyz_from_xy(xy, Y, xyz);
}

// One light of a warm and a cool emitter, equal in Y at both places; no ambient.
static void make_two_emitter(struct pc_reading *r, double warm_K, double cool_K)
{
    *r = (struct pc_reading){.place_count = 2, .light_count = 1, .emitter_count = 2, .has_colour = true};
    r->light[0] = (struct pc_reading_light){.name = "P1",
                                            .emitter_count = 2,
                                            .emitter = {0, 1},
                                            .dial_ratio = 1,
                                            .kelvin_K = warm_K,
                                            .curve = pc_curve_straight()};
    for (int e = 0; e < 2; e++) {
        r->emitter[e].cct_K = e ? cool_K : warm_K;
        for (int p = 0; p < 2; p++)
            xyz_of(r->emitter[e].cct_K, 1, r->emitter[e].xyz[p]);
    }
}

// Mixes on the chord between two lights of the locus: warm share of luminance against CCT, from the Planckian
// integrals and the nearest point of the locus, computed apart from this project.
static void kelvin_is_found_on_the_chord(void **state)
{
    (void)state;
    static const struct {
        double warm_K, cool_K, share, cct_K;
    } known[] = {
        {2700, 6500, 0.25, 5010.0}, {2700, 6500, 0.5, 3953.0}, {2700, 6500, 0.75, 3215.4},
        {3200, 5600, 0.25, 4789.5}, {3200, 5600, 0.5, 4137.6}, {3200, 5600, 0.75, 3616.1},
    };
    for (size_t i = 0; i < PC_COUNT(known); i++) {
        struct pc_reading r;
        make_two_emitter(&r, known[i].warm_K, known[i].cool_K);
        struct pc_dials dials = {.dial_ratio = {0.5}, .kelvin_K = {known[i].cct_K}, .shutter_ratio = 1};
        double weights[PC_EMITTERS_MAX], ambient;
        pc_reading_weights(&r, &dials, weights, &ambient);
        near(weights[0], 0.5 * known[i].share, 2e-4);
        near(weights[0] + weights[1], 0.5, 1e-12);
        near(pc_reading_kelvin(&r, 0, known[i].share), known[i].cct_K, 1.5);
    }
}

// A cool emitter twice as bright needs less of it: equal luminance, not equal drive, gives the middle of the
// chord.
static void unequal_emitters_mix_by_their_light(void **state)
{
    (void)state;
    struct pc_reading r;
    make_two_emitter(&r, 2700, 6500);
    for (int p = 0; p < 2; p++)
        xyz_of(6500, 2, r.emitter[1].xyz[p]);
    struct pc_dials dials = {.dial_ratio = {1}, .kelvin_K = {3953.0}, .shutter_ratio = 1};
    double xyz[3], uv[2], K = NAN, duv;
    pc_reading_xyz(&r, &dials, 0, xyz);
    assert_true(pc_colour_uv_from_xyz(xyz, uv) && pc_colour_cct_from_uv(uv, &K, &duv));
    near(K, 3953.0, 1.5);
    near(pc_reading_warm_share(&r, 0, 3953.0), 2.0 / 3, 1e-3);
    near(pc_reading_warm_share(&r, 0, 2000), 1, 0);
    near(pc_reading_warm_share(&r, 0, 9000), 0, 0);
    r.has_colour = false; // halfway in mired
    near(pc_reading_warm_share(&r, 0, 2e6 / (1e6 / 2700 + 1e6 / 6500)), 0.5, 1e-12);
    near(pc_reading_warm_share(&r, 0, NAN), 0.5, 1e-12);
}

// A panel that mixes as the chord has it, measured at three kelvins of it: the curve then says at every
// kelvin what the chord says, there and back.
static void a_measured_mixing_agrees_with_its_frames(void **state)
{
    (void)state;
    struct pc_reading chord, measured;
    make_two_emitter(&chord, 2700, 6500);
    measured = chord;
    struct pc_kelvin *kelvin = &measured.light[0].kelvin;
    static const double at_K[5] = {6500, 5200, 4200, 3400, 2700};
    for (int k = 0; k < 5; k++) {
        kelvin->mired[k] = 1e6 / at_K[k];
        kelvin->share_ratio[k] = pc_reading_warm_share(&chord, 0, at_K[k]);
        kelvin->drive_ratio[k] = k == 0 || k == 4 ? 1 : 1.5;
    }
    kelvin->points = 5;
    for (double K = 2700; K <= 6500; K += 50) {
        double share = pc_reading_warm_share(&measured, 0, K);
        near(1e6 / pc_reading_kelvin(&chord, 0, share), 1e6 / K, 1.0);
        near(pc_reading_kelvin(&measured, 0, share), K, 0.01);
    }
    struct pc_dials dials = {.dial_ratio = {0.5}, .kelvin_K = {4200}, .shutter_ratio = 1};
    double weights[PC_EMITTERS_MAX], ambient;
    pc_reading_weights(&measured, &dials, weights, &ambient);
    near(weights[0] + weights[1], 0.75, 1e-12);
    near(weights[0], 0.75 * kelvin->share_ratio[2], 1e-12);
}

// Planes interpolated every 20 mired against the nearest point of the locus itself.
static void warmth_is_the_mired_of_the_nearest_point(void **state)
{
    (void)state;
    struct pc_warmth warmth;
    pc_warmth_init(&warmth);
    double widest = 0;
    for (double mired = 50; mired <= 500; mired += 3.7) {
        for (double duv = -0.02; duv <= 0.021; duv += 0.01) {
            double uv[2];
            pc_colour_uv_from_cct(1e6 / mired, duv, uv);
            double d = 6 / uv[1], xyz[3] = {uv[0] * d / 4, 1, 0};
            xyz[2] = (d - xyz[0] - 15) / 3;
            widest = fmax(widest, fabs(pc_warmth_mired(&warmth, xyz) - mired));
        }
    }
    print_message("# widest %.3f mired\n", widest);
    near(widest, 0, 0.25);
    double black[3] = {0, 0, 0};
    assert_true(isnan(pc_warmth_mired(&warmth, black)));
}

// Three panels and no ambient, lux on the surface; hero the same.
static void make_panels(struct pc_reading *r, double a_lx, double b_lx, double ambient_lx)
{
    *r = (struct pc_reading){.place_count = 2, .light_count = 2, .emitter_count = 2};
    for (int i = 0; i < 2; i++) {
        r->light[i] = (struct pc_reading_light){.emitter_count = 1,
                                                .emitter = {i},
                                                .dial_ratio = 1,
                                                .kelvin_K = NAN,
                                                .curve = pc_curve_straight()};
        r->emitter[i].light = i;
    }
    for (int p = 0; p < 2; p++) {
        for (int k = 0; k < 3; k++) {
            r->emitter[0].xyz[p][k] = a_lx;
            r->emitter[1].xyz[p][k] = b_lx;
            r->ambient_xyz[p][k] = ambient_lx;
        }
    }
}

static void second_shadow_by_lux(void **state)
{
    (void)state;
    static const struct {
        double a_lx, b_lx, share_a_pct, share_b_pct;
    } known[] = {{3500, 3500, 45, 45}, {3500, 900, 68, 17}};
    for (size_t i = 0; i < PC_COUNT(known); i++) {
        struct pc_reading r;
        struct pc_dials dials;
        make_panels(&r, known[i].a_lx, known[i].b_lx, 750);
        pc_reading_dials_now(&r, &dials);
        double all_lx = known[i].a_lx + known[i].b_lx + 750;
        near(100 * pc_reading_light_Y(&r, &dials, 0, 1) / all_lx, known[i].share_a_pct, 0.51);
        near(100 * pc_reading_light_Y(&r, &dials, 1, 1) / all_lx, known[i].share_b_pct, 0.51);
        near(pc_reading_light_Y(&r, &dials, -1, 1), 750, 0);
        int second;
        double apart_ev;
        near(pc_reading_second_shadow_ev(&r, &dials, &second, &apart_ev), log2(all_lx / (3500 + 750)), 1e-12);
        assert_int_equal(second, 1);
        near(apart_ev, log2(3500 / known[i].b_lx), 1e-12);
        dials.dial_ratio[1] = 0;
        near(pc_reading_second_shadow_ev(&r, &dials, &second, &apart_ev), 0, 0);
        assert_int_equal(second, -1);
    }
}

// By hand: f/11, 1/200 s, ISO 100 want 250 x 128 x 2^(23/3) / 100 = 65 024 lx, as image/camera/expose.h has
// it.
static void a_flash_not_yet_there_is_set_by_what_marks_stand_for(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_dials dials;
    struct pc_answers answers;
    const struct pc_exposure exposure = {.shutter_s = 1.0 / 128, .fnumber = 8, .iso = 100};
    double lx_to_Y = 1.0 / pc_meter_lx(1.0, exposure.shutter_s, exposure.fnumber, exposure.iso, 0.18);
    make_panels(&r, 3500 * lx_to_Y, 900 * lx_to_Y, 750 * lx_to_Y);
    pc_reading_dials_now(&r, &dials);
    pc_answers_make(NULL, &r, &dials, PC_PLACE_HERO, &exposure, &answers);
    near(answers.ambient_lx.value, 750, 1e-6);
    assert_false(answers.flash_measured);
    near(answers.flash_floor_ev.value, log2(1 + 250 * 128 * exp2(23.0 / 3) / 100 / 750), 1e-4);
}

// Flash gives the same light at any shutter; the ambient and panels follow it.
static void two_clocks(void **state)
{
    (void)state;
    struct pc_reading r;
    struct pc_dials dials;
    make_panels(&r, 1000, 400, 200);
    r.light[0].flash = true;
    pc_reading_dials_now(&r, &dials);
    dials.shutter_ratio = 0.25;
    double xyz[3];
    pc_reading_xyz(&r, &dials, 0, xyz);
    near(xyz[1], 1000 + 100 + 50, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kelvin_is_found_on_the_chord),
        cmocka_unit_test(unequal_emitters_mix_by_their_light),
        cmocka_unit_test(a_measured_mixing_agrees_with_its_frames),
        cmocka_unit_test(warmth_is_the_mired_of_the_nearest_point),
        cmocka_unit_test(second_shadow_by_lux),
        cmocka_unit_test(a_flash_not_yet_there_is_set_by_what_marks_stand_for),
        cmocka_unit_test(two_clocks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
