// SPDX-License-Identifier: Apache-2.0
#include "base/linalg.h"
#include "image/colour/colour.h"
#include "image/colour/icc_priv.h"
#include "image/colour/locus_priv.h"

#include <setjmp.h>
#include <cmocka.h>

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

static void near_n(const double *got, const double *want, int n, double within)
{
    for (int i = 0; i < n; i++)
        if (!(fabs(got[i] - want[i]) <= within))
            fail_msg("[%d]: got %.12g, want %.12g within %g", i, got[i], want[i], within);
}

// XYZ of the worked colour in the documentation of the open library that the values below were run with
// (colour-science/colour 0.4.6, BSD-3).
static const double BROWN[3] = {0.20654008, 0.12197225, 0.05136952};

static void colour_matching_functions_are_the_standard_ones(void **state)
{
    (void)state;
    // CIE 15: an equal-energy light has x = y = 1/3 (the printed 1 nm tables give .33331, .33329), y-bar
    // peaks at 1.
    double sum[3] = {0}, peak = 0;
    for (int i = 0; i < PC_LOCUS_SAMPLES; i++)
        for (int c = 0; c < 3; c++) {
            assert_true(pc_locus_cmf[i][c] >= 0);
            sum[c] += pc_locus_cmf[i][c];
            peak = fmax(peak, pc_locus_cmf[i][1]);
        }
    near(sum[0] / (sum[0] + sum[1] + sum[2]), 1.0 / 3.0, 5e-5);
    near(sum[1] / (sum[0] + sum[1] + sum[2]), 1.0 / 3.0, 5e-5);
    near(pc_locus_cmf[555 - PC_LOCUS_FIRST_NM][1], 1.0, 1e-12);
    near(peak, 1.0, 1e-4);
    // K_M = 683 lm/W at 555 nm and the definition of the lumen make the integral of y-bar 106.857 nm (CIE
    // 18).
    near(sum[1], 106.857, 0.002);
}

static void planck_and_daylight_lie_where_published(void **state)
{
    (void)state;
    // Run with the library above from the CIE's own 1 nm tables; Sprague's 1 nm differ by up to 5e-6.
    static const double planck[][3] = {{2000, .526677, .413299},
                                       {2700, .459860, .410601},
                                       {3200, .423361, .398954},
                                       {5600, .330199, .339081},
                                       {6500, .313527, .323630}};
    double xy[2];
    for (size_t i = 0; i < PC_COUNT(planck); i++) {
        pc_colour_planck_xy(planck[i][0], xy);
        near_n(xy, planck[i] + 1, 2, 1e-5);
    }
    static const double day[][3] = {{4000, .3823436, .3837663}, {5000, .3457410, .3586662},
                                    {5600, .3301643, .3455462}, {6504, .3127141, .3291191},
                                    {7504, .2990452, .3149756}, {10000, .2787996, .2919672},
                                    {25000, .2498537, .2547995}};
    for (size_t i = 0; i < PC_COUNT(day); i++) {
        assert_true(pc_colour_daylight_xy(day[i][0], xy));
        near_n(xy, day[i] + 1, 2, 1e-7);
    }
    assert_false(pc_colour_daylight_xy(3999, xy));
    assert_false(pc_colour_daylight_xy(25001, xy));
    assert_false(pc_colour_daylight_xy((double)NAN, xy));
}

