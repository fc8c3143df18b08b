// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/section_priv.h"

#include "base/units.h"

#define BOARD_M 0.03 // thickness of a table top

static void bowl(struct sketch *sketch, double foot_m, double top_m, double half_m, double liquid_m)
{
    struct at_m rim[13];
    double foot_half = 0.42 * half_m;
    for (size_t i = 0; i < PC_COUNT(rim); i++) {
        // A half oval, its foot cut level.
        double a = PC_PI * ((double)i / (double)(PC_COUNT(rim) - 1) - 0.5);
        rim[i] = (struct at_m){half_m * sin(a), top_m - (top_m - foot_m - 0.006) * cos(a)};
    }
    sketch_round(sketch, rim, PC_COUNT(rim));
    sketch_line(sketch, -foot_half, foot_m, foot_half, foot_m);
    if (isnan(liquid_m))
        return;
    double sunk = (top_m - liquid_m) / fmax(top_m - foot_m - 0.006, 1e-3);
    double half_liquid = half_m * sqrt(fmax(0, 1 - sunk * sunk));
    sketch_stroke(sketch, sketch_place(sketch, -half_liquid, liquid_m),
                  sketch_place(sketch, half_liquid, liquid_m), 0);
}

static void plate(struct sketch *sketch, double foot_m, double top_m, double half_m)
{
    double rim_m = foot_m + fmin(0.025, 0.6 * (top_m - foot_m));
    const struct at_m under[] = {
        {-half_m, rim_m}, {-0.55 * half_m, foot_m}, {0.55 * half_m, foot_m}, {half_m, rim_m}};
    sketch_shape(sketch, under, PC_COUNT(under), false);
    struct at_m heap[9];
    for (size_t i = 0; i < PC_COUNT(heap); i++) {
        double t = -1 + 2 * (double)i / (double)(PC_COUNT(heap) - 1);
        heap[i] = (struct at_m){0.62 * half_m * t, foot_m + 0.008 + (top_m - foot_m - 0.008) * (1 - t * t)};
    }
    sketch_round(sketch, heap, PC_COUNT(heap));
}

static void stack(struct sketch *sketch, double foot_m, double top_m, double half_m)
{
    enum { LAYERS = 5 };
    for (size_t n = 0; n < LAYERS; n++) {
        double low = foot_m + 0.006 + (top_m - foot_m - 0.006) * (double)n / LAYERS;
        double high = foot_m + 0.006 + (top_m - foot_m - 0.006) * (double)(n + 1) / LAYERS;
        double half = half_m * (0.80 - 0.03 * (double)n), r = (high - low) / 2;
        const struct at_m round[] = {{-half + r, low}, {-half, low + r}, {-half + r, high}, {0, high},
                                     {half - r, high}, {half, low + r},  {half - r, low},   {-half + r, low}};
        sketch_round(sketch, round, PC_COUNT(round));
    }
    sketch_line(sketch, -half_m, foot_m, half_m, foot_m);
}

void section_glass(struct sketch *sketch, double x_m, double foot_m, double top_m, double width_m)
{
    const struct at_m outline[] = {{x_m - width_m / 2, top_m},
                                   {x_m - 0.36 * width_m, foot_m},
                                   {x_m + 0.36 * width_m, foot_m},
                                   {x_m + width_m / 2, top_m}};
    sketch_shape(sketch, outline, PC_COUNT(outline), false);
    double fill_m = foot_m + 0.7 * (top_m - foot_m);
    sketch_line(sketch, x_m - 0.45 * width_m, fill_m, x_m + 0.45 * width_m, fill_m);
}

void section_hero(struct sketch *sketch, const struct pc_section *s)
{
    double half_m = s->hero_width_m / 2;
    switch (s->hero) {
    case PC_HERO_PLATE:
        plate(sketch, s->table_m, s->hero_top_m, half_m);
        break;
    case PC_HERO_BOWL:
        bowl(sketch, s->table_m, s->hero_top_m, half_m, s->liquid_m);
        break;
    case PC_HERO_GLASS:
        section_glass(sketch, 0, s->table_m, s->hero_top_m, s->hero_width_m);
        break;
    case PC_HERO_STACK:
        stack(sketch, s->table_m, s->hero_top_m, half_m);
        break;
    }
}

// A box with its axis along the way it looks: along and across in metres from the sensor.
static void boxed(struct sketch *sketch, const struct pc_section *s, double angle, const struct at_m *corners,
                  size_t count, bool closed)
{
    struct at_m turned[8];
    PC_ASSERT(count <= PC_COUNT(turned));
    double c = cos(angle), sn = sin(angle);
    for (size_t i = 0; i < count; i++)
        turned[i] = (struct at_m){s->camera_x_m + corners[i].x_m * c - corners[i].up_m * sn,
                                  s->camera_m + corners[i].x_m * sn + corners[i].up_m * c};
    sketch_shape(sketch, turned, count, closed);
}

