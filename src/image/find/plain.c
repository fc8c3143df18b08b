// SPDX-License-Identifier: Apache-2.0
#include "image/find/plain_priv.h"

#include "base/linalg.h"

enum { MODEL_SAMPLES = 400, GROW_STEPS = 4 };

static const float DARK = 1e-5F; // levels under it are all the same black

// The mean of the unclipped pixels under one small pixel; clipped when most of them are.
static void shrink_row(const struct pc_picture *picture, struct plain_field *field, int row)
{
    int k = field->shrink, channels = picture->channels;
    for (int x = 0; x < field->width_px; x++) {
        double sum[3] = {0};
        int n = 0;
        for (int j = 0; j < k; j++) {
            size_t at = (size_t)(row * k + j) * (size_t)picture->width_px + (size_t)(x * k);
            for (int i = 0; i < k; i++, at++)
                if (picture->clipped[at] == 0) {
                    for (int c = 0; c < channels; c++)
                        sum[c] += (double)picture->px[at * (size_t)channels + (size_t)c];
                    n++;
                }
        }
        size_t to = (size_t)row * (size_t)field->width_px + (size_t)x;
        field->clipped[to] = 2 * n < k * k;
        double per = n > 0 ? 1.0 / n : 0.0;
        field->level_ev[to] = (float)(sum[channels == 3 ? 1 : 0] * per);
        field->red_ev[to] = (float)(sum[0] * per);
        field->blue_ev[to] = (float)(sum[channels == 3 ? 2 : 0] * per);
    }
}

// 1 2 1 along rows and columns, for pictures that are not shrunk enough to be quiet. spare: one plane.
static void smooth(const struct plain_field *field, float *plane, float *spare)
{
    int w = field->width_px, h = field->height_px;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const float *p = plane + (size_t)y * (size_t)w;
            spare[(size_t)y * (size_t)w + (size_t)x] =
                0.25F * p[x > 0 ? x - 1 : 0] + 0.5F * p[x] + 0.25F * p[x < w - 1 ? x + 1 : x];
        }
    for (int y = 0; y < h; y++) {
        const float *up = spare + (size_t)(y > 0 ? y - 1 : 0) * (size_t)w;
        const float *at = spare + (size_t)y * (size_t)w;
        const float *down = spare + (size_t)(y < h - 1 ? y + 1 : y) * (size_t)w;
        for (int x = 0; x < w; x++)
            plane[(size_t)y * (size_t)w + (size_t)x] = 0.25F * up[x] + 0.5F * at[x] + 0.25F * down[x];
    }
}

static void to_stops(struct plain_field *field)
{
    size_t n = (size_t)field->width_px * (size_t)field->height_px;
    for (size_t i = 0; i < n; i++) {
        float level = log2f(fmaxf(field->level_ev[i], DARK));
        field->red_ev[i] = log2f(fmaxf(field->red_ev[i], DARK)) - level;
        field->blue_ev[i] = log2f(fmaxf(field->blue_ev[i], DARK)) - level;
        field->level_ev[i] = level;
    }
}

static void measure_change(struct plain_field *field)
{
    int w = field->width_px, h = field->height_px;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            size_t at = (size_t)y * (size_t)w + (size_t)x;
            size_t l = x > 0 ? at - 1 : at, r = x < w - 1 ? at + 1 : at;
            size_t u = y > 0 ? at - (size_t)w : at, d = y < h - 1 ? at + (size_t)w : at;
            float level =
                hypotf(field->level_ev[r] - field->level_ev[l], field->level_ev[d] - field->level_ev[u]);
            float red = hypotf(field->red_ev[r] - field->red_ev[l], field->red_ev[d] - field->red_ev[u]);
            float blue = hypotf(field->blue_ev[r] - field->blue_ev[l], field->blue_ev[d] - field->blue_ev[u]);
            // Ratios carry the noise of two channels, hence less weight.
            float change = fmaxf(level, 0.5F * fmaxf(red, blue));
            field->change_ev[at] = field->clipped[at] ? INFINITY : change;
        }
}

static void measure_core(struct plain_field *field)
{
    int w = field->width_px, h = field->height_px;
    for (int y = 0; y < h; y++)
        for (int x = 0; x < w; x++) {
            const float *p = field->change_ev + (size_t)y * (size_t)w + (size_t)x;
            bool rim = x < 1 || y < 1 || x >= w - 1 || y >= h - 1;
            field->core_ev[p - field->change_ev] =
                rim ? INFINITY : fmaxf(fmaxf(p[0], fmaxf(p[-1], p[1])), fmaxf(p[-w], p[w]));
        }
}

