// SPDX-License-Identifier: Apache-2.0
// From light to raw numbers: the weighted sum of a view's lamps, the lens, the sensor, and the files.
#include "image/photo/write.h"

#include "base/file.h"
#include "sim_priv.h"

void sim_upright_size(const struct sim_setup *setup, int *width_px, int *height_px)
{
    const struct sim_camera *c = &setup->camera;
    bool turned = c->orientation == 6 || c->orientation == 8;
    *width_px = turned ? c->height_px : c->width_px;
    *height_px = turned ? c->width_px : c->height_px;
}

void sim_sensor_from_upright(const struct sim_camera *c, int ux, int uy, int *sx, int *sy)
{
    *sx = c->orientation == 3   ? c->width_px - 1 - ux
          : c->orientation == 6 ? uy
          : c->orientation == 8 ? c->width_px - 1 - uy
                                : ux;
    *sy = c->orientation == 3   ? c->height_px - 1 - uy
          : c->orientation == 6 ? c->height_px - 1 - ux
          : c->orientation == 8 ? ux
                                : uy;
}

void sim_upright_from_sensor(const struct sim_camera *c, int sx, int sy, int *ux, int *uy)
{
    *ux = c->orientation == 3   ? c->width_px - 1 - sx
          : c->orientation == 6 ? c->height_px - 1 - sy
          : c->orientation == 8 ? sy
                                : sx;
    *uy = c->orientation == 3   ? c->height_px - 1 - sy
          : c->orientation == 6 ? sx
          : c->orientation == 8 ? c->width_px - 1 - sx
                                : sy;
}

int sim_site_channel(const struct sim_camera *c, int sx, int sy)
{
    char site = c->cfa[2 * (sy & 1) + (sx & 1)];
    return site == 'R' ? 0 : site == 'B' ? 2 : 1;
}

// ---- the noiseless signal ----

struct paint {
    int lights; // in use
    int light[SIM_LIGHTS_MAX + 1];
    float colour[SIM_LIGHTS_MAX + 1][SIM_MATERIALS][4]; // signal per lux, three of them
    float flare[3];
};

static void paint_init(const struct sim_scene *scene, const struct sim_view *view,
                       const struct sim_shot *shot, struct paint *paint)
{
    const struct sim_setup *s = &scene->setup;
    double flare[3] = {0};
    paint->lights = 0;
    for (int l = 0; l <= s->light_count; l++) {
        if (!sim_light_used(s, shot, l))
            continue;
        double k = sim_signal_per_level(s, shot, l < s->light_count && s->light[l].flash);
        double level[2] = {sim_emitter_level(s, shot, 2 * l),
                           l < s->light_count ? sim_emitter_level(s, shot, 2 * l + 1) : 0};
        int at = paint->lights++;
        paint->light[at] = l;
        for (int c = 0; c < 3; c++)
            for (int m = 0; m < SIM_MATERIALS; m++) {
                double v = level[0] * scene->camera_colour[2 * l][m][c];
                if (level[1] > 0)
                    v += level[1] * scene->camera_colour[2 * l + 1][m][c];
                paint->colour[at][m][c] = (float)(k * v);
                flare[c] += s->camera.flare_ratio * k * v * view->mean[l][m];
            }
    }
    for (int c = 0; c < 3; c++)
        paint->flare[c] = (float)flare[c];
}

// Where a row of the picture finds its light on the view's grid, and three rows of colours being blurred.
struct brush {
    int *column;  // grid column left of each pixel
    float *right; // how far it lies towards the next one
    struct sim_blend *blend;
    float *rgb[3]; // width x 3: the rows above, at and below the one that is given out
    float *signal;
};

static void brush_finish(struct brush *brush)
{
    free(brush->column);
    free(brush->right);
    free(brush->blend);
    for (int i = 0; i < 3; i++)
        free(brush->rgb[i]);
    free(brush->signal);
}

