// SPDX-License-Identifier: Apache-2.0
// Where the camera has to go for a surface to come clear.
#include "shoot/advise/glare_priv.h"

#include "base/tolerance.h"
#include "base/units.h"

#define SCAN_STEP_RAD (PC_PI / 720)     // a quarter of a degree
#define LOWEST_RAD    (2 * PC_PI / 180) // lower, the lens lies on the table
#define FOUND_RAD     1e-7

static bool is_round(enum pc_glare_way way)
{
    return way == PC_GLARE_CLOCKWISE || way == PC_GLARE_ANTICLOCKWISE;
}

static double sign_of(enum pc_glare_way way)
{
    return way == PC_GLARE_RAISE || way == PC_GLARE_CLOCKWISE ? 1.0 : -1.0;
}

// 1 shows something, 0 clear, -1 the camera cannot go there.
static int shows(const struct pc_glare_search *search, const double x[], double at_rad)
{
    double moved[PC_GLARE_X_COUNT], y[PC_GLARE_Y_COUNT];
    memcpy(moved, x, sizeof moved);
    moved[is_round(search->way) ? PC_GLARE_X_TURN : PC_GLARE_X_ELEVATION] = at_rad;
    if (!is_round(search->way) && !(at_rad >= LOWEST_RAD && at_rad <= PC_PI / 2))
        return -1;
    if (!pc_glare_answer(search->scene, moved, y))
        return -1;
    double any = 0.0;
    for (int i = 0; i < search->scene->sources; i++)
        any = fmax(any, y[1 + i]);
    return any > 0;
}

// Between two angles of which one is clear.
static double bisect(const struct pc_glare_search *search, const double x[], double a_rad, double b_rad)
{
    int at_a = shows(search, x, a_rad);
    while (fabs(b_rad - a_rad) > FOUND_RAD) {
        double middle_rad = (a_rad + b_rad) / 2;
        if (shows(search, x, middle_rad) == at_a)
            a_rad = middle_rad;
        else
            b_rad = middle_rad;
    }
    return (a_rad + b_rad) / 2;
}

// Walks outwards from from_rad to both sides in turn until clear and unclear meet. Used near a known edge,
// whose place moves little with the inputs.
bool pc_glare_edge_answer(const void *given, const double x[], double y[])
{
    const struct pc_glare_search *search = given;
    double from_rad = search->from_rad;
    int here = shows(search, x, from_rad);
    for (int i = 1; i < 180; i++)
        for (int side = -1; side <= 1; side += 2) {
            double next_rad = from_rad + side * i * SCAN_STEP_RAD;
            int there = shows(search, x, next_rad);
            if (there >= 0 && here >= 0 && there != here) {
                y[0] = bisect(search, x, next_rad - side * SCAN_STEP_RAD, next_rad);
                return true;
            }
        }
    return false;
}

void pc_glare_find_edge(const struct pc_glare_scene *scene, enum pc_glare_way way, struct pc_glare_edge *edge)
{
    double x[PC_GLARE_X_COUNT], x_tolerance[PC_GLARE_X_COUNT];
    pc_glare_gather(scene, x, x_tolerance);
    double from_rad = is_round(way) ? scene->turn_rad : scene->elevation_rad,
           reach_rad = is_round(way) ? PC_PI : PC_PI / 2;
    struct pc_glare_search search = {.scene = scene, .way = way, .from_rad = from_rad};
    int here = shows(&search, x, from_rad);
    *edge = (struct pc_glare_edge){.to_rad = NAN, .to_rad_tolerance = NAN, .by_m = NAN};
    for (double gone_rad = SCAN_STEP_RAD; gone_rad < reach_rad + SCAN_STEP_RAD; gone_rad += SCAN_STEP_RAD) {
        double at_rad = from_rad + sign_of(way) * gone_rad;
        int there = shows(&search, x, at_rad);
        if (there < 0)
            return;
        if (there == here)
            continue;
        double angle_rad = bisect(&search, x, at_rad - sign_of(way) * SCAN_STEP_RAD, at_rad), y, tolerance;
        search.from_rad = angle_rad;
        if (pc_tolerance(pc_glare_edge_answer, &search, PC_GLARE_X_COUNT, x, x_tolerance, 1, &y,
                         &tolerance)) {
            edge->found = true;
            edge->to_rad = angle_rad;
            edge->to_rad_tolerance = tolerance;
            edge->by_m = is_round(way)
                             ? scene->distance_m * cos(scene->elevation_rad) * fabs(angle_rad - from_rad)
                             : scene->distance_m * (sin(angle_rad) - sin(from_rad));
        }
        return;
    }
}
