// SPDX-License-Identifier: Apache-2.0
// A scene made ready: spectra, colours, panels; and views with the light of each lamp worked out once.
#include "sim_priv.h"

int sim_light_of_emitter(const struct sim_setup *setup, int emitter)
{
    return emitter >= 2 * setup->light_count ? setup->light_count : emitter / 2;
}

const struct sim_setup *sim_scene_setup(const struct sim_scene *scene)
{
    return &scene->setup;
}

static struct sim_bands scaled(struct sim_bands bands, double by)
{
    for (int b = 0; b < SIM_BANDS; b++)
        bands.v[b] *= by;
    return bands;
}

struct sim_bands sim_emitter_bands(const struct sim_setup *s, int emitter)
{
    int i = emitter / 2, e = emitter % 2;
    if (i >= s->light_count)
        return sim_light_bands(s->window.cct_K, s->window.duv, false);
    return sim_light_bands(s->light[i].cct_K[e], s->light[i].duv[e], s->light[i].led[e]);
}

// A Lab's hue at a given reflectance.
static struct sim_bands tinted(double ratio, double a, double b)
{
    double lab[3] = {116.0 * cbrt(ratio) - 16.0, a, b};
    return sim_reflect_from_lab(lab);
}

static void make_materials(struct sim_scene *scene)
{
    const struct sim_table *t = &scene->setup.table;
    static const double board_tint[3][2] = {{6, 14}, {0.5, 4}, {0, 3}};
    const double *tint = board_tint[t->board];
    double strong = sim_clamp(t->board_ratio / 0.2, 0.25, 1.0), contrast = t->board_contrast_ratio;
    struct sim_bands *m = scene->material;
    m[SIM_M_BOARD_A] =
        tinted(sim_clamp(t->board_ratio * (1 + contrast), 0.01, 0.9), strong * tint[0], strong * tint[1]);
    m[SIM_M_BOARD_B] =
        tinted(sim_clamp(t->board_ratio * (1 - contrast), 0.01, 0.9), strong * tint[0], strong * tint[1]);
    m[SIM_M_TOP] = tinted(0.30, 3, 8);
    m[SIM_M_CARD] = sim_reflect_flat(0.18);
    m[SIM_M_PLATE_A] = sim_reflect_from_lab(t->plate_lab);
    m[SIM_M_PLATE_B] = scaled(m[SIM_M_PLATE_A], 0.8);
    m[SIM_M_HERO_A] = sim_reflect_from_lab(t->hero_lab);
    m[SIM_M_HERO_B] = scaled(m[SIM_M_HERO_A], 0.7);
    m[SIM_M_NAPKIN_A] = tinted(0.55, 0, 4);
    m[SIM_M_NAPKIN_B] = tinted(0.16, -4, -18);
    m[SIM_M_BALL_A] = sim_reflect_from_lab(t->ball_lab);
    m[SIM_M_BALL_B] = scaled(m[SIM_M_BALL_A], 0.65);
    m[SIM_M_LIQUID] = tinted(0.035, 22, 6);
    m[SIM_M_FRAME] = sim_reflect_flat(0.04);
    m[SIM_M_MIRROR] = sim_reflect_flat(SIM_PI);
    for (int i = 0; i < SIM_PATCHES; i++)
        m[SIM_M_PATCH + i] = sim_reflect_from_lab(sim_chart_lab[i]);
}

static void camera_from_bands(const struct sim_scene *scene, const struct sim_bands *light,
                              const struct sim_bands *reflect, double colour[3])
{
    for (int c = 0; c < 3; c++) {
        colour[c] = 0;
        for (int b = 0; b < SIM_BANDS; b++)
            colour[c] += scene->filter[c].v[b] * light->v[b] * (reflect ? reflect->v[b] : 1.0);
    }
}

