// SPDX-License-Identifier: Apache-2.0
// Which camera, which lens, from which table: all of a kit tried in a place. Pure; safe from any thread.
#ifndef PC_SHOOT_ADVISE_STANDPOINT_H
#define PC_SHOOT_ADVISE_STANDPOINT_H

#include "image/camera/framing.h"
#include "light/kit/site.h"
#include "shoot/advise/section.h"

// What print on paper is expected to have, where nothing else is said.
#define PC_STANDPOINT_LEAST_PPI 300

struct pc_standpoint_wish {
    const struct pc_camera *cameras; // with what they look through
    size_t camera_count;
    const struct pc_support *supports; // tables and trestles with the board on; heights above the floor
    size_t support_count;
    double ceiling_m, ceiling_m_tolerance; // NAN: none
    double picture_width_m,
        picture_height_m;               // through the hero; height NAN: the page's shape, or the sensor's
    double page_width_m, page_height_m; // printed, bleed included; NAN: none
    double least_ppi;                   // NAN: not asked
    double elevation_rad, elevation_rad_tolerance;
    double hero_above_m;                 // the plane in focus above the table
    double board_width_m, board_depth_m; // NAN: none
    double tall_m, tall_off_axis_m;      // NAN: none
};

struct pc_standpoint {
    const struct pc_camera *camera;
    const struct pc_lens *lens;
    struct pc_framing framing;
    const struct pc_support *support; // the highest that fits; NULL: none does
    double spare_m;     // under the ceiling, from that one, else from the lowest; NAN: no ceiling
    bool spare_is_sure; // spare_m is more than its tolerance
    double widest_width_m, widest_height_m; // that fits from the lowest support; NAN: none, or no ceiling
    bool ppi_enough;                        // or not asked
    const char *why_not; // a sentence: it cannot be done at all, and the rest here is unset; NULL: it can
};

// One for each lens of each camera, best first: pc_framing_rank, those with a why_not last. Points to
// wish's cameras and supports. PC_BAD_INPUT: a number that none of them can do with.
enum pc_status pc_standpoint_find(struct pc_arena *arena, const struct pc_standpoint_wish *wish,
                                  struct pc_standpoint **points, size_t *count,
                                  struct pc_err *err) PC_MUST_CHECK;

// Whether it can be used as it is: it fits, focuses and has the pixels.
bool pc_standpoint_does(const struct pc_standpoint *point);

// The side section of one that fits: point->support is not NULL. site's table is under it unless a board is
// wished; arm_m: how far the arm reaches, NAN: none.
void pc_standpoint_section(const struct pc_standpoint_wish *wish, const struct pc_standpoint *point,
                           const struct pc_site *site, double arm_m, struct pc_section *section);

// A table of the place and the trestles of place and kit, as supports. In the arena; names borrowed.
void pc_standpoint_supports(struct pc_arena *arena, const struct pc_kit *kit, const struct pc_site *site,
                            const struct pc_support **supports, size_t *count);

#endif
