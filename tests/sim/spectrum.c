// SPDX-License-Identifier: Apache-2.0
// Colour in bands: an observer, lights, surfaces and filters, all smooth closed forms.
#include "sim_priv.h"

// CIELAB under D50 of a 24-patch chart made before November 2014 (published averages), in the usual order.
const double sim_chart_lab[SIM_PATCHES][3] = {
    {37.99, 13.56, 14.05},  {65.71, 18.14, 17.81},   {49.93, -4.91, -21.94}, {43.14, -13.10, 21.88},
    {55.11, 8.84, -25.41},  {70.72, -33.39, -0.23},  {62.66, 36.07, 57.07},  {40.01, 10.42, -45.99},
    {51.13, 48.24, 16.25},  {30.33, 23.00, -21.61},  {72.53, -23.69, 57.26}, {71.94, 19.37, 67.85},
    {28.77, 14.18, -50.31}, {55.26, -38.32, 31.35},  {42.11, 53.38, 28.19},  {81.73, 4.04, 79.84},
    {51.94, 50.00, -14.58}, {51.04, -28.65, -28.65}, {96.54, -0.46, 1.16},   {81.26, -0.64, -0.37},
    {66.76, -0.72, -0.53},  {50.86, -0.14, -0.29},   {35.65, -0.43, -1.24},  {20.48, -0.07, -0.99},
};

double sim_normal(uint64_t *state)
{
    double u = 1.0 - sim_uniform(state);
    double v = sim_uniform(state);
    return sqrt(-2.0 * log(u)) * cos(2.0 * SIM_PI * v);
}

bool sim_solve3(const double a[3][3], const double b[3], double x[3])
{
    double m[3][4];
    for (int i = 0; i < 3; i++) {
        for (int j = 0; j < 3; j++)
            m[i][j] = a[i][j];
        m[i][3] = b[i];
    }
    for (int c = 0; c < 3; c++) {
        int best = c;
        for (int r = c + 1; r < 3; r++)
            if (fabs(m[r][c]) > fabs(m[best][c]))
                best = r;
        if (fabs(m[best][c]) < 1e-300)
            return false;
        for (int j = 0; j < 4; j++) {
            double t = m[c][j];
            m[c][j] = m[best][j];
            m[best][j] = t;
        }
        for (int r = 0; r < 3; r++) {
            double f = r == c ? 0.0 : m[r][c] / m[c][c];
            for (int j = c; j < 4; j++)
                m[r][j] -= f * m[c][j];
        }
    }
    for (int i = 0; i < 3; i++)
        x[i] = m[i][3] / m[i][i];
    return true;
}

double sim_band_nm(int band)
{
    return 400.0 + 20.0 * band;
}

// A Gaussian with its own slope either side.
static double lobe(double nm, double peak, double below, double above)
{
    double t = (nm - peak) * (nm < peak ? below : above);
    return exp(-0.5 * t * t);
}

// Wyman, Sloan, Shirley, "Simple analytic approximations to the CIE XYZ color matching functions", JCGT 2(2),
// 2013, multi-lobe form of the CIE 1931 observer.
static void observer(double nm, double xyz[3])
{
    xyz[0] = 0.362 * lobe(nm, 442.0, 0.0624, 0.0374) + 1.056 * lobe(nm, 599.8, 0.0264, 0.0323) -
             0.065 * lobe(nm, 501.1, 0.0490, 0.0382);
    xyz[1] = 0.821 * lobe(nm, 568.8, 0.0213, 0.0247) + 0.286 * lobe(nm, 530.9, 0.0613, 0.0322);
    xyz[2] = 1.217 * lobe(nm, 437.0, 0.0845, 0.0278) + 0.681 * lobe(nm, 459.0, 0.0385, 0.0725);
}

void sim_xyz_from_bands(const struct sim_bands *light, const struct sim_bands *reflect, double xyz[3])
{
    double whole = 0;
    xyz[0] = xyz[1] = xyz[2] = 0;
    for (int b = 0; b < SIM_BANDS; b++) {
        double bar[3];
        observer(sim_band_nm(b), bar);
        double v = light->v[b] * (reflect ? reflect->v[b] : 1.0);
        whole += bar[1];
        for (int c = 0; c < 3; c++)
            xyz[c] += bar[c] * v;
    }
    for (int c = 0; c < 3; c++)
        xyz[c] /= whole;
}

