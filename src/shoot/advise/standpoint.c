// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/standpoint.h"

#include "base/units.h"

#define M_PER_MM           0.001
#define PLATE_M            0.27        // a dinner plate, where the hero's width is not known
#define PLATE_RIM_M        0.03        // and its height
#define OVER_THE_TABLE_RAD (PC_PI / 3) // from here the camera hangs on an arm

// A sensor's size not known for sure makes the distance as unsure as its focal length; a focal length
// stated by the diagonal goes with the sensor, and is unsure by itself only.
static double focal_tolerance_m(const struct pc_camera *camera, const struct pc_lens *lens)
{
    double by_lens = lens->focal_mm_tolerance / lens->focal_mm;
    double by_sensor = isnan(lens->equivalent_mm) ? camera->sensor_mm_tolerance / camera->sensor_mm[0] : 0.0;
    return hypot(by_lens, by_sensor) * lens->focal_mm * M_PER_MM;
}

static struct pc_framing_wish framing_wish(const struct pc_standpoint_wish *wish,
                                           const struct pc_camera *camera, const struct pc_lens *lens)
{
    double height_m = wish->picture_height_m;
    if (isnan(height_m) && !isnan(wish->page_width_m))
        height_m = wish->picture_width_m * wish->page_height_m / wish->page_width_m;
    struct pc_framing_wish asked = {
        .sensor_width_m = camera->sensor_mm[0] * M_PER_MM,
        .sensor_height_m = camera->sensor_mm[1] * M_PER_MM,
        .sensor_width_px = camera->pixels[0],
        .sensor_height_px = camera->pixels[1],
        .focal_m = lens->focal_mm * M_PER_MM,
        .focal_m_tolerance = focal_tolerance_m(camera, lens),
        .pupil_ratio = lens->pupil_ratio,
        .pupil_ratio_tolerance = lens->pupil_ratio_tolerance,
        .principal_gap_m = NAN,
        .front_m = lens->front_m,
        .closest_m = lens->nearest_m,
        .picture_width_m = wish->picture_width_m,
        .picture_height_m = height_m,
        .outlet_width_m = wish->page_width_m,
        .elevation_rad = wish->elevation_rad,
        .elevation_rad_tolerance = wish->elevation_rad_tolerance,
        .ceiling_m = wish->ceiling_m,
        .ceiling_m_tolerance = wish->ceiling_m_tolerance,
        .body_arm_m = camera->above_sensor_m,
        .body_arm_m_tolerance = camera->above_sensor_m_tolerance,
        .hero_above_m = wish->hero_above_m,
        .board_width_m = wish->board_width_m,
        .board_depth_m = wish->board_depth_m,
        .tall_m = wish->tall_m,
        .tall_off_axis_m = wish->tall_off_axis_m,
        .tall_tolerance_m = isnan(wish->tall_m) ? 0.0 : 0.01,
    };
    for (size_t i = 0; i < wish->support_count; i++) {
        asked.table_m[asked.table_count++] = wish->supports[i].height_m;
        asked.table_m_tolerance = fmax(asked.table_m_tolerance, wish->supports[i].height_m_tolerance);
    }
    return asked;
}

static int lowest(const struct pc_framing_wish *asked)
{
    int low = 0;
    for (int i = 1; i < asked->table_count; i++)
        if (asked->table_m[i] < asked->table_m[low])
            low = i;
    return low;
}

static void look_through(struct pc_arena *arena, const struct pc_standpoint_wish *wish,
                         struct pc_standpoint *point, struct pc_err *err)
{
    struct pc_framing_wish asked = framing_wish(wish, point->camera, point->lens);
    struct pc_err own = {0};
    if (pc_framing_find(&asked, &point->framing, &own) != PC_OK) {
        point->why_not = pc_arena_strdup(arena, own.text);
        point->framing = (struct pc_framing){.table = -1, .ppi = NAN};
        pc_fail(err, PC_BAD_INPUT, own.place, "%s", own.text);
        return;
    }
    const struct pc_framing *framing = &point->framing;
    int low = lowest(&asked), at = framing->table >= 0 ? framing->table : low;
    point->support = framing->table >= 0 ? &wish->supports[framing->table] : NULL;
    point->spare_m = framing->spare_m[at];
    point->spare_is_sure = !(fabs(point->spare_m) < framing->spare_m_tolerance);
    point->ppi_enough = !(framing->ppi < wish->least_ppi);
    pc_framing_widest(&asked, asked.table_m[low], &point->widest_width_m, &point->widest_height_m);
}

