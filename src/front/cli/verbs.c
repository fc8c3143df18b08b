// SPDX-License-Identifier: Apache-2.0
#include "front/cli/verbs.h"

// In the order in which a day asks them; cli.h tells how to add one.
// clang-format off
const struct pc_verb *const pc_verbs[] = {
    &pc_verb_recce,
    &pc_verb_sun,
    &pc_verb_window,
    &pc_verb_standpoint,
    &pc_verb_plumb,
    &pc_verb_depth,
    &pc_verb_expose,
    &pc_verb_mains,
    &pc_verb_glare,
    &pc_verb_lamp,
    &pc_verb_ball,
    &pc_verb_weigh,
    &pc_verb_want,
    &pc_verb_read,
    &pc_verb_jobs,
    &pc_verb_readable,
    &pc_verb_restore,
    &pc_verb_selfcheck,
};
// clang-format on
const size_t pc_verb_count = PC_COUNT(pc_verbs);

const struct pc_verb *pc_verb_find(const char *name)
{
    for (size_t i = 0; i < pc_verb_count; i++)
        if (strcmp(pc_verbs[i]->name, name) == 0)
            return pc_verbs[i];
    return NULL;
}
