// SPDX-License-Identifier: Apache-2.0
// Which lens a frame was taken with: as told on the command line, by the kit, or by the file. For `plumb` and
// `ball`.
#ifndef PC_FRONT_CLI_LENS_ASKED_H
#define PC_FRONT_CLI_LENS_ASKED_H

#include "front/cli/cli.h"
#include "image/camera/pose.h"
#include "image/photo/photo.h"

extern const struct pc_option_group
    pc_options_lens; // --focal-mm --focal-tolerance-pct --sensor-mm --equivalent-mm
                     // --camera; goes with pc_options_kit

// focal_mm is NAN where nothing tells it.
enum pc_status pc_lens_asked(const struct pc_cli *cli, const struct pc_photo *photo,
                             struct pc_pose_lens *asked, struct pc_err *err) PC_MUST_CHECK;

#endif
