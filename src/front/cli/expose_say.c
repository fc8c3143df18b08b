// SPDX-License-Identifier: Apache-2.0
// What the verb `expose` prints.
#include "front/cli/expose.h"

#include "front/cli/mains.h"
#include "front/cli/print.h"
#include "image/camera/mains.h"
#include "image/picture/meter.h"
#include "light/kit/caution.h"

#define RIGHT_EV 0.2

enum { MOST_WAYS_SHOWN = 6 };

static const char *const cost_keys[PC_COSTS] = {
    [PC_COST_DEPTH] = "depth_lacking_ratio", [PC_COST_SPOT] = "airy_over_coc_ratio",
    [PC_COST_MOTION] = "smear_output_px",    [PC_COST_HAND] = "hand_smear_output_px",
    [PC_COST_RIPPLE] = "ripple_left_pct",    [PC_COST_NOISE] = "noise_to_signal_ratio",
};

static void print_light(struct pc_cli *cli, const struct pc_expose_light *light)
{
    char figure[PC_FIGURE_BYTES];
    if (!light->from_card)
        return;
    pc_print_sentence(cli->out, "The grey card stands in %s lx (%.1f EV, %s).",
                      pc_print_figure(figure, light->lx, light->lx_tolerance),
                      log2(1 + light->lx_tolerance / light->lx),
                      light->tied ? "tied to a meter" : "the spare that sensors are rated with");
    if (!isnan(light->tie_off_ev))
        pc_print_sentence(cli->out, "This camera is %.2f EV %s the meter%s%s.", fabs(light->tie_off_ev),
                          light->tie_off_ev > 0 ? "under" : "over",
                          light->tie_path != NULL ? "; that is kept in "
                                                  : "; name a file with --tie to keep that",
                          light->tie_path != NULL ? light->tie_path : "");
}

static const char *stops_text(struct pc_cli *cli, double ev, double tolerance_ev)
{
    char figure[PC_FIGURE_BYTES];
    if (fabs(ev) < RIGHT_EV)
        return pc_arena_printf(cli->arena, "right within %.1f stops", fmax(tolerance_ev, 0.1));
    return pc_arena_printf(cli->arena, "%s stops %s", pc_print_figure(figure, fabs(ev), tolerance_ev),
                           ev > 0 ? "over" : "under");
}

static const char *setting_text(struct pc_cli *cli, const struct pc_expose_asked *asked,
                                const struct pc_way *way)
{
    char power[32];
    const char *text =
        pc_arena_printf(cli->arena, "%s, %s, %s", way->f.text, way->shutter.text, way->iso.text);
    if (way->flash)
        text = pc_arena_printf(cli->arena, "%s, %s at %s", text, asked->flash,
                               pc_flash_power_text(power, way->power.power_ratio));
    return text;
}

static void print_ways(struct pc_cli *cli, const struct pc_expose_asked *asked, const struct pc_ways *ways)
{
    pc_print_sentence(cli->out, "%d settings expose right on %s; %s:", ways->tried, asked->camera,
                      ways->count > 1 ? "these are beaten by none, the least bad first"
                                      : "this one is the best of them");
    for (int i = 0; i < ways->count && i < MOST_WAYS_SHOWN; i++) {
        const struct pc_way *way = &ways->way[i];
        char reason[PC_WAY_REASON_BYTES];
        pc_way_reason(&asked->ask, ways, i, reason);
        const char *ambient = "";
        if (way->flash)
            ambient = pc_arena_printf(cli->arena, " The steady light lies %s.",
                                      stops_text(cli, way->ambient_ev, way->ambient_ev_tolerance));
        pc_print_sentence(cli->out, "%d. %s: %s.%s", i + 1, setting_text(cli, asked, way), reason, ambient);
    }
    bool lacking = true;
    for (int i = 0; i < ways->count; i++)
        lacking = lacking && ways->way[i].cost[PC_COST_DEPTH] > 0;
    if (lacking)
        pc_print_sentence(cli->out,
                          "No aperture is deep enough for one frame; the verb depth tells the focus steps.");
    if (ways->count > MOST_WAYS_SHOWN)
        pc_print_sentence(cli->out, "%d more give up more for one thing; --json has them all.",
                          ways->count - MOST_WAYS_SHOWN);
}

