// SPDX-License-Identifier: Apache-2.0
// Where the sun stands. Pure; safe from any thread.
//
// Azimuth from true north, clockwise (east is a quarter turn); elevation above the horizontal of the place.
// Time is UTC in seconds since 1970 without leap seconds (base/clock.h). Position within 0.005 degrees from
// 1950 to 2100 while clocks keep within a second of the turning Earth (UT1), as UTC has been made to do; of
// these, 0.004 are that second.
#ifndef PC_LIGHT_SKY_SUN_H
#define PC_LIGHT_SKY_SUN_H

#include "base/err.h"

// Where one stands, and in what air.
struct pc_sun_station {
    double latitude_rad, longitude_rad; // WGS 84, north and east positive
    double height_m;                    // above sea level
    double pressure_hPa, temperature_C; // bend the light near the horizon
    double delta_t_s;                   // terrestrial time less UT1; NAN: by pc_sun_delta_t_s
};

struct pc_sun {
    double azimuth_rad;        // 0 up to a whole turn
    double elevation_rad;      // as seen, with refraction
    double elevation_true_rad; // without
    double semidiameter_rad;
    double distance_au;
    double declination_rad;    // apparent, geocentric
    double equation_of_time_s; // true sun less mean sun: how much a sundial is fast
};

// 1013.25 hPa, 12 C, height 0, delta_t_s by the model.
struct pc_sun_station pc_sun_station_at(double latitude_rad, double longitude_rad);

// Terrestrial time less UT1. Until 2025 between five-yearly values made of the observed UT1 and TAI (IERS
// Bulletin B; before 1972 after Morrison and Stephenson, J. Hist. Astron. 35:327, 2004), within 0.6 s; later
// the parabola of a day that lengthens by 1.8 ms a century, on which nobody can say more than 0.5 s for each
// year ahead. 100 s of it move the sun by 0.001 degrees.
double pc_sun_delta_t_s(double utc_s, double *tolerance_s);

// Earth's orbit by VSOP87 (orbit_priv.h); aberration, nutation by its four largest terms (Meeus, Astronomical
// Algorithms, chapter 22: 0.5"), sidereal time (chapter 12), parallax of the place (chapter 40). Refraction
// by Saemundsson's formula with its change by pressure and temperature, as in Reda and Andreas
// (NREL/TP-560-34302, eq. 42): of the sun's upper limb just seen it gives 34', to a minute of arc or so; from
// there down there is none.
struct pc_sun pc_sun_at(const struct pc_sun_station *station, double utc_s);

// The same for count moments, step_s apart, of the day that begins at from_s; faster, and within 1e-8 rad of
// it.
void pc_sun_through_day(const struct pc_sun_station *station, double from_s, double step_s, int count,
                        struct pc_sun suns[]);

// How far refraction may be from its mean, 19 times in 20: 0.3 degrees at the horizon, where layers of warm
// and cold air lie (0.16 degrees is the standard deviation of sunsets watched: Schaefer and Liller, PASP
// 102:796, 1990, quoted from memory), less and less above it, and 3 % of itself from 10 degrees on.
double pc_sun_refraction_tolerance_rad(const struct pc_sun *sun);

enum pc_sun_state {
    PC_SUN_RISES,       // it crosses the horizon
    PC_SUN_NEVER_SETS,  // polar day
    PC_SUN_NEVER_RISES, // polar night
};

// The day that begins at from_s and lasts 86400 s.
struct pc_sun_day {
    enum pc_sun_state state;
    // Upper edge on a level horizon: the centre at -50', the almanacs' rule. NAN: not in this day.
    double rise_s, set_s;
    double rise_tolerance_s, set_tolerance_s; // what pc_sun_refraction_tolerance_rad makes of them
    double highest_s, highest_rad;            // when the elevation as seen is largest, and how large
};
struct pc_sun_day pc_sun_day_from(const struct pc_sun_station *station, double from_s);

// The moment in the day from from_s at which the sun stands nearest to where it stood in `as` (azimuth and
// elevation as seen), and the angle that is left between the two, on the sky.
double pc_sun_again_s(const struct pc_sun_station *station, const struct pc_sun *as, double from_s,
                      double *off_rad);

// The first day after the one of at_s, by whole days from it, on which the sun comes back nearest to where it
// stood: within a year, and not before it has left by more than its own width. The start of that day (at_s is
// taken to lie in the day that begins at from_s).
double pc_sun_return_day_s(const struct pc_sun_station *station, double at_s, double from_s);

// The angle between two suns on the sky.
double pc_sun_angle_rad(const struct pc_sun *a, const struct pc_sun *b);

#endif
