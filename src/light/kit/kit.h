// SPDX-License-Identifier: Apache-2.0
// What the photographer owns, read from a short JSON file (docs/kit.md lists its keys).
//
// Lengths are in metres but for sensors and focal lengths, which everybody has in millimetres. A figure that
// is unknown is NAN. X_tolerance is the half-width around X that holds 19 times in 20, NAN where X is. Texts
// and lists live in the arena that the kit was read into.
#ifndef PC_LIGHT_KIT_KIT_H
#define PC_LIGHT_KIT_KIT_H

#include "base/keys.h"

struct pc_lens {
    const char *name;
    double focal_mm, focal_mm_tolerance;       // known after reading, if either is given
    double equivalent_mm;                      // on 36 x 24 mm, by diagonal; NAN unless the file says it
    double pupil_ratio, pupil_ratio_tolerance; // exit pupil over entrance pupil
    double widest_f, narrowest_f;
    double nearest_m; // from subject to sensor; NAN: unknown
    double front_m;   // from the sensor to the lens's front rim; NAN: unknown
};

struct pc_camera {
    const char *name;
    int camera_class;                         // into pc_camera_classes; known after reading
    double sensor_mm[2], sensor_mm_tolerance; // the longer side first
    double pixels[2], pixels_tolerance;       // along the longer side first
    double sync_s;                            // shortest shutter with flash; 0: any
    double readout_s, readout_s_tolerance;    // from the first row to the last, electronic shutter
    double full_well_e, full_well_e_tolerance;
    double read_noise_e, read_noise_e_tolerance;
    double base_iso;
    double noisy_iso; // from here on the photographer finds it noisy; NAN: not said
    double above_sensor_m, above_sensor_m_tolerance; // body and arm over the sensor, looking down
    double mass_kg, mass_kg_tolerance;               // with a lens
    struct pc_lens *lenses;
    size_t lens_count;
};

struct pc_lamp { // of steady light
    const char *name;
    int lamp_class;
    double size_m[2], size_m_tolerance; // of what shines
    double power_W, power_W_tolerance;
    double kelvin_K[2];                  // warmest and coolest setting
    double at_1m_lx, at_1m_lx_tolerance; // on its axis, full dial, at the middle of its kelvin range
    double output_ratio;                 // of at_1m_lx that this one still gives
    double off_K;                        // what it gives less what it shows; negative: warmer
    bool barn_doors;
    const char *sheet; // file name of its lamp sheet; NULL: none
};

struct pc_flash {
    const char *name;
    double size_m[2], size_m_tolerance; // of the soft box or bowl
    double energy_J;
    double f_at_1m, f_at_1m_tolerance; // the f-number that full power wants at 1 m, ISO 100
    double power_W;                    // from the socket while it charges; 0: battery
};

struct pc_scrim {
    const char *name;
    double size_m[2], size_m_tolerance;
    double loss_ev, loss_ev_tolerance;
};

struct pc_bounce_card { // white, grey or black
    const char *name;
    double size_m[2], size_m_tolerance;
    double reflectance_ratio, reflectance_ratio_tolerance;
    int count;
};

struct pc_board { // a surface to shoot on, or a backdrop
    const char *name;
    double size_m[2], size_m_tolerance; // the longer side first
    double reflectance_ratio, reflectance_ratio_tolerance;
};

struct pc_polariser {
    const char *name;
    double loss_ev, loss_ev_tolerance; // of unpolarised light
};

struct pc_arm { // holds a camera or lamp out over the table
    const char *name;
    double length_m, length_m_tolerance;
    double mass_kg, mass_kg_tolerance;
    double holds_kg; // as its maker says; NAN: not said
};

struct pc_stand {
    const char *name;
    double highest_m, highest_m_tolerance;
    double foot_m, foot_m_tolerance; // from the middle to where a leg stands
    double mass_kg, mass_kg_tolerance;
    double holds_kg; // as its maker says; NAN: not said
    int count;
};

struct pc_support { // trestles or a table to lay a board on
    const char *name;
    double height_m, height_m_tolerance; // with the board on it
};

struct pc_kit {
    struct pc_camera *cameras;
    size_t camera_count;
    struct pc_lamp *lamps;
    size_t lamp_count;
    struct pc_flash *flashes;
    size_t flash_count;
    struct pc_scrim *scrims;
    size_t scrim_count;
    struct pc_bounce_card *cards;
    size_t card_count;
    struct pc_board *boards;
    size_t board_count;
    struct pc_polariser *polarisers;
    size_t polariser_count;
    struct pc_arm *arms;
    size_t arm_count;
    struct pc_stand *stands;
    size_t stand_count;
    struct pc_support *supports;
    size_t support_count;
    double ball_m, ball_m_tolerance; // diameter of the steel ball
    double greycard_ratio, greycard_ratio_tolerance;
};

extern const struct pc_keys pc_kit_keys;
extern const struct pc_keys pc_support_keys; // shared with places

// What the file does not say is filled in by class, with the class's tolerance.
enum pc_status pc_kit_read(struct pc_arena *arena, const char *path, struct pc_kit *kit,
                           struct pc_err *err) PC_MUST_CHECK;
// The same from text; place names it in errors.
enum pc_status pc_kit_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                struct pc_kit *kit, struct pc_err *err) PC_MUST_CHECK;

// By name; NULL when there is none.
const struct pc_camera *pc_kit_camera(const struct pc_kit *kit, const char *name);
const struct pc_lamp *pc_kit_lamp(const struct pc_kit *kit, const char *name);

#endif