static const char *cost_figure(struct pc_cli *cli, const struct pc_way *way, enum pc_cost cost,
                               const char *unit)
{
    char figure[PC_FIGURE_BYTES];
    double value = way->cost[cost], tolerance = way->cost_tolerance[cost];
    if (value <= tolerance)
        return pc_arena_printf(cli->arena, "under %.2g%s", fmax(value + tolerance, 0.1), unit);
    return pc_arena_printf(cli->arena, "%s%s", pc_print_figure(figure, value, tolerance), unit);
}

static void print_flash(struct pc_cli *cli, const struct pc_expose_asked *asked,
                        const struct pc_expose_found *found)
{
    const struct pc_way *way = &found->fixed;
    const struct pc_flash_setting *power = &way->power;
    char text[32];
    pc_flash_power_text(text, power->power_ratio);
    if (found->reachable)
        pc_print_sentence(cli->out, "%s at %s is %s.", asked->flash, text,
                          stops_text(cli, power->flash_ev, power->flash_ev_tolerance));
    else if (power->beyond_ev > 0)
        pc_print_sentence(cli->out, "%s is too weak: at full power it lies %s.", asked->flash,
                          stops_text(cli, power->flash_ev, power->flash_ev_tolerance));
    else if (power->beyond_ev < 0)
        pc_print_sentence(cli->out, "%s is too strong: at %s it lies %s.", asked->flash, text,
                          stops_text(cli, power->flash_ev, power->flash_ev_tolerance));
    else
        pc_print_sentence(cli->out,
                          "%s has nothing to add here: the steady light is too strong for it to lead.",
                          asked->flash);
}

static void print_fixed(struct pc_cli *cli, const struct pc_expose_asked *asked,
                        const struct pc_expose_found *found)
{
    const struct pc_expose_ask *ask = &asked->ask;
    const struct pc_way *way = &found->fixed;
    char figure[PC_FIGURE_BYTES];
    pc_print_sentence(cli->out, "%s, %s, %s: %.0f lx of steady light lies %s.", way->f.text,
                      way->shutter.text, way->iso.text, ask->ambient_lx,
                      stops_text(cli, way->ambient_ev, way->ambient_ev_tolerance));
    if (way->effective_f > 1.03 * way->f.value)
        pc_print_sentence(cli->out, "So near the lens works as f/%.1f.", way->effective_f);
    if (ask->has_flash)
        print_flash(cli, asked, found);
    if (ask->depth_m > 0)
        pc_print_sentence(cli->out, "%s mm are sharp, of %.3g wanted.",
                          pc_print_figure(figure, 1e3 * way->sharp_m, 1e3 * way->sharp_m_tolerance),
                          1e3 * ask->depth_m);
    if (ask->speed_m_s > 0)
        pc_print_sentence(cli->out, "In the output %s smeared over %s.", ask->moving,
                          cost_figure(cli, way, PC_COST_MOTION, " pixels"));
    if (ask->hand)
        pc_print_sentence(
            cli->out, "Hands smear all of it over %s, by habit and not by measure; a test shot says more.",
            cost_figure(cli, way, PC_COST_HAND, " pixels"));
    if (ask->ripple_hz > 0)
        pc_print_sentence(cli->out, "Of the mains' ripple %s of the light is left as bands.",
                          cost_figure(cli, way, PC_COST_RIPPLE, " %"));
    char text[128];
    pc_way_cost_text(ask, way, PC_COST_NOISE, text);
    pc_print_sentence(cli->out, "A pixel of the output: %s.", text);
}

static void print_clip(struct pc_cli *cli, const struct pc_expose_ask *ask, const struct pc_way *way)
{
    struct pc_mains_clip clip;
    if (!(ask->frames_hz > 0 && ask->ripple_hz > 0) ||
        !pc_mains_clip_find(ask->ripple_hz, way->shutter.marked, ask->frames_hz, &clip))
        return;
    if (clip.beat_hz > 0)
        pc_print_sentence(cli->out,
                          "At %.4g frames a second what is left of the ripple pulses %.3g times a second.",
                          ask->frames_hz, clip.beat_hz);
    else
        pc_print_sentence(cli->out, "At %.4g frames a second what is left of the ripple stands still.",
                          ask->frames_hz);
    const char *still = pc_mains_still_text(cli, ask->ripple_hz);
    if (clip.beat_hz > 0 && still[0] != '\0')
        pc_print_sentence(cli->out, "Frame rates that stand still under these lamps: %s.", still);
    if (pc_mains_flickers(&clip, way->cost[PC_COST_RIPPLE], pc_cost_limits[PC_COST_RIPPLE].fine))
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_FLICKER));
}