static void cct_meets_the_anchors(void **state)
{
    (void)state;
    // Library run, as above; variants of it differ among themselves by 0.04 K.
    double T = 0, duv = 0;
    assert_true(pc_colour_cct_from_uv((double[]){.1978, .3122}, &T, &duv));
    near(T, 6507.474789, 0.5);
    near(duv, .003223346, 1e-5);
    static const double inverse[][4] = {
        {3000, 0, .2505690, .3475899}, {2700, .005, .2611066, .3563705}, {5000, -.005, .2149274, .3195486}};
    for (size_t i = 0; i < PC_COUNT(inverse); i++) {
        double uv[2];
        pc_colour_uv_from_cct(inverse[i][0], inverse[i][1], uv);
        near_n(uv, inverse[i] + 2, 2, 1e-5);
        assert_true(pc_colour_cct_from_uv(inverse[i] + 2, &T, &duv));
        near(T, inverse[i][0], 1.0);
        near(duv, inverse[i][1], 1e-5);
    }
    // CIE standard illuminants by their chromaticity (CIE 15) and the CCT and Duv run from their spectra.
    static const double light[][4] = {{.44757, .40744, 2855.5, .0000}, {.34567, .35850, 5001.9, .0032},
                                      {.31271, .32901, 6503.7, .0032}, {.31006, .31615, 6774.3, -.0022},
                                      {.37207, .37512, 4224.5, .0018}, {.43702, .40421, 2999.6, .0000}};
    for (size_t i = 0; i < PC_COUNT(light); i++) {
        double xyz[3], uv[2];
        pc_colour_xyz_from_xy(light[i], 100.0, xyz);
        near(xyz[1], 100.0, 0);
        assert_true(pc_colour_uv_from_xyz(xyz, uv));
        assert_true(pc_colour_cct_from_uv(uv, &T, &duv));
        near(T, light[i][2], 1.5); // five digits of x, y are good to a kelvin
        near(duv, light[i][3], 7e-5);
    }
}

static void cct_is_refused_where_it_means_nothing(void **state)
{
    (void)state;
    double T = 1, duv = 1;
    // Duv -0.067 and -0.084, beyond the 0.05 of CIE 15; beyond both ends; not a colour at all.
    static const double bad[][2] = {
        {.4328, .2883}, {.2927, .2722}, {.60, .345}, {.1799, .2638}, {(double)NAN, .3}};
    for (size_t i = 0; i < PC_COUNT(bad); i++)
        assert_false(pc_colour_cct_from_uv(bad[i], &T, &duv));
    near(T, 1, 0);
    near(duv, 1, 0);
    double uv[2];
    assert_false(pc_colour_uv_from_xyz((double[]){0, 0, 0}, uv));
    pc_colour_uv_from_cct(1000, 0, uv);
    assert_true(pc_colour_cct_from_uv(uv, &T, &duv));
    pc_colour_uv_from_cct(100000, 0, uv);
    assert_true(pc_colour_cct_from_uv(uv, &T, &duv));
}

// The forward way integrates Planck's law at that temperature; the way back uses the table: independent but
// for the colour-matching functions.
static void cct_there_and_back(void **state)
{
    (void)state;
    static const double duvs[] = {0, 1e-4, -1e-4, .0019, .0021, -.0021, .006, -.01, .02, -.03, .049, -.049};
    for (size_t k = 0; k < PC_COUNT(duvs); k++)
        for (double T = 1001; T < 99000; T *= 1.0137) {
            double uv[2], back, duv;
            pc_colour_uv_from_cct(T, duvs[k], uv);
            assert_true(pc_colour_cct_from_uv(uv, &back, &duv));
            near(back, T, T <= 10000 ? 0.5 : 5e-5 * T);
            near(duv, duvs[k], 1e-7);
        }
}

// Ohno's polynomial for Duv (CORM 2011): good to 5e-6 from 2700 to 20000 K, and knows no table.
static void duv_agrees_with_the_polynomial(void **state)
{
    (void)state;
    static const double k[7] = {-0.471106,  1.925865,  -2.4243787, 1.5317403,
                                -0.5179722, 0.0893944, -0.00616793};
    for (double T = 2700; T < 20000; T *= 1.05)
        for (double want = -.015; want < .016; want += .005) {
            double uv[2], a, sum = 0;
            pc_colour_uv_from_cct(T, want, uv);
            double L = hypot(uv[0] - .292, uv[1] - .24);
            a = acos((uv[0] - .292) / L);
            for (int i = 6; i >= 0; i--)
                sum = sum * a + k[i];
            near(L - sum, want,
                 2e-5); // 5e-6 on the locus; the centre (0.292, 0.24) is not quite its own off it
        }
}

