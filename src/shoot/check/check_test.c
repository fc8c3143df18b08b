// SPDX-License-Identifier: Apache-2.0
// Ranking, sentences and JSON, on a plain picture with what is wrong drawn into it.
#include "shoot/check/check.h"

#include <setjmp.h>
#include <cmocka.h>

enum { WIDTH = 300, HEIGHT = 200, BIN = 2 };

struct bench {
    struct pc_ctx ctx;
    struct pc_photo photo;
    struct pc_check_spots spots;
    struct pc_check_plan plan;
    struct pc_verdict verdict;
    struct pc_err err;
};

static int open_bench(void **state)
{
    struct bench *b = calloc(1, sizeof *b);
    pc_ctx_init(&b->ctx, 1, 0);
    struct pc_picture *p = &b->photo.picture;
    assert_int_equal(pc_picture_init(&b->ctx, p, WIDTH, HEIGHT, 3, &b->err), PC_OK);
    p->bin = BIN;
    p->full_width_px = BIN * WIDTH;
    p->full_height_px = BIN * HEIGHT;
    uint64_t s = 11;
    for (size_t i = 0; i < 3u * WIDTH * HEIGHT; i++) {
        s = s * 6364136223846793005u + 1442695040888963407u;
        p->px[i] = 0.3F + 0.01F * ((float)(s >> 40) / (float)(1 << 24) - 0.5F);
    }
    pc_facts_clear(&b->photo.facts);
    b->photo.facts.iso = 100;
    b->photo.facts.fnumber = 8;
    b->photo.facts.shutter_s = 1.0 / 125;
    pc_check_plan_clear(&b->plan);
    b->spots.at[PC_CHECK_HERO] = (struct pc_check_spot){300, 200, 80};
    b->spots.at[PC_CHECK_SAUCE] = (struct pc_check_spot){420, 200, 40};
    *state = b;
    return 0;
}

static int close_bench(void **state)
{
    struct bench *b = *state;
    pc_photo_finish(&b->photo);
    assert_int_equal(b->ctx.held_bytes, 0);
    free(b);
    return 0;
}

static void check(struct bench *b)
{
    if (pc_check_frame(&b->ctx, &b->photo, &b->spots, NULL, &b->plan, &b->verdict, &b->err) != PC_OK)
        fail_msg("%s", b->err.text);
}

// All three channels, or some, of a disc; full-resolution pixels.
static void clip_disc(struct bench *b, double x_px, double y_px, double radius_px, uint8_t channels)
{
    struct pc_picture *p = &b->photo.picture;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            if (hypot(BIN * (x + 0.5) - x_px, BIN * (y + 0.5) - y_px) > radius_px)
                continue;
            size_t at = (size_t)y * WIDTH + (size_t)x;
            p->clipped[at] = channels;
            for (int c = 0; c < 3; c++)
                p->px[3 * at + (size_t)c] = channels >> c & 1 ? 1.0F : 0.6F;
        }
}

static void nothing_wrong_is_shoot_on(void **state)
{
    struct bench *b = *state;
    check(b);
    assert_string_equal(b->verdict.sentence, "Shoot on");
    assert_int_equal(b->verdict.tone, PC_TONE_SHOOT_ON);
    struct pc_arena *arena = pc_arena_create();
    struct pc_json *json = pc_check_json(&b->verdict);
    assert_string_equal(pc_json_print(arena, json, true),
                        "{\"kind\":null,\"tone\":\"shoot_on\",\"sentence\":\"Shoot on\",\"value\":null,"
                        "\"tolerance\":null,\"unit\":null,\"action\":null,\"x_ratio\":null,\"y_ratio\":null,"
                        "\"others\":[]}");
    pc_json_destroy(json);
    pc_arena_destroy(arena);
}

