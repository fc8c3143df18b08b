// SPDX-License-Identifier: Apache-2.0
// The table seen by a pinhole camera: simple shapes hit by rays, and what they are made of.
#include "sim_priv.h"

static struct sim_vec turned(struct sim_vec a, struct sim_vec b, double rad, struct sim_vec *b_out)
{
    *b_out = sim_add(sim_mul(b, cos(rad)), sim_mul(a, -sin(rad)));
    return sim_add(sim_mul(a, cos(rad)), sim_mul(b, sin(rad)));
}

static void aim_camera(struct sim_stage *stage, const struct sim_shot *shot)
{
    const struct sim_camera *camera = &stage->setup->camera;
    double e = camera->elevation_deg * SIM_PI / 180.0, rad = SIM_PI / 180.0;
    stage->eye = sim_vec(shot->move_m[0], -camera->distance_m * cos(e) + shot->move_m[1],
                         camera->distance_m * sin(e) + shot->move_m[2]);
    struct sim_vec forward = sim_unit(sim_mul(stage->eye, -1.0));
    // Twelve o'clock is up in the picture, straight down too: from its place the camera's right is the
    // table's, and it stays so as nearly as can be when the camera is moved.
    struct sim_vec right = sim_vec(1, 0, 0);
    right = sim_unit(sim_sub(right, sim_mul(forward, sim_dot(right, forward))));
    struct sim_vec up = sim_cross(right, forward);
    forward = turned(forward, right, shot->turn_deg[0] * rad, &right);
    forward = turned(forward, up, shot->turn_deg[1] * rad, &up);
    // the camera clockwise: its up leans to its right
    up = turned(up, right, shot->turn_deg[2] * rad, &right);
    stage->forward = forward;
    stage->right = right;
    stage->up = up;
    stage->focal_px = camera->focal_mm / camera->sensor_width_mm * camera->width_px;
    stage->centre_x_px = stage->width_px / 2.0 + shot->shift_px[0];
    stage->centre_y_px = stage->height_px / 2.0 + shot->shift_px[1];
    stage->footprint_m = camera->distance_m / stage->focal_px;
}

struct sim_vec sim_stage_ray(const struct sim_stage *stage, double x_px, double y_px)
{
    double x = (x_px - stage->centre_x_px) / stage->focal_px,
           y = (y_px - stage->centre_y_px) / stage->focal_px;
    return sim_unit(sim_add(stage->forward, sim_sub(sim_mul(stage->right, x), sim_mul(stage->up, y))));
}

bool sim_stage_project(const struct sim_stage *stage, struct sim_vec p, double *x_px, double *y_px)
{
    struct sim_vec d = sim_sub(p, stage->eye);
    double away = sim_dot(d, stage->forward);
    if (away <= 0)
        return false;
    *x_px = stage->centre_x_px + stage->focal_px * sim_dot(d, stage->right) / away;
    *y_px = stage->centre_y_px - stage->focal_px * sim_dot(d, stage->up) / away;
    return *x_px >= 0 && *x_px < stage->width_px && *y_px >= 0 && *y_px < stage->height_px;
}

struct sim_vec sim_flat_point(const struct sim_flat *flat, double u, double v)
{
    double t = flat->turn_deg * SIM_PI / 180.0, x = u * flat->width_m / 2.0, y = v * flat->deep_m / 2.0;
    return sim_vec(flat->x_m + cos(t) * x - sin(t) * y, flat->y_m + sin(t) * x + cos(t) * y, flat->z_m);
}

static void add_blocker(struct sim_stage *stage, struct sim_blocker blocker)
{
    PC_ASSERT(stage->blockers < SIM_BLOCKERS_MAX);
    stage->blocker[stage->blockers++] = blocker;
}

