// SPDX-License-Identifier: Apache-2.0
#include "base/draw.h"

#include "base/units.h"
#include "tests/in_arena.h"

static const struct pc_pen pen = {.width_mm = 1};
static const struct pc_spot_mm square[] = {{10, 10}, {30, 10}, {30, 30}, {10, 30}};

static struct pc_draw *sheet(enum pc_draw_form form)
{
    struct pc_draw *draw;
    struct pc_err err = {0};
    if (pc_draw_create(form, 40, 50, "a sheet", &draw, &err) != PC_OK)
        fail_msg("%s", err.text);
    return draw;
}

static const char *finish(struct pc_draw *draw, struct pc_arena *arena, size_t *count)
{
    const char *bytes;
    struct pc_err err = {0};
    if (pc_draw_finish(draw, arena, &bytes, count, &err) != PC_OK)
        fail_msg("%s", err.text);
    pc_draw_destroy(draw);
    return bytes;
}

static void draw_all(struct pc_draw *draw)
{
    const struct pc_pen dashed = {.width_mm = 0.5, .grey_ratio = 0.4, .dash_mm = 2, .gap_mm = 1};
    const struct pc_lettering small = {.size_mm = 3, .turn_rad = 0.3, .anchor = PC_DRAW_END};
    pc_draw_outline(draw, &pen, square, 4);
    pc_draw_line(draw, &dashed, square, 3);
    pc_draw_curve(draw, &dashed, square, 4);
    pc_draw_arc(draw, &pen, square[2], 5, 0, 2);
    pc_draw_fill(draw, 0.8, square, 4);
    pc_draw_hatch(draw, &dashed, 1, 0.7, square, 4);
    pc_draw_text(draw, &small, square[1], "76 cm \xc3\xa6");
}

static void the_same_calls_give_the_same_bytes(void **state)
{
    static const char *const begins[] = {"<?xml", "%PDF-1.", "\x89PNG"};
    for (int form = PC_DRAW_SVG; form <= PC_DRAW_PNG; form++) {
        size_t count[2];
        const char *bytes[2];
        for (int i = 0; i < 2; i++) {
            struct pc_draw *draw = sheet((enum pc_draw_form)form);
            draw_all(draw);
            bytes[i] = finish(draw, *state, &count[i]);
        }
        assert_int_equal(count[0], count[1]);
        assert_memory_equal(bytes[0], bytes[1], count[0]);
        assert_memory_equal(bytes[0], begins[form], strlen(begins[form]));
    }
}

static void a_sheet_says_its_size(void **state)
{
    size_t count;
    struct pc_draw *draw = sheet(PC_DRAW_SVG);
    const char *svg = finish(draw, *state, &count);
    // 40 mm and 50 mm in points of 1/72 inch.
    assert_non_null(strstr(svg, "width=\"113.385827pt\" height=\"141.732283pt\""));
    assert_null(strstr(svg, "surface"));
    const unsigned char *png = (const unsigned char *)finish(sheet(PC_DRAW_PNG), *state, &count);
    // Width and height stand in bytes 16 to 23 of a PNG file (ISO/IEC 15948, 11.2.2).
    assert_int_equal(png[18] << 8 | png[19], 40 * PC_DRAW_PNG_PX_PER_MM);
    assert_int_equal(png[22] << 8 | png[23], 50 * PC_DRAW_PNG_PX_PER_MM);
}

// Strokes of a hatch in an SVG: each is one "M x y L x y".
static double hatched_mm(const char *svg, double *strokes)
{
    double sum = 0;
    *strokes = 0;
    const char *path = strstr(svg, " d=\"M");
    if (path == NULL)
        return 0;
    double x0, y0, x1, y1;
    int used;
    for (path += 4; sscanf(path, " M %lf %lf L %lf %lf%n", &x0, &y0, &x1, &y1, &used) == 4; path += used) {
        sum += hypot(x1 - x0, y1 - y0);
        ++*strokes;
    }
    return sum;
}

static void hatching_covers_its_shape_and_no_more(void **state)
{
    // A square with a square bite out of its right side: 400 mm2 less 100.
    static const struct pc_spot_mm bitten[] = {{10, 10}, {30, 10}, {30, 15}, {20, 15},
                                               {20, 25}, {30, 25}, {30, 30}, {10, 30}};
    static const double angles[] = {0, 0.5, PC_PI / 2, 2.4};
    for (size_t i = 0; i < PC_COUNT(angles); i++) {
        size_t count;
        struct pc_draw *draw = sheet(PC_DRAW_SVG);
        pc_draw_hatch(draw, &pen, 0.25, angles[i], bitten, PC_COUNT(bitten));
        double strokes, sum = hatched_mm(finish(draw, *state, &count), &strokes);
        // The strokes' lengths times their spacing is the area; the path is in mm before its matrix.
        if (fabs(sum * 0.25 - 300) > 3)
            fail_msg("at %g rad the strokes cover %g mm2, not 300", angles[i], sum * 0.25);
        assert_true(strokes > 75); // 20 mm or more across, a quarter apart
    }
}

static void figures_have_one_width(void **state)
{
    (void)state;
    struct pc_draw *draw = sheet(PC_DRAW_PDF);
    const struct pc_lettering plain = {.size_mm = 4}, twice = {.size_mm = 8};
    double ones = pc_draw_text_mm(draw, &plain, "1111"), eights = pc_draw_text_mm(draw, &plain, "8888");
    assert_true(ones > 0 && fabs(ones - eights) < 1e-3);
    assert_true(fabs(pc_draw_text_mm(draw, &twice, "1111") - 2 * ones) < 1e-2);
    pc_draw_destroy(draw);
}

static void forms_go_by_the_ending(void **state)
{
    (void)state;
    enum pc_draw_form form;
    assert_int_equal(pc_draw_form_of("a.b/day.PDF", &form, NULL), PC_OK);
    assert_int_equal(form, PC_DRAW_PDF);
    assert_int_equal(pc_draw_form_of("x.svg", &form, NULL), PC_OK);
    assert_int_equal(form, PC_DRAW_SVG);
    assert_int_equal(pc_draw_form_of(".svg", &form, NULL), PC_MISUSE);
    assert_int_equal(pc_draw_form_of("x.jpg", &form, NULL), PC_MISUSE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_same_calls_give_the_same_bytes),
        cmocka_unit_test(a_sheet_says_its_size),
        cmocka_unit_test(hatching_covers_its_shape_and_no_more),
        cmocka_unit_test(figures_have_one_width),
        cmocka_unit_test(forms_go_by_the_ending),
    };
    return cmocka_run_group_tests(tests, make_arena, destroy_arena);
}
