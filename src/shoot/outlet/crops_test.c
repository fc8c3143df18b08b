// SPDX-License-Identifier: Apache-2.0
#include "shoot/outlet/crops.h"

#include <setjmp.h>
#include <cmocka.h>

enum { LAYOUTS = 500 };

static uint64_t drawn(uint64_t *seed, uint64_t below)
{
    *seed = *seed * 6364136223846793005U + 1442695040888963407U;
    return (*seed >> 33) % below;
}

struct layout {
    int w, h, hero[4], keep[4]; // boxes: left, top, right, bottom
    bool has_keep;
    int page[2], bleed, margin_pct, top_pct, fold, ppi; // millimetres
};

static struct layout draw_layout(uint64_t *seed)
{
    struct layout l = {.w = 8 + (int)drawn(seed, 17), .h = 8 + (int)drawn(seed, 17)};
    int *boxes[] = {l.hero, l.keep};
    for (int b = 0; b < 2; b++) {
        boxes[b][0] = (int)drawn(seed, (uint64_t)l.w - 2);
        boxes[b][1] = (int)drawn(seed, (uint64_t)l.h - 2);
        boxes[b][2] = boxes[b][0] + 1 + (int)drawn(seed, (uint64_t)(l.w - boxes[b][0]) * 2 / 3 + 1);
        boxes[b][3] = boxes[b][1] + 1 + (int)drawn(seed, (uint64_t)(l.h - boxes[b][1]) * 2 / 3 + 1);
        boxes[b][2] = boxes[b][2] > l.w ? l.w : boxes[b][2];
        boxes[b][3] = boxes[b][3] > l.h ? l.h : boxes[b][3];
    }
    l.has_keep = drawn(seed, 3) == 0;
    l.page[0] = 40 + 10 * (int)drawn(seed, 17);
    l.page[1] = 40 + 10 * (int)drawn(seed, 17);
    l.bleed = (int)drawn(seed, 4);
    l.margin_pct = 5 * (int)drawn(seed, 4);
    l.top_pct = drawn(seed, 2) == 0 ? 10 * (int)drawn(seed, 5) : 0;
    l.fold = drawn(seed, 3) == 0 ? (int)drawn(seed, 8) + 1 : 0;
    l.ppi = 1 + (int)drawn(seed, 6);
    return l;
}

// Whether a box may lie in a crop: sides in hundredths of a millimetre times pixels, so all is whole.
static bool box_lies(const struct layout *l, const int box[4], const int crop[4], bool margin)
{
    int64_t trim_short = l->page[0] < l->page[1] ? l->page[0] : l->page[1];
    int64_t clear = margin ? trim_short * l->margin_pct : 0, top = (int64_t)l->page[1] * l->top_pct;
    int64_t bleed = 100 * l->bleed,
            whole[2] = {100 * (l->page[0] + 2 * l->bleed), 100 * (l->page[1] + 2 * l->bleed)};
    for (int a = 0; a < 2; a++) {
        int64_t before = (box[a] - crop[a]) * whole[a],
                after = (crop[a] + crop[2 + a] - box[2 + a]) * whole[a];
        int64_t first = bleed + (a == 1 && top > clear ? top : clear);
        if (before < first * crop[2 + a] || after < (bleed + clear) * crop[2 + a])
            return false;
    }
    int64_t left = (box[0] - crop[0]) * whole[0], right = (box[2] - crop[0]) * whole[0], amid = whole[0] / 2;
    return l->fold == 0 || right <= (amid - 100 * l->fold) * crop[2] ||
           left >= (amid + 100 * l->fold) * crop[2];
}

