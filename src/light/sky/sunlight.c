// SPDX-License-Identifier: Apache-2.0
#include "light/sky/sunlight.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "light/sky/sunlight_priv.h"

static const double DAY_S = 86400.0;
// How far from its time an event is looked for when the place is a little other, by which steps, and to what.
static const double SEARCH_S = 5400.0, SEARCH_STEP_S = 120.0, FOUND_S = 1.0;
// The rim of the sun by eight directions: a corner between two is missed by 0.02 degrees, 5 s.
enum { RIM = 8 };

struct pc_sunlight_care pc_sunlight_usual_care(void)
{
    double degree = pc_rad_from_deg(1.0);
    return (struct pc_sunlight_care){.bearing_rad = degree,
                                     .away_m = 0.02,
                                     .aside_m = 0.01,
                                     .sill_m = 0.01,
                                     .width_m = 0.01,
                                     .height_m = 0.01,
                                     .top_m = 0.01,
                                     .hero_m = 0.01,
                                     .skyline_rad = 0.5 * degree,
                                     .skyline_bearing_rad = degree};
}

void pc_sunlight_care_offs(const struct pc_sunlight_care *care, double tolerance[OFF_COUNT])
{
    const double offs[OFF_COUNT] = {
        [OFF_BEARING] = care->bearing_rad,
        [OFF_AWAY] = care->away_m,
        [OFF_ASIDE] = care->aside_m,
        [OFF_SILL] = care->sill_m,
        [OFF_WIDTH] = care->width_m,
        [OFF_HEIGHT] = care->height_m,
        [OFF_TOP] = care->top_m,
        [OFF_HERO_RIGHT] = care->hero_m,
        [OFF_HERO_OUT] = care->hero_m,
        [OFF_SKYLINE] = care->skyline_rad,
        [OFF_SKYLINE_FROM] = care->skyline_bearing_rad,
        [OFF_SKYLINE_TO] = care->skyline_bearing_rad,
    };
    memcpy(tolerance, offs, sizeof offs);
}

void pc_sunlight_put_off(const struct pc_opening_place *from, const double x[], struct pc_opening_place *to)
{
    *to = *from;
    to->table.facing_rad += x[OFF_BEARING];
    to->table.top_m += x[OFF_TOP];
    to->table.hero_right_m += x[OFF_HERO_RIGHT];
    to->table.hero_out_m += x[OFF_HERO_OUT];
    for (int i = 0; i < to->opening_count; i++) {
        struct pc_opening *o = &to->opening[i];
        o->facing_rad += x[OFF_BEARING];
        o->away_m += x[OFF_AWAY];
        o->aside_m += x[OFF_ASIDE];
        o->sill_m += x[OFF_SILL];
        o->width_m += x[OFF_WIDTH];
        o->height_m += x[OFF_HEIGHT];
    }
    for (int i = 0; i < to->skyline_count; i++) {
        to->skyline[i].elevation_rad += x[OFF_SKYLINE];
        to->skyline[i].from_rad += x[OFF_SKYLINE_FROM];
        to->skyline[i].to_rad += x[OFF_SKYLINE_TO];
    }
}

void pc_sunlight_track(const struct pc_sun_station *station, double from_s, struct track *track)
{
    struct pc_sun suns[TRACK_COUNT];
    pc_sun_through_day(station, from_s, TRACK_STEP_S, TRACK_COUNT, suns);
    track->from_s = from_s;
    track->semidiameter_rad = suns[TRACK_COUNT / 2].semidiameter_rad;
    for (int i = 0; i < TRACK_COUNT; i++)
        pc_direction(suns[i].azimuth_rad, suns[i].elevation_rad, track->direction[i]);
}

// Along the chord between two directions of the track, 0.6 degrees apart at most: within 0.001 degrees.
static void track_at(const struct track *track, double at_s, double direction[3])
{
    double at = fmin(fmax((at_s - track->from_s) / TRACK_STEP_S, 0.0), TRACK_COUNT - 1.0);
    int i = (int)fmin(at, TRACK_COUNT - 2.0);
    double part = at - i, length = 0.0;
    for (int k = 0; k < 3; k++) {
        direction[k] = track->direction[i][k] + part * (track->direction[i + 1][k] - track->direction[i][k]);
        length += direction[k] * direction[k];
    }
    for (int k = 0; k < 3; k++)
        direction[k] /= sqrt(length);
}

