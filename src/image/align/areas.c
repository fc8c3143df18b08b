// SPDX-License-Identifier: Apache-2.0
#include "image/align/areas.h"

// A thing's shadow goes with it, past its own edge.
static const double MARGIN_PX = 16.0, MARGIN_RATIO = 0.15;

static void grow(struct area *area, int x, int y)
{
    area->left = x < area->left ? x : area->left;
    area->right = x > area->right ? x : area->right;
    area->top = y < area->top ? y : area->top;
    area->bottom = y > area->bottom ? y : area->bottom;
    area->cells++;
}

// Spreads a label from one cell over all that hang together with it. stack: columns * rows.
static void flood(const uint8_t *marked, int columns, int rows, int reach, int from, int *label, int *stack,
                  struct area *area)
{
    int depth = 0;
    stack[depth++] = from;
    label[from] = area->first;
    while (depth > 0) {
        int at = stack[--depth], x = at % columns, y = at / columns;
        grow(area, x, y);
        for (int v = y - reach; v <= y + reach; v++)
            for (int u = x - reach; u <= x + reach; u++) {
                if (u < 0 || v < 0 || u >= columns || v >= rows)
                    continue;
                int next = v * columns + u;
                if (!marked[next] || label[next] != 0)
                    continue;
                label[next] = area->first;
                stack[depth++] = next;
            }
    }
}

static int larger_first(const void *a, const void *b)
{
    const struct area *x = a, *y = b;
    if (x->cells != y->cells)
        return y->cells - x->cells;
    return x->first - y->first;
}

int pc_areas_gather(const uint8_t *marked, int columns, int rows, int reach, int least, int *label,
                    struct area areas[AREAS_MAX])
{
    int cells = columns * rows, count = 0, next = 1;
    int *stack = calloc((size_t)cells + 1, sizeof *stack);
    PC_ASSERT(stack != NULL);
    memset(label, 0, sizeof *label * (size_t)cells);
    for (int i = 0; i < cells; i++) {
        if (!marked[i] || label[i] != 0)
            continue;
        struct area area = {i % columns, i / columns, i % columns, i / columns, 0, next++};
        flood(marked, columns, rows, reach, i, label, stack, &area);
        if (area.cells >= least && count < AREAS_MAX)
            areas[count++] = area;
    }
    free(stack);
    qsort(areas, (size_t)count, sizeof *areas, larger_first);
    return count;
}

static double box_left(const struct pc_moved *m)
{
    return m->x_px - 0.5 * m->width_px;
}

static double box_top(const struct pc_moved *m)
{
    return m->y_px - 0.5 * m->height_px;
}

static bool overlap(const struct pc_moved *a, const struct pc_moved *b)
{
    return fabs(a->x_px - b->x_px) < 0.5 * (a->width_px + b->width_px) &&
           fabs(a->y_px - b->y_px) < 0.5 * (a->height_px + b->height_px);
}

static void set_box(struct pc_moved *m, double x0, double y0, double x1, double y1)
{
    m->x_px = 0.5 * (x0 + x1);
    m->y_px = 0.5 * (y0 + y1);
    m->width_px = x1 - x0;
    m->height_px = y1 - y0;
}

// The larger one's movement is kept.
static void join(struct pc_moved *into, const struct pc_moved *from)
{
    double area_into = into->width_px * into->height_px, area_from = from->width_px * from->height_px;
    double x0 = fmin(box_left(into), box_left(from)), y0 = fmin(box_top(into), box_top(from));
    double x1 = fmax(box_left(into) + into->width_px, box_left(from) + from->width_px);
    double y1 = fmax(box_top(into) + into->height_px, box_top(from) + from->height_px);
    if (isnan(into->by_px) || (!isnan(from->by_px) && area_from > area_into))
        into->by_px = from->by_px;
    set_box(into, x0, y0, x1, y1);
}

void pc_areas_report(const struct pc_picture *picture, double x0_px, double y0_px, double x1_px, double y1_px,
                     double by_px, struct pc_moved moved[PC_MOVED_MAX], int *count)
{
    double margin_x = MARGIN_PX + MARGIN_RATIO * (x1_px - x0_px);
    double margin_y = MARGIN_PX + MARGIN_RATIO * (y1_px - y0_px);
    struct pc_moved new = {.by_px = by_px};
    set_box(&new, fmax(x0_px - margin_x, 0.0), fmax(y0_px - margin_y, 0.0),
            fmin(x1_px + margin_x, picture->full_width_px), fmin(y1_px + margin_y, picture->full_height_px));
    for (int i = 0; i < *count;) {
        if (!overlap(&new, &moved[i])) {
            i++;
            continue;
        }
        join(&new, &moved[i]);
        moved[i] = moved[--*count];
        i = 0; // what it grew by may touch one that was passed
    }
    if (*count == PC_MOVED_MAX) // nothing that moved may be forgotten: the last holds the rest
        join(&moved[PC_MOVED_MAX - 1], &new);
    else
        moved[(*count)++] = new;
}

void pc_areas_leave_out(const struct pc_picture *picture, const struct pc_moved *moved, int count,
                        uint8_t *leave_out)
{
    for (int i = 0; i < count; i++) {
        int x0 = (int)floor(box_left(&moved[i]) / picture->bin),
            y0 = (int)floor(box_top(&moved[i]) / picture->bin);
        int x1 = (int)ceil((box_left(&moved[i]) + moved[i].width_px) / picture->bin);
        int y1 = (int)ceil((box_top(&moved[i]) + moved[i].height_px) / picture->bin);
        for (int y = y0 < 0 ? 0 : y0; y < y1 && y < picture->height_px; y++)
            for (int x = x0 < 0 ? 0 : x0; x < x1 && x < picture->width_px; x++)
                leave_out[(size_t)y * (size_t)picture->width_px + (size_t)x] = 1;
    }
}
