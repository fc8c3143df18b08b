// SPDX-License-Identifier: Apache-2.0
// For tests of wanting and of ways: readings made by hand.
#ifndef PC_LIGHT_PARTS_WANT_BENCH_H
#define PC_LIGHT_PARTS_WANT_BENCH_H

#include "light/parts/want.h"

void near(double got, double want, double within);

// Lights by their lux at the places (hero, surface, more) at full dial, then the ambient's.
void make_reading(struct pc_reading *r, int lights, int places, double lx[][4], double dial_ratio);

// Flagged off the surface, the key lights only the hero: the ambient alone is left below.
void make_flagged_key(struct pc_reading *r);

#endif
