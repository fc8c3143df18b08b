// SPDX-License-Identifier: Apache-2.0
// What the verb `selfcheck` found, for its two ways to answer.
#ifndef PC_FRONT_CLI_SELFCHECK_H
#define PC_FRONT_CLI_SELFCHECK_H

#include "front/cli/cli.h"
#include "front/cli/record.h"
#include "light/parts/selfcheck.h"

struct pc_selfchecked {
    bool has_check, has_record;
    struct pc_series series;
    struct pc_selfcheck check;
    struct pc_record_summary record;
    struct pc_notes notes;
};

extern const char *const pc_selfcheck_verdicts[]; // "good", by enum pc_selfcheck_verdict

void pc_selfcheck_put_json(struct pc_cli *cli, const struct pc_selfchecked *found);

#endif