// M. Krystek, "An algorithm to calculate correlated colour temperature", Color Res. Appl. 10:38 (1985): the
// Planckian locus in CIE 1960 uv, within 1e-4 from 1000 to 15000 K.
void sim_planck_uv(double T, double uv[2])
{
    uv[0] = (0.860117757 + 1.54118254e-4 * T + 1.28641212e-7 * T * T) /
            (1.0 + 8.42420235e-4 * T + 7.08145163e-7 * T * T);
    uv[1] = (0.317398726 + 4.22806245e-5 * T + 4.20481691e-8 * T * T) /
            (1.0 - 2.89741816e-5 * T + 1.61456053e-7 * T * T);
}

// A glowing body in relative units.
static double planck(double nm, double T_K)
{
    double m = nm * 1e-9;
    return pow(nm / 560.0, -5.0) * (exp(1.4388e-2 / (560e-9 * T_K)) - 1.0) /
           (exp(1.4388e-2 / (m * T_K)) - 1.0);
}

struct sim_bands sim_light_bands_xy(const double xy[2], double shape_K, bool led)
{
    struct sim_bands base, s;
    for (int b = 0; b < SIM_BANDS; b++) {
        double nm = sim_band_nm(b);
        double blue = sim_clamp((shape_K - 1800.0) / 4700.0, 0.1, 2.0);
        base.v[b] = led ? 0.03 + blue * lobe(nm, 452.0, 1.0 / 13.0, 1.0 / 15.0) +
                              lobe(nm, 585.0, 1.0 / 48.0, 1.0 / 55.0)
                        : planck(nm, shape_K);
    }
    // The base times exp of a parabola that brings it onto the colour wanted; Newton in the three
    // coefficients.
    double want[3] = {xy[0] / xy[1], 1.0, (1.0 - xy[0] - xy[1]) / xy[1]};
    double k[3] = {0, 0, 0};
    for (int step = 0; step < 60; step++) {
        double xyz[3], slope[3][3], miss[3], add[3];
        for (int b = 0; b < SIM_BANDS; b++) {
            double t = (sim_band_nm(b) - 550.0) / 150.0;
            s.v[b] = base.v[b] * exp(sim_clamp(k[0] + k[1] * t + k[2] * t * t, -30, 30));
        }
        sim_xyz_from_bands(&s, NULL, xyz);
        for (int j = 0; j < 3; j++) {
            struct sim_bands d;
            double column[3];
            for (int b = 0; b < SIM_BANDS; b++)
                d.v[b] = s.v[b] * pow((sim_band_nm(b) - 550.0) / 150.0, j);
            sim_xyz_from_bands(&d, NULL, column);
            for (int i = 0; i < 3; i++)
                slope[i][j] = column[i];
        }
        for (int i = 0; i < 3; i++)
            miss[i] = want[i] - xyz[i];
        if (!sim_solve3(slope, miss, add))
            break;
        for (int i = 0; i < 3; i++)
            k[i] += sim_clamp(add[i], -1.0, 1.0);
        if (fabs(miss[0]) + fabs(miss[1]) + fabs(miss[2]) < 1e-13)
            break;
    }
    return s;
}

struct sim_bands sim_light_bands(double cct_K, double duv, bool led)
{
    double uv[2], near[2];
    sim_planck_uv(cct_K, uv);
    sim_planck_uv(cct_K * 1.001, near);
    // Duv is at right angles to the locus, positive towards green (larger v).
    double du = near[0] - uv[0], dv = near[1] - uv[1], length = hypot(du, dv);
    double u = uv[0] + duv * dv / length, v = uv[1] - duv * du / length;
    double xy[2] = {3.0 * u / (2.0 * u - 8.0 * v + 4.0), 2.0 * v / (2.0 * u - 8.0 * v + 4.0)};
    return sim_light_bands_xy(xy, cct_K, led);
}

static double lab_f(double t)
{
    return t > 216.0 / 24389.0 ? cbrt(t) : (24389.0 / 27.0 * t + 16.0) / 116.0;
}

void sim_lab_from_xyz(const double xyz[3], const double white[3], double lab[3])
{
    double x = lab_f(xyz[0] / white[0]), y = lab_f(xyz[1] / white[1]), z = lab_f(xyz[2] / white[2]);
    lab[0] = 116.0 * y - 16.0;
    lab[1] = 500.0 * (x - y);
    lab[2] = 200.0 * (y - z);
}

