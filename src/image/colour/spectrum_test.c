// SPDX-License-Identifier: Apache-2.0
// argv[1]: the folder of illuminants that colord-data ships, read here by a reader of this test's own.
#include "image/colour/spectrum.h"

#include "base/units.h"
#include "image/colour/colour.h"
#include "tests/monte_carlo.h"

static const char *illuminants;

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.8g, want %.8g within %g", what, got, want, within);
}

static struct pc_spectrum illuminant(const char *name)
{
    char path[512];
    static char line[65536];
    double first_nm = 0, last_nm = 0;
    int bands = 0;
    struct pc_spectrum out = {0};
    snprintf(path, sizeof path, "%s/CIE-%s.sp", illuminants, name);
    FILE *file = fopen(path, "r");
    assert_non_null(file);
    while (fgets(line, sizeof line, file) != NULL && strncmp(line, "BEGIN_DATA\n", 11) != 0) {
        sscanf(line, "SPECTRAL_START_NM %lf", &first_nm);
        sscanf(line, "SPECTRAL_END_NM %lf", &last_nm);
        sscanf(line, "SPECTRAL_BANDS %d", &bands);
    }
    double step_nm = (last_nm - first_nm) / (bands - 1);
    for (int i = 0; i < bands; i++) {
        double value, nm = first_nm + step_nm * i, band = (nm - PC_SPECTRUM_FIRST_NM) / PC_SPECTRUM_STEP_NM;
        assert_int_equal(fscanf(file, "%lf", &value), 1);
        if (nm >= PC_SPECTRUM_FIRST_NM && nm <= PC_SPECTRUM_LAST_NM && fabs(band - round(band)) < 1e-9)
            out.value[(int)round(band)] = value;
    }
    fclose(file);
    return out;
}

// Run with an open colour library (0.4.6) on its own copies of the CIE tables, 5 nm, 2 degrees. CIE 15 prints
// Ra as whole numbers; 1 is asked of Ra, 3 of R9, whose sample has the steepest edge.
static void colour_rendering_of_cie_illuminants(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        double x, y, cct_K, duv, ra, r9;
    } rows[] = {
        {"A", .44757, .40744, 2855.5, .0000, 100, 100},     {"D50", .34567, .35850, 5001.9, .0032, 100, 100},
        {"D65", .31271, .32901, 6503.7, .0032, 100, 100},   {"C", .31006, .31615, 6774.3, -.0022, 97.6, 85.3},
        {"F1", .31306, .33710, 6428.3, .0071, 75.9, -47},   {"F2", .37207, .37512, 4224.5, .0018, 64.2, -84},
        {"F4", .44018, .40309, 2937.9, -.0008, 51.5, -111}, {"F7", .31285, .32917, 6495.0, .0032, 90.2, 61},
        {"F8", .34580, .35861, 4997.3, .0032, 95.5, 98},    {"F11", .38054, .37691, 3998.6, .0000, 82.9, 25},
        {"F12", .43702, .40421, 2999.6, .0000, 83.1, 0.9},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_spectrum light = illuminant(rows[i].name);
        struct pc_rendering found;
        double xyz[3];
        assert_true(pc_spectrum_xyz(&light, NULL, xyz));
        double sum = xyz[0] + xyz[1] + xyz[2];
        near(rows[i].name, xyz[0] / sum, rows[i].x, 1e-4);
        near(rows[i].name, xyz[1] / sum, rows[i].y, 1e-4);
        assert_true(pc_spectrum_rendering(&light, 0, 0, &found));
        near(rows[i].name, found.cct_K, rows[i].cct_K, 3.0);
        near(rows[i].name, found.duv, rows[i].duv, 1e-4);
        near(rows[i].name, found.ra, rows[i].ra, 1.0);
        near(rows[i].name, found.r[8], rows[i].r9, 3.0);
        near(rows[i].name, found.ra_tolerance, 0, 0);
        print_message("# %s Ra %.2f R9 %.2f near_white %d\n", rows[i].name, found.ra, found.r[8],
                      found.near_white);
    }
}

