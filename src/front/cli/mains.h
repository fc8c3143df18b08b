// SPDX-License-Identifier: Apache-2.0
// What the verb `mains` was asked and has found, between its two sources.
#ifndef PC_FRONT_CLI_MAINS_H
#define PC_FRONT_CLI_MAINS_H

#include "front/cli/cli.h"
#include "image/camera/mains.h"
#include "image/camera/mains_bands.h"

enum { PC_MAINS_SHUTTERS_MAX = 32 };

struct pc_mains_asked {
    double mains_hz, pulses_hz;
    bool on_mains;                         // pulses_hz is twice mains_hz
    double duty_ratio;                     // of a lamp that is switched; else NAN
    double modulation_pct, most_pct;       // of the lamp; of what may stay
    double readout_s, readout_s_tolerance; // NAN: unknown
    double frames_hz;                      // of a clip; NAN: a still
};

struct pc_mains_shutter {
    double marked_s;
    struct pc_mains_left left;
    bool harmless;
};

struct pc_mains_found {
    size_t count;
    struct pc_mains_shutter shutter[PC_MAINS_SHUTTERS_MAX];
    int harmless_count;
    const struct pc_mark *harmless[PC_MARKS_SHUTTER]; // the longer first
    double clip_s;
    struct pc_mains_clip clip;
    int frames; // that were looked at
    double taken_s[2];
    struct pc_bands bands;
    struct pc_bands_lamp lamp;
    double lamp_mains_hz;                  // NAN: not the mains, or readout unknown
    double readout_s, readout_s_tolerance; // if the lamp pulses as asked; NAN: was given
};

// "25, 50": frame rates that stand still under a ripple; "" when none of the usual does.
const char *pc_mains_still_text(struct pc_cli *cli, double ripple_hz);
// A beat that eyes and bodies feel, with more than this left of the ripple, gets the caution.
bool pc_mains_flickers(const struct pc_mains_clip *clip, double left_pct, double most_pct);

void pc_mains_print(struct pc_cli *cli, const struct pc_mains_asked *asked,
                    const struct pc_mains_found *found);
struct pc_json *pc_mains_json(const struct pc_mains_asked *asked, const struct pc_mains_found *found);

#endif
