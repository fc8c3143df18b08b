// SPDX-License-Identifier: Apache-2.0
// The verbs there are, one source file each.
#ifndef PC_FRONT_CLI_VERBS_H
#define PC_FRONT_CLI_VERBS_H

#include "front/cli/cli.h"

extern const struct pc_verb pc_verb_recce;
extern const struct pc_verb pc_verb_standpoint;
extern const struct pc_verb pc_verb_plumb;
extern const struct pc_verb pc_verb_ball;
extern const struct pc_verb pc_verb_depth;
extern const struct pc_verb pc_verb_sun;
extern const struct pc_verb pc_verb_window;
extern const struct pc_verb pc_verb_glare;
extern const struct pc_verb pc_verb_expose;
extern const struct pc_verb pc_verb_mains;
extern const struct pc_verb pc_verb_lamp;
extern const struct pc_verb pc_verb_weigh;
extern const struct pc_verb pc_verb_want;
extern const struct pc_verb pc_verb_read;
extern const struct pc_verb pc_verb_jobs;
extern const struct pc_verb pc_verb_readable;
extern const struct pc_verb pc_verb_restore;
extern const struct pc_verb pc_verb_selfcheck;

#endif
