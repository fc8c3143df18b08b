// SPDX-License-Identifier: Apache-2.0
// How much light a luminaire throws into each direction, as makers publish it: IES LM-63 (1986, 1991, 1995,
// 2002, 2019) and EULUMDAT, both into one struct. Safe from any thread; memory lives in the caller's arena.
//
// Angles are in degrees, as these files and their tables are: the light between two of their angles is drawn
// straight in degrees.
// - Type C: v from straight down (0) to straight up (180), h about that axis, anticlockwise from above, 0
// along
//   C0. Round the clock.
// - Type B: the axis lies level; v turns the plane about it (-90..90), h is the angle in the plane from its
//   middle.
// - Type A: the axis stands; h turns the plane about it (-90..90), v is the angle in the plane from level.
// In types A and B 0, 0 is where the luminaire is aimed.
#ifndef PC_LIGHT_LAMP_PHOTOMETRY_H
#define PC_LIGHT_LAMP_PHOTOMETRY_H

#include "base/arena.h"

enum pc_photometry_type { PC_PHOTOMETRY_C, PC_PHOTOMETRY_B, PC_PHOTOMETRY_A };
enum pc_photometry_form {
    PC_PHOTOMETRY_LM63_1986,
    PC_PHOTOMETRY_LM63_1991,
    PC_PHOTOMETRY_LM63_1995,
    PC_PHOTOMETRY_LM63_2002,
    PC_PHOTOMETRY_LM63_2019,
    PC_PHOTOMETRY_EULUMDAT,
};
// What the file says of the way in which the light repeats.
enum pc_photometry_symmetry {
    PC_PHOTOMETRY_NONE,
    PC_PHOTOMETRY_AXIAL,    // the same all round
    PC_PHOTOMETRY_HALVES,   // about the plane of 0 and 180
    PC_PHOTOMETRY_SIDES,    // about the plane of 90 and 270; types A and B: left and right
    PC_PHOTOMETRY_QUARTERS, // about both
};
enum pc_photometry_opening { PC_PHOTOMETRY_POINT, PC_PHOTOMETRY_RECTANGLE, PC_PHOTOMETRY_ROUND };

enum { PC_PHOTOMETRY_NOTES_MAX = 8 };

struct pc_photometry {
    enum pc_photometry_form form;
    enum pc_photometry_type type;
    enum pc_photometry_symmetry symmetry;
    size_t v_count, h_count; // 2 or more of each; symmetries are written out
    const double *v_deg;     // ascending
    const double *h_deg;     // ascending; type C: the last is the first and 360
    const double *candela;   // [h_count][v_count], never negative
    enum pc_photometry_opening opening;
    double width_m, length_m, height_m; // of the luminous opening; 0: none
    double watts;                       // NAN: not said
    double lamps_lm;                    // what its bare lamps are said to give; NAN: measured as a whole
    double claimed_lm;                  // what it is said to give as a whole; NAN: not said
    double claimed_down_pct;            // of that, downwards; NAN: not said
    // Lamps that change with the luminaire's tilt: factors by angle (TILT=INCLUDE). 0: none. The intensities
    // above hold the factor for a luminaire that is not tilted.
    size_t tilt_count;
    const double *tilt_deg, *tilt_ratio;
    size_t notes; // sentences about what was taken how, and what the file lacks
    const char *note[PC_PHOTOMETRY_NOTES_MAX];
};

enum { PC_PHOTOMETRY_BYTES_MAX = 8 << 20 };

// text need not end with a NUL. Errors give the line, what stands there, and what should.
enum pc_status pc_photometry_read_lm63(struct pc_arena *arena, const char *text, size_t count,
                                       const char *place, struct pc_photometry *photometry,
                                       struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_photometry_read_eulumdat(struct pc_arena *arena, const char *text, size_t count,
                                           const char *place, struct pc_photometry *photometry,
                                           struct pc_err *err) PC_MUST_CHECK;
// Whichever of the two the file is: a line that begins with TILT= or a name that ends in .ies make it LM-63.
enum pc_status pc_photometry_read_file(struct pc_arena *arena, const char *path,
                                       struct pc_photometry *photometry, struct pc_err *err) PC_MUST_CHECK;

// Candela in a direction; 0 where the file has none. Type C takes any h.
double pc_photometry_cd(const struct pc_photometry *photometry, double v_deg, double h_deg);
// Type C only: lumens between two angles from straight down, all round. Exact for the light drawn straight
// between the file's angles.
double pc_photometry_zone_lm(const struct pc_photometry *photometry, double from_v_deg, double to_v_deg);
// All lumens, of any type; exact as above.
double pc_photometry_flux_lm(const struct pc_photometry *photometry);
// The direction of most light, the first of several.
double pc_photometry_peak_cd(const struct pc_photometry *photometry, double *v_deg, double *h_deg);
// Illuminance at a distance in a direction, facing the luminaire: candela over distance squared. Its
// tolerance is the tape's alone. Too much closer than five times the opening's size (reach.h).
double pc_photometry_lx(const struct pc_photometry *photometry, double v_deg, double h_deg, double distance_m,
                        double distance_m_tolerance, double *lx_tolerance);
// What the factors of TILT=INCLUDE make of the light when the luminaire is tilted by this much against when
// it is not; 1 without any. NAN outside their angles.
double pc_photometry_tilt_ratio(const struct pc_photometry *photometry, double tilt_deg);

#endif
