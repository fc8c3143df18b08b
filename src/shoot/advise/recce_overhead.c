// SPDX-License-Identifier: Apache-2.0
// The recce's straight-down pictures: how wide under this ceiling, and the one that is wanted.
#include "base/units.h"
#include "shoot/advise/recce_priv.h"
#include "shoot/advise/standpoint.h"

#define M_PER_MM         0.001
#define GAP_OF_FOCAL     0.1 // between the principal planes, either way, when nobody has measured it
#define CM               100.0
#define STRAIGHT_DOWN    (PC_PI / 2)
#define WANTS_A_LADDER_M 1.8 // sensor above the floor

enum { REACHES_TOLD_MAX = 3, FAILING_TOLD_MAX = 8 };

static double widest_m(const struct pc_framing_wish *wish, double table_m)
{
    double width_m, height_m;
    pc_framing_widest(wish, table_m, &width_m, &height_m);
    return isnan(width_m) ? 0 : width_m;
}

// A lens shows more the shorter it is and the higher it hangs; a larger sensor shows more, unless the focal
// length goes with it as an equivalent does.
struct pc_range pc_recce_widest_m(const struct pc_site *site, const struct pc_support *support,
                                  const struct pc_camera *camera, const struct pc_lens *lens)
{
    struct pc_range focal_mm = recce_around(lens->focal_mm, lens->focal_mm_tolerance, 0.1),
                    table_m = recce_around(support->height_m, support->height_m_tolerance, 0),
                    ceiling_m = recce_around(site->ceiling_m, site->ceiling_m_tolerance, 0.1),
                    above_m = recce_around(camera->above_sensor_m, camera->above_sensor_m_tolerance, 0);
    double sensor_pct = isnan(lens->equivalent_mm) ? camera->sensor_mm_tolerance / camera->sensor_mm[0] : 0;
    struct pc_framing_wish wish = {.sensor_height_m = camera->sensor_mm[1] * M_PER_MM,
                                   .picture_width_m = 1,
                                   .picture_height_m = camera->sensor_mm[1] / camera->sensor_mm[0],
                                   .elevation_rad = STRAIGHT_DOWN};
    struct pc_range width_m;
    for (int best = 0; best < 2; best++) {
        double sign = best ? 1 : -1;
        wish.sensor_width_m = camera->sensor_mm[0] * M_PER_MM * (1 + sign * sensor_pct);
        wish.sensor_height_m = camera->sensor_mm[1] * M_PER_MM * (1 + sign * sensor_pct);
        wish.focal_m = (best ? focal_mm.low : focal_mm.high) * M_PER_MM;
        wish.principal_gap_m = -sign * GAP_OF_FOCAL * wish.focal_m;
        wish.ceiling_m = best ? ceiling_m.high : ceiling_m.low;
        wish.body_arm_m = best ? above_m.low : above_m.high;
        *(best ? &width_m.high : &width_m.low) = widest_m(&wish, best ? table_m.low : table_m.high);
    }
    return width_m;
}

static void reach_all(struct recce_work *work, const struct pc_support *supports, size_t support_count)
{
    const struct pc_kit *kit = work->wish->kit;
    for (size_t s = 0; s < support_count; s++)
        for (size_t c = 0; c < kit->camera_count; c++)
            for (size_t l = 0; l < kit->cameras[c].lens_count; l++) {
                struct pc_recce *recce = work->recce;
                if (recce->reach_count == PC_RECCE_REACHES_MAX)
                    return;
                const struct pc_camera *camera = &kit->cameras[c];
                recce->reach[recce->reach_count++] = (struct pc_recce_reach){
                    camera, &camera->lenses[l], &supports[s],
                    pc_recce_widest_m(work->wish->site, &supports[s], camera, &camera->lenses[l])};
            }
}

static const char *reach_text(struct recce_work *work, const struct pc_recce_reach *reach)
{
    if (!(reach->width_m.high > 0))
        return pc_arena_printf(work->arena, "nothing with %s and its %s", reach->camera->name,
                               reach->lens->name);
    struct pc_range cm = {CM * reach->width_m.low, CM * reach->width_m.high};
    return pc_arena_printf(work->arena, "%s cm with %s and its %s", recce_range(work->arena, cm),
                           reach->camera->name, reach->lens->name);
}

