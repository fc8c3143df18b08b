// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sun.h"

#include "base/units.h"
#include "light/sky/orbit_priv.h"

static const double DAY_S = 86400.0, YEAR_S = 365.25 * 86400.0;
static const double JD_OF_1970 = 2440587.5, JD_OF_J2000 = 2451545.0;
// SPA, 3.11.3: half the sun's width and the air's lift at the horizon.
static const double HORIZON_DEG = -0.26667 - 0.5667;

static double turn(double rad)
{
    double r = fmod(rad, 2.0 * PC_PI);
    return r < 0.0 ? r + 2.0 * PC_PI : r;
}

static double half_turn(double rad)
{
    double r = turn(rad);
    return r > PC_PI ? r - 2.0 * PC_PI : r;
}

struct pc_sun_station pc_sun_station_at(double latitude_rad, double longitude_rad)
{
    return (struct pc_sun_station){.latitude_rad = latitude_rad,
                                   .longitude_rad = longitude_rad,
                                   .pressure_hPa = 1013.25,
                                   .temperature_C = 12.0,
                                   .delta_t_s = (double)NAN};
}

double pc_sun_delta_t_s(double utc_s, double *tolerance_s)
{
    // From 1950, every five years.
    static const double known_s[] = {29.15, 31.07, 33.15, 35.73, 40.18, 45.48, 50.54, 54.34,
                                     56.86, 60.78, 63.83, 64.69, 66.07, 67.64, 69.36, 69.14};
    const double first = 1950.0, last = first + 5.0 * (double)(PC_COUNT(known_s) - 1);
    double year = 1970.0 + utc_s / YEAR_S;
    if (year <= last) {
        double at = fmax(0.0, (year - first) / 5.0);
        size_t i = (size_t)fmin(at, (double)(PC_COUNT(known_s) - 2));
        *tolerance_s = 0.6 + fmax(0.0, first - year);
        return known_s[i] + (at - (double)i) * (known_s[i + 1] - known_s[i]);
    }
    // 1.8 ms a century longer: 32.9 s for the square of a century (Stephenson, Morrison and Hohenkerk, Proc.
    // R. Soc. A 472:20160404, 2016).
    double ahead = year - last;
    *tolerance_s = 0.6 + 0.5 * ahead;
    return known_s[PC_COUNT(known_s) - 1] + 0.2 * ahead + 0.00329 * ahead * ahead;
}

// The sun as from the centre of the Earth.
struct centre {
    double right_ascension_rad, declination_rad, distance_au, sidereal_rad, equation_of_time_s;
};

static void nutate(double centuries, double *longitude_rad, double *obliquity_rad)
{
    double node = pc_rad_from_deg(125.04452 - 1934.136261 * centuries);
    double sun = pc_rad_from_deg(280.4665 + 36000.7698 * centuries);
    double moon = pc_rad_from_deg(218.3165 + 481267.8813 * centuries);
    double longitude_as =
        -17.20 * sin(node) - 1.32 * sin(2 * sun) - 0.23 * sin(2 * moon) + 0.21 * sin(2 * node);
    double obliquity_as =
        9.20 * cos(node) + 0.57 * cos(2 * sun) + 0.10 * cos(2 * moon) - 0.09 * cos(2 * node);
    *longitude_rad = pc_rad_from_deg(longitude_as / 3600.0);
    *obliquity_rad = pc_rad_from_deg(obliquity_as / 3600.0);
}

static double delta_t_of(const struct pc_sun_station *station, double utc_s)
{
    double tolerance_s;
    return isnan(station->delta_t_s) ? pc_sun_delta_t_s(utc_s, &tolerance_s) : station->delta_t_s;
}

static double millennia_at(const struct pc_sun_station *station, double utc_s)
{
    return ((utc_s + delta_t_of(station, utc_s)) / DAY_S + (JD_OF_1970 - JD_OF_J2000)) / 365250.0;
}

// The Earth at the start, the middle and the end of a day, as a parabola: within 3e-9 rad, and fifty times as
// fast.
struct day {
    double from_s;
    struct pc_orbit orbit[3];
};

static void make_day(const struct pc_sun_station *station, double from_s, struct day *day)
{
    day->from_s = from_s;
    for (int i = 0; i < 3; i++)
        day->orbit[i] = pc_orbit_of_earth(millennia_at(station, from_s + 0.5 * DAY_S * i));
}

