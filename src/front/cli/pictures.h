// SPDX-License-Identifier: Apache-2.0
// The pictures that --out asks for.
#ifndef PC_FRONT_CLI_PICTURES_H
#define PC_FRONT_CLI_PICTURES_H

#include "front/cli/measured.h"

// Into folder (made if missing): window.jpg and one JPEG for each light alone, one for each of the three
// ways, foretold.tif (linear, camera colour, 65535 = saturation) and foretold.jpg of the dials asked for (or
// as captured), and residual.png when residual_ev is not NULL. Light names are made fit for file names; one
// that a picture has already gets a number. A folder that holds the frames is refused.
enum pc_status pc_pictures_write(struct pc_cli *cli, const struct pc_measured *measured,
                                 const struct pc_way_answer *ways, const struct pc_picture *residual_ev,
                                 const char *folder, struct pc_err *err) PC_MUST_CHECK;

#endif
