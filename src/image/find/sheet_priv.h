// SPDX-License-Identifier: Apache-2.0
// The steps of finding a sheet: a small picture in stops, its plain areas, straight lines among their edges,
// and sides laid on the edges of the picture itself.
#ifndef PC_IMAGE_FIND_SHEET_PRIV_H
#define PC_IMAGE_FIND_SHEET_PRIV_H

#include "image/find/sheet.h"

enum { SHEET_LINES_MAX = 20, SHEET_WAYS = 360, SHEET_AREAS_MAX = 2000 };

// The picture made small.
struct sheet_field {
    int width_px, height_px;
    int shrink;      // pixels of the picture along one side of a pixel here
    float *level_ev; // log2; clipped pixels count as what clips
    float *step_ev;  // length of the gradient, EV over two pixels
    float *way_rad;  // towards the brighter side
    uint8_t *edge;   // not 0: the gradient is largest here along its own way
    float *votes;    // room for the lines: SHEET_WAYS x sheet_most_rhos()
    int32_t *label;  // which plain area; 0: none
    int32_t *queue;
    int32_t *voters; // edges, area by area
    struct pc_buffer memory;
};

enum pc_status sheet_field_init(struct pc_ctx *ctx, const struct pc_picture *picture,
                                struct sheet_field *field, struct pc_err *err) PC_MUST_CHECK;
void sheet_field_finish(struct sheet_field *field);

// A plain area: its pixels, and the edges that bound it on their brighter side, voters[first] and on.
struct sheet_area {
    int pixels, voters;
    int32_t first;
};

// Parts the field into areas without a step of most_step_ev, of least_px and more; returns how many.
int sheet_areas(struct sheet_field *field, float most_step_ev, int least_px,
                struct sheet_area areas[SHEET_AREAS_MAX]);

// x cos way + y sin way = rho; the brighter side is where it is larger.
struct sheet_line {
    double way_rad, nx, ny, rho_px;
    // Edges seen along it (-x sin way + y cos way): seen[i] counts the steps of one pixel from along_px to
    // along_px + i that have one.
    int along_px, steps;
    int32_t *seen;
};

// The strongest straight lines through voters, each once, strongest first. seen: SHEET_LINES_MAX rows of
// sheet_most_rhos().
int sheet_most_rhos(const struct sheet_field *field);
int sheet_lines(struct sheet_field *field, const int32_t *voters, int count, int32_t *seen,
                struct sheet_line lines[SHEET_LINES_MAX]);

// Share of the way from a to b (both near the line) that shows its edge.
double sheet_line_seen(const struct sheet_line *line, const double a[2], const double b[2]);

// Moves the sides onto the picture's edges, at most within_px off (pixels of this picture). False, sheet
// untouched, when a side shows none. Fills in sides and corners, still in pixels of this picture.
bool sheet_sides(const struct pc_picture *picture, const double corner[4][2], double within_px,
                 struct pc_sheet *sheet);

// Share of the figure's inside that is plain and of one smooth light.
double sheet_plain_ratio(const struct sheet_field *field, const double corner[4][2]);

#endif
