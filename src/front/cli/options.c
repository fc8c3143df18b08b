// SPDX-License-Identifier: Apache-2.0
#include "front/cli/options.h"

#define GROUP(title, rows)                                                                                   \
    {                                                                                                        \
        title, rows, PC_COUNT(rows)                                                                          \
    }

static const struct pc_option frames[] = {
    {.name = "light",
     .kind = PC_ARG_LIGHT_FRAME,
     .metavar = "NAME=FILE[@DIAL%][@KELVINK]",
     .help = "a frame of this one light (and the ambient), the dial and kelvin it was taken at; several "
             "frames of "
             "one light at other dials give its dial curve, frames at kelvins between its warmest and "
             "coolest how it "
             "mixes the two",
     .repeatable = true,
     .otherwise = "each frame between the first and the last is one light"},
    {.name = "ambient",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a frame with every light off, window and room only",
     .repeatable = true,
     .otherwise = "the first and the last frame by time"},
    {.name = "flash",
     .kind = PC_ARG_NAMED_PATH,
     .metavar = "NAME=FILE",
     .help = "a frame of this one flash; its light does not change with the shutter",
     .repeatable = true},
    {.name = "linear",
     .kind = PC_ARG_SWITCH,
     .help = "the TIFF and PNG files hold linear light and may be measured like raw files"},
};
const struct pc_option_group pc_options_frames = GROUP("The frames", frames);

static const struct pc_option places[] = {
    {.name = "hero",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where the hero is, in full-resolution pixels of the upright frame",
     .required = true},
    {.name = "surface",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where the surface is to be read, clear of shadows",
     .required = true},
    {.name = "place",
     .kind = PC_ARG_NAMED_POINT,
     .metavar = "NAME=X,Y",
     .help = "another place to read, with a name of yours",
     .repeatable = true},
    {.name = "greycard",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where a grey card of 18 % lies: gives lux, and the colour of each light to 8 mired"},
    {.name = "card",
     .kind = PC_ARG_NAMED_POINT,
     .metavar = "FILE=X,Y",
     .help = "for sets taken from the hand: where the grey card at the hero lies in this frame and, given "
             "again, the one "
             "at the surface; only for frames in which they are not found",
     .repeatable = true},
};
const struct pc_option_group pc_options_places = GROUP("Where to look", places);

static const struct pc_option setting[] = {
    {.name = "dials",
     .kind = PC_ARG_DIALS,
     .metavar = "NAME=FRACTION[@KELVINK],...",
     .help = "a setting to foretell, each dial from 0 to 1",
     .least = 0,
     .most = 1,
     .repeatable = true,
     .otherwise = "the dials the frames were taken at"},
    {.name = "shutter",
     .kind = PC_ARG_TIME,
     .metavar = "SECONDS",
     .help =
         "the shutter of that setting, as the camera shows it; flash does not change with it, the window and "
         "steady lights do",
     .least = 1e-5,
     .most = 3600,
     .otherwise = "that of the first window frame"},
    {.name = "actual",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a frame taken at that setting, laid beside what was foretold"},
};
const struct pc_option_group pc_options_setting = GROUP("A setting, and the frame taken at it", setting);

static const struct pc_option goals[] = {
    {.name = "hero-ev",
     .kind = PC_ARG_NUMBER,
     .metavar = "EV",
     .help = "the hero this much brighter than now (negative: darker)",
     .least = -10,
     .most = 10},
    {.name = "surface-stops",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "the surface this many stops under the hero, in light",
     .least = -10,
     .most = 10},
    {.name = "key-to-fill",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "the strongest light this many stops over everything else at the hero",
     .least = -10,
     .most = 10},
    {.name = "change",
     .kind = PC_ARG_NAMED_NUMBER,
     .metavar = "PLACE=THIRDS",
     .help = "a place this many thirds of a stop lighter than now (negative: darker)",
     .least = -30,
     .most = 30,
     .repeatable = true},
    {.name = "warmer",
     .kind = PC_ARG_NAMED_NUMBER,
     .metavar = "PLACE=MIRED",
     .help = "a place this many mired warmer than now (negative: cooler)",
     .least = -300,
     .most = 300,
     .repeatable = true},
    {.name = "second-shadow",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "the second shadow on the surface no deeper than this",
     .least = 0,
     .most = 10},
};
const struct pc_option_group pc_options_goals = GROUP("What is wanted (at least one)", goals);

static const struct pc_option limits[] = {
    {.name = "step",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "dials move in steps of this many per cent",
     .least = 0,
     .most = 50,
     .otherwise = "1; 0: any dial can be set"},
    {.name = "cap",
     .kind = PC_ARG_NAMED_NUMBER,
     .metavar = "LIGHT=PCT",
     .help = "this light may not go above this dial",
     .least = 0,
     .most = 100,
     .repeatable = true,
     .otherwise = "100"},
    {.name = "least",
     .kind = PC_ARG_NAMED_NUMBER,
     .metavar = "LIGHT=PCT",
     .help = "this light may not go below this dial",
     .least = 0,
     .most = 100,
     .repeatable = true,
     .otherwise = "0"},
    {.name = "kelvin",
     .kind = PC_ARG_NAMED_RANGE,
     .metavar = "LIGHT=LOW-HIGH",
     .help = "the kelvin this light may be set to",
     .least = 1000,
     .most = 40000,
     .repeatable = true,
     .otherwise = "from its warm frame to its cool one"},
    {.name = "leave",
     .kind = PC_ARG_NAME,
     .metavar = "LIGHT",
     .help = "this light stays as it is",
     .repeatable = true},
};
const struct pc_option_group pc_options_limits = GROUP("What the lights can do", limits);

static const struct pc_option answer[] = {
    {.name = "json", .kind = PC_ARG_SWITCH, .help = "the answer for programs (docs/json.md has the keys)"},
    {.name = "out",
     .kind = PC_ARG_PATH,
     .metavar = "DIR",
     .help = "a folder for pictures, made if it is not there",
     .otherwise = "no pictures are written"},
};
const struct pc_option_group pc_options_answer = GROUP("The answer", answer);
const struct pc_option_group pc_options_json = {"The answer", answer, 1};

static const struct pc_option section[] = {
    {.name = "section",
     .kind = PC_ARG_PATH,
     .metavar = "FILE.svg|FILE.pdf",
     .help = "the side section of the shot, a sketch to print: heights in centimetres",
     .otherwise = "none is drawn"},
};
const struct pc_option_group pc_options_section = GROUP("The sketch", section);

static const struct pc_option kit[] = {
    {.name = "kit",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "the kit file (docs/kit.md): what you own"},
};
const struct pc_option_group pc_options_kit = GROUP("The kit", kit);

static const struct pc_option site[] = {
    {.name = "site", .kind = PC_ARG_PATH, .metavar = "FILE", .help = "the place file (docs/kit.md)"},
};
const struct pc_option_group pc_options_site = GROUP("The place", site);

static const struct pc_option outlet[] = {
    {.name = "outlet",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "what page or screen the picture is for"},
    {.name = "outlets",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a file of outlets of your own (docs/kit.md)",
     .otherwise = "the usual ones"},
};
const struct pc_option_group pc_options_outlet = GROUP("The outlet", outlet);
