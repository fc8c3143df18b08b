// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/sheet.h"

#include "base/file.h"
#include "base/units.h"
#include "image/colour/colour.h"
#include "tests/monte_carlo.h"

#define REFERENCE_BEGIN "<!-- keys of a lamp sheet: made from the tables in src/light/lamp -->\n"
#define REFERENCE_END   "<!-- end of the keys of a lamp sheet -->\n"

static struct pc_arena *arena;

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.10g, want %.10g within %g", what, got, want, within);
}

static char *of_source(const char *name)
{
    return pc_arena_printf(arena, "%s/%s", getenv("PC_SOURCE_ROOT"), name);
}

static struct pc_lamp_sheet demo(const char *name)
{
    struct pc_lamp_sheet sheet;
    struct pc_err err = {0};
    if (pc_lamp_sheet_read(arena, of_source(pc_arena_printf(arena, "demo/lamps/%s", name)), &sheet, &err) !=
        PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return sheet;
}

static double light(const struct pc_lamp_sheet *sheet, double dial, double kelvin, double after_s,
                    double *within)
{
    double ratio;
    struct pc_err err = {0};
    if (pc_lamp_sheet_light(sheet, dial, kelvin, after_s, &ratio, within, &err) != PC_OK)
        fail_msg("%s", err.text);
    return ratio;
}

static void the_demo_lamps_are_read(void **state)
{
    (void)state;
    struct pc_lamp_sheet p1 = demo("p1.json"), p2 = demo("p2.json"), p3 = demo("p3.json"),
                         f1 = demo("f1.json"), pendant = demo("pendant.json");
    near("P1", p1.at_1m_lx, 2900, 0);
    near("P1", p1.at_1m_lx_tolerance, 290, 1e-9);
    near("P1", p1.at_1m_K, 4600, 0);
    near("P1", p1.at_1m_dial_ratio, 1, 0);
    assert_int_equal(p1.curve.points, 5);
    near("P1", p1.curve.tolerance_pct, 3, 0);
    assert_int_equal(p1.mix.points, 6);
    near("P2", p2.output_ratio, 0.88, 1e-12);
    near("P2", p2.off_K, -200, 0);
    assert_int_equal(p2.curve.points, 0);
    near("P3", p3.size_m[1], 0.12, 1e-12);
    near("P3", p3.curve.tolerance_pct, 8, 0);
    assert_int_equal(f1.source, PC_LAMP_FLASH);
    near("F1", f1.f_at_1m, 16, 0);
    assert_true(isnan(f1.at_1m_lx));
    near("pendant", pendant.ripple_hz, 100, 0);
    near("pendant", pendant.ripple_ratio, 0.35, 1e-12);
    assert_true(pendant.round);
}

static void light_by_dial_kelvin_and_minute(void **state)
{
    (void)state;
    struct pc_lamp_sheet p1 = demo("p1.json"), p2 = demo("p2.json");
    double within;
    near("as measured", light(&p1, NAN, NAN, NAN, &within), 1, 0);
    near("exactly", within, 0, 0);
    near("half", light(&p1, 0.5, NAN, NAN, &within), 0.47, 1e-9); // a row of its sheet
    near("3 %", within, 0.03 * 0.47, 1e-9);
    near("aged", light(&p2, NAN, NAN, NAN, &within), 0.88, 1e-12);
    near("aged, half, straight", light(&p2, 0.5, NAN, NAN, &within), 0.44, 1e-12);
    near("15 %", within, 0.15 * 0.44, 1e-12);
    // Cool end over warm end is 1 over 0.92, whatever lies between.
    near("ends", light(&p1, 1, 2700, NAN, &within) / light(&p1, 1, 6500, NAN, &within), 0.92, 1e-9);
    // At a row: a fifth of the drive warm, so 0.8 + 0.2 of 0.92 on a scale of 1 at the cool end.
    near("at a row", light(&p1, 1, 5340, NAN, &within) / light(&p1, 1, 6500, NAN, &within), 0.984, 1e-9);
    // Switched on: it is warmed up at 95.5 % of that.
    near("cold", light(&p1, NAN, NAN, 0, &within), 1 / 0.955, 1e-9);
    near("after 2 min", light(&p1, NAN, NAN, 120, &within), 0.9775 / 0.955, 1e-9);
    near("after an hour", light(&p1, NAN, NAN, 3600, &within), 1, 1e-9);
    near("sag", pc_lamp_sheet_sag_ratio(&p1), 0.955, 1e-12);
    near("no sag told", pc_lamp_sheet_sag_ratio(&p2), 1, 0);
    // The dial that holds the light when the kelvin is raised: there and back.
    double dial = pc_lamp_sheet_dial_for(&p1, 0.6, 5300, 6500);
    near("held", light(&p1, dial, 6500, NAN, &within), light(&p1, 0.6, 5300, NAN, &within), 1e-9);
    assert_true(dial < 0.6);
    assert_true(pc_lamp_sheet_dial_for(&p1, 1, 6500, 2700) > 1);
}

// x: how far off the dial's curve, the mix's and the sag's are, in shares, and the ratio of the warm end.
struct light_given {
    const struct pc_lamp_sheet *sheet;
    double dial_ratio, kelvin_K, after_s;
};

static bool light_again(const void *given, const double x[], double y[])
{
    const struct light_given *g = given;
    struct pc_lamp_sheet sheet = *g->sheet;
    double ratio, within;
    sheet.warm_end_ratio = x[3];
    if (pc_lamp_sheet_light(&sheet, g->dial_ratio, g->kelvin_K, g->after_s, &ratio, &within, NULL) != PC_OK)
        return false;
    y[0] = ratio * (1 + x[0]) * (1 + x[1]) * (1 + x[2]);
    return x[3] > 0;
}

static void light_is_good_to_what_it_says(void **state)
{
    (void)state;
    struct pc_lamp_sheet p1 = demo("p1.json");
    const struct light_given at[] = {{&p1, 0.3, 2700, 60}, {&p1, 0.3, 6500, NAN}, {&p1, 0.7, NAN, 300}};
    for (size_t i = 0; i < PC_COUNT(at); i++) {
        // As the docs state them: a curve of five rows and more 3 %, a measured mix 0.05 EV, sag 2 %.
        double x[] = {0, 0, 0, p1.warm_end_ratio};
        double within[] = {0.03, isnan(at[i].kelvin_K) ? 0 : exp2(0.05) - 1, isnan(at[i].after_s) ? 0 : 0.02,
                           p1.warm_end_ratio_tolerance};
        double stated;
        light(&p1, at[i].dial_ratio, at[i].kelvin_K, at[i].after_s, &stated);
        mc_judge("light of a sheet", light_again, &at[i], 4, x, within, 1, &stated);
    }
}

static void what_a_sheet_cannot_tell(void **state)
{
    (void)state;
    struct pc_lamp_sheet p1 = demo("p1.json"), p2 = demo("p2.json");
    struct pc_err err = {0};
    double ratio, within;
    assert_int_equal(pc_lamp_sheet_light(&p1, 1, 7500, NAN, &ratio, &within, &err), PC_BAD_INPUT);
    assert_string_equal(err.text, "It cannot be set to 7500 K; its sheet says 2700 to 6500 K.");
    err = (struct pc_err){0};
    assert_int_equal(pc_lamp_sheet_light(&p2, 1, NAN, 60, &ratio, &within, &err), PC_NOT_FOUND);
    assert_non_null(strstr(err.text, "add \"sag\""));
    struct pc_spectrum spectrum;
    err = (struct pc_err){0};
    assert_int_equal(pc_lamp_sheet_spectrum(arena, "p2.json", &p2, 5000, &spectrum, &err), PC_NOT_FOUND);
    assert_non_null(strstr(err.text, "no measured spectrum"));
}

static void spectra_of_the_demo_lamps(void **state)
{
    (void)state;
    struct pc_lamp_sheet p1 = demo("p1.json"), pendant = demo("pendant.json");
    struct pc_spectrum spectrum;
    struct pc_rendering r;
    assert_int_equal(
        pc_lamp_sheet_spectrum(arena, of_source("demo/lamps/p1.json"), &p1, p1.at_1m_K, &spectrum, NULL),
        PC_OK);
    assert_true(pc_spectrum_rendering(&spectrum, 0, 0, &r));
    near("P1", r.cct_K, 4600, 30); // they were drawn so
    near("P1", r.duv, 0.0008, 0.0005);
    assert_int_equal(
        pc_lamp_sheet_spectrum(arena, of_source("demo/lamps/pendant.json"), &pendant, 2700, &spectrum, NULL),
        PC_OK);
    assert_true(pc_spectrum_rendering(&spectrum, 0, 0, &r));
    near("pendant", r.cct_K, 2700, 30);
    near("pendant", r.duv, 0.0035, 0.0005);
    pendant.spectrum = NULL;
    pendant.source = PC_LAMP_TUNGSTEN;
    assert_int_equal(pc_lamp_sheet_spectrum(arena, "x.json", &pendant, 2700, &spectrum, NULL), PC_OK);
    assert_true(pc_spectrum_rendering(&spectrum, 0, 0, &r));
    near("tungsten", r.ra, 100, 0.01);
}

static void broken_sheets_get_a_sentence(void **state)
{
    (void)state;
    static const struct {
        const char *text, *place, *says;
    } rows[] = {
        {"{\"at_1m_lux\": 2900}", "x.json:1:2", "at_1m_lx"},
        {"{\n  \"kelvin_K\": [6500, 2700]\n}", "x.json", "has the warmest first"},
        {"{\"kelvin_K\": [2700, 6500], \"at_1m_K\": 7000}", "x.json", "lies outside"},
        {"{\"dials\": [{\"dial_pct\": 50, \"light_pct\": 50}]}", "x.json", "has one row"},
        {"{\"dials\": [{\"dial_pct\": 50, \"light_pct\": 50}, {\"dial_pct\": 60, \"light_pct\": 40}]}",
         "x.json", "must rise from row to row"},
        {"{\"kelvin_K\": [2700, 6500], \"kelvins\": [{\"kelvin_K\": 2700, \"warm_share_pct\": 90}]}",
         "x.json", "must lie between the ends"},
        {"{\"kelvin_K\": [2700, 6500], \"kelvins\": [{\"kelvin_K\": 3000, \"warm_share_pct\": 40}, "
         "{\"kelvin_K\": "
         "4000, \"warm_share_pct\": 60}]}",
         "x.json", "must rise in kelvin"},
        {"{\"sag\": [{\"light_pct\": 90}]}", "x.json", "needs \"after_min\""},
        {"{\"f_at_1m\": 16}", "x.json", "is for a flash"},
        {"{\"source\": \"flash\", \"at_1m_lx\": 16}", "x.json", "instead of \"at_1m_lx\""},
        {"{\"source\": \"candle\"}", "x.json:1:12", "there are: LED, tungsten"},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_lamp_sheet sheet;
        struct pc_err err = {0};
        assert_int_equal(
            pc_lamp_sheet_read_text(arena, rows[i].text, strlen(rows[i].text), "x.json", &sheet, &err),
            PC_BAD_INPUT);
        if (strncmp(err.place, rows[i].place, strlen(rows[i].place)) != 0 ||
            strstr(err.text, rows[i].says) == NULL)
            fail_msg("%zu: %s: %s", i, err.place, err.text);
    }
}

static void the_reference_in_the_docs_is_up_to_date(void **state)
{
    (void)state;
    char *page;
    size_t count;
    assert_int_equal(pc_file_read(arena, of_source("docs/lamps.md"), 1 << 20, &page, &count, NULL), PC_OK);
    char *begin = strstr(page, REFERENCE_BEGIN), *end = strstr(page, REFERENCE_END);
    if (begin == NULL || end == NULL || end < begin)
        fail_msg("docs/lamps.md lacks its marks");
    begin += strlen(REFERENCE_BEGIN);
    char *fresh = pc_arena_printf(arena, "%.*s\n%s\n%s", (int)(begin - page), page,
                                  pc_keys_reference(arena, &pc_lamp_sheet_keys), end);
    if (strcmp(fresh, page) == 0)
        return;
    char *path = pc_arena_printf(arena, "%s/lamps.md", getenv("PC_BUILD_ROOT"));
    assert_int_equal(pc_file_write(path, fresh, strlen(fresh), NULL), PC_OK);
    fail_msg("docs/lamps.md is out of date; %s is up to date: look at it and put it there", path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_demo_lamps_are_read),
        cmocka_unit_test(light_by_dial_kelvin_and_minute),
        cmocka_unit_test(light_is_good_to_what_it_says),
        cmocka_unit_test(what_a_sheet_cannot_tell),
        cmocka_unit_test(spectra_of_the_demo_lamps),
        cmocka_unit_test(broken_sheets_get_a_sentence),
        cmocka_unit_test(the_reference_in_the_docs_is_up_to_date),
    };
    arena = pc_arena_create();
    assert_non_null(arena);
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    pc_arena_destroy(arena);
    return failed;
}