// A bi-coloured panel mixes on the chord below the locus: f the warm share of luminance (library run, as
// above).
static void mixes_of_two_colours_lie_on_the_chord(void **state)
{
    (void)state;
    static const double mix[][5] = {{2700, 6500, .25, 5010.0, -.00461}, {2700, 6500, .50, 3953.0, -.00638},
                                    {2700, 6500, .75, 3215.4, -.00482}, {3200, 5600, .25, 4789.5, -.00189},
                                    {3200, 5600, .50, 4137.6, -.00259}, {3200, 5600, .75, 3616.1, -.00197}};
    for (size_t i = 0; i < PC_COUNT(mix); i++) {
        double xy[2], warm[3], cool[3], uv[2], T, duv;
        pc_colour_planck_xy(mix[i][0], xy);
        pc_colour_xyz_from_xy(xy, mix[i][2], warm);
        pc_colour_planck_xy(mix[i][1], xy);
        pc_colour_xyz_from_xy(xy, 1 - mix[i][2], cool);
        for (int c = 0; c < 3; c++)
            warm[c] += cool[c];
        assert_true(pc_colour_uv_from_xyz(warm, uv));
        assert_true(pc_colour_cct_from_uv(uv, &T, &duv));
        near(T, mix[i][3], 1.0);
        near(duv, mix[i][4], 1e-5);
    }
}

// Sharma, Wu, Dalal, Color Res. Appl. 30:21 (2005), table 1: all 34 pairs. Number 14 has hues exactly
// opposite.
static const double PAIRS[34][7] = {
    {50, 2.6772, -79.7751, 50, 0, -82.7485, 2.0425},
    {50, 3.1571, -77.2803, 50, 0, -82.7485, 2.8615},
    {50, 2.8361, -74.0200, 50, 0, -82.7485, 3.4412},
    {50, -1.3802, -84.2814, 50, 0, -82.7485, 1.0000},
    {50, -1.1848, -84.8006, 50, 0, -82.7485, 1.0000},
    {50, -0.9009, -85.5211, 50, 0, -82.7485, 1.0000},
    {50, 0, 0, 50, -1, 2, 2.3669},
    {50, -1, 2, 50, 0, 0, 2.3669},
    {50, 2.49, -0.001, 50, -2.49, 0.0009, 7.1792},
    {50, 2.49, -0.001, 50, -2.49, 0.0010, 7.1792},
    {50, 2.49, -0.001, 50, -2.49, 0.0011, 7.2195},
    {50, 2.49, -0.001, 50, -2.49, 0.0012, 7.2195},
    {50, -0.001, 2.49, 50, 0.0009, -2.49, 4.8045},
    {50, -0.001, 2.49, 50, 0.0010, -2.49, 4.8045},
    {50, -0.001, 2.49, 50, 0.0011, -2.49, 4.7461},
    {50, 2.5, 0, 50, 0, -2.5, 4.3065},
    {50, 2.5, 0, 73, 25, -18, 27.1492},
    {50, 2.5, 0, 61, -5, 29, 22.8977},
    {50, 2.5, 0, 56, -27, -3, 31.9030},
    {50, 2.5, 0, 58, 24, 15, 19.4535},
    {50, 2.5, 0, 50, 3.1736, 0.5854, 1.0000},
    {50, 2.5, 0, 50, 3.2972, 0, 1.0000},
    {50, 2.5, 0, 50, 1.8634, 0.5757, 1.0000},
    {50, 2.5, 0, 50, 3.2592, 0.3350, 1.0000},
    {60.2574, -34.0099, 36.2677, 60.4626, -34.1751, 39.4387, 1.2644},
    {63.0109, -31.0961, -5.8663, 62.8187, -29.7946, -4.0864, 1.2630},
    {61.2901, 3.7196, -5.3901, 61.4292, 2.2480, -4.9620, 1.8731},
    {35.0831, -44.1164, 3.7933, 35.0232, -40.0716, 1.5901, 1.8645},
    {22.7233, 20.0904, -46.6940, 23.0331, 14.9730, -42.5619, 2.0373},
    {36.4612, 47.8580, 18.3852, 36.2715, 50.5065, 21.2231, 1.4146},
    {90.8027, -2.0831, 1.4410, 91.1528, -1.6435, 0.0447, 1.4441},
    {90.9257, -0.5406, -0.9208, 88.6381, -0.8985, -0.7239, 1.5381},
    {6.7747, -0.2908, -2.4247, 5.8714, -0.0985, -2.2286, 0.6377},
    {2.0776, 0.0795, -1.1350, 0.9033, -0.0636, -0.5514, 0.9082},
};

