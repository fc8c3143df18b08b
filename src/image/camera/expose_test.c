// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// Computed from the relations of ISO 2720 by hand.
static void light_and_exposure_value(void **state)
{
    (void)state;
    near(pc_expose_cd_m2_from_ev100(15), 4096, 1e-9, "EV 15 reflected");
    near(pc_expose_lx_from_ev100(15), 81920, 1e-9, "EV 15 incident");
    near(pc_expose_ev100(4, 1.0 / 60, 400), 7.9069, 1e-4, "f/4 1/60 ISO 400");
    double luminance = pc_expose_cd_m2_from_lx(5000, 0.18);
    near(luminance, 286.479, 1e-3, "5000 lx on 18 %");
    near(pc_expose_ev100_from_cd_m2(luminance), 11.1623, 1e-4, "reflected");
    near(pc_expose_ev100_from_lx(5000), 10.9658, 1e-4, "incident");
    near(3.14159265 * PC_EXPOSE_K_CD_M2 / PC_EXPOSE_C_LX, 0.157, 1e-3, "the grey that both agree on");
    near(pc_expose_ev100_from_lx(pc_expose_lx_from_ev100(3.7)), 3.7, 1e-12, "there and back");
}

static void sensor_exposure_and_speeds(void **state)
{
    (void)state;
    near(pc_expose_focal_plane_lx_s(4096, 16, 1.0 / 125), 0.0832, 1e-4, "f/16 1/125 at 4096 cd/m2");
    near(pc_expose_speed_from_saturation(0.78), 100, 1e-9, "saturation");
    near(pc_expose_speed_from_output(0.1), 100, 1e-9, "output");
    near(pc_expose_speed_from_noise(0.025), 400, 1e-9, "noise");
}

static void near_focus_the_lens_is_slower(void **state)
{
    (void)state;
    near(pc_expose_effective_f(8, 0.5, 1), 12, 1e-12, "f/8, 0.5, pupils alike");
    near(pc_expose_effective_f(8, 0.5, 0.5), 16, 1e-12, "f/8, 0.5, pupil ratio 0.5");
    near(pc_expose_effective_f(2.8, 0.1, 1), 3.08, 1e-12, "f/2.8, 0.1");
    near(2 * log2(pc_expose_effective_f(8, 0.5, 1) / 8), 1.170, 1e-3, "loss");
}

// Each mark stands within 0.15 stops of what it says (f/1.2 is 1.26), and a third from the next.
static void marks_are_thirds_by_other_names(void **state)
{
    (void)state;
    for (int i = 0; i < PC_MARKS_F; i++) {
        near(pc_marks_f[i].value, exp2(i / 6.0), 1e-6, pc_marks_f[i].text);
        near(2 * log2(pc_marks_f[i].marked / pc_marks_f[i].value), 0, 0.15, pc_marks_f[i].text);
    }
    for (int i = 0; i < PC_MARKS_SHUTTER; i++) {
        near(pc_marks_shutter[i].value, exp2((15 - i) / 3.0), 1e-6, pc_marks_shutter[i].text);
        near(log2(pc_marks_shutter[i].marked / pc_marks_shutter[i].value), 0, 0.15, pc_marks_shutter[i].text);
        char text[24];
        assert_string_equal(pc_expose_shutter_text(text, pc_marks_shutter[i].marked),
                            pc_marks_shutter[i].text);
    }
    for (int i = 0; i < PC_MARKS_ISO; i++) {
        near(pc_marks_iso[i].value, 100 * exp2((i - 3) / 3.0), 1e-3, pc_marks_iso[i].text);
        near(log2(pc_marks_iso[i].marked / pc_marks_iso[i].value), 0, 0.15, pc_marks_iso[i].text);
    }
    near(pc_expose_shutter_meant_s(1.0 / 60), 1.0 / 64, 1e-9, "1/60");
    near(pc_expose_shutter_meant_s(1.0 / 125), 1.0 / 128, 1e-9, "1/125");
    near(pc_expose_shutter_meant_s(1.0 / 48), 1.0 / 48, 1e-12, "1/48 is no mark");
    near(pc_expose_f_meant(11), 11.3137, 1e-4, "f/11");
    near(pc_expose_iso_meant(1250), 1269.92, 0.01, "ISO 1250");
}

// f/11, 1/200 s, ISO 100 want 250 * 121 * 200 / 100 = 60500 lx by the marks, 65024 lx by what they stand for.
static void ambient_under_a_flash_setting(void **state)
{
    (void)state;
    near(pc_expose_ambient_ev(750, 11, 1.0 / 200, 100), -log2(60500.0 / 750), 1e-9, "by the marks");
    near(pc_expose_ambient_ev(750, 11, 1.0 / 200, 100), -6.334, 1e-3, "by the marks");
    double by_value =
        pc_expose_ambient_ev(750, pc_expose_f_meant(11), pc_expose_shutter_meant_s(1.0 / 200), 100);
    near(by_value, -6.438, 1e-3, "by what they stand for");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_and_exposure_value),      cmocka_unit_test(sensor_exposure_and_speeds),
        cmocka_unit_test(near_focus_the_lens_is_slower), cmocka_unit_test(marks_are_thirds_by_other_names),
        cmocka_unit_test(ambient_under_a_flash_setting),
    };
    return cmocka_run_group_tests_name("expose", tests, NULL, NULL);
}
