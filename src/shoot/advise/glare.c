// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/glare_priv.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "shoot/advise/glare_area.h"

struct vec {
    double x, y, z;
};

// The surface as a plane with two directions in it.
struct plane {
    struct vec middle, normal, across, along;
};

// Of the surface. Less is the rounding of sums, or a sliver at the rim a micrometre wide.
#define LEAST_RATIO 1e-9

static double dot(struct vec a, struct vec b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static struct vec step(struct vec from, double by, struct vec way)
{
    return (struct vec){from.x + by * way.x, from.y + by * way.y, from.z + by * way.z};
}

static struct vec minus(struct vec a, struct vec b)
{
    return step(a, -1.0, b);
}

static struct plane plane_of(const struct pc_glare_scene *scene)
{
    double st = sin(scene->tilt_rad), ct = cos(scene->tilt_rad), sf = sin(scene->facing_rad),
           cf = cos(scene->facing_rad);
    return (struct plane){.middle = {0, 0, scene->height_m},
                          .normal = {st * sf, st * cf, ct},
                          .across = {cf, -sf, 0},
                          .along = {-ct * sf, -ct * cf, st}};
}

static struct vec camera_of(const struct pc_glare_scene *scene)
{
    double level_m = scene->distance_m * cos(scene->elevation_rad);
    return (struct vec){-level_m * sin(scene->turn_rad), -level_m * cos(scene->turn_rad),
                        scene->height_m + scene->distance_m * sin(scene->elevation_rad)};
}

// Adds where the ray from the camera's image to at pierces the plane; heights are above the plane.
static void pierce(const struct plane *plane, struct vec image, double image_m, struct vec at, double at_m,
                   struct pc_polygon *shown)
{
    struct vec p = minus(step(image, image_m / (image_m + at_m), minus(at, image)), plane->middle);
    shown->x[shown->count] = dot(p, plane->across);
    shown->y[shown->count++] = dot(p, plane->along);
}

// The source's mirror image as the camera sees it on the plane. What lies under the plane is cut off.
static struct pc_polygon show(const struct plane *plane, struct vec image, double image_m,
                              const struct pc_glare_source *source, struct vec off)
{
    struct pc_polygon shown = {0};
    for (int i = 0; i < source->corners; i++) {
        const struct pc_glare_point *a = &source->corner[i], *b = &source->corner[(i + 1) % source->corners];
        struct vec here = {a->x_m + off.x, a->y_m + off.y, a->z_m + off.z};
        struct vec next = {b->x_m + off.x, b->y_m + off.y, b->z_m + off.z};
        double here_m = dot(minus(here, plane->middle), plane->normal),
               next_m = dot(minus(next, plane->middle), plane->normal);
        if (here_m >= 0)
            pierce(plane, image, image_m, here, here_m, &shown);
        if ((here_m >= 0) != (next_m >= 0))
            pierce(plane, image, image_m, step(here, here_m / (here_m - next_m), minus(next, here)), 0.0,
                   &shown);
    }
    return shown;
}

static double surface_area(const struct pc_glare_scene *scene)
{
    return isnan(scene->radius_m) ? scene->across_m * scene->along_m
                                  : PC_PI * scene->radius_m * scene->radius_m;
}

static double area_on_surface(const struct pc_glare_scene *scene, const struct pc_polygon *polygon)
{
    if (!isnan(scene->radius_m))
        return pc_polygon_area_in_disc(polygon, scene->radius_m);
    double x = scene->across_m / 2, y = scene->along_m / 2;
    struct pc_polygon sheet = {.count = 4, .x = {-x, x, x, -x}, .y = {-y, -y, y, y}}, on;
    pc_polygon_overlap(polygon, &sheet, &on);
    return pc_polygon_area(&on);
}

// Area of what any of the polygons covers: of this one, less what it shares with those after it (inclusion
// and exclusion).
static double area_of_any(const struct pc_glare_scene *scene, const struct pc_polygon *shown, int count)
{
    double area = 0.0;
    for (int i = 0; i < count; i++) {
        if (shown[i].count < 3)
            continue;
        struct pc_polygon shared[PC_GLARE_SOURCES_MAX];
        int with = 0;
        for (int k = i + 1; k < count; k++) {
            pc_polygon_overlap(&shown[k], &shown[i], &shared[with]);
            with += shared[with].count > 0;
        }
        area += area_on_surface(scene, &shown[i]) - (with > 0 ? area_of_any(scene, shared, with) : 0.0);
    }
    return area;
}

static double share_of(double area, double whole)
{
    double share = area / whole;
    return share < LEAST_RATIO ? 0.0 : share > 1 - LEAST_RATIO ? 1.0 : share;
}

static struct pc_glare_scene moved(const struct pc_glare_scene *scene, const double x[])
{
    struct pc_glare_scene at = *scene;
    at.distance_m = x[PC_GLARE_X_DISTANCE];
    at.elevation_rad = x[PC_GLARE_X_ELEVATION];
    at.turn_rad = x[PC_GLARE_X_TURN];
    at.height_m = x[PC_GLARE_X_HEIGHT];
    return at;
}

bool pc_glare_answer(const void *given, const double x[], double y[])
{
    const struct pc_glare_scene *scene = given;
    struct pc_glare_scene at = moved(scene, x);
    struct plane plane = plane_of(&at);
    struct vec camera = camera_of(&at),
               off = {x[PC_GLARE_X_SOURCE_X], x[PC_GLARE_X_SOURCE_Y], x[PC_GLARE_X_SOURCE_Z]};
    double camera_m = dot(minus(camera, plane.middle), plane.normal), whole = surface_area(&at);
    struct vec image = step(camera, -2 * camera_m, plane.normal);
    struct pc_polygon shown[PC_GLARE_SOURCES_MAX];
    if (!(camera_m > 0))
        return false;
    for (int i = 0; i < PC_GLARE_SOURCES_MAX; i++) {
        y[1 + i] = 0.0;
        if (i < scene->sources) {
            shown[i] = show(&plane, image, camera_m, &scene->source[i], off);
            y[1 + i] = share_of(area_on_surface(&at, &shown[i]), whole);
        }
    }
    y[0] = scene->sources == 1 ? y[1] : share_of(area_of_any(&at, shown, scene->sources), whole);
    return true;
}

void pc_glare_gather(const struct pc_glare_scene *scene, double x[], double x_tolerance[])
{
    const double values[PC_GLARE_X_COUNT][2] = {
        [PC_GLARE_X_DISTANCE] = {scene->distance_m, scene->distance_m_tolerance},
        [PC_GLARE_X_ELEVATION] = {scene->elevation_rad, scene->elevation_rad_tolerance},
        [PC_GLARE_X_TURN] = {scene->turn_rad, scene->turn_rad_tolerance},
        [PC_GLARE_X_HEIGHT] = {scene->height_m, scene->height_m_tolerance},
        [PC_GLARE_X_SOURCE_X] = {0, scene->source_m_tolerance},
        [PC_GLARE_X_SOURCE_Y] = {0, scene->source_m_tolerance},
        [PC_GLARE_X_SOURCE_Z] = {0, scene->source_m_tolerance},
    };
    for (int i = 0; i < PC_GLARE_X_COUNT; i++) {
        x[i] = values[i][0];
        x_tolerance[i] = values[i][1];
    }
}

static enum pc_status check(const struct pc_glare_scene *scene, struct pc_err *err)
{
    bool disc = !isnan(scene->radius_m);
    if (!(disc ? scene->radius_m > 0 : scene->across_m > 0 && scene->along_m > 0))
        return pc_fail(err, PC_BAD_INPUT, "surface", "It must be more than nothing across.");
    if (!(scene->distance_m > 0 && isfinite(scene->distance_m)))
        return pc_fail(err, PC_BAD_INPUT, "camera", "It must stand some way off the surface.");
    if (!(scene->elevation_rad >= 0 && scene->elevation_rad <= PC_PI / 2 + 1e-9))
        return pc_fail(err, PC_BAD_INPUT, "angle",
                       "The camera looks down at 0 to 90 degrees; 90 is straight down.");
    if (!(scene->tilt_rad >= 0 && scene->tilt_rad <= PC_PI / 2 + 1e-9))
        return pc_fail(err, PC_BAD_INPUT, "surface", "It leans at 0 to 90 degrees: 0 lies, 90 stands.");
    if (scene->sources < 1 || scene->sources > PC_GLARE_SOURCES_MAX)
        return pc_fail(err, PC_BAD_INPUT, "sources",
                       "There must be at least one window, panel or card and at most %d.",
                       PC_GLARE_SOURCES_MAX);
    for (int i = 0; i < scene->sources; i++)
        if (scene->source[i].corners < 3 || scene->source[i].corners > PC_GLARE_CORNERS_MAX)
            return pc_fail(err, PC_BAD_INPUT, scene->source[i].name, "It has no face to be mirrored.");
    return PC_OK;
}

enum pc_status pc_glare_find(const struct pc_glare_scene *scene, struct pc_glare *glare, struct pc_err *err)
{
    double x[PC_GLARE_X_COUNT], x_tolerance[PC_GLARE_X_COUNT], y[PC_GLARE_Y_COUNT],
        tolerance[PC_GLARE_Y_COUNT];
    PC_TRY(check(scene, err));
    pc_glare_gather(scene, x, x_tolerance);
    if (!pc_tolerance_drawn(pc_glare_answer, scene, PC_GLARE_X_COUNT, x, x_tolerance, 1 + scene->sources, y,
                            tolerance))
        return pc_fail(err, PC_BAD_INPUT, "camera",
                       "It stands behind the surface, or in line with it, and sees nothing on it.");
    struct plane plane = plane_of(scene);
    struct vec to_camera = minus(camera_of(scene), plane.middle);
    *glare = (struct pc_glare){
        .share_ratio = y[0],
        .share_ratio_tolerance = tolerance[0],
        .incidence_rad = acos(fmin(dot(to_camera, plane.normal) / scene->distance_m, 1.0)),
        .clear = !(y[0] > 0),
    };
    memcpy(glare->source_ratio, y + 1, (size_t)scene->sources * sizeof *y);
    memcpy(glare->source_ratio_tolerance, tolerance + 1, (size_t)scene->sources * sizeof *y);
    for (enum pc_glare_way way = 0; way < PC_GLARE_WAYS; way++)
        pc_glare_find_edge(scene, way, &glare->edge[way]);
    return PC_OK;
}

struct pc_glare_source pc_glare_window(const char *name, double at_rad, double from_m, double right_m,
                                       double width_m, double height_m, double sill_m)
{
    struct pc_glare_source source = {.name = name, .corners = 4};
    for (int i = 0; i < 4; i++) {
        double along_m = right_m + (i == 1 || i == 2 ? width_m : -width_m) / 2;
        source.corner[i] = (struct pc_glare_point){from_m * sin(at_rad) + along_m * cos(at_rad),
                                                   from_m * cos(at_rad) - along_m * sin(at_rad),
                                                   sill_m + (i >= 2 ? height_m : 0.0)};
    }
    return source;
}

struct pc_glare_source pc_glare_panel(const char *name, double at_rad, double away_m, double middle_m,
                                      double width_m, double height_m, double hero_m)
{
    struct pc_glare_source source = {.name = name, .corners = 4};
    // Its top leans back from the hero when it stands lower, and over it when higher.
    double lean_rad = atan2(middle_m - hero_m, away_m);
    for (int i = 0; i < 4; i++) {
        double along_m = (i == 1 || i == 2 ? width_m : -width_m) / 2;
        double up_m = (i >= 2 ? height_m : -height_m) / 2;
        double out_m = away_m - up_m * sin(lean_rad);
        source.corner[i] = (struct pc_glare_point){out_m * sin(at_rad) + along_m * cos(at_rad),
                                                   out_m * cos(at_rad) - along_m * sin(at_rad),
                                                   middle_m + up_m * cos(lean_rad)};
    }
    return source;
}
