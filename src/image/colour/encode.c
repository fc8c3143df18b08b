// SPDX-License-Identifier: Apache-2.0
#include "image/colour/colour.h"

// From the primaries (0.64, 0.33) (0.30, 0.60) (0.15, 0.06) and white (0.3127, 0.3290) of IEC 61966-2-1,
// unrounded, so that its white is exactly neutral.
const double pc_colour_srgb_from_xyz[3][3] = {
    {3.24096994190452, -1.53738317757009, -0.498610760293003},
    {-0.96924363628088, 1.87596750150772, 0.0415550574071756},
    {0.0556300796969936, -0.203976958888977, 1.05697151424288},
};

double pc_colour_srgb_encode(double linear)
{
    double v = fmin(fmax(linear, 0.0), 1.0);
    return v <= 0.0031308 ? 12.92 * v : 1.055 * pow(v, 1.0 / 2.4) - 0.055;
}

double pc_colour_srgb_decode(double encoded)
{
    double v = fmin(fmax(encoded, 0.0), 1.0);
    return v <= 0.04045 ? v / 12.92 : pow((v + 0.055) / 1.055, 2.4);
}
