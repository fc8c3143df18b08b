// SPDX-License-Identifier: Apache-2.0
// What is true of a shot: places, light by light, and the file that tells it.
#include "base/file.h"
#include "base/json.h"
#include "sim_priv.h"

// ---- places ----

static const struct sim_flat *place_flat(const struct sim_stage *stage, enum sim_place place)
{
    switch (place) {
    case SIM_PLACE_CARD:
        return &stage->flat[SIM_T_CARD];
    case SIM_PLACE_HERO_CARD:
        return &stage->flat[SIM_T_HERO_CARD];
    case SIM_PLACE_SURFACE_CARD:
        return &stage->flat[SIM_T_SURFACE_CARD];
    case SIM_PLACE_NAPKIN:
        return &stage->flat[SIM_T_NAPKIN];
    default:
        return NULL;
    }
}

// The point of the dome, near its top, that mirrors the least of the lamps towards the camera's own place.
static struct sim_vec hero_point(const struct sim_scene *scene, const struct sim_stage *stage)
{
    const struct sim_table *t = &scene->setup.table;
    struct sim_vec best = sim_vec(0, 0, stage->dome_z_m + t->hero_tall_m);
    double least = INFINITY;
    for (int ring = 0; ring <= 4; ring++)
        for (int way = 0; way < (ring ? 8 : 1); way++) {
            double a = way * SIM_PI / 4, r = 0.1 * ring;
            struct sim_vec p = sim_vec(r * sin(a) * t->hero_radius_m, r * cos(a) * t->hero_radius_m,
                                       stage->dome_z_m + sqrt(1 - r * r) * t->hero_tall_m);
            double w2 = t->hero_radius_m * t->hero_radius_m, t2 = t->hero_tall_m * t->hero_tall_m;
            struct sim_vec n = sim_unit(sim_vec(p.x / w2, p.y / w2, (p.z - stage->dome_z_m) / t2));
            struct sim_vec ray = sim_unit(sim_sub(p, stage->eye));
            double shine = 0.05 * ring;
            if (sim_dot(ray, n) > -0.2)
                continue;
            for (int l = 0; l <= scene->setup.light_count && t->hero_gloss_ratio > 0; l++)
                shine += sim_panel_mirrored(&scene->panel[l], p, n, ray, t->hero_rough_ratio);
            if (shine < least) {
                least = shine;
                best = p;
            }
        }
    return best;
}

bool sim_place_px(struct sim_scene *scene, const struct sim_shot *shot, enum sim_place place, double *x_px,
                  double *y_px)
{
    const struct sim_table *t = &scene->setup.table;
    struct sim_stage stage;
    sim_stage_init(&stage, &scene->setup, shot);
    const struct sim_flat *flat = place_flat(&stage, place);
    struct sim_vec p;
    if (flat) {
        if (!flat->there)
            return false;
        p = sim_flat_point(flat, 0, 0);
    } else if (place == SIM_PLACE_SURFACE) {
        p = sim_vec(t->surface_x_m, t->surface_y_m, 0);
    } else if (place == SIM_PLACE_PLATE) {
        p = sim_vec(0.95 * t->plate_radius_m, 0, t->plate_z_m);
    } else {
        // the same point of the dome in every frame of a series from one place
        struct sim_stage still;
        struct sim_shot at_rest = *shot;
        memset(at_rest.turn_deg, 0, sizeof(at_rest.turn_deg));
        memset(at_rest.move_m, 0, sizeof(at_rest.move_m));
        sim_stage_init(&still, &scene->setup, &at_rest);
        p = hero_point(scene, &still);
    }
    return sim_stage_project(&stage, p, x_px, y_px);
}

