// SPDX-License-Identifier: Apache-2.0
// Where the hero's shadows lie: in the ratio of a part to the ambient the reflectances cancel, and what is
// left is where that light does not reach.
#include "base/units.h"
#include "light/parts/answers.h"

enum { CELL_PX = 4 };
static const double RING_RATIO = 0.22;   // of the picture's width, about the hero
static const double SHADOW_RATIO = 0.35; // of the open light: the darker part of a shadow, penumbra left off
static const double LEAST_AREA_RATIO = 0.01; // of the ring; less is texture or a fork
static const double OPEN_QUANTILE = 0.75;
static const double LEAST_SHARE_RATIO =
    0.05; // of the light about the hero: a fainter light throws no visible shadow

struct cell {
    double x_px, y_px; // full-resolution centre
    double part, ambient, all;
};

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double cell_Y(const struct pc_parts *parts, const struct pc_picture *picture, int cx, int cy)
{
    double sum[3] = {0.0, 0.0, 0.0};
    for (int y = cy; y < cy + CELL_PX; y++)
        for (int x = cx; x < cx + CELL_PX; x++)
            for (int c = 0; c < picture->channels; c++)
                sum[c] +=
                    (double)picture
                        ->px[((size_t)y * (size_t)picture->width_px + (size_t)x) * (size_t)picture->channels +
                             (size_t)c];
    return pc_parts_Y(parts, sum) / (CELL_PX * CELL_PX);
}

static int ring_cells(const struct pc_parts *parts, const struct pc_place *hero, struct cell *cells,
                      int *positions)
{
    const struct pc_picture *a = &parts->ambient;
    double reach_px = RING_RATIO * a->full_width_px;
    int n = 0;
    for (int cy = 0; cy + CELL_PX <= a->height_px; cy += CELL_PX)
        for (int cx = 0; cx + CELL_PX <= a->width_px; cx += CELL_PX) {
            double x = (cx + CELL_PX / 2.0) * a->bin, y = (cy + CELL_PX / 2.0) * a->bin;
            size_t at = (size_t)cy * (size_t)a->width_px + (size_t)cx;
            if (hypot(x - hero->x_px, y - hero->y_px) > reach_px || a->clipped[at] != 0 ||
                parts->leave_out[at] != 0)
                continue;
            double Y = cell_Y(parts, a, cx, cy);
            if (!(Y > 0.0))
                continue;
            cells[n] = (struct cell){.x_px = x, .y_px = y, .ambient = Y};
            positions[n++] = cy * a->width_px + cx;
        }
    return n;
}

static bool light_shadow(struct cell *cells, int n, double *scratch, struct pc_shadow *shadow)
{
    for (int i = 0; i < n; i++)
        scratch[i] = cells[i].part / cells[i].ambient;
    qsort(scratch, (size_t)n, sizeof *scratch, compare_doubles);
    double open = scratch[(int)(OPEN_QUANTILE * (n - 1))], x = 0.0, y = 0.0;
    int count = 0;
    double all = 0.0, alone = 0.0;
    for (int i = 0; i < n; i++) {
        all += cells[i].all;
        alone += open * cells[i].ambient;
    }
    if (alone < LEAST_SHARE_RATIO * all)
        return false;
    for (int i = 0; i < n; i++) {
        double reached = cells[i].part / cells[i].ambient;
        if (reached > SHADOW_RATIO * open)
            continue;
        x += cells[i].x_px;
        y += cells[i].y_px;
        scratch[count++] = pc_ev_from_ratio(1.0 + (open - reached) * cells[i].ambient / cells[i].all);
    }
    if (count < LEAST_AREA_RATIO * n || count == 0)
        return false;
    qsort(scratch, (size_t)count, sizeof *scratch, compare_doubles);
    shadow->x_px = x / count;
    shadow->y_px = y / count;
    shadow->depth_ev = scratch[count / 2];
    shadow->area_ratio = (double)count / n;
    return true;
}

int pc_parts_shadows(const struct pc_parts *parts, const struct pc_reading *reading,
                     const struct pc_dials *dials, struct pc_shadow shadow[PC_LIGHTS_MAX])
{
    const struct pc_picture *a = &parts->ambient;
    size_t room = (size_t)(a->width_px / CELL_PX + 1) * (size_t)(a->height_px / CELL_PX + 1);
    struct cell *cells = calloc(room, sizeof *cells);
    int *positions = calloc(room, sizeof *positions);
    double *scratch = calloc(room, sizeof *scratch);
    PC_ASSERT(cells != NULL && positions != NULL && scratch != NULL);
    int n = ring_cells(parts, &reading->place[PC_PLACE_HERO], cells, positions), found = 0;
    double weights[PC_EMITTERS_MAX], ambient_weight;
    pc_reading_weights(reading, dials, weights, &ambient_weight);
    struct pc_basis basis;
    pc_parts_basis(parts, reading, &basis);
    for (int i = 0; i < n; i++)
        cells[i].all = cells[i].ambient * ambient_weight;
    // Two passes: everything first, since a shadow's depth is against all the light there.
    for (int pass = 0; pass < 2; pass++)
        for (int light = 0; light < reading->light_count && n > 0; light++) {
            for (int i = 0; i < n; i++)
                cells[i].part = 0.0;
            for (int k = 0; k < reading->light[light].emitter_count; k++) {
                int e = reading->light[light].emitter[k];
                double weight = weights[e] * basis.per_full[e];
                for (int i = 0; i < n && weight > 0.0; i++)
                    cells[i].part += weight * cell_Y(parts, &parts->part[basis.part[e]].picture,
                                                     positions[i] % a->width_px, positions[i] / a->width_px);
            }
            for (int i = 0; i < n && pass == 0; i++)
                cells[i].all += fmax(cells[i].part, 0.0);
            if (pass == 1 && light_shadow(cells, n, scratch, &shadow[found]))
                shadow[found++].light = light;
        }
    free(cells);
    free(positions);
    free(scratch);
    return found;
}
