// SPDX-License-Identifier: Apache-2.0
// The verb `depth`: how much is sharp, and in how many frames.
#include "front/cli/depth.h"

#include "base/units.h"
#include "front/cli/framed.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"

#define MM                  0.001
#define NEAR_INFINITY_RATIO 0.05 // magnification under which infinity is worth a word

struct found {
    struct pc_depth depth;
    struct pc_focus_plan rail, ring;
};

// With its unit: millimetres, metres from one on.
static const char *length(struct pc_cli *cli, double value_m, double tolerance_m)
{
    char figure[PC_FIGURE_BYTES];
    double unit_m = value_m >= 1 ? 1.0 : MM;
    return pc_arena_printf(cli->arena, "%s %s",
                           pc_print_figure(figure, value_m / unit_m, tolerance_m / unit_m),
                           value_m >= 1 ? "m" : "mm");
}

static void say_depth(struct pc_cli *cli, const struct pc_cli_depth_asked *asked,
                      const struct pc_depth *depth)
{
    double f = asked->setup.f_number;
    if (!(depth->sharp_total_m > 0)) {
        pc_print_sentence(
            cli->out,
            "At f/%g nothing is as sharp as wanted: diffraction alone blurs more than that. Open "
            "the aperture.",
            f);
        return;
    }
    const char *before = length(cli, depth->near_m, depth->near_m_tolerance);
    if (isinf(depth->far_m))
        pc_print_sentence(cli->out, "At f/%g it is sharp from %s before the plane in focus to infinity.", f,
                          before);
    else if (isinf(depth->far_m_tolerance))
        pc_print_sentence(
            cli->out,
            "At f/%g it is sharp from %s before the plane in focus to far behind it; as well as the "
            "lens is known, that may be infinity.",
            f, before);
    else
        pc_print_sentence(cli->out,
                          "At f/%g it is sharp over %s: %s before the plane in focus and %s behind it.", f,
                          length(cli, depth->total_m, depth->total_m_tolerance), before,
                          length(cli, depth->far_m, depth->far_m_tolerance));
    if (depth->sharp_total_m < depth->total_m)
        pc_print_sentence(cli->out,
                          "Diffraction counted, %s of that is left; in focus %.0f %% of the finest contrast "
                          "that counts.",
                          length(cli, depth->sharp_total_m, depth->sharp_total_m_tolerance),
                          100 * depth->focus_contrast_ratio);
    else
        pc_print_sentence(
            cli->out,
            "Diffraction takes nothing from that; in focus it leaves %.0f %% of the finest contrast "
            "that counts.",
            100 * depth->focus_contrast_ratio);
}

static void say_lens(struct pc_cli *cli, const struct pc_cli_depth_asked *asked, const struct pc_depth *depth)
{
    pc_print_sentence(cli->out, "Circle of confusion %.4f mm on the sensor, %s; magnification %.3f.",
                      asked->setup.coc_m / MM, asked->coc_from, asked->setup.magnification_ratio);
    if (isnan(asked->setup.pupil_ratio))
        pc_print_sentence(cli->out, "The lens's pupil ratio is not known and taken as 1.");
    if (depth->exposure_loss_ev >= 0.05)
        pc_print_sentence(cli->out,
                          "So near the lens works as f/%.1f: %.1f stops less light than its ring says.",
                          depth->effective_f, depth->exposure_loss_ev);
    if (asked->setup.magnification_ratio < NEAR_INFINITY_RATIO)
        pc_print_sentence(cli->out,
                          "Focused at %.1f m from the sensor, all from half of that to infinity is sharp.",
                          depth->hyperfocal_m);
}

static const char *list_mm(struct pc_cli *cli, const struct pc_focus_plan *plan)
{
    const char *list = "";
    for (int i = 0; i < plan->frames; i++)
        list = pc_arena_printf(cli->arena, "%s%s%.0f", list, i == 0 ? "" : ", ", plan->at_m[i] / MM);
    return list;
}

static void say_steps(struct pc_cli *cli, const struct pc_cli_depth_asked *asked, const struct found *found)
{
    const struct pc_focus_plan *rail = &found->rail, *ring = &found->ring;
    if (rail->frames == 1) {
        pc_print_sentence(cli->out, "One frame does for %.0f mm, focused %.0f mm behind the front edge.",
                          asked->deep_m / MM, rail->at_m[0] / MM);
        return;
    }
    pc_print_sentence(
        cli->out,
        "For %.0f mm from the front edge back: %d frames on a rail, moved on by %.1f mm each time; in "
        "focus at %s mm behind the front edge.",
        asked->deep_m / MM, rail->frames, (rail->at_m[1] - rail->at_m[0]) / MM, list_mm(cli, rail));
    pc_print_sentence(cli->out, "By the focus ring %d frames: in focus at %s mm.", ring->frames,
                      list_mm(cli, ring));
    if (asked->overlap_ratio < found->depth.total_m_tolerance / found->depth.total_m)
        pc_print_sentence(cli->out, "They overlap by less than the depth is good to; 30 %% leaves no gaps.");
}

