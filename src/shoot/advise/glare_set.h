// SPDX-License-Identifier: Apache-2.0
// A scene for glare.h from a place and a kit, told by clock and tape. Pure; safe from any thread.
#ifndef PC_SHOOT_ADVISE_GLARE_SET_H
#define PC_SHOOT_ADVISE_GLARE_SET_H

#include "light/kit/site.h"
#include "shoot/advise/section.h"
#include "shoot/advise/glare.h"

// Adds the place's windows as they are seen from a camera that looks to looking_rad (a bearing, as windows
// have). The scene's middle is the middle of the table. Takes over how well the windows were measured.
// PC_BAD_INPUT: there are more than a scene holds.
enum pc_status pc_glare_add_windows(struct pc_glare_scene *scene, const struct pc_site *site,
                                    double looking_rad, struct pc_err *err) PC_MUST_CHECK;

// Adds what of the kit stands at clock_h (camera at six), away_m off along the floor, its middle above_m over
// the table: a lamp, flash, scrim or card by its name. Its size is the kit's; it faces the surface's middle.
// PC_NOT_FOUND: the kit has none of that name.
enum pc_status pc_glare_add_stand(struct pc_arena *arena, struct pc_glare_scene *scene,
                                  const struct pc_kit *kit, const char *name, double clock_h, double away_m,
                                  double above_m, double table_m, struct pc_err *err) PC_MUST_CHECK;

// The side section of a scene whose surface lies flat. ahead: the window straight ahead, NULL: none is drawn.
// The mirrored ray is drawn where glare covers any of the surface.
void pc_glare_section(const struct pc_glare_scene *scene, const struct pc_glare *glare,
                      const struct pc_site *site, const struct pc_window *ahead, struct pc_section *section);

#endif
