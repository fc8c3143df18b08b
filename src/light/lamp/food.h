// SPDX-License-Identifier: Apache-2.0
// Four foods whose colour a lamp may spoil. Their colours are typical ones, chosen for this and not measured;
// their reflectances are made from them (pc_spectrum_smoothest).
#ifndef PC_LIGHT_LAMP_FOOD_H
#define PC_LIGHT_LAMP_FOOD_H

#include "image/colour/spectrum.h"

struct pc_food {
    const char *name;
    double lab[3]; // under CIE daylight of 6504 K
};

enum { PC_FOODS = 4 };

extern const struct pc_food pc_foods[PC_FOODS];

struct pc_food_change {
    double de2000, de2000_tolerance;
    double chroma, hue_deg, lightness; // what it has under the light less what under its reference
};

// What a light does to each, against daylight or tungsten of the same kelvin. Tolerances are those of the
// light's spectrum, as in pc_spectrum_rendering; that the foods are made is in none. False where the light
// has no CCT.
bool pc_food_changes(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                     double tilt_tolerance_pct, struct pc_food_change change[PC_FOODS]);

#endif
