// SPDX-License-Identifier: Apache-2.0
// The verb `lamp`: what a lamp gives, from its sheet, its photometric file, its spectrum, or a meter.
#include "front/cli/lamp_priv.h"

#include "front/cli/options.h"
#include "front/cli/verbs.h"

void lamp_put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char tolerance_key[80];
    snprintf(tolerance_key, sizeof tolerance_key, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, tolerance_key, isfinite(value) ? tolerance : (double)NAN, decimals);
}

double lamp_number(const struct pc_cli *cli, const char *option)
{
    double value = NAN;
    (void)pc_args_number(cli->args, option, &value);
    return value;
}

static const char *const subjects[] = {"sheet", "file", "spectrum", "lx"};

// What goes with which subject, so that nothing is given in vain.
static const struct {
    const char *option, *goes_with[2];
} companions[] = {
    {"at-m", {"sheet", "file"}},
    {"dial", {"sheet"}},
    {"kelvin", {"sheet"}},
    {"after-min", {"sheet"}},
    {"edge-cm", {"sheet"}},
    {"door-cm", {"sheet"}},
    {"door-deg", {"sheet"}},
    {"scrim-cm", {"sheet"}},
    {"scrim-at-m", {"sheet"}},
    {"scrim-stops", {"sheet"}},
    {"scrim-direct-pct", {"sheet"}},
    {"against-K", {"sheet", "spectrum"}},
    {"against-duv", {"sheet", "spectrum"}},
    {"at", {"file"}},
    {"tilted-deg", {"file"}},
};

static const char *const needs[][2] = {
    {"against-duv", "against-K"}, {"after-min", "at-m"},       {"edge-cm", "at-m"},
    {"door-cm", "at-m"},          {"door-deg", "door-cm"},     {"scrim-cm", "at-m"},
    {"scrim-at-m", "scrim-cm"},   {"scrim-stops", "scrim-cm"}, {"scrim-direct-pct", "scrim-cm"},
};

static enum pc_status check_companions(const struct pc_cli *cli, const char *subject, struct pc_err *err)
{
    for (size_t i = 0; i < PC_COUNT(companions); i++) {
        const char *option = companions[i].option, *const *with = companions[i].goes_with;
        if (!pc_args_has(cli->args, option) || strcmp(with[0], subject) == 0 ||
            (with[1] != NULL && strcmp(with[1], subject) == 0))
            continue;
        return pc_fail(err, PC_MISUSE, pc_arena_printf(cli->arena, "--%s", option),
                       "It goes with --%s%s%s, not with --%s.", with[0], with[1] != NULL ? " or --" : "",
                       with[1] != NULL ? with[1] : "", subject);
    }
    for (size_t i = 0; i < PC_COUNT(needs); i++)
        if (pc_args_has(cli->args, needs[i][0]) && !pc_args_has(cli->args, needs[i][1]))
            return pc_fail(err, PC_MISUSE, pc_arena_printf(cli->arena, "--%s", needs[i][0]),
                           "It means something with --%s only.", needs[i][1]);
    return PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    const char *subject = NULL;
    for (size_t i = 0; i < PC_COUNT(subjects); i++) {
        if (!pc_args_has(cli->args, subjects[i]))
            continue;
        if (subject != NULL)
            return pc_fail(err, PC_MISUSE, pc_arena_printf(cli->arena, "--%s", subjects[i]),
                           "One question at a time: leave either it or --%s out.", subject);
        subject = subjects[i];
    }
    if (subject == NULL)
        return pc_fail(
            err, PC_MISUSE, "lamp",
            "Say which lamp: --sheet FILE, --file FILE, --spectrum FILE, or --lx NAME=LUX for each "
            "light on one place.");
    PC_TRY(check_companions(cli, subject, err));
    if (strcmp(subject, "sheet") == 0)
        return lamp_about_sheet(cli, pc_args_text(cli->args, "sheet"), err);
    if (strcmp(subject, "file") == 0)
        return lamp_about_file(cli, pc_args_text(cli->args, "file"), err);
    if (strcmp(subject, "spectrum") == 0)
        return lamp_about_spectrum(cli, pc_args_text(cli->args, "spectrum"), err);
    return lamp_about_place(cli, err);
}