static double on_parabola(double at, double first, double middle, double last)
{
    return middle + at * 0.5 * (last - first) + at * at * (0.5 * (first + last) - middle);
}

static struct pc_orbit orbit_in(const struct day *day, double utc_s)
{
    double at = (utc_s - day->from_s) / (0.5 * DAY_S) - 1.0;
    const struct pc_orbit *o = day->orbit;
    return (struct pc_orbit){on_parabola(at, o[0].longitude_rad, o[1].longitude_rad, o[2].longitude_rad),
                             on_parabola(at, o[0].latitude_rad, o[1].latitude_rad, o[2].latitude_rad),
                             on_parabola(at, o[0].radius_au, o[1].radius_au, o[2].radius_au)};
}

static struct centre from_centre(double utc_s, double delta_t_s, struct pc_orbit orbit)
{
    double days_ut = utc_s / DAY_S + (JD_OF_1970 - JD_OF_J2000);
    double centuries = (days_ut + delta_t_s / DAY_S) / 36525.0, centuries_ut = days_ut / 36525.0;
    double nutation_rad, lean_rad;
    nutate(centuries, &nutation_rad, &lean_rad);
    // IAU 1980 mean obliquity, Meeus eq. 22.2.
    double obliquity_as = 84381.448 - centuries * (46.8150 + centuries * (0.00059 - centuries * 0.001813));
    double obliquity = pc_rad_from_deg(obliquity_as / 3600.0) + lean_rad;
    // Dynamical to FK5 frame, Meeus eq. 25.9; aberration, eq. 25.10.
    double longitude = orbit.longitude_rad + PC_PI + nutation_rad -
                       pc_rad_from_deg((0.09033 + 20.4898 / orbit.radius_au) / 3600.0);
    double latitude = -orbit.latitude_rad;
    struct centre c = {.distance_au = orbit.radius_au};
    c.right_ascension_rad =
        turn(atan2(sin(longitude) * cos(obliquity) - tan(latitude) * sin(obliquity), cos(longitude)));
    c.declination_rad =
        asin(sin(latitude) * cos(obliquity) + cos(latitude) * sin(obliquity) * sin(longitude));
    // Meeus eq. 12.4, and its correction by the nutation.
    double mean_deg = 280.46061837 + 360.98564736629 * days_ut +
                      centuries_ut * centuries_ut * (0.000387933 - centuries_ut / 38710000.0);
    c.sidereal_rad = turn(pc_rad_from_deg(fmod(mean_deg, 360.0)) + nutation_rad * cos(obliquity));
    // The mean sun's longitude, Meeus eq. 28.2; eq. 28.1 turned into seconds of time.
    double mean_sun_deg = 280.4664567 + 36000.76982779 * centuries + 0.00030320280 * centuries * centuries;
    c.equation_of_time_s = half_turn(pc_rad_from_deg(fmod(mean_sun_deg - 0.0057183, 360.0)) -
                                     c.right_ascension_rad + nutation_rad * cos(obliquity)) *
                           (DAY_S / (2.0 * PC_PI));
    return c;
}

// How much higher the sun is seen than it stands.
static double refraction_rad(const struct pc_sun_station *station, double elevation_true_rad)
{
    double e = pc_deg_from_rad(elevation_true_rad);
    if (e < HORIZON_DEG)
        return 0.0;
    double lift_deg = 1.02 / (60.0 * tan(pc_rad_from_deg(e + 10.3 / (e + 5.11))));
    return pc_rad_from_deg(station->pressure_hPa / 1010.0 * 283.0 / (273.0 + station->temperature_C) *
                           lift_deg);
}

