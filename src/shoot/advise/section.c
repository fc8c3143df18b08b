// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/section.h"

#include "base/units.h"
#include "shoot/advise/section_priv.h"

#define SHEET_WIDTH_MM  210.0
#define SHEET_HEIGHT_MM 148.0
#define MARGIN_MM       12.0
#define FOOT_MM         26.0 // under the floor: distances and the title
#define HEAD_MM         10.0
#define PEN_MM          0.42
#define LARGEST_MM_A_M  90.0
#define LABEL_GAP_MM    5.0
#define FIGURES_MM      16.0 // from the staff to the words
#define SUN_OUT_MM      15.0 // outside the glass
#define STAFF_MM        6.0  // from the sketch to the staff
#define FARTHEST_M      40.0

void pc_section_default(struct pc_section *s)
{
    *s = (struct pc_section){.hero = PC_HERO_PLATE};
    double *const figures[] = {
        &s->ceiling_m,  &s->table_m,          &s->table_near_m, &s->table_far_m, &s->hero_width_m,
        &s->hero_top_m, &s->liquid_m,         &s->tall_x_m,     &s->tall_top_m,  &s->camera_x_m,
        &s->camera_m,   &s->arm_x_m,          &s->aim_x_m,      &s->aim_m,       &s->view_rad,
        &s->window_x_m, &s->sill_m,           &s->head_m,       &s->mirror_x_m,  &s->light_x_m,
        &s->light_m,    &s->sun_elevation_rad};
    for (size_t i = 0; i < PC_COUNT(figures); i++)
        *figures[i] = (double)NAN;
}

// What of the hero throws the shadow's tip: the edge of its top on the side where the shadow falls. A plate's
// top is its middle.
static double top_edge_m(const struct pc_section *s, double towards)
{
    static const double shares[] = {
        [PC_HERO_PLATE] = 0, [PC_HERO_BOWL] = 1, [PC_HERO_GLASS] = 1, [PC_HERO_STACK] = 0.68};
    return towards * shares[s->hero] * s->hero_width_m / 2;
}

// Which way the shadow falls: 1 towards the camera, -1 away from it.
static double shadow_side(const struct pc_section *s)
{
    if (!isnan(s->light_m))
        return s->light_x_m > 0 ? -1 : 1;
    return !isnan(s->window_x_m) && s->window_x_m > 0 ? -1 : 1;
}

// How far the shadow runs for each metre of height; NAN: there is no light above the top.
static double shadow_per_height(const struct pc_section *s)
{
    if (!isnan(s->light_m))
        return s->light_m > s->hero_top_m
                   ? (top_edge_m(s, shadow_side(s)) - s->light_x_m) / (s->light_m - s->hero_top_m)
                   : (double)NAN;
    if (!(s->sun_elevation_rad > 0 && s->sun_elevation_rad < PC_PI / 2))
        return (double)NAN;
    return shadow_side(s) / tan(s->sun_elevation_rad);
}

double pc_section_shadow_m(const struct pc_section *s)
{
    return (s->hero_top_m - s->table_m) * shadow_per_height(s);
}

double pc_section_mirrored_m(const struct pc_section *s)
{
    if (isnan(s->mirror_x_m) || isnan(s->window_x_m) || isnan(s->liquid_m))
        return (double)NAN;
    double in = s->mirror_x_m - s->window_x_m, out = s->camera_x_m - s->mirror_x_m;
    if (in * out <= 0)
        return (double)NAN;
    return s->liquid_m + (s->camera_m - s->liquid_m) * in / out;
}

