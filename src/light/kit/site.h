// SPDX-License-Identifier: Apache-2.0
// A place to shoot at, read from a short JSON file (docs/kit.md lists its keys).
//
// SI; bearings and elevations in radians, bearings from north, clockwise. A figure that is unknown is NAN.
// X_tolerance is the half-width around X that holds 19 times in 20, NAN where X is. Texts and lists live in
// the arena that the place was read into.
//
// A window is placed as one sees it from the table: how far its wall is from the middle of the table, and how
// far the window's middle lies to the right of the nearest point of that wall, looking out.
#ifndef PC_LIGHT_KIT_SITE_H
#define PC_LIGHT_KIT_SITE_H

#include "light/kit/kit.h"

enum pc_blind { PC_BLIND_NONE, PC_BLIND_ROLLER, PC_BLIND_SLATS, PC_BLIND_CURTAIN };

struct pc_window {
    const char *name;
    double width_m, width_m_tolerance;
    double height_m, height_m_tolerance;
    double sill_m, sill_m_tolerance;             // over the floor
    double facing_rad, facing_rad_tolerance;     // the bearing one looks out to, square to the glass
    double from_table_m, from_table_m_tolerance; // its wall from the middle of the table
    double right_m, right_m_tolerance;           // its middle, to the right looking out
    double reveal_m, reveal_m_tolerance;         // how deep the glass lies behind the inside of the wall
    double glass_ratio, glass_ratio_tolerance;   // light let through, square on
    int blind;                                   // enum pc_blind
    double blind_ratio, blind_ratio_tolerance;   // light let through by the blind when it is down
};

struct pc_skyline { // what stands against the sky, as seen from the table; bearings run clockwise
    double from_rad, to_rad, bearing_tolerance_rad;
    double elevation_rad, elevation_rad_tolerance;
};

struct pc_load {
    const char *name;
    double power_W, power_W_tolerance;
    int count;
};

struct pc_circuit {
    const char *name;
    double limit_A; // of its breaker
    bool for_lamps; // the photographer's own may be plugged in here
    struct pc_load *loads;
    size_t load_count;
};

struct pc_pendant { // a lamp of the house that staff may switch on
    const char *name;
    double kelvin_K, kelvin_K_tolerance;
    double ripple_hz; // of its light; NAN: twice the mains
    double ripple_pct, ripple_pct_tolerance;
    double table_lx, table_lx_tolerance; // what it adds on the table; NAN: not measured
};

struct pc_table_top {
    double size_m[2], size_m_tolerance; // the longer side first
    double height_m, height_m_tolerance;
    bool long_side_to_window; // the longer side runs along the first window's wall
};

struct pc_site {
    const char *name;
    double latitude_rad, latitude_rad_tolerance;
    double longitude_rad, longitude_rad_tolerance; // east positive
    double altitude_m, altitude_m_tolerance;
    double utc_offset_s; // of the clocks there on that day
    struct pc_date date;
    double length_m, length_m_tolerance; // of the room, along the first window's wall
    double width_m, width_m_tolerance;   // square to it
    double ceiling_m, ceiling_m_tolerance;
    double walls_ratio, walls_ratio_tolerance; // reflectances
    double floor_ratio, floor_ratio_tolerance;
    double ceiling_ratio, ceiling_ratio_tolerance;
    double ground_ratio, ground_ratio_tolerance; // outside
    struct pc_table_top table;
    struct pc_support *supports; // other tables and trestles there
    size_t support_count;
    struct pc_window *windows;
    size_t window_count;
    struct pc_skyline *skyline;
    size_t skyline_count;
    double mains_V, mains_V_tolerance;
    double mains_hz;
    struct pc_circuit *circuits;
    size_t circuit_count;
    struct pc_pendant *pendants;
    size_t pendant_count;
};

extern const struct pc_keys pc_site_keys;

enum pc_status pc_site_read(struct pc_arena *arena, const char *path, struct pc_site *site,
                            struct pc_err *err) PC_MUST_CHECK;
// The same from text; place names it in errors.
enum pc_status pc_site_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                 struct pc_site *site, struct pc_err *err) PC_MUST_CHECK;
// As if the file were empty: all defaults.
void pc_site_default(struct pc_site *site);

const struct pc_window *pc_site_window(const struct pc_site *site, const char *name); // NULL: none

#endif
