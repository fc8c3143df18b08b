// SPDX-License-Identifier: Apache-2.0
// What lamps and flashes of the kit can do against the recce's daylight.
#include "base/units.h"
#include "image/camera/expose.h"
#include "light/kit/class.h"
#include "light/parts/want.h"
#include "light/sky/sky.h"
#include "shoot/advise/recce_priv.h"

#define KEY_AT_M        0.9
#define KEY_AT_WITHIN_M 0.03
#define KEY_F           11.0 // a plate is sharp from edge to edge
#define LOW_SUN_DEG     10.0 // when a clear sky is bluest against the lamps
#define SAME_MIRED      8.0  // what the eye lets pass

struct pc_range pc_recce_key_lx(const struct pc_kit *kit, const struct pc_lamp **lamp)
{
    struct pc_range best = {0, 0};
    *lamp = NULL;
    for (size_t i = 0; i < kit->lamp_count; i++) {
        const struct pc_lamp *one = &kit->lamps[i];
        struct pc_range at_1m = recce_around(one->at_1m_lx, one->at_1m_lx_tolerance, 0);
        double near_m = KEY_AT_M - KEY_AT_WITHIN_M, far_m = KEY_AT_M + KEY_AT_WITHIN_M;
        struct pc_range lx = {at_1m.low * one->output_ratio / (far_m * far_m),
                              at_1m.high * one->output_ratio / (near_m * near_m)};
        if (lx.high <= best.high)
            continue;
        best = lx;
        *lamp = one;
    }
    return best;
}

struct pc_range pc_recce_floor_ev(struct pc_range key_lx, struct pc_range rest_lx)
{
    return (struct pc_range){pc_ev_from_ratio(1 + key_lx.low / fmax(rest_lx.high, 1e-6)),
                             pc_ev_from_ratio(1 + key_lx.high / fmax(rest_lx.low, 1e-6))};
}

static enum pc_verdict against(struct pc_range range, double wanted)
{
    return range.low >= wanted   ? PC_VERDICT_CAN
           : range.high < wanted ? PC_VERDICT_CANNOT
                                 : PC_VERDICT_PERHAPS;
}

static double wanted_ev(const struct pc_recce_wish *wish)
{
    return isnan(wish->surface_ev) ? pc_ways[PC_COUNT(pc_ways) - 1].surface_under_ev : wish->surface_ev;
}

// The three ways (docs/ways.md) by how far each wants the surface under the hero.
static void add_looks(struct recce_work *work, struct pc_range floor_ev)
{
    static const char *const words[] = {[PC_VERDICT_CAN] = "can be had",
                                        [PC_VERDICT_PERHAPS] = "perhaps",
                                        [PC_VERDICT_CANNOT] = "cannot be had"};
    const char *said = "", *names[PC_COUNT(words)][PC_COUNT(pc_ways)];
    size_t count[PC_COUNT(words)] = {0};
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++) {
        enum pc_verdict verdict = against(floor_ev, pc_ways[i].surface_under_ev);
        names[verdict][count[verdict]++] = pc_ways[i].name;
    }
    for (size_t v = 0; v < PC_COUNT(words); v++)
        if (count[v] > 0)
            said = pc_arena_printf(work->arena, "%s%s%s %s", said, said[0] != '\0' ? "; " : "",
                                   recce_join(work->arena, names[v], count[v]), words[v]);
    struct pc_recce_finding *finding =
        recce_add(work, "looks",
                  count[PC_VERDICT_CAN] == PC_COUNT(pc_ways)      ? PC_VERDICT_CAN
                  : count[PC_VERDICT_CANNOT] == PC_COUNT(pc_ways) ? PC_VERDICT_CANNOT
                                                                  : PC_VERDICT_PERHAPS);
    finding->limit = "daylight";
    finding->sentence =
        pc_arena_printf(work->arena, "Of the looks, by day and with the window open: %s.", said);
}

void recce_surface(struct recce_work *work)
{
    const struct pc_lamp *lamp;
    struct pc_range key_lx = pc_recce_key_lx(work->wish->kit, &lamp);
    if (lamp == NULL || !work->has_window)
        return;
    double wanted = wanted_ev(work->wish), let_in_lx = key_lx.low / (pc_ratio_from_ev(wanted) - 1);
    struct pc_range overcast = pc_recce_floor_ev(key_lx, work->open.overcast_lx),
                    clear = pc_recce_floor_ev(key_lx, work->open.clear_lx);
    struct pc_range all = {fmin(overcast.low, clear.low), fmax(overcast.high, clear.high)};
    struct pc_recce_finding *finding = recce_add(work, "surface", against(all, wanted));
    finding->range = all;
    finding->unit = "stops";
    finding->limit = "daylight";
    finding->caution =
        pc_lamp_classes[lamp->lamp_class].hot ? (int)PC_CAUTION_HOT_LAMP : (int)PC_CAUTION_BRIGHT_PANEL;
    const char *blind = "", *remedy = "";
    if (work->has_blind)
        blind = pc_arena_printf(
            work->arena, "; with the blind down %s",
            recce_range(work->arena, pc_recce_floor_ev(key_lx, recce_either_lx(&work->blinded))));
    if (finding->verdict != PC_VERDICT_CAN)
        remedy = pc_arena_printf(work->arena, "; for %.3g stops the window may give %s lx at most", wanted,
                                 recce_about(work->arena, let_in_lx, false));
    finding->sentence = pc_arena_printf(
        work->arena,
        "Keyed by %s at %.0f cm, %s lx, a surface that the key misses lies under the hero by %s%s%s.",
        lamp->name, 100 * KEY_AT_M, recce_range(work->arena, key_lx),
        recce_both_skies(work, overcast, clear, "stops"), blind, remedy);
    add_looks(work, all);
}