// From one support, as a clause; the reaches from it, widest first, and no more than can be taken in.
static const char *from_support(struct recce_work *work, const struct pc_support *support,
                                struct pc_range *all)
{
    const struct pc_recce *recce = work->recce;
    const struct pc_recce_reach *best[REACHES_TOLD_MAX + 1];
    size_t count = 0;
    for (size_t i = 0; i < recce->reach_count; i++) {
        const struct pc_recce_reach *reach = &recce->reach[i];
        if (reach->support != support)
            continue;
        all->low = fmax(all->low, reach->width_m.low);
        all->high = fmax(all->high, reach->width_m.high);
        size_t at = count < REACHES_TOLD_MAX ? count++ : REACHES_TOLD_MAX;
        for (; at > 0 && best[at - 1]->width_m.high < reach->width_m.high; at--)
            best[at] = best[at - 1];
        best[at] = reach;
    }
    const char *texts[REACHES_TOLD_MAX];
    for (size_t i = 0; i < count; i++)
        texts[i] = reach_text(work, best[i]);
    return pc_arena_printf(work->arena, "from the %s (%.0f cm high) %s", support->name,
                           CM * support->height_m, recce_join(work->arena, texts, count));
}

// Why it will not do, as a clause; NULL: it does, or cannot be told in few words.
static const char *failing(struct recce_work *work, const struct pc_standpoint *point)
{
    if (point->why_not != NULL || (point->ppi_enough && point->support != NULL))
        return NULL;
    const char *pixels = point->ppi_enough ? ""
                                           : pc_arena_printf(work->arena, " has only %.0f pixels an inch",
                                                             floor(point->framing.ppi));
    const char *room =
        point->support != NULL
            ? ""
            : pc_arena_printf(work->arena, " lacks %.0f cm under the ceiling", fmax(1, -CM * point->spare_m));
    return pc_arena_printf(work->arena, "%s with the %s%s%s%s", point->camera->name, point->lens->name,
                           pixels, pixels[0] != '\0' && room[0] != '\0' ? " and" : "", room);
}

// Pixels that a screen wants along the picture; a page's go by the inch.
static bool pixels_do(const struct pc_outlet *outlet, const struct pc_standpoint *point)
{
    if (outlet == NULL || pc_outlet_is_page(outlet))
        return true;
    double crop_px[2];
    pc_outlet_crop_px(outlet, point->camera->pixels, crop_px);
    return pc_outlet_reached_ratio(outlet, crop_px[0]) >= 1;
}

static struct pc_standpoint_wish standpoint_wish(const struct pc_recce_wish *wish,
                                                 const struct pc_support *supports, size_t count)
{
    const struct pc_outlet *outlet = wish->outlet;
    bool page = outlet != NULL && pc_outlet_is_page(outlet);
    return (struct pc_standpoint_wish){
        .cameras = wish->kit->cameras,
        .camera_count = wish->kit->camera_count,
        .supports = supports,
        .support_count = count,
        .ceiling_m = wish->site->ceiling_m,
        .ceiling_m_tolerance = wish->site->ceiling_m_tolerance,
        .picture_width_m = wish->wide_m,
        .picture_height_m = outlet != NULL ? wish->wide_m / pc_outlet_shape_ratio(outlet) : (double)NAN,
        .page_width_m = page ? (outlet->size_mm[0] + 2 * outlet->bleed_mm) * M_PER_MM : (double)NAN,
        .page_height_m = page ? (outlet->size_mm[1] + 2 * outlet->bleed_mm) * M_PER_MM : (double)NAN,
        .least_ppi = page ? outlet->needed_ppi : (double)NAN,
        .elevation_rad = STRAIGHT_DOWN,
        .board_width_m = NAN,
        .board_depth_m = NAN,
        .tall_m = NAN,
        .tall_off_axis_m = NAN,
    };
}

