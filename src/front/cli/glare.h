// SPDX-License-Identifier: Apache-2.0
// What the parts of the verb `glare` share.
#ifndef PC_FRONT_CLI_GLARE_H
#define PC_FRONT_CLI_GLARE_H

#include "front/cli/cli.h"
#include "shoot/advise/fresnel.h"
#include "shoot/advise/glare_set.h"

struct pc_cli_glare_asked {
    const struct pc_site *site;
    const struct pc_kit *kit;
    const struct pc_gloss *gloss;
    const char *facing; // the window straight ahead, or NULL
    double table_m;
    struct pc_glare_scene scene;
};

enum pc_status pc_cli_glare_gather(struct pc_cli *cli, struct pc_cli_glare_asked *asked,
                                   struct pc_err *err) PC_MUST_CHECK;

#endif
