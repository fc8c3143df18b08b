// SPDX-License-Identifier: Apache-2.0
#include "shoot/outlet/outlet.h"

#include "base/text.h"

#define MM_PER_INCH          25.4
#define SEEN_MM_AT_25_CM     0.2
#define CONFUSION_OF_PIXEL   1.5
#define READING_DISTANCE_M   0.25
#define HERO                 .hero_shown_ratio = 1, .hero_margin_ratio = 0.03, .hero_at_ratio = {NAN, NAN}
#define PAGE(called, w, h)   .name = called, .size_mm = {w, h}, .size_px = {NAN, NAN}, .needed_ppi = 300, HERO
#define SCREEN(called, w, h) .name = called, .size_mm = {NAN, NAN}, .size_px = {w, h}, .needed_ppi = NAN, HERO
#define HELD                 .viewed_from_m = READING_DISTANCE_M, .lit_mm = NAN

const struct pc_outlet pc_outlets_usual[] = {
    {PAGE("cover", 215, 280), .bleed_mm = 3, .clear_top_ratio = 0.22, HELD},
    {PAGE("page", 215, 280), .bleed_mm = 3, HELD},
    {PAGE("spread", 430, 280), .bleed_mm = 3, .fold_ratio = 0.5, .fold_clear_mm = 12, HELD},
    {PAGE("A4", 210, 297), .bleed_mm = 3, HELD},
    {PAGE("A5", 148, 210), .bleed_mm = 3, HELD},
    {PAGE("A3", 297, 420), .bleed_mm = 3, .viewed_from_m = 0.5, .lit_mm = NAN},
    {SCREEN("menu board", 3840, 2160), .viewed_from_m = 2, .lit_mm = 950},
    {SCREEN("4:5", 1080, 1350), HELD},
    {SCREEN("9:16", 1080, 1920), HELD},
    {SCREEN("1:1", 1080, 1080), HELD},
    {SCREEN("3:2", 2400, 1600), .viewed_from_m = 0.5, .lit_mm = NAN},
};
const size_t pc_outlets_usual_count = PC_COUNT(pc_outlets_usual);

static const char *check_outlet(const void *object)
{
    const struct pc_outlet *outlet = object;
    if (isnan(outlet->size_mm[0]) == isnan(outlet->size_px[0]))
        return "An outlet has either \"size_mm\", a page, or \"size_px\", a screen.";
    if (pc_outlet_is_page(outlet) && !isnan(outlet->lit_mm))
        return "\"lit_mm\" is for a screen; a page has \"size_mm\".";
    if (!pc_outlet_is_page(outlet) && (outlet->bleed_mm > 0 || outlet->fold_ratio > 0))
        return "A screen has neither bleed nor fold.";
    if (outlet->clear_top_ratio + outlet->clear_bottom_ratio >= 1 ||
        outlet->clear_left_ratio + outlet->clear_right_ratio >= 1)
        return "What is kept clear for type leaves nothing for the picture.";
    return NULL;
}

#define NUMBER(field) .kind = PC_KEY_NUMBER, .offset = offsetof(struct pc_outlet, field)