bool sim_card_px(struct sim_scene *scene, const struct sim_shot *shot, enum sim_place card,
                 double corner_px[4][2])
{
    struct sim_stage stage;
    sim_stage_init(&stage, &scene->setup, shot);
    const struct sim_flat *flat = place_flat(&stage, card);
    bool seen = flat && flat->there;
    for (int i = 0; i < 4 && seen; i++) {
        double u = i == 1 || i == 2 ? 1 : -1, v = i < 2 ? 1 : -1;
        seen = sim_stage_project(&stage, sim_flat_point(flat, u, v), &corner_px[i][0], &corner_px[i][1]);
    }
    return seen;
}

bool sim_patch_px(struct sim_scene *scene, const struct sim_shot *shot, int patch, double *x_px, double *y_px,
                  double *radius_px)
{
    struct sim_stage stage;
    sim_stage_init(&stage, &scene->setup, shot);
    const struct sim_flat *chart = &stage.flat[SIM_T_CHART];
    double u = (patch % 6 + 0.5) / 3.0 - 1.0, v = 1.0 - (patch / 6 + 0.5) / 2.0, least = INFINITY;
    if (!chart->there || !sim_stage_project(&stage, sim_flat_point(chart, u, v), x_px, y_px))
        return false;
    for (int i = 0; i < 8; i++) {
        double a = i * SIM_PI / 4, x, y;
        // the edge of the patch that way: 0.42 of a sixth, of a quarter, less a tenth
        double across = fmax(fabs(cos(a)), fabs(sin(a)));
        struct sim_vec p =
            sim_flat_point(chart, u + 0.38 / 3.0 * cos(a) / across, v + 0.38 / 2.0 * sin(a) / across);
        if (!sim_stage_project(&stage, p, &x, &y))
            return false;
        least = fmin(least, hypot(x - *x_px, y - *y_px));
    }
    // corners are further than the middles of the sides: those decide; foreshortening leaves them nearest
    *radius_px = 0.9 * least;
    return true;
}

// How much of a lamp is seen on board or plate at distance r from the middle, away from the lamp; 1 where the
// camera sees something else there.
static double seen_behind(const struct sim_scene *scene, const struct sim_stage *stage, int light, double r,
                          double *x_px, double *y_px)
{
    const struct sim_panel *panel = &scene->panel[light];
    const struct sim_table *t = &scene->setup.table;
    double away = hypot(panel->centre.x, panel->centre.y);
    struct sim_hit hit;
    struct sim_vec p = sim_vec(-panel->centre.x / away * r, -panel->centre.y / away * r,
                               r < t->plate_radius_m ? t->plate_z_m : 0);
    if (!sim_stage_project(stage, p, x_px, y_px))
        return 1;
    sim_stage_hit(stage, *x_px, *y_px, &hit);
    if (sim_length(sim_sub(hit.p, p)) > 1e-6 || (hit.thing != SIM_T_BOARD && hit.thing != SIM_T_PLATE))
        return 1;
    return sim_panel_visible(panel, stage->blocker, stage->blockers, hit.thing, hit.p, hit.n, 48, 0.5);
}

bool sim_shadow_px(struct sim_scene *scene, const struct sim_shot *shot, int light, double *x_px,
                   double *y_px, double *visible_ratio)
{
    enum { STEPS = 160 };
    double seen[STEPS], step = 3 * scene->setup.table.plate_radius_m / STEPS;
    int least = 0;
    struct sim_stage stage;
    sim_stage_init(&stage, &scene->setup, shot);
    if (hypot(scene->panel[light].centre.x, scene->panel[light].centre.y) < 1e-3)
        return false;
    for (int i = 0; i < STEPS; i++) {
        seen[i] = seen_behind(scene, &stage, light, (i + 1) * step, x_px, y_px);
        if (seen[i] < seen[least])
            least = i;
    }
    // the middle of the dark stretch, not the edge of what throws it
    int from = least, to = least;
    while (to + 1 < STEPS && seen[to + 1] < seen[least] + 0.02)
        to++;
    *visible_ratio = seen_behind(scene, &stage, light, ((from + to) / 2 + 1) * step, x_px, y_px);
    return *visible_ratio < 0.95;
}