enum pc_status plain_field_init(struct pc_ctx *ctx, const struct pc_picture *picture, int about_width_px,
                                struct plain_field *field, struct pc_err *err)
{
    memset(field, 0, sizeof *field);
    int k = (picture->width_px + about_width_px - 1) / about_width_px;
    field->shrink = k;
    field->width_px = picture->width_px / k;
    field->height_px = picture->height_px / k;
    field->colour = picture->channels == 3;
    size_t n = (size_t)field->width_px * (size_t)field->height_px;
    PC_TRY(pc_buffer_init(ctx, &field->memory, n, 1, 5 * sizeof(float) + 2 * sizeof(int32_t) + 1, err));
    field->level_ev = field->memory.data;
    field->red_ev = field->level_ev + n;
    field->blue_ev = field->red_ev + n;
    field->change_ev = field->blue_ev + n;
    field->core_ev = field->change_ev + n;
    field->label = (int32_t *)(field->core_ev + n);
    field->queue = field->label + n;
    field->clipped = (uint8_t *)(field->queue + n);
    for (int y = 0; y < field->height_px; y++)
        shrink_row(picture, field, y);
    for (int times = k <= 2 ? 2 : k <= 4 ? 1 : 0; times > 0; times--) {
        smooth(field, field->level_ev, field->change_ev);
        smooth(field, field->red_ev, field->change_ev);
        smooth(field, field->blue_ev, field->change_ev);
    }
    to_stops(field);
    measure_change(field);
    measure_core(field);
    return PC_OK;
}

void plain_field_finish(struct plain_field *field)
{
    pc_buffer_finish(&field->memory);
    memset(field, 0, sizeof *field);
}

static double model_at(const struct plain_area *area, int x, int y)
{
    double u = (x - area->x) / area->half, v = (y - area->y) / area->half;
    const double *m = area->model;
    return m[0] + m[1] * u + m[2] * v + m[3] * u * u + m[4] * u * v + m[5] * v * v;
}

// Fits the light over an area to an even sample of its pixels (the first count of the queue).
static bool fit_model(const struct plain_field *field, int count, struct plain_area *area)
{
    double a[MODEL_SAMPLES * 6], b[MODEL_SAMPLES], red = 0.0, blue = 0.0;
    area->x = 0.5 * (area->left + area->right);
    area->y = 0.5 * (area->top + area->bottom);
    area->half = 0.5 * fmax(area->right - area->left, area->bottom - area->top) + 1.0;
    int n = count < MODEL_SAMPLES ? count : MODEL_SAMPLES;
    if (n < 12)
        return false;
    for (int i = 0; i < n; i++) {
        int32_t at = field->queue[(int64_t)i * count / n];
        int x = at % field->width_px, y = at / field->width_px;
        double u = (x - area->x) / area->half, v = (y - area->y) / area->half;
        const double row[6] = {1.0, u, v, u * u, u * v, v * v};
        memcpy(a + (ptrdiff_t)i * 6, row, sizeof row);
        b[i] = (double)field->level_ev[at];
        red += (double)field->red_ev[at] / n;
        blue += (double)field->blue_ev[at] / n;
    }
    if (!pc_linalg_least_squares(n, 6, a, b, area->model))
        return false;
    double square = 0.0;
    for (int i = 0; i < n; i++) {
        int32_t at = field->queue[(int64_t)i * count / n];
        double off = (double)field->level_ev[at] - model_at(area, at % field->width_px, at / field->width_px);
        square += off * off;
    }
    area->scatter_ev = sqrt(square / (n - 6 > 1 ? n - 6 : 1));
    area->red_ev = red;
    area->blue_ev = blue;
    return true;
}

static void area_takes(struct plain_area *area, int x, int y)
{
    area->left = x < area->left ? x : area->left;
    area->right = x > area->right ? x : area->right;
    area->top = y < area->top ? y : area->top;
    area->bottom = y > area->bottom ? y : area->bottom;
}

static bool reaches_rim(const struct plain_field *field, const struct plain_area *area)
{
    return area->left <= 1 || area->top <= 1 || area->right >= field->width_px - 2 ||
           area->bottom >= field->height_px - 2;
}

// Labels what hangs together with the seed. Returns the number of pixels, listed in the queue.
static int flood(struct plain_field *field, float most, int32_t seed, int32_t label, struct plain_area *area)
{
    int w = field->width_px, count = 0;
    field->queue[count++] = seed;
    field->label[seed] = label;
    for (int i = 0; i < count; i++) {
        int32_t at = field->queue[i];
        int x = at % w, y = at / w;
        area_takes(area, x, y);
        const int32_t next[4] = {at - 1, at + 1, at - w, at + w};
        for (int k = 0; k < 4; k++)
            if (field->core_ev[next[k]] < most && field->label[next[k]] == 0) {
                field->label[next[k]] = label;
                field->queue[count++] = next[k];
            }
    }
    return count;
}

// Grows an area by a few pixels as far as the light and colour it has go on.
static int grow(struct plain_field *field, double most_change_ev, int count, struct plain_area *area)
{
    int w = field->width_px, h = field->height_px, first = 0;
    double level = fmax(fmax(most_change_ev, 0.06), 3.0 * area->scatter_ev);
    for (int step = 0; step < GROW_STEPS; step++) {
        int end = count;
        for (int i = first; i < end; i++) {
            int32_t at = field->queue[i];
            int x = at % w, y = at / w;
            const int nx[4] = {x - 1, x + 1, x, x}, ny[4] = {y, y, y - 1, y + 1};
            for (int k = 0; k < 4; k++) {
                if (nx[k] < 0 || ny[k] < 0 || nx[k] >= w || ny[k] >= h)
                    continue;
                int32_t to = ny[k] * w + nx[k];
                if (field->label[to] != 0 || field->clipped[to] ||
                    fabs((double)field->level_ev[to] - model_at(area, nx[k], ny[k])) > level ||
                    fabs((double)field->red_ev[to] - area->red_ev) > 2.0 * level ||
                    fabs((double)field->blue_ev[to] - area->blue_ev) > 2.0 * level)
                    continue;
                field->label[to] = area->label;
                field->queue[count++] = to;
                area_takes(area, nx[k], ny[k]);
            }
        }
        first = end;
    }
    return count;
}

