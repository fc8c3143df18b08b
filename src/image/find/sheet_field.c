// SPDX-License-Identifier: Apache-2.0
#include "image/find/sheet_priv.h"

#include "base/units.h"

enum { ABOUT_WIDTH_px = 1024 };

static const float DARK = 0.003F;         // levels well under it are all the same black
static const float LEAST_STEP_ev = 0.02F; // a third of paper on white plaster, blurred

static float level_of(const struct pc_picture *picture, size_t at)
{
    float value = picture->px[picture->channels == 3 ? 3 * at + 1 : at];
    return picture->clipped[at] != 0 || value > 1.0F ? 1.0F : value > 0.0F ? value : 0.0F;
}

static void shrink(const struct pc_picture *picture, struct sheet_field *field)
{
    int k = field->shrink, w = field->width_px;
    float per = 1.0F / (float)(k * k);
    for (int y = 0; y < field->height_px; y++)
        for (int x = 0; x < w; x++) {
            float sum = 0.0F;
            for (int j = 0; j < k; j++) {
                size_t at = (size_t)(y * k + j) * (size_t)picture->width_px + (size_t)(x * k);
                for (int i = 0; i < k; i++)
                    sum += level_of(picture, at + (size_t)i);
            }
            field->level_ev[(size_t)y * (size_t)w + (size_t)x] = log2f(sum * per + DARK);
        }
}