// Every place and size there is, each looked at for itself. Edges may stand beyond the frame.
static bool by_force(const struct layout *l, const int edge[4], bool pixels, int best[4])
{
    int64_t whole[2] = {l->page[0] + 2 * l->bleed, l->page[1] + 2 * l->bleed}, least[2] = {0, 0};
    int tall = whole[1] > whole[0];
    bool found = false;
    for (int w = 1; w <= edge[2] - edge[0]; w++)
        for (int h = 1; h <= edge[3] - edge[1]; h++) {
            int64_t off = 2 * ((tall ? w : h) * whole[tall] - (tall ? h : w) * whole[1 - tall]);
            if (off > whole[tall] || off <= -whole[tall]) // the shorter side: to nearest, halves up
                continue;
            if (pixels && (tall ? h : w) * 254 < l->ppi * whole[tall] * 10)
                continue;
            for (int x = edge[0]; x + w <= edge[2]; x++)
                for (int y = edge[1]; y + h <= edge[3]; y++) {
                    const int crop[4] = {x, y, w, h};
                    if (!box_lies(l, l->hero, crop, true) ||
                        (l->has_keep && !box_lies(l, l->keep, crop, false)))
                        continue;
                    int64_t far[2], top = (int64_t)l->page[1] * l->top_pct;
                    // Where the middle is wanted, in half pixels rounded down.
                    int64_t at_y = 200 * l->bleed + top + 100 * l->page[1];
                    far[0] = llabs(l->hero[0] + l->hero[2] - 2 * x - w);
                    far[1] = llabs(l->hero[1] + l->hero[3] - 2 * y - at_y * h / (100 * whole[1]));
                    int64_t size = tall ? h : w, had = found ? best[2 + tall] : 0;
                    bool better = size != had          ? size > had
                                  : far[0] != least[0] ? far[0] < least[0]
                                  : far[1] != least[1] ? far[1] < least[1]
                                  : x != best[0]       ? x < best[0]
                                                       : y < best[1];
                    if (!better)
                        continue;
                    found = true;
                    memcpy(best, crop, sizeof crop);
                    memcpy(least, far, sizeof far);
                }
        }
    return found;
}

static struct pc_crops_box ratios(const int box[4], int w, int h)
{
    return (struct pc_crops_box){{(double)box[0] / w, (double)box[1] / h},
                                 {(double)box[2] / w, (double)box[3] / h}};
}

static struct pc_outlet outlet_of(const struct layout *l)
{
    return (struct pc_outlet){.name = "drawn",
                              .size_mm = {l->page[0], l->page[1]},
                              .size_px = {NAN, NAN},
                              .bleed_mm = l->bleed,
                              .needed_ppi = l->ppi,
                              .fold_ratio = l->fold > 0 ? 0.5 : 0,
                              .fold_clear_mm = l->fold,
                              .clear_top_ratio = l->top_pct / 100.0,
                              .hero_shown_ratio = 1,
                              .hero_margin_ratio = l->margin_pct / 100.0,
                              .hero_at_ratio = {NAN, NAN}};
}

static void check_missing(const struct layout *l, const struct pc_crop *crop, int number)
{
    int best[4];
    for (int less = 0; less < 2 && crop->side >= 0 && crop->missing_px < 20; less++) {
        int edge[4] = {0, 0, l->w, l->h}, step = crop->missing_px - less;
        edge[crop->side] += crop->side < 2 ? -step : step;
        if (by_force(l, edge, crop->there, best) == (less == 1))
            fail_msg("layout %d: %d px at side %d are not the least that helps", number, crop->missing_px,
                     crop->side);
    }
}

static void as_by_brute_force(void **state)
{
    (void)state;
    uint64_t seed = 20270318;
    int fit = 0, soft = 0, none = 0;
    for (int i = 0; i < LAYOUTS; i++) {
        struct layout l = draw_layout(&seed);
        struct pc_arena *arena = pc_arena_create();
        struct pc_outlet outlet = outlet_of(&l);
        const struct pc_outlet *outlets[] = {&outlet};
        struct pc_crops_frame frame = {.px = {l.w, l.h}, .hero = ratios(l.hero, l.w, l.h)};
        frame.keep_in[0] = ratios(l.keep, l.w, l.h);
        frame.keep_in_count = l.has_keep;
        struct pc_crops crops;
        assert_int_equal(pc_crops_find(arena, &frame, outlets, 1, &crops, NULL), PC_OK);
        const struct pc_crop *crop = &crops.crops[0];
        const int edge[4] = {0, 0, l.w, l.h};
        int best[4], sharp[4];
        bool there = by_force(&l, edge, false, best), fits = by_force(&l, edge, true, sharp);
        if (there != crop->there || fits != crop->fits)
            fail_msg("layout %d: %s by force, %s here", i, there ? "there" : "none", crop->sentence);
        if (there && (best[0] != crop->at_px[0] || best[1] != crop->at_px[1] || best[2] != crop->size_px[0] ||
                      best[3] != crop->size_px[1]))
            fail_msg("layout %d: %d %d %d %d by force, %d %d %d %d here", i, best[0], best[1], best[2],
                     best[3], crop->at_px[0], crop->at_px[1], crop->size_px[0], crop->size_px[1]);
        if (!fits) {
            assert_true(crop->conflict != 0);
            check_missing(&l, crop, i);
        }
        fit += fits;
        soft += there && !fits;
        none += !there;
        pc_arena_destroy(arena);
    }
    assert_true(fit > 40 && soft > 10 && none > 40);
}