void section_camera(struct sketch *sketch, const struct pc_section *s)
{
    double aim_x_m = isnan(s->aim_x_m) ? 0 : s->aim_x_m;
    double aim_m = isnan(s->aim_m) ? (s->table_m + s->hero_top_m) / 2 : s->aim_m;
    double angle = atan2(aim_m - s->camera_m, aim_x_m - s->camera_x_m);
    const struct at_m body[] = {{-0.030, -0.045}, {0.035, -0.045}, {0.035, 0.045}, {-0.030, 0.045}};
    const struct at_m lens[] = {{0.035, -0.034}, {0.125, -0.038}, {0.125, 0.038}, {0.035, 0.034}};
    // The hump stands on the upper side of the body, whichever way the camera is turned.
    double up = cos(angle) < 0 ? -1 : 1;
    const struct at_m hump[] = {
        {-0.022, 0.045 * up}, {-0.012, 0.072 * up}, {0.022, 0.072 * up}, {0.035, 0.045 * up}};
    boxed(sketch, s, angle, body, PC_COUNT(body), true);
    boxed(sketch, s, angle, lens, PC_COUNT(lens), false);
    boxed(sketch, s, angle, hump, PC_COUNT(hump), false);
}

static void trestle(struct sketch *sketch, double x_m, double top_m)
{
    double spread_m = 0.28 * top_m;
    sketch_line(sketch, x_m, top_m, x_m - spread_m, 0);
    sketch_line(sketch, x_m, top_m, x_m + spread_m, 0);
    sketch_line(sketch, x_m - 0.55 * spread_m, 0.45 * top_m, x_m + 0.55 * spread_m, 0.45 * top_m);
}

void section_table(struct sketch *sketch, const struct pc_section *s)
{
    double under_m = s->table_m - BOARD_M, length_m = s->table_near_m - s->table_far_m;
    const struct at_m board[] = {{s->table_far_m, s->table_m},
                                 {s->table_near_m, s->table_m},
                                 {s->table_near_m, under_m},
                                 {s->table_far_m, under_m}};
    sketch_shape(sketch, board, PC_COUNT(board), true);
    if (under_m <= 0.02)
        return;
    for (int side = 0; side < 2; side++) {
        double x_m = side == 0 ? s->table_far_m + 0.14 * length_m : s->table_near_m - 0.14 * length_m;
        if (s->trestles) {
            trestle(sketch, x_m, under_m);
            continue;
        }
        sketch_line(sketch, x_m - 0.022, under_m, x_m - 0.016, 0);
        sketch_line(sketch, x_m + 0.022, under_m, x_m + 0.016, 0);
    }
}

void section_lamp(struct sketch *sketch, const struct pc_section *s)
{
    double angle = atan2(s->hero_top_m - s->light_m, -s->light_x_m), c = cos(angle), sn = sin(angle);
    const struct at_m box[] = {{-0.03, -0.15}, {0, -0.15}, {0, 0.15}, {-0.03, 0.15}};
    struct at_m turned[PC_COUNT(box)];
    for (size_t i = 0; i < PC_COUNT(box); i++)
        turned[i] = (struct at_m){s->light_x_m + box[i].x_m * c - box[i].up_m * sn,
                                  s->light_m + box[i].x_m * sn + box[i].up_m * c};
    sketch_shape(sketch, turned, PC_COUNT(box), true);
}

// A stand beside the table, and from its top an arm to the back of the camera.
void section_arm(struct sketch *sketch, const struct pc_section *s)
{
    double x_m = s->arm_x_m, up_m = s->camera_m + 0.03, foot_m = 0.32;
    sketch_line(sketch, s->camera_x_m + (x_m < s->camera_x_m ? -0.05 : 0.05), up_m, x_m, up_m);
    sketch_line(sketch, x_m, up_m + 0.06, x_m, 0.42);
    sketch_line(sketch, x_m, 0.42, x_m - foot_m, 0);
    sketch_line(sketch, x_m, 0.42, x_m + foot_m, 0);
    sketch_line(sketch, x_m, 0.42, x_m + 0.04, 0);
}

void section_sun(struct sketch *sketch, struct pc_spot_mm middle)
{
    enum { RAYS = 9 };
    const double radius_mm = 2.1;
    struct pc_spot_mm round[13];
    for (size_t i = 0; i < PC_COUNT(round); i++) {
        double a = 2 * PC_PI * (double)i / (double)(PC_COUNT(round) - 1);
        round[i] = (struct pc_spot_mm){middle.x_mm + radius_mm * cos(a), middle.y_mm + radius_mm * sin(a)};
    }
    sketch_curve(sketch, round, PC_COUNT(round));
    for (int i = 0; i < RAYS; i++) {
        double a = 2 * PC_PI * (i + 0.3) / RAYS, c = cos(a), sn = sin(a);
        sketch_stroke(
            sketch,
            (struct pc_spot_mm){middle.x_mm + 1.5 * radius_mm * c, middle.y_mm + 1.5 * radius_mm * sn},
            (struct pc_spot_mm){middle.x_mm + 2.2 * radius_mm * c, middle.y_mm + 2.2 * radius_mm * sn}, 0);
    }
}
