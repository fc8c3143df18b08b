// SPDX-License-Identifier: Apache-2.0
#include "light/kit/kit.h"

#include "base/units.h"
#include "light/kit/caution.h"
#include "light/kit/class.h"
#include "light/kit/site.h"
#include "tests/in_arena.h"
#include "tests/reference.h"

static char *of_source(struct pc_arena *arena, const char *name)
{
    return pc_arena_printf(arena, "%s/%s", getenv("PC_SOURCE_ROOT"), name);
}

static void read_kit(struct pc_arena *arena, const char *text, struct pc_kit *kit)
{
    struct pc_err err = {0};
    if (pc_kit_read_text(arena, text, strlen(text), "kit", kit, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
}

// Every row of a table and of those below it: words, a range, and a default within it.
static void look_at_rows(const struct pc_keys *table)
{
    for (size_t i = 0; i < table->count; i++) {
        const struct pc_key *row = &table->rows[i];
        if (row->help == NULL || row->help[strlen(row->help) - 1] == '.')
            fail_msg("%s of a %s: its help is a phrase", row->key, table->noun);
        bool figure = row->kind == PC_KEY_NUMBER || row->kind == PC_KEY_PAIR || row->kind == PC_KEY_WHOLE;
        if (figure && !(row->least < row->most))
            fail_msg("%s of a %s has no range", row->key, table->noun);
        if ((figure || row->kind == PC_KEY_LIST) && row->most <= 0)
            fail_msg("%s of a %s has no limit", row->key, table->noun);
        if (row->offset + sizeof(bool) > table->size_bytes || row->offset_within >= table->size_bytes)
            fail_msg("%s of a %s lies outside its struct", row->key, table->noun);
        double value =
            row->otherwise != NULL && row->kind == PC_KEY_NUMBER ? strtod(row->otherwise, NULL) : row->most;
        if (figure && !(value >= row->least && value <= row->most))
            fail_msg("%s of a %s: its default is out of its range", row->key, table->noun);
        // What is guessed is never better known than what is measured.
        if (row->offset_within > 0 && row->otherwise != NULL && row->otherwise_within < row->within)
            fail_msg("%s of a %s: its default is held for better than a figure given", row->key, table->noun);
        if (row->table != NULL)
            look_at_rows(row->table);
    }
}

static void every_key_has_words_a_range_and_a_default_in_it(void **state)
{
    (void)state;
    look_at_rows(&pc_kit_keys);
    look_at_rows(&pc_site_keys);
}

static void the_demo_kit_is_read(void **state)
{
    struct pc_kit kit;
    struct pc_err err = {0};
    if (pc_kit_read(*state, of_source(*state, "demo/kit.json"), &kit, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    assert_int_equal(kit.camera_count, 3);
    const struct pc_camera *phone = pc_kit_camera(&kit, "C3");
    assert_non_null(phone);
    // By diagonal: 24 mm on 36 x 24, the phone's own sensor 9.8 x 7.3 mm.
    near(phone->lenses[0].focal_mm, 24 * sqrt(9.8 * 9.8 + 7.3 * 7.3) / sqrt(36.0 * 36 + 24 * 24), 1e-9);
    assert_string_equal(pc_camera_classes[pc_kit_camera(&kit, "C2")->camera_class].name, "APS-C");
    near(pc_kit_camera(&kit, "C1")->sync_s, 1.0 / 200, 0);
    near(pc_kit_camera(&kit, "C1")->above_sensor_m, 0.15, 0);
    near(pc_kit_lamp(&kit, "P2")->output_ratio, 0.88, 1e-12);
    // By class: 20 W at 45 lx m2 for each.
    near(pc_kit_lamp(&kit, "P3")->at_1m_lx, 900, 1e-9);
    assert_true(pc_kit_lamp(&kit, "P3")->at_1m_lx_tolerance > 400);
    near(kit.boards[2].size_m[0], 1.4, 1e-12);
    near(kit.flashes[0].f_at_1m, 16, 0);
    near(kit.ball_m, 0.04, 1e-12);
    assert_null(pc_kit_camera(&kit, "C4"));
    assert_null(pc_kit_lamp(&kit, "P4"));
}

static void the_demo_place_is_read(void **state)
{
    struct pc_site site;
    struct pc_err err = {0};
    if (pc_site_read(*state, of_source(*state, "demo/site.json"), &site, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    near(pc_deg_from_rad(site.latitude_rad), 58.35, 1e-9);
    near(site.utc_offset_s, 3600, 0);
    assert_int_equal(site.date.month, 3);
    near(site.ceiling_m, 2.32, 0);
    near(site.ceiling_m_tolerance, 0.03, 0);
    near(site.table.height_m, 0.76, 0);
    near(site.supports[0].height_m, 0.45, 0);
    const struct pc_window *w1 = pc_site_window(&site, "W1");
    assert_non_null(w1);
    near(w1->from_table_m, 1.25, 0);
    near(pc_deg_from_rad(w1->facing_rad), 205, 1e-9);
    assert_int_equal(w1->blind, PC_BLIND_ROLLER);
    near(pc_deg_from_rad(site.skyline[0].elevation_rad), 19, 1e-9);
    assert_true(site.circuits[0].for_lamps);
    near(site.circuits[0].loads[0].power_W, 2200, 0);
    near(site.circuits[0].loads[0].power_W_tolerance, 220, 1e-9);
}

static void an_empty_place_is_all_defaults(void **state)
{
    struct pc_site empty, plain;
    assert_int_equal(pc_site_read_text(*state, "{}", 2, "place", &empty, NULL), PC_OK);
    pc_site_default(&plain);
    near(empty.ceiling_m, plain.ceiling_m, 0);
    assert_true(isnan(empty.latitude_rad));
    assert_int_equal(empty.window_count, 0);
}

static void what_a_kit_leaves_out_comes_from_the_class(void **state)
{
    struct pc_kit kit;
    read_kit(*state, "{\"cameras\": [{}, {\"class\": \"phone\"}, {\"sensor_mm\": [17, 13]}]}", &kit);
    assert_string_equal(pc_camera_classes[kit.cameras[0].camera_class].name, "full frame");
    assert_string_equal(kit.cameras[0].name, "camera 1");
    near(kit.cameras[1].full_well_e, 6000, 0);
    assert_string_equal(pc_camera_classes[kit.cameras[2].camera_class].name, "4/3-type");
    near(kit.cameras[2].sensor_mm[0], 17, 0);
    read_kit(*state, "{\"lamps\": [{\"class\": \"tungsten\", \"power_W\": 1000}]}", &kit);
    near(kit.lamps[0].at_1m_lx, 12000, 1e-9);
    near(kit.lamps[0].kelvin_K[1], 3200, 0);
}

static void a_contradiction_is_refused(void **state)
{
    static const char *const wrong[] = {
        "{\"cameras\": [{\"lenses\": [{}]}]}",
        "{\"cameras\": [{\"lenses\": [{\"focal_mm\": 50, \"equivalent_mm\": 75}]}]}",
        "{\"cameras\": [{\"lenses\": [{\"focal_mm\": 50, \"widest_f\": 8, \"narrowest_f\": 4}]}]}",
        "{\"cameras\": [{\"sensor_mm\": [24, 36]}]}",
        "{\"lamps\": [{\"kelvin_K\": [6500, 2700]}]}",
        "{\"boards\": [{\"size_cm\": [60, 80]}]}",
    };
    for (size_t i = 0; i < PC_COUNT(wrong); i++) {
        struct pc_kit kit;
        struct pc_err err = {0};
        assert_int_equal(pc_kit_read_text(*state, wrong[i], strlen(wrong[i]), "kit", &kit, &err),
                         PC_BAD_INPUT);
        assert_true(strlen(err.text) > 20);
    }
    static const char *const wrong_place[] = {
        "{\"ceiling_m\": 1.6, \"table\": {\"height_m\": 1.7}}",
        "{\"table\": {\"size_m\": [0.8, 1.4]}}",
        "{\"skyline\": [{\"from_deg\": 10, \"to_deg\": 20}]}",
    };
    for (size_t i = 0; i < PC_COUNT(wrong_place); i++) {
        struct pc_site site;
        assert_int_equal(
            pc_site_read_text(*state, wrong_place[i], strlen(wrong_place[i]), "place", &site, NULL),
            PC_BAD_INPUT);
    }
}

static void classes_and_their_names_agree(void **state)
{
    (void)state;
    for (size_t i = 0; i < pc_camera_class_count; i++) {
        const struct pc_camera_class *one = &pc_camera_classes[i];
        assert_string_equal(one->name, pc_camera_class_names[i]);
        assert_int_equal(pc_camera_class_nearest(one->sensor_mm), i);
        assert_true(one->sensor_mm[0] > one->sensor_mm[1] && one->pixels[0] > one->pixels[1]);
        assert_true(one->full_well_e_tolerance > 0 && one->read_noise_e_tolerance > 0);
    }
    assert_null(pc_camera_class_names[pc_camera_class_count]);
    for (size_t i = 0; i < pc_lamp_class_count; i++)
        assert_string_equal(pc_lamp_classes[i].name, pc_lamp_class_names[i]);
    assert_null(pc_lamp_class_names[pc_lamp_class_count]);
    for (size_t i = 0; i < pc_dish_class_count; i++) {
        assert_string_equal(pc_dish_classes[i].name, pc_dish_class_names[i]);
        // Times are held for good to 40 %.
        near(pc_dish_classes[i].life_s_tolerance, 0.4 * pc_dish_classes[i].life_s, 6);
    }
    assert_null(pc_dish_class_names[pc_dish_class_count]);
}

static void cautions_defer_and_permit_nothing(void **state)
{
    (void)state;
    static const char *const deferring[] = {"maker", "local", "licensed", "doctor", "cook"};
    static const char *const permitting[] = {" safe",   "Safe",      "may be used",
                                             "allowed", "no danger", "harmless"};
    for (int c = 0; c < PC_CAUTION_COUNT; c++) {
        const char *text = pc_caution_text((enum pc_caution)c);
        bool defers = false;
        for (size_t i = 0; i < PC_COUNT(deferring); i++)
            defers = defers || strstr(text, deferring[i]) != NULL;
        if (!defers)
            fail_msg("%s defers to nobody", text);
        for (size_t i = 0; i < PC_COUNT(permitting); i++)
            if (strstr(text, permitting[i]) != NULL)
                fail_msg("%s permits something", text);
        assert_true(text[0] >= 'A' && text[0] <= 'Z' && text[strlen(text) - 1] == '.');
        assert_true(strlen(pc_caution_key((enum pc_caution)c)) > 2);
        assert_true(strlen(pc_caution_source((enum pc_caution)c)) > 10);
        for (int d = 0; d < c; d++)
            assert_string_not_equal(pc_caution_key((enum pc_caution)c), pc_caution_key((enum pc_caution)d));
    }
}

static void the_reference_in_the_docs_is_up_to_date(void **state)
{
    reference_is_up_to_date(*state, "kit.md", &pc_kit_keys);
    reference_is_up_to_date(*state, "kit.md", &pc_site_keys);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_key_has_words_a_range_and_a_default_in_it),
        cmocka_unit_test(the_demo_kit_is_read),
        cmocka_unit_test(the_demo_place_is_read),
        cmocka_unit_test(an_empty_place_is_all_defaults),
        cmocka_unit_test(what_a_kit_leaves_out_comes_from_the_class),
        cmocka_unit_test(a_contradiction_is_refused),
        cmocka_unit_test(classes_and_their_names_agree),
        cmocka_unit_test(cautions_defer_and_permit_nothing),
        cmocka_unit_test(the_reference_in_the_docs_is_up_to_date),
    };
    return cmocka_run_group_tests(tests, make_arena, destroy_arena);
}