struct sim_bands sim_reflect_flat(double ratio)
{
    struct sim_bands r;
    for (int b = 0; b < SIM_BANDS; b++)
        r.v[b] = ratio;
    return r;
}

// The smooth step of a parabola (Jakob, Hanika, CGF 38(2), 2019).
static struct sim_bands reflect_from_curve(const double k[3])
{
    struct sim_bands r;
    for (int b = 0; b < SIM_BANDS; b++) {
        double t = (sim_band_nm(b) - 550.0) / 150.0;
        double x = k[0] + k[1] * t + k[2] * t * t;
        r.v[b] = 0.5 + x / (2.0 * sqrt(1.0 + x * x));
    }
    return r;
}

struct sim_bands sim_reflect_from_lab(const double lab[3])
{
    static const double d50_xy[2] = {0.34567, 0.35850};
    struct sim_bands light = sim_light_bands_xy(d50_xy, 5003.0, false), r;
    double white[3], k[3] = {0, 0, 0}, damp = 1e-2, best = 1e30;
    sim_xyz_from_bands(&light, NULL, white);
    for (int step = 0; step < 200 && best > 1e-12; step++) {
        double at[3], xyz[3], slope[3][3], normal[3][3] = {{0}}, pull[3] = {0}, add[3], next[3];
        r = reflect_from_curve(k);
        sim_xyz_from_bands(&light, &r, xyz);
        sim_lab_from_xyz(xyz, white, at);
        best = 0;
        for (int i = 0; i < 3; i++)
            best += (lab[i] - at[i]) * (lab[i] - at[i]);
        for (int j = 0; j < 3; j++) {
            double moved[3] = {k[0], k[1], k[2]}, there[3];
            moved[j] += 1e-5;
            r = reflect_from_curve(moved);
            sim_xyz_from_bands(&light, &r, xyz);
            sim_lab_from_xyz(xyz, white, there);
            for (int i = 0; i < 3; i++)
                slope[i][j] = (there[i] - at[i]) / 1e-5;
        }
        for (int a = 0; a < 3; a++)
            for (int i = 0; i < 3; i++) {
                pull[a] += slope[i][a] * (lab[i] - at[i]);
                for (int b = 0; b < 3; b++)
                    normal[a][b] += slope[i][a] * slope[i][b];
            }
        for (int a = 0; a < 3; a++)
            normal[a][a] += damp;
        if (!sim_solve3(normal, pull, add))
            break;
        for (int i = 0; i < 3; i++)
            next[i] = k[i] + add[i];
        r = reflect_from_curve(next);
        sim_xyz_from_bands(&light, &r, xyz);
        sim_lab_from_xyz(xyz, white, at);
        double miss = 0;
        for (int i = 0; i < 3; i++)
            miss += (lab[i] - at[i]) * (lab[i] - at[i]);
        damp *= miss < best ? 0.3 : 10.0;
        if (miss < best)
            memcpy(k, next, sizeof(k));
        if (damp > 1e12)
            break;
    }
    return reflect_from_curve(k);
}

void sim_filter_bands(const double hue_shift_nm[3], struct sim_bands filter[3])
{
    static const double peak[3] = {603.0, 533.0, 458.0}, narrow[3] = {1.0 / 33.0, 1.0 / 38.0, 1.0 / 29.0};
    static const double wide[3] = {1.0 / 40.0, 1.0 / 42.0, 1.0 / 34.0}, height[3] = {0.62, 1.0, 0.78};
    static const double d65_xy[2] = {0.31271, 0.32901};
    struct sim_bands d65 = sim_light_bands_xy(d65_xy, 6504.0, false);
    double green = 0;
    for (int c = 0; c < 3; c++)
        for (int b = 0; b < SIM_BANDS; b++) {
            double nm = sim_band_nm(b);
            // a tenth of green's pass leaks into the others, as dyes do
            filter[c].v[b] = height[c] * (lobe(nm, peak[c] + hue_shift_nm[c], narrow[c], wide[c]) +
                                          0.06 * lobe(nm, 540.0, 1.0 / 70.0, 1.0 / 70.0));
        }
    for (int b = 0; b < SIM_BANDS; b++)
        green += filter[1].v[b] * d65.v[b];
    for (int c = 0; c < 3; c++)
        for (int b = 0; b < SIM_BANDS; b++)
            filter[c].v[b] /= green;
}