// A direction off by radius_rad from the middle, round_rad around it.
static void beside(const double middle[3], double radius_rad, double round_rad, double direction[3])
{
    double flat = hypot(middle[0], middle[1]);
    double right[3] = {1.0, 0.0, 0.0}, up[3] = {0.0, -1.0, 0.0};
    if (flat > 1e-9) {
        right[0] = middle[1] / flat, right[1] = -middle[0] / flat;
        up[0] = -middle[0] * middle[2] / flat, up[1] = -middle[1] * middle[2] / flat, up[2] = flat;
    }
    for (int k = 0; k < 3; k++)
        direction[k] = cos(radius_rad) * middle[k] +
                       sin(radius_rad) * (cos(round_rad) * right[k] + sin(round_rad) * up[k]);
}

static bool clear_of_skyline(const struct pc_opening_place *place, const double direction[3])
{
    if (direction[2] <= 0.0)
        return false;
    return place->skyline_count == 0 ||
           asin(fmin(direction[2], 1.0)) > pc_skyline_rad(place, atan2(direction[0], direction[1]));
}

static bool before_a_window(const struct pc_opening_place *place, const double direction[3])
{
    bool before = false;
    for (int i = 0; i < place->opening_count; i++)
        before = before || direction[0] * sin(place->opening[i].facing_rad) +
                                   direction[1] * cos(place->opening[i].facing_rad) >
                               -0.01; // half a sun wide
    return before && direction[2] > -0.01;
}

static bool any_lit(const struct pc_opening_place *place, bool open, const double direction[3])
{
    return (open || clear_of_skyline(place, direction)) && pc_opening_share_ratio(place, direction) > 0.0;
}

static bool lit(const struct pc_opening_place *place, enum whom whom, bool open, const double middle[3],
                double semidiameter_rad)
{
    if (!before_a_window(place, middle))
        return false;
    if (whom == ON_HERO) {
        double point_m[3];
        pc_opening_hero(&place->table, point_m);
        return middle[2] > 0.0 && (open || clear_of_skyline(place, middle)) &&
               pc_opening_seen_through(place, point_m, middle) >= 0;
    }
    bool touched = any_lit(place, open, middle);
    for (int i = 0; i < RIM && !touched; i++) {
        double direction[3];
        beside(middle, semidiameter_rad, 2.0 * PC_PI * i / RIM, direction);
        touched = any_lit(place, open, direction);
    }
    return touched;
}

static bool lit_at(const struct track *track, const struct pc_opening_place *place, enum whom whom, bool open,
                   double at_s)
{
    double direction[3];
    track_at(track, at_s, direction);
    return lit(place, whom, open, direction, track->semidiameter_rad);
}

// The change between two times of which only one is lit.
static double change_s(const struct track *track, const struct pc_opening_place *place, enum whom whom,
                       bool open, double a_s, double b_s, bool b_lit)
{
    while (fabs(b_s - a_s) > FOUND_S) {
        double middle_s = 0.5 * (a_s + b_s);
        if (lit_at(track, place, whom, open, middle_s) == b_lit)
            b_s = middle_s;
        else
            a_s = middle_s;
    }
    return 0.5 * (a_s + b_s);
}

void pc_sunlight_spells(const struct track *track, const struct pc_opening_place *place, enum whom whom,
                        bool open, struct pc_spells *spells)
{
    *spells = (struct pc_spells){0};
    bool before = false;
    for (int i = 0; i <= TRACK_COUNT; i++) {
        double at_s = track->from_s + (double)i * TRACK_STEP_S;
        bool now = i < TRACK_COUNT && lit(place, whom, open, track->direction[i], track->semidiameter_rad);
        if (now && !before) {
            if (spells->count == PC_SPELLS_MAX)
                return;
            spells->spell[spells->count++].from_s =
                i == 0 ? at_s : change_s(track, place, whom, open, at_s - TRACK_STEP_S, at_s, true);
        }
        if (before && !now)
            spells->spell[spells->count - 1].to_s =
                i == TRACK_COUNT ? track->from_s + DAY_S
                                 : change_s(track, place, whom, open, at_s - TRACK_STEP_S, at_s, false);
        before = now;
    }
}

