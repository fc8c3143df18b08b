// SPDX-License-Identifier: Apache-2.0
// The recce's daylight: as dim and as bright as it may be.
#include "base/clock.h"
#include "base/units.h"
#include "light/kit/site_daylight.h"
#include "light/sky/daylight_quick.h"
#include "shoot/advise/recce_priv.h"

#define USABLE_SUN_DEG      10.0 // lower than that the day is over for a picture
#define HIGHEST_SUN_DEG     66.5 // where nobody said where; higher only in the tropics
#define TILT_OF_EARTH_DEG   23.44
#define MODEL_PCT           23.0 // of diffuse light (light/sky/daylight.h), 3 of them for going through it quickly
#define DAY_S               86400.0
#define PLACE_RATIO_A_M     0.3 // see unsure_ratio; 0.07 was the most in places gone through
#define BETWEEN_STEPS_RATIO 0.05
#define ROOM_RATIO_A_M      0.01
#define STREET_DEG          25.0 // how high the far side of a street stands, from a table
#define NEAREST_SUN_DAY     3
#define FARTHEST_SUN_DAY    186

enum { SUNS_MAX = 48, DIM_MAX = 4, BRIGHT_MAX = 10 };

// Where the sun may stand: those places of it that make a room darkest, and those that make it brightest.
struct suns {
    struct pc_daylight_skies dim[DIM_MAX], bright[BRIGHT_MAX];
    size_t dim_count, bright_count;
    double between_ratio; // what the sun may add where it stands between these
};

static void add_dim(struct suns *suns, struct pc_sun sun, int day_of_year)
{
    if (suns->dim_count < DIM_MAX)
        suns->dim[suns->dim_count++] = pc_daylight_skies_of(&sun, day_of_year);
}

static void add_bright(struct suns *suns, struct pc_sun sun, int day_of_year)
{
    if (suns->bright_count < BRIGHT_MAX)
        suns->bright[suns->bright_count++] = pc_daylight_skies_of(&sun, day_of_year);
}

static struct pc_sun sun_at(double azimuth_rad, double elevation_rad)
{
    return (struct pc_sun){
        .azimuth_rad = azimuth_rad, .elevation_rad = elevation_rad, .elevation_true_rad = elevation_rad};
}

static bool all_bearings_known(const struct pc_site *site)
{
    for (size_t i = 0; i < site->window_count; i++)
        if (isnan(site->windows[i].facing_rad))
            return false;
    return true;
}

static bool day_known(const struct pc_site *site)
{
    return !isnan(site->latitude_rad) && !isnan(site->longitude_rad) && site->date.year > 0;
}

static double day_begins_s(const struct pc_site *site)
{
    double s = 0, mean_offset_s = site->longitude_rad / (2 * PC_PI) * DAY_S;
    bool good = pc_clock_s_from_civil(site->date.year, site->date.month, site->date.day, 0, 0, 0, &s);
    PC_ASSERT(good);
    return s - (isnan(site->utc_offset_s) ? mean_offset_s : site->utc_offset_s);
}

// Where no date was said: for the dim end when the sun is farthest, for the bright one when it is nearest.
static int day_of_year_of(const struct pc_site *site, bool bright)
{
    double day_s = 0, january_s = 0;
    if (site->date.year == 0 ||
        !pc_clock_s_from_civil(site->date.year, site->date.month, site->date.day, 0, 0, 0, &day_s) ||
        !pc_clock_s_from_civil(site->date.year, 1, 1, 0, 0, 0, &january_s))
        return bright ? NEAREST_SUN_DAY : FARTHEST_SUN_DAY;
    return 1 + (int)((day_s - january_s) / DAY_S);
}

// Where the sun never stands so high, half of what it reaches.
static double least_usable_rad(double highest_rad)
{
    return highest_rad > pc_rad_from_deg(USABLE_SUN_DEG) ? pc_rad_from_deg(USABLE_SUN_DEG) : highest_rad / 2;
}

// The usable suns of the day, in order of time.
static size_t suns_of_day(const struct pc_site *site, struct pc_sun suns[SUNS_MAX])
{
    struct pc_sun_station station = pc_sun_station_at(site->latitude_rad, site->longitude_rad);
    double from_s = day_begins_s(site), highest_rad = 0;
    struct pc_sun all[SUNS_MAX];
    size_t count = 0;
    for (size_t i = 0; i < SUNS_MAX; i++) {
        all[i] = pc_sun_at(&station, from_s + DAY_S / SUNS_MAX * (double)i);
        highest_rad = fmax(highest_rad, all[i].elevation_rad);
    }
    double least_rad = least_usable_rad(highest_rad);
    for (size_t i = 0; i < SUNS_MAX; i++)
        if (all[i].elevation_rad >= least_rad && all[i].elevation_rad > 0)
            suns[count++] = all[i];
    return count;
}

