// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/sketch_priv.h"

#include "base/units.h"

#define WAVER_MM      0.16 // sideways, of a line some centimetres long
#define KNOT_EVERY_MM 7.0
#define DASH_MM       2.4
#define DASH_GAP_MM   1.5
#define TYPE_MM       3.5

enum { KNOTS_MAX = 64, CORNERS_MAX = 64 };

// -1 to 1, the same for the same stroke and knot. splitmix64 (Steele, Lea, Flood, OOPSLA 2014).
static double tremble(uint64_t stroke, uint64_t knot)
{
    uint64_t z = (stroke * 97 + knot + 1) * 0x9e3779b97f4a7c15u;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return (double)((z ^ (z >> 31)) >> 11) / 4503599627370496.0 - 1;
}

struct pc_spot_mm sketch_place(const struct sketch *sketch, double x_m, double up_m)
{
    return (struct pc_spot_mm){sketch->left_mm + x_m * sketch->mm_per_m,
                               sketch->floor_mm - up_m * sketch->mm_per_m};
}

// Knots along a line, drawn out by over_mm at both ends, bowed and trembling across.
static size_t waver(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to, double over_mm,
                    struct pc_spot_mm knots[KNOTS_MAX])
{
    double dx = to.x_mm - from.x_mm, dy = to.y_mm - from.y_mm, length = hypot(dx, dy);
    if (!(length > 0))
        return 0;
    double ux = dx / length, uy = dy / length;
    size_t count = (size_t)fmin(fmax(length / KNOT_EVERY_MM, 2), KNOTS_MAX - 1) + 1;
    double amount = WAVER_MM * fmin(1, length / 25 + 0.25);
    over_mm = fmin(over_mm, 0.06 * length);
    double bow = 0.0035 * length * tremble(sketch->strokes, KNOTS_MAX);
    for (size_t i = 0; i < count; i++) {
        double t = (double)i / (double)(count - 1);
        double along = -over_mm + t * (length + 2 * over_mm);
        double across = bow * sin(PC_PI * t) + amount * tremble(sketch->strokes, i);
        knots[i].x_mm = from.x_mm + along * ux - across * uy;
        knots[i].y_mm = from.y_mm + along * uy + across * ux;
    }
    sketch->strokes++;
    return count;
}

void sketch_stroke(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to, double over_mm)
{
    struct pc_spot_mm knots[KNOTS_MAX];
    pc_draw_curve(sketch->draw, &sketch->pen, knots, waver(sketch, from, to, over_mm, knots));
}

void sketch_dashes(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to)
{
    struct pc_spot_mm knots[KNOTS_MAX];
    struct pc_pen dashed = sketch->pen;
    dashed.dash_mm = DASH_MM;
    dashed.gap_mm = DASH_GAP_MM;
    pc_draw_curve(sketch->draw, &dashed, knots, waver(sketch, from, to, 0, knots));
}

void sketch_arrow_head(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm tip)
{
    double angle = atan2(tip.y_mm - from.y_mm, tip.x_mm - from.x_mm);
    for (int side = -1; side <= 1; side += 2) {
        double back = angle + PC_PI + side * 0.38;
        struct pc_spot_mm end = {tip.x_mm + 2.6 * cos(back), tip.y_mm + 2.6 * sin(back)};
        sketch_stroke(sketch, tip, end, 0);
    }
}

void sketch_fringe(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to, double length_mm)
{
    double dx = to.x_mm - from.x_mm, dy = to.y_mm - from.y_mm, length = hypot(dx, dy);
    double ux = dx / length, uy = dy / length;
    for (double along = 1.5; along < length - 1; along += 3.2 + 0.7 * tremble(sketch->strokes, 1)) {
        struct pc_spot_mm foot = {from.x_mm + along * ux, from.y_mm + along * uy};
        struct pc_spot_mm tip = {foot.x_mm + length_mm * (0.7 * ux + uy),
                                 foot.y_mm + length_mm * (0.7 * uy - ux)};
        sketch_stroke(sketch, foot, tip, 0);
    }
}

