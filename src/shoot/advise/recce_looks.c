// SPDX-License-Identifier: Apache-2.0
// What the recce can tell of the looks' angles: the window in a soup, and a stack sharp from front to back.
#include "base/units.h"
#include "image/camera/depth.h"
#include "shoot/advise/glare_priv.h"
#include "shoot/advise/recce_priv.h"

#define BOWL_ACROSS_M   0.24
#define LIQUID_ABOVE_M  0.04 // of the table
#define LENS_FROM_M     0.9
#define SCAN_DEG        0.5
#define ALL_RATIO       0.995 // what rounds to all of it, or to none
#define DEPTH_F         16.0  // beyond it diffraction takes what closing gives
#define USUAL_DEEP_M    0.16
#define OVERLAP_RATIO   0.3
#define PUPIL_RATIO     1.0 // of a lens that does not say; it does not say to within 0.3 (image/camera/depth.h)
#define PUPIL_TOLERANCE 0.3
#define MM              0.001

static const double usual_angles_deg[] = {10, 45, 90}; // straight on, three-quarter, overhead

// The window straight ahead, as large and as bad as it may be (worst) or as little, within what is known of
// it: how far up and to the sides it reaches as seen from the bowl. Its lower edge looks lowest from far off,
// its upper one highest from near by. False: then it may be nowhere.
static bool ahead(const struct pc_site *site, bool worst, struct pc_glare_source *source)
{
    const struct pc_window *w = &site->windows[0];
    double sign = worst ? 1 : -1, liquid_m = site->table.height_m + LIQUID_ABOVE_M;
    double near_m = fmax(w->from_table_m - w->from_table_m_tolerance, 0.1),
           far_m = w->from_table_m + w->from_table_m_tolerance;
    double up_m = w->sill_m_tolerance + site->table.height_m_tolerance;
    double sill_m = w->sill_m - sign * up_m - liquid_m,
           head_m = w->sill_m + w->height_m + sign * (up_m + w->height_m_tolerance) - liquid_m;
    double half_m = w->width_m / 2 + sign * (w->width_m_tolerance / 2 + w->right_m_tolerance);
    double left_m = w->right_m - half_m, right_m = w->right_m + half_m;
    double left = worst ? fmin(left_m / near_m, left_m / far_m) : fmax(left_m / near_m, left_m / far_m);
    double right = worst ? fmax(right_m / near_m, right_m / far_m) : fmin(right_m / near_m, right_m / far_m);
    double foot_m = worst ? far_m : near_m, top_m = worst ? near_m : far_m;
    *source = (struct pc_glare_source){.name = w->name,
                                       .corners = 4,
                                       .corner = {{left * foot_m, foot_m, liquid_m + sill_m},
                                                  {right * foot_m, foot_m, liquid_m + sill_m},
                                                  {right * top_m, top_m, liquid_m + head_m},
                                                  {left * top_m, top_m, liquid_m + head_m}}};
    return left < right && sill_m / foot_m < head_m / top_m && head_m > 0;
}

static double share_at(const struct pc_site *site, bool worst, double elevation_rad, double turn_rad)
{
    struct pc_glare_scene scene = {.radius_m = BOWL_ACROSS_M / 2,
                                   .height_m = site->table.height_m + LIQUID_ABOVE_M,
                                   .distance_m = LENS_FROM_M,
                                   .elevation_rad = elevation_rad,
                                   .turn_rad = turn_rad,
                                   .sources = 1};
    double x[PC_GLARE_X_COUNT], x_tolerance[PC_GLARE_X_COUNT], y[PC_GLARE_Y_COUNT];
    if (!ahead(site, worst, &scene.source[0]))
        return 0.0;
    pc_glare_gather(&scene, x, x_tolerance);
    return pc_glare_answer(&scene, x, y) ? y[0] : 0.0;
}

struct pc_range pc_recce_glare_ratio(const struct pc_site *site, double elevation_rad)
{
    return (struct pc_range){share_at(site, false, elevation_rad, 0), share_at(site, true, elevation_rad, 0)};
}