static void a_reference_renders_perfectly(void **state)
{
    (void)state;
    static const double kelvins[] = {2000, 2700, 3200, 4000, 4900, 5100, 5600, 6504, 7500, 10000, 20000};
    for (size_t i = 0; i < PC_COUNT(kelvins); i++) {
        struct pc_spectrum light, tomato;
        struct pc_rendering found;
        double de, a[3], b[3];
        assert_true(pc_spectrum_reference(kelvins[i], &light));
        assert_true(pc_spectrum_rendering(&light, 0, 0, &found));
        // CIE 13.3 takes the reference at the light's own CCT, which for daylight differs from its name by
        // less than a thousandth.
        near("Ra", found.ra, 100, 0.05);
        near("kelvin", found.cct_K, kelvins[i], kelvins[i] * 1e-3);
        assert_true(pc_spectrum_smoothest((const double[]){42, 50, 36}, &tomato));
        assert_true(pc_spectrum_change(&light, &tomato, &de, a, b));
        near("change", de, 0, 0.03);
    }
}

static void daylight_is_cie_d65(void **state)
{
    (void)state;
    // D65 by its 1967 definition: 6500 K of the scale with c2 = 1.4380e-2.
    struct pc_spectrum made, wanted = illuminant("D65");
    assert_true(pc_spectrum_daylight(6500 * 1.4388 / 1.4380, &made));
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
        near("D65", made.value[i], 100 * wanted.value[i],
             0.1); // M1, M2 are rounded to three places in the table
    assert_false(pc_spectrum_daylight(3900, &made));
    assert_false(pc_spectrum_daylight(25100, &made));
}

static void planck_is_cie_a(void **state)
{
    (void)state;
    struct pc_spectrum wanted = illuminant("A");
    // CIE 15, here 1 at 560 nm: A = (560/nm)^5 (e^(1.435e7/(2848*560)) - 1) / (e^(1.435e7/(2848 nm)) - 1)
    struct pc_spectrum made = pc_spectrum_planck(2848 * 1.4388 / 1.435);
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
        near("A", made.value[i], wanted.value[i], 1e-4 * wanted.value[i]);
}

// Wien: exp(-c2/(nm T)) times exp(-c2 m 1e-6/nm) is another Wien spectrum, hotter or cooler by m mired.
// Planck differs from Wien by exp(-c2/(nm T)), 0.2 % at 700 nm and 3200 K and 8 % at 8000 K.
static void a_perfect_gel_moves_by_its_mired(void **state)
{
    (void)state;
    static const double kelvins[] = {2700, 3200, 4300, 5600}, gels[] = {-100, -55, 20, 55, 120};
    for (size_t i = 0; i < PC_COUNT(kelvins); i++)
        for (size_t g = 0; g < PC_COUNT(gels); g++) {
            struct pc_spectrum light = pc_spectrum_planck(kelvins[i]);
            double passed, K, duv;
            struct pc_spectrum seen = pc_spectrum_gel(&light, gels[g], &passed);
            assert_true(pc_spectrum_cct(&seen, &K, &duv));
            double moved = pc_mired_from_K(K) - pc_mired_from_K(kelvins[i]);
            near("moved by", moved, gels[g], fmax(1.5, (K < 5800 ? 0.04 : 0.12) * fabs(gels[g])));
            near("tint", duv, 0, 0.002);
            assert_true(passed > 0 && passed < 1);
            struct pc_spectrum back = pc_spectrum_gel(&seen, -gels[g], NULL);
            near("there and back", back.value[5] / back.value[60], light.value[5] / light.value[60], 1e-9);
        }
}

static double roughness(const double *r)
{
    double sum = 0;
    for (int i = 1; i < PC_SPECTRUM_BANDS; i++)
        sum += (r[i] - r[i - 1]) * (r[i] - r[i - 1]);
    return sum;
}

