// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sky.h"

#include "base/units.h"
#include "image/colour/colour.h"

const double pc_sky_overcast_spread_K = 900.0;

// ISO 15469:2004, table 1.
static const struct type {
    double a, b, c, d, e;
    const char *name;
} types[PC_SKY_TYPES] = {
    {4, -0.70, 0, -1, 0, "overcast, steeply brighter to the zenith"},
    {4, -0.70, 2, -1.5, 0.15, "overcast, steeply brighter to the zenith and somewhat to the sun"},
    {1.1, -0.8, 0, -1, 0, "overcast, somewhat brighter to the zenith"},
    {1.1, -0.8, 2, -1.5, 0.15, "overcast, somewhat brighter to zenith and sun"},
    {0, -1, 0, -1, 0, "uniform"},
    {0, -1, 2, -1.5, 0.15, "partly cloudy, somewhat brighter to the sun"},
    {0, -1, 5, -2.5, 0.30, "partly cloudy, brighter around the sun"},
    {0, -1, 10, -3, 0.45, "partly cloudy, with a corona"},
    {-1, -0.55, 2, -1.5, 0.15, "partly cloudy, the sun veiled"},
    {-1, -0.55, 5, -2.5, 0.30, "partly cloudy, brighter around the sun and to the horizon"},
    {-1, -0.55, 10, -3, 0.45, "white-blue, with a corona"},
    {-1, -0.32, 10, -3, 0.45, "clear, clean air"},
    {-1, -0.32, 16, -3, 0.30, "clear, polluted air"},
    {-1, -0.15, 16, -3, 0.30, "cloudless, hazy, with a broad corona"},
    {-1, -0.15, 24, -2.8, 0.15, "white-blue, hazy, with a broad corona"},
    {0, 0, 0, 0, 0, "overcast, traditional"},
};

const char *pc_sky_name(int type)
{
    return type >= 1 && type <= PC_SKY_TYPES ? types[type - 1].name : NULL;
}

static double gradation(const struct type *t, double cos_zenith)
{
    return cos_zenith > 1e-9 ? 1.0 + t->a * exp(t->b / cos_zenith) : 1.0;
}

static double indicatrix(const struct type *t, double cos_chi)
{
    double chi = acos(fmax(-1.0, fmin(1.0, cos_chi)));
    return 1.0 + t->c * (exp(t->d * chi) - exp(t->d * 0.5 * PC_PI)) + t->e * cos_chi * cos_chi;
}

double pc_sky_luminance_ratio(int type, double azimuth_rad, double elevation_rad, double sun_azimuth_rad,
                              double sun_elevation_rad)
{
    PC_ASSERT(type >= 1 && type <= PC_SKY_TYPES);
    if (type == PC_SKY_OVERCAST)
        return (1.0 + 2.0 * sin(elevation_rad)) / 3.0;
    const struct type *t = &types[type - 1];
    double cos_chi = sin(sun_elevation_rad) * sin(elevation_rad) +
                     cos(sun_elevation_rad) * cos(elevation_rad) * cos(azimuth_rad - sun_azimuth_rad);
    return indicatrix(t, cos_chi) * gradation(t, sin(elevation_rad)) /
           (indicatrix(t, sin(sun_elevation_rad)) * gradation(t, 1.0));
}

// Over the elevation by this rule on equal bands, and over the azimuth by equal steps: a periodic function.
static const double node[] = {-0.8611363115940526, -0.3399810435848563, 0.3399810435848563,
                              0.8611363115940526};
static const double weight[] = {0.3478548451374538, 0.6521451548625461, 0.6521451548625461,
                                0.3478548451374538};
enum { BANDS = 12, STEPS = 180 };

// The integral over the sky of luminance times what a surface of this normal makes of it.
static double integral_sr(int type, double sun_azimuth_rad, double sun_elevation_rad, bool upright,
                          double facing_rad)
{
    double total = 0.0, band = 0.5 * PC_PI / BANDS;
    for (int i = 0; i < BANDS * (int)PC_COUNT(node); i++) {
        int k = i % (int)PC_COUNT(node);
        double elevation = band * (i / (int)PC_COUNT(node) + 0.5 + 0.5 * node[k]), ring = 0.0;
        for (int j = 0; j < STEPS; j++) {
            // An upright surface sees half of the circle, whose ends are nodes of weight 0.
            double aside = upright ? PC_PI * ((j + 0.5) / STEPS - 0.5) : 2.0 * PC_PI * j / STEPS;
            double facing = upright ? cos(elevation) * cos(aside) : sin(elevation);
            ring += facing * pc_sky_luminance_ratio(type, facing_rad + aside, elevation, sun_azimuth_rad,
                                                    sun_elevation_rad);
        }
        total += 0.5 * band * weight[k] * cos(elevation) * ring * (upright ? PC_PI : 2.0 * PC_PI) / STEPS;
    }
    return total;
}

