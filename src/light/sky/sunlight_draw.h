// SPDX-License-Identifier: Apache-2.0
// A day's sun on the table, drawn: how much of it is lit against the clock.
#ifndef PC_LIGHT_SKY_SUNLIGHT_DRAW_H
#define PC_LIGHT_SKY_SUNLIGHT_DRAW_H

#include "base/draw.h"
#include "light/sky/sunlight.h"

enum { PC_SUNLIGHT_DRAW_WIDTH_MM = 180, PC_SUNLIGHT_DRAW_HEIGHT_MM = 92 };

// On a sheet of the size above. offset_s: what the clock there is ahead of UTC. heading: one line over it. A
// day without sun on the table has the same sheet, and a line that says so.
void pc_sunlight_draw(struct pc_draw *draw, const struct pc_sunlight *day, double offset_s,
                      const char *heading);

#endif
