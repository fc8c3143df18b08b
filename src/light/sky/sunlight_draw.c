// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sunlight_draw.h"

#include "base/clock.h"
#include "base/units.h"

static const double LEFT_MM = 24.0, RIGHT_MM = 172.0, TOP_MM = 22.0, FOOT_MM = 66.0, HOUR_S = 3600.0;

static const struct pc_pen thin = {.width_mm = 0.18}, firm = {.width_mm = 0.5},
                           faint = {.width_mm = 0.12, .grey_ratio = 0.62, .dash_mm = 0.8, .gap_mm = 0.8};

struct frame {
    struct pc_draw *draw;
    double from_s, to_s, offset_s; // UTC at the edges
};

static struct pc_spot_mm spot(const struct frame *f, double at_s, double share_ratio)
{
    double part = (at_s - f->from_s) / (f->to_s - f->from_s);
    return (struct pc_spot_mm){LEFT_MM + part * (RIGHT_MM - LEFT_MM),
                               FOOT_MM - share_ratio * (FOOT_MM - TOP_MM)};
}

static void letter(const struct frame *f, struct pc_spot_mm place, double size_mm, enum pc_draw_anchor anchor,
                   const char *text)
{
    struct pc_lettering lettering = {.size_mm = size_mm, .anchor = anchor};
    pc_draw_text(f->draw, &lettering, place, text);
}

static void line(const struct frame *f, const struct pc_pen *pen, struct pc_spot_mm a, struct pc_spot_mm b)
{
    struct pc_spot_mm ends[2] = {a, b};
    pc_draw_line(f->draw, pen, ends, 2);
}

// Whole hours on the clock there, from an hour before the first sun on the table to an hour after the last;
// of a day without, from six to six.
static void choose_hours(const struct pc_sunlight *day, struct frame *f)
{
    double midnight_s = day->row[0].at_s, first_s = 7.0 * HOUR_S, last_s = 17.0 * HOUR_S;
    if (day->table.count > 0) {
        first_s = day->table.spell[0].from_s - midnight_s;
        last_s = day->table.spell[day->table.count - 1].to_s - midnight_s;
    }
    f->from_s = midnight_s + fmax(0.0, floor(first_s / HOUR_S - 0.5)) * HOUR_S;
    f->to_s = midnight_s + fmin(24.0, ceil(last_s / HOUR_S + 0.5)) * HOUR_S;
}

static void draw_scale(const struct frame *f)
{
    static const char *const shares[] = {"none", "half", "all"};
    for (int i = 0; i < 3; i++) {
        struct pc_spot_mm at = spot(f, f->from_s, 0.5 * i);
        if (i > 0)
            line(f, &faint, at, spot(f, f->to_s, 0.5 * i));
        letter(f, (struct pc_spot_mm){at.x_mm - 2.0, at.y_mm + 1.2}, 3.2, PC_DRAW_END, shares[i]);
    }
    line(f, &thin, spot(f, f->from_s, 0.0), spot(f, f->to_s, 0.0));
    int hours = (int)round((f->to_s - f->from_s) / HOUR_S), every = hours > 14 ? 2 : 1;
    for (int i = 0; i <= hours; i += every) {
        struct pc_spot_mm at = spot(f, f->from_s + i * HOUR_S, 0.0);
        char hms[9];
        line(f, &thin, at, (struct pc_spot_mm){at.x_mm, at.y_mm + 1.2});
        pc_clock_hms(f->from_s + i * HOUR_S + f->offset_s, hms);
        hms[5] = '\0';
        letter(f, (struct pc_spot_mm){at.x_mm, at.y_mm + 5.2}, 3.2, PC_DRAW_MIDDLE, hms);
    }
}