// "; C2 has only ...": those of the kit that will not do.
static const char *those_that_fail(struct recce_work *work, const struct pc_standpoint *points, size_t count)
{
    const char *clauses[FAILING_TOLD_MAX];
    size_t told = 0;
    for (size_t i = 0; i < count && told < FAILING_TOLD_MAX; i++) {
        const char *clause = failing(work, &points[i]);
        if (clause != NULL)
            clauses[told++] = clause;
    }
    return told == 0 ? "" : pc_arena_printf(work->arena, "; %s", recce_join(work->arena, clauses, told));
}

static int caution_of(const struct pc_recce_wish *wish, const struct pc_standpoint *best)
{
    if (best->support == NULL)
        return -1;
    if (best->support->height_m < wish->site->table.height_m)
        return PC_CAUTION_TRESTLE;
    return best->support->height_m + best->framing.sensor_above_m > WANTS_A_LADDER_M ? (int)PC_CAUTION_LADDER
                                                                                     : -1;
}

static enum pc_status wanted_picture(struct recce_work *work, const struct pc_support *supports, size_t count,
                                     struct pc_err *err)
{
    const struct pc_recce_wish *wish = work->wish;
    struct pc_standpoint_wish asked = standpoint_wish(wish, supports, count);
    struct pc_standpoint *points;
    size_t point_count;
    PC_TRY(pc_standpoint_find(work->arena, &asked, &points, &point_count, err));
    const struct pc_standpoint *best = &points[0];
    bool does = pc_standpoint_does(best) && pixels_do(wish->outlet, best);
    struct pc_recce_finding *finding = recce_add(
        work, "wanted", does ? best->spare_is_sure ? PC_VERDICT_CAN : PC_VERDICT_PERHAPS : PC_VERDICT_CANNOT);
    finding->limit = !does && best->support != NULL ? "pixels" : "ceiling";
    finding->caution = caution_of(wish, best);
    const char *what = pc_arena_printf(work->arena, "%.0f cm wide%s%s", CM * wish->wide_m,
                                       wish->outlet != NULL ? " for the " : "",
                                       wish->outlet != NULL ? wish->outlet->name : "");
    const char *but = those_that_fail(work, points, point_count);
    if (!does) {
        finding->sentence = pc_arena_printf(work->arena, "No picture %s from straight above%s.", what, but);
        return PC_OK;
    }
    const char *spare = pc_arena_printf(work->arena, ", with %.0f cm to spare, give or take %.0f",
                                        CM * best->spare_m, ceil(CM * best->framing.spare_m_tolerance));
    finding->sentence =
        pc_arena_printf(work->arena, "A picture %s: %s with the %s from the %s%s%s.", what,
                        best->camera->name, best->lens->name, best->support->name, spare, but);
    return PC_OK;
}

enum pc_status recce_overhead(struct recce_work *work, struct pc_err *err)
{
    const struct pc_support *supports;
    size_t count;
    pc_standpoint_supports(work->arena, work->wish->kit, work->wish->site, &supports, &count);
    reach_all(work, supports, count);
    if (work->recce->reach_count == 0)
        return PC_OK;
    size_t low = 0;
    for (size_t i = 1; i < count; i++)
        if (supports[i].height_m < supports[low].height_m)
            low = i;
    struct pc_range widest = {0, 0};
    const char *clause = from_support(work, &supports[0], &widest);
    if (low != 0)
        clause = pc_arena_printf(work->arena, "%s; %s", clause, from_support(work, &supports[low], &widest));
    struct pc_recce_finding *finding = recce_add(work, "overhead",
                                                 widest.low > 0    ? PC_VERDICT_CAN
                                                 : widest.high > 0 ? PC_VERDICT_PERHAPS
                                                                   : PC_VERDICT_CANNOT);
    finding->range = (struct pc_range){CM * widest.low, CM * widest.high};
    finding->unit = "cm";
    finding->limit = "ceiling";
    finding->caution = PC_CAUTION_ARM;
    finding->sentence =
        pc_arena_printf(work->arena, "Straight down under the %.0f cm ceiling pictures can be this wide: %s.",
                        CM * work->wish->site->ceiling_m, clause);
    return isnan(work->wish->wide_m) ? PC_OK : wanted_picture(work, supports, count, err);
}