static void a_smooth_reflectance_has_its_colour(void **state)
{
    (void)state;
    // Foods, neutrals, and colours so strong that the bounds hold.
    static const double colours[][3] = {{42, 50, 36}, {38, -22, 26}, {38, 24, 12}, {58, 14, 34},  {50, 0, 0},
                                        {95, 0, 2},   {45, 68, 55},  {85, 5, 95},  {25, 30, -55}, {8, 10, 6}};
    struct pc_spectrum d65;
    assert_true(pc_spectrum_daylight(6504, &d65));
    double white[3], xyz[3], lab[3];
    assert_true(pc_spectrum_xyz(&d65, NULL, white));
    for (size_t k = 0; k < PC_COUNT(colours); k++) {
        struct pc_spectrum made;
        assert_true(pc_spectrum_smoothest(colours[k], &made));
        assert_true(pc_spectrum_xyz(&d65, &made, xyz));
        pc_colour_lab_from_xyz(xyz, white, lab);
        for (int c = 0; c < 3; c++)
            near("Lab", lab[c], colours[k][c], 1e-4);
        // No small change that keeps the colour and the bounds makes it smoother: a random one, its colour
        // taken out of it by three narrow bumps, at several sizes.
        uint64_t seed = 7 + k;
        double least = roughness(made.value);
        for (int n = 0; n < 300; n++) {
            struct pc_spectrum other = made;
            int from = (int)(mc_uniform(&seed) * 60);
            double by = 1e-3 * (mc_uniform(&seed) - 0.5);
            for (int i = from; i < from + 20; i++)
                other.value[i] += by;
            // Newton on three bands' heights; XYZ is linear in them, so one step is exact.
            static const int knob[3] = {14, 36, 48}; // 450, 560, 620 nm
            double now[3], column[3][3], miss[3];
            pc_spectrum_xyz(&d65, &other, now);
            for (int j = 0; j < 3; j++) {
                struct pc_spectrum bump = {0};
                for (int i = -6; i <= 6; i++)
                    bump.value[knob[j] + i] = 1;
                pc_spectrum_xyz(&d65, &bump, column[j]);
                miss[j] = xyz[j] - now[j];
            }
            double a[3][3], det[4];
            for (int m = 0; m < 4; m++) { // Cramer
                for (int r = 0; r < 3; r++)
                    for (int j = 0; j < 3; j++)
                        a[r][j] = m == j + 1 ? miss[r] : column[j][r];
                det[m] = a[0][0] * (a[1][1] * a[2][2] - a[1][2] * a[2][1]) -
                         a[0][1] * (a[1][0] * a[2][2] - a[1][2] * a[2][0]) +
                         a[0][2] * (a[1][0] * a[2][1] - a[1][1] * a[2][0]);
            }
            bool inside = true;
            for (int j = 0; j < 3; j++)
                for (int i = -6; i <= 6; i++)
                    other.value[knob[j] + i] += det[j + 1] / det[0];
            for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
                inside = inside && other.value[i] >= 0 && other.value[i] <= 1;
            if (inside && roughness(other.value) < least - 1e-9)
                fail_msg("colour %zu: a change makes it smoother, %.9g from %.9g", k, roughness(other.value),
                         least);
        }
    }
    struct pc_spectrum none;
    assert_false(pc_spectrum_smoothest((const double[]){50, 200, 0}, &none)); // no surface is that magenta
    assert_false(pc_spectrum_smoothest((const double[]){120, 0, 0}, &none));
}

static struct pc_spectrum misread_given;

// As rendering.c misreads, written anew: the whole of it through the public call.
static bool judged(const void *given, const double x[], double y[])
{
    (void)given;
    struct pc_spectrum seen = {0};
    struct pc_rendering r;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double at = i + x[0] / PC_SPECTRUM_STEP_NM;
        at = at < 0 ? 0 : at > PC_SPECTRUM_BANDS - 1 ? PC_SPECTRUM_BANDS - 1 : at;
        int k = at >= PC_SPECTRUM_BANDS - 1 ? PC_SPECTRUM_BANDS - 2 : (int)at;
        seen.value[i] = ((k + 1 - at) * misread_given.value[k] + (at - k) * misread_given.value[k + 1]) *
                        (1 + x[1] * (i / 80.0 - 0.5));
    }
    if (!pc_spectrum_rendering(&seen, 0, 0, &r))
        return false;
    y[0] = r.cct_K;
    y[1] = r.duv;
    y[2] = r.ra;
    y[3] = r.r[8];
    return true;
}

static void what_a_misread_spectrum_is_good_to(void **state)
{
    (void)state;
    static const char *const names[] = {"C", "F2", "F4", "F8", "F11"};
    for (size_t i = 0; i < PC_COUNT(names); i++) {
        misread_given = illuminant(names[i]);
        struct pc_rendering r;
        assert_true(pc_spectrum_rendering(&misread_given, 1, 3, &r));
        const double x[] = {0, 0}, within[] = {1, 0.03},
                     stated[] = {r.cct_K_tolerance, r.duv_tolerance, r.ra_tolerance, r.r9_tolerance};
        print_message("# %s Ra %.1f +- %.2f R9 %.1f +- %.2f CCT +- %.0f\n", names[i], r.ra, r.ra_tolerance,
                      r.r[8], r.r9_tolerance, r.cct_K_tolerance);
        mc_judge(names[i], judged, NULL, 2, x, within, 4, stated);
    }
}