static bool brush_init(const struct sim_view *view, struct brush *brush)
{
    size_t width = (size_t)view->stage.width_px;
    *brush = (struct brush){.column = malloc(width * sizeof(*brush->column)),
                            .right = malloc(width * sizeof(*brush->right)),
                            .blend = malloc(width * sizeof(*brush->blend)),
                            .signal = malloc(width * sizeof(*brush->signal))};
    bool made = brush->column && brush->right && brush->blend && brush->signal;
    for (int i = 0; i < 3; i++) {
        brush->rgb[i] = malloc(3 * width * sizeof(float));
        made = made && brush->rgb[i];
    }
    for (int x = 0; made && x < (int)width; x++) {
        double g = (x + 0.5) / view->grid_step - 0.5;
        brush->column[x] = (int)sim_clamp(floor(g), 0, view->grid_w - 2);
        brush->right[x] = (float)sim_clamp(g - brush->column[x], 0, 1);
    }
    return made;
}

// Between grid points of the pixel's own thing, so that light does not leak over edges.
static void blend_row(const struct sim_view *view, const uint8_t *thing, int uy, struct brush *brush)
{
    double g = (uy + 0.5) / view->grid_step - 0.5;
    int row = (int)sim_clamp(floor(g), 0, view->grid_h - 2);
    float v = (float)sim_clamp(g - row, 0, 1);
    const uint8_t *upper = view->grid_thing + (size_t)row * (size_t)view->grid_w,
                  *lower = upper + view->grid_w;
    for (int x = 0; x < view->stage.width_px; x++) {
        struct sim_blend *b = &brush->blend[x];
        int c = brush->column[x], at = row * view->grid_w + c, t = thing[x / view->map_step];
        float u = brush->right[x];
        if (upper[c] == t && upper[c + 1] == t && lower[c] == t && lower[c + 1] == t)
            *b = (struct sim_blend){{at, at + 1, at + view->grid_w, at + view->grid_w + 1},
                                    {(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v}};
        else
            sim_view_blend(view, t, x + 0.5, uy + 0.5, b);
    }
}

static inline float blended(const float *field, const struct sim_blend *b)
{
    return field[b->at[0]] * b->weight[0] + field[b->at[1]] * b->weight[1] + field[b->at[2]] * b->weight[2] +
           field[b->at[3]] * b->weight[3];
}

// The colours of one row as the lens would draw them without any blur.
static void paint_row(const struct sim_view *view, const struct paint *paint, int uy, struct brush *brush,
                      float *rgb)
{
    size_t map = (size_t)(uy / view->map_step) * (size_t)view->map_w;
    const uint8_t *thing = view->thing + map, *a = view->a + map, *b = view->b + map,
                  *mixed = view->mix + map;
    int width = view->stage.width_px, shift = view->map_step == 2;
    blend_row(view, thing, uy, brush);
    memset(rgb, 0, 3 * (size_t)width * sizeof(*rgb));
    for (int i = 0; i < paint->lights; i++) {
        const float *lx = view->lx[paint->light[i]], *mirror = view->mirror[paint->light[i]];
        const float(*colour)[4] = paint->colour[i];
        for (int x = 0; x < width; x++) {
            int m = x >> shift;
            float light = blended(lx, &brush->blend[x]), mix = (float)mixed[m] * (1.0f / 255.0f);
            float of_b = light * mix, of_a = light - of_b;
            const float *ca = colour[a[m]], *cb = colour[b[m]];
            for (int c = 0; c < 3; c++)
                rgb[3 * x + c] += of_a * ca[c] + of_b * cb[c];
            if (thing[m] < SIM_T_LIQUID)
                continue;
            float shine = blended(mirror, &brush->blend[x]);
            for (int c = 0; c < 3; c++)
                rgb[3 * x + c] += shine * colour[SIM_M_MIRROR][c];
        }
    }
}

// The lens's blur (1 2 1 each way: a standard deviation of 0.7 pixels), fall-off and flare, and the filter of
// each site.
static void lens_row(const struct sim_view *view, const struct sim_camera *camera, const struct paint *paint,
                     int uy, const struct brush *brush)
{
    int width = view->stage.width_px;
    const float *up = brush->rgb[(uy + 2) % 3], *at = brush->rgb[uy % 3], *down = brush->rgb[(uy + 1) % 3];
    if (uy == 0)
        up = at;
    if (uy == view->stage.height_px - 1)
        down = at;
    double cx = width / 2.0, edge = sim_vignette(view, 0, 0);
    double k = (1.0 / sqrt(edge) - 1.0) / (cx * cx + pow(view->stage.height_px / 2.0, 2));
    double row_y = uy + 0.5 - view->stage.height_px / 2.0;
    for (int x = 0; x < width; x++) {
        int sx, sy;
        sim_sensor_from_upright(camera, x, uy, &sx, &sy);
        int c = sim_site_channel(camera, sx, sy), l = 3 * (x > 0 ? x - 1 : x) + c, m = 3 * x + c;
        int r = 3 * (x < width - 1 ? x + 1 : x) + c;
        float sum =
            (up[l] + 2 * up[m] + up[r]) + 2 * (at[l] + 2 * at[m] + at[r]) + (down[l] + 2 * down[m] + down[r]);
        float fall = (float)(1.0 + k * ((x + 0.5 - cx) * (x + 0.5 - cx) + row_y * row_y));
        brush->signal[x] = sum * (1.0f / 16.0f) / (fall * fall) + paint->flare[c];
    }
}

// The whole picture, where a fault reaches from row to row.
static enum pc_status paint_all(const struct sim_view *view, const struct paint *paint,
                                const struct sim_shot *shot, struct brush *brush, float **all,
                                struct pc_err *err)
{
    size_t row = 3 * (size_t)view->stage.width_px;
    *all = malloc(row * (size_t)view->stage.height_px * sizeof(**all));
    if (*all == NULL)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    for (int uy = 0; uy < view->stage.height_px; uy++)
        paint_row(view, paint, uy, brush, *all + (size_t)uy * row);
    return sim_fault_draw(view, shot, *all, err);
}

static void next_row(const struct sim_view *view, const struct paint *paint, const float *all, int uy,
                     struct brush *brush)
{
    size_t row = 3 * (size_t)view->stage.width_px;
    if (all == NULL)
        paint_row(view, paint, uy, brush, brush->rgb[uy % 3]);
    else
        memcpy(brush->rgb[uy % 3], all + (size_t)uy * row, row * sizeof(*all));
}

enum pc_status sim_signal(struct sim_scene *scene, const struct sim_shot *shot, float *signal,
                          struct pc_err *err)
{
    const struct sim_camera *c = &scene->setup.camera;
    struct sim_view *view = sim_scene_view(scene, shot);
    struct paint *paint = malloc(sizeof(*paint));
    struct brush brush = {0};
    if (!view || !paint || !brush_init(view, &brush)) {
        free(paint);
        brush_finish(&brush);
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    }
    paint_init(scene, view, shot, paint);
    int height = view->stage.height_px;
    float *all = NULL;
    enum pc_status status = PC_OK;
    if (sim_fault_needs_all(&shot->fault))
        status = paint_all(view, paint, shot, &brush, &all, err);
    if (status == PC_OK)
        next_row(view, paint, all, 0, &brush);
    for (int uy = 0; status == PC_OK && uy < height; uy++) {
        if (uy + 1 < height)
            next_row(view, paint, all, uy + 1, &brush);
        lens_row(view, c, paint, uy, &brush);
        for (int ux = 0; ux < view->stage.width_px; ux++) {
            int sx, sy;
            sim_sensor_from_upright(c, ux, uy, &sx, &sy);
            double gain = sim_fault_gain(&scene->setup, &shot->fault, sim_site_channel(c, sx, sy), sy);
            signal[(size_t)sy * (size_t)c->width_px + (size_t)sx] = (float)gain * brush.signal[ux];
        }
    }
    free(all);
    free(paint);
    brush_finish(&brush);
    return status;
}

enum pc_status sim_render(struct sim_scene *scene, const struct sim_shot *shot, float *rgb,
                          struct pc_err *err)
{
    const struct sim_camera *c = &scene->setup.camera;
    int w, h;
    sim_upright_size(&scene->setup, &w, &h);
    float *signal = malloc((size_t)w * (size_t)h * sizeof(*signal));
    if (!signal)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    enum pc_status status = sim_signal(scene, shot, signal, err);
    for (int y = 0; status == PC_OK && y < h / 2; y++)
        for (int x = 0; x < w / 2; x++) {
            float *out = &rgb[3 * ((size_t)y * (size_t)(w / 2) + (size_t)x)];
            out[0] = out[1] = out[2] = 0;
            for (int i = 0; i < 4; i++) {
                int sx, sy;
                sim_sensor_from_upright(c, 2 * x + (i & 1), 2 * y + (i >> 1), &sx, &sy);
                int channel = sim_site_channel(c, sx, sy);
                out[channel] +=
                    signal[(size_t)sy * (size_t)c->width_px + (size_t)sx] * (channel == 1 ? 0.5f : 1.0f);
            }
        }
    free(signal);
    return status;
}

// ---- the sensor ----

// Four draws of the normal law from one random number.
static inline void draw(const float *normals, uint64_t *state, float four[4])
{
    uint64_t bits = sim_next(state);
    for (int i = 0; i < 4; i++)
        four[i] = normals[(bits >> (16 * i)) & 0xffff];
}

static double true_black(const struct sim_setup *setup, const struct sim_shot *shot)
{
    uint64_t state = sim_hash(setup->seed, shot->noise_seed, 0xb1ac);
    return setup->camera.black_dn + setup->camera.black_wander_dn * sim_normal(&state);
}

// One row of the whole array: masked columns, then the active ones.
static void expose_row(const struct sim_scene *scene, const struct sim_shot *shot, const float *signal,
                       int sy, int masked, uint16_t *out)
{
    const struct sim_camera *c = &scene->setup.camera;
    double range = c->white_dn - c->black_dn, unit = 1.0 / (range * range);
    double at0 = sim_noise_at(&scene->setup, shot->iso, 0), at1 = sim_noise_at(&scene->setup, shot->iso, 1);
    // rounding to whole numbers adds its twelfth by itself
    float offset_var = (float)((at0 * at0 - unit / 12) / unit),
          slope_var = (float)((at1 * at1 - at0 * at0) / unit);
    float black = (float)true_black(&scene->setup, shot), white = (float)c->white_dn, spread = (float)range,
          four[4] = {0};
    // the active columns draw from a stream of their own, so that they are the same with and without a border
    uint64_t state = sim_hash(scene->setup.seed, shot->noise_seed, 2 * (uint64_t)sy + 1);
    uint64_t border = sim_hash(scene->setup.seed, shot->noise_seed, 2 * (uint64_t)sy + 2);
    for (int x = -masked; x < c->width_px; x++) {
        int i = x & 3;
        if (i == 0 || x == -masked)
            draw(scene->normals, x < 0 ? &border : &state, four);
        float s = x < 0 || x == c->dead_column ? 0.0f : signal[x];
        float dn = black + s * spread + four[i] * sqrtf(offset_var + slope_var * s);
        *out++ = (uint16_t)lrintf(fminf(fmaxf(dn, 0), white));
    }
}

static enum pc_status expose(struct sim_scene *scene, const struct sim_shot *shot, int masked,
                             uint16_t *mosaic, struct pc_err *err)
{
    const struct sim_camera *c = &scene->setup.camera;
    float *signal = malloc((size_t)c->width_px * (size_t)c->height_px * sizeof(*signal));
    if (!signal)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    enum pc_status status = sim_signal(scene, shot, signal, err);
    for (int y = 0; status == PC_OK && y < c->height_px; y++)
        expose_row(scene, shot, signal + (size_t)y * (size_t)c->width_px, y, masked,
                   mosaic + (size_t)y * (size_t)(c->width_px + masked));
    free(signal);
    return status;
}

enum pc_status sim_mosaic(struct sim_scene *scene, const struct sim_shot *shot, uint16_t *mosaic,
                          struct pc_err *err)
{
    return expose(scene, shot, 0, mosaic, err);
}

// ---- files ----

static void fill_facts(const struct sim_setup *s, const struct sim_shot *shot, struct pc_facts *facts)
{
    const struct sim_camera *c = &s->camera;
    *facts = (struct pc_facts){
        .shutter_s = c->nominal_shutter ? sim_shutter_nominal_s(shot) : sim_shutter_s(shot),
        .shutter_apex_s = c->apex ? sim_shutter_s(shot) : (double)NAN,
        .fnumber = shot->fnumber,
        .iso = shot->iso,
        .focal_mm = c->focal_mm,
        .focal_35mm_mm = round(c->focal_mm * 36.0 / c->sensor_width_mm),
        .time_s = s->start_s + shot->time_s,
        .utc_offset_s = 3600,
        .orientation = c->orientation,
        .flash_fired = 0,
    };
    for (int l = 0; l < s->light_count; l++)
        if (s->light[l].flash && shot->lit[l])
            facts->flash_fired = 1;
    snprintf(facts->maker, sizeof(facts->maker), "%s", c->maker);
    snprintf(facts->model, sizeof(facts->model), "%s", c->model);
    snprintf(facts->serial, sizeof(facts->serial), "%s", c->serial);
    snprintf(facts->lens, sizeof(facts->lens), "%.0f mm", c->focal_mm);
    sim_upright_size(s, &facts->width_px, &facts->height_px);
}

// A camera's idea of a pleasant picture: balanced for its as-shot neutral, a shoulder, and the display's
// curve.
static void tone_pixel(const struct sim_scene *scene, const double rgb[3], uint8_t *out)
{
    static const double display[3][3] = {
        {1.7, -0.55, -0.15}, {-0.22, 1.45, -0.23}, {0.0, -0.5, 1.5}}; // a saturated guess, as cameras make
    for (int i = 0; i < 3; i++) {
        double v = 0;
        for (int c = 0; c < 3; c++)
            v += display[i][c] * rgb[c] / scene->neutral_ratio[c];
        v = 1.0 - exp(-2.4 * fmax(0, v));
        v = v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1 / 2.4) - 0.055;
        out[i] = (uint8_t)lrint(255 * sim_clamp(v, 0, 1));
    }
}