// xyz_from_camera by least squares over the chart and (ten times) white under D65, then turned round.
static void make_matrix(struct sim_scene *scene)
{
    static const double d65_xy[2] = {0.31271, 0.32901};
    struct sim_bands d65 = sim_light_bands_xy(d65_xy, 6504.0, false);
    double cc[3][3] = {{0}}, cx[3][3] = {{0}}, xyz_from_camera[3][3];
    for (int i = 0; i <= SIM_PATCHES; i++) {
        const struct sim_bands *reflect = i < SIM_PATCHES ? &scene->material[SIM_M_PATCH + i] : NULL;
        double colour[3], xyz[3], weight = reflect ? 1.0 : 10.0;
        camera_from_bands(scene, &d65, reflect, colour);
        sim_xyz_from_bands(&d65, reflect, xyz);
        for (int a = 0; a < 3; a++)
            for (int b = 0; b < 3; b++) {
                cc[a][b] += weight * colour[a] * colour[b];
                cx[a][b] += weight * colour[a] * xyz[b];
            }
    }
    for (int row = 0; row < 3; row++) {
        double column[3] = {cx[0][row], cx[1][row], cx[2][row]};
        bool solved = sim_solve3(cc, column, xyz_from_camera[row]);
        PC_ASSERT(solved);
    }
    for (int column = 0; column < 3; column++) {
        double one[3] = {column == 0, column == 1, column == 2}, x[3];
        bool solved = sim_solve3(xyz_from_camera, one, x);
        PC_ASSERT(solved);
        for (int row = 0; row < 3; row++)
            scene->camera_from_xyz[row][column] = x[row];
    }
    struct sim_bands set_for = sim_light_bands(5500.0, 0.002, false);
    camera_from_bands(scene, &set_for, NULL, scene->neutral_ratio);
    for (int c = 2; c >= 0; c--)
        scene->neutral_ratio[c] /= scene->neutral_ratio[1];
}

static void make_colours(struct sim_scene *scene)
{
    const struct sim_setup *s = &scene->setup;
    for (int e = 0; e <= 2 * s->light_count; e++) {
        int light = e / 2;
        if (light < s->light_count && e % 2 >= s->light[light].emitters)
            continue;
        scene->emitter[e] = sim_emitter_bands(s, e);
        for (int m = 0; m < SIM_MATERIALS; m++) {
            struct sim_bands r = scaled(scene->material[m], 1.0 / SIM_PI);
            camera_from_bands(scene, &scene->emitter[e], &r, scene->camera_colour[e][m]);
            sim_xyz_from_bands(&scene->emitter[e], &r, scene->xyz_colour[e][m]);
        }
    }
}

void sim_panels_make(const struct sim_setup *s, struct sim_panel *panel, double *fill_lx)
{
    struct sim_vec hero = sim_vec(0, 0, 0), up = sim_vec(0, 0, 1);
    for (int i = 0; i < s->light_count; i++) {
        const struct sim_light *l = &s->light[i];
        double a = l->clock_h / 12.0 * 2 * SIM_PI;
        struct sim_vec at = sim_vec(l->distance_m * sin(a), l->distance_m * cos(a), l->height_m);
        panel[i] = sim_panel_at(at, hero, l->width_m, l->tall_m);
        struct sim_vec n = panel[i].normal;
        panel[i].luminance = l->full_lx_at_1m / sim_panel_lx(&panel[i], sim_add(at, n), sim_mul(n, -1));
        fill_lx[i] = 0.03 * sim_panel_lx(&panel[i], hero, up);
    }
    const struct sim_window *w = &s->window;
    double a = w->clock_h / 12.0 * 2 * SIM_PI;
    struct sim_vec at = sim_vec(w->distance_m * sin(a), w->distance_m * cos(a), w->sill_m + w->tall_m / 2);
    struct sim_panel *pane = &panel[s->light_count];
    *pane = sim_panel_at(at, sim_vec(0, 0, at.z), w->width_m, w->tall_m);
    pane->luminance = w->hero_lx * (1 - w->fill_ratio) / sim_panel_lx(pane, hero, up);
    fill_lx[s->light_count] = w->hero_lx * w->fill_ratio;
}