static char *table(double from_nm, double to_nm, double step_nm, double (*power)(double nm),
                   const char *format)
{
    static char text[200000];
    size_t at = 0;
    for (double nm = from_nm; nm <= to_nm + 1e-6; nm += step_nm)
        at += (size_t)snprintf(text + at, sizeof text - at, "%.2f%s%.6f\r\n", nm, format, power(nm));
    return text;
}

static double slanted(double nm)
{
    return 0.2 + nm / 1000;
}

static double line(double nm)
{
    return 1 + 100 * exp(-0.5 * pow((nm - 546.1) / 1.2, 2));
}

static void a_table_of_any_step_is_read(void **state)
{
    (void)state;
    static const double steps_nm[] = {0.5, 1, 2.5, 4, 5, 7.5, 10};
    static const char *const seams[] = {",", ", ", ";", "\t", "  "};
    for (size_t s = 0; s < PC_COUNT(steps_nm); s++) {
        struct pc_spectrum found;
        struct pc_err err = {0};
        char *text = table(370, 795, steps_nm[s], slanted, seams[s % PC_COUNT(seams)]);
        if (pc_spectrum_parse(text, strlen(text), "a.csv", &found, &err) != PC_OK)
            fail_msg("step %g: %s", steps_nm[s], err.text);
        for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
            near("straight", found.value[i], slanted(380 + 5.0 * i), 2e-4);
    }
    // A narrow line keeps its power whether it is read at 0.5 or at 2 nm: 100 * 1.2 sqrt(2 pi) over 5 nm.
    for (int k = 0; k < 2; k++) {
        struct pc_spectrum found;
        char *text = table(380, 780, k ? 2 : 0.5, line, ",");
        assert_int_equal(pc_spectrum_parse(text, strlen(text), "a.csv", &found, NULL), PC_OK);
        double sum = 0;
        for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
            sum += found.value[i] - 1;
        near("line", sum, 100 * 1.2 * sqrt(2 * PC_PI) / 5, 0.01 * 60);
    }
}

static void broken_tables_are_refused_with_a_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *text, *place, *says;
    } rows[] = {
        {"", "a.csv", "It holds no spectrum"},
        {"nm,power\n380,1\n390,1\n405,1\n", "a.csv:4", "There is nothing between 390 and 405 nm"},
        {"# x\n400,1\n405,2\n410,1\n", "a.csv", "It reaches from 400 to 410 nm"},
        {"380,1\n379,1\n", "a.csv:2", "379 nm comes after 380 nm"},
        {"380,1\n380,1\n", "a.csv:2", "380 nm comes after 380 nm"},
        {"nm,power\nnm,power\n", "a.csv:2", "This is not two numbers"},
        {"380,1\n385,one\n", "a.csv:2", "This is not two numbers"},
        {"380,1,2\n", "a.csv", "It holds no spectrum"},
        {"0.38,1\n", "a.csv:1", "0.38 and 1 are not a wavelength"},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_spectrum found;
        struct pc_err err = {0};
        assert_int_equal(pc_spectrum_parse(rows[i].text, strlen(rows[i].text), "a.csv", &found, &err),
                         PC_BAD_INPUT);
        assert_string_equal(err.place, rows[i].place);
        if (strncmp(err.text, rows[i].says, strlen(rows[i].says)) != 0)
            fail_msg("%zu: %s", i, err.text);
    }
    struct pc_err err = {0};
    struct pc_spectrum found;
    char *text = table(380, 780, 5, slanted, ",");
    memcpy(strstr(text, "450.00,") + 7, "-0.65", 5);
    assert_int_equal(pc_spectrum_parse(text, strlen(text), "a.csv", &found, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "at 450 nm is less than no light"));
    assert_string_equal(err.place, "a.csv:15");
}

int main(int argc, char **argv)
{
    if (argc != 2)
        return 2;
    illuminants = argv[1];
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(colour_rendering_of_cie_illuminants),
        cmocka_unit_test(a_reference_renders_perfectly),
        cmocka_unit_test(daylight_is_cie_d65),
        cmocka_unit_test(planck_is_cie_a),
        cmocka_unit_test(a_perfect_gel_moves_by_its_mired),
        cmocka_unit_test(a_smooth_reflectance_has_its_colour),
        cmocka_unit_test(what_a_misread_spectrum_is_good_to),
        cmocka_unit_test(a_table_of_any_step_is_read),
        cmocka_unit_test(broken_tables_are_refused_with_a_sentence),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