static const struct pc_option sheet_options[] = {
    {.name = "sheet",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "its sheet, a JSON file (docs/lamps.md); alone: what it does to colours"},
    {.name = "at-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "METRES",
     .help = "how far it stands from the food, straight before it: how much light, how large, how soft",
     .least = 0.02,
     .most = 100},
    {.name = "dial",
     .kind = PC_ARG_NUMBER,
     .metavar = "PERCENT",
     .help = "what its dial shows",
     .least = 0.1,
     .most = 100,
     .otherwise = "the dial its sheet was measured at"},
    {.name = "kelvin",
     .kind = PC_ARG_NUMBER,
     .metavar = "KELVIN",
     .help = "what its kelvin dial shows",
     .least = 1000,
     .most = 40000,
     .otherwise = "the kelvin its sheet was measured at"},
    {.name = "after-min",
     .kind = PC_ARG_NUMBER,
     .metavar = "MINUTES",
     .help = "since it was switched on",
     .least = 0,
     .most = 120,
     .otherwise = "warmed up"},
    {.name = "edge-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "how far the rim that throws a shadow stands before the place it falls on",
     .least = 0.1,
     .most = 1000,
     .otherwise = "5"},
};
static const struct pc_option before_options[] = {
    {.name = "door-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "a barn door at its side, from hinge to edge: where its light ends on that side",
     .least = 0.1,
     .most = 200},
    {.name = "door-deg",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEGREES",
     .help = "how far the door is open: 0 shut, 90 straight out, 180 folded back",
     .least = 1,
     .most = 180,
     .otherwise = "90"},
    {.name = "scrim-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "the side of a square scrim between it and the food: how much light is left, how soft",
     .least = 5,
     .most = 1000},
    {.name = "scrim-at-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "METRES",
     .help = "from the food to the scrim",
     .least = 0.02,
     .most = 100,
     .otherwise = "half way"},
    {.name = "scrim-stops",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "what the scrim takes of the light that falls on it",
     .least = 0,
     .most = 10,
     .otherwise = "1.5, good to 0.7"},
    {.name = "scrim-direct-pct",
     .kind = PC_ARG_NUMBER,
     .metavar = "PERCENT",
     .help = "of the light that comes through, what goes straight on instead of being strewn",
     .least = 0,
     .most = 100,
     .otherwise = "25, good to 20"},
};
static const struct pc_option_group before_group = {"What stands before it", before_options,
                                                    PC_COUNT(before_options)};
static const struct pc_option_group sheet_group = {"A lamp of yours", sheet_options, PC_COUNT(sheet_options)};

static const struct pc_option match_options[] = {
    {.name = "against-K",
     .kind = PC_ARG_NUMBER,
     .metavar = "KELVIN",
     .help = "the other light's kelvin: how far apart, what the kelvin dial and a gel can do",
     .least = 1000,
     .most = 40000},
    {.name = "against-duv",
     .kind = PC_ARG_NUMBER,
     .metavar = "DUV",
     .help = "the other light's tint, positive greener",
     .least = -0.05,
     .most = 0.05,
     .otherwise = "0"},
};
static const struct pc_option_group match_group = {"Beside another light", match_options,
                                                   PC_COUNT(match_options)};

static const struct pc_option place_options[] = {
    {.name = "lx",
     .kind = PC_ARG_LIGHT_LX,
     .metavar = "NAME=LUX[@KELVINK]",
     .help = "what one light gives on a place: with each of them, their shares, shadows and colour together",
     .least = 0,
     .most = 1e7,
     .repeatable = true},
};
static const struct pc_option_group place_group = {"Lights on one place", place_options,
                                                   PC_COUNT(place_options)};

static const struct pc_option spectrum_options[] = {
    {.name = "spectrum",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a measured spectrum, a wavelength in nm and its power on each line, 380 to 780 nm"},
};
static const struct pc_option_group spectrum_group = {"Its spectrum", spectrum_options,
                                                      PC_COUNT(spectrum_options)};

static const struct pc_option file_options[] = {
    {.name = "file",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "the maker's photometric file, IES LM-63 or EULUMDAT"},
    {.name = "at",
     .kind = PC_ARG_PAIR,
     .metavar = "V_DEG,H_DEG",
     .help = "a direction by the file's own angles, vertical and horizontal: how much light goes there"},
    {.name = "tilted-deg",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEGREES",
     .help = "how far the luminaire is tilted, where the file says what that does to its lamp",
     .least = 0,
     .most = 180,
     .otherwise = "0"},
};
static const struct pc_option_group file_group = {"A luminaire on file", file_options,
                                                  PC_COUNT(file_options)};

static const struct pc_option_group *const groups[] = {
    &sheet_group,    &before_group, &match_group,     &place_group,
    &spectrum_group, &file_group,   &pc_options_json, NULL};

const struct pc_verb pc_verb_lamp = {
    .name = "lamp",
    .question = "what does this lamp give?",
    .about =
        "Light, size and softness at a distance; how to bring two lights together; what mixes and which "
        "shadows come where several meet; what a lamp does to the colour of food; what a maker's photometric "
        "file says.\n"
        "Give one of --sheet, --lx, --spectrum and --file.",
    .hour = PC_HOUR_SETUP,
    .operands = "",
    .least_operands = 0,
    .most_operands = 0,
    .groups = groups,
    .run = run,
};
