// SPDX-License-Identifier: Apache-2.0
// Drawings with a pen on paper, as SVG, PDF or PNG. Black on white and greys, so that they print.
//
// Millimetres on the sheet from its upper left corner, x to the right, y down. The same calls give the same
// bytes. A drawing belongs to one thread; several may be drawn at once.
#ifndef PC_BASE_DRAW_H
#define PC_BASE_DRAW_H

#include "base/arena.h"

enum pc_draw_form { PC_DRAW_SVG, PC_DRAW_PDF, PC_DRAW_PNG };

// By the ending of a file's name, .svg, .pdf or .png in either case. PC_MISUSE for any other.
enum pc_status pc_draw_form_of(const char *path, enum pc_draw_form *form, struct pc_err *err) PC_MUST_CHECK;

struct pc_draw; // opaque

struct pc_spot_mm {
    double x_mm, y_mm;
};

struct pc_pen {
    double width_mm;
    double grey_ratio;      // 0 black to 1 white
    double dash_mm, gap_mm; // 0: a whole line
};

enum pc_draw_anchor { PC_DRAW_START, PC_DRAW_MIDDLE, PC_DRAW_END };

struct pc_lettering {
    double size_mm; // of the type, from line to line about 1.2 of it
    double grey_ratio;
    enum pc_draw_anchor anchor; // which part of the text stands at its place
    double turn_rad;            // clockwise, about that place
    bool bold, italic;
};

enum { PC_DRAW_MOST_MM = 2000, PC_DRAW_PNG_PX_PER_MM = 8 };

// A white sheet, each side up to PC_DRAW_MOST_MM (a larger one is a bug of ours). title goes into the file
// for programs that show one; NULL: none.
enum pc_status pc_draw_create(enum pc_draw_form form, double width_mm, double height_mm, const char *title,
                              struct pc_draw **draw, struct pc_err *err) PC_MUST_CHECK;
void pc_draw_destroy(struct pc_draw *draw); // NULL is fine

// Straight from point to point.
void pc_draw_line(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                  size_t count);
// The same, and back to the first.
void pc_draw_outline(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                     size_t count);
// Smoothly through each point: the tangent at one is half the step from the one before to the one after
// (Catmull and Rom, 1974).
void pc_draw_curve(struct pc_draw *draw, const struct pc_pen *pen, const struct pc_spot_mm *spots,
                   size_t count);
// Clockwise on the sheet from one angle to the other, 0 to the right.
void pc_draw_arc(struct pc_draw *draw, const struct pc_pen *pen, struct pc_spot_mm middle, double radius_mm,
                 double from_rad, double to_rad);
// Inside a closed shape (even-odd): a tone, or parallel strokes at an angle from the horizontal.
void pc_draw_fill(struct pc_draw *draw, double grey_ratio, const struct pc_spot_mm *spots, size_t count);
void pc_draw_hatch(struct pc_draw *draw, const struct pc_pen *pen, double spacing_mm, double angle_rad,
                   const struct pc_spot_mm *spots, size_t count);

// One line of UTF-8 on its baseline, in a sans with figures of one width.
void pc_draw_text(struct pc_draw *draw, const struct pc_lettering *lettering, struct pc_spot_mm place,
                  const char *text);
// How wide it would be.
double pc_draw_text_mm(struct pc_draw *draw, const struct pc_lettering *lettering, const char *text);

// Ends the drawing; the bytes of the file live in arena. Nothing may be drawn after it.
enum pc_status pc_draw_finish(struct pc_draw *draw, struct pc_arena *arena, const char **bytes, size_t *count,
                              struct pc_err *err) PC_MUST_CHECK;
// The same into a file, which is there whole or not at all.
enum pc_status pc_draw_save(struct pc_draw *draw, const char *path, struct pc_err *err) PC_MUST_CHECK;

#endif