int plain_areas(struct plain_field *field, double most_change_ev, int least_px, struct plain_area *areas,
                int most_areas)
{
    int w = field->width_px, h = field->height_px, found = 0;
    float most = (float)most_change_ev;
    int32_t label = 0;
    memset(field->label, 0, sizeof *field->label * (size_t)w * (size_t)h);
    for (int y = 1; y < h - 1 && found < most_areas; y++)
        for (int x = 1; x < w - 1 && found < most_areas; x++) {
            int32_t at = y * w + x;
            if (field->label[at] != 0 || !(field->core_ev[at] < most))
                continue;
            struct plain_area area = {.label = ++label, .left = x, .top = y, .right = x, .bottom = y};
            int count = flood(field, most, at, label, &area);
            if (count < least_px || reaches_rim(field, &area) || !fit_model(field, count, &area))
                continue;
            count = grow(field, most_change_ev, count, &area);
            area.pixels = count;
            area.at_border = reaches_rim(field, &area);
            areas[found++] = area;
        }
    return found;
}

static bool keeps_to(const struct plain_field *field, const struct plain_area *area, double most_off_ev,
                     int x, int y)
{
    if (x < 0 || y < 0 || x >= field->width_px || y >= field->height_px)
        return false;
    int32_t at = y * field->width_px + x;
    return !field->clipped[at] && fabs((double)field->level_ev[at] - model_at(area, x, y)) <= most_off_ev &&
           fabs((double)field->red_ev[at] - area->red_ev) <= 2.0 * most_off_ev &&
           fabs((double)field->blue_ev[at] - area->blue_ev) <= 2.0 * most_off_ev;
}

// The mean of the few pixels about a place, as a first model.
static bool start_model(const struct plain_field *field, int x0, int y0, struct plain_area *area)
{
    enum { REACH = 2 };
    int n = 0;
    *area = (struct plain_area){.label = 1, .x = x0, .y = y0, .half = 1.0};
    for (int y = y0 - REACH; y <= y0 + REACH; y++)
        for (int x = x0 - REACH; x <= x0 + REACH; x++) {
            if (x < 0 || y < 0 || x >= field->width_px || y >= field->height_px)
                continue;
            int32_t at = y * field->width_px + x;
            if (field->clipped[at])
                continue;
            area->model[0] += (double)field->level_ev[at];
            area->red_ev += (double)field->red_ev[at];
            area->blue_ev += (double)field->blue_ev[at];
            n++;
        }
    area->model[0] /= n;
    area->red_ev /= n;
    area->blue_ev /= n;
    return 2 * n > (2 * REACH + 1) * (2 * REACH + 1);
}

static int flood_model(struct plain_field *field, double most_off_ev, int32_t seed, struct plain_area *area)
{
    int w = field->width_px, h = field->height_px, count = 0;
    memset(field->label, 0, sizeof *field->label * (size_t)w * (size_t)h);
    area->left = area->right = seed % w;
    area->top = area->bottom = seed / w;
    field->queue[count++] = seed;
    field->label[seed] = area->label;
    for (int i = 0; i < count; i++) {
        int x = field->queue[i] % w, y = field->queue[i] / w;
        area_takes(area, x, y);
        const int nx[4] = {x - 1, x + 1, x, x}, ny[4] = {y, y, y - 1, y + 1};
        for (int k = 0; k < 4; k++) {
            int32_t to = ny[k] * w + nx[k];
            if (keeps_to(field, area, most_off_ev, nx[k], ny[k]) && field->label[to] == 0) {
                field->label[to] = area->label;
                field->queue[count++] = to;
            }
        }
    }
    return count;
}

bool plain_area_about(struct plain_field *field, double x, double y, double most_off_ev,
                      struct plain_area *area)
{
    enum { PASSES = 4 };
    int x0 = (int)x, y0 = (int)y, w = field->width_px, h = field->height_px, count = 0;
    if (x0 < 0 || y0 < 0 || x0 >= w || y0 >= h || !start_model(field, x0, y0, area))
        return false;
    for (int pass = 0; pass < PASSES; pass++) {
        // The first models know only the middle: they give the light more room.
        count = flood_model(field, most_off_ev * (pass == 0 ? 1.5 : 1.0), y0 * w + x0, area);
        if (pass < PASSES - 1 && !fit_model(field, count, area))
            return false;
    }
    area->pixels = count;
    area->at_border = reaches_rim(field, area);
    return true;
}