static const struct pc_outlet *usual(const char *name)
{
    const struct pc_outlet *outlet;
    assert_int_equal(pc_outlet_find(NULL, name, &outlet, NULL), PC_OK);
    return outlet;
}

static void a_cover_and_a_spread(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    // A frame of 8192 x 5464 held upright; the whole width on 221 mm of 286: 5464 * 286 / 221 = 7071.06.
    // 7071 * 25.4 / 286 = 627.98.
    struct pc_crops_frame frame = {.px = {8192, 5464}, .orientation = 6, .hero = {{0.2, 0.4}, {0.8, 0.7}}};
    const struct pc_outlet *outlets[] = {usual("cover"), usual("4:5")};
    struct pc_crops crops;
    assert_int_equal(pc_crops_find(arena, &frame, outlets, 2, &crops, NULL), PC_OK);
    assert_string_equal(crops.crops[0].sentence, "cover: 5464 x 7071 px at 627 ppi");
    assert_string_equal(crops.crops[1].sentence, "4:5: 5464 x 6830 px");
    assert_true(crops.all_fit);

    // The hero high up: the band for type asks for more above it.
    frame.hero = (struct pc_crops_box){{0.1, 0.02}, {0.9, 0.5}};
    assert_int_equal(pc_crops_find(arena, &frame, outlets, 1, &crops, NULL), PC_OK);
    const struct pc_crop *crop = &crops.crops[0];
    assert_false(crop->there);
    assert_int_equal(crop->side, PC_CROPS_ABOVE);
    assert_true(crop->aim_does && crop->step_back_pct10 > 0 &&
                crops.step_back_pct10 == crop->step_back_pct10);
    assert_true((crop->conflict & PC_CROPS_TYPE) != 0 && (crop->conflict & PC_CROPS_EDGES) != 0);
    assert_non_null(strstr(crop->sentence, "more are needed above"));

    // The smaller camera's whole width is 285 ppi on a spread, where 300 are needed.
    struct pc_crops_frame small = {.px = {4896, 3264}, .hero = {{0.1, 0.3}, {0.35, 0.6}}};
    const struct pc_outlet *spread[] = {usual("spread")};
    assert_int_equal(pc_crops_find(arena, &small, spread, 1, &crops, NULL), PC_OK);
    assert_true(crops.crops[0].there && !crops.crops[0].fits);
    assert_int_equal(crops.crops[0].reached_ppi, 285);
    assert_int_equal(crops.crops[0].conflict, PC_CROPS_PIXELS | PC_CROPS_EDGES);
    struct pc_json *json = pc_crops_json(&crops);
    assert_non_null(strstr(pc_json_print(arena, json, true), "\"reached_ppi\""));
    pc_json_destroy(json);
    pc_arena_destroy(arena);
}

static void boxes_must_lie_in_the_frame(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct pc_crops_frame frame = {.px = {100, 100}, .hero = {{0.5, 0.5}, {1.5, 0.6}}};
    const struct pc_outlet *outlets[] = {usual("1:1")};
    struct pc_crops crops;
    struct pc_err err = {0};
    assert_int_equal(pc_crops_find(arena, &frame, outlets, 1, &crops, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "touch it again"));
    pc_arena_destroy(arena);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(as_by_brute_force),
        cmocka_unit_test(a_cover_and_a_spread),
        cmocka_unit_test(boxes_must_lie_in_the_frame),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