static void ciede2000_meets_all_published_pairs(void **state)
{
    (void)state;
    for (size_t i = 0; i < PC_COUNT(PAIRS); i++) {
        near(pc_colour_de2000(PAIRS[i], PAIRS[i] + 3), PAIRS[i][6], 1e-4);
        near(pc_colour_de2000(PAIRS[i] + 3, PAIRS[i]), PAIRS[i][6], 1e-4);
        near(pc_colour_de2000(PAIRS[i], PAIRS[i]), 0, 0);
    }
}

static void lab_there_and_back(void **state)
{
    (void)state;
    double lab[3], xyz[3];
    pc_colour_lab_from_xyz(BROWN, pc_colour_d65, lab); // library run, as above
    near_n(lab, (double[]){41.5278753, 52.638583, 26.9231792}, 3, 1e-6);
    pc_colour_lab_from_xyz(pc_colour_d50, pc_colour_d50, lab);
    near_n(lab, (double[]){100, 0, 0}, 3, 1e-12);
    // 18.42 % grey is L* 50 (CIE 15: ((50 + 16) / 116)^3 = 0.18419); 0.008856 of white is L* 8.
    pc_colour_lab_from_xyz((double[]){0, 0.184186518, 0}, (double[]){1, 1, 1}, lab);
    near(lab[0], 50, 1e-7);
    pc_colour_lab_from_xyz((double[]){0, 216.0 / 24389.0, 0}, (double[]){1, 1, 1}, lab);
    near(lab[0], 8, 1e-12);
    for (double v = 0; v < 1.2; v += 0.003) { // through the joint of line and cube root
        double in[3] = {v * 0.9642, v * v, v * 0.3};
        pc_colour_lab_from_xyz(in, pc_colour_d50, lab);
        pc_colour_xyz_from_lab(lab, pc_colour_d50, xyz);
        near_n(xyz, in, 3, 1e-14);
    }
}

static void adaptation_meets_published_matrices(void **state)
{
    (void)state;
    // Library run, as above, whites as given.
    static const double d65[3] = {.95047, 1, 1.08883}, d50[3] = {.96422, 1, .82521},
                        a[3] = {1.0985, 1, .35585};
    static const double bradford[9] = {1.0478112, .0228866,  -.0501270, .0295424, .9904844,
                                       -.0170491, -.0092345, .0150436,  .7521316};
    static const double cat16[9] = {1.0108226, .0405991, -.0341060, .0054139, .9935956,
                                    .0011560,  .0002508, -.0114802, .7682115};
    double m[3][3], back[3][3], one[3][3], xyz[3];
    pc_colour_adapt_bradford(d65, d50, m);
    near_n(m[0], bradford, 9, 1e-6);
    pc_linalg_apply3(m, d65, xyz);
    near_n(xyz, d50, 3, 1e-14);
    pc_colour_adapt_bradford(d50, d65, back);
    pc_linalg_multiply3(back, m, one);
    near_n(one[0], (double[]){1, 0, 0, 0, 1, 0, 0, 0, 1}, 9, 1e-14);
    pc_colour_adapt_cat16(d65, d50, m);
    near_n(m[0], cat16, 9, 1e-6);
    pc_linalg_apply3(m, d65, xyz);
    near_n(xyz, d50, 3, 1e-14);

    pc_colour_adapt_bradford(a, d65, m);
    pc_linalg_apply3(m, BROWN, xyz);
    near_n(xyz, (double[]){.1803616, .1130882, .1640301}, 3, 1e-5);
    pc_colour_adapt_cat16(a, d65, m);
    pc_linalg_apply3(m, BROWN, xyz);
    near_n(xyz, (double[]){.1870002, .1200181, .1550127}, 3, 1e-5);
}

