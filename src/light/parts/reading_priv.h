// SPDX-License-Identifier: Apache-2.0
// What wanting needs of a two-emitter light, beyond reading.h.
#ifndef PC_LIGHT_PARTS_READING_PRIV_H
#define PC_LIGHT_PARTS_READING_PRIV_H

#include "light/parts/reading.h"

// The named colour temperatures of a two-emitter light's ends, the warmer first.
void pc_reading_ends(const struct pc_reading *reading, int light, double *warm_K, double *cool_K);
// The share of its drive that a two-emitter light gives to the warm emitter at K kelvin, 0..1; NAN K: the
// middle of the two ends in mired.
double pc_reading_warm_share(const struct pc_reading *reading, int light, double K);
// How much it drives the two together at this share, times curve(dial): 1 where the mixing was not measured.
double pc_reading_drive(const struct pc_reading *reading, int light, double warm_share_ratio);
// The inverse of the share, to 0.01 K.
double pc_reading_kelvin(const struct pc_reading *reading, int light, double warm_share_ratio);

#endif
