// SPDX-License-Identifier: Apache-2.0
#include "shoot/outlet/crops_priv.h"

static const struct {
    unsigned limit;
    const char *key, *words;
} limit_rows[] = {
    {PC_CROPS_HERO, "hero", "the hero"},
    {PC_CROPS_MARGIN, "margin", "its margin"},
    {PC_CROPS_KEEP_IN, "keep_in", "what has to be kept in"},
    {PC_CROPS_TYPE, "type", "the band kept for type"},
    {PC_CROPS_FOLD, "fold", "the fold"},
    {PC_CROPS_PIXELS, "pixels", "the pixels needed"},
    {PC_CROPS_EDGES, "edges", "the frame's edges"},
};
static const char *const side_keys[] = {"left", "above", "right", "below"};
static const char *const side_words[] = {"at the left", "above", "at the right", "below"};
static const char *const aim_words[] = {"further left", "higher", "further right", "lower"};

static const char *listed(struct pc_arena *arena, unsigned limits)
{
    const char *text = "";
    for (size_t i = 0, said = 0; i < PC_COUNT(limit_rows); i++) {
        if ((limits & limit_rows[i].limit) == 0)
            continue;
        bool last = (limits >> 1) < limit_rows[i].limit;
        text = pc_arena_printf(arena, "%s%s%s", text,
                               said == 0 ? ""
                               : last    ? " and "
                                         : ", ",
                               limit_rows[i].words);
        said++;
    }
    return text;
}

static const char *way_out(struct pc_arena *arena, const struct pc_crops *crops, const struct pc_crop *crop)
{
    const char *text = "", *back = "";
    if (crop->step_back_pct10 >= 0)
        back = pc_arena_printf(arena, "tep back %.1f %%", crop->step_back_pct10 / 10.0);
    if (crop->side < 0)
        return back[0] != '\0' ? pc_arena_printf(arena, " S%s.", back)
               : crop->there   ? ""
                               : " No distance helps: the outlet leaves no room for the hero.";
    text = pc_arena_printf(arena, " %d px more are needed %s", crop->missing_px, side_words[crop->side]);
    if (!isnan(crop->missing_mm))
        text = pc_arena_printf(arena, "%s, %.0f mm on the page", text, crop->missing_mm);
    if (crop->aim_does)
        text = pc_arena_printf(arena, "%s: aim %s by %.1f %% of the frame", text, aim_words[crop->side],
                               100.0 * crop->missing_px / crops->frame_px[crop->side % 2]);
    if (back[0] == '\0')
        return pc_arena_printf(arena, "%s.", text);
    return pc_arena_printf(arena, "%s%s%s.", text, crop->aim_does ? ", or s" : ": s", back);
}

const char *pc_crops_say(struct pc_arena *arena, const struct pc_crops *crops, const struct pc_crop *crop)
{
    bool page = pc_outlet_is_page(crop->outlet);
    const char *text = crop->outlet->name;
    int across = crop->size_px[crop->size_px[1] > crop->size_px[0]];
    if (crop->there)
        text = pc_arena_printf(arena, "%s: %d x %d px", text, crop->size_px[0], crop->size_px[1]);
    if (crop->there && page)
        text = pc_arena_printf(arena, "%s at %d ppi", text, crop->reached_ppi);
    if (crop->fits)
        return text;
    if (crop->there)
        return pc_arena_printf(arena,
                               "%s, %.2f times as many are needed along each side: %s stand against each "
                               "other.%s",
                               text, ceil(100.0 * crop->needed_px / across) / 100,
                               listed(arena, crop->conflict), way_out(arena, crops, crop));
    return pc_arena_printf(arena, "%s: no crop, %s stand against each other.%s", text,
                           listed(arena, crop->conflict), way_out(arena, crops, crop));
}

const char *pc_crops_say_all(struct pc_arena *arena, const struct pc_crops *crops)
{
    if (crops->all_fit)
        return "All fit this frame.";
    if (crops->step_back_pct10 < 0)
        return "No distance lets all of them into one frame, aimed as it is.";
    if (crops->step_back_pct10 > 0)
        return pc_arena_printf(arena, "Step back %.1f %% and one frame holds all of them, aimed as it is.",
                               crops->step_back_pct10 / 10.0);
    return "One frame holds all of them, but not with the pixels that are needed.";
}

char *pc_crops_text(struct pc_arena *arena, const struct pc_crops *crops)
{
    char *text = pc_arena_strdup(arena, "");
    for (size_t i = 0; i < crops->count; i++)
        text = pc_arena_printf(arena, "%s%s\n", text, crops->crops[i].sentence);
    return pc_arena_printf(arena, "%s%s\n", text, crops->sentence);
}

static double pct(int pct10)
{
    return pct10 < 0 ? (double)NAN : pct10 / 10.0;
}

static struct pc_json *pair(const int px[2])
{
    struct pc_json *array = pc_json_array();
    for (int a = 0; a < 2; a++)
        pc_json_add_number(array, px[a], 0);
    return array;
}

static struct pc_json *crop_json(const struct pc_crop *crop)
{
    struct pc_json *json = pc_json_object();
    pc_json_put_text(json, "outlet", crop->outlet->name);
    pc_json_put_text(json, "sentence", crop->sentence);
    pc_json_put_bool(json, "fits", crop->fits);
    if (crop->there) {
        pc_json_put(json, "at_px", pair(crop->at_px));
        pc_json_put(json, "size_px", pair(crop->size_px));
        pc_json_put_number(json, "reached_ppi",
                           pc_outlet_is_page(crop->outlet) ? crop->reached_ppi : (double)NAN, 0);
    }
    pc_json_put_int(json, "needed_px", crop->needed_px);
    if (crop->fits)
        return json;
    struct pc_json *conflict = pc_json_array();
    for (size_t i = 0; i < PC_COUNT(limit_rows); i++)
        if ((crop->conflict & limit_rows[i].limit) != 0)
            pc_json_add_text(conflict, limit_rows[i].key);
    pc_json_put(json, "conflict", conflict);
    pc_json_put_text(json, "missing_side", crop->side < 0 ? NULL : side_keys[crop->side]);
    pc_json_put_int(json, "missing_px", crop->missing_px);
    pc_json_put_number(json, "missing_mm", crop->missing_mm, 1);
    pc_json_put_bool(json, "aim_does", crop->aim_does);
    pc_json_put_number(json, "step_back_pct", pct(crop->step_back_pct10), 1);
    return json;
}

struct pc_json *pc_crops_json(const struct pc_crops *crops)
{
    struct pc_json *json = pc_json_object(), *list = pc_json_array();
    pc_json_put(json, "frame_px", pair(crops->frame_px));
    for (size_t i = 0; i < crops->count; i++)
        pc_json_add(list, crop_json(&crops->crops[i]));
    pc_json_put(json, "crops", list);
    pc_json_put_bool(json, "all_fit", crops->all_fit);
    pc_json_put_number(json, "step_back_pct", pct(crops->step_back_pct10), 1);
    pc_json_put_text(json, "sentence", crops->sentence);
    return json;
}
