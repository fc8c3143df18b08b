// SPDX-License-Identifier: Apache-2.0
#include "image/find/sheet.h"

#include "base/units.h"
#include "image/find/quad.h"
#include "image/find/sheet_priv.h"

enum {
    PAIRS_MAX = SHEET_LINES_MAX * SHEET_LINES_MAX / 2,
    FIGURES_MAX = 24,
    PLAIN_LOOKS = 16,
    LEAST_SIDE_px = 64
};

static const double LEAST_SHORT_ratio = 0.03;
static const double LEAST_SCORE = 0.5, LEAST_SEEN = 0.35, LEAST_SEEN_OF_ALL = 0.58, LEAST_PLAIN = 0.6;
static const double AT_CORNER_ratio = 0.01; // how far a given place may be from its corner, of the width

struct figure {
    double corner[4][2]; // pixels of the field
    double seen, plain, score;
};

static int compare_levels(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static void place_in(const double corner[4][2], double u, double v, double xy[2])
{
    for (int c = 0; c < 2; c++)
        xy[c] = (1.0 - v) * ((1.0 - u) * corner[0][c] + u * corner[1][c]) +
                v * ((1.0 - u) * corner[3][c] + u * corner[2][c]);
}

// Paper has no steps of its own, and light over it changes smoothly: each place must be without a step and on
// the level of its neighbours' middle.
double sheet_plain_ratio(const struct sheet_field *field, const double corner[4][2])
{
    const double MOST_STEP_ev = 0.09, MOST_OFF_ev = 0.35;
    double level[PLAIN_LOOKS * PLAIN_LOOKS], sorted[PLAIN_LOOKS * PLAIN_LOOKS];
    bool still[PLAIN_LOOKS * PLAIN_LOOKS];
    for (int j = 0; j < PLAIN_LOOKS; j++)
        for (int i = 0; i < PLAIN_LOOKS; i++) {
            double xy[2];
            place_in(corner, (i + 1.0) / (PLAIN_LOOKS + 1), (j + 1.0) / (PLAIN_LOOKS + 1), xy);
            int x = (int)fmin(fmax(xy[0], 0.0), field->width_px - 1),
                y = (int)fmin(fmax(xy[1], 0.0), field->height_px - 1), k = j * PLAIN_LOOKS + i;
            size_t at = (size_t)y * (size_t)field->width_px + (size_t)x;
            level[k] = (double)field->level_ev[at];
            still[k] = (double)field->step_ev[at] < MOST_STEP_ev;
        }
    memcpy(sorted, level, sizeof level);
    qsort(sorted, PC_COUNT(sorted), sizeof *sorted, compare_levels);
    double high = sorted[PC_COUNT(sorted) * 3 / 4];
    int plain = 0;
    for (size_t k = 0; k < PC_COUNT(level); k++)
        plain += still[k] && level[k] > high - 2.0 * MOST_OFF_ev && level[k] < high + MOST_OFF_ev;
    return plain / (double)PC_COUNT(level);
}

static bool meet(const struct sheet_line *a, const struct sheet_line *b, double xy[2])
{
    double det = a->nx * b->ny - a->ny * b->nx;
    if (fabs(det) < 0.25) // under 15 degrees apart: no corner of a sheet seen at up to 65 degrees
        return false;
    xy[0] = (a->rho_px * b->ny - b->rho_px * a->ny) / det;
    xy[1] = (a->nx * b->rho_px - b->nx * a->rho_px) / det;
    return true;
}

// The figure between two pairs of lines that face each other. False when it is none, or reaches out of the
// picture.
static bool figure_between(const struct sheet_field *field, const struct sheet_line *side[4],
                           struct figure *figure)
{
    double(*c)[2] = figure->corner;
    for (int i = 0; i < 4; i++)
        if (!meet(side[(i + 3) % 4], side[i], c[i]) || !(c[i][0] > 1.0) || !(c[i][1] > 1.0) ||
            !(c[i][0] < field->width_px - 1.0) || !(c[i][1] < field->height_px - 1.0))
            return false;
    double length[4];
    for (int i = 0; i < 4; i++) {
        double dx = c[(i + 1) % 4][0] - c[i][0], dy = c[(i + 1) % 4][1] - c[i][1];
        length[i] = hypot(dx, dy);
        // Clockwise as seen, the brighter side inside.
        if (!(dx * side[i]->ny - dy * side[i]->nx > 0.9 * length[i]))
            return false;
    }
    double a = 0.5 * (length[0] + length[2]), b = 0.5 * (length[1] + length[3]);
    double shorter = fmin(a, b), longer = fmax(a, b);
    if (shorter < LEAST_SHORT_ratio * field->width_px || longer > 4.0 * shorter)
        return false;
    for (int i = 0; i < 2; i++)
        if (length[i] > 1.9 * length[i + 2] || length[i + 2] > 1.9 * length[i])
            return false;
    double seen = 0.0, whole = 0.0;
    for (int i = 0; i < 4; i++) {
        double here = sheet_line_seen(side[i], c[i], c[(i + 1) % 4]);
        if (here < LEAST_SEEN)
            return false;
        seen += here * length[i];
        whole += length[i];
    }
    figure->seen = seen / whole;
    return figure->seen >= LEAST_SEEN_OF_ALL;
}

static bool same_figure(const struct figure *a, const struct figure *b)
{
    double far = 0.0;
    for (int i = 0; i < 4; i++) {
        double nearest = INFINITY;
        for (int j = 0; j < 4; j++)
            nearest =
                fmin(nearest, hypot(a->corner[i][0] - b->corner[j][0], a->corner[i][1] - b->corner[j][1]));
        far = fmax(far, nearest);
    }
    return far < 4.0;
}

static void keep_figure(struct figure *list, int *count, const struct figure *figure)
{
    for (int i = 0; i < *count; i++)
        if (same_figure(&list[i], figure)) {
            if (list[i].score >= figure->score)
                return;
            memmove(&list[i], &list[i + 1], sizeof *list * (size_t)(--*count - i));
            break;
        }
    int at = *count;
    while (at > 0 && list[at - 1].score < figure->score)
        at--;
    if (at == FIGURES_MAX)
        return;
    int last = *count < FIGURES_MAX ? (*count)++ : FIGURES_MAX - 1;
    memmove(&list[at + 1], &list[at], sizeof *list * (size_t)(last - at));
    list[at] = *figure;
}

// Two lines that may be opposite sides: each brighter towards the other, and not too near.
static bool may_face(const struct sheet_field *field, const struct sheet_line *a, const struct sheet_line *b)
{
    if (a->nx * b->nx + a->ny * b->ny > -0.55)
        return false;
    double middle = b->along_px + 0.5 * b->steps;
    double x = b->rho_px * b->nx - middle * b->ny, y = b->rho_px * b->ny + middle * b->nx;
    return a->nx * x + a->ny * y - a->rho_px > 0.4 * LEAST_SHORT_ratio * field->width_px;
}

// The mean of its two diagonals, in pixels.
static double size_of(const struct figure *figure)
{
    const double(*c)[2] = figure->corner;
    return 0.5 * (hypot(c[2][0] - c[0][0], c[2][1] - c[0][1]) + hypot(c[3][0] - c[1][0], c[3][1] - c[1][1]));
}

// Adds all figures between lines to the list, best first.
static void add_figures(const struct sheet_field *field, const struct sheet_line *lines, int count,
                        struct figure list[FIGURES_MAX], int *found)
{
    int pair[PAIRS_MAX][2], pairs = 0;
    for (int i = 0; i < count; i++)
        for (int j = i + 1; j < count && pairs < PAIRS_MAX; j++)
            if (may_face(field, &lines[i], &lines[j]))
                pair[pairs][0] = i, pair[pairs++][1] = j;
    for (int p = 0; p < pairs; p++)
        for (int q = p + 1; q < pairs; q++) {
            const struct sheet_line *a = &lines[pair[p][0]], *b = &lines[pair[p][1]];
            const struct sheet_line *c = &lines[pair[q][0]], *d = &lines[pair[q][1]];
            if (fabs(a->nx * c->nx + a->ny * c->ny) > 0.9)
                continue;
            // Clockwise as seen, normals turn by a right angle from side to side.
            bool turned = a->nx * c->ny - a->ny * c->nx > 0.0;
            const struct sheet_line *side[4] = {a, turned ? c : d, b, turned ? d : c};
            struct figure figure;
            if (!figure_between(field, side, &figure))
                continue;
            figure.plain = sheet_plain_ratio(field, figure.corner);
            if (figure.plain < LEAST_PLAIN)
                continue;
            // Checks and tiles are as plain, and many; what is larger than they are comes first.
            figure.score = figure.seen * figure.plain * sqrt(size_of(&figure));
            keep_figure(list, found, &figure);
        }
}

// Every plain four-sided thing in the field.
static int figures(struct sheet_field *field, int32_t *seen, struct figure list[FIGURES_MAX])
{
    // From paper on white plaster to paper in a noisy frame.
    static const float MOST_STEPS_ev[] = {0.025F, 0.07F};
    // An area's edge over the root of its size: 4 for a sheet seen straight, 5 at a slant, more where things
    // lie on it; a board seen between its own grain has far more.
    const double MOST_EDGE = 30.0;
    int found = 0;
    int least_px = (int)(0.6 * LEAST_SHORT_ratio * LEAST_SHORT_ratio * field->width_px * field->width_px);
    for (size_t t = 0; t < PC_COUNT(MOST_STEPS_ev); t++) {
        struct sheet_area areas[SHEET_AREAS_MAX];
        int count = sheet_areas(field, MOST_STEPS_ev[t], least_px, areas);
        for (int i = 0; i < count; i++) {
            if (areas[i].voters > MOST_EDGE * sqrt(areas[i].pixels))
                continue;
            struct sheet_line lines[SHEET_LINES_MAX];
            int line_count = sheet_lines(field, field->voters + areas[i].first, areas[i].voters, seen, lines);
            add_figures(field, lines, line_count, list, &found);
        }
    }
    return found;
}

// Into full-resolution pixels, the corner nearest the top left first.
static void finish_sheet(const struct pc_picture *picture, struct pc_sheet *sheet)
{
    // Tones bent by a camera and light past clipping move an edge towards its darker side.
    const double LINEAR_px = 0.05, BENT_px = 0.25, CLIPPED_px = 0.5;
    sheet->halo_sd_px = picture->bin * hypot(picture->space == PC_SPACE_DISPLAY ? BENT_px : LINEAR_px,
                                             CLIPPED_px * sheet->clipped_ratio);
    int first = 0;
    for (int i = 1; i < 4; i++)
        if (hypot(sheet->corner_px[i][0], sheet->corner_px[i][1]) <
            hypot(sheet->corner_px[first][0], sheet->corner_px[first][1]))
            first = i;
    struct pc_sheet turned = *sheet;
    for (int i = 0; i < 4; i++) {
        turned.side[i] = sheet->side[(first + i) % 4];
        turned.side[i].x_px *= picture->bin;
        turned.side[i].y_px *= picture->bin;
        turned.side[i].offset_sd_px *= picture->bin;
        for (int c = 0; c < 2; c++)
            turned.corner_px[i][c] = sheet->corner_px[(first + i) % 4][c] * picture->bin;
    }
    *sheet = turned;
}

static void lay_figures(const struct pc_picture *picture, const struct sheet_field *field,
                        const struct figure *list, int found, struct pc_sheet sheets[PC_SHEETS_MAX],
                        int *count)
{
    for (int i = 0; i < found && *count < PC_SHEETS_MAX; i++) {
        double corner[4][2];
        for (int k = 0; k < 4; k++)
            for (int c = 0; c < 2; c++)
                corner[k][c] = list[i].corner[k][c] * field->shrink;
        struct pc_sheet sheet;
        if (!sheet_sides(picture, corner, 2.5 * field->shrink + 2.0, &sheet))
            continue;
        bool known = false;
        for (int k = 0; k < *count; k++)
            known = known || fabs(sheets[k].corner_px[0][0] - picture->bin * sheet.corner_px[0][0]) +
                                     fabs(sheets[k].corner_px[2][0] - picture->bin * sheet.corner_px[2][0]) <
                                 2.0;
        if (known)
            continue;
        double seen = 0.0;
        for (int k = 0; k < 4; k++)
            seen += 0.25 * sheet.side[k].seen_ratio;
        sheet.score_ratio = seen * list[i].plain;
        if (sheet.score_ratio < LEAST_SCORE)
            continue;
        finish_sheet(picture, &sheet);
        sheets[(*count)++] = sheet;
    }
}

static int compare_sheets(const void *a, const void *b)
{
    double x = ((const struct pc_sheet *)a)->score_ratio, y = ((const struct pc_sheet *)b)->score_ratio;
    return (x < y) - (x > y);
}

enum pc_status pc_find_sheets(struct pc_ctx *ctx, const struct pc_picture *picture,
                              struct pc_sheet sheets[PC_SHEETS_MAX], int *count, struct pc_err *err)
{
    *count = 0;
    if (picture->width_px < LEAST_SIDE_px || picture->height_px < LEAST_SIDE_px)
        return PC_OK;
    struct sheet_field field;
    struct pc_buffer seen = {0};
    PC_TRY(sheet_field_init(ctx, picture, &field, err));
    enum pc_status status =
        pc_buffer_init(ctx, &seen, SHEET_LINES_MAX, (size_t)sheet_most_rhos(&field), sizeof(int32_t), err);
    if (status == PC_OK) {
        struct figure list[FIGURES_MAX];
        int found = figures(&field, seen.data, list);
        lay_figures(picture, &field, list, found, sheets, count);
        qsort(sheets, (size_t)*count, sizeof *sheets, compare_sheets);
    }
    pc_buffer_finish(&seen);
    sheet_field_finish(&field);
    return status;
}

// Clockwise as seen about their middle.
static void order_round(const double given[4][2], double corner[4][2])
{
    double x = 0.0, y = 0.0, way[4];
    for (int i = 0; i < 4; i++) {
        x += 0.25 * given[i][0];
        y += 0.25 * given[i][1];
    }
    for (int i = 0; i < 4; i++) {
        double w = atan2(given[i][1] - y, given[i][0] - x);
        int at = i;
        for (; at > 0 && way[at - 1] > w; at--) {
            way[at] = way[at - 1];
            memcpy(corner[at], corner[at - 1], sizeof corner[at]);
        }
        way[at] = w;
        memcpy(corner[at], given[i], sizeof corner[at]);
    }
}

bool pc_find_sheet_at(const struct pc_picture *picture, const double corner_px[4][2], struct pc_sheet *sheet)
{
    double corner[4][2];
    order_round(corner_px, corner);
    for (int i = 0; i < 4; i++)
        for (int c = 0; c < 2; c++)
            corner[i][c] /= picture->bin;
    for (int i = 0; i < 4; i++) { // convex
        const double *o = corner[i], *a = corner[(i + 1) % 4], *b = corner[(i + 2) % 4];
        if (!((a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0]) > 0.0))
            return false;
    }
    double within_px = fmin(60.0, AT_CORNER_ratio * picture->width_px + 2.0);
    struct pc_sheet laid;
    if (!sheet_sides(picture, corner, within_px, &laid))
        return false;
    laid.score_ratio = 0.0;
    for (int i = 0; i < 4; i++)
        laid.score_ratio += 0.25 * laid.side[i].seen_ratio;
    finish_sheet(picture, &laid);
    *sheet = laid;
    return true;
}