// ---- light at a pixel ----

// What is the same all over a frame.
struct levels {
    const struct sim_view *view;
    double level[SIM_EMITTERS_MAX], signal[SIM_EMITTERS_MAX], per_s[SIM_EMITTERS_MAX];
    double flare[3];
    double reflect_ratio[SIM_MATERIALS];
};

static double flat_Y(const struct sim_bands *reflect)
{
    struct sim_bands even = sim_reflect_flat(1.0);
    double xyz[3];
    sim_xyz_from_bands(&even, reflect, xyz);
    return xyz[1];
}

static enum pc_status levels_init(struct sim_scene *scene, const struct sim_shot *shot, struct levels *levels,
                                  struct pc_err *err)
{
    const struct sim_setup *s = &scene->setup;
    memset(levels, 0, sizeof(*levels));
    levels->view = sim_scene_view(scene, shot);
    if (!levels->view)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    for (int e = 0; e <= 2 * s->light_count; e++) {
        int l = sim_light_of_emitter(s, e);
        bool flash = l < s->light_count && s->light[l].flash;
        levels->level[e] = sim_emitter_level(s, shot, e);
        levels->signal[e] = sim_signal_per_level(s, shot, flash);
        levels->per_s[e] = flash ? 1.0 / sim_shutter_s(shot) : 1.0;
        for (int m = 0; m < SIM_MATERIALS && levels->level[e] > 0; m++)
            for (int c = 0; c < 3; c++)
                levels->flare[c] += s->camera.flare_ratio * levels->signal[e] * levels->level[e] *
                                    scene->camera_colour[e][m][c] * levels->view->mean[l][m];
    }
    for (int m = 0; m < SIM_MATERIALS; m++)
        levels->reflect_ratio[m] = flat_Y(&scene->material[m]);
    return PC_OK;
}

static double blended(const float *field, const struct sim_blend *blend)
{
    double v = 0;
    for (int i = 0; i < 4; i++)
        v += (double)field[blend->at[i]] * (double)blend->weight[i];
    return v;
}

static void add_emitter(const struct sim_scene *scene, const struct levels *levels, const struct sim_hit *hit,
                        const struct sim_blend *blend, int emitter, struct sim_truth *truth)
{
    int l = sim_light_of_emitter(&scene->setup, emitter);
    double level = levels->level[emitter], per_s = levels->per_s[emitter], mix = (double)hit->mix;
    double lx = level * blended(levels->view->lx[l], blend),
           mirror = level * blended(levels->view->mirror[l], blend);
    const double(*xyz)[3] = scene->xyz_colour[emitter], (*camera)[3] = scene->camera_colour[emitter];
    for (int c = 0; c < 3; c++) {
        double v = lx * (xyz[hit->a][c] * (1 - mix) + xyz[hit->b][c] * mix) + mirror * xyz[SIM_M_MIRROR][c];
        truth->emitter_xyz[emitter][c] = v * per_s;
        truth->xyz[c] += v * per_s;
        truth->camera_rgb[c] +=
            levels->signal[emitter] * (lx * (camera[hit->a][c] * (1 - mix) + camera[hit->b][c] * mix) +
                                       mirror * camera[SIM_M_MIRROR][c]);
    }
    truth->emitter_lx[emitter] = lx * per_s;
    truth->lx += lx * per_s;
}

