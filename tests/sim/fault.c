// SPDX-License-Identifier: Apache-2.0
// What goes wrong while a frame is taken.
#include "sim_priv.h"

enum { DEPTH_STEP = 4, SHAKE_STEPS = 24 };

bool sim_fault_needs_all(const struct sim_fault *f)
{
    return f->blur_px_per_m > 0 || f->shake_px[0] != 0 || f->shake_px[1] != 0 || f->patch_radius_px > 0;
}

double sim_fault_gain(const struct sim_setup *setup, const struct sim_fault *f, int channel, int sy)
{
    double gain =
        (f->gain_ratio > 0 ? f->gain_ratio : 1) * (f->tint_ratio[channel] > 0 ? f->tint_ratio[channel] : 1);
    if (f->bands > 0)
        gain *= 1 + f->bands_ratio * sin(2 * SIM_PI * f->bands * (sy + 0.5) / setup->camera.height_px +
                                         f->bands_phase_rad);
    return gain;
}

static double behind_m(const struct sim_stage *stage, double x_px, double y_px)
{
    struct sim_hit hit;
    sim_stage_hit(stage, x_px, y_px, &hit);
    struct sim_vec hero = sim_vec(0, 0, 0);
    return sim_dot(sim_sub(hit.p, hero), stage->forward);
}

double sim_behind_m(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px)
{
    struct sim_stage stage;
    sim_stage_init(&stage, &scene->setup, shot);
    return behind_m(&stage, x_px, y_px);
}

// Each point as wide as its own thing is out of focus; edges of the disc fall off over a pixel.
static void gather(const float *in, int w, int h, int x, int y, double radius_px, float out[3])
{
    double sum[3] = {0}, weights = 0;
    int reach = (int)ceil(radius_px + 0.5);
    for (int dy = -reach; dy <= reach; dy++)
        for (int dx = -reach; dx <= reach; dx++) {
            double weight = sim_clamp(radius_px + 0.5 - sqrt(dx * dx + dy * dy), 0, 1);
            int sx = (int)sim_clamp(x + dx, 0, w - 1), sy = (int)sim_clamp(y + dy, 0, h - 1);
            if (weight <= 0)
                continue;
            const float *px = in + 3 * ((size_t)sy * (size_t)w + (size_t)sx);
            for (int c = 0; c < 3; c++)
                sum[c] += weight * (double)px[c];
            weights += weight;
        }
    for (int c = 0; c < 3; c++)
        out[c] = (float)(sum[c] / weights);
}

static void defocus(const struct sim_view *view, const struct sim_fault *f, const float *in, float *out)
{
    int w = view->stage.width_px, h = view->stage.height_px;
    for (int by = 0; by < h; by += DEPTH_STEP)
        for (int bx = 0; bx < w; bx += DEPTH_STEP) {
            double off_m = behind_m(&view->stage, bx + DEPTH_STEP / 2.0, by + DEPTH_STEP / 2.0) - f->behind_m;
            double radius_px = 0.5 * f->blur_px_per_m * fabs(off_m);
            for (int y = by; y < by + DEPTH_STEP && y < h; y++)
                for (int x = bx; x < bx + DEPTH_STEP && x < w; x++)
                    gather(in, w, h, x, y, radius_px, out + 3 * ((size_t)y * (size_t)w + (size_t)x));
        }
}

static void shake(const struct sim_fault *f, int w, int h, const float *in, float *out)
{
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            double sum[3] = {0};
            for (int k = 0; k < SHAKE_STEPS; k++) {
                double t = (k + 0.5) / SHAKE_STEPS - 0.5;
                double fx = sim_clamp(x + t * f->shake_px[0], 0, w - 1.001),
                       fy = sim_clamp(y + t * f->shake_px[1], 0, h - 1.001);
                int ix = (int)fx, iy = (int)fy;
                double u = fx - ix, v = fy - iy;
                const float *a = in + 3 * ((size_t)iy * (size_t)w + (size_t)ix), *b = a + 3 * (size_t)w;
                for (int c = 0; c < 3; c++)
                    sum[c] += (1 - v) * ((1 - u) * (double)a[c] + u * (double)a[c + 3]) +
                              v * ((1 - u) * (double)b[c] + u * (double)b[c + 3]);
            }
            for (int c = 0; c < 3; c++)
                out[3 * ((size_t)y * (size_t)w + (size_t)x) + (size_t)c] = (float)(sum[c] / SHAKE_STEPS);
        }
}

static void add_patch(const struct sim_fault *f, int w, int h, float *rgb)
{
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            double away = hypot(x + 0.5 - f->patch_px[0], y + 0.5 - f->patch_px[1]);
            double share = sim_clamp(f->patch_radius_px + 0.5 - away, 0, 1);
            for (int c = 0; share > 0 && c < 3; c++)
                rgb[3 * ((size_t)y * (size_t)w + (size_t)x) + (size_t)c] +=
                    (float)(share * f->patch_ratio[c]);
        }
}

enum pc_status sim_fault_draw(const struct sim_view *view, const struct sim_shot *shot, float *rgb,
                              struct pc_err *err)
{
    const struct sim_fault *f = &shot->fault;
    int w = view->stage.width_px, h = view->stage.height_px;
    size_t bytes = 3 * (size_t)w * (size_t)h * sizeof(*rgb);
    float *before = malloc(bytes);
    if (before == NULL)
        return pc_fail(err, PC_NO_MEMORY, shot->name, "No memory for a frame of this size.");
    if (f->patch_radius_px > 0)
        add_patch(f, w, h, rgb);
    if (f->blur_px_per_m > 0) {
        memcpy(before, rgb, bytes);
        defocus(view, f, before, rgb);
    }
    if (f->shake_px[0] != 0 || f->shake_px[1] != 0) {
        memcpy(before, rgb, bytes);
        shake(f, w, h, before, rgb);
    }
    free(before);
    return PC_OK;
}