enum pc_status pc_section_check(const struct pc_section *s, struct pc_err *err)
{
    const struct {
        const char *what;
        double value, least, most;
        bool required;
    } figures[] = {
        {"the table's height", s->table_m, 0.02, 3, true},
        {"the table's near edge", s->table_near_m, 0.01, 10, true},
        {"the table's far edge", s->table_far_m, -10, -0.01, true},
        {"the hero's width", s->hero_width_m, 0.005, 5, true},
        {"the hero's top", s->hero_top_m, s->table_m + 0.001, s->table_m + 3, true},
        {"the camera's distance", s->camera_x_m, -0.5, FARTHEST_M, true},
        {"the camera's height", s->camera_m, 0, FARTHEST_M, true},
        {"the ceiling", s->ceiling_m, 1, FARTHEST_M, false},
        {"the liquid's level", s->liquid_m, s->table_m, s->hero_top_m, false},
        {"the window's distance", s->window_x_m, -FARTHEST_M, FARTHEST_M, false},
        {"the window's sill", s->sill_m, 0, FARTHEST_M, !isnan(s->window_x_m)},
        {"the window's head", s->head_m, s->sill_m, FARTHEST_M, !isnan(s->window_x_m)},
        {"the place mirrored", s->mirror_x_m, -5, 5, false},
        {"the lamp's distance", s->light_x_m, -FARTHEST_M, FARTHEST_M, !isnan(s->light_m)},
        {"the lamp's height", s->light_m, 0, FARTHEST_M, !isnan(s->light_x_m)},
        {"the tall thing's place", s->tall_x_m, -10, 10, !isnan(s->tall_top_m)},
        {"the tall thing's top", s->tall_top_m, s->table_m, s->table_m + 3, !isnan(s->tall_x_m)},
    };
    for (size_t i = 0; i < PC_COUNT(figures); i++) {
        if (isnan(figures[i].value) && !figures[i].required)
            continue;
        if (!(figures[i].value >= figures[i].least && figures[i].value <= figures[i].most))
            return pc_fail(
                err, PC_BAD_INPUT, NULL,
                "The section cannot be drawn: %s is %.6g m, and would have to lie between %.6g and %.6g m.",
                figures[i].what, figures[i].value, figures[i].least, figures[i].most);
    }
    return PC_OK;
}

static void add_height(struct section_heights *heights, double up_m, double x_m, const char *what)
{
    if (isnan(up_m))
        return;
    PC_ASSERT(heights->count < SECTION_HEIGHTS_MAX);
    size_t i = heights->count++;
    for (; i > 0 && heights->row[i - 1].up_m > up_m; i--)
        heights->row[i] = heights->row[i - 1];
    heights->row[i] = (struct section_height){.up_m = up_m, .from_x_m = x_m};
    snprintf(heights->row[i].figure, sizeof heights->row[i].figure, "%.0f", 100 * up_m);
    snprintf(heights->row[i].what, SECTION_LABEL_BYTES, "%.60s", what);
}

void section_heights(const struct pc_section *s, struct section_heights *heights)
{
    *heights = (struct section_heights){0};
    bool window = !isnan(s->window_x_m);
    add_height(heights, s->table_m, s->table_near_m, s->trestles ? "board on trestles" : "table");
    add_height(heights, s->liquid_m, s->hero_width_m / 2, "liquid");
    if (isnan(s->liquid_m))
        add_height(heights, s->hero_top_m, s->hero_width_m / 2, "hero");
    add_height(heights, s->tall_top_m, s->tall_x_m, "tallest");
    add_height(heights, s->camera_m, s->camera_x_m, s->camera != NULL ? s->camera : "camera");
    add_height(heights, s->light_m, s->light_x_m, "lamp");
    add_height(heights, window ? s->sill_m : (double)NAN, s->window_x_m, "sill");
    add_height(heights, window ? s->head_m : (double)NAN, s->window_x_m, "window head");
    add_height(heights, s->ceiling_m, 0, "ceiling");
}

static double widest_label_mm(struct sketch *sketch, const struct section_heights *heights)
{
    double widest = 0;
    for (size_t i = 0; i < heights->count; i++)
        widest = fmax(widest, sketch_text_mm(sketch, heights->row[i].what));
    return widest;
}

static void draw_staff(struct sketch *sketch, const struct section_heights *heights, double staff_mm)
{
    double y_mm[SECTION_HEIGHTS_MAX], top_mm = sketch->floor_mm;
    for (size_t i = 0; i < heights->count; i++) {
        y_mm[i] = sketch_place(sketch, 0, heights->row[i].up_m).y_mm;
        top_mm = fmin(top_mm, y_mm[i]);
    }
    sketch_stroke(sketch, (struct pc_spot_mm){staff_mm, sketch->floor_mm},
                  (struct pc_spot_mm){staff_mm, top_mm}, 1.5);
    double at_mm[SECTION_HEIGHTS_MAX];
    memcpy(at_mm, y_mm, sizeof at_mm);
    sketch_spread(y_mm, heights->count, LABEL_GAP_MM, HEAD_MM - 2, sketch->floor_mm - 1);
    for (size_t i = 0; i < heights->count; i++) {
        struct pc_spot_mm tick = {staff_mm, at_mm[i]}, out = {staff_mm + 5, y_mm[i]};
        sketch_stroke(sketch, (struct pc_spot_mm){staff_mm - 1.5, at_mm[i]}, tick, 0);
        sketch_stroke(sketch, tick, out, 0);
        sketch_text(sketch, staff_mm + FIGURES_MM - 2, y_mm[i] + 1.25, PC_DRAW_END, false,
                    heights->row[i].figure);
        sketch_text(sketch, staff_mm + FIGURES_MM, y_mm[i] + 1.25, PC_DRAW_START, false,
                    heights->row[i].what);
    }
}

