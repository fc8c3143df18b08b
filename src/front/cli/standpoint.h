// SPDX-License-Identifier: Apache-2.0
// What the parts of the verb `standpoint` share.
#ifndef PC_FRONT_CLI_STANDPOINT_H
#define PC_FRONT_CLI_STANDPOINT_H

#include "front/cli/cli.h"
#include "shoot/advise/standpoint.h"

// points[0] fits.
void pc_standpoint_print(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                         const struct pc_standpoint *points, size_t count);
struct pc_json *pc_standpoint_json(const struct pc_standpoint_wish *wish, const struct pc_standpoint *points,
                                   size_t count);

#endif