static void place_blockers(struct sim_stage *stage)
{
    const struct sim_table *t = &stage->setup->table;
    bool bowl = t->hero == SIM_HERO_BOWL;
    add_blocker(stage, (struct sim_blocker){.kind = SIM_BLOCK_ELLIPSOID,
                                            .thing = SIM_T_DOME,
                                            .centre = sim_vec(0, 0, stage->dome_z_m),
                                            .radius_m = t->hero_radius_m,
                                            .tall_m = t->hero_tall_m,
                                            .bound_m = fmax(t->hero_radius_m, t->hero_tall_m)});
    add_blocker(stage, (struct sim_blocker){.kind = SIM_BLOCK_DISC,
                                            .thing = SIM_T_PLATE,
                                            .centre = sim_vec(0, 0, t->plate_z_m),
                                            .radius_m = t->plate_radius_m,
                                            .tall_m = bowl ? t->plate_z_m - stage->liquid_z_m : 0,
                                            .hollow_m = bowl ? stage->inner_radius_m : 0,
                                            .bound_m = t->plate_radius_m});
    if (bowl)
        add_blocker(stage, (struct sim_blocker){.kind = SIM_BLOCK_HOLE,
                                                .thing = SIM_T_PLATE,
                                                .centre = sim_vec(0, 0, t->plate_z_m),
                                                .radius_m = stage->inner_radius_m,
                                                .tall_m = t->plate_z_m - stage->liquid_z_m,
                                                .bound_m = stage->inner_radius_m});
    if (t->ball)
        add_blocker(stage, (struct sim_blocker){.kind = SIM_BLOCK_ELLIPSOID,
                                                .thing = SIM_T_BALL,
                                                .centre = sim_vec(t->ball_x_m, t->ball_y_m, t->ball_radius_m),
                                                .radius_m = t->ball_radius_m,
                                                .tall_m = t->ball_radius_m,
                                                .bound_m = t->ball_radius_m});
    for (int i = SIM_T_CARD; i <= SIM_T_NAPKIN; i++) {
        const struct sim_flat *f = &stage->flat[i];
        double turn = f->turn_deg * SIM_PI / 180.0;
        if (f->there && f->z_m > 0.003)
            add_blocker(stage, (struct sim_blocker){.kind = SIM_BLOCK_RECT,
                                                    .thing = i,
                                                    .centre = sim_vec(f->x_m, f->y_m, f->z_m),
                                                    .half_u_m = f->width_m / 2.0,
                                                    .half_v_m = f->deep_m / 2.0,
                                                    .cos_turn = cos(turn),
                                                    .sin_turn = sin(turn),
                                                    .bound_m = hypot(f->width_m, f->deep_m) / 2.0});
    }
}

void sim_stage_init(struct sim_stage *stage, const struct sim_setup *setup, const struct sim_shot *shot)
{
    const struct sim_table *t = &setup->table;
    *stage = (struct sim_stage){.setup = setup};
    sim_upright_size(setup, &stage->width_px, &stage->height_px);
    aim_camera(stage, shot);
    stage->flat[SIM_T_CARD] = t->card;
    stage->flat[SIM_T_HERO_CARD] = t->hero_card;
    stage->flat[SIM_T_SURFACE_CARD] = t->surface_card;
    stage->flat[SIM_T_CHART] = t->chart;
    stage->flat[SIM_T_NAPKIN] = t->napkin;
    stage->flat[SIM_T_HERO_CARD].there = stage->flat[SIM_T_SURFACE_CARD].there = shot->cards;
    if (shot->no_card || shot->cards)
        stage->flat[SIM_T_CARD].there = false;
    if (shot->no_card)
        stage->flat[SIM_T_CHART].there = false;
    struct sim_flat *napkin = &stage->flat[SIM_T_NAPKIN];
    if (shot->napkin_px[0] != 0 || shot->napkin_px[1] != 0) {
        // back onto the table along the ray through where its centre has to be seen
        struct sim_vec d = sim_sub(sim_flat_point(napkin, 0, 0), stage->eye);
        double away = sim_dot(d, stage->forward);
        double x =
            stage->centre_x_px + stage->focal_px * sim_dot(d, stage->right) / away + shot->napkin_px[0];
        double y = stage->centre_y_px - stage->focal_px * sim_dot(d, stage->up) / away + shot->napkin_px[1];
        struct sim_vec ray = sim_stage_ray(stage, x, y);
        double far = (napkin->z_m - stage->eye.z) / ray.z;
        napkin->x_m = stage->eye.x + far * ray.x;
        napkin->y_m = stage->eye.y + far * ray.y;
    }
    stage->inner_radius_m = 0.92 * t->plate_radius_m;
    stage->liquid_z_m = t->plate_z_m * 0.62;
    stage->dome_z_m = t->hero == SIM_HERO_BOWL ? stage->liquid_z_m : t->plate_z_m;
    place_blockers(stage);
}

// ---- rays ----

static bool hit_ellipsoid(struct sim_vec eye, struct sim_vec ray, struct sim_vec centre, double radius,
                          double tall, double lowest_z, double *far, struct sim_hit *hit)
{
    struct sim_vec o = sim_sub(eye, centre);
    struct sim_vec a = sim_vec(ray.x / radius, ray.y / radius, ray.z / tall);
    struct sim_vec b = sim_vec(o.x / radius, o.y / radius, o.z / tall);
    double aa = sim_dot(a, a), ab = sim_dot(a, b), disc = ab * ab - aa * (sim_dot(b, b) - 1.0);
    if (disc <= 0)
        return false;
    double t = (-ab - sqrt(disc)) / aa;
    struct sim_vec p = sim_add(eye, sim_mul(ray, t));
    if (t <= 0 || t >= *far || p.z < lowest_z)
        return false;
    *far = t;
    hit->p = p;
    hit->n = sim_unit(sim_vec((p.x - centre.x) / (radius * radius), (p.y - centre.y) / (radius * radius),
                              (p.z - centre.z) / (tall * tall)));
    return true;
}

