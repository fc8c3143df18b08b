// SPDX-License-Identifier: Apache-2.0
// What the parts of the verb `depth` share.
#ifndef PC_FRONT_CLI_DEPTH_H
#define PC_FRONT_CLI_DEPTH_H

#include "front/cli/cli.h"
#include "image/camera/depth.h"

struct pc_cli_depth_asked {
    struct pc_depth_setup setup;
    const char *coc_from;         // in words
    double deep_m, overlap_ratio; // deep NAN: no steps wanted
};

enum pc_status pc_cli_depth_gather(struct pc_cli *cli, struct pc_cli_depth_asked *asked,
                                   struct pc_err *err) PC_MUST_CHECK;

#endif