static const double SRGB_PRIMARY[3][2] = {{.64, .33}, {.30, .60}, {.15, .06}};

// XYZ of linear RGB from primaries and white: the textbook construction.
static void matrix_from_primaries(const double white[3], double m[3][3])
{
    double inverse[3][3], scale[3];
    for (int c = 0; c < 3; c++) {
        double xyz[3];
        pc_colour_xyz_from_xy(SRGB_PRIMARY[c], 1, xyz);
        for (int i = 0; i < 3; i++)
            m[i][c] = xyz[i];
    }
    assert_true(pc_linalg_invert3(m, inverse));
    pc_linalg_apply3(inverse, white, scale);
    for (int i = 0; i < 3; i++)
        for (int c = 0; c < 3; c++)
            m[i][c] *= scale[c];
}

static void srgb_is_the_standard_one(void **state)
{
    (void)state;
    double m[3][3], product[3][3], rgb[3];
    // IEC 61966-2-1 prints four digits.
    static const double printed[9] = {.4124, .3576, .1805, .2126, .7152, .0722, .0193, .1192, .9505};
    matrix_from_primaries(pc_colour_d65, m);
    near_n(m[0], printed, 9, 5.1e-5);
    pc_linalg_multiply3(pc_colour_srgb_from_xyz, m, product);
    near_n(product[0], (double[]){1, 0, 0, 0, 1, 0, 0, 0, 1}, 9, 1e-13);
    pc_linalg_apply3(pc_colour_srgb_from_xyz, BROWN, rgb);
    for (int c = 0; c < 3; c++)
        rgb[c] = pc_colour_srgb_encode(rgb[c]);
    near_n(rgb, (double[]){.7057394, .1924827, .2235417}, 3, 2e-4); // run with the four-digit matrix

    near(pc_colour_srgb_encode(0.18), 0.461356, 1e-6); // 1.055 * 0.18^(1/2.4) - 0.055
    near(pc_colour_srgb_encode(0.001), 0.01292, 1e-12);
    near(pc_colour_srgb_encode(-1), 0, 0);
    near(pc_colour_srgb_encode(7), 1, 1e-15);
    near(pc_colour_srgb_decode(-1), 0, 0);
    near(pc_colour_srgb_decode(7), 1, 1e-15);
    double before = -1;
    for (int i = 0; i <= 65535; i += 5) {
        double v = i / 65535.0, encoded = pc_colour_srgb_encode(v);
        assert_true(encoded > before);
        before = encoded;
        near(pc_colour_srgb_decode(encoded), v, 4e-8); // the standard's two joints differ by as much
    }
}

static uint32_t big_endian(const uint8_t *at)
{
    return (uint32_t)at[0] << 24 | (uint32_t)at[1] << 16 | (uint32_t)at[2] << 8 | at[3];
}

// Offset of a tag's data in a profile (ICC.1:2022, 7.3).
static const uint8_t *icc_tag(const uint8_t *bytes, size_t count, const char *name)
{
    uint32_t tags = big_endian(bytes + 128);
    assert_true(128 + 4 + 12 * (size_t)tags <= count);
    for (uint32_t i = 0; i < tags; i++) {
        const uint8_t *row = bytes + 132 + 12 * i;
        if (memcmp(row, name, 4) == 0) {
            assert_true((size_t)big_endian(row + 4) + big_endian(row + 8) <= count);
            return bytes + big_endian(row + 4);
        }
    }
    fail_msg("the profile has no %s", name);
    return NULL;
}