static void draw_shell(struct sketch *sketch, const struct pc_section *s, double from_x_m, double to_x_m)
{
    struct pc_spot_mm floor[2] = {sketch_place(sketch, from_x_m, 0), sketch_place(sketch, to_x_m, 0)};
    sketch_stroke(sketch, floor[0], floor[1], 1);
    sketch_fringe(sketch, floor[1], floor[0], 2.0);
    if (!isnan(s->ceiling_m)) {
        struct pc_spot_mm ceiling[2] = {sketch_place(sketch, from_x_m, s->ceiling_m),
                                        sketch_place(sketch, to_x_m, s->ceiling_m)};
        sketch_stroke(sketch, ceiling[0], ceiling[1], 1);
        sketch_fringe(sketch, ceiling[0], ceiling[1], 2.0);
    }
    if (isnan(s->window_x_m))
        return;
    double x_m = s->window_x_m, out_m = (x_m < 0 ? -1 : 1) * 2.2 / sketch->mm_per_m;
    double top_m = isnan(s->ceiling_m) ? s->head_m + 0.3 : s->ceiling_m;
    sketch_line(sketch, x_m, 0, x_m, s->sill_m);
    sketch_line(sketch, x_m, s->head_m, x_m, top_m);
    sketch_line(sketch, x_m, s->sill_m, x_m, s->head_m);
    sketch_line(sketch, x_m + out_m, s->sill_m, x_m + out_m, s->head_m);
    sketch_line(sketch, x_m + out_m, s->sill_m, x_m - out_m, s->sill_m);
    sketch_line(sketch, x_m + out_m, s->head_m, x_m, s->head_m);
    struct pc_spot_mm wall[4] = {sketch_place(sketch, x_m, 0), sketch_place(sketch, x_m, s->sill_m),
                                 sketch_place(sketch, x_m, s->head_m), sketch_place(sketch, x_m, top_m)};
    double slant = x_m < 0 ? 2.0 : -2.0;
    sketch_fringe(sketch, wall[0], wall[1], slant);
    sketch_fringe(sketch, wall[2], wall[3], slant);
}

// A ray with a head half way along, pointing as the light goes.
static void draw_ray(struct sketch *sketch, struct pc_spot_mm from, struct pc_spot_mm to)
{
    struct pc_spot_mm middle = {(from.x_mm + to.x_mm) / 2, (from.y_mm + to.y_mm) / 2};
    sketch_stroke(sketch, from, to, 0);
    sketch_arrow_head(sketch, from, middle);
}

static void draw_mirror(struct sketch *sketch, const struct pc_section *s)
{
    double mirrored_m = pc_section_mirrored_m(s);
    if (isnan(mirrored_m))
        return;
    bool in_window = mirrored_m >= s->sill_m && mirrored_m <= s->head_m;
    struct pc_spot_mm window = sketch_place(sketch, s->window_x_m, mirrored_m),
                      liquid = sketch_place(sketch, s->mirror_x_m, s->liquid_m),
                      camera = sketch_place(sketch, s->camera_x_m, s->camera_m);
    // Only to the front of the lens.
    double length = hypot(camera.x_mm - liquid.x_mm, camera.y_mm - liquid.y_mm),
           short_of = 1 - fmin(0.9, 0.135 * sketch->mm_per_m / length);
    camera.x_mm = liquid.x_mm + short_of * (camera.x_mm - liquid.x_mm);
    camera.y_mm = liquid.y_mm + short_of * (camera.y_mm - liquid.y_mm);
    if (window.y_mm > HEAD_MM)
        draw_ray(sketch, window, liquid);
    draw_ray(sketch, liquid, camera);
    // Under the ray, where neither sun nor lamp comes from.
    double t = 0.3;
    sketch_text(sketch, window.x_mm + t * (liquid.x_mm - window.x_mm) - 2,
                window.y_mm + t * (liquid.y_mm - window.y_mm) + 4.5, PC_DRAW_END, true,
                in_window ? "glare" : "past the window");
}