static void truth_at(const struct sim_scene *scene, const struct levels *levels, double x_px, double y_px,
                     struct sim_truth *truth)
{
    const struct sim_setup *s = &scene->setup;
    const struct sim_view *view = levels->view;
    struct sim_hit hit;
    struct sim_blend blend;
    memset(truth, 0, sizeof(*truth));
    sim_stage_hit(&view->stage, x_px, y_px, &hit);
    sim_view_blend(view, hit.thing, x_px, y_px, &blend);
    for (int l = 0; l <= s->light_count; l++) {
        bool facing = sim_panel_lx(&scene->panel[l], hit.p, hit.n) > 0;
        double seen = !facing ? 0
                              : sim_panel_visible(&scene->panel[l], view->stage.blocker, view->stage.blockers,
                                                  hit.thing, hit.p, hit.n, 48, 0.5);
        for (int e = 2 * l; e <= 2 * l + (l < s->light_count); e++) {
            truth->visible_ratio[e] = seen;
            if (levels->level[e] > 0)
                add_emitter(scene, levels, &hit, &blend, e, truth);
        }
    }
    double vignette = sim_vignette(view, x_px, y_px), mix = (double)hit.mix;
    for (int c = 0; c < 3; c++)
        truth->camera_rgb[c] = truth->camera_rgb[c] * vignette + levels->flare[c];
    truth->reflect_ratio = levels->reflect_ratio[hit.a] * (1 - mix) + levels->reflect_ratio[hit.b] * mix;
}

enum pc_status sim_truth_at(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px,
                            struct sim_truth *truth, struct pc_err *err)
{
    struct levels levels;
    PC_TRY(levels_init(scene, shot, &levels, err));
    truth_at(scene, &levels, x_px, y_px, truth);
    return PC_OK;
}

enum pc_status sim_truth_disc(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px,
                              double radius_px, struct sim_truth *truth, struct pc_err *err)
{
    struct levels levels;
    PC_TRY(levels_init(scene, shot, &levels, err));
    const struct sim_stage *stage = &levels.view->stage;
    // every field of the struct is a double: the mean of the structs is the mean of their numbers
    enum { DOUBLES = sizeof(struct sim_truth) / sizeof(double) };
    double sum[DOUBLES] = {0}, one[DOUBLES], count = 0, step = fmax(1.0, radius_px / 12.0);
    for (double y = -radius_px; y <= radius_px; y += step)
        for (double x = -radius_px; x <= radius_px; x += step) {
            double px = floor(x_px + x) + 0.5, py = floor(y_px + y) + 0.5;
            if (hypot(px - x_px, py - y_px) > fmax(radius_px, 0.75) || px < 0 || py < 0 ||
                px > stage->width_px || py > stage->height_px)
                continue;
            struct sim_truth here;
            truth_at(scene, &levels, px, py, &here);
            memcpy(one, &here, sizeof(one));
            for (int i = 0; i < DOUBLES; i++)
                sum[i] += one[i];
            count += 1;
        }
    if (count == 0)
        return pc_fail(err, PC_MISUSE, shot->name, "No pixel of this disc is in the picture.");
    for (int i = 0; i < DOUBLES; i++)
        sum[i] /= count;
    memcpy(truth, sum, sizeof(*truth));
    return PC_OK;
}

void sim_patch_xyz(const struct sim_scene *scene, int patch, double xyz[3])
{
    static const double d50_xy[2] = {0.34567, 0.35850};
    struct sim_bands light = sim_light_bands_xy(d50_xy, 5003.0, false);
    sim_xyz_from_bands(&light, &scene->material[SIM_M_PATCH + patch], xyz);
}

void sim_patch_lab(const struct sim_scene *scene, int patch, double lab[3])
{
    static const double d50_xy[2] = {0.34567, 0.35850};
    struct sim_bands light = sim_light_bands_xy(d50_xy, 5003.0, false);
    double white[3], xyz[3];
    sim_xyz_from_bands(&light, NULL, white);
    sim_patch_xyz(scene, patch, xyz);
    sim_lab_from_xyz(xyz, white, lab);
}

void sim_camera_matrix(const struct sim_scene *scene, double camera_from_xyz[3][3], double neutral_ratio[3])
{
    memcpy(camera_from_xyz, scene->camera_from_xyz, sizeof(scene->camera_from_xyz));
    memcpy(neutral_ratio, scene->neutral_ratio, sizeof(scene->neutral_ratio));
}