bool pc_standpoint_does(const struct pc_standpoint *point)
{
    return point->why_not == NULL && point->support != NULL && !point->framing.too_near && point->ppi_enough;
}

enum pc_status pc_standpoint_find(struct pc_arena *arena, const struct pc_standpoint_wish *wish,
                                  struct pc_standpoint **points, size_t *count, struct pc_err *err)
{
    size_t most = 0, n = 0, possible = 0;
    struct pc_err first = {0};
    for (size_t c = 0; c < wish->camera_count; c++)
        most += wish->cameras[c].lens_count;
    if (wish->support_count > PC_FRAMING_TABLES_MAX)
        return pc_fail(err, PC_BAD_INPUT, "tables", "More than %d heights cannot be tried at once.",
                       PC_FRAMING_TABLES_MAX);
    if (most == 0)
        return pc_fail(err, PC_BAD_INPUT, "cameras", "There is no camera with a lens to look through.");
    struct pc_standpoint *tried = PC_NEW_N(arena, most, struct pc_standpoint);
    for (size_t c = 0; c < wish->camera_count; c++)
        for (size_t l = 0; l < wish->cameras[c].lens_count; l++) {
            tried[n] =
                (struct pc_standpoint){.camera = &wish->cameras[c], .lens = &wish->cameras[c].lenses[l]};
            look_through(arena, wish, &tried[n], &first);
            possible += tried[n++].why_not == NULL;
        }
    if (possible == 0)
        return pc_fail(err, PC_BAD_INPUT, first.place, "%s", first.text);
    // Those that cannot be done rank last as they are; the order of the rest is the framings'.
    struct pc_framing *framings = PC_NEW_N(arena, n, struct pc_framing);
    int *order = PC_NEW_N(arena, n, int);
    for (size_t i = 0; i < n; i++)
        framings[i] = tried[i].framing;
    pc_framing_rank(framings, (int)n, wish->least_ppi, order);
    *points = PC_NEW_N(arena, n, struct pc_standpoint);
    *count = 0;
    for (int last = 0; last < 2; last++)
        for (size_t i = 0; i < n; i++)
            if ((tried[order[i]].why_not != NULL) == (last == 1))
                (*points)[(*count)++] = tried[order[i]];
    return PC_OK;
}

void pc_standpoint_section(const struct pc_standpoint_wish *wish, const struct pc_standpoint *point,
                           const struct pc_site *site, double arm_m, struct pc_section *section)
{
    const struct pc_framing *framing = &point->framing;
    // From above the section runs along the picture's width, where there is the most to be seen to.
    bool above = wish->elevation_rad >= OVER_THE_TABLE_RAD;
    double board_m = above ? wish->board_width_m : wish->board_depth_m, table_m = point->support->height_m,
           depth_m = isnan(board_m) ? site->table.size_m[above ? 0 : 1] : board_m;
    pc_section_default(section);
    section->ceiling_m = wish->ceiling_m;
    section->table_m = table_m;
    section->table_near_m = depth_m / 2;
    section->table_far_m = -depth_m / 2;
    section->trestles = table_m != site->table.height_m;
    section->hero_width_m = fmin(PLATE_M, framing->picture_width_m);
    section->hero_top_m = table_m + fmax(wish->hero_above_m, PLATE_RIM_M);
    section->camera_x_m = framing->back_m;
    section->camera_m = table_m + framing->sensor_above_m;
    double seen_m = above ? framing->picture_width_m : framing->picture_height_m;
    section->view_rad = 2 * atan(seen_m / 2 / framing->pupil_distance_m);
    section->aim_x_m = 0.0;
    section->aim_m = table_m + wish->hero_above_m;
    if (above && !isnan(arm_m))
        section->arm_x_m = framing->back_m + arm_m;
    if (above && !isnan(wish->tall_m)) {
        section->tall_x_m = -wish->tall_off_axis_m;
        section->tall_top_m = table_m + wish->tall_m;
    }
}

void pc_standpoint_supports(struct pc_arena *arena, const struct pc_kit *kit, const struct pc_site *site,
                            const struct pc_support **supports, size_t *count)
{
    struct pc_support *all = PC_NEW_N(arena, 1 + site->support_count + kit->support_count, struct pc_support);
    all[0] = (struct pc_support){.name = "table",
                                 .height_m = site->table.height_m,
                                 .height_m_tolerance = site->table.height_m_tolerance};
    *count = 1;
    for (size_t i = 0; i < site->support_count; i++)
        all[(*count)++] = site->supports[i];
    for (size_t i = 0; i < kit->support_count; i++)
        all[(*count)++] = kit->supports[i];
    *supports = all;
}
