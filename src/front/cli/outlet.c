// SPDX-License-Identifier: Apache-2.0
#include "front/cli/outlet.h"

enum pc_status pc_cli_outlet(struct pc_cli *cli, const struct pc_outlet **outlet, struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "outlet"), *path = pc_args_text(cli->args, "outlets");
    struct pc_outlets *own = PC_NEW(cli->arena, struct pc_outlets);
    *outlet = NULL;
    if (path != NULL)
        PC_TRY(pc_outlets_read(cli->arena, path, own, err));
    if (name == NULL && path != NULL)
        return pc_fail(err, PC_MISUSE, "--outlets", "Say which outlet of the file with --outlet.");
    return name == NULL ? PC_OK : pc_outlet_find(own, name, outlet, err);
}