static const struct pc_key outlet_rows[] = {
    {.key = "name",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_outlet, name),
     .or_else = "outlet 1, outlet 2, ...",
     .help = "what you call it"},
    {.key = "size_mm",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct pc_outlet, size_mm),
     .unit = "mm",
     .least = 5,
     .most = 20000,
     .or_else = "a screen",
     .help = "width and height of the page, trimmed"},
    {.key = "size_px",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct pc_outlet, size_px),
     .unit = "pixels",
     .least = 16,
     .most = 30000,
     .or_else = "a page",
     .help = "width and height of the screen"},
    {.key = "lit_mm",
     NUMBER(lit_mm),
     .unit = "mm",
     .least = 20,
     .most = 20000,
     .or_else = "not known: people magnify it, and its pixels count",
     .help = "width of a screen that is only looked at from viewed_from_m"},
    {.key = "bleed_mm",
     NUMBER(bleed_mm),
     .unit = "mm",
     .least = 0,
     .most = 50,
     .otherwise = "0",
     .help = "on each side of the page"},
    {.key = "needed_ppi",
     NUMBER(needed_ppi),
     .unit = "pixels an inch",
     .least = 10,
     .most = 2400,
     .otherwise = "300",
     .help = "what the printer asks for"},
    {.key = "fold_at",
     NUMBER(fold_ratio),
     .least = 0,
     .most = 1,
     .otherwise = "0",
     .help = "where the fold runs, as a share of the width from the left; 0: none"},
    {.key = "fold_clear_mm",
     NUMBER(fold_clear_mm),
     .unit = "mm",
     .least = 0,
     .most = 100,
     .otherwise = "0",
     .help = "on each side of the fold, where nothing may lie that matters"},
    {.key = "clear_top_pct",
     NUMBER(clear_top_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 90,
     .otherwise = "0",
     .help = "share of the height kept for type, from the top"},
    {.key = "clear_bottom_pct",
     NUMBER(clear_bottom_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 90,
     .otherwise = "0",
     .help = "share of the height kept for type, from the bottom"},
    {.key = "clear_left_pct",
     NUMBER(clear_left_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 90,
     .otherwise = "0",
     .help = "share of the width kept for type, from the left"},
    {.key = "clear_right_pct",
     NUMBER(clear_right_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 90,
     .otherwise = "0",
     .help = "share of the width kept for type, from the right"},
    {.key = "hero_shown_pct",
     NUMBER(hero_shown_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 1,
     .most = 100,
     .otherwise = "100",
     .help = "how much of the hero's width and height has to show, about its middle"},
    {.key = "hero_margin_pct",
     NUMBER(hero_margin_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 45,
     .otherwise = "3",
     .help = "what stays clear around it, as a share of the shorter side"},
    {.key = "hero_at_pct",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct pc_outlet, hero_at_ratio),
     .unit = "%",
     .si_per_unit = 0.01,
     .least = 0,
     .most = 100,
     .or_else = "amid what type leaves",
     .help = "where its middle is wanted, from the left and from the top"},
    {.key = "viewed_from_m",
     NUMBER(viewed_from_m),
     .unit = "m",
     .least = 0.1,
     .most = 100,
     .otherwise = "0.25",
     .help = "how far off it is looked at"},
};

static const struct pc_keys outlet_keys = {
    "outlet", sizeof(struct pc_outlet), outlet_rows, PC_COUNT(outlet_rows), "name", check_outlet};

static const struct pc_key outlets_rows[] = {
    {.key = "outlets",
     .kind = PC_KEY_LIST,
     .offset = offsetof(struct pc_outlets, outlets),
     .offset_count = offsetof(struct pc_outlets, count),
     .most = 64,
     .table = &outlet_keys,
     .help = "pages and screens"},
};

const struct pc_keys pc_outlets_keys = {
    "list of outlets", sizeof(struct pc_outlets), outlets_rows, PC_COUNT(outlets_rows), NULL, NULL};

enum pc_status pc_outlets_read(struct pc_arena *arena, const char *path, struct pc_outlets *outlets,
                               struct pc_err *err)
{
    return pc_keys_read_file(arena, &pc_outlets_keys, path, outlets, err);
}

enum pc_status pc_outlets_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                    struct pc_outlets *outlets, struct pc_err *err)
{
    return pc_keys_read(arena, &pc_outlets_keys, text, count, place, outlets, err);
}

enum pc_status pc_outlet_find(const struct pc_outlets *outlets, const char *name,
                              const struct pc_outlet **outlet, struct pc_err *err)
{
    const char *names[64 + PC_COUNT(pc_outlets_usual)];
    size_t own = outlets != NULL ? outlets->count : 0, count = own + pc_outlets_usual_count;
    PC_ASSERT(count <= PC_COUNT(names));
    for (size_t i = 0; i < count; i++) {
        const struct pc_outlet *one = i < own ? &outlets->outlets[i] : &pc_outlets_usual[i - own];
        names[i] = one->name;
        if (strcmp(one->name, name) != 0)
            continue;
        *outlet = one;
        return PC_OK;
    }
    const char *nearest = pc_text_nearest(name, names, count);
    if (nearest != NULL)
        return pc_fail(err, PC_MISUSE, name, "There is no such outlet; did you mean \"%s\"?", nearest);
    return pc_fail(err, PC_MISUSE, name, "There is no such outlet; give it in a file of outlets.");
}

bool pc_outlet_is_page(const struct pc_outlet *outlet)
{
    return !isnan(outlet->size_mm[0]);
}

static double whole_mm(const struct pc_outlet *outlet, int side)
{
    return outlet->size_mm[side] + 2 * outlet->bleed_mm;
}

double pc_outlet_shape_ratio(const struct pc_outlet *outlet)
{
    if (pc_outlet_is_page(outlet))
        return whole_mm(outlet, 0) / whole_mm(outlet, 1);
    return outlet->size_px[0] / outlet->size_px[1];
}

void pc_outlet_needed_px(const struct pc_outlet *outlet, double needed_px[2])
{
    for (int side = 0; side < 2; side++)
        needed_px[side] = pc_outlet_is_page(outlet)
                              ? round(whole_mm(outlet, side) / MM_PER_INCH * outlet->needed_ppi)
                              : outlet->size_px[side];
}

void pc_outlet_crop_px(const struct pc_outlet *outlet, const double frame_px[2], double crop_px[2])
{
    double shape = pc_outlet_shape_ratio(outlet);
    bool wide = frame_px[0] > shape * frame_px[1];
    crop_px[0] = wide ? shape * frame_px[1] : frame_px[0];
    crop_px[1] = wide ? frame_px[1] : frame_px[0] / shape;
}

double pc_outlet_reached_ppi(const struct pc_outlet *outlet, double across_px)
{
    return pc_outlet_is_page(outlet) ? across_px / (whole_mm(outlet, 0) / MM_PER_INCH) : (double)NAN;
}

double pc_outlet_reached_ratio(const struct pc_outlet *outlet, double across_px)
{
    if (pc_outlet_is_page(outlet))
        return pc_outlet_reached_ppi(outlet, across_px) / outlet->needed_ppi;
    return across_px / outlet->size_px[0];
}

double pc_outlet_confusion_mm(const struct pc_outlet *outlet, double sensor_across_mm, double across_px)
{
    double seen_mm = SEEN_MM_AT_25_CM * outlet->viewed_from_m / READING_DISTANCE_M;
    double by_eye_mm =
        seen_mm * sensor_across_mm / (pc_outlet_is_page(outlet) ? whole_mm(outlet, 0) : outlet->lit_mm);
    double by_pixel_mm =
        pc_outlet_is_page(outlet) ? 0.0 : CONFUSION_OF_PIXEL * sensor_across_mm / outlet->size_px[0];
    return fmax(fmax(by_eye_mm, by_pixel_mm), sensor_across_mm / across_px); // fmax passes over NAN
}