static double clear_from_rad(const struct pc_site *site, bool worst)
{
    double deg = 90;
    while (deg > 0 && !(share_at(site, worst, pc_rad_from_deg(deg - SCAN_DEG), 0) > 0))
        deg -= SCAN_DEG;
    return pc_rad_from_deg(deg);
}

struct pc_range pc_recce_clear_rad(const struct pc_site *site)
{
    return (struct pc_range){clear_from_rad(site, false), clear_from_rad(site, true)};
}

static const char *share_text(struct recce_work *work, struct pc_range share)
{
    bool from_none = share.low<1 - ALL_RATIO, to_all = share.high> ALL_RATIO;
    double low_pct = floor(100 * share.low + 1e-6), high_pct = ceil(100 * share.high - 1e-6);
    if (share.high < 1 - ALL_RATIO)
        return "not at all";
    if (share.low > ALL_RATIO)
        return "all over";
    if (from_none)
        return to_all ? "nowhere or all over"
                      : pc_arena_printf(work->arena, "over none to %.0f %%", high_pct);
    if (to_all)
        return pc_arena_printf(work->arena, "over %.0f %% to all", low_pct);
    return pc_arena_printf(work->arena, "over %.0f to %.0f %%", low_pct, high_pct);
}

void recce_glare(struct recce_work *work)
{
    const struct pc_site *site = work->wish->site;
    if (site->window_count == 0)
        return;
    bool asked = work->wish->angle_count > 0;
    size_t count = asked ? work->wish->angle_count : PC_COUNT(usual_angles_deg);
    const char *angles[PC_RECCE_ANGLES_MAX], *name = site->windows[0].name;
    bool may = false, must = true, beside = false;
    for (size_t i = 0; i < count; i++) {
        double rad = asked ? work->wish->angle_rad[i] : pc_rad_from_deg(usual_angles_deg[i]);
        struct pc_range share = pc_recce_glare_ratio(site, rad);
        may = may || share.high > 0;
        must = must && share.low > 0;
        beside = beside || share_at(site, true, rad, PC_PI / 2) > 0;
        angles[i] = pc_arena_printf(work->arena, "%s at %.0f%s", share_text(work, share),
                                    pc_deg_from_rad(rad), i == 0 ? " degrees" : "");
    }
    struct pc_range clear_rad = pc_recce_clear_rad(site);
    struct pc_recce_finding *finding = recce_add(work, "glare",
                                                 must  ? PC_VERDICT_CANNOT
                                                 : may ? PC_VERDICT_PERHAPS
                                                       : PC_VERDICT_CAN);
    finding->range = (struct pc_range){pc_deg_from_rad(clear_rad.low), pc_deg_from_rad(clear_rad.high)};
    finding->unit = "degrees";
    finding->limit = "window";
    double low_deg = floor(finding->range.low), high_deg = ceil(finding->range.high);
    const char *from = low_deg < high_deg ? pc_arena_printf(work->arena, "somewhere between %.0f and %.0f",
                                                            low_deg, high_deg)
                                          : pc_arena_printf(work->arena, "%.0f", high_deg);
    finding->sentence = pc_arena_printf(
        work->arena,
        "Shot towards %s from %.0f cm, a bowl of clear broth mirrors it %s; it is gone from %s "
        "degrees upwards%s.",
        name, 100 * LENS_FROM_M, recce_join(work->arena, angles, count), from,
        beside ? ""
               : pc_arena_printf(work->arena, ", and with %s at nine o'clock it does not show at any of them",
                                 name));
}

