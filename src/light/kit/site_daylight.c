// SPDX-License-Identifier: Apache-2.0
#include "light/kit/site_daylight.h"

#include "base/units.h"

static const double HERO_M = 0.02, OUTSIDE_RATIO = 0.2;

static void worst(double *so_far, double tolerance)
{
    if (tolerance > *so_far)
        *so_far = tolerance;
}

static enum pc_status add_window(const struct pc_window *w, struct pc_daylight_place *place,
                                 struct pc_daylight_care *care, struct pc_err *err)
{
    struct pc_opening_place *openings = &place->opening;
    if (isnan(w->facing_rad))
        return pc_fail(err, PC_BAD_INPUT, w->name,
                       "Nobody said which way it looks; give its bearing as \"facing_deg\", or let the "
                       "shadow of its bar tell "
                       "it: platecall sun --shadow.");
    struct pc_glass *glass = &place->glass[openings->opening_count];
    PC_TRY(pc_glass_make(pc_glass_panes(w->glass_ratio), w->glass_ratio, glass, err));
    openings->opening[openings->opening_count++] = (struct pc_opening){.facing_rad = w->facing_rad,
                                                                       .away_m = w->from_table_m,
                                                                       .aside_m = w->right_m,
                                                                       .width_m = w->width_m,
                                                                       .height_m = w->height_m,
                                                                       .sill_m = w->sill_m,
                                                                       .depth_m = w->reveal_m};
    worst(&care->place.bearing_rad, w->facing_rad_tolerance);
    worst(&care->place.away_m, w->from_table_m_tolerance);
    worst(&care->place.aside_m, w->right_m_tolerance);
    worst(&care->place.sill_m, w->sill_m_tolerance);
    worst(&care->place.width_m, w->width_m_tolerance);
    worst(&care->place.height_m, w->height_m_tolerance);
    worst(&care->glass_ratio, w->glass_ratio_tolerance / w->glass_ratio);
    return PC_OK;
}

enum pc_status pc_site_daylight(const struct pc_site *site, struct pc_daylight_place *place,
                                struct pc_daylight_care *care, struct pc_err *err)
{
    if (site->window_count == 0)
        return pc_fail(err, PC_BAD_INPUT, "windows",
                       "The place has none; sun and daylight come in by windows.");
    if (site->window_count > PC_OPENINGS_MAX || site->skyline_count > PC_SKYLINE_MAX)
        return pc_fail(err, PC_BAD_INPUT, "windows",
                       "More than %d windows or %d pieces of skyline cannot be reckoned with; leave out what "
                       "gives least.",
                       PC_OPENINGS_MAX, PC_SKYLINE_MAX);
    const struct pc_table_top *table = &site->table;
    *care = (struct pc_daylight_care){.place = {.top_m = table->height_m_tolerance, .hero_m = HERO_M},
                                      .pass_ratio = pc_daylight_usual_care().pass_ratio,
                                      .walls_ratio = site->walls_ratio_tolerance,
                                      .floor_ratio = site->floor_ratio_tolerance,
                                      .ceiling_ratio = site->ceiling_ratio_tolerance,
                                      .ground_ratio = site->ground_ratio_tolerance,
                                      .skyline_ratio = pc_daylight_usual_care().skyline_ratio,
                                      .scrim_stops = pc_daylight_usual_care().scrim_stops};
    *place = (struct pc_daylight_place){
        .opening.table = {.facing_rad =
                              site->windows[0].facing_rad + (table->long_side_to_window ? 0.0 : 0.5 * PC_PI),
                          .long_m = table->size_m[0],
                          .short_m = table->size_m[1],
                          .top_m = table->height_m},
        .pass_ratio = pc_daylight_usual_pass_ratio,
        .room = {site->length_m, site->width_m, site->ceiling_m, site->walls_ratio, site->floor_ratio,
                 site->ceiling_ratio, site->ground_ratio, OUTSIDE_RATIO},
    };
    for (size_t i = 0; i < site->window_count; i++)
        PC_TRY(add_window(&site->windows[i], place, care, err));
    for (size_t i = 0; i < site->skyline_count; i++) {
        const struct pc_skyline *s = &site->skyline[i];
        place->opening.skyline[place->opening.skyline_count++] =
            (struct pc_skyline_step){s->from_rad, s->to_rad, s->elevation_rad};
        worst(&care->place.skyline_rad, s->elevation_rad_tolerance);
        worst(&care->place.skyline_bearing_rad, s->bearing_tolerance_rad);
    }
    return pc_opening_check(&place->opening, err);
}
