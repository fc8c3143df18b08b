// SPDX-License-Identifier: Apache-2.0
// What the two readers of photometric files share.
#ifndef PC_LIGHT_LAMP_PHOTOMETRY_PRIV_H
#define PC_LIGHT_LAMP_PHOTOMETRY_PRIV_H

#include "light/lamp/photometry.h"

enum { PC_PHOTOMETRY_V_MAX = 1801, PC_PHOTOMETRY_H_MAX = 1441, PC_PHOTOMETRY_CELLS_MAX = 200000 };

// A table as a file has it, before its symmetry is written out.
struct pc_photometry_table {
    size_t v_count, h_count;
    const double *v_deg, *h_deg;
    const double *candela; // [h_count][v_count]
};

// Takes the table over, mirrored as needed: a type C table about its last h until it goes round, a type A or
// B table that begins at 0 about 0.
void pc_photometry_unfold(struct pc_arena *arena, const struct pc_photometry_table *table,
                          struct pc_photometry *photometry);
// The v angles of type C begin at 0 or 90 and end at 90 or 180 (LM-63); false: they do not.
bool pc_photometry_v_fits(const double *v_deg, size_t count);
// Beyond PC_PHOTOMETRY_NOTES_MAX they are dropped.
void pc_photometry_add_note(struct pc_photometry *photometry, const char *sentence);
bool pc_photometry_same_deg(double a, double b);

#endif
