// SPDX-License-Identifier: Apache-2.0
// The recce's sun: when it lies on the table, and that no panel leads against it.
#include "base/clock.h"
#include "base/units.h"
#include "light/kit/site_daylight.h"
#include "shoot/advise/recce_priv.h"

enum { CLOCK_BYTES = 8 };

// "14:05", the minute that is nearest.
static const char *clock_of(const struct pc_site *site, double utc_s, char out[CLOCK_BYTES])
{
    char hms[9];
    pc_clock_hms(utc_s + site->utc_offset_s + 30, hms);
    snprintf(out, CLOCK_BYTES, "%.5s", hms);
    return out;
}

static const char *spells_text(struct recce_work *work, const struct pc_spells *spells)
{
    const char *text = "";
    char from[CLOCK_BYTES], to[CLOCK_BYTES];
    for (int i = 0; i < spells->count; i++)
        text = pc_arena_printf(work->arena, "%s%s%s to %s", text, i > 0 ? " and " : "",
                               clock_of(work->wish->site, spells->spell[i].from_s, from),
                               clock_of(work->wish->site, spells->spell[i].to_s, to));
    return text;
}

struct pc_range pc_recce_highest_sun_rad(const struct pc_site *site)
{
    const struct pc_window *w = &site->windows[0];
    double rise_m = w->sill_m + w->height_m - site->table.height_m;
    double within_m = w->sill_m_tolerance + w->height_m_tolerance + site->table.height_m_tolerance;
    return (struct pc_range){
        atan2(rise_m - within_m, w->from_table_m + w->from_table_m_tolerance),
        atan2(rise_m + within_m, fmax(w->from_table_m - w->from_table_m_tolerance, 0.05))};
}

// The hours of the day in which the sun stands high enough for a picture, where the day is known.
static const char *hours_up(struct recce_work *work)
{
    const struct pc_site *site = work->wish->site;
    double midnight_s = 0;
    if (isnan(site->latitude_rad) || isnan(site->longitude_rad) || site->date.year == 0 ||
        isnan(site->utc_offset_s) ||
        !pc_clock_s_from_civil(site->date.year, site->date.month, site->date.day, 0, 0, 0, &midnight_s))
        return "";
    struct pc_sun_station station = pc_sun_station_at(site->latitude_rad, site->longitude_rad);
    struct pc_sun_day day = pc_sun_day_from(&station, midnight_s - site->utc_offset_s);
    char rise[CLOCK_BYTES], set[CLOCK_BYTES];
    if (day.state != PC_SUN_RISES || isnan(day.rise_s) || isnan(day.set_s))
        return "";
    return pc_arena_printf(work->arena, "it is up from %s to %s, and ", clock_of(site, day.rise_s, rise),
                           clock_of(site, day.set_s, set));
}

static void what_is_missing(struct recce_work *work)
{
    const struct pc_site *site = work->wish->site;
    const char *names[4], *up = "";
    size_t count = 0;
    struct pc_range highest_rad = pc_recce_highest_sun_rad(site);
    up = hours_up(work);
    if (isnan(site->latitude_rad) || isnan(site->longitude_rad))
        names[count++] = "where the place is";
    if (site->date.year == 0)
        names[count++] = "the day";
    if (isnan(site->utc_offset_s))
        names[count++] = "what its clocks are ahead of UTC";
    if (isnan(site->windows[0].facing_rad))
        names[count++] = "which way the window looks";
    struct pc_recce_finding *finding = recce_add(work, "sun", PC_VERDICT_PERHAPS);
    finding->limit = "sun";
    finding->sentence = pc_arena_printf(
        work->arena,
        "The sun reaches the table's middle only while it stands before %s and lower than %.0f to "
        "%.0f degrees; %swhen that is nobody can tell before knowing %s.",
        site->windows[0].name, floor(pc_deg_from_rad(highest_rad.low)),
        ceil(pc_deg_from_rad(highest_rad.high)), up, recce_join(work->arena, names, count));
}

// Of all the times named; one that may not come at all counts as an hour.
static double worst_tolerance_s(const struct pc_spells *spells)
{
    double worst_s = 0;
    for (int i = 0; i < spells->count; i++) {
        double s = fmax(spells->spell[i].from_tolerance_s, spells->spell[i].to_tolerance_s);
        worst_s = fmax(worst_s, isfinite(s) ? s : 3600);
    }
    return worst_s;
}

