// SPDX-License-Identifier: Apache-2.0
// CIE tables on the grid of spectrum.h, made while building from the files of colord-data.
#ifndef PC_IMAGE_COLOUR_SPECTRUM_PRIV_H
#define PC_IMAGE_COLOUR_SPECTRUM_PRIV_H

#include "image/colour/spectrum.h"

// CIE 1931 2 degree colour-matching functions.
extern const double pc_spectrum_cmf[3][PC_SPECTRUM_BANDS];
// Mean daylight and its two ways to vary, S0, S1, S2 (CIE 15).
extern const double pc_spectrum_daylight_curves[3][PC_SPECTRUM_BANDS];
// Reflectance of test colours 1 to 15 (CIE 13.3; the fifteenth is JIS Z 8726's).
extern const double pc_spectrum_test_colours[PC_SPECTRUM_TEST_COLOURS][PC_SPECTRUM_BANDS];

#endif
