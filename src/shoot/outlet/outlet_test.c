// SPDX-License-Identifier: Apache-2.0
#include "shoot/outlet/outlet.h"

#include "tests/in_arena.h"
#include "tests/reference.h"

static const struct pc_outlet *usual(const char *name)
{
    const struct pc_outlet *outlet;
    assert_int_equal(pc_outlet_find(NULL, name, &outlet, NULL), PC_OK);
    return outlet;
}

static void pages_need_so_many_pixels(void **state)
{
    (void)state;
    // Millimetres at 300 pixels an inch, rounded; worked by hand from mm / 25.4 * 300.
    static const struct {
        double size_mm[2], bleed_mm, px[2];
    } cases[] = {
        {{210, 297}, 0, {2480, 3508}}, {{210, 297}, 3, {2551, 3579}}, {{148, 210}, 0, {1748, 2480}},
        {{148, 210}, 3, {1819, 2551}}, {{99, 210}, 0, {1169, 2480}},  {{99, 210}, 3, {1240, 2551}},
        {{216, 276}, 0, {2551, 3260}}, {{216, 276}, 3, {2622, 3331}},
    };
    for (size_t i = 0; i < PC_COUNT(cases); i++) {
        struct pc_outlet outlet = {.size_mm = {cases[i].size_mm[0], cases[i].size_mm[1]},
                                   .size_px = {NAN, NAN},
                                   .bleed_mm = cases[i].bleed_mm,
                                   .needed_ppi = 300};
        double px[2];
        pc_outlet_needed_px(&outlet, px);
        near(px[0], cases[i].px[0], 0);
        near(px[1], cases[i].px[1], 0);
    }
    double px[2];
    pc_outlet_needed_px(usual("menu board"), px);
    near(px[0], 3840, 0);
    near(px[1], 2160, 0);
}

static void a_spread_from_two_cameras(void **state)
{
    (void)state;
    const struct pc_outlet *spread = usual("spread");
    near(pc_outlet_shape_ratio(spread), 436.0 / 286, 1e-12);
    const double small_px[] = {4896, 3264}, large_px[] = {8192, 5464};
    double crop_px[2];
    pc_outlet_crop_px(spread, small_px, crop_px);
    near(crop_px[0], 4896, 0);
    near(crop_px[1], 4896 * 286.0 / 436, 1e-9);
    // 4896 pixels on 436 mm: 285 an inch, too few; 8192: 477.
    near(pc_outlet_reached_ppi(spread, crop_px[0]), 285.2, 0.05);
    assert_true(pc_outlet_reached_ratio(spread, crop_px[0]) < 1);
    pc_outlet_crop_px(spread, large_px, crop_px);
    near(pc_outlet_reached_ppi(spread, crop_px[0]), 477.2, 0.05);
    // An upright page out of a wide frame: the whole height.
    pc_outlet_crop_px(usual("page"), large_px, crop_px);
    near(crop_px[1], 5464, 0);
    near(crop_px[0] / crop_px[1], 221.0 / 286, 1e-12);
    assert_true(isnan(pc_outlet_reached_ppi(usual("1:1"), 3000)));
    near(pc_outlet_reached_ratio(usual("1:1"), 2160), 2, 1e-12);
}

static void what_is_still_a_point(void **state)
{
    (void)state;
    // 36 mm onto 436 mm is 12.1 times larger, so 0.2 mm on the page is 0.0165 mm on the sensor.
    near(pc_outlet_confusion_mm(usual("spread"), 36, 8192), 0.2 * 36 / 436, 1e-12);
    // Never less than a pixel.
    near(pc_outlet_confusion_mm(usual("spread"), 36, 1000), 0.036, 1e-12);
    near(pc_outlet_confusion_mm(usual("1:1"), 24, 5464), 1.5 * 24 / 1080, 1e-12);
    // 0.8 mrad from 2 m are 1.6 mm of a screen 950 mm wide, which is more than a pixel and a half of it.
    near(pc_outlet_confusion_mm(usual("menu board"), 36, 8192), 1.6 * 36 / 950, 1e-12);
    struct pc_outlet near_by = *usual("menu board");
    near_by.viewed_from_m = 0.25;
    near(pc_outlet_confusion_mm(&near_by, 36, 8192), 1.5 * 36 / 3840, 1e-12);
}

static void outlets_of_one_s_own_come_first(void **state)
{
    struct pc_outlets own;
    static const char text[] = "{\"outlets\": [{\"name\": \"cover\", \"size_mm\": [100, 200], "
                               "\"clear_top_pct\": 30}, {\"size_px\": [640, 480]}]}";
    struct pc_err err = {0};
    if (pc_outlets_read_text(*state, text, sizeof text - 1, "o", &own, &err) != PC_OK)
        fail_msg("%s", err.text);
    const struct pc_outlet *outlet;
    assert_int_equal(pc_outlet_find(&own, "cover", &outlet, NULL), PC_OK);
    near(outlet->clear_top_ratio, 0.3, 1e-12);
    assert_int_equal(pc_outlet_find(&own, "outlet 2", &outlet, NULL), PC_OK);
    assert_false(pc_outlet_is_page(outlet));
    assert_int_equal(pc_outlet_find(&own, "spraed", &outlet, &err), PC_MISUSE);
    assert_non_null(strstr(err.text, "\"spread\""));
}

static void an_outlet_is_a_page_or_a_screen(void **state)
{
    static const char *const wrong[] = {
        "{\"outlets\": [{}]}",
        "{\"outlets\": [{\"size_mm\": [1, 2], \"size_px\": [100, 100]}]}",
        "{\"outlets\": [{\"size_px\": [100, 100], \"bleed_mm\": 3}]}",
        "{\"outlets\": [{\"size_mm\": [100, 100], \"dpi\": 3}]}",
    };
    for (size_t i = 0; i < PC_COUNT(wrong); i++) {
        struct pc_outlets own;
        struct pc_err err = {0};
        assert_int_equal(pc_outlets_read_text(*state, wrong[i], strlen(wrong[i]), "o", &own, &err),
                         PC_BAD_INPUT);
        assert_true(strlen(err.text) > 20);
    }
}

static void the_reference_in_the_docs_is_up_to_date(void **state)
{
    reference_is_up_to_date(*state, "kit.md", &pc_outlets_keys);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pages_need_so_many_pixels),
        cmocka_unit_test(a_spread_from_two_cameras),
        cmocka_unit_test(what_is_still_a_point),
        cmocka_unit_test(outlets_of_one_s_own_come_first),
        cmocka_unit_test(an_outlet_is_a_page_or_a_screen),
        cmocka_unit_test(the_reference_in_the_docs_is_up_to_date),
    };
    return cmocka_run_group_tests(tests, make_arena, destroy_arena);
}
