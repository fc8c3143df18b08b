// SPDX-License-Identifier: Apache-2.0
// Colour as numbers: white (CCT, Duv, daylight, Planck), difference, adaptation, display encoding.
// Knows no pictures. All functions are pure and safe from any thread. CIE 1931 2 degree observer throughout.
// XYZ is relative (any scale) unless said; uv is CIE 1960 UCS.
#ifndef PC_IMAGE_COLOUR_COLOUR_H
#define PC_IMAGE_COLOUR_COLOUR_H

#include "base/err.h"

// CIE 1960 u, v from XYZ. False when X + 15 Y + 3 Z is not above zero.
bool pc_colour_uv_from_xyz(const double xyz[3], double uv[2]);
// XYZ of luminance Y from chromaticity x, y (y > 0).
void pc_colour_xyz_from_xy(const double xy[2], double Y, double xyz[3]);

// Correlated colour temperature and distance from the Planckian locus (positive above it, towards green).
// A table of the locus in 1 % steps, as Y. Ohno, "Practical use and calculation of CCT and Duv", LEUKOS
// 10:47-55 (2014), and the foot of the perpendicular on the parabola through the three nearest rows, which
// needs no case for small and large Duv. 1000..100000 K; against the locus itself within 0.5 K up to 10000 K,
// 5e-5 of it above, and Duv within 1e-7.
// False (outputs untouched) outside that range or where |Duv| > 0.05, where CCT means nothing (CIE 15).
bool pc_colour_cct_from_uv(const double uv[2], double *cct_K, double *duv);
// The inverse: the chromaticity of a light of this CCT and Duv.
void pc_colour_uv_from_cct(double cct_K, double duv, double uv[2]);

// CIE xy of a Planckian radiator (c2 = 1.4388e-2 m K), 1000..100000 K.
void pc_colour_planck_xy(double T_K, double xy[2]);
// CIE xy of CIE daylight of a given correlated colour temperature, 4000..25000 K (CIE 15). False outside.
bool pc_colour_daylight_xy(double cct_K, double xy[2]);

// CIE 1976 L*a*b* against a white, both XYZ on one scale (CIE 15).
void pc_colour_lab_from_xyz(const double xyz[3], const double white[3], double lab[3]);
void pc_colour_xyz_from_lab(const double lab[3], const double white[3], double xyz[3]);
// CIEDE2000 (CIE 142-2001; Sharma, Wu, Dalal, Color Res. Appl. 30:21, 2005, whose 34 pairs it meets to 1e-4).
double pc_colour_de2000(const double lab1[3], const double lab2[3]);

// The linear map that takes colours seen under one white to the matching colours under another: Bradford
// (as in ICC.1) and CAT16 with full adaptation. to_from_from = adapted-from-original, row-major.
void pc_colour_adapt_bradford(const double from_white[3], const double to_white[3],
                              double to_from_from[3][3]);
void pc_colour_adapt_cat16(const double from_white[3], const double to_white[3], double to_from_from[3][3]);

// White points as file formats and charts write them, Y = 1: D50 of the ICC connection space (0.9642, 1,
// 0.8249), D65 of xy 0.3127, 0.3290.
extern const double pc_colour_d50[3];
extern const double pc_colour_d65[3];

// Linear sRGB (IEC 61966-2-1, D65) from XYZ (Y = 1 at white), and the display curve, both ways;
// what is outside 0..1 is cut to it.
extern const double pc_colour_srgb_from_xyz[3][3];
double pc_colour_srgb_encode(double linear);
double pc_colour_srgb_decode(double encoded);

// An ICC profile for sRGB, made by the colour engine: bytes on the heap, taken by the caller (free).
enum pc_status pc_colour_srgb_profile(uint8_t **bytes, size_t *count, struct pc_err *err) PC_MUST_CHECK;

#endif