bool pc_sunlight_event_times(const void *given, const double x[], double y[])
{
    const struct events *events = given;
    struct pc_opening_place place;
    pc_sunlight_put_off(events->place, x, &place);
    for (int e = 0; e < events->count; e++) {
        const struct event *event = &events->event[e];
        bool here = lit_at(events->track, &place, event->whom, event->open, event->at_s);
        // Lit now: it began earlier, or ends later.
        double step_s = here == event->begins ? -SEARCH_STEP_S : SEARCH_STEP_S, at_s = event->at_s;
        bool found = false;
        y[e] = (double)NAN;
        while (!found && fabs(at_s - event->at_s) < SEARCH_S) {
            at_s += step_s;
            found = lit_at(events->track, &place, event->whom, event->open, at_s) != here;
        }
        if (found)
            y[e] = change_s(events->track, &place, event->whom, event->open, at_s - step_s, at_s, !here);
    }
    return true;
}

static void note_events(struct events *events, const struct pc_spells *spells, enum whom whom, bool open)
{
    for (int i = 0; i < spells->count; i++) {
        events->event[events->count++] = (struct event){whom, open, true, spells->spell[i].from_s};
        events->event[events->count++] = (struct event){whom, open, false, spells->spell[i].to_s};
    }
}

static void take_tolerances(const double tolerance_s[], int *next, struct pc_spells *spells)
{
    for (int i = 0; i < spells->count; i++) {
        spells->spell[i].from_tolerance_s = tolerance_s[(*next)++];
        spells->spell[i].to_tolerance_s = tolerance_s[(*next)++];
    }
}

static void find_spells(const struct track *track, const struct pc_opening_place *place,
                        const struct pc_sunlight_care *care, struct pc_sunlight *day)
{
    struct events events = {.place = place, .track = track};
    struct pc_spells *kinds[] = {&day->table, &day->hero, &day->table_open, &day->hero_open};
    double x[OFF_COUNT] = {0.0}, off[OFF_COUNT], y[EVENTS_MAX], tolerance_s[EVENTS_MAX];
    for (int k = 0; k < 4; k++) {
        pc_sunlight_spells(track, place, k % 2 ? ON_HERO : ON_TABLE, k >= 2, kinds[k]);
        note_events(&events, kinds[k], k % 2 ? ON_HERO : ON_TABLE, k >= 2);
    }
    pc_sunlight_care_offs(care, off);
    // There is always an answer, if not always a time.
    bool answered =
        pc_tolerance(pc_sunlight_event_times, &events, OFF_COUNT, x, off, events.count, y, tolerance_s);
    PC_ASSERT(answered);
    for (int k = 0, next = 0; k < 4; k++)
        take_tolerances(tolerance_s, &next, kinds[k]);
}

bool pc_sunlight_share(const void *given, const double x[], double y[])
{
    const struct seen *seen = given;
    struct pc_opening_place place;
    pc_sunlight_put_off(seen->place, x, &place);
    y[0] = clear_of_skyline(&place, seen->direction) ? pc_opening_share_ratio(&place, seen->direction) : 0.0;
    return true;
}

// The mean over the disc by seven points, exact for polynomials of the fifth degree (Abramowitz and Stegun,
// 25.4.61, n = 7).
static double share_of_disc(const struct pc_opening_place *place, const double middle[3],
                            double semidiameter_rad)
{
    double direction[3],
        share = clear_of_skyline(place, middle) ? 0.25 * pc_opening_share_ratio(place, middle) : 0.0;
    for (int i = 0; i < 6; i++) {
        beside(middle, sqrt(2.0 / 3.0) * semidiameter_rad, PC_PI / 3.0 * i, direction);
        if (clear_of_skyline(place, direction))
            share += 0.125 * pc_opening_share_ratio(place, direction);
    }
    return share;
}

