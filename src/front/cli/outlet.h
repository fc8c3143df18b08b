// SPDX-License-Identifier: Apache-2.0
// The outlet that --outlet names, for verbs with pc_options_outlet.
#ifndef PC_FRONT_CLI_OUTLET_H
#define PC_FRONT_CLI_OUTLET_H

#include "front/cli/cli.h"
#include "shoot/outlet/outlet.h"

// *outlet is NULL when none was named; else it lives as long as cli->arena.
enum pc_status pc_cli_outlet(struct pc_cli *cli, const struct pc_outlet **outlet,
                             struct pc_err *err) PC_MUST_CHECK;

#endif
