// SPDX-License-Identifier: Apache-2.0
// IEEE 754 binary16 (half floats), as WebGL takes them. Pure.
#ifndef PC_FRONT_ANSWER_HALF_H
#define PC_FRONT_ANSWER_HALF_H

#include "base/err.h"

// The nearest half, ties to even; beyond the largest it is infinity, a NAN stays one.
uint16_t pc_half(float value);

#endif