// The patch's blue holds twice what lies beside it, so red and green beside it (0.3) doubled would be 0.6: no
// stop over by that; a third is the least that is said.
static void a_patch_is_said_and_a_highlight_is_not(void **state)
{
    struct bench *b = *state;
    clip_disc(b, 420, 200, 3.0, 7);
    check(b);
    assert_string_equal(b->verdict.sentence, "Shoot on");
    clip_disc(b, 430, 200, 8.0, 3);
    check(b);
    assert_string_equal(b->verdict.sentence, "Down 1/3 stop: sauce clips");
    assert_int_equal(b->verdict.tone, PC_TONE_MEND);
    if (hypot(b->verdict.finding[0].x_px - 430, b->verdict.finding[0].y_px - 200) > 3.0)
        fail_msg("found at %.1f, %.1f", b->verdict.finding[0].x_px, b->verdict.finding[0].y_px);
}

static void the_graver_leads_and_the_other_follows(void **state)
{
    struct bench *b = *state;
    b->plan.iso = 400;
    check(b);
    assert_string_equal(b->verdict.sentence, "ISO 400: it was changed");
    b->photo.facts.flash_fired = 1;
    b->plan.sync_s = 1.0 / 60;
    check(b);
    assert_string_equal(b->verdict.sentence, "Shutter 1/60 s: too short for the flash");
    assert_int_equal(b->verdict.count, 2);
    assert_int_equal(b->verdict.finding[1].kind, PC_CHECK_EXPOSURE);
    struct pc_arena *arena = pc_arena_create();
    struct pc_json *json = pc_check_json(&b->verdict);
    const struct pc_json *others = pc_json_get(json, "others");
    assert_int_equal(pc_json_count(others), 1);
    assert_string_equal(pc_json_text(pc_json_get(pc_json_at(others, 0), "kind")), "exposure");
    pc_json_destroy(json);
    pc_arena_destroy(arena);
}

static void a_shutter_as_long_as_the_sync_is_fine(void **state)
{
    struct bench *b = *state;
    b->photo.facts.flash_fired = 1;
    b->plan.sync_s = 1.0 / 125;
    check(b);
    assert_string_equal(b->verdict.sentence, "Shoot on");
}

// The hero's disc is 80 wide about 300: from 220. A crop that begins at 240 cuts 20 off.
static void a_hero_out_of_its_crop_is_measured(void **state)
{
    struct bench *b = *state;
    b->plan.crops = 1;
    b->plan.crop[0] = (struct pc_check_crop){"square", 240.0 / (BIN * WIDTH), 0, 1, 1};
    check(b);
    assert_string_equal(b->verdict.sentence, "Hero 20 px out of square: plate back to its marks");
    b->plan.crop[0].left_ratio = 200.0 / (BIN * WIDTH);
    check(b);
    assert_string_equal(b->verdict.sentence, "Shoot on");
}

static void a_level_off_the_plan_is_told_in_thirds(void **state)
{
    struct bench *b = *state;
    b->plan.hero_ev = log2(0.3) + 2.0 / 3.0;
    b->plan.hero_ev_tolerance = 0.1;
    check(b);
    assert_string_equal(b->verdict.sentence, "Up 2/3 stop: hero is too dark");
    if (fabs(b->verdict.finding[0].value - 2.0 / 3.0) > 0.02)
        fail_msg("%.3f EV", b->verdict.finding[0].value);
}

static void places_outside_the_frame_are_no_trouble(void **state)
{
    struct bench *b = *state;
    for (int p = 0; p < PC_CHECK_PLACES; p++)
        b->spots.at[p] = (struct pc_check_spot){-1e9, 1e9, 1e7 * (p + 1)};
    b->spots.at[PC_CHECK_FRONT] = (struct pc_check_spot){BIN * WIDTH + 500, 100, 30};
    check(b);
    assert_string_equal(b->verdict.sentence, "Shoot on");
}

int main(void)
{
#define TEST(f) cmocka_unit_test_setup_teardown(f, open_bench, close_bench)
    const struct CMUnitTest tests[] = {
        TEST(nothing_wrong_is_shoot_on),
        TEST(a_patch_is_said_and_a_highlight_is_not),
        TEST(the_graver_leads_and_the_other_follows),
        TEST(a_shutter_as_long_as_the_sync_is_fine),
        TEST(a_hero_out_of_its_crop_is_measured),
        TEST(a_level_off_the_plan_is_told_in_thirds),
        TEST(places_outside_the_frame_are_no_trouble),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