void pc_expose_print(struct pc_cli *cli, const struct pc_expose_asked *asked,
                     const struct pc_expose_light *light, const struct pc_expose_found *found)
{
    char full[PC_FIGURE_BYTES], figure[PC_FIGURE_BYTES];
    print_light(cli, light);
    if (!asked->wants_ways)
        return;
    const struct pc_sensor *sensor = &asked->ask.sensor;
    if (asked->measured_noise && sensor->read_noise_e > 0)
        pc_print_sentence(cli->out, "This sensor holds %s electrons at ISO %.0f and reads them to %s.",
                          pc_print_figure(full, sensor->full_well_e, sensor->full_well_e_tolerance),
                          sensor->base_iso,
                          pc_print_figure(figure, sensor->read_noise_e, sensor->read_noise_e_tolerance));
    else if (asked->measured_noise)
        pc_print_sentence(
            cli->out,
            "This sensor holds %s electrons at ISO %.0f, or more where detail passed for noise; two "
            "frames of one scene tell it better.",
            pc_print_figure(full, sensor->full_well_e, sensor->full_well_e_tolerance), sensor->base_iso);
    if (!isnan(asked->noisy_iso) && isnan(asked->marked[2]))
        pc_print_sentence(cli->out,
                          "ISO is kept to %.0f, from where the kit calls %s noisy; --iso goes beyond.",
                          asked->noisy_iso, asked->camera);
    if (asked->fixed)
        print_fixed(cli, asked, found);
    else
        print_ways(cli, asked, &found->ways);
    print_clip(cli, &asked->ask, asked->fixed ? &found->fixed : &found->ways.way[0]);
}

static void put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, name, tolerance, decimals);
}

static struct pc_json *way_json(const struct pc_expose_ask *ask, const struct pc_way *way, const char *reason)
{
    struct pc_json *o = pc_json_object();
    pc_json_put_number(o, "f", way->f.marked, 2);
    pc_json_put_number(o, "shutter_s", way->shutter.marked, 9);
    pc_json_put_number(o, "iso", way->iso.marked, 0);
    pc_json_put_number(o, "effective_f", way->effective_f, 3);
    put_figure(o, "ambient_ev", way->ambient_ev, way->ambient_ev_tolerance, 3);
    pc_json_put_number(o, "flash_power_ratio", way->flash ? way->power.power_ratio : (double)NAN, 6);
    put_figure(o, "flash_ev", way->flash ? way->power.flash_ev : (double)NAN,
               way->flash ? way->power.flash_ev_tolerance : (double)NAN, 3);
    put_figure(o, "sharp_mm", ask->depth_m > 0 ? 1e3 * way->sharp_m : (double)NAN,
               ask->depth_m > 0 ? 1e3 * way->sharp_m_tolerance : (double)NAN, 2);
    for (int c = 0; c < PC_COSTS; c++)
        put_figure(o, cost_keys[c], way->cost[c], way->cost_tolerance[c], 4);
    pc_json_put_text(o, "reason", reason);
    return o;
}

struct pc_json *pc_expose_json(const struct pc_expose_asked *asked, const struct pc_expose_light *light,
                               const struct pc_expose_found *found)
{
    struct pc_json *o = pc_json_object();
    put_figure(o, "subject_lx", light->lx, light->lx_tolerance, 1);
    pc_json_put_bool(o, "tied", light->tied);
    pc_json_put_number(o, "tie_off_ev", light->tie_off_ev, 3);
    if (!asked->wants_ways)
        return o;
    struct pc_json *ways = pc_json_array();
    if (asked->fixed)
        pc_json_add(ways, way_json(&asked->ask, &found->fixed, NULL));
    for (int i = 0; i < found->ways.count; i++) {
        char reason[PC_WAY_REASON_BYTES];
        pc_way_reason(&asked->ask, &found->ways, i, reason);
        pc_json_add(ways, way_json(&asked->ask, &found->ways.way[i], reason));
    }
    pc_json_put(o, "settings", ways);
    return o;
}