// The window faces the sun most squarely.
static double squareness(const struct pc_sun *sun, double facing_rad)
{
    return cos(sun->elevation_rad) * cos(sun->azimuth_rad - facing_rad);
}

// A day's darkest skies are at its two ends; its brightest at noon, or when the sun is square to a window.
static bool choose_of_day(const struct pc_site *site, struct suns *suns)
{
    struct pc_sun all[SUNS_MAX];
    size_t count = suns_of_day(site, all), highest = 0;
    int dim_day = day_of_year_of(site, false), bright_day = day_of_year_of(site, true);
    if (count == 0)
        return false;
    for (size_t i = 0; i < count; i++)
        highest = all[i].elevation_rad > all[highest].elevation_rad ? i : highest;
    add_dim(suns, all[0], dim_day);
    add_dim(suns, all[count - 1], dim_day);
    add_bright(suns, all[highest], bright_day);
    for (size_t w = 0; w < site->window_count && w < 3; w++) {
        size_t best = 0;
        for (size_t i = 0; i < count; i++)
            if (squareness(&all[i], site->windows[w].facing_rad) >
                squareness(&all[best], site->windows[w].facing_rad))
                best = i;
        add_bright(suns, all[best], bright_day);
        add_bright(suns, all[(best + highest) / 2], bright_day);
    }
    return true;
}

// The highest that the sun may stand there.
static double highest_sun_rad(const struct pc_site *site)
{
    double highest_rad = pc_rad_from_deg(HIGHEST_SUN_DEG);
    if (!isnan(site->latitude_rad))
        highest_rad = fmin(highest_rad, pc_rad_from_deg(90 + TILT_OF_EARTH_DEG) - fabs(site->latitude_rad));
    struct pc_sun all[SUNS_MAX];
    size_t count = day_known(site) ? suns_of_day(site, all) : 0;
    for (size_t i = 0; i < count; i++)
        highest_rad = i == 0 ? all[i].elevation_rad : fmax(highest_rad, all[i].elevation_rad);
    return highest_rad;
}

// Bearings count from where the first window looks. Elevations go in the same steps whatever is known, up to
// the step that holds the highest, so that who knows more goes through fewer.
static void choose_of_all(const struct pc_site *site, struct suns *suns)
{
    static const double steps_deg[] = {10, 24, 38, 52, HIGHEST_SUN_DEG};
    int dim_day = day_of_year_of(site, false), bright_day = day_of_year_of(site, true);
    double highest_rad = highest_sun_rad(site),
           facing_rad = isnan(site->windows[0].facing_rad) ? 0 : site->windows[0].facing_rad,
           lowest_rad = least_usable_rad(highest_rad);
    suns->between_ratio = BETWEEN_STEPS_RATIO;
    for (int b = 0; b < 4; b++)
        add_dim(suns, sun_at(facing_rad + PC_PI / 2 * b, lowest_rad), dim_day);
    for (size_t e = 0; e < PC_COUNT(steps_deg); e++) {
        if (e > 0 && pc_rad_from_deg(steps_deg[e - 1]) >= highest_rad)
            break;
        for (int b = 0; b < 2; b++)
            add_bright(suns, sun_at(facing_rad + PC_PI / 2 * b, pc_rad_from_deg(steps_deg[e])), bright_day);
    }
}

// False: it is known that the sun does not come up that day.
static bool choose_suns(const struct pc_site *site, struct suns *suns)
{
    struct pc_sun all[SUNS_MAX];
    if (day_known(site) && suns_of_day(site, all) == 0)
        return false;
    *suns = (struct suns){0};
    if (!day_known(site) || !all_bearings_known(site) || !choose_of_day(site, suns))
        choose_of_all(site, suns);
    return true;
}

static double at_end(double value, double tolerance, double sign, double least, double most)
{
    return fmin(fmax(value + sign * (isnan(tolerance) ? 0 : tolerance), least), most);
}

// What stands across the way, where nobody said it: at worst a street, at best nothing. Where it is known but
// not which way the windows look, at worst the highest piece of it stands before all of them.
static void skyline_at_extreme(const struct pc_site *site, double sign, struct pc_site *out,
                               struct pc_skyline around[2])
{
    if (site->skyline_count > 0 && all_bearings_known(site))
        return;
    double worst_rad = site->skyline_count > 0 ? 0 : pc_rad_from_deg(STREET_DEG);
    for (size_t i = 0; i < site->skyline_count; i++)
        worst_rad = fmax(worst_rad, site->skyline[i].elevation_rad);
    around[0] = (struct pc_skyline){.from_rad = 0, .to_rad = PC_PI, .elevation_rad = worst_rad};
    around[1] = (struct pc_skyline){.from_rad = PC_PI, .to_rad = 1.9999 * PC_PI, .elevation_rad = worst_rad};
    out->skyline = around;
    out->skyline_count = sign < 0 ? 2 : 0;
}