static enum pc_status write_jpeg(const struct sim_scene *scene, const uint16_t *px, int masked,
                                 const char *path, struct pc_err *err)
{
    const struct sim_camera *c = &scene->setup.camera;
    int w, h;
    sim_upright_size(&scene->setup, &w, &h);
    uint8_t *rgb8 = malloc((size_t)w * (size_t)h * 3);
    if (!rgb8)
        return pc_fail(err, PC_NO_MEMORY, path, "No memory for a frame of this size.");
    for (int y = 0; y < h; y += 2)
        for (int x = 0; x < w; x += 2) {
            double rgb[3] = {0};
            uint8_t out[3];
            for (int i = 0; i < 4; i++) {
                int sx, sy;
                sim_sensor_from_upright(c, x + (i & 1), y + (i >> 1), &sx, &sy);
                int channel = sim_site_channel(c, sx, sy);
                double v = px[(size_t)sy * (size_t)(c->width_px + masked) + (size_t)(sx + masked)];
                rgb[channel] += (v - c->black_dn) / (c->white_dn - c->black_dn) * (channel == 1 ? 0.5 : 1.0);
            }
            tone_pixel(scene, rgb, out);
            for (int i = 0; i < 4; i++)
                memcpy(&rgb8[3 * ((size_t)(y + (i >> 1)) * (size_t)w + (size_t)(x + (i & 1)))], out, 3);
        }
    enum pc_status status = pc_write_jpeg(path, w, h, 3, rgb8, 90, NULL, err);
    free(rgb8);
    return status;
}

