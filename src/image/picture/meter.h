// SPDX-License-Identifier: Apache-2.0
// The camera as a light meter.
#ifndef PC_IMAGE_PICTURE_METER_H
#define PC_IMAGE_PICTURE_METER_H

#include "base/err.h"

// Illuminance on a grey card, lx, from its raw level (0..1 of saturation).
//   H_sat = 78 / S lx s (ISO 12232, saturation-based speed), H = q L t / N^2 with q = 0.65 (ISO 2720),
//   E = pi L / reflectance.
// Sensors are rated with up to 0.3 EV to spare, so that is the tolerance until it is tied to a meter once.
double pc_meter_lx(double level_ratio, double shutter_s, double fnumber, double iso,
                   double reflectance_ratio);

extern const double pc_meter_tolerance_ev; // 0.3

// What so many stops either way make of lux: the wider side, upwards.
double pc_meter_lx_tolerance(double lx, double tolerance_ev);

#endif