// The place as dim (-1) or bright (1) as it may be within what is known of it; the sill at one of its
// ends (-1, 1) or in the middle (0), since more sky and a higher piece of it weigh against each other.
static void at_extreme(const struct pc_site *site, double sign, double sill_sign, bool blinds_down,
                       struct pc_site *out, struct pc_window windows[PC_OPENINGS_MAX],
                       struct pc_skyline around[2])
{
    *out = *site;
    out->windows = windows;
    skyline_at_extreme(site, sign, out, around);
    out->walls_ratio = at_end(site->walls_ratio, site->walls_ratio_tolerance, sign, 0, 0.95);
    out->floor_ratio = at_end(site->floor_ratio, site->floor_ratio_tolerance, sign, 0, 0.95);
    out->ceiling_ratio = at_end(site->ceiling_ratio, site->ceiling_ratio_tolerance, sign, 0, 0.95);
    out->ground_ratio = at_end(site->ground_ratio, site->ground_ratio_tolerance, sign, 0, 0.95);
    out->table.height_m = at_end(site->table.height_m, site->table.height_m_tolerance, -sill_sign, 0, 2);
    // A smaller room throws more light back.
    out->ceiling_m = at_end(site->ceiling_m, site->ceiling_m_tolerance, -sign, 1, 100);
    out->length_m = at_end(site->length_m, site->length_m_tolerance, -sign, 1, 100);
    out->width_m = at_end(site->width_m, site->width_m_tolerance, -sign, 1, 100);
    for (size_t i = 0; i < site->window_count; i++) {
        const struct pc_window *w = &site->windows[i];
        struct pc_window *o = &windows[i];
        *o = *w;
        // Windows of which nobody said where they look are taken to be in one wall after the other.
        o->facing_rad = isnan(w->facing_rad) ? PC_PI / 2 * (double)i : w->facing_rad;
        o->width_m = at_end(w->width_m, w->width_m_tolerance, sign, 0.05, 20);
        o->height_m = at_end(w->height_m, w->height_m_tolerance, sign, 0.05, 10);
        o->sill_m = at_end(w->sill_m, w->sill_m_tolerance, sill_sign, 0, 5);
        o->from_table_m = at_end(w->from_table_m, w->from_table_m_tolerance, -sign, 0.1, 50);
        double aside_m = at_end(fabs(w->right_m), w->right_m_tolerance, -sign, 0, 50);
        o->right_m = w->right_m < 0 ? -aside_m : aside_m;
        o->reveal_m = at_end(w->reveal_m, w->reveal_m_tolerance, -sign, 0, 2);
        o->glass_ratio = at_end(w->glass_ratio, w->glass_ratio_tolerance, sign, 0.05, 0.99);
        if (blinds_down && w->blind != PC_BLIND_NONE)
            o->glass_ratio *= at_end(w->blind_ratio, w->blind_ratio_tolerance, sign, 1e-3, 1);
    }
}

// Between the ends of where sill and window may be the light may be a little outside what it is at the ends:
// past a roof, or when more sky and a higher piece of it weigh against each other.
static double unsure_ratio(const struct pc_site *site, const struct suns *suns)
{
    double widest_m = 0;
    for (size_t i = 0; i < site->window_count; i++)
        widest_m = fmax(widest_m, site->windows[i].sill_m_tolerance + site->windows[i].right_m_tolerance);
    double room_m = site->ceiling_m_tolerance + site->length_m_tolerance + site->width_m_tolerance;
    return MODEL_PCT / 100 + PLACE_RATIO_A_M * (widest_m + site->table.height_m_tolerance) +
           ROOM_RATIO_A_M * room_m + suns->between_ratio;
}

static void widen(struct pc_range *range, double value, double sign, double ratio)
{
    double with_model = value * (1 + sign * ratio);
    if (sign < 0)
        range->low = fmin(range->low, with_model);
    else
        range->high = fmax(range->high, with_model);
}