void sketch_curve(struct sketch *sketch, const struct pc_spot_mm *spots, size_t count)
{
    struct pc_spot_mm moved[CORNERS_MAX];
    PC_ASSERT(count <= CORNERS_MAX);
    double length = 0;
    for (size_t i = 1; i < count; i++)
        length += hypot(spots[i].x_mm - spots[i - 1].x_mm, spots[i].y_mm - spots[i - 1].y_mm);
    double amount = WAVER_MM * fmin(0.8, length / 80);
    for (size_t i = 0; i < count; i++) {
        moved[i].x_mm = spots[i].x_mm + amount * tremble(sketch->strokes, 2 * i);
        moved[i].y_mm = spots[i].y_mm + amount * tremble(sketch->strokes, 2 * i + 1);
    }
    sketch->strokes++;
    pc_draw_curve(sketch->draw, &sketch->pen, moved, count);
}

void sketch_line(struct sketch *sketch, double x0_m, double up0_m, double x1_m, double up1_m)
{
    sketch_stroke(sketch, sketch_place(sketch, x0_m, up0_m), sketch_place(sketch, x1_m, up1_m), 0.5);
}

void sketch_shape(struct sketch *sketch, const struct at_m *corners, size_t count, bool closed)
{
    for (size_t i = 0; i + (closed ? 0 : 1) < count; i++) {
        const struct at_m *a = &corners[i], *b = &corners[(i + 1) % count];
        sketch_line(sketch, a->x_m, a->up_m, b->x_m, b->up_m);
    }
}

void sketch_round(struct sketch *sketch, const struct at_m *spots, size_t count)
{
    struct pc_spot_mm places[CORNERS_MAX];
    PC_ASSERT(count <= CORNERS_MAX);
    for (size_t i = 0; i < count; i++)
        places[i] = sketch_place(sketch, spots[i].x_m, spots[i].up_m);
    sketch_curve(sketch, places, count);
}

static struct pc_lettering lettering(enum pc_draw_anchor anchor, bool italic)
{
    return (struct pc_lettering){.size_mm = TYPE_MM, .anchor = anchor, .italic = italic};
}

void sketch_text(struct sketch *sketch, double x_mm, double y_mm, enum pc_draw_anchor anchor, bool italic,
                 const char *text)
{
    struct pc_lettering letters = lettering(anchor, italic);
    double width_mm = pc_draw_text_mm(sketch->draw, &letters, text);
    double left_mm = x_mm - width_mm * (anchor == PC_DRAW_END ? 1 : anchor == PC_DRAW_MIDDLE ? 0.5 : 0);
    // No stroke runs through a word.
    const struct pc_spot_mm clear[] = {{left_mm - 0.7, y_mm - 0.85 * TYPE_MM},
                                       {left_mm + width_mm + 0.7, y_mm - 0.85 * TYPE_MM},
                                       {left_mm + width_mm + 0.7, y_mm + 0.3 * TYPE_MM},
                                       {left_mm - 0.7, y_mm + 0.3 * TYPE_MM}};
    pc_draw_fill(sketch->draw, 1, clear, PC_COUNT(clear));
    pc_draw_text(sketch->draw, &letters, (struct pc_spot_mm){x_mm, y_mm}, text);
}

double sketch_text_mm(struct sketch *sketch, const char *text)
{
    struct pc_lettering letters = lettering(PC_DRAW_START, false);
    return pc_draw_text_mm(sketch->draw, &letters, text);
}

void sketch_spread(double *y_mm, size_t count, double gap_mm, double highest_mm, double lowest_mm)
{
    // Up from the lowest, then down from the highest where that ran out of the sheet.
    double limit = lowest_mm;
    for (size_t i = 0; i < count; i++) {
        y_mm[i] = fmin(y_mm[i], limit);
        limit = y_mm[i] - gap_mm;
    }
    limit = highest_mm;
    for (size_t i = count; i-- > 0;) {
        y_mm[i] = fmax(y_mm[i], limit);
        limit = y_mm[i] + gap_mm;
    }
}
