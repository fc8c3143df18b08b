// SPDX-License-Identifier: Apache-2.0
// The verb `sun`: where the sun stands, when it lies on the table, when it comes back.
#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/there.h"
#include "front/cli/verbs.h"
#include "light/kit/caution.h"
#include "light/sky/sunlight_draw.h"

// The position, of which most is that UTC may be a second off.
static const double POSITION_DEG = 0.005;
// A watch, and an angle laid off on a sheet of A4.
static const double WATCH_S = 60.0, SHADOW_DEG = 0.7;
static const double HALF_HOUR_S = 1800.0;

struct answer {
    struct pc_there there;
    struct pc_sun sun; // at the moment asked for
    bool has_day;      // the table is known
    struct pc_daylight_place place;
    struct pc_sunlight day;
    struct pc_sun_day sun_day;
    bool has_bearing;
    struct pc_bearing bearing;
    bool has_again;
    double again_s, again_off_rad, again_offset_s;
};

static double elevation_tolerance_deg(const struct pc_sun *sun)
{
    return hypot(POSITION_DEG, pc_deg_from_rad(pc_sun_refraction_tolerance_rad(sun)));
}

// A small circle of azimuth near the zenith.
static double azimuth_tolerance_deg(const struct pc_sun *sun)
{
    return fmin(180.0, POSITION_DEG / fmax(1e-9, cos(sun->elevation_rad)));
}

static void read_air(struct pc_cli *cli, struct pc_sun_station *station)
{
    pc_args_number(cli->args, "pressure-hpa", &station->pressure_hPa);
    pc_args_number(cli->args, "temperature-c", &station->temperature_C);
    pc_args_number(cli->args, "delta-t-s", &station->delta_t_s);
}

static enum pc_status find_bearing(struct pc_cli *cli, struct answer *a, struct pc_err *err)
{
    double turned_deg;
    if (!pc_args_number(cli->args, "shadow", &turned_deg))
        return PC_OK;
    if (!a->there.has_time)
        return pc_fail(err, PC_MISUSE, "--shadow", "Say when the shadow fell so, with --at.");
    PC_TRY(pc_bearing_from_shadow(&a->there.station, a->there.at_s, WATCH_S, pc_rad_from_deg(turned_deg),
                                  pc_rad_from_deg(SHADOW_DEG), &a->bearing, err));
    a->has_bearing = true;
    pc_there_turn(&a->there, a->bearing.facing_rad, a->bearing.facing_tolerance_rad);
    return PC_OK;
}

static enum pc_status find_day(struct pc_cli *cli, struct answer *a, struct pc_err *err)
{
    struct pc_daylight_care care;
    bool known = a->there.has_windows;
    for (size_t i = 0; known && i < a->there.site.window_count; i++)
        if (isnan(a->there.site.windows[i].facing_rad)) {
            pc_cli_note(a->there.site.windows[i].name,
                        "Nobody said which way it looks, so the sun on the table cannot be told; give its "
                        "bearing with "
                        "--facing, or let the shadow of its bar tell it with --shadow.");
            known = false;
        }
    a->sun_day = pc_sun_day_from(&a->there.station, a->there.from_s);
    if (!known) {
        if (pc_args_has(cli->args, "out"))
            return pc_fail(err, PC_MISUSE, "--out",
                           "There is nothing to draw without a window that has a bearing.");
        return PC_OK;
    }
    PC_TRY(pc_site_daylight(&a->there.site, &a->place, &care, err));
    pc_sunlight_day(&a->there.station, &a->place.opening, &care.place, a->there.from_s, &a->day);
    a->has_day = true;
    return PC_OK;
}

static enum pc_status find_again(struct pc_cli *cli, struct answer *a, struct pc_err *err)
{
    bool asked = pc_args_has(cli->args, "again");
    if (asked && !a->there.has_time)
        return pc_fail(err, PC_MISUSE, "--again", "Say which sun is to come back, with a time in --at.");
    if (!a->there.has_time || (!asked && a->sun.elevation_rad <= 0.0))
        return PC_OK;
    if (a->sun.elevation_rad <= 0.0)
        return pc_fail(err, PC_BAD_INPUT, "--again",
                       "The sun is down at the time of --at, so there is none to come back.");
    double from_s;
    a->again_offset_s = a->there.offset_s;
    if (asked) {
        const struct pc_moment *moment = &pc_args_at(cli->args, "again", 0)->moment;
        if (isnan(moment->day_s))
            return pc_fail(err, PC_MISUSE, "--again",
                           "Say on which day, as 2027-09-25 or 2027-09-25T00:00+02:00.");
        if (!isnan(moment->offset_s))
            a->again_offset_s = moment->offset_s;
        from_s = moment->day_s - a->again_offset_s;
    } else {
        from_s = pc_sun_return_day_s(&a->there.station, a->there.at_s, a->there.from_s);
    }
    a->again_s = pc_sun_again_s(&a->there.station, &a->sun, from_s, &a->again_off_rad);
    a->has_again = true;
    return PC_OK;
}