// How high the camera looks down on the hero, as an arc at the hero.
static void draw_angle(struct sketch *sketch, const struct pc_section *s)
{
    double foot_m =
        isnan(s->liquid_m) ? (isnan(s->aim_m) ? (s->table_m + s->hero_top_m) / 2 : s->aim_m) : s->liquid_m;
    double x_m = isnan(s->mirror_x_m) ? (isnan(s->aim_x_m) ? 0 : s->aim_x_m) : s->mirror_x_m;
    double angle = atan2(s->camera_m - foot_m, s->camera_x_m - x_m);
    if (!(angle > 0.03 && angle < 1.4))
        return;
    struct pc_spot_mm foot = sketch_place(sketch, x_m, foot_m);
    double ray_mm = hypot(s->camera_m - foot_m, s->camera_x_m - x_m) * sketch->mm_per_m;
    // Far enough out for the figure to stand between the two sides.
    double radius_mm =
        fmax(fmax(15, s->hero_width_m / 2 * sketch->mm_per_m + 6), fmin(6 / tan(angle), 0.6 * ray_mm));
    struct pc_spot_mm arc[5];
    for (size_t i = 0; i < PC_COUNT(arc); i++) {
        double a = angle * (double)i / (double)(PC_COUNT(arc) - 1);
        arc[i] = (struct pc_spot_mm){foot.x_mm + radius_mm * cos(a), foot.y_mm - radius_mm * sin(a)};
    }
    sketch_curve(sketch, arc, PC_COUNT(arc));
    sketch_dashes(sketch, (struct pc_spot_mm){foot.x_mm + radius_mm - 3, foot.y_mm},
                  (struct pc_spot_mm){foot.x_mm + radius_mm + 7, foot.y_mm});
    char text[32];
    snprintf(text, sizeof text, "%.0f°", pc_deg_from_rad(angle));
    sketch_text(sketch, foot.x_mm + (radius_mm + 1.5) * cos(angle / 2),
                foot.y_mm - (radius_mm + 1.5) * sin(angle / 2) + 1, PC_DRAW_START, false, text);
}

// How far an edge of the picture is drawn: to the table, else the floor, and not through the wall nor far
// beyond the table.
static double view_reach_m(const struct pc_section *s, double down, double along)
{
    double reach = down > 0.01 ? (s->camera_m - s->table_m) / down : FARTHEST_M;
    double x_m = s->camera_x_m + reach * along;
    if (x_m > s->table_near_m || x_m < s->table_far_m)
        reach = down > 0.01 ? s->camera_m / down : FARTHEST_M;
    double end_m = along > 0 ? s->table_near_m + 0.1 : s->table_far_m - 0.1;
    if (!isnan(s->window_x_m) && (s->window_x_m - s->camera_x_m) * along > 0)
        end_m = s->window_x_m;
    return fabs(along) > 1e-3 ? fmin(reach, fmax(0.2, (end_m - s->camera_x_m) / along)) : reach;
}

static void draw_view(struct sketch *sketch, const struct pc_section *s)
{
    if (isnan(s->view_rad))
        return;
    double aim_m = isnan(s->aim_m) ? (s->table_m + s->hero_top_m) / 2 : s->aim_m;
    double axis = atan2(aim_m - s->camera_m, (isnan(s->aim_x_m) ? 0 : s->aim_x_m) - s->camera_x_m);
    for (int side = -1; side <= 1; side += 2) {
        double angle = axis + side * s->view_rad / 2;
        double down = -sin(angle), along = cos(angle);
        double reach = view_reach_m(s, down, along);
        sketch_dashes(sketch, sketch_place(sketch, s->camera_x_m + 0.14 * along, s->camera_m - 0.14 * down),
                      sketch_place(sketch, s->camera_x_m + reach * along, s->camera_m - reach * down));
    }
}

// Where the light over the hero comes from on the sheet.
static struct at_m light_from(const struct sketch *sketch, const struct pc_section *s, struct at_m top,
                              double per_height)
{
    if (!isnan(s->light_m))
        return (struct at_m){s->light_x_m, s->light_m};
    double up_m = (isnan(s->ceiling_m) ? s->hero_top_m + 1 : s->ceiling_m) - 8 / sketch->mm_per_m;
    double x_m = top.x_m - per_height * (up_m - s->hero_top_m);
    if (!isnan(s->window_x_m))
        x_m = s->window_x_m + (s->window_x_m < 0 ? -1 : 1) * SUN_OUT_MM / sketch->mm_per_m;
    return (struct at_m){x_m, s->hero_top_m + (top.x_m - x_m) / per_height};
}