double pc_sky_horizontal_sr(int type, double sun_azimuth_rad, double sun_elevation_rad)
{
    return integral_sr(type, sun_azimuth_rad, sun_elevation_rad, false, 0.0);
}

double pc_sky_vertical_sr(int type, double facing_rad, double sun_azimuth_rad, double sun_elevation_rad)
{
    return integral_sr(type, sun_azimuth_rad, sun_elevation_rad, true, facing_rad);
}

double pc_sky_air_mass(double elevation_rad)
{
    double h_deg = pc_deg_from_rad(elevation_rad);
    return 1.0 / (sin(elevation_rad) + 0.50572 * pow(6.07995 + h_deg, -1.6364));
}

struct pc_sky_light pc_sky_light_at(enum pc_sky_state state, double sun_elevation_rad, int day_of_year)
{
    // Of the sky on a level surface: lift + height * sin(elevation)^power, in lx.
    static const struct {
        double thinning, lift_lx, height_lx, power;
    } rows[] = {
        [PC_SKY_IS_CLEAR] = {0.21, 800.0, 15500.0, 0.5},
        [PC_SKY_IS_PARTLY_CLOUDY] = {0.80, 300.0, 45000.0, 1.0},
        [PC_SKY_IS_OVERCAST] = {INFINITY, 300.0, 21000.0, 1.0},
    };
    struct pc_sky_light light = {0.0, 0.0};
    if (sun_elevation_rad <= 0.0)
        return light;
    double outside_lx = 127500.0 * (1.0 + 0.034 * cos(2.0 * PC_PI * (day_of_year - 2) / 365.0));
    light.normal_lx = outside_lx * exp(-rows[state].thinning * pc_sky_air_mass(sun_elevation_rad));
    light.sky_lx =
        rows[state].lift_lx + rows[state].height_lx * pow(sin(sun_elevation_rad), rows[state].power);
    return light;
}

static const struct anchor {
    double elevation_deg, sun_K, sun_duv, sky_K;
} anchors[] = {
    {2, 2064, 0.0035, 11039},  {5, 3008, 0.0056, 10779},  {10, 3872, 0.0051, 10406},
    {20, 4626, 0.0036, 10716}, {30, 4964, 0.0028, 11091}, {45, 5213, 0.0022, 11494},
    {60, 5334, 0.0019, 11750}, {90, 5410, 0.0017, 11940},
};

// The anchors around an elevation, and how far between them it lies.
static const struct anchor *between(double elevation_rad, double *part)
{
    double e = fmax(anchors[0].elevation_deg, fmin(90.0, pc_deg_from_rad(elevation_rad)));
    size_t i = 0;
    while (i + 2 < PC_COUNT(anchors) && e > anchors[i + 1].elevation_deg)
        i++;
    *part = log(e / anchors[i].elevation_deg) / log(anchors[i + 1].elevation_deg / anchors[i].elevation_deg);
    return &anchors[i];
}

static double mix(double a, double b, double part)
{
    return a + part * (b - a);
}

struct pc_sky_colour pc_sky_colour_of_sun(double elevation_rad)
{
    double part;
    const struct anchor *a = between(elevation_rad, &part);
    return (struct pc_sky_colour){
        pc_K_from_mired(mix(pc_mired_from_K(a[0].sun_K), pc_mired_from_K(a[1].sun_K), part)),
        mix(a[0].sun_duv, a[1].sun_duv, part)};
}

// The anchors tell no Duv of the sky; that of CIE daylight of its CCT is taken.
static struct pc_sky_colour daylight_of(double cct_K)
{
    double xy[2], xyz[3], uv[2];
    struct pc_sky_colour colour = {cct_K, 0.0};
    bool good = pc_colour_daylight_xy(cct_K, xy);
    pc_colour_xyz_from_xy(xy, 1.0, xyz);
    good = good && pc_colour_uv_from_xyz(xyz, uv) && pc_colour_cct_from_uv(uv, &colour.cct_K, &colour.duv);
    PC_ASSERT(good);
    return colour;
}

struct pc_sky_colour pc_sky_colour_of_clear(double elevation_rad)
{
    double part;
    const struct anchor *a = between(elevation_rad, &part);
    return daylight_of(pc_K_from_mired(mix(pc_mired_from_K(a[0].sky_K), pc_mired_from_K(a[1].sky_K), part)));
}

struct pc_sky_colour pc_sky_colour_of_overcast(void)
{
    return daylight_of(6504.0);
}