static enum pc_status sun_comes(struct recce_work *work, const struct pc_daylight_place *place,
                                const struct pc_daylight_care *care, const struct pc_sunlight *day,
                                int day_of_year, struct pc_err *err)
{
    const struct pc_site *site = work->wish->site;
    struct pc_recce_finding *finding = recce_add(work, "sun", PC_VERDICT_PERHAPS);
    finding->limit = "sun";
    finding->caution = PC_CAUTION_SUN;
    if (day->hero.count == 0) {
        finding->sentence =
            pc_arena_printf(work->arena, "The sun lies on a part of the table from %s, never on its middle.",
                            spells_text(work, &day->table));
        return PC_OK;
    }
    const struct pc_spell *spell = &day->hero.spell[0];
    double worst_s = fmax(worst_tolerance_s(&day->table), worst_tolerance_s(&day->hero));
    struct pc_sun_station station = pc_sun_station_at(site->latitude_rad, site->longitude_rad);
    struct pc_sun sun = pc_sun_at(&station, (spell->from_s + spell->to_s) / 2);
    struct pc_daylight light;
    // The beam's strength hangs on glass and haze; what else is unsure of the place moves its hours.
    const struct pc_daylight_care of_beam = {.glass_ratio = care->glass_ratio};
    PC_TRY(pc_daylight_at(place, &of_beam, &sun, day_of_year, &light, err));
    const struct pc_lamp *lamp;
    struct pc_range key_lx = pc_recce_key_lx(work->wish->kit, &lamp);
    struct pc_range direct_lx = recce_around(light.direct.lx, light.direct.lx_tolerance, 0);
    finding->range = direct_lx;
    finding->unit = "lx";
    finding->verdict = lamp == NULL || key_lx.high < direct_lx.low ? PC_VERDICT_CANNOT : PC_VERDICT_PERHAPS;
    finding->sentence = pc_arena_printf(
        work->arena,
        "The sun lies on the table from %s and on its middle from %s, within %.0f minutes, and brings %s lx "
        "under a clear sky%s: "
        "light that melts, and no place for plates that want it even, unless the window is blinded.",
        spells_text(work, &day->table), spells_text(work, &day->hero), ceil(worst_s / 60),
        recce_range(work->arena, direct_lx),
        finding->verdict == PC_VERDICT_CANNOT && lamp != NULL ? ", against which no lamp of yours leads"
                                                              : "");
    return PC_OK;
}

enum pc_status recce_sun(struct recce_work *work, struct pc_err *err)
{
    const struct pc_site *site = work->wish->site;
    if (!work->has_window)
        return PC_OK;
    if (isnan(site->latitude_rad) || isnan(site->longitude_rad) || site->date.year == 0 ||
        isnan(site->utc_offset_s) || isnan(site->windows[0].facing_rad)) {
        what_is_missing(work);
        return PC_OK;
    }
    struct pc_daylight_place place;
    struct pc_daylight_care care;
    PC_TRY(pc_site_daylight(site, &place, &care, err));
    struct pc_sun_station station = pc_sun_station_at(site->latitude_rad, site->longitude_rad);
    double midnight_s = 0, january_s = 0;
    pc_clock_s_from_civil(site->date.year, site->date.month, site->date.day, 0, 0, 0, &midnight_s);
    pc_clock_s_from_civil(site->date.year, 1, 1, 0, 0, 0, &january_s);
    struct pc_sunlight *day = PC_NEW(work->arena, struct pc_sunlight);
    pc_sunlight_day(&station, &place.opening, &care.place, midnight_s - site->utc_offset_s, day);
    if (day->table.count > 0)
        return sun_comes(work, &place, &care, day, 1 + (int)((midnight_s - january_s) / 86400), err);
    struct pc_recce_finding *finding = recce_add(work, "sun", PC_VERDICT_CAN);
    finding->limit = "sun";
    finding->sentence = pc_arena_printf(work->arena, "No sun comes onto the table on that day.");
    return PC_OK;
}
