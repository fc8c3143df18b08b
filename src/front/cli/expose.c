// SPDX-License-Identifier: Apache-2.0
// The verb `expose`: aperture, shutter, ISO and flash for a picture, and the camera as a light meter.
#include "front/cli/expose.h"

#include "front/cli/framed.h"
#include "front/cli/options.h"
#include "front/cli/verbs.h"
#include "image/picture/meter.h"

static struct pc_mark as_mark(double marked, double value, const char *prefix, const char *suffix)
{
    struct pc_mark mark = {"", marked, value};
    snprintf(mark.text, sizeof mark.text, "%s%.4g%s", prefix, marked, suffix);
    return mark;
}

static enum pc_status judge_fixed(const struct pc_expose_asked *asked, struct pc_expose_found *found,
                                  struct pc_err *err)
{
    const struct pc_expose_ask *ask = &asked->ask;
    struct pc_mark f = as_mark(asked->marked[0], pc_expose_f_meant(asked->marked[0]), "f/", "");
    struct pc_mark iso = as_mark(asked->marked[2], pc_expose_iso_meant(asked->marked[2]), "ISO ", "");
    struct pc_mark shutter = {"", asked->marked[1], pc_expose_shutter_meant_s(asked->marked[1])};
    char text[24];
    snprintf(shutter.text, sizeof shutter.text, "%s", pc_expose_shutter_text(text, shutter.marked));
    if (ask->has_flash && shutter.value < 0.98 * ask->flash.sync_s)
        return pc_fail(
            err, PC_MISUSE, "--shutter",
            "%s is too short for flash: this camera syncs up to %s, beyond it part of the frame stays dark.",
            shutter.text, pc_expose_shutter_text(text, ask->flash.sync_s));
    found->reachable = ask->has_flash && pc_way_judge(ask, &f, &shutter, &iso, true, &found->fixed);
    if (!found->reachable && !pc_way_judge(ask, &f, &shutter, &iso, false, &found->fixed))
        return pc_fail(err, PC_BAD_INPUT, NULL, "These numbers make no exposure; look at them again.");
    if (ask->has_flash && !found->reachable)
        pc_flash_setting_find(&ask->flash, 0.0, found->fixed.effective_f, iso.value, &found->fixed.power);
    return PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_expose_asked *asked = PC_NEW(cli->arena, struct pc_expose_asked);
    struct pc_expose_found *found = PC_NEW(cli->arena, struct pc_expose_found);
    struct pc_expose_light light;
    double card_ratio;
    PC_TRY(pc_expose_gather(cli, asked, &card_ratio, err));
    PC_TRY(pc_expose_light_find(cli, card_ratio, &light, err));
    asked->ask.ambient_lx = light.lx;
    asked->ask.ambient_lx_tolerance = pc_meter_lx_tolerance(
        light.lx, hypot(PC_EXPOSE_TOLERANCE_EV, log2(1 + light.lx_tolerance / light.lx)));
    if (asked->wants_ways && asked->fixed)
        PC_TRY(judge_fixed(asked, found, err));
    else if (asked->wants_ways)
        PC_TRY(pc_ways_find(&asked->ask, &found->ways, err));
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_expose_json(asked, &light, found));
    else
        pc_expose_print(cli, asked, &light, found);
    return PC_OK;
}