// 1 2 1 along rows and columns. spare: one plane.
static void smooth(const struct sheet_field *field, float *plane, float *spare)
{
    int w = field->width_px, h = field->height_px;
    for (int y = 0; y < h; y++) {
        const float *p = plane + (size_t)y * (size_t)w;
        for (int x = 0; x < w; x++)
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

// Around the field runs a step that nothing crosses.
static void measure_steps(struct sheet_field *field)
{
    int w = field->width_px, h = field->height_px;
    for (int x = 0; x < w; x++)
        field->step_ev[x] = field->step_ev[(size_t)(h - 1) * (size_t)w + (size_t)x] = INFINITY;
    for (int y = 0; y < h; y++)
        field->step_ev[(size_t)y * (size_t)w] = field->step_ev[(size_t)(y + 1) * (size_t)w - 1] = INFINITY;
    for (int y = 1; y < h - 1; y++)
        for (int x = 1; x < w - 1; x++) {
            const float *p = field->level_ev + (size_t)y * (size_t)w + (size_t)x;
            float gx = p[1] - p[-1], gy = p[w] - p[-w];
            field->step_ev[p - field->level_ev] = sqrtf(gx * gx + gy * gy);
        }
}

// Edges are where the gradient is largest along its own way (Canny, IEEE PAMI 8:679, 1986, section VI).
static void mark_edges(struct sheet_field *field)
{
    const float EIGHTH_TURN = 0.41421356F; // tangent of half of it: which neighbours lie along the gradient
    int w = field->width_px, h = field->height_px;
    for (int y = 2; y < h - 2; y++)
        for (int x = 2; x < w - 2; x++) {
            size_t at = (size_t)y * (size_t)w + (size_t)x;
            const float *s = field->step_ev + at, *p = field->level_ev + at;
            if (s[0] < LEAST_STEP_ev)
                continue;
            float gx = p[1] - p[-1], gy = p[w] - p[-w];
            int dx = fabsf(gx) > EIGHTH_TURN * fabsf(gy) ? (gx > 0.0F ? 1 : -1) : 0;
            int dy = fabsf(gy) > EIGHTH_TURN * fabsf(gx) ? (gy > 0.0F ? 1 : -1) : 0;
            ptrdiff_t beside = (ptrdiff_t)dy * w + dx;
            field->edge[at] = s[0] >= s[beside] && s[0] > s[-beside];
            if (field->edge[at])
                field->way_rad[at] = atan2f(gy, gx);
        }
}

enum pc_status sheet_field_init(struct pc_ctx *ctx, const struct pc_picture *picture,
                                struct sheet_field *field, struct pc_err *err)
{
    memset(field, 0, sizeof *field);
    field->shrink = (picture->width_px + ABOUT_WIDTH_px - 1) / ABOUT_WIDTH_px;
    field->width_px = picture->width_px / field->shrink;
    field->height_px = picture->height_px / field->shrink;
    size_t n = (size_t)field->width_px * (size_t)field->height_px;
    size_t votes = SHEET_WAYS * (size_t)sheet_most_rhos(field);
    PC_TRY(pc_buffer_init(ctx, &field->memory,
                          n * (3 * sizeof(float) + 3 * sizeof(int32_t) + 1) + votes * sizeof(float), 1, 1,
                          err));
    field->level_ev = field->memory.data;
    field->step_ev = field->level_ev + n;
    field->way_rad = field->step_ev + n;
    field->votes = field->way_rad + n;
    field->label = (int32_t *)(field->votes + votes);
    field->queue = field->label + n;
    field->voters = field->queue + n;
    field->edge = (uint8_t *)(field->voters + n);
    shrink(picture, field);
    for (int times = field->shrink <= 2 ? 2 : 1; times > 0; times--)
        smooth(field, field->level_ev, field->step_ev);
    measure_steps(field);
    mark_edges(field);
    return PC_OK;
}

void sheet_field_finish(struct sheet_field *field)
{
    pc_buffer_finish(&field->memory);
    memset(field, 0, sizeof *field);
}

// Joins what hangs together without a step of most_step_ev. Returns how many pixels; they get the label.
static int flood(struct sheet_field *field, float most_step_ev, int32_t seed, int32_t label)
{
    const int32_t beside[4] = {-1, 1, -field->width_px, field->width_px};
    const float *step_ev = field->step_ev;
    int32_t *labels = field->label, *queue = field->queue;
    int count = 0;
    queue[count++] = seed;
    labels[seed] = label;
    for (int i = 0; i < count; i++)
        for (int k = 0; k < 4; k++) {
            int32_t next = queue[i] + beside[k];
            if (labels[next] == 0 && step_ev[next] < most_step_ev) {
                labels[next] = label;
                queue[count++] = next;
            }
        }
    return count;
}

// The area that an edge bounds on its brighter side: the first one met within a few pixels.
static int32_t area_of(const struct sheet_field *field, int x, int y, size_t at)
{
    enum { REACH_px = 5 };
    float c = cosf(field->way_rad[at]), s = sinf(field->way_rad[at]);
    for (int k = 1; k <= REACH_px; k++) {
        int ix = x + (int)lrintf(c * (float)k), iy = y + (int)lrintf(s * (float)k);
        if (ix < 0 || iy < 0 || ix >= field->width_px || iy >= field->height_px)
            return 0;
        int32_t label = field->label[(size_t)iy * (size_t)field->width_px + (size_t)ix];
        if (label > 0)
            return label;
    }
    return 0;
}

// The edges of each area one after the other in voters.
static void list_voters(struct sheet_field *field, int count, struct sheet_area *areas)
{
    int32_t n = field->width_px * field->height_px, next = 0;
    for (int32_t at = 0; at < n; at++) {
        int32_t area =
            field->edge[at] != 0 ? area_of(field, at % field->width_px, at / field->width_px, (size_t)at) : 0;
        field->queue[at] = area;
        if (area > 0)
            areas[area - 1].voters++;
    }
    for (int i = 0; i < count; i++) {
        areas[i].first = next;
        next += areas[i].voters;
        areas[i].voters = 0;
    }
    for (int32_t at = 0; at < n; at++)
        if (field->queue[at] > 0) {
            struct sheet_area *area = &areas[field->queue[at] - 1];
            field->voters[area->first + area->voters++] = at;
        }
}

int sheet_areas(struct sheet_field *field, float most_step_ev, int least_px,
                struct sheet_area areas[SHEET_AREAS_MAX])
{
    int w = field->width_px, count = 0;
    size_t n = (size_t)w * (size_t)field->height_px;
    memset(field->label, 0, sizeof *field->label * n);
    for (int y = 1; y < field->height_px - 1; y++)
        for (int x = 1; x < w - 1; x++) {
            int32_t at = y * w + x;
            if (field->label[at] != 0 || !(field->step_ev[at] < most_step_ev) || count == SHEET_AREAS_MAX)
                continue;
            int pixels = flood(field, most_step_ev, at, count + 1);
            if (pixels >= least_px)
                areas[count++] = (struct sheet_area){.pixels = pixels};
            else
                for (int i = 0; i < pixels; i++)
                    field->label[field->queue[i]] = -1;
        }
    list_voters(field, count, areas);
    return count;
}