static const char *why_not(const struct answer *a)
{
    static const char *const sentences[] = {
        [PC_SUNLIGHT_COMES] = NULL,
        [PC_SUNLIGHT_NO_SUN] = "No sun comes to the table on that day: it does not rise.",
        [PC_SUNLIGHT_WRONG_SIDE] =
            "No sun comes to the table on that day: it never stands before a wall that has a window.",
        [PC_SUNLIGHT_MISSES] = "No sun comes to the table on that day: what comes in falls beside it.",
        [PC_SUNLIGHT_SKYLINE] =
            "No sun comes to the table on that day: the skyline hides it whenever it would.",
    };
    return sentences[pc_sunlight_why_not(&a->place.opening, &a->day)];
}

static struct pc_json *spells_json(const struct answer *a, const struct pc_spells *spells)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < spells->count; i++) {
        const struct pc_spell *spell = &spells->spell[i];
        struct pc_json *o = pc_json_object();
        pc_there_put_time(&a->there, o, "from", spell->from_s);
        pc_json_put_number(o, "from_tolerance_s", spell->from_tolerance_s, 0);
        pc_there_put_time(&a->there, o, "to", spell->to_s);
        pc_json_put_number(o, "to_tolerance_s", spell->to_tolerance_s, 0);
        pc_json_add(array, o);
    }
    return array;
}

static void put_table(const struct answer *a, struct pc_json *o)
{
    struct pc_json *rows = pc_json_array();
    pc_json_put(o, "table_in_sun", spells_json(a, &a->day.table));
    pc_json_put(o, "hero_in_sun", spells_json(a, &a->day.hero));
    pc_json_put(o, "table_in_sun_without_skyline", spells_json(a, &a->day.table_open));
    pc_json_put(o, "hero_in_sun_without_skyline", spells_json(a, &a->day.hero_open));
    pc_json_put_text(o, "why_not", why_not(a));
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i++) {
        const struct pc_sunlight_row *row = &a->day.row[i];
        struct pc_json *r = pc_json_object();
        pc_there_put_time(&a->there, r, "at", row->at_s);
        pc_json_put_number(r, "table_share_ratio", row->share_ratio, 3);
        pc_json_put_number(r, "table_share_ratio_tolerance", row->share_ratio_tolerance, 3);
        pc_json_put_bool(r, "hero_lit", row->hero_lit);
        pc_json_put_number(r, "sun_azimuth_deg", pc_deg_from_rad(row->azimuth_rad), 2);
        pc_json_put_number(r, "sun_elevation_deg", pc_deg_from_rad(row->elevation_rad), 2);
        pc_json_add(rows, r);
    }
    pc_json_put(o, "rows", rows);
}

static void put_again(const struct answer *a, struct pc_json *o)
{
    struct pc_there other = a->there;
    other.offset_s = a->again_offset_s;
    struct pc_json *again = pc_json_object();
    pc_there_put_time(&other, again, "at", a->again_s);
    pc_json_put_number(again, "off_deg", pc_deg_from_rad(a->again_off_rad), 2);
    pc_json_put(o, "again", again);
}

