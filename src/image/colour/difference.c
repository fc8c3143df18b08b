// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "image/colour/colour.h"

// CIE 15: below this ratio to white the cube root gives way to a straight line, of this slope over 116.
static const double LINE_BELOW = 216.0 / 24389.0, LINE_SLOPE = 24389.0 / 27.0;

static double lab_f(double ratio)
{
    return ratio > LINE_BELOW ? cbrt(ratio) : (LINE_SLOPE * ratio + 16.0) / 116.0;
}

static double lab_f_inverse(double f)
{
    double cube = f * f * f;
    return cube > LINE_BELOW ? cube : (116.0 * f - 16.0) / LINE_SLOPE;
}

void pc_colour_lab_from_xyz(const double xyz[3], const double white[3], double lab[3])
{
    double x = lab_f(xyz[0] / white[0]), y = lab_f(xyz[1] / white[1]), z = lab_f(xyz[2] / white[2]);
    lab[0] = 116.0 * y - 16.0;
    lab[1] = 500.0 * (x - y);
    lab[2] = 200.0 * (y - z);
}

void pc_colour_xyz_from_lab(const double lab[3], const double white[3], double xyz[3])
{
    double y = (lab[0] + 16.0) / 116.0, x = y + lab[1] / 500.0, z = y - lab[2] / 200.0;
    xyz[0] = white[0] * lab_f_inverse(x);
    xyz[1] = white[1] * lab_f_inverse(y);
    xyz[2] = white[2] * lab_f_inverse(z);
}

static double hue_deg(double a, double b)
{
    if (a == 0.0 && b == 0.0)
        return 0.0;
    double hue = pc_deg_from_rad(atan2(b, a));
    return hue < 0.0 ? hue + 360.0 : hue;
}

static double cos_deg(double deg)
{
    return cos(pc_rad_from_deg(deg));
}

static double seventh_root_share(double chroma)
{
    double c7 = pow(chroma, 7.0), c25 = 6103515625.0; // 25^7
    return sqrt(c7 / (c7 + c25));
}

// Sharma et al. 2005, equations 2 to 22. Hues exactly opposite are published as though the difference were
// 180 degrees and no more; without this slack rounding decides.
static const double OPPOSITE_DEG = 180.0 + 1e-9;

double pc_colour_de2000(const double lab1[3], const double lab2[3])
{
    double chroma_mean = 0.5 * (hypot(lab1[1], lab1[2]) + hypot(lab2[1], lab2[2]));
    double g = 0.5 * (1.0 - seventh_root_share(chroma_mean));
    double a1 = (1.0 + g) * lab1[1], a2 = (1.0 + g) * lab2[1];
    double C1 = hypot(a1, lab1[2]), C2 = hypot(a2, lab2[2]);
    double h1 = hue_deg(a1, lab1[2]), h2 = hue_deg(a2, lab2[2]);
    bool grey = C1 * C2 == 0.0;

    double dh = grey ? 0.0 : h2 - h1;
    if (dh > OPPOSITE_DEG)
        dh -= 360.0;
    else if (dh < -OPPOSITE_DEG)
        dh += 360.0;
    double dL = lab2[0] - lab1[0], dC = C2 - C1;
    double dH = 2.0 * sqrt(C1 * C2) * sin(pc_rad_from_deg(0.5 * dh));

    double L = 0.5 * (lab1[0] + lab2[0]), C = 0.5 * (C1 + C2);
    double h = h1 + h2;
    if (!grey) {
        if (fabs(h1 - h2) > OPPOSITE_DEG)
            h += h < 360.0 ? 360.0 : -360.0;
        h *= 0.5;
    }
    double T = 1.0 - 0.17 * cos_deg(h - 30.0) + 0.24 * cos_deg(2.0 * h) + 0.32 * cos_deg(3.0 * h + 6.0) -
               0.20 * cos_deg(4.0 * h - 63.0);
    double turn = (h - 275.0) / 25.0, from_mid = (L - 50.0) * (L - 50.0);
    double SL = 1.0 + 0.015 * from_mid / sqrt(20.0 + from_mid), SC = 1.0 + 0.045 * C,
           SH = 1.0 + 0.015 * C * T;
    double RT = -sin(pc_rad_from_deg(60.0 * exp(-turn * turn))) * 2.0 * seventh_root_share(C);
    double l = dL / SL, c = dC / SC, hh = dH / SH;
    return sqrt(l * l + c * c + hh * hh + RT * c * hh);
}