// f/11 where the flash has it to give; else what it has at 1 m. The marks count as what they stand for.
void recce_flash(struct recce_work *work)
{
    const struct pc_kit *kit = work->wish->kit;
    const struct pc_flash *flash = NULL;
    const struct pc_camera *camera = NULL;
    for (size_t i = 0; i < kit->flash_count; i++)
        if (!isnan(kit->flashes[i].f_at_1m) && (flash == NULL || kit->flashes[i].f_at_1m > flash->f_at_1m))
            flash = &kit->flashes[i];
    for (size_t i = 0; i < kit->camera_count && camera == NULL; i++)
        camera = kit->cameras[i].sync_s > 0 ? &kit->cameras[i] : NULL;
    if (camera == NULL || !work->has_window)
        return;
    double fnumber = flash != NULL ? fmin(KEY_F, flash->f_at_1m) : KEY_F;
    double stands_for_f = pc_expose_f_meant(fnumber),
           stands_for_s = pc_expose_shutter_meant_s(camera->sync_s);
    // The light that this exposure wants, by ISO 2720: E = C N^2 / (t S).
    double key_lx = PC_EXPOSE_C_LX * stands_for_f * stands_for_f / (stands_for_s * camera->base_iso);
    struct pc_range range =
        pc_recce_floor_ev((struct pc_range){key_lx, key_lx}, recce_either_lx(&work->open));
    struct pc_recce_finding *finding = recce_add(work, "flash", against(range, wanted_ev(work->wish)));
    finding->range = range;
    finding->unit = "stops";
    finding->limit = "sync";
    const char *by = flash != NULL ? pc_arena_printf(work->arena, "Keyed by %s from %.0f cm", flash->name,
                                                     100 * flash->f_at_1m / fnumber)
                                   : "Keyed by a flash, of which nothing was said";
    finding->sentence = pc_arena_printf(
        work->arena, "%s, at f/%.3g, 1/%.0f s and ISO %.0f, such a surface lies %s stops under.", by, fnumber,
        1 / camera->sync_s, camera->base_iso, recce_range(work->arena, range));
}

void recce_colour(struct recce_work *work)
{
    const struct pc_kit *kit = work->wish->kit;
    const struct pc_lamp *warmest = NULL;
    double warmest_K = (double)INFINITY;
    for (size_t i = 0; i < kit->lamp_count; i++) {
        double coolest_K = kit->lamps[i].kelvin_K[1] + kit->lamps[i].off_K;
        if (coolest_K >= warmest_K)
            continue;
        warmest_K = coolest_K;
        warmest = &kit->lamps[i];
    }
    if (warmest == NULL || !work->has_window)
        return;
    double overcast_K = pc_sky_colour_of_overcast().cct_K, spread_K = pc_sky_overcast_spread_K;
    double blue_K = pc_sky_colour_of_clear(pc_rad_from_deg(LOW_SUN_DEG)).cct_K;
    double lamp_mired = pc_mired_from_K(warmest_K);
    struct pc_range left = {fmax(lamp_mired - pc_mired_from_K(overcast_K - spread_K), 0),
                            fmax(lamp_mired - pc_mired_from_K(overcast_K + spread_K), 0)};
    struct pc_recce_finding *finding = recce_add(work, "colour",
                                                 left.high <= SAME_MIRED ? PC_VERDICT_CAN
                                                 : left.low > SAME_MIRED ? PC_VERDICT_CANNOT
                                                                         : PC_VERDICT_PERHAPS);
    finding->range = left;
    finding->unit = "mired";
    finding->limit = "lamp";
    finding->sentence = pc_arena_printf(
        work->arena,
        "At its coolest %s gives %.0f K: under an overcast sky it stays up to %.0f mired warm "
        "of the window, under a blue one %.0f.",
        warmest->name, warmest_K, left.high, fmax(lamp_mired - pc_mired_from_K(blue_K), 0));
}