static void print_json(struct pc_cli *cli, const struct answer *a)
{
    struct pc_json *o = pc_json_object();
    const struct pc_sun_day *day = &a->sun_day;
    double dt_tolerance_s, dt_s = pc_sun_delta_t_s(a->there.at_s, &dt_tolerance_s);
    bool has = a->there.has_time;
    const double unknown = (double)NAN;
    pc_there_put_time(&a->there, o, "at", has ? a->there.at_s : unknown);
    pc_json_put_number(o, "azimuth_deg", has ? pc_deg_from_rad(a->sun.azimuth_rad) : unknown, 5);
    pc_json_put_number(o, "azimuth_deg_tolerance", has ? azimuth_tolerance_deg(&a->sun) : unknown, 3);
    pc_json_put_number(o, "elevation_deg", has ? pc_deg_from_rad(a->sun.elevation_rad) : unknown, 5);
    pc_json_put_number(o, "elevation_deg_tolerance", has ? elevation_tolerance_deg(&a->sun) : unknown, 3);
    pc_json_put_number(o, "elevation_true_deg", has ? pc_deg_from_rad(a->sun.elevation_true_rad) : unknown,
                       5);
    pc_json_put_number(o, "elevation_true_deg_tolerance", has ? POSITION_DEG : unknown, 3);
    pc_json_put_number(o, "semidiameter_deg", has ? pc_deg_from_rad(a->sun.semidiameter_rad) : unknown, 4);
    bool given = !isnan(a->there.station.delta_t_s);
    pc_json_put_number(o, "delta_t_s", given ? a->there.station.delta_t_s : dt_s, 1);
    pc_json_put_number(o, "delta_t_s_tolerance", given ? 0.0 : dt_tolerance_s, 1);
    pc_there_put_time(&a->there, o, "rise", day->rise_s);
    pc_json_put_number(o, "rise_tolerance_s", day->rise_tolerance_s, 0);
    bool up = day->state != PC_SUN_NEVER_RISES;
    pc_there_put_time(&a->there, o, "highest", up ? day->highest_s : unknown);
    pc_json_put_number(o, "highest_deg", up ? pc_deg_from_rad(day->highest_rad) : unknown, 2);
    pc_there_put_time(&a->there, o, "set", day->set_s);
    pc_json_put_number(o, "set_tolerance_s", day->set_tolerance_s, 0);
    if (a->has_bearing) {
        pc_json_put_number(o, "facing_deg", pc_deg_from_rad(a->bearing.facing_rad), 2);
        pc_json_put_number(o, "facing_deg_tolerance", pc_deg_from_rad(a->bearing.facing_tolerance_rad), 2);
    }
    if (a->has_again)
        put_again(a, o);
    if (a->has_day)
        put_table(a, o);
    pc_cli_put_json(cli, o);
}

static void say_position(struct pc_cli *cli, const struct answer *a)
{
    char hm[16], date[48], azimuth[PC_FIGURE_BYTES], seen[PC_FIGURE_BYTES], bare[PC_FIGURE_BYTES];
    const struct pc_sun *sun = &a->sun;
    pc_there_hm(&a->there, a->there.at_s, hm);
    pc_there_date(&a->there, a->there.at_s, date);
    pc_print_figure(azimuth, pc_deg_from_rad(sun->azimuth_rad), azimuth_tolerance_deg(sun));
    pc_print_figure(seen, fabs(pc_deg_from_rad(sun->elevation_rad)), elevation_tolerance_deg(sun));
    pc_print_figure(bare, pc_deg_from_rad(sun->elevation_true_rad), POSITION_DEG);
    if (sun->elevation_rad > 0.0)
        pc_print_sentence(
            cli->out,
            "At %s on %s the sun stands at a bearing of %s degrees from true north, %s degrees high as seen "
            "and %s but for the air.",
            hm, date, azimuth, seen, bare);
    else
        pc_print_sentence(cli->out,
                          "At %s on %s the sun is down, %s degrees under the horizon at a bearing of %s.", hm,
                          date, seen, azimuth);
}

static void say_day(struct pc_cli *cli, const struct answer *a)
{
    const struct pc_sun_day *day = &a->sun_day;
    char rise[48], high[16], set[48], date[48];
    pc_there_date(&a->there, a->there.from_s, date);
    if (day->state == PC_SUN_NEVER_RISES) {
        pc_print_sentence(cli->out, "The sun does not rise there on %s.", date);
        return;
    }
    pc_there_hm(&a->there, day->highest_s, high);
    if (day->state == PC_SUN_NEVER_SETS) {
        pc_print_sentence(cli->out, "The sun does not set there on %s; it is highest at %s, %.1f degrees.",
                          date, high, pc_deg_from_rad(day->highest_rad));
        return;
    }
    // A day near the pole may have one of them only.
    pc_print_sentence(
        cli->out, "On %s it %s%s, is highest at %s, %.1f degrees, and %s%s, on a level horizon.", date,
        isnan(day->rise_s) ? "is up from the day before" : "rises at ",
        isnan(day->rise_s) ? "" : pc_there_hm_within(&a->there, day->rise_s, day->rise_tolerance_s, rise),
        high, pc_deg_from_rad(day->highest_rad),
        isnan(day->set_s) ? "does not set before midnight" : "sets at ",
        isnan(day->set_s) ? "" : pc_there_hm_within(&a->there, day->set_s, day->set_tolerance_s, set));
}