static void draw_sun(struct sketch *sketch, const struct pc_section *s, struct pc_spot_mm sun,
                     struct pc_spot_mm top)
{
    struct pc_spot_mm quarter = {sun.x_mm + 0.3 * (top.x_mm - sun.x_mm),
                                 sun.y_mm + 0.3 * (top.y_mm - sun.y_mm)};
    char text[32];
    sketch_arrow_head(sketch, sun, quarter);
    section_sun(sketch, sun);
    snprintf(text, sizeof text, "%.0f°", pc_deg_from_rad(s->sun_elevation_rad));
    sketch_text(sketch, sun.x_mm, sun.y_mm - 6, PC_DRAW_MIDDLE, false, text);
}

static void draw_shadow(struct sketch *sketch, const struct pc_section *s)
{
    double per_height = shadow_per_height(s), shadow_m = pc_section_shadow_m(s);
    if (isnan(shadow_m))
        return;
    struct at_m edge = {top_edge_m(s, shadow_side(s)), s->hero_top_m};
    struct at_m from = light_from(sketch, s, edge, per_height);
    struct pc_spot_mm light = sketch_place(sketch, from.x_m, from.up_m),
                      top = sketch_place(sketch, edge.x_m, edge.up_m);
    bool sun = isnan(s->light_m);
    double clear = sun ? fmin(0.4, 6 / hypot(top.x_mm - light.x_mm, top.y_mm - light.y_mm)) : 0;
    struct pc_spot_mm begin = {light.x_mm + clear * (top.x_mm - light.x_mm),
                               light.y_mm + clear * (top.y_mm - light.y_mm)};
    double tip_m = edge.x_m + shadow_m;
    bool beyond = tip_m > s->table_near_m || tip_m < s->table_far_m;
    tip_m = fmin(fmax(tip_m, s->table_far_m), s->table_near_m);
    sketch_dashes(sketch, begin,
                  sketch_place(sketch, tip_m, s->hero_top_m - (tip_m - edge.x_m) / per_height));
    if (sun)
        draw_sun(sketch, s, light, top);
    struct pc_spot_mm heel = sketch_place(sketch, edge.x_m, s->table_m),
                      tip = sketch_place(sketch, tip_m, s->table_m);
    for (int n = 0; n < 3; n++) {
        heel.y_mm += 0.6;
        tip.y_mm += 0.6;
        sketch_stroke(sketch, heel, tip, 0);
    }
    char text[48];
    snprintf(text, sizeof text, "shadow %.0f%s", 100 * fabs(shadow_m), beyond ? ", past the edge" : "");
    sketch_text(sketch, (heel.x_mm + tip.x_mm) / 2, tip.y_mm + 5.2, PC_DRAW_MIDDLE, true, text);
}

static void draw_distance(struct sketch *sketch, double from_x_m, double to_x_m)
{
    if (isnan(to_x_m) || fabs(to_x_m - from_x_m) < 0.05)
        return;
    struct pc_spot_mm a = sketch_place(sketch, from_x_m, 0), b = sketch_place(sketch, to_x_m, 0);
    a.y_mm += 9;
    b.y_mm += 9;
    sketch_stroke(sketch, a, b, 0);
    for (int end = 0; end < 2; end++) {
        struct pc_spot_mm at = end ? b : a;
        sketch_stroke(sketch, (struct pc_spot_mm){at.x_mm, at.y_mm - 1.8},
                      (struct pc_spot_mm){at.x_mm, at.y_mm + 1.8}, 0);
    }
    char text[32];
    snprintf(text, sizeof text, "%.0f", 100 * fabs(to_x_m - from_x_m));
    sketch_text(sketch, (a.x_mm + b.x_mm) / 2, a.y_mm - 1.9, PC_DRAW_MIDDLE, false, text);
}

// Widens from..to so that x fits in, with room on both sides.
static void fit(double *from_m, double *to_m, double x_m, double room_m)
{
    if (isnan(x_m))
        return;
    *from_m = fmin(*from_m, x_m - room_m);
    *to_m = fmax(*to_m, x_m + room_m);
}

