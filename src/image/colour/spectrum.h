// SPDX-License-Identifier: Apache-2.0
// Spectra as 81 numbers, 380 to 780 nm in steps of 5 nm, and what a light does to colours: CIE 13.3
// rendering, and the change of any reflectance against daylight or tungsten of the same kelvin. Value types;
// safe from any thread. CIE 1931 2 degree observer.
#ifndef PC_IMAGE_COLOUR_SPECTRUM_H
#define PC_IMAGE_COLOUR_SPECTRUM_H

#include "base/err.h"

enum {
    PC_SPECTRUM_FIRST_NM = 380,
    PC_SPECTRUM_LAST_NM = 780,
    PC_SPECTRUM_STEP_NM = 5,
    PC_SPECTRUM_BANDS = 81,
    PC_SPECTRUM_TEST_COLOURS = 15
};

// Power (any scale) or reflectance (0..1) at 380, 385, ... 780 nm.
struct pc_spectrum {
    double value[PC_SPECTRUM_BANDS];
};

// A table of wavelength and value, one pair a line, split by a comma, a semicolon, a tab or spaces; lines
// that begin with '#' and one heading are passed over. It must reach from 380 to 780 nm, rising, no step
// longer than 10 nm, no value below -1 % of the highest (those between are noise, and become 0). Steps below
// 5 nm are gathered into the bands by their overlap with a triangle of 5 nm to either side, which keeps their
// sum; longer ones are drawn straight across. place names the file in errors, which give the line.
enum pc_status pc_spectrum_parse(const char *text, size_t count, const char *place,
                                 struct pc_spectrum *spectrum, struct pc_err *err) PC_MUST_CHECK;

// Planck's law (c2 = 1.4388e-2 m K), 1 at 560 nm.
struct pc_spectrum pc_spectrum_planck(double T_K);
// CIE daylight of a correlated colour temperature, 100 at 560 nm (CIE 15: S0 + M1 S1 + M2 S2). False outside
// 4000..25000 K.
bool pc_spectrum_daylight(double cct_K, struct pc_spectrum *light);

// XYZ of a reflectance under a light, Y = 1 for a perfect white (NULL: the white itself). False when the
// light gives no luminance.
bool pc_spectrum_xyz(const struct pc_spectrum *light, const struct pc_spectrum *reflectance, double xyz[3]);
// As pc_colour_cct_from_uv, and as false.
bool pc_spectrum_cct(const struct pc_spectrum *light, double *cct_K, double *duv);

// What a perfect gel of this strength leaves of a light: power times exp(-c2 mired / wavelength), 1 where it
// passes most. By Wien's law it moves any black body by exactly this many mired; by Planck's within 4 % from
// 2700 to 5600 K. Positive: warmer. transmission_ratio (may be NULL): of luminance.
struct pc_spectrum pc_spectrum_gel(const struct pc_spectrum *light, double mired, double *transmission_ratio);

struct pc_rendering {
    double cct_K, duv;
    double ra;                          // mean of the first eight
    double r[PC_SPECTRUM_TEST_COLOURS]; // r[8] is R9, the strong red
    bool near_white;                    // within 0.0054 of the reference in uv, as CIE 13.3 asks
    double cct_K_tolerance, duv_tolerance, ra_tolerance, r9_tolerance;
};

// CIE 13.3-1995: reference Planck below 5000 K, daylight from there. Tolerances are for a spectrum from a
// hand-held instrument whose wavelengths are good to wavelength_tolerance_nm and whose sensitivity may tilt
// by tilt_tolerance_pct from one end to the other (0, 0: an exact table). False where the light has no CCT
// within 1000..25000 K.
bool pc_spectrum_rendering(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                           double tilt_tolerance_pct, struct pc_rendering *rendering);

// The light as an instrument would have it whose wavelengths are off by this much, and whose sensitivity
// tilts by this much from one end to the other. Beyond the ends the end goes on.
struct pc_spectrum pc_spectrum_misread(const struct pc_spectrum *light, double off_nm, double tilt_ratio);

// The reference of the rendering index for a kelvin: Planck below 5000 K, else daylight. False outside
// 1000..25000 K.
bool pc_spectrum_reference(double cct_K, struct pc_spectrum *reference);

// The change of a reflectance's colour under a light against the reference of the same kelvin: CIEDE2000, and
// L*a*b* under both, the light's white adapted to the reference's by CAT16. False as above.
bool pc_spectrum_change(const struct pc_spectrum *light, const struct pc_spectrum *reflectance,
                        double *de2000, double lab_reference[3], double lab_light[3]);

// The smoothest reflectance of a colour: of all between 0 and 1 that give lab under CIE daylight of 6504 K
// (white: that daylight's), the one whose squared differences from band to band sum to least. Made, not
// measured: a real tomato has its own bumps. A quadratic programme, solved with an active set. False when no
// reflectance gives the colour.
bool pc_spectrum_smoothest(const double lab[3], struct pc_spectrum *reflectance);

#endif