static void say_spells(struct pc_cli *cli, const struct answer *a, const char *what,
                       const struct pc_spells *spells)
{
    char text[512];
    size_t n = (size_t)snprintf(text, sizeof text, "%s", what);
    for (int i = 0; i < spells->count && n < sizeof text; i++) {
        char from[48], to[48];
        pc_there_hm_within(&a->there, spells->spell[i].from_s, spells->spell[i].from_tolerance_s, from);
        pc_there_hm_within(&a->there, spells->spell[i].to_s, spells->spell[i].to_tolerance_s, to);
        bool perhaps =
            !isfinite(spells->spell[i].from_tolerance_s) || !isfinite(spells->spell[i].to_tolerance_s);
        n += (size_t)snprintf(text + n, sizeof text - n, "%s%s from %s to %s", i == 0 ? "" : ", and",
                              perhaps ? " perhaps" : "", from, to);
    }
    pc_print_sentence(cli->out, "%s.", text);
}

static bool same_spells(const struct pc_spells *a, const struct pc_spells *b)
{
    bool same = a->count == b->count;
    for (int i = 0; same && i < a->count; i++)
        same = fabs(a->spell[i].from_s - b->spell[i].from_s) < 60.0 &&
               fabs(a->spell[i].to_s - b->spell[i].to_s) < 60.0;
    return same;
}

static void print_rows(struct pc_cli *cli, const struct answer *a)
{
    struct pc_table *table = pc_table_create(cli->arena, ">clock|>of the table|hero");
    for (int i = 0; i < PC_SUNLIGHT_ROWS; i += (int)HALF_HOUR_S / PC_SUNLIGHT_STEP_S) {
        const struct pc_sunlight_row *row = &a->day.row[i];
        char hm[16], share[PC_FIGURE_BYTES];
        if (row->share_ratio <= 0.0)
            continue;
        pc_table_cell(table, "%s", pc_there_hm(&a->there, row->at_s, hm));
        bool or_none = row->share_ratio_tolerance > 0.9 * row->share_ratio && row->share_ratio > 0.2;
        if (row->share_ratio_tolerance < 0.005 || or_none)
            pc_table_cell(table, "%.0f %%%s", 100.0 * row->share_ratio, or_none ? " or none" : "");
        else
            pc_table_cell(table, "%s", pc_print_share(share, row->share_ratio, row->share_ratio_tolerance));
        pc_table_cell(table, "%s", row->hero_lit ? "in the sun" : "");
    }
    fprintf(cli->out, "\n");
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
}

static void say_table(struct pc_cli *cli, const struct answer *a)
{
    const struct pc_sunlight *day = &a->day;
    if (why_not(a) != NULL) {
        pc_print_sentence(cli->out, "%s", why_not(a));
        return;
    }
    say_spells(cli, a, "The sun is on the table", &day->table);
    if (day->hero.count > 0)
        say_spells(cli, a, "The hero's centre is in it", &day->hero);
    else
        pc_print_sentence(cli->out, "It does not reach the hero's centre.");
    if (!same_spells(&day->hero, &day->hero_open))
        say_spells(cli, a, "Without the skyline it would be", &day->hero_open);
    print_rows(cli, a);
    pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_SUN));
}

static void print_text(struct pc_cli *cli, const struct answer *a)
{
    char facing[PC_FIGURE_BYTES], hm[16], date[48];
    if (a->there.has_time)
        say_position(cli, a);
    say_day(cli, a);
    if (a->has_bearing)
        pc_print_sentence(cli->out, "By its shadow the window looks to a bearing of %s degrees.",
                          pc_print_figure(facing, pc_deg_from_rad(a->bearing.facing_rad),
                                          pc_deg_from_rad(a->bearing.facing_tolerance_rad)));
    if (a->has_day)
        say_table(cli, a);
    if (a->has_again) {
        struct pc_there other = a->there;
        other.offset_s = a->again_offset_s;
        int minutes = (int)round(fabs(other.offset_s) / 60.0);
        pc_print_sentence(
            cli->out, "The same sun comes again at %s on %s by a clock at UTC%c%02d:%02d, %.2f degrees off.",
            pc_there_hm(&other, a->again_s, hm), pc_there_date(&other, a->again_s, date),
            other.offset_s < 0.0 ? '-' : '+', minutes / 60, minutes % 60, pc_deg_from_rad(a->again_off_rad));
    }
}