// Scale and place, so that all of it stands between the margins and the staff.
static void lay_out(struct sketch *sketch, const struct pc_section *s, double labels_mm, double *from_x_m,
                    double *to_x_m)
{
    double floor_m = 0, top_m = 0, room_mm = SHEET_WIDTH_MM - 2 * MARGIN_MM - labels_mm - STAFF_MM;
    bool sun = isnan(s->light_m) && s->sun_elevation_rad > 0 && !isnan(s->window_x_m);
    room_mm -= sun ? SUN_OUT_MM : 0;
    *from_x_m = s->table_far_m - 0.1;
    *to_x_m = s->table_near_m + 0.1;
    fit(from_x_m, to_x_m, s->camera_x_m, 0.2);
    fit(from_x_m, to_x_m, s->light_x_m, 0.2);
    fit(from_x_m, to_x_m, s->arm_x_m, 0.4);
    fit(from_x_m, to_x_m, s->window_x_m, 0);
    fit(&floor_m, &top_m, s->camera_m, 0.15);
    fit(&floor_m, &top_m, s->hero_top_m, 0.3);
    fit(&floor_m, &top_m, s->light_m, 0.2);
    fit(&floor_m, &top_m, s->ceiling_m, 0);
    fit(&floor_m, &top_m, s->head_m, 0.1);
    sketch->mm_per_m = fmin(LARGEST_MM_A_M, fmin(room_mm / (*to_x_m - *from_x_m),
                                                 (SHEET_HEIGHT_MM - FOOT_MM - HEAD_MM - 4) / top_m));
    double used_mm = sketch->mm_per_m * (*to_x_m - *from_x_m);
    sketch->left_mm = MARGIN_MM + (sun && s->window_x_m < 0 ? SUN_OUT_MM : 0) + (room_mm - used_mm) / 2 -
                      *from_x_m * sketch->mm_per_m;
    sketch->floor_mm = SHEET_HEIGHT_MM - FOOT_MM;
}

static void draw_all(struct pc_draw *draw, const struct pc_section *s)
{
    struct sketch sketch = {.draw = draw, .pen = {.width_mm = PEN_MM}};
    struct section_heights heights;
    double from_x_m, to_x_m;
    section_heights(s, &heights);
    lay_out(&sketch, s, widest_label_mm(&sketch, &heights) + FIGURES_MM, &from_x_m, &to_x_m);
    draw_shell(&sketch, s, from_x_m, to_x_m);
    if (!isnan(s->arm_x_m))
        section_arm(&sketch, s);
    section_table(&sketch, s);
    section_hero(&sketch, s);
    if (!isnan(s->tall_x_m))
        section_glass(&sketch, s->tall_x_m, s->table_m, s->tall_top_m, 0.075);
    if (!isnan(s->light_m))
        section_lamp(&sketch, s);
    draw_view(&sketch, s);
    draw_shadow(&sketch, s);
    draw_mirror(&sketch, s);
    draw_angle(&sketch, s);
    section_camera(&sketch, s);
    draw_staff(&sketch, &heights, sketch.left_mm + to_x_m * sketch.mm_per_m + STAFF_MM);
    draw_distance(&sketch, 0, s->camera_x_m);
    draw_distance(&sketch, 0, s->window_x_m);
    if (s->title != NULL)
        sketch_text(&sketch, MARGIN_MM, SHEET_HEIGHT_MM - 7, PC_DRAW_START, false, s->title);
    sketch_text(&sketch, SHEET_WIDTH_MM - MARGIN_MM, SHEET_HEIGHT_MM - 7, PC_DRAW_END, true, "centimetres");
}

enum pc_status pc_section_save(const struct pc_section *section, const char *path, struct pc_err *err)
{
    enum pc_draw_form form;
    struct pc_draw *draw;
    PC_TRY(pc_draw_form_of(path, &form, err));
    PC_TRY(pc_section_check(section, err));
    PC_TRY(pc_draw_create(form, SHEET_WIDTH_MM, SHEET_HEIGHT_MM, section->title, &draw, err));
    draw_all(draw, section);
    enum pc_status status = pc_draw_save(draw, path, err);
    pc_draw_destroy(draw);
    return status;
}

enum pc_status pc_section_svg(const struct pc_section *section, struct pc_arena *arena, const char **bytes,
                              size_t *count, struct pc_err *err)
{
    struct pc_draw *draw;
    PC_TRY(pc_section_check(section, err));
    PC_TRY(pc_draw_create(PC_DRAW_SVG, SHEET_WIDTH_MM, SHEET_HEIGHT_MM, section->title, &draw, err));
    draw_all(draw, section);
    enum pc_status status = pc_draw_finish(draw, arena, bytes, count, err);
    pc_draw_destroy(draw);
    return status;
}