static void icc_xyz(const uint8_t *number, double xyz[3])
{
    for (int i = 0; i < 3; i++)
        xyz[i] = (int32_t)big_endian(number + 4 * i) / 65536.0; // s15Fixed16Number
}

static void profile_is_srgb_in_d50(void **state)
{
    (void)state;
    uint8_t *bytes = NULL, *again = NULL;
    size_t count = 0, count_again = 0;
    assert_int_equal(pc_colour_srgb_profile(&bytes, &count, NULL), PC_OK);
    assert_int_equal(pc_colour_srgb_profile(&again, &count_again, NULL), PC_OK);
    assert_int_equal(count, count_again);
    assert_memory_equal(bytes, again, count);
    assert_int_equal(big_endian(bytes), count);
    assert_memory_equal(bytes + 36, "acsp", 4);
    assert_memory_equal(bytes + 12, "mntrRGB XYZ ", 12);
    assert_int_equal(bytes[24] << 8 | bytes[25], 2000);
    double xyz[3], m[3][3], adapt[3][3], want[3][3];
    icc_xyz(bytes + 68, xyz); // the header's connection space illuminant
    near_n(xyz, (double[]){.9642, 1, .8249}, 3, 2e-5);
    icc_xyz(icc_tag(bytes, count, "wtpt") + 8, xyz);
    near_n(xyz, pc_colour_d50, 3, 2e-5);

    // By hand: the primaries in D65 adapted to D50 by Bradford stand in rXYZ, gXYZ, bXYZ.
    matrix_from_primaries(pc_colour_d65, m);
    pc_colour_adapt_bradford(pc_colour_d65, pc_colour_d50, adapt);
    pc_linalg_multiply3(adapt, m, want);
    static const char *const tag[3] = {"rXYZ", "gXYZ", "bXYZ"};
    for (int c = 0; c < 3; c++) {
        icc_xyz(icc_tag(bytes, count, tag[c]) + 8, xyz);
        near_n(xyz, (double[]){want[0][c], want[1][c], want[2][c]}, 3, 1e-4);
    }
    // And through an engine: white, and a mid grey with the display curve.
    assert_true(pc_icc_xyz_from_rgb(bytes, count, (double[]){1, 1, 1}, xyz));
    near_n(xyz, pc_colour_d50, 3, 1e-4);
    assert_true(pc_icc_xyz_from_rgb(bytes, count, (double[]){.5, .25, .02}, xyz));
    double linear[3] = {pc_colour_srgb_decode(.5), pc_colour_srgb_decode(.25), pc_colour_srgb_decode(.02)};
    double expected[3];
    pc_linalg_apply3(want, linear, expected);
    near_n(xyz, expected, 3, 1e-4);
    bytes[36] = 'x';
    assert_false(pc_icc_xyz_from_rgb(bytes, count, (double[]){1, 1, 1}, xyz));
    free(bytes);
    free(again);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(colour_matching_functions_are_the_standard_ones),
        cmocka_unit_test(planck_and_daylight_lie_where_published),
        cmocka_unit_test(cct_meets_the_anchors),
        cmocka_unit_test(cct_is_refused_where_it_means_nothing),
        cmocka_unit_test(cct_there_and_back),
        cmocka_unit_test(duv_agrees_with_the_polynomial),
        cmocka_unit_test(mixes_of_two_colours_lie_on_the_chord),
        cmocka_unit_test(ciede2000_meets_all_published_pairs),
        cmocka_unit_test(lab_there_and_back),
        cmocka_unit_test(adaptation_meets_published_matrices),
        cmocka_unit_test(srgb_is_the_standard_one),
        cmocka_unit_test(profile_is_srgb_in_d50),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