// Quantiles of the normal law by Newton's method on erfc, brought to variance 1.
static void make_normals(float *normals)
{
    double x = -4.5, square = 0;
    for (int i = 0; i < 32768; i++) {
        double want = (i + 0.5) / 65536, move = 1;
        // the first from afar, each next from its neighbour's tangent
        if (i > 0)
            x += sqrt(2 * SIM_PI) * exp(0.5 * x * x) / 65536;
        for (int step = 0; step < 40 && fabs(move) > 1e-5; step++) {
            double miss = 0.5 * erfc(-x / sqrt(2.0)) - want, slope = exp(-0.5 * x * x) / sqrt(2 * SIM_PI);
            move = sim_clamp(miss / slope, -0.5, 0.5);
            x -= move;
        }
        normals[i] = (float)x;
        square += 2 * x * x;
    }
    float whole = (float)sqrt(square / 65536);
    for (int i = 0; i < 32768; i++) {
        normals[i] /= whole;
        normals[65535 - i] = -normals[i];
    }
}

enum pc_status sim_scene_create(const struct sim_setup *setup, struct sim_scene **scene_out,
                                struct pc_err *err)
{
    const struct sim_camera *c = &setup->camera;
    if (setup->light_count < 0 || setup->light_count > SIM_LIGHTS_MAX || c->width_px < 16 ||
        c->height_px < 16 || c->width_px % 2 || c->height_px % 2 || c->masked_left_px % 2)
        return pc_fail(err, PC_MISUSE, "sim",
                       "This set-up cannot be photographed: check its light count and sizes.");
    struct sim_scene *scene = calloc(1, sizeof(*scene));
    if (!scene)
        return pc_fail(err, PC_NO_MEMORY, "sim", "No memory for a scene.");
    scene->setup = *setup;
    make_materials(scene);
    sim_filter_bands(c->hue_shift_nm, scene->filter);
    make_matrix(scene);
    make_colours(scene);
    sim_panels_make(setup, scene->panel, scene->fill_lx);
    make_normals(scene->normals);
    *scene_out = scene;
    return PC_OK;
}

static void view_finish(struct sim_view *view)
{
    free(view->thing);
    free(view->a);
    free(view->b);
    free(view->mix);
    free(view->grid);
    free(view->grid_thing);
    for (int i = 0; i <= SIM_LIGHTS_MAX; i++) {
        free(view->lx[i]);
        free(view->mirror[i]);
    }
    memset(view, 0, sizeof(*view));
}

void sim_scene_destroy(struct sim_scene *scene)
{
    if (!scene)
        return;
    for (int i = 0; i < SIM_VIEWS; i++)
        view_finish(&scene->view[i]);
    free(scene);
}

// ---- views ----

double sim_vignette(const struct sim_view *view, double x_px, double y_px)
{
    const struct sim_stage *s = &view->stage;
    double cx = s->width_px / 2.0, cy = s->height_px / 2.0;
    double k = (1.0 / sqrt(1.0 - s->setup->camera.vignette_ratio) - 1.0) / (cx * cx + cy * cy);
    double f = 1.0 + k * ((x_px - cx) * (x_px - cx) + (y_px - cy) * (y_px - cy));
    return 1.0 / (f * f);
}