// The outside of plate or bowl: a cone from its foot (half as wide) to its rim.
static bool hit_side(const struct sim_stage *stage, struct sim_vec ray, double *far, struct sim_hit *hit)
{
    const struct sim_table *t = &stage->setup->table;
    double foot = 0.5 * t->plate_radius_m, grow = (t->plate_radius_m - foot) / t->plate_z_m;
    struct sim_vec o = stage->eye;
    double w = foot + grow * o.z, g = grow * ray.z;
    double a = ray.x * ray.x + ray.y * ray.y - g * g, b = o.x * ray.x + o.y * ray.y - w * g;
    double c = o.x * o.x + o.y * o.y - w * w, disc = b * b - a * c;
    if (disc <= 0 || fabs(a) < 1e-12)
        return false;
    bool found = false;
    for (int side = -1; side <= 1; side += 2) {
        double s = (-b + side * sqrt(disc)) / a;
        struct sim_vec p = sim_add(o, sim_mul(ray, s));
        if (s > 0 && s < *far && p.z > 0 && p.z < t->plate_z_m) {
            double r = hypot(p.x, p.y);
            struct sim_vec n = sim_unit(sim_vec(p.x / r, p.y / r, -grow));
            if (sim_dot(n, ray) < 0) {
                *far = s;
                hit->p = p;
                hit->n = n;
                found = true;
            }
        }
    }
    return found;
}

// Rim, liquid and inner wall of a bowl, or the face of a plate.
static bool hit_plate(const struct sim_stage *stage, struct sim_vec ray, double *far, struct sim_hit *hit,
                      enum sim_thing *thing)
{
    const struct sim_table *t = &stage->setup->table;
    double s = (t->plate_z_m - stage->eye.z) / ray.z;
    struct sim_vec p = sim_add(stage->eye, sim_mul(ray, s));
    double r = hypot(p.x, p.y);
    if (s <= 0 || r > t->plate_radius_m)
        return false;
    struct sim_vec n = sim_vec(0, 0, 1);
    *thing = SIM_T_PLATE;
    if (t->hero == SIM_HERO_BOWL && r < stage->inner_radius_m) {
        *thing = SIM_T_LIQUID;
        s = (stage->liquid_z_m - stage->eye.z) / ray.z;
        p = sim_add(stage->eye, sim_mul(ray, s));
        if (hypot(p.x, p.y) > stage->inner_radius_m) {
            double a = ray.x * ray.x + ray.y * ray.y, b = stage->eye.x * ray.x + stage->eye.y * ray.y;
            double c = stage->eye.x * stage->eye.x + stage->eye.y * stage->eye.y -
                       stage->inner_radius_m * stage->inner_radius_m;
            s = (-b + sqrt(fmax(0, b * b - a * c))) / a;
            p = sim_add(stage->eye, sim_mul(ray, s));
            n = sim_vec(-p.x / stage->inner_radius_m, -p.y / stage->inner_radius_m, 0);
        }
    }
    if (s >= *far)
        return false;
    *far = s;
    hit->p = p;
    hit->n = n;
    return true;
}

static bool hit_flats(const struct sim_stage *stage, struct sim_vec ray, double *far, struct sim_hit *hit,
                      enum sim_thing *thing, double uv_m[2])
{
    bool found = false;
    for (int i = SIM_T_CARD; i <= SIM_T_NAPKIN; i++) {
        const struct sim_flat *f = &stage->flat[i];
        if (!f->there)
            continue;
        double s = (f->z_m - stage->eye.z) / ray.z;
        double x = stage->eye.x + s * ray.x - f->x_m, y = stage->eye.y + s * ray.y - f->y_m;
        if (s <= 0 || s >= *far || fabs(x) + fabs(y) > f->width_m + f->deep_m)
            continue;
        double turn = f->turn_deg * (SIM_PI / 180.0), ct = cos(turn), st = sin(turn);
        double u = ct * x + st * y, v = -st * x + ct * y;
        if (fabs(u) > f->width_m / 2.0 || fabs(v) > f->deep_m / 2.0)
            continue;
        *far = s;
        hit->p = sim_vec(x + f->x_m, y + f->y_m, f->z_m);
        hit->n = sim_vec(0, 0, 1);
        *thing = i;
        uv_m[0] = u;
        uv_m[1] = v;
        found = true;
    }
    return found;
}