static enum pc_status save_drawing(struct pc_cli *cli, const struct answer *a, struct pc_err *err)
{
    const char *path = pc_args_text(cli->args, "out");
    enum pc_draw_form form;
    struct pc_draw *draw;
    char heading[256], date[48];
    if (path == NULL)
        return PC_OK;
    PC_TRY(pc_draw_form_of(path, &form, err));
    if (why_not(a) != NULL)
        return pc_fail(err, PC_NOT_FOUND, "--out", "%s There is nothing to draw.", why_not(a));
    pc_there_date(&a->there, a->there.from_s, date);
    snprintf(heading, sizeof heading, "%.160s%s%s", a->there.name != NULL ? a->there.name : "",
             a->there.name != NULL ? ", " : "", date);
    PC_TRY(pc_draw_create(form, PC_SUNLIGHT_DRAW_WIDTH_MM, PC_SUNLIGHT_DRAW_HEIGHT_MM, heading, &draw, err));
    pc_sunlight_draw(draw, &a->day, a->there.offset_s, heading);
    enum pc_status status = pc_draw_save(draw, path, err);
    pc_draw_destroy(draw);
    return status;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct answer *a = PC_NEW(cli->arena, struct answer);
    PC_TRY(pc_there_read(cli, &a->there, err));
    read_air(cli, &a->there.station);
    if (a->there.has_time)
        a->sun = pc_sun_at(&a->there.station, a->there.at_s);
    PC_TRY(find_bearing(cli, a, err));
    PC_TRY(find_day(cli, a, err));
    PC_TRY(find_again(cli, a, err));
    PC_TRY(save_drawing(cli, a, err));
    if (pc_args_has(cli->args, "json"))
        print_json(cli, a);
    else
        print_text(cli, a);
    return PC_OK;
}

static const struct pc_option asked[] = {
    {.name = "shadow",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how the shadow of the window's upright bar runs over the table at that moment: from straight "
             "into the room, "
             "clockwise as seen from above; answers which way the window looks",
     .least = -180,
     .most = 180},
    {.name = "again",
     .kind = PC_ARG_MOMENT,
     .metavar = "DAY",
     .help =
         "the day on which the same sun is to be found, as 2027-09-25T00:00+02:00 where the clocks differ",
     .otherwise = "the next one on which it comes back"},
    {.name = "json", .kind = PC_ARG_SWITCH, .help = "the answer for programs (docs/json.md has the keys)"},
    {.name = "out",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a drawing of the table's share in the sun by the clock: .svg, .pdf or .png",
     .otherwise = "nothing is drawn"},
};
static const struct pc_option_group asked_group = {"The question and the answer", asked, PC_COUNT(asked)};

static const struct pc_option air[] = {
    {.name = "pressure-hpa",
     .kind = PC_ARG_NUMBER,
     .metavar = "HPA",
     .help = "air pressure there",
     .least = 300,
     .most = 1100,
     .otherwise = "1013.25"},
    {.name = "temperature-c",
     .kind = PC_ARG_NUMBER,
     .metavar = "C",
     .help = "of the air",
     .least = -90,
     .most = 60,
     .otherwise = "12"},
    {.name = "delta-t-s",
     .kind = PC_ARG_NUMBER,
     .metavar = "S",
     .help = "terrestrial time less UT1",
     .least = -1000,
     .most = 10000,
     .otherwise = "by a model (docs/sky.md)"},
};
static const struct pc_option_group air_group = {"The air, and the Earth's clock", air, PC_COUNT(air)};

static const struct pc_option_group *const groups[] = {
    &pc_options_there, &asked_group, &pc_options_window, &air_group, NULL,
};

const struct pc_verb pc_verb_sun = {
    .name = "sun",
    .question = "when does the sun lie on the table?",
    .about = "Tells where the sun stands, and, where a window is known, how much of the table it lights "
             "through the day, "
             "when it first and last touches it, when the hero's centre is in it, and what the skyline takes "
             "away. It "
             "also finds the time of another day that has the same sun.\n"
             "A window's bearing can be had from the shadow of its bar.",
    .hour = PC_HOUR_RECCE,
    .operands = "",
    .groups = groups,
    .run = run,
};
