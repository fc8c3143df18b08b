// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/glare_priv.h"

#include "base/units.h"
#include "shoot/advise/glare_area.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

// A bowl of broth 24 cm wide, its liquid at 0.80 m; a window 1.80 x 1.30 m, sill 0.85, straight behind
// it, 1.25 m off; the camera 0.9 m from the broth.
static struct pc_glare_scene bowl(double elevation_deg)
{
    struct pc_glare_scene scene = {
        .radius_m = 0.12,
        .height_m = 0.80,
        .distance_m = 0.9,
        .elevation_rad = pc_rad_from_deg(elevation_deg),
        .sources = 1,
        .distance_m_tolerance = PC_GLARE_TOLERANCE_M,
        .height_m_tolerance = 0.01,
        .source_m_tolerance = PC_GLARE_TOLERANCE_M,
        .elevation_rad_tolerance = PC_GLARE_ANGLE_TOLERANCE_RAD,
        .turn_rad_tolerance = 2 * PC_GLARE_ANGLE_TOLERANCE_RAD,
    };
    scene.source[0] = pc_glare_window("W1", 0, 1.25, 0, 1.80, 1.30, 0.85);
    return scene;
}

static struct pc_glare find(const struct pc_glare_scene *scene)
{
    struct pc_glare glare;
    struct pc_err err = {0};
    if (pc_glare_find(scene, &glare, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return glare;
}

// Does a ray meet a source? By the signed volumes of the tetrahedra over its sides: no projection, no
// clipping.
static bool meets(const double from[3], const double way[3], const struct pc_glare_source *source)
{
    int left = 0, right = 0;
    for (int i = 0; i < source->corners; i++) {
        const struct pc_glare_point *a = &source->corner[i], *b = &source->corner[(i + 1) % source->corners];
        double p[3] = {a->x_m - from[0], a->y_m - from[1], a->z_m - from[2]};
        double q[3] = {b->x_m - from[0], b->y_m - from[1], b->z_m - from[2]};
        double volume = way[0] * (p[1] * q[2] - p[2] * q[1]) + way[1] * (p[2] * q[0] - p[0] * q[2]) +
                        way[2] * (p[0] * q[1] - p[1] * q[0]);
        left += volume > 0;
        right += volume < 0;
    }
    // All on one side: the line meets it; ahead, not behind.
    double ahead = 0;
    for (int i = 0; i < source->corners; i++)
        ahead += (source->corner[i].x_m - from[0]) * way[0] + (source->corner[i].y_m - from[1]) * way[1] +
                 (source->corner[i].z_m - from[2]) * way[2];
    return (left == 0 || right == 0) && ahead > 0;
}

// Shares by sending a ray from the camera to each of side x side places on the surface and on, mirrored.
static void sample(const struct pc_glare_scene *s, int side, double share[1 + PC_GLARE_SOURCES_MAX])
{
    double st = sin(s->tilt_rad), ct = cos(s->tilt_rad), sf = sin(s->facing_rad), cf = cos(s->facing_rad);
    double n[3] = {st * sf, st * cf, ct}, u[3] = {cf, -sf, 0}, v[3] = {-ct * sf, -ct * cf, st};
    double level = s->distance_m * cos(s->elevation_rad);
    double eye[3] = {-level * sin(s->turn_rad), -level * cos(s->turn_rad),
                     s->height_m + s->distance_m * sin(s->elevation_rad)};
    bool disc = !isnan(s->radius_m);
    double half_u = disc ? s->radius_m : s->across_m / 2, half_v = disc ? s->radius_m : s->along_m / 2;
    long whole = 0, count[1 + PC_GLARE_SOURCES_MAX] = {0};
    for (int i = 0; i < side; i++)
        for (int j = 0; j < side; j++) {
            double a = half_u * ((2 * i + 1.0) / side - 1), b = half_v * ((2 * j + 1.0) / side - 1);
            if (disc && a * a + b * b > s->radius_m * s->radius_m)
                continue;
            double p[3], way[3], towards = 0;
            for (int k = 0; k < 3; k++) {
                p[k] = a * u[k] + b * v[k] + (k == 2 ? s->height_m : 0);
                way[k] = p[k] - eye[k];
                towards += way[k] * n[k];
            }
            for (int k = 0; k < 3; k++)
                way[k] -= 2 * towards * n[k];
            bool any = false;
            whole++;
            for (int k = 0; k < s->sources; k++) {
                bool hit = meets(p, way, &s->source[k]);
                count[1 + k] += hit;
                any |= hit;
            }
            count[0] += any;
        }
    for (int k = 0; k <= s->sources; k++)
        share[k] = (double)count[k] / (double)whole;
}

static void against_rays(const struct pc_glare_scene *scene, const char *what)
{
    double sampled[1 + PC_GLARE_SOURCES_MAX] = {0};
    struct pc_glare glare = find(scene);
    // Of 300 x 300 places those along the outlines may be counted to the wrong side.
    sample(scene, 300, sampled);
    near(glare.share_ratio, sampled[0], 0.003, what);
    for (int i = 0; i < scene->sources; i++)
        near(glare.source_ratio[i], sampled[1 + i], 0.003, what);
}

static void shares_are_those_of_rays(void **state)
{
    (void)state;
    for (double deg = 5; deg < 90; deg += 12) {
        struct pc_glare_scene scene = bowl(deg);
        against_rays(&scene, "window ahead");
        scene.source[0] = pc_glare_window("W2", pc_rad_from_deg(70), 1.4, -0.3, 0.9, 1.1, 1.0);
        scene.turn_rad = pc_rad_from_deg(250);
        against_rays(&scene, "camera turned");
    }
    // Panels before a window: what both cover counts once. A panel that reaches below the liquid is cut.
    struct pc_glare_scene scene = bowl(40);
    scene.sources = 4;
    scene.source[1] = pc_glare_panel("P1", 0, 0.7, 1.3, 0.3, 0.3, 0.8);
    scene.source[2] = pc_glare_panel("P2", pc_rad_from_deg(-20), 0.5, 1.2, 0.6, 0.4, 0.8);
    scene.source[3] = pc_glare_panel("card", pc_rad_from_deg(10), 0.3, 0.8, 0.6, 0.42, 0.8);
    against_rays(&scene, "window, panels, card");
    assert_true(find(&scene).source_ratio[1] > 0.05 && find(&scene).source_ratio[3] > 0.02);
    // A pane that stands, turned a little; a tray that leans.
    scene.radius_m = NAN;
    scene.across_m = 0.30;
    scene.along_m = 0.40;
    scene.tilt_rad = PC_PI / 2;
    scene.facing_rad = pc_rad_from_deg(160);
    scene.elevation_rad = pc_rad_from_deg(10);
    scene.source[1] = pc_glare_panel("P1", pc_rad_from_deg(140), 1.2, 0.6, 0.6, 0.6, 0.8);
    against_rays(&scene, "pane");
    assert_true(find(&scene).share_ratio > 0.1);
    scene.tilt_rad = pc_rad_from_deg(20);
    against_rays(&scene, "tray");
}

// Computed independently by 90 000 mirrored rays: 100 % at 30 degrees, 67 % at 45; and clear from where the
// ray over the far rim meets the window's top: (0.9 sin e) / (0.9 cos e + 0.12) = 1.35 / 1.13, 55.9 degrees.
static void broth_before_a_window(void **state)
{
    (void)state;
    struct pc_glare_scene scene = bowl(30);
    struct pc_glare glare = find(&scene);
    near(glare.share_ratio, 1, 1e-12, "30 degrees");
    near(glare.incidence_rad, pc_rad_from_deg(60), 1e-12, "incidence");
    const struct pc_glare_edge *raise = &glare.edge[PC_GLARE_RAISE];
    assert_true(raise->found);
    double e = raise->to_rad;
    near(0.9 * sin(e) / (0.9 * cos(e) + 0.12), 1.35 / 1.13, 1e-5, "the far rim's ray at the window's top");
    near(pc_deg_from_rad(e), 55.94, 0.01, "clear from");
    near(raise->by_m, 0.9 * (sin(e) - 0.5), 1e-9, "higher by");
    // Lower, that sill would have the lens on the table; the near rim's ray meets a higher one, 25 cm over
    // the liquid.
    assert_false(glare.edge[PC_GLARE_LOWER].found);
    scene.source[0] = pc_glare_window("W1", 0, 1.25, 0, 1.80, 1.10, 1.05);
    const struct pc_glare_edge lower = find(&scene).edge[PC_GLARE_LOWER];
    assert_true(lower.found);
    near(0.9 * sin(lower.to_rad) / (0.9 * cos(lower.to_rad) - 0.12), 0.25 / 1.37, 1e-5,
         "the near rim's ray at the sill");
    near(lower.by_m, 0.9 * (sin(lower.to_rad) - 0.5), 1e-9, "lower by");
    scene = bowl(30);
    // A window on the axis lets go of both sides alike.
    assert_true(glare.edge[PC_GLARE_CLOCKWISE].found && glare.edge[PC_GLARE_ANTICLOCKWISE].found);
    near(glare.edge[PC_GLARE_CLOCKWISE].to_rad, -glare.edge[PC_GLARE_ANTICLOCKWISE].to_rad, 1e-5,
         "both sides");
    scene.turn_rad = glare.edge[PC_GLARE_CLOCKWISE].to_rad + 1e-4;
    assert_true(find(&scene).clear);
    scene.turn_rad -= 2e-4;
    assert_false(find(&scene).clear);

    scene = bowl(45);
    near(find(&scene).share_ratio, 0.6677, 0.001, "45 degrees");
    scene = bowl(58);
    glare = find(&scene);
    assert_true(glare.clear);
    assert_true(glare.edge[PC_GLARE_LOWER].found &&
                !glare.edge[PC_GLARE_RAISE].found); // where it begins again
    near(pc_deg_from_rad(glare.edge[PC_GLARE_LOWER].to_rad), 55.94, 0.01, "glare from");
    assert_true(isnan(glare.edge[PC_GLARE_RAISE].to_rad));
    // Turned to nine o'clock, the same window leaves the broth clear.
    scene = bowl(30);
    scene.source[0] = pc_glare_window("W1", pc_rad_from_deg(-90), 1.25, 0, 1.80, 1.30, 0.85);
    assert_true(find(&scene).clear);
    // Parallel rays, from very far: 96 % at 45, none from 50.
    scene = bowl(45);
    scene.distance_m = 1e5;
    near(find(&scene).share_ratio, 0.960, 0.002, "parallel, 45 degrees");
    scene = bowl(50.05);
    scene.distance_m = 1e5;
    near(find(&scene).share_ratio, 0, 0.002, "parallel, 50 degrees");
}

static double apart(const struct pc_glare_point *a, const struct pc_glare_point *b)
{
    return sqrt(pow(a->x_m - b->x_m, 2) + pow(a->y_m - b->y_m, 2) + pow(a->z_m - b->z_m, 2));
}

static void panels_and_windows_stand_where_they_are_told(void **state)
{
    (void)state;
    // Ten o'clock, 95 cm off, 60 cm over the hero at 0.8 m: to the left and beyond.
    struct pc_glare_source panel = pc_glare_panel("P1", pc_rad_from_deg(300), 0.95, 1.40, 0.6, 0.3, 0.8);
    struct pc_glare_point middle = {0}, hero = {0, 0, 0.8};
    for (int i = 0; i < 4; i++) {
        middle.x_m += panel.corner[i].x_m / 4;
        middle.y_m += panel.corner[i].y_m / 4;
        middle.z_m += panel.corner[i].z_m / 4;
    }
    near(middle.x_m, -0.95 * sin(PC_PI / 3), 1e-12, "to the left");
    near(middle.y_m, 0.95 * cos(PC_PI / 3), 1e-12, "beyond");
    near(middle.z_m, 1.40, 1e-12, "up");
    near(apart(&panel.corner[0], &panel.corner[1]), 0.6, 1e-12, "width");
    near(apart(&panel.corner[1], &panel.corner[2]), 0.3, 1e-12, "height");
    near(panel.corner[0].z_m, panel.corner[1].z_m, 1e-12, "level");
    // It faces the hero: all four corners are as far from it, and the upper edge leans over.
    for (int i = 1; i < 4; i++)
        near(apart(&panel.corner[i], &hero), apart(&panel.corner[0], &hero), 1e-12, "square to the hero");
    assert_true(hypot(panel.corner[2].x_m, panel.corner[2].y_m) <
                hypot(panel.corner[1].x_m, panel.corner[1].y_m));

    // A window in the wall at the right hand, 3.10 m off, 0.75 m to the right looking out: towards the
    // camera's side.
    struct pc_glare_source window = pc_glare_window("W2", PC_PI / 2, 3.10, 0.75, 0.90, 1.10, 1.00);
    for (int i = 0; i < 4; i++)
        near(window.corner[i].x_m, 3.10, 1e-12, "its wall");
    near((window.corner[0].y_m + window.corner[1].y_m) / 2, -0.75, 1e-12, "its middle");
    near(fabs(window.corner[0].y_m - window.corner[1].y_m), 0.90, 1e-12, "its width");
    near(window.corner[0].z_m, 1.00, 1e-12, "its sill");
    near(window.corner[2].z_m, 2.10, 1e-12, "its head");
}

static void areas_are_exact(void **state)
{
    (void)state;
    struct pc_polygon square = {4, {-2, 2, 2, -2}, {-2, -2, 2, 2}}, on;
    near(pc_polygon_area_in_disc(&square, 1), PC_PI, 1e-12, "disc inside");
    near(pc_polygon_area_in_disc(&square, 5), 16, 1e-12, "square inside");
    // Segment of a circle beyond a chord at half the radius: r^2 (acos 1/2 - 1/2 sqrt(3/4)).
    struct pc_polygon beyond = {4, {0.5, 3, 3, 0.5}, {-3, -3, 3, 3}};
    near(pc_polygon_area_in_disc(&beyond, 1), acos(0.5) - 0.5 * sqrt(0.75), 1e-12, "segment");
    struct pc_polygon quarter = {3, {0, 9, 0}, {0, 0, 9}};
    near(pc_polygon_area_in_disc(&quarter, 1), PC_PI / 4, 1e-12, "a corner in the middle");
    struct pc_polygon away = {3, {4, 9, 4}, {4, 4, 9}};
    near(pc_polygon_area_in_disc(&away, 1), 0, 1e-12, "away");
    // Square of half side s with its corners out and its sides in: pi - 4 segments.
    struct pc_polygon bites = {4, {-0.8, -0.8, 0.8, 0.8}, {-0.8, 0.8, 0.8, -0.8}};
    near(pc_polygon_area_in_disc(&bites, 1), PC_PI - 4 * (acos(0.8) - 0.8 * 0.6), 1e-12, "four segments off");
    pc_polygon_overlap(&square, &beyond, &on);
    near(pc_polygon_area(&on), 1.5 * 4, 1e-12, "overlap");
    pc_polygon_overlap(&square, &away, &on);
    assert_int_equal(on.count, 0);
    pc_polygon_overlap(&quarter, &bites, &on);
    near(pc_polygon_area(&on), 0.64, 1e-12, "whichever way round");
}

static void tolerances_hold(void **state)
{
    (void)state;
    const double elevation_deg[] = {30, 38, 45, 54, 56, 57.5, 70};
    for (size_t i = 0; i < PC_COUNT(elevation_deg); i++) {
        struct pc_glare_scene scene = bowl(elevation_deg[i]);
        struct pc_glare glare = find(&scene);
        double x[PC_GLARE_X_COUNT], x_tolerance[PC_GLARE_X_COUNT];
        pc_glare_gather(&scene, x, x_tolerance);
        double stated[2] = {glare.share_ratio_tolerance, glare.source_ratio_tolerance[0]};
        mc_judge("share", pc_glare_answer, &scene, PC_GLARE_X_COUNT, x, x_tolerance, 2, stated);
    }
    struct pc_glare_scene scene = bowl(30);
    scene.source[0] = pc_glare_window("W1", 0, 1.25, 0, 1.80, 1.10, 1.05);
    struct pc_glare glare = find(&scene);
    for (enum pc_glare_way way = 0; way < PC_GLARE_WAYS; way++) {
        double x[PC_GLARE_X_COUNT], x_tolerance[PC_GLARE_X_COUNT];
        struct pc_glare_search search = {&scene, way, glare.edge[way].to_rad};
        pc_glare_gather(&scene, x, x_tolerance);
        mc_judge("edge", pc_glare_edge_answer, &search, PC_GLARE_X_COUNT, x, x_tolerance, 1,
                 &glare.edge[way].to_rad_tolerance);
    }
    near(pc_deg_from_rad(glare.edge[PC_GLARE_RAISE].to_rad_tolerance), 1.0, 0.5, "good to a degree or so");
}

static void nonsense_is_refused(void **state)
{
    (void)state;
    struct pc_glare glare;
    struct pc_glare_scene scene = bowl(30);
    scene.sources = 0;
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(0); // in line with the liquid
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(91);
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(30);
    scene.distance_m = 0;
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(30);
    scene.radius_m = -1;
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(30);
    scene.tilt_rad = PC_PI / 2; // its face looks to twelve o'clock, away from the camera
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene.tilt_rad = 2;
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
    scene = bowl(30);
    scene.source[0].corners = 2;
    assert_int_equal(pc_glare_find(&scene, &glare, NULL), PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(areas_are_exact),
        cmocka_unit_test(panels_and_windows_stand_where_they_are_told),
        cmocka_unit_test(shares_are_those_of_rays),
        cmocka_unit_test(broth_before_a_window),
        cmocka_unit_test(tolerances_hold),
        cmocka_unit_test(nonsense_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