// One spell on the table: the rows within it, closed along the foot.
static void draw_spell(const struct frame *f, const struct pc_sunlight *day, const struct pc_spell *spell)
{
    struct pc_spot_mm spots[PC_SUNLIGHT_ROWS + 2];
    struct pc_pen strokes = {.width_mm = 0.14, .grey_ratio = 0.45};
    size_t count = 0;
    spots[count++] = spot(f, spell->from_s, 0.0);
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++)
        if (day->row[i].at_s > spell->from_s && day->row[i].at_s < spell->to_s)
            spots[count++] = spot(f, day->row[i].at_s, day->row[i].share_ratio);
    spots[count++] = spot(f, spell->to_s, 0.0);
    pc_draw_hatch(f->draw, &strokes, 1.5, -0.25 * PC_PI, spots, count);
    pc_draw_line(f->draw, &firm, spots, count);
}

static void clock_text(const struct frame *f, double at_s, char out[6])
{
    char hms[9];
    pc_clock_hms(at_s + f->offset_s + 30.0, hms); // to the nearest minute
    snprintf(out, 6, "%.5s", hms);
}

// When each begins and ends, beside the foot of its hatching; between two near each other there is no room.
static void draw_times(const struct frame *f, const struct pc_spells *spells)
{
    const double room_mm = 26.0;
    double before_mm = -1e9;
    for (int i = 0; i < spells->count; i++) {
        char from[6], to[6];
        const struct pc_spell *spell = &spells->spell[i];
        clock_text(f, spell->from_s, from);
        clock_text(f, spell->to_s, to);
        struct pc_spot_mm a = spot(f, spell->from_s, 0.0), b = spot(f, spell->to_s, 0.0);
        double after_mm =
            i + 1 < spells->count ? spot(f, spells->spell[i + 1].from_s, 0.0).x_mm : (double)INFINITY;
        if (a.x_mm - before_mm > room_mm)
            letter(f, (struct pc_spot_mm){a.x_mm - 1.2, a.y_mm - 1.4}, 3.2, PC_DRAW_END, from);
        if (after_mm - b.x_mm > room_mm)
            letter(f, (struct pc_spot_mm){b.x_mm + 1.2, b.y_mm - 1.4}, 3.2, PC_DRAW_START, to);
        before_mm = b.x_mm;
    }
}

// Under the hours, a bracket as with a pencil.
static void draw_hero(const struct frame *f, const struct pc_sunlight *day)
{
    const double y_mm = FOOT_MM + 12.0;
    for (int i = 0; i < day->hero.count; i++) {
        const struct pc_spell *spell = &day->hero.spell[i];
        double left_mm = spot(f, spell->from_s, 0.0).x_mm, right_mm = spot(f, spell->to_s, 0.0).x_mm;
        struct pc_spot_mm bracket[4] = {
            {left_mm, y_mm - 2.4}, {left_mm, y_mm}, {right_mm, y_mm}, {right_mm, y_mm - 2.4}};
        char from[6], to[6], text[80];
        pc_draw_line(f->draw, &firm, bracket, 4);
        clock_text(f, spell->from_s, from);
        clock_text(f, spell->to_s, to);
        snprintf(text, sizeof text, "on the hero's centre %s to %s", from, to);
        letter(f, (struct pc_spot_mm){0.5 * (left_mm + right_mm), y_mm + 4.6}, 3.2, PC_DRAW_MIDDLE, text);
    }
    if (day->hero.count == 0 && day->table.count > 0)
        letter(f, (struct pc_spot_mm){LEFT_MM, y_mm + 2.0}, 3.2, PC_DRAW_START, "not on the hero's centre");
}

void pc_sunlight_draw(struct pc_draw *draw, const struct pc_sunlight *day, double offset_s,
                      const char *heading)
{
    struct frame f = {.draw = draw, .offset_s = offset_s};
    struct pc_lettering title = {.size_mm = 4.6, .bold = true};
    choose_hours(day, &f);
    pc_draw_text(draw, &title, (struct pc_spot_mm){LEFT_MM, 9.0}, heading);
    letter(&f, (struct pc_spot_mm){LEFT_MM, 15.0}, 3.4, PC_DRAW_START,
           day->table.count > 0 ? "How much of the table lies in the sun, by the clock there"
                                : "No sun comes to the table on that day");
    draw_scale(&f);
    for (int i = 0; i < day->table.count; i++)
        draw_spell(&f, day, &day->table.spell[i]);
    draw_times(&f, &day->table);
    draw_hero(&f, day);
}