static const struct pc_option light_options[] = {
    {.name = "lux",
     .kind = PC_ARG_NUMBER,
     .metavar = "LX",
     .help = "steady light on the subject, as a meter reads it",
     .least = 0.01,
     .most = 200000},
    {.name = "card", .kind = PC_ARG_PATH, .metavar = "FRAME", .help = "a raw frame of a grey card, instead"},
    {.name = "greycard", .kind = PC_ARG_POINT, .metavar = "X,Y", .help = "where the card lies in it"},
    {.name = "meter-lx",
     .kind = PC_ARG_NUMBER,
     .metavar = "LX",
     .help = "what a light meter says on the card: ties this camera to it",
     .least = 1,
     .most = 200000},
    {.name = "tie",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "where the tie is kept: written with --meter-lx, used without"},
    {.name = "mains-hz",
     .kind = PC_ARG_NUMBER,
     .metavar = "HZ",
     .help = "lamps on these mains light the subject, and ripple",
     .least = 45,
     .most = 65,
     .otherwise = "no lamp ripples; 50 with --ripple"},
    {.name = "ripple",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "how far all the steady light ripples, (max - min) / (max + min)",
     .least = 0.1,
     .most = 100,
     .otherwise = "30, within half, where lamps ripple"},
};
static const struct pc_option camera_options[] = {
    {.name = "class",
     .kind = PC_ARG_NAME,
     .metavar = "CLASS",
     .help = "without a kit: medium format, full frame, APS-C, ...",
     .otherwise = "full frame"},
    {.name = "f",
     .kind = PC_ARG_NUMBER,
     .metavar = "N",
     .help = "f-number, if it is to be this one",
     .least = 0.7,
     .most = 128},
    {.name = "shutter",
     .kind = PC_ARG_TIME,
     .metavar = "T",
     .help = "shutter, if it is to be this one",
     .least = 0.00001,
     .most = 60},
    {.name = "iso",
     .kind = PC_ARG_NUMBER,
     .metavar = "ISO",
     .help = "ISO, if it is to be this one",
     .least = 25,
     .most = 409600},
    {.name = "noise",
     .kind = PC_ARG_PATH,
     .metavar = "FRAME",
     .help = "a raw frame that shows its noise; better two of one scene at one ISO",
     .repeatable = true,
     .otherwise = "as cameras of its class"},
    {.name = "hand",
     .kind = PC_ARG_SWITCH,
     .help = "the camera is held in the hand",
     .otherwise = "it stands on something"},
    {.name = "clip",
     .kind = PC_ARG_NUMBER,
     .metavar = "FPS",
     .help = "frames a second of a clip",
     .least = 1,
     .most = 2000,
     .otherwise = "a still"},
};
static const struct pc_option subject_options[] = {
    {.name = "deep-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "how deep it has to be sharp",
     .least = 0.01,
     .most = 100000},
    {.name = "moving", .kind = PC_ARG_NAME, .metavar = "WHAT", .help = "what moves: steam, hands, drip"},
    {.name = "pour-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "a pour moves, which has fallen so far",
     .least = 0.1,
     .most = 300},
    {.name = "speed-m-s",
     .kind = PC_ARG_NUMBER,
     .metavar = "M/S",
     .help = "something moves so fast across the picture",
     .least = 0.001,
     .most = 100},
};
static const struct pc_option flash_options[] = {
    {.name = "flash", .kind = PC_ARG_NAME, .metavar = "NAME", .help = "a flash of the kit"},
    {.name = "flash-f",
     .kind = PC_ARG_NUMBER,
     .metavar = "N",
     .help = "without a kit: the f-number that full power wants at 1 m, ISO 100",
     .least = 0.5,
     .most = 128},
    {.name = "flash-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "how far from the subject it stands",
     .least = 0.05,
     .most = 50,
     .otherwise = "1"},
    {.name = "sync",
     .kind = PC_ARG_TIME,
     .metavar = "T",
     .help = "the shortest shutter that sees all of it",
     .least = 0.0001,
     .most = 1,
     .otherwise = "the camera's"},
    {.name = "flash-lasts",
     .kind = PC_ARG_TIME,
     .metavar = "T",
     .help = "how long it shines, to half",
     .least = 0.00001,
     .most = 0.1,
     .otherwise = "1/800"},
    {.name = "under",
     .kind = PC_ARG_NUMBER,
     .metavar = "EV",
     .help = "stops that the steady light has to lie under",
     .least = 0,
     .most = 15},
};
static const struct pc_option_group light_group = {"The light", light_options, PC_COUNT(light_options)};
static const struct pc_option_group camera_group = {"Dials and sensor", camera_options,
                                                    PC_COUNT(camera_options)};
static const struct pc_option_group subject_group = {"What is in it", subject_options,
                                                     PC_COUNT(subject_options)};
static const struct pc_option_group flash_group = {"Flash", flash_options, PC_COUNT(flash_options)};
static const struct pc_option_group *const groups[] = {
    &light_group,       &pc_options_kit, &pc_options_taking, &camera_group,    &pc_options_framed,
    &pc_options_outlet, &subject_group,  &flash_group,       &pc_options_json, NULL};

const struct pc_verb pc_verb_expose = {
    .name = "expose",
    .question = "which aperture, shutter and ISO?",
    .about =
        "From the light and the picture wanted: every setting of the dials that no other beats in depth, "
        "sharpness, movement, the mains' ripple and noise, each with what speaks for it; with flash, its "
        "power "
        "and how far the steady light lies under it. With --f, --shutter and --iso, what that one setting "
        "does. "
        "With --card alone, the lux that a grey card stands in, and with --meter-lx a tie to a light meter, "
        "which makes them good to 0.1 EV from then on.",
    .hour = PC_HOUR_SETUP,
    .operands = "",
    .least_operands = 0,
    .most_operands = 0,
    .groups = groups,
    .run = run,
};