static struct pc_sun sun_of(const struct pc_sun_station *station, double utc_s, struct pc_orbit orbit)
{
    struct centre c = from_centre(utc_s, delta_t_of(station, utc_s), orbit);
    double latitude = station->latitude_rad, height = station->height_m / 6378140.0;
    double hour = half_turn(c.sidereal_rad + station->longitude_rad - c.right_ascension_rad);
    // Meeus, chapter 11 and eq. 40.2, 40.3: from the surface of a flattened Earth.
    double reduced = atan(0.99664719 * tan(latitude));
    double across = cos(reduced) + height * cos(latitude);
    double along = 0.99664719 * sin(reduced) + height * sin(latitude);
    double parallax = sin(pc_rad_from_deg(8.794 / 3600.0)) / c.distance_au;
    double shift =
        atan2(-across * parallax * sin(hour), cos(c.declination_rad) - across * parallax * cos(hour));
    double declination = atan2((sin(c.declination_rad) - along * parallax) * cos(shift),
                               cos(c.declination_rad) - across * parallax * cos(hour));
    hour -= shift;
    double true_rad = asin(sin(latitude) * sin(declination) + cos(latitude) * cos(declination) * cos(hour));
    double south = atan2(sin(hour) * cos(declination),
                         cos(hour) * cos(declination) * sin(latitude) - sin(declination) * cos(latitude));
    return (struct pc_sun){
        .azimuth_rad = turn(south + PC_PI),
        .elevation_rad = true_rad + refraction_rad(station, true_rad),
        .elevation_true_rad = true_rad,
        .semidiameter_rad = pc_rad_from_deg(959.63 / 3600.0) / c.distance_au,
        .distance_au = c.distance_au,
        .declination_rad = c.declination_rad,
        .equation_of_time_s = c.equation_of_time_s,
    };
}

struct pc_sun pc_sun_at(const struct pc_sun_station *station, double utc_s)
{
    return sun_of(station, utc_s, pc_orbit_of_earth(millennia_at(station, utc_s)));
}

void pc_sun_through_day(const struct pc_sun_station *station, double from_s, double step_s, int count,
                        struct pc_sun suns[])
{
    struct day day;
    make_day(station, from_s, &day);
    for (int i = 0; i < count; i++)
        suns[i] = sun_of(station, from_s + i * step_s, orbit_in(&day, from_s + i * step_s));
}

// A day being searched, and what for.
struct search {
    const struct pc_sun_station *station;
    const struct pc_sun *as;
    struct day day;
};

static struct pc_sun sun_in(const struct search *search, double utc_s)
{
    return sun_of(search->station, utc_s, orbit_in(&search->day, utc_s));
}

static double above_horizon(const struct search *search, double utc_s)
{
    return sun_in(search, utc_s).elevation_true_rad - pc_rad_from_deg(HORIZON_DEG);
}

double pc_sun_refraction_tolerance_rad(const struct pc_sun *sun)
{
    double height_deg = fmax(0.0, pc_deg_from_rad(sun->elevation_rad));
    return (sun->elevation_rad - sun->elevation_true_rad) * (0.03 + 0.5 * exp(-height_deg / 1.5));
}

// By how much a crossing moves with the refraction there; endless where the sun grazes the horizon.
static double crossing_tolerance_s(const struct search *search, double crossing_s)
{
    const double span_s = 60.0;
    struct pc_sun sun = sun_in(search, crossing_s + 1.0); // on either side; just above there is refraction
    struct pc_sun other = sun_in(search, crossing_s - 1.0);
    double off = fmax(pc_sun_refraction_tolerance_rad(&sun), pc_sun_refraction_tolerance_rad(&other));
    double rise = above_horizon(search, crossing_s + span_s) - above_horizon(search, crossing_s - span_s);
    return off * 2.0 * span_s / fabs(rise);
}

// The zero between a and b, of which f(a) and f(b) have different signs, within a tenth of a second.
static double crossing_s(const struct search *search, double a_s, double b_s)
{
    bool up = above_horizon(search, a_s) > 0.0;
    while (b_s - a_s > 0.1) {
        double middle_s = 0.5 * (a_s + b_s);
        if ((above_horizon(search, middle_s) > 0.0) == up)
            a_s = middle_s;
        else
            b_s = middle_s;
    }
    return 0.5 * (a_s + b_s);
}

// The least of f between a and b by golden section (Kiefer, Proc. AMS 4:502, 1953), within a tenth of a
// second.
static double least_s(double (*f)(const struct search *search, double s), const struct search *search,
                      double a_s, double b_s)
{
    const double part = 0.5 * (sqrt(5.0) - 1.0);
    double c_s = b_s - part * (b_s - a_s), d_s = a_s + part * (b_s - a_s);
    double c = f(search, c_s), d = f(search, d_s);
    while (b_s - a_s > 0.1) {
        if (c < d) {
            b_s = d_s, d_s = c_s, d = c;
            c_s = b_s - part * (b_s - a_s);
            c = f(search, c_s);
        } else {
            a_s = c_s, c_s = d_s, c = d;
            d_s = a_s + part * (b_s - a_s);
            d = f(search, d_s);
        }
    }
    return 0.5 * (a_s + b_s);
}