void sim_view_blend(const struct sim_view *view, int thing, double x_px, double y_px, struct sim_blend *blend)
{
    double gx = x_px / view->grid_step - 0.5, gy = y_px / view->grid_step - 0.5;
    int x = (int)sim_clamp(floor(gx), 0, view->grid_w - 2),
        y = (int)sim_clamp(floor(gy), 0, view->grid_h - 2);
    float u = (float)sim_clamp(gx - x, 0, 1), v = (float)sim_clamp(gy - y, 0, 1), sum = 0;
    float weight[4] = {(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v};
    int at = y * view->grid_w + x;
    const int where[4] = {at, at + 1, at + view->grid_w, at + view->grid_w + 1};
    for (int i = 0; i < 4; i++) {
        blend->at[i] = where[i];
        blend->weight[i] = view->grid_thing[where[i]] == thing ? weight[i] : 0;
        sum += blend->weight[i];
    }
    for (int i = 0; i < 4; i++)
        blend->weight[i] = sum > 0 ? blend->weight[i] / sum : weight[i];
}

static bool view_map(struct sim_view *view)
{
    size_t count = (size_t)view->map_w * (size_t)view->map_h, n = (size_t)view->grid_w * (size_t)view->grid_h;
    view->thing = malloc(count);
    view->a = malloc(count);
    view->b = malloc(count);
    view->mix = malloc(count);
    view->grid = malloc(n * sizeof(*view->grid));
    view->grid_thing = malloc(n);
    if (!view->grid_thing || !view->thing || !view->a || !view->b || !view->mix || !view->grid)
        return false;
    for (int y = 0; y < view->map_h; y++)
        for (int x = 0; x < view->map_w; x++) {
            struct sim_hit hit;
            size_t i = (size_t)y * (size_t)view->map_w + (size_t)x;
            sim_stage_hit(&view->stage, (x + 0.5) * view->map_step, (y + 0.5) * view->map_step, &hit);
            view->thing[i] = (uint8_t)hit.thing;
            view->a[i] = hit.a;
            view->b[i] = hit.b;
            view->mix[i] = (uint8_t)lroundf(hit.mix * 255);
        }
    for (int y = 0; y < view->grid_h; y++)
        for (int x = 0; x < view->grid_w; x++) {
            size_t i = (size_t)y * (size_t)view->grid_w + (size_t)x;
            sim_stage_hit(&view->stage, (x + 0.5) * view->grid_step, (y + 0.5) * view->grid_step,
                          &view->grid[i]);
            view->grid_thing[i] = (uint8_t)view->grid[i].thing;
        }
    return true;
}

// The share of the panel seen, each grid point with the next ninth of its lines' offset, then the mean over
// the three by three points around (of the same thing): together they are as good as nine times the lines.
static void view_visible(const struct sim_scene *scene, struct sim_view *view, int light, float *seen,
                         float *out)
{
    const struct sim_stage *s = &view->stage;
    int lines = light == scene->setup.light_count ? 8 : 6;
    static const int order[9] = {0, 5, 7, 3, 8, 1, 6, 2, 4};
    for (int y = 0; y < view->grid_h; y++)
        for (int x = 0; x < view->grid_w; x++) {
            size_t i = (size_t)y * (size_t)view->grid_w + (size_t)x;
            const struct sim_hit *h = &view->grid[i];
            seen[i] = (float)sim_panel_visible(&scene->panel[light], s->blocker, s->blockers, h->thing, h->p,
                                               h->n, lines, (order[3 * (y % 3) + x % 3] + 0.5) / 9.0);
        }
    for (int y = 0; y < view->grid_h; y++)
        for (int x = 0; x < view->grid_w; x++) {
            size_t i = (size_t)y * (size_t)view->grid_w + (size_t)x;
            float sum = 0, count = 0;
            for (int v = y > 0 ? y - 1 : 0; v <= y + 1 && v < view->grid_h; v++)
                for (int u = x > 0 ? x - 1 : 0; u <= x + 1 && u < view->grid_w; u++) {
                    size_t j = (size_t)v * (size_t)view->grid_w + (size_t)u;
                    if (view->grid[j].thing == view->grid[i].thing) {
                        sum += seen[j];
                        count += 1;
                    }
                }
            out[i] = sum / count;
        }
}

static void view_means(struct sim_view *view, int light)
{
    double *mean = view->mean[light], count = 0;
    int step = view->grid_step == 2 ? 3 : 1;
    memset(mean, 0, sizeof(view->mean[light]));
    for (int y = 0; y < view->grid_h; y += step)
        for (int x = 0; x < view->grid_w; x += step) {
            size_t i = (size_t)y * (size_t)view->grid_w + (size_t)x;
            const struct sim_hit *h = &view->grid[i];
            double v = sim_vignette(view, (x + 0.5) * view->grid_step, (y + 0.5) * view->grid_step);
            double lx = (double)view->lx[light][i] * v, mix = (double)h->mix;
            mean[h->a] += lx * (1 - mix);
            mean[h->b] += lx * mix;
            mean[SIM_M_MIRROR] += (double)view->mirror[light][i] * v;
            count += 1;
        }
    for (int m = 0; m < SIM_MATERIALS; m++)
        mean[m] /= count;
}

static bool view_light(const struct sim_scene *scene, struct sim_view *view, int light)
{
    const struct sim_stage *s = &view->stage;
    const struct sim_panel *panel = &scene->panel[light];
    size_t n = (size_t)view->grid_w * (size_t)view->grid_h;
    float *seen = malloc(n * sizeof(*seen));
    view->lx[light] = malloc(n * sizeof(float));
    view->mirror[light] = malloc(n * sizeof(float));
    if (!seen || !view->lx[light] || !view->mirror[light]) {
        free(seen);
        return false;
    }
    view_visible(scene, view, light, seen, view->lx[light]);
    for (size_t i = 0; i < n; i++) {
        const struct sim_hit *h = &view->grid[i];
        double lx = (double)view->lx[light][i], mirror = 0;
        if (lx > 0)
            lx *= sim_panel_lx(panel, h->p, h->n);
        view->lx[light][i] = (float)(lx + scene->fill_lx[light]);
        if (h->mirror_ratio > 0) {
            struct sim_vec ray = sim_unit(sim_sub(h->p, s->eye));
            mirror = sim_panel_mirrored(panel, h->p, h->n, ray, (double)h->rough_ratio) * panel->luminance +
                     scene->fill_lx[light] / SIM_PI;
            mirror *= (double)h->mirror_ratio;
        }
        view->mirror[light][i] = (float)mirror;
    }
    free(seen);
    view_means(view, light);
    return true;
}

bool sim_light_used(const struct sim_setup *setup, const struct sim_shot *shot, int light)
{
    return light == setup->light_count ? shot->window_ratio > 0 : shot->lit[light];
}

// Two shots that see the same things in the same places.
static bool same_view(const struct sim_shot *a, const struct sim_shot *b)
{
    bool same = a->cards == b->cards && a->no_card == b->no_card;
    for (int i = 0; i < 3; i++)
        same = same && a->move_m[i] == b->move_m[i] && a->turn_deg[i] == b->turn_deg[i];
    for (int i = 0; i < 2; i++)
        same = same && a->shift_px[i] == b->shift_px[i] && a->napkin_px[i] == b->napkin_px[i];
    return same;
}

struct sim_view *sim_scene_view(struct sim_scene *scene, const struct sim_shot *shot)
{
    struct sim_view *view = &scene->view[0];
    bool found = false;
    for (int i = 0; i < SIM_VIEWS && !found; i++) {
        if (scene->view[i].used && same_view(&scene->view[i].key, shot)) {
            view = &scene->view[i];
            found = true;
        } else if (scene->view[i].used < view->used) {
            view = &scene->view[i];
        }
    }
    if (!found) {
        view_finish(view);
        view->key = *shot;
        sim_stage_init(&view->stage, &scene->setup, shot);
        int w = view->stage.width_px, h = view->stage.height_px;
        double pixels = (double)w * h;
        view->map_step = pixels > 8e6 ? 2 : 1;
        view->grid_step = pixels > 8e6 ? 8 : pixels > 2.5e6 ? 4 : 2;
        view->map_w = w / view->map_step;
        view->map_h = h / view->map_step;
        view->grid_w = (w + view->grid_step - 1) / view->grid_step;
        view->grid_h = (h + view->grid_step - 1) / view->grid_step;
        if (!view_map(view)) {
            view_finish(view);
            return NULL;
        }
    }
    view->used = ++scene->clock;
    for (int l = 0; l <= scene->setup.light_count; l++)
        if (sim_light_used(&scene->setup, shot, l) && !view->lx[l] && !view_light(scene, view, l)) {
            view_finish(view);
            return NULL;
        }
    return view;
}