static void put_figure_mm(struct pc_json *o, const char *key, double value_m, double tolerance_m)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value_m / MM, 4);
    pc_json_put_number(o, name, tolerance_m / MM, 4);
}

static struct pc_json *plan_json(const struct pc_focus_plan *plan)
{
    struct pc_json *o = pc_json_object(), *list = pc_json_array();
    pc_json_put_int(o, "frames", plan->frames);
    pc_json_put_number(o, "overlap_pct", 100 * plan->overlap_ratio, 1);
    for (int i = 0; i < plan->frames; i++)
        pc_json_add_number(list, plan->at_m[i] / MM, 3);
    pc_json_put(o, "at_mm", list);
    return o;
}

static struct pc_json *found_json(const struct pc_cli_depth_asked *asked, const struct found *found)
{
    const struct pc_depth *depth = &found->depth;
    struct pc_json *o = pc_json_object();
    put_figure_mm(o, "near_mm", depth->near_m, depth->near_m_tolerance);
    put_figure_mm(o, "far_mm", depth->far_m, depth->far_m_tolerance);
    put_figure_mm(o, "total_mm", depth->total_m, depth->total_m_tolerance);
    put_figure_mm(o, "near_with_diffraction_mm", depth->sharp_near_m, depth->sharp_near_m_tolerance);
    put_figure_mm(o, "far_with_diffraction_mm", depth->sharp_far_m, depth->sharp_far_m_tolerance);
    put_figure_mm(o, "total_with_diffraction_mm", depth->sharp_total_m, depth->sharp_total_m_tolerance);
    pc_json_put_number(o, "effective_f", depth->effective_f, 4);
    pc_json_put_number(o, "exposure_loss_ev", depth->exposure_loss_ev, 4);
    pc_json_put_number(o, "coc_mm", asked->setup.coc_m / MM, 5);
    pc_json_put_number(o, "magnification_ratio", asked->setup.magnification_ratio, 5);
    pc_json_put_number(o, "airy_mm", depth->airy_m / MM, 5);
    pc_json_put_number(o, "focus_contrast_ratio", depth->focus_contrast_ratio, 4);
    pc_json_put_number(o, "hyperfocal_m", depth->hyperfocal_m, 3);
    if (!isnan(asked->deep_m)) {
        pc_json_put(o, "rail", plan_json(&found->rail));
        pc_json_put(o, "ring", plan_json(&found->ring));
    }
    return o;
}

static const struct pc_option aperture_options[] = {
    {.name = "sensor-mm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "without a kit: the sensor",
     .least = 2,
     .most = 120},
    {.name = "f",
     .kind = PC_ARG_NUMBER,
     .metavar = "N",
     .help = "f-number, as the ring says",
     .least = 0.5,
     .most = 128,
     .required = true},
};
static const struct pc_option step_options[] = {
    {.name = "deep-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "how deep it has to be sharp: gives the focus steps",
     .least = 0.01,
     .most = 100000},
    {.name = "overlap",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "how much of a frame's depth the next one covers again",
     .least = 0,
     .most = 90,
     .otherwise = "30"},
};
static const struct pc_option_group aperture_group = {"Sensor and aperture", aperture_options,
                                                      PC_COUNT(aperture_options)};
static const struct pc_option_group step_group = {"Focus steps", step_options, PC_COUNT(step_options)};
static const struct pc_option_group *const groups[] = {
    &pc_options_kit,    &pc_options_taking, &aperture_group,  &pc_options_framed,
    &pc_options_outlet, &step_group,        &pc_options_json, NULL};

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_cli_depth_asked asked;
    struct found found;
    PC_TRY(pc_cli_depth_gather(cli, &asked, err));
    PC_TRY(pc_depth_find(&asked.setup, &found.depth, err));
    if (!isnan(asked.deep_m)) {
        PC_TRY(pc_focus_by_rail(&asked.setup, asked.deep_m, asked.overlap_ratio, &found.rail, err));
        PC_TRY(pc_focus_by_ring(&asked.setup, asked.deep_m, asked.overlap_ratio, &found.ring, err));
    }
    if (pc_args_has(cli->args, "json")) {
        pc_cli_put_json(cli, found_json(&asked, &found));
        return PC_OK;
    }
    say_depth(cli, &asked, &found.depth);
    say_lens(cli, &asked, &found.depth);
    if (!isnan(asked.deep_m))
        say_steps(cli, &asked, &found);
    return PC_OK;
}

const struct pc_verb pc_verb_depth = {
    .name = "depth",
    .question = "how much of it is sharp?",
    .about = "Tells how deep the picture is sharp at an aperture, for the page or screen it is made for, "
             "diffraction "
             "counted; and with --deep-mm where to focus, frame by frame, when that is not deep enough.",
    .hour = PC_HOUR_SETUP,
    .operands = "",
    .groups = groups,
    .run = run,
};