// The depth at the worst and the best end of what aperture, judgement, framing and pupils are good to.
struct pc_range pc_recce_depth_m(const struct pc_camera *camera, const struct pc_lens *lens, double deep_m)
{
    const struct pc_outlet *page = NULL;
    enum pc_status status = pc_outlet_find(NULL, "page", &page, NULL);
    PC_ASSERT(status == PC_OK);
    // The page is upright, and the stack as wide on it as it is deep.
    double used_mm = fmin(camera->sensor_mm[1], camera->sensor_mm[0] * pc_outlet_shape_ratio(page));
    double coc_m =
        MM * pc_outlet_confusion_mm(page, used_mm, camera->pixels[1] * used_mm / camera->sensor_mm[1]);
    double pupil = isnan(lens->pupil_ratio) ? PUPIL_RATIO : lens->pupil_ratio,
           pupil_within = isnan(lens->pupil_ratio) ? PUPIL_TOLERANCE : lens->pupil_ratio_tolerance;
    struct pc_range range = {INFINITY, 0};
    for (int end = 0; end < 16; end++) {
        double sign[4];
        for (int i = 0; i < 4; i++)
            sign[i] = end >> i & 1 ? 1 : -1;
        struct pc_depth_setup setup = {
            .focal_m = lens->focal_mm * MM,
            .f_number = pc_recce_depth_f(lens) * (1 + sign[0] * PC_DEPTH_F_NUMBER_TOLERANCE_RATIO),
            .coc_m = coc_m * (1 + sign[1] * PC_DEPTH_COC_TOLERANCE_RATIO),
            .magnification_ratio =
                used_mm * MM / deep_m * (1 + sign[2] * PC_DEPTH_MAGNIFICATION_TOLERANCE_RATIO),
            .pupil_ratio = pupil + sign[3] * pupil_within,
        };
        struct pc_depth depth;
        if (pc_depth_find(&setup, &depth, NULL) != PC_OK)
            continue;
        range.low = fmin(range.low, depth.sharp_total_m);
        range.high = fmax(range.high, depth.sharp_total_m);
    }
    return range;
}

double pc_recce_depth_f(const struct pc_lens *lens)
{
    return fmin(fmax(DEPTH_F, lens->widest_f), lens->narrowest_f);
}

static double frames_for(double depth_m, double deep_m)
{
    return 1 + ceil(fmax(0, deep_m - depth_m) / ((1 - OVERLAP_RATIO) * depth_m) - 1e-9);
}

static const char *frames_text(struct recce_work *work, double least, double most)
{
    return least < most ? pc_arena_printf(work->arena, "%.0f to %.0f", least, most)
                        : pc_arena_printf(work->arena, "%.0f", most);
}

// The camera that is named first, with its longest lens: it stands farthest off.
void recce_depth(struct recce_work *work)
{
    const struct pc_kit *kit = work->wish->kit;
    const struct pc_lens *lens = NULL;
    if (kit->camera_count == 0)
        return;
    const struct pc_camera *camera = &kit->cameras[0];
    for (size_t i = 0; i < camera->lens_count; i++)
        if (camera->lenses[i].focal_mm > 0 && (lens == NULL || camera->lenses[i].focal_mm > lens->focal_mm))
            lens = &camera->lenses[i];
    if (lens == NULL)
        return;
    double deep_m = isnan(work->wish->deep_m) ? USUAL_DEEP_M : work->wish->deep_m;
    struct pc_range depth_m = pc_recce_depth_m(camera, lens, deep_m);
    struct pc_range mm = {depth_m.low / MM, depth_m.high / MM};
    struct pc_recce_finding *finding = recce_add(work, "depth",
                                                 depth_m.low >= deep_m   ? PC_VERDICT_CAN
                                                 : depth_m.high < deep_m ? PC_VERDICT_CANNOT
                                                                         : PC_VERDICT_PERHAPS);
    finding->range = mm;
    finding->unit = "mm";
    finding->limit = "depth of field";
    const char *frames = "one frame does";
    if (finding->verdict != PC_VERDICT_CAN && depth_m.low > 0)
        frames = pc_arena_printf(
            work->arena, "%s, %s frames at %.0f %% overlap do",
            finding->verdict == PC_VERDICT_CANNOT ? "no single frame holds it" : "one frame may not hold it",
            frames_text(work, frames_for(depth_m.high, deep_m), frames_for(depth_m.low, deep_m)),
            100 * OVERLAP_RATIO);
    else if (finding->verdict != PC_VERDICT_CAN)
        frames = "diffraction may leave nothing of it; open the aperture and take it in frames";
    finding->sentence = pc_arena_printf(work->arena,
                                        "Of a stack %.0f cm deep that is as wide as an upright page, %s with "
                                        "the %s has %s mm sharp at f/%.3g: %s.",
                                        100 * deep_m, camera->name, lens->name, recce_range(work->arena, mm),
                                        pc_recce_depth_f(lens), frames);
}