static void fill_row(const struct track *track, const struct pc_opening_place *place,
                     const double off[OFF_COUNT], int i, struct pc_sunlight_row *row)
{
    const double *direction = track->direction[2 * i];
    double x[OFF_COUNT] = {0.0}, mine[OFF_COUNT], share;
    struct seen seen = {place, direction};
    memcpy(mine, off, sizeof mine);
    mine[OFF_HERO_RIGHT] = mine[OFF_HERO_OUT] = 0.0; // the table's share does not ask where the hero stands
    row->at_s = track->from_s + (double)i * PC_SUNLIGHT_STEP_S;
    row->azimuth_rad = atan2(direction[0], direction[1]);
    row->azimuth_rad += row->azimuth_rad < 0.0 ? 2.0 * PC_PI : 0.0;
    row->elevation_rad = asin(fmax(-1.0, fmin(1.0, direction[2])));
    row->share_ratio = row->share_ratio_tolerance = 0.0;
    row->hero_lit = false;
    if (!before_a_window(place, direction))
        return;
    row->share_ratio = share_of_disc(place, direction, track->semidiameter_rad);
    row->hero_lit = lit(place, ON_HERO, false, direction, track->semidiameter_rad);
    bool answered =
        pc_tolerance(pc_sunlight_share, &seen, OFF_COUNT, x, mine, 1, &share, &row->share_ratio_tolerance);
    PC_ASSERT(answered);
}

void pc_sunlight_day(const struct pc_sun_station *station, const struct pc_opening_place *place,
                     const struct pc_sunlight_care *care, double from_s, struct pc_sunlight *day)
{
    struct track track;
    double off[OFF_COUNT];
    day->sun = pc_sun_day_from(station, from_s);
    pc_sunlight_track(station, from_s, &track);
    pc_sunlight_care_offs(care, off);
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++)
        fill_row(&track, place, off, i, &day->row[i]);
    find_spells(&track, place, care, day);
}

enum pc_sunlight_why pc_sunlight_why_not(const struct pc_opening_place *place, const struct pc_sunlight *day)
{
    if (day->table.count > 0)
        return PC_SUNLIGHT_COMES;
    if (day->sun.state == PC_SUN_NEVER_RISES)
        return PC_SUNLIGHT_NO_SUN;
    if (day->table_open.count > 0)
        return PC_SUNLIGHT_SKYLINE;
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++)
        for (int k = 0; k < place->opening_count; k++)
            if (day->row[i].elevation_rad > 0.0 &&
                cos(day->row[i].azimuth_rad - place->opening[k].facing_rad) > 0.0)
                return PC_SUNLIGHT_MISSES;
    return PC_SUNLIGHT_WRONG_SIDE;
}

// The shadow of what is plumb runs away from the sun, whatever its height.
bool pc_sunlight_facing(const void *given, const double x[], double y[])
{
    const struct shadow *shadow = given;
    double sun_rad = pc_sun_at(shadow->station, shadow->at_s).azimuth_rad;
    double later_rad = pc_sun_at(shadow->station, shadow->at_s + x[0]).azimuth_rad;
    y[0] = sun_rad + remainder(later_rad - sun_rad, 2.0 * PC_PI) - x[1];
    return true;
}

enum pc_status pc_bearing_from_shadow(const struct pc_sun_station *station, double at_s,
                                      double at_tolerance_s, double turned_rad, double turned_tolerance_rad,
                                      struct pc_bearing *bearing, struct pc_err *err)
{
    double x[2] = {0.0, turned_rad}, off[2] = {at_tolerance_s, turned_tolerance_rad}, facing, tolerance;
    struct shadow shadow = {station, at_s};
    struct pc_sun sun = pc_sun_at(station, at_s);
    if (sun.elevation_rad <= 0.0)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "The sun is down at that time, so nothing throws a shadow; check date, time and offset.");
    bool answered = pc_tolerance(pc_sunlight_facing, &shadow, 2, x, off, 1, &facing, &tolerance);
    PC_ASSERT(answered);
    if (tolerance > pc_rad_from_deg(20.0))
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "The sun stands too high for a shadow to tell the bearing; take it earlier or later in the day.");
    *bearing = (struct pc_bearing){fmod(facing + 4.0 * PC_PI, 2.0 * PC_PI), tolerance};
    if (cos(bearing->facing_rad - sun.azimuth_rad) <= 0.0)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "By this angle the sun would stand behind the window's wall; the angle is from straight into the "
            "room to the shadow, clockwise as seen from above.");
    return PC_OK;
}
