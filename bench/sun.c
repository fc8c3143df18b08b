// SPDX-License-Identifier: Apache-2.0
// The sun on a table through a day, every five minutes with its tolerances: two windows and a skyline, the
// slowest of a year's days. A day's time is its processor time (one thread does all), the best of three
// tries.
#include "base/units.h"
#include "bench.h"
#include "light/sky/sunlight.h"

enum { DAYS = 24, TRIES = 3 };
static const double LIMIT_MS = 20.0;

int main(void)
{
    double wide = pc_rad_from_deg(205), narrow = pc_rad_from_deg(295), worst_ms = 0.0, all_ms[DAYS];
    struct pc_opening_place place = {
        .table = {.facing_rad = wide, .long_m = 1.40, .short_m = 0.80, .top_m = 0.76},
        .opening = {{.facing_rad = wide, .away_m = 1.25, .width_m = 1.80, .height_m = 1.30, .sill_m = 0.85},
                    {.facing_rad = narrow,
                     .away_m = 3.1,
                     .aside_m = 0.75,
                     .width_m = 0.90,
                     .height_m = 1.10,
                     .sill_m = 1.00,
                     .depth_m = 0.2}},
        .opening_count = 2,
        .skyline = {{pc_rad_from_deg(215), pc_rad_from_deg(262), pc_rad_from_deg(19)}},
        .skyline_count = 1,
    };
    struct pc_sun_station station = pc_sun_station_at(pc_rad_from_deg(58.35), pc_rad_from_deg(11.25));
    struct pc_sunlight_care care = pc_sunlight_usual_care();
    double year_s;
    struct pc_err err = {0};
    if (pc_opening_check(&place, &err) != PC_OK || !pc_clock_s_from_civil(2027, 1, 1, 0, 0, 0.0, &year_s))
        bench_fail(&err);
    for (int d = 0; d < DAYS; d++) {
        double best_ms = INFINITY;
        for (int t = 0; t < TRIES; t++) {
            struct pc_sunlight day;
            double t0_s = bench_cpu_s();
            pc_sunlight_day(&station, &place, &care, year_s + d * (365.0 / DAYS) * 86400.0, &day);
            best_ms = fmin(best_ms, 1e3 * (bench_cpu_s() - t0_s));
        }
        all_ms[d] = best_ms;
        worst_ms = fmax(worst_ms, best_ms);
    }
    fprintf(stderr, "%d days: half of them within %.2f ms\n", DAYS, bench_median(all_ms, DAYS));
    bench_print("sun", worst_ms, LIMIT_MS, "ms");
    return 0;
}
