// SPDX-License-Identifier: Apache-2.0
// For cmocka tests whose group has an arena as its state, and that compare figures.
#ifndef PC_TESTS_IN_ARENA_H
#define PC_TESTS_IN_ARENA_H

#include "base/arena.h"

#include <setjmp.h>
#include <cmocka.h>

static inline int make_arena(void **state)
{
    *state = pc_arena_create();
    return *state == NULL;
}

static inline int destroy_arena(void **state)
{
    pc_arena_destroy(*state);
    return 0;
}

static inline void near(double value, double wanted, double within)
{
    if (!(fabs(value - wanted) <= within))
        fail_msg("%.12g, wanted %.12g", value, wanted);
}

#endif