static void make_mirror(const struct sim_setup *setup, struct sim_vec ray, struct sim_hit *hit)
{
    const struct sim_table *t = &setup->table;
    double cosine = fmax(0, -sim_dot(ray, hit->n)), graze = pow(1.0 - cosine, 5.0);
    hit->mirror_ratio = hit->rough_ratio = 0;
    if (hit->thing == SIM_T_LIQUID && hit->n.z > 0.5) {
        // water-like, Schlick, CGF 13(3), 1994
        hit->mirror_ratio = (float)(0.02 + 0.98 * graze);
        hit->rough_ratio = 0.03f;
    } else if (hit->thing == SIM_T_DOME && t->hero_gloss_ratio > 0) {
        hit->mirror_ratio = (float)(t->hero_gloss_ratio * (0.04 + 0.96 * graze) / 0.04);
        hit->rough_ratio = (float)t->hero_rough_ratio;
    }
}

void sim_stage_hit(const struct sim_stage *stage, double x_px, double y_px, struct sim_hit *hit)
{
    const struct sim_setup *setup = stage->setup;
    const struct sim_table *t = &setup->table;
    struct sim_vec ray = sim_stage_ray(stage, x_px, y_px);
    // above the horizon (a camera tilted up) the table top goes on far away
    ray.z = fmin(ray.z, -1e-3);
    double far = -stage->eye.z / ray.z, uv_m[2];
    hit->p = sim_add(stage->eye, sim_mul(ray, far));
    hit->n = sim_vec(0, 0, 1);
    uv_m[0] = hit->p.x;
    uv_m[1] = hit->p.y;
    enum sim_thing thing = SIM_T_TOP, at;
    if (fabs(hit->p.x) < t->board_width_m / 2.0 && fabs(hit->p.y) < t->board_deep_m / 2.0)
        thing = SIM_T_BOARD;
    hit_flats(stage, ray, &far, hit, &thing, uv_m);
    bool round = false;
    if (hit_side(stage, ray, &far, hit)) {
        thing = SIM_T_SIDE;
        round = true;
    }
    if (hit_plate(stage, ray, &far, hit, &at)) {
        thing = at;
        round = true;
    }
    struct sim_vec dome = sim_vec(0, 0, stage->dome_z_m),
                   ball = sim_vec(t->ball_x_m, t->ball_y_m, t->ball_radius_m);
    if (hit_ellipsoid(stage->eye, ray, dome, t->hero_radius_m, t->hero_tall_m, stage->dome_z_m, &far, hit)) {
        thing = SIM_T_DOME;
        round = true;
    }
    if (t->ball && hit_ellipsoid(stage->eye, ray, ball, t->ball_radius_m, t->ball_radius_m, 0, &far, hit)) {
        thing = SIM_T_BALL;
        round = true;
    }
    if (round) {
        uv_m[0] = hit->p.x;
        uv_m[1] = hit->p.y + 0.6 * hit->p.z;
    }
    hit->thing = thing;
    make_mirror(setup, ray, hit);
    sim_texture(setup, stage->footprint_m, hit, uv_m[0], uv_m[1]);
}

double sim_panel_mirrored(const struct sim_panel *panel, struct sim_vec p, struct sim_vec n,
                          struct sim_vec ray, double rough_ratio)
{
    struct sim_vec r = sim_sub(ray, sim_mul(n, 2.0 * sim_dot(ray, n)));
    double towards = -sim_dot(r, panel->normal), away = sim_dot(sim_sub(p, panel->centre), panel->normal);
    if (towards <= 1e-6 || away <= 0)
        return 0;
    double far = away / towards, hu = sim_length(panel->half_u), hv = sim_length(panel->half_v);
    struct sim_vec q = sim_sub(sim_add(p, sim_mul(r, far)), panel->centre);
    double part[2] = {sim_dot(q, panel->half_u) / hu, sim_dot(q, panel->half_v) / hv}, half[2] = {hu, hv},
           seen = 1;
    for (int i = 0; i < 2; i++) {
        // the panel's edge-to-edge box blurred by a logistic bell of that width
        double w = rough_ratio * far;
        seen *= 1.0 / (1.0 + exp(sim_clamp(-1.7 * (half[i] - part[i]) / w, -60, 60))) -
                1.0 / (1.0 + exp(sim_clamp(-1.7 * (-half[i] - part[i]) / w, -60, 60)));
    }
    return seen;
}