// ---- truth.json ----

static struct pc_json *three(const double v[3], int decimals)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < 3; i++)
        pc_json_add_number(array, v[i], decimals);
    return array;
}

static const char *const place_name[SIM_PLACE_COUNT] = {"hero",         "surface", "greycard", "hero_card",
                                                        "surface_card", "napkin",  "plate"};

static struct pc_json *json_light(const struct sim_setup *s, int i)
{
    const struct sim_light *l = &s->light[i];
    struct pc_json *out = pc_json_object(), *curve = pc_json_array(), *ends = pc_json_array();
    pc_json_put_text(out, "name", l->name);
    pc_json_put_bool(out, "flash", l->flash);
    for (int e = 0; e < l->emitters; e++) {
        struct pc_json *end = pc_json_object();
        double xyz[3];
        sim_emitter_xyz(s, 2 * i + e, xyz);
        pc_json_put_number(end, "cct_K", l->cct_K[e], 1);
        pc_json_put_number(end, "duv", l->duv[e], 5);
        pc_json_put(end, "xyz", three(xyz, 5));
        pc_json_add(ends, end);
    }
    pc_json_put(out, "emitters", ends);
    for (int d = 0; d <= 20; d++)
        pc_json_add_number(curve, sim_light_curve(l, d / 20.0), 5);
    pc_json_put(out, "light_ratio_by_twentieths_of_dial", curve);
    return out;
}

static struct pc_json *json_place(struct sim_scene *scene, const struct sim_shot *shot, enum sim_place place)
{
    const struct sim_setup *s = &scene->setup;
    struct pc_json *out = pc_json_object();
    struct sim_truth truth;
    double x, y;
    if (!sim_place_px(scene, shot, place, &x, &y) ||
        sim_truth_disc(scene, shot, x, y, 4, &truth, NULL) != PC_OK)
        return out;
    pc_json_put_number(out, "x_px", x, 1);
    pc_json_put_number(out, "y_px", y, 1);
    pc_json_put_number(out, "lx", truth.lx, 2);
    pc_json_put(out, "xyz_cd_m2", three(truth.xyz, 4));
    pc_json_put(out, "camera_rgb_ratio", three(truth.camera_rgb, 6));
    pc_json_put_number(out, "reflect_ratio", truth.reflect_ratio, 4);
    struct pc_json *lights = pc_json_object();
    for (int l = 0; l <= s->light_count; l++) {
        double Y = truth.emitter_xyz[2 * l][1] + (l < s->light_count ? truth.emitter_xyz[2 * l + 1][1] : 0);
        struct pc_json *one = pc_json_object();
        pc_json_put_number(one, "share_ratio", truth.xyz[1] > 0 ? Y / truth.xyz[1] : 0, 5);
        pc_json_put_number(one, "visible_ratio", truth.visible_ratio[2 * l], 4);
        pc_json_put(lights, l < s->light_count ? s->light[l].name : "window", one);
    }
    pc_json_put(out, "lights", lights);
    return out;
}