static enum pc_status widen_to_extreme(const struct pc_site *site, const struct suns *suns, double sign,
                                       struct pc_recce_daylight *daylight, struct pc_err *err)
{
    struct pc_daylight_place place;
    struct pc_daylight_care care;
    PC_TRY(pc_site_daylight(site, &place, &care, err));
    place.pass_ratio = at_end(place.pass_ratio, care.pass_ratio, sign, 0.1, 1);
    place.room.skyline_ratio = at_end(place.room.skyline_ratio, care.skyline_ratio, sign, 0, 0.95);
    size_t count = sign < 0 ? suns->dim_count : suns->bright_count;
    for (size_t i = 0; i < count; i++) {
        double overcast_lx, clear_lx;
        pc_daylight_quick(&place, sign < 0 ? &suns->dim[i] : &suns->bright[i], &overcast_lx, &clear_lx);
        widen(&daylight->overcast_lx, overcast_lx, sign, unsure_ratio(site, suns));
        widen(&daylight->clear_lx, clear_lx, sign, unsure_ratio(site, suns));
    }
    return PC_OK;
}

enum pc_status pc_recce_daylight_of(const struct pc_site *site, bool blinds_down,
                                    struct pc_recce_daylight *daylight, struct pc_err *err)
{
    struct suns suns;
    struct pc_site extreme;
    struct pc_window windows[PC_OPENINGS_MAX];
    struct pc_skyline around[2];
    if (site->window_count == 0 || site->window_count > PC_OPENINGS_MAX)
        return pc_fail(err, PC_BAD_INPUT, "windows",
                       "Daylight is told for 1 to %d windows; say how large the nearest is.",
                       PC_OPENINGS_MAX);
    const struct pc_range nothing = {(double)INFINITY, 0};
    *daylight = (struct pc_recce_daylight){{0, 0}, {0, 0}};
    if (!choose_suns(site, &suns))
        return PC_OK;
    *daylight = (struct pc_recce_daylight){nothing, nothing};
    // The brightest sill may lie between the ends, the dimmest is one of them.
    static const double ends[][2] = {{-1, -1}, {-1, 1}, {1, -1}, {1, 0}, {1, 1}};
    for (size_t i = 0; i < PC_COUNT(ends); i++) {
        at_extreme(site, ends[i][0], ends[i][1], blinds_down, &extreme, windows, around);
        PC_TRY(widen_to_extreme(&extreme, &suns, ends[i][0], daylight, err));
    }
    return PC_OK;
}

struct pc_range recce_either_lx(const struct pc_recce_daylight *daylight)
{
    return (struct pc_range){fmin(daylight->overcast_lx.low, daylight->clear_lx.low),
                             fmax(daylight->overcast_lx.high, daylight->clear_lx.high)};
}

const char *recce_both_skies(struct recce_work *work, struct pc_range overcast, struct pc_range clear,
                             const char *unit)
{
    return pc_arena_printf(work->arena, "%s %s under an overcast sky and %s under a clear one",
                           recce_range(work->arena, overcast), unit, recce_range(work->arena, clear));
}

enum pc_status recce_daylight(struct recce_work *work, struct pc_err *err)
{
    const struct pc_site *site = work->wish->site;
    if (!work->has_window) {
        struct pc_recce_finding *none = recce_add(work, "daylight", PC_VERDICT_PERHAPS);
        none->limit = "window";
        none->sentence = "Nothing was said of a window, so nothing can be told of daylight.";
        return PC_OK;
    }
    PC_TRY(pc_recce_daylight_of(site, false, &work->open, err));
    if (work->has_blind)
        PC_TRY(pc_recce_daylight_of(site, true, &work->blinded, err));
    if (!(work->open.clear_lx.high > 0)) {
        struct pc_recce_finding *night = recce_add(work, "daylight", PC_VERDICT_CANNOT);
        night->limit = "sun";
        night->sentence = "The sun does not rise there on that day: all light is yours.";
        work->has_window = false;
        return PC_OK;
    }
    struct pc_recce_finding *finding = recce_add(work, "daylight", PC_VERDICT_CAN);
    finding->range = recce_either_lx(&work->open);
    finding->unit = "lx";
    finding->limit = "window";
    finding->caution = work->has_blind ? (int)PC_CAUTION_WINDOW : -1;
    finding->sentence = pc_arena_printf(
        work->arena,
        "By the window%s the hero gets %s, the sun's own beam not counted, while the sun is "
        "10 degrees up or more%s.",
        site->window_count > 1 ? "s" : "",
        recce_both_skies(work, work->open.overcast_lx, work->open.clear_lx, "lx"),
        work->has_blind ? pc_arena_printf(work->arena, "; with the blind down %s lx in all",
                                          recce_range(work->arena, recce_either_lx(&work->blinded)))
                        : "");
    return PC_OK;
}