static double lowness(const struct search *search, double utc_s)
{
    return -sun_in(search, utc_s).elevation_true_rad;
}

static double away(const struct search *search, double utc_s)
{
    struct pc_sun sun = sun_in(search, utc_s);
    return pc_sun_angle_rad(&sun, search->as);
}

// Looks at the day every quarter of an hour; answers the time of the least value.
static double least_of_day_s(double (*f)(const struct search *search, double s), const struct search *search)
{
    const double step_s = 900.0, from_s = search->day.from_s;
    double best_s = from_s, best = INFINITY;
    for (double s = from_s; s <= from_s + DAY_S; s += step_s) {
        double value = f(search, s);
        if (value < best)
            best = value, best_s = s;
    }
    return least_s(f, search, fmax(from_s, best_s - step_s), fmin(from_s + DAY_S, best_s + step_s));
}

struct pc_sun_day pc_sun_day_from(const struct pc_sun_station *station, double from_s)
{
    const double step_s = 600.0;
    const double none = (double)NAN;
    struct pc_sun_day day = {
        .rise_s = none, .set_s = none, .rise_tolerance_s = none, .set_tolerance_s = none};
    struct search search = {.station = station};
    make_day(station, from_s, &search.day);
    day.highest_s = least_of_day_s(lowness, &search);
    day.highest_rad = sun_in(&search, day.highest_s).elevation_rad;
    // The highest moment is looked at too, so that a sun that shows for minutes only is not missed.
    double before_s = from_s;
    bool up = above_horizon(&search, before_s) > 0.0, always = up, ever = up;
    while (before_s < from_s + DAY_S) {
        double s = fmin(before_s + step_s, from_s + DAY_S);
        if (before_s < day.highest_s && day.highest_s < s)
            s = day.highest_s;
        bool now = above_horizon(&search, s) > 0.0;
        if (now != up)
            *(now ? &day.rise_s : &day.set_s) = crossing_s(&search, before_s, s);
        always = always && now;
        ever = ever || now;
        up = now;
        before_s = s;
    }
    if (!isnan(day.rise_s))
        day.rise_tolerance_s = crossing_tolerance_s(&search, day.rise_s);
    if (!isnan(day.set_s))
        day.set_tolerance_s = crossing_tolerance_s(&search, day.set_s);
    day.state = always ? PC_SUN_NEVER_SETS : ever ? PC_SUN_RISES : PC_SUN_NEVER_RISES;
    return day;
}

double pc_sun_angle_rad(const struct pc_sun *a, const struct pc_sun *b)
{
    // Haversines: exact for small angles (Sinnott, Sky and Telescope 68:159, 1984).
    double up = sin(0.5 * (a->elevation_rad - b->elevation_rad));
    double round = sin(0.5 * (a->azimuth_rad - b->azimuth_rad));
    return 2.0 *
           asin(sqrt(fmin(1.0, up * up + cos(a->elevation_rad) * cos(b->elevation_rad) * round * round)));
}

double pc_sun_again_s(const struct pc_sun_station *station, const struct pc_sun *as, double from_s,
                      double *off_rad)
{
    struct search search = {.station = station, .as = as};
    make_day(station, from_s, &search.day);
    double s = least_of_day_s(away, &search);
    *off_rad = away(&search, s);
    return s;
}

double pc_sun_return_day_s(const struct pc_sun_station *station, double at_s, double from_s)
{
    // The declination decides how near the sun comes back; within a day it moves less than from day to day.
    // It leaves, turns, and comes back to the same value, first on the other side of the solstice, where the
    // least difference after the leaving is.
    double declination = pc_sun_at(station, at_s).declination_rad;
    double width = pc_rad_from_deg(0.533), best = INFINITY, best_s = from_s + 365.0 * DAY_S;
    bool left = false, came = false;
    for (int d = 1; d <= 366; d++) {
        double off = fabs(pc_sun_at(station, at_s + d * DAY_S).declination_rad - declination);
        left = left || off > width;
        if (!left)
            continue;
        if (came && off > 2.0 * width)
            break;
        came = came || off < width;
        if (off < best)
            best = off, best_s = from_s + d * DAY_S;
    }
    return best_s;
}