static struct pc_json *json_shot(struct sim_scene *scene, const struct sim_shot *shot)
{
    const struct sim_setup *s = &scene->setup;
    struct pc_json *out = pc_json_object(), *places = pc_json_object(), *levels = pc_json_object();
    char file[72];
    snprintf(file, sizeof(file), "%s.dng", shot->name);
    pc_json_put_text(out, "file", file);
    pc_json_put_number(out, "time_s", shot->time_s, 2);
    pc_json_put_number(out, "shutter_s", sim_shutter_s(shot), 9);
    pc_json_put_number(out, "fnumber", shot->fnumber, 1);
    pc_json_put_number(out, "iso", shot->iso, 0);
    for (int l = 0; l <= s->light_count; l++) {
        if (!sim_light_used(s, shot, l))
            continue;
        struct pc_json *one = pc_json_object();
        if (l < s->light_count)
            pc_json_put_number(one, "dial_ratio", shot->dial_ratio[l], 4);
        if (l < s->light_count && s->light[l].emitters == 2)
            pc_json_put_number(one, "kelvin_K", shot->kelvin_K[l], 0);
        struct pc_json *emitters = pc_json_array();
        pc_json_add_number(emitters, sim_emitter_level(s, shot, 2 * l), 6);
        if (l < s->light_count && s->light[l].emitters == 2)
            pc_json_add_number(emitters, sim_emitter_level(s, shot, 2 * l + 1), 6);
        pc_json_put(one, "level_ratio", emitters);
        pc_json_put(levels, l < s->light_count ? s->light[l].name : "window", one);
    }
    pc_json_put(out, "lit", levels);
    for (int p = 0; p < SIM_PLACE_COUNT; p++) {
        double x, y;
        if (sim_place_px(scene, shot, (enum sim_place)p, &x, &y))
            pc_json_put(places, place_name[p], json_place(scene, shot, (enum sim_place)p));
    }
    pc_json_put(out, "places", places);
    return out;
}

static struct pc_json *json_patches(struct sim_scene *scene, const struct sim_shot *shot)
{
    struct pc_json *patches = pc_json_array();
    for (int i = 0; i < SIM_PATCHES; i++) {
        double x, y, radius, lab[3];
        if (!sim_patch_px(scene, shot, i, &x, &y, &radius))
            continue;
        struct pc_json *patch = pc_json_object();
        sim_patch_lab(scene, i, lab);
        pc_json_put_int(patch, "patch", i + 1);
        pc_json_put_number(patch, "x_px", x, 1);
        pc_json_put_number(patch, "y_px", y, 1);
        pc_json_put_number(patch, "radius_px", radius, 1);
        pc_json_put(patch, "lab_d50", three(lab, 3));
        pc_json_add(patches, patch);
    }
    return patches;
}

static struct pc_json *json_setup(struct sim_scene *scene, const struct sim_shot *first)
{
    const struct sim_setup *s = &scene->setup;
    struct pc_json *top = pc_json_object(), *lights = pc_json_array();
    int w, h;
    sim_upright_size(s, &w, &h);
    pc_json_put_int(top, "seed", (int64_t)s->seed);
    pc_json_put_int(top, "width_px", w);
    pc_json_put_int(top, "height_px", h);
    for (int i = 0; i < s->light_count; i++)
        pc_json_add(lights, json_light(s, i));
    pc_json_put(top, "lights", lights);
    pc_json_put(top, "patches", json_patches(scene, first));
    return top;
}

static enum pc_status write_json(const struct pc_json *json, const char *path, struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    if (!arena)
        return pc_fail(err, PC_NO_MEMORY, path, "No memory for the truth of these frames.");
    const char *text = pc_json_print(arena, json, false);
    enum pc_status status = pc_file_write(path, text, strlen(text), err);
    pc_arena_destroy(arena);
    return status;
}

enum pc_status sim_shoot_series(struct sim_scene *scene, const struct sim_shot *shots, int count,
                                const char *folder, struct pc_err *err)
{
    char path[4096];
    PC_TRY(pc_file_make_folder(folder, err));
    struct pc_json *top = json_setup(scene, &shots[0]), *frames = pc_json_array();
    enum pc_status status = PC_OK;
    // each frame's truth while its view is at hand
    for (int i = 0; i < count && status == PC_OK; i++) {
        status = sim_shoot(scene, &shots[i], folder, err);
        if (status == PC_OK)
            pc_json_add(frames, json_shot(scene, &shots[i]));
    }
    pc_json_put(top, "frames", frames);
    snprintf(path, sizeof(path), "%s/truth.json", folder);
    if (status == PC_OK)
        status = write_json(top, path, err);
    pc_json_destroy(top);
    return status;
}
