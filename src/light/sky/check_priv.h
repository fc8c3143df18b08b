// SPDX-License-Identifier: Apache-2.0
// What the tests of this room share. cmocka.h comes before it.
#ifndef PC_LIGHT_SKY_CHECK_PRIV_H
#define PC_LIGHT_SKY_CHECK_PRIV_H

#include "base/clock.h"
#include "base/units.h"

// The line is that of the call.
#define near(got, want, within) near_at(__LINE__, #got, got, want, within)

static inline void near_at(int line, const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("line %d: %s is %.10g, want %.10g within %g", line, what, got, want, within);
}

static inline double utc_s(int year, int month, int day, int hour, int minute, double second)
{
    double s;
    assert_true(pc_clock_s_from_civil(year, month, day, hour, minute, second, &s));
    return s;
}

#endif
