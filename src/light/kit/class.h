// SPDX-License-Identifier: Apache-2.0
// What cameras, lamps and dishes of a class are like, for whatever a kit file does not say. No makers: each
// figure is the middle of what is about, and its tolerance reaches most of them. Pure data.
#ifndef PC_LIGHT_KIT_CLASS_H
#define PC_LIGHT_KIT_CLASS_H

#include "base/err.h"

struct pc_camera_class {
    const char *name;
    double sensor_mm[2], sensor_mm_tolerance; // the longer side first
    double pixels[2], pixels_tolerance_pct;   // along the longer side first
    double full_well_e, full_well_e_tolerance;
    double read_noise_e, read_noise_e_tolerance;
    double quantum_ratio, quantum_ratio_tolerance;   // electrons per photon, through the filters
    double readout_s, readout_s_tolerance;           // from the first row to the last, electronic shutter
    double sync_s;                                   // shortest shutter with flash; 0: any
    double above_sensor_m, above_sensor_m_tolerance; // body and arm over the sensor, looking down
    double mass_kg, mass_kg_tolerance;               // with a lens
};

struct pc_lamp_class {
    const char *name;
    double lx_m2_per_W, lx_m2_per_W_tolerance; // on its axis at 1 m, for each watt from the socket
    double kelvin_K[2];                        // warmest and coolest; the same: one colour
    double ripple_pct, ripple_pct_tolerance;   // 100 (max - min) / (max + min) at full dial
    bool hot;                                  // its front burns paper
};

struct pc_dish_class {
    const char *name;
    double life_s, life_s_tolerance; // how long it looks right
    double height_m, height_m_tolerance;
    bool flat_gloss; // a level mirror: what it shows can be foretold
};

extern const struct pc_camera_class pc_camera_classes[];
extern const size_t pc_camera_class_count;
extern const struct pc_lamp_class pc_lamp_classes[];
extern const size_t pc_lamp_class_count;
extern const struct pc_dish_class pc_dish_classes[];
extern const size_t pc_dish_class_count;

// Their names, ended by NULL, in the same order, for tables of keys.
extern const char *const pc_camera_class_names[];
extern const char *const pc_lamp_class_names[];
extern const char *const pc_dish_class_names[];

// The class whose sensor's diagonal is nearest in ratio.
int pc_camera_class_nearest(const double sensor_mm[2]);

#endif
