// SPDX-License-Identifier: Apache-2.0
#include "light/sky/opening.h"

#include "base/units.h"

// Table, two parallelograms, the other walls: each edge adds one corner at most.
enum { CORNERS_MAX = 4 + 4 + 4 + PC_OPENINGS_MAX };

struct polygon {
    double x_m[CORNERS_MAX], y_m[CORNERS_MAX];
    int count;
};

// Two walls look the same way when they differ by less than a compass tells.
static const double SAME_WALL_RAD = 1e-3, SAME_WALL_M = 1e-3;

void pc_direction(double azimuth_rad, double elevation_rad, double direction[3])
{
    direction[0] = sin(azimuth_rad) * cos(elevation_rad);
    direction[1] = cos(azimuth_rad) * cos(elevation_rad);
    direction[2] = sin(elevation_rad);
}

// Outwards and to the right, in plan.
static void axes(double facing_rad, double out[2], double right[2])
{
    out[0] = sin(facing_rad);
    out[1] = cos(facing_rad);
    right[0] = out[1];
    right[1] = -out[0];
}

void pc_opening_hero(const struct pc_tabletop *table, double point_m[3])
{
    double out[2], right[2];
    axes(table->facing_rad, out, right);
    for (int k = 0; k < 2; k++)
        point_m[k] = table->hero_right_m * right[k] + table->hero_out_m * out[k];
    point_m[2] = table->top_m;
}

double pc_skyline_rad(const struct pc_opening_place *place, double azimuth_rad)
{
    double highest = 0.0;
    for (int i = 0; i < place->skyline_count; i++) {
        const struct pc_skyline_step *step = &place->skyline[i];
        double wide = fmod(step->to_rad - step->from_rad + 4.0 * PC_PI, 2.0 * PC_PI);
        if (wide < 1e-9 && fabs(step->to_rad - step->from_rad) > PC_PI)
            wide = 2.0 * PC_PI; // all round, from 0 to 360 degrees
        double into = fmod(azimuth_rad - step->from_rad + 8.0 * PC_PI, 2.0 * PC_PI);
        if (into <= wide)
            highest = fmax(highest, step->elevation_rad);
    }
    return highest;
}

// Keeps what lies where a x + b y <= c (Sutherland and Hodgman, CACM 17:32, 1974). A corner within a
// picometre of the line lies on it, so that rounding cannot bend the polygon and each cut adds one corner at
// most.
static void cut(struct polygon *p, double a, double b, double c)
{
    struct polygon whole;
    double beyond[CORNERS_MAX];
    int outside = 0;
    double size = hypot(a, b), unit = size > 1e-12 ? 1.0 / size : 1.0;
    for (int i = 0; i < p->count; i++) {
        beyond[i] = (a * p->x_m[i] + b * p->y_m[i] - c) * unit;
        if (fabs(beyond[i]) < 1e-12)
            beyond[i] = 0.0;
        outside += beyond[i] > 0.0;
    }
    if (outside == 0)
        return;
    whole = *p;
    p->count = 0;
    for (int i = 0; i < whole.count && outside < whole.count; i++) {
        int j = i + 1 < whole.count ? i + 1 : 0;
        double at = beyond[i], next = beyond[j];
        if (at <= 0.0) {
            p->x_m[p->count] = whole.x_m[i];
            p->y_m[p->count++] = whole.y_m[i];
        }
        if ((at < 0.0 && next > 0.0) || (at > 0.0 && next < 0.0)) {
            double part = at / (at - next);
            p->x_m[p->count] = whole.x_m[i] + part * (whole.x_m[j] - whole.x_m[i]);
            p->y_m[p->count++] = whole.y_m[i] + part * (whole.y_m[j] - whole.y_m[i]);
        }
    }
}

static double area_m2(const struct polygon *p)
{
    double twice = 0.0;
    for (int i = 0; i < p->count; i++) {
        int j = (i + 1) % p->count;
        twice += p->x_m[i] * p->y_m[j] - p->x_m[j] * p->y_m[i];
    }
    return 0.5 * fabs(twice);
}

