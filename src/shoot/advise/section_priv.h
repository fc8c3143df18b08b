// SPDX-License-Identifier: Apache-2.0
// How a section is laid out on its sheet, before anything is drawn.
#ifndef PC_SHOOT_ADVISE_SECTION_PRIV_H
#define PC_SHOOT_ADVISE_SECTION_PRIV_H

#include "shoot/advise/section.h"
#include "shoot/advise/sketch_priv.h"

enum { SECTION_HEIGHTS_MAX = 12, SECTION_LABEL_BYTES = 96 };

// A height told on the staff beside the sketch.
struct section_height {
    double up_m, from_x_m; // and where the thing is that has it
    char figure[16], what[SECTION_LABEL_BYTES];
};

struct section_heights {
    struct section_height row[SECTION_HEIGHTS_MAX]; // lowest first
    size_t count;
};

void section_heights(const struct pc_section *section, struct section_heights *heights);

// Things with an outline: each in its own place and size.
void section_hero(struct sketch *sketch, const struct pc_section *section);
void section_glass(struct sketch *sketch, double x_m, double foot_m, double top_m, double width_m);
void section_camera(struct sketch *sketch, const struct pc_section *section);
void section_table(struct sketch *sketch, const struct pc_section *section);
void section_arm(struct sketch *sketch, const struct pc_section *section);
void section_sun(struct sketch *sketch, struct pc_spot_mm middle);
void section_lamp(struct sketch *sketch, const struct pc_section *section);

#endif
