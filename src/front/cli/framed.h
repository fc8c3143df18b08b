// SPDX-License-Identifier: Apache-2.0
// Which camera and lens of the kit, how wide the picture is, and how it is shown: for `depth` and `expose`.
#ifndef PC_FRONT_CLI_FRAMED_H
#define PC_FRONT_CLI_FRAMED_H

#include "front/cli/cli.h"
#include "light/kit/kit.h"

extern const struct pc_option_group
    pc_options_taking; // --camera --lens --focal-mm --pupil-ratio; goes with --kit
extern const struct pc_option_group pc_options_framed; // --wide-cm --magnification --page-mm --viewing-cm
                                                       // --output-px --coc-mm; goes with --outlet

// By --camera and --lens, or the only one there is.
enum pc_status pc_cli_camera(struct pc_cli *cli, const struct pc_kit *kit, const struct pc_camera **camera,
                             struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_cli_lens(struct pc_cli *cli, const struct pc_camera *camera, const struct pc_lens **lens,
                           struct pc_err *err) PC_MUST_CHECK;

// The longer side first; NAN where it is not known.
struct pc_cli_sensor {
    double size_m[2], size_px[2];
};

struct pc_framed {
    double magnification_ratio;
    double coc_m;
    const char *coc_from; // in words
    double px_per_m;      // pixels of the output for a metre of the sensor
};

// A file of so many pixels, for who does not say how the picture is shown.
#define PC_FRAMED_USUAL_PX 3840.0

// must_say: one of --outlet, --page-mm, --output-px and --coc-mm has to be there; else it is a file of
// PC_FRAMED_USUAL_PX along the sensor's longer side. verb: named in sentences.
enum pc_status pc_cli_framed(struct pc_cli *cli, const char *verb, const struct pc_cli_sensor *sensor,
                             bool must_say, struct pc_framed *framed, struct pc_err *err) PC_MUST_CHECK;

#endif