enum pc_status sim_shoot(struct sim_scene *scene, const struct sim_shot *shot, const char *folder,
                         struct pc_err *err)
{
    const struct sim_camera *c = &scene->setup.camera;
    int masked = c->masked_left_px;
    char path[4096];
    struct pc_dng dng = {.width_px = c->width_px + masked,
                         .height_px = c->height_px,
                         .masked_left_px = masked,
                         .white_dn = c->white_dn,
                         .lossless = c->lossless,
                         .no_apex = !c->apex};
    uint16_t *px = malloc((size_t)dng.width_px * (size_t)dng.height_px * sizeof(*px));
    if (!px)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    dng.px = px;
    memcpy(dng.cfa, c->cfa, sizeof(dng.cfa));
    for (int i = 0; i < 4; i++)
        dng.black_dn[i] = c->black_dn;
    sim_camera_matrix(scene, dng.camera_from_xyz, dng.neutral_ratio);
    fill_facts(&scene->setup, shot, &dng.facts);
    enum pc_status status = expose(scene, shot, masked, px, err);
    if (status == PC_OK) {
        snprintf(path, sizeof(path), "%s/%s.dng", folder, shot->name);
        status = pc_write_dng(path, &dng, err);
    }
    if (status == PC_OK && shot->jpeg_too) {
        snprintf(path, sizeof(path), "%s/%s.jpg", folder, shot->name);
        status = write_jpeg(scene, px, masked, path, err);
    }
    free(px);
    return status;
}