static struct polygon top_of(const struct pc_tabletop *table)
{
    static const double sides[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    double out[2], right[2];
    axes(table->facing_rad, out, right);
    struct polygon p = {.count = 4};
    for (int i = 0; i < 4; i++) {
        p.x_m[i] = sides[i][0] * table->long_m * right[0] + sides[i][1] * table->short_m * out[0];
        p.y_m[i] = sides[i][0] * table->long_m * right[1] + sides[i][1] * table->short_m * out[1];
    }
    return p;
}

// Cuts with the shadow of the opening's rim at a depth beyond the inner face, on a plane at height top_m. The
// shadow's sides are where, out along the ray, the rim's sides stand.
static void cut_rim(struct polygon *p, const struct pc_opening *opening, double depth_m, double top_m,
                    const double direction[3])
{
    double out[2], right[2];
    axes(opening->facing_rad, out, right);
    double outwards = direction[0] * out[0] + direction[1] * out[1];
    double sideways = (direction[0] * right[0] + direction[1] * right[1]) / outwards;
    double upwards = direction[2] / outwards, wall_m = opening->away_m + depth_m;
    // A point at (u right, v out) meets the rim's plane at u + (wall - v) sideways, (wall - v) upwards.
    double a = right[0] - sideways * out[0], b = right[1] - sideways * out[1];
    double left_m = opening->aside_m - 0.5 * opening->width_m - wall_m * sideways;
    cut(p, a, b, left_m + opening->width_m);
    cut(p, -a, -b, -left_m);
    double low_m = opening->sill_m - top_m - wall_m * upwards;
    cut(p, -upwards * out[0], -upwards * out[1], low_m + opening->height_m);
    cut(p, upwards * out[0], upwards * out[1], -low_m);
}

static bool same_wall(const struct pc_opening *a, const struct pc_opening *b)
{
    return fabs(remainder(a->facing_rad - b->facing_rad, 2.0 * PC_PI)) < SAME_WALL_RAD &&
           fabs(a->away_m - b->away_m) < SAME_WALL_M;
}

// Cuts away what meets the other wall first.
static void cut_wall(struct polygon *p, const struct pc_opening *mine, const struct pc_opening *other,
                     const double direction[3])
{
    double out[2], right[2], other_out[2];
    axes(other->facing_rad, other_out, right);
    axes(mine->facing_rad, out, right);
    double pace = direction[0] * out[0] + direction[1] * out[1];
    double other_pace = direction[0] * other_out[0] + direction[1] * other_out[1];
    if (same_wall(mine, other) || other_pace <= 0.0)
        return;
    cut(p, other_out[0] / other_pace - out[0] / pace, other_out[1] / other_pace - out[1] / pace,
        other->away_m / other_pace - mine->away_m / pace);
}

double pc_opening_share_ratio(const struct pc_opening_place *place, const double direction[3])
{
    const struct pc_tabletop *table = &place->table;
    double lit_m2 = 0.0;
    if (direction[2] <= 0.0)
        return 0.0;
    for (int i = 0; i < place->opening_count; i++) {
        const struct pc_opening *opening = &place->opening[i];
        if (direction[0] * sin(opening->facing_rad) + direction[1] * cos(opening->facing_rad) <= 0.0)
            continue;
        struct polygon p = top_of(table);
        cut_rim(&p, opening, 0.0, table->top_m, direction);
        if (opening->depth_m > 0.0 && p.count > 0)
            cut_rim(&p, opening, opening->depth_m, table->top_m, direction);
        for (int j = 0; j < place->opening_count && p.count > 0; j++)
            cut_wall(&p, opening, &place->opening[j], direction);
        lit_m2 += area_m2(&p);
    }
    return lit_m2 / (table->long_m * table->short_m);
}

// Whether the ray from the point passes the rim at a depth beyond the inner face.
static bool passes(const struct pc_opening *opening, double depth_m, const double point_m[3],
                   const double direction[3], double *steps)
{
    double out[2], right[2];
    axes(opening->facing_rad, out, right);
    double pace = direction[0] * out[0] + direction[1] * out[1];
    if (pace <= 0.0)
        return false;
    *steps = (opening->away_m + depth_m - point_m[0] * out[0] - point_m[1] * out[1]) / pace;
    double u =
        (point_m[0] + *steps * direction[0]) * right[0] + (point_m[1] + *steps * direction[1]) * right[1];
    double z = point_m[2] + *steps * direction[2];
    return *steps >= 0.0 && fabs(u - opening->aside_m) <= 0.5 * opening->width_m && z >= opening->sill_m &&
           z <= opening->sill_m + opening->height_m;
}

int pc_opening_seen_through(const struct pc_opening_place *place, const double point_m[3],
                            const double direction[3])
{
    int found = -1;
    double found_steps = INFINITY, nearest = INFINITY;
    for (int i = 0; i < place->opening_count; i++) {
        const struct pc_opening *opening = &place->opening[i];
        double steps = INFINITY, outer;
        if (passes(opening, 0.0, point_m, direction, &steps) &&
            (opening->depth_m <= 0.0 || passes(opening, opening->depth_m, point_m, direction, &outer)) &&
            steps < found_steps) {
            found = i;
            found_steps = steps;
        }
        nearest = fmin(nearest, steps);
    }
    return found_steps <= nearest + SAME_WALL_M ? found : -1;
}

static enum pc_status check_opening(const struct pc_opening_place *place, int i, struct pc_err *err)
{
    const struct pc_opening *o = &place->opening[i];
    char name[32];
    snprintf(name, sizeof name, "window %d", i + 1);
    if (!(o->width_m > 0.0 && o->height_m > 0.0 && o->sill_m >= 0.0 && o->depth_m >= 0.0))
        return pc_fail(err, PC_BAD_INPUT, name,
                       "Its width and height must be above zero, its sill and depth not below.");
    if (o->sill_m + o->height_m <= place->table.top_m)
        return pc_fail(err, PC_BAD_INPUT, name,
                       "It ends %.2f m up, below the table's top at %.2f m; check sill and height.",
                       o->sill_m + o->height_m, place->table.top_m);
    struct polygon top = top_of(&place->table);
    for (int k = 0; k < top.count; k++) {
        double reach_m = top.x_m[k] * sin(o->facing_rad) + top.y_m[k] * cos(o->facing_rad);
        if (reach_m > o->away_m)
            return pc_fail(
                err, PC_BAD_INPUT, name,
                "The table reaches %.2f m towards its wall, which is %.2f m from the table's centre; "
                "check the distance and the table's size.",
                reach_m, o->away_m);
    }
    for (int j = 0; j < i; j++) {
        const struct pc_opening *other = &place->opening[j];
        if (same_wall(o, other) && fabs(o->aside_m - other->aside_m) < 0.5 * (o->width_m + other->width_m) &&
            o->sill_m < other->sill_m + other->height_m && other->sill_m < o->sill_m + o->height_m)
            return pc_fail(err, PC_BAD_INPUT, name, "It overlaps window %d in the same wall.", j + 1);
    }
    return PC_OK;
}

enum pc_status pc_opening_check(const struct pc_opening_place *place, struct pc_err *err)
{
    const struct pc_tabletop *table = &place->table;
    if (!(table->long_m > 0.0 && table->short_m > 0.0 && table->top_m >= 0.0))
        return pc_fail(err, PC_BAD_INPUT, "table", "Its edges must be above zero, its height not below.");
    if (fabs(table->hero_right_m) > 0.5 * table->long_m || fabs(table->hero_out_m) > 0.5 * table->short_m)
        return pc_fail(err, PC_BAD_INPUT, "hero",
                       "It does not stand on the table; its place is told from the table's centre.");
    if (place->opening_count < 1)
        return pc_fail(err, PC_BAD_INPUT, "windows", "There is none; sun and daylight come in by windows.");
    for (int i = 0; i < place->opening_count; i++)
        PC_TRY(check_opening(place, i, err));
    for (int i = 0; i < place->skyline_count; i++)
        if (!(place->skyline[i].elevation_rad >= 0.0 && place->skyline[i].elevation_rad < 0.5 * PC_PI))
            return pc_fail(err, PC_BAD_INPUT, "skyline",
                           "Its height is an angle from 0 to less than 90 degrees.");
    return PC_OK;
}
