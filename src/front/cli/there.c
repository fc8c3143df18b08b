// SPDX-License-Identifier: Apache-2.0
#include "front/cli/there.h"

#include "base/units.h"

static const struct pc_option where[] = {
    {.name = "site", .kind = PC_ARG_PATH, .metavar = "FILE", .help = "a place file (docs/kit.md)"},
    {.name = "at",
     .kind = PC_ARG_MOMENT,
     .metavar = "WHEN",
     .help = "the moment, as 2027-03-18T14:00:00+01:00; of what is left out, the place file tells date and "
             "offset",
     .otherwise = "the place file's day"},
    {.name = "lat",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "latitude, north positive",
     .least = -90,
     .most = 90,
     .otherwise = "as the place file says"},
    {.name = "lon",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "longitude, east positive",
     .least = -180,
     .most = 180,
     .otherwise = "as the place file says"},
    {.name = "height-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "height above the sea",
     .least = -430,
     .most = 9000,
     .otherwise = "as the place file says, or 0"},
};
const struct pc_option_group pc_options_there = {"Where and when", where, PC_COUNT(where)};

static const struct pc_option window[] = {
    {.name = "facing",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "bearing that the first window looks out to; table and other windows turn with it",
     .least = -360,
     .most = 360,
     .otherwise = "as the place file says"},
    {.name = "facing-within",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how well that is known: 1 from a shadow, 5 by a compass indoors",
     .least = 0,
     .most = 45,
     .otherwise = "as the place file says"},
    {.name = "window-m",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "width and height of the first window",
     .least = 0.1,
     .most = 20},
    {.name = "sill-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "its lower edge over the floor",
     .least = 0,
     .most = 5},
    {.name = "from-table-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "its wall from the table's middle",
     .least = 0.1,
     .most = 50},
    {.name = "table-height-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "the table's top over the floor",
     .least = 0,
     .most = 2},
};
const struct pc_option_group pc_options_window = {
    "The window, for what the place file does not say or says otherwise", window, PC_COUNT(window)};

// A figure typed is known to a centimetre.
static const double TYPED_M = 0.01, SHADOW_DEG = 1.0;

static void take_m(const struct pc_args *args, const char *option, double *value, double *tolerance)
{
    if (pc_args_number(args, option, value))
        *tolerance = TYPED_M;
}

static void turn(struct pc_site *site, double facing_rad, double tolerance_rad)
{
    double by_rad = facing_rad - site->windows[0].facing_rad;
    if (isnan(by_rad)) {
        site->windows[0].facing_rad = 0.0;
        by_rad = facing_rad;
    }
    for (size_t i = 0; i < site->window_count; i++) {
        site->windows[i].facing_rad += by_rad;
        site->windows[i].facing_rad_tolerance = tolerance_rad;
    }
}

void pc_there_turn(struct pc_there *there, double facing_rad, double tolerance_rad)
{
    if (there->has_windows)
        turn(&there->site, facing_rad, tolerance_rad);
}

static void take_window(struct pc_cli *cli, struct pc_site *site)
{
    const struct pc_args *args = cli->args;
    struct pc_window *first = &site->windows[0];
    double deg;
    if (pc_args_number(args, "facing", &deg))
        turn(site, pc_rad_from_deg(deg), pc_rad_from_deg(SHADOW_DEG));
    if (pc_args_number(args, "facing-within", &deg))
        for (size_t i = 0; i < site->window_count; i++)
            site->windows[i].facing_rad_tolerance = pc_rad_from_deg(deg);
    if (pc_args_pair(args, "window-m", &first->width_m, &first->height_m))
        first->width_m_tolerance = first->height_m_tolerance = TYPED_M;
    take_m(args, "sill-m", &first->sill_m, &first->sill_m_tolerance);
    take_m(args, "from-table-m", &first->from_table_m, &first->from_table_m_tolerance);
    take_m(args, "table-height-m", &site->table.height_m, &site->table.height_m_tolerance);
}

static enum pc_status read_where(struct pc_cli *cli, struct pc_there *there, struct pc_err *err)
{
    // Options may tell of a window where no file does.
    static const char one_window[] = "{\"windows\": [{}]}";
    const struct pc_args *args = cli->args;
    const char *path = pc_args_text(args, "site");
    struct pc_site *site = &there->site;
    if (path != NULL)
        PC_TRY(pc_site_read(cli->arena, path, site, err));
    else
        PC_TRY(pc_site_read_text(cli->arena, one_window, strlen(one_window), "the usual place", site, err));
    there->name = site->name;
    there->has_windows = path != NULL ? site->window_count > 0 : pc_args_has(args, "facing");
    if (site->window_count > 0)
        take_window(cli, site);
    double deg;
    if (pc_args_number(args, "lat", &deg))
        site->latitude_rad = pc_rad_from_deg(deg);
    if (pc_args_number(args, "lon", &deg))
        site->longitude_rad = pc_rad_from_deg(deg);
    pc_args_number(args, "height-m", &site->altitude_m);
    if (isnan(site->latitude_rad) || isnan(site->longitude_rad))
        return pc_fail(err, PC_MISUSE, NULL,
                       "Say where, with --lat and --lon in degrees, or with a place file that has both, as "
                       "--site FILE.");
    there->station = pc_sun_station_at(site->latitude_rad, site->longitude_rad);
    there->station.height_m = site->altitude_m;
    return PC_OK;
}

static enum pc_status read_when(struct pc_cli *cli, struct pc_there *there, struct pc_err *err)
{
    struct pc_moment moment = {(double)NAN, (double)NAN, (double)NAN};
    const struct pc_date *date = &there->site.date;
    if (pc_args_has(cli->args, "at"))
        moment = pc_args_at(cli->args, "at", 0)->moment;
    if (isnan(moment.day_s) && (date->month == 0 || !pc_clock_s_from_civil(date->year, date->month, date->day,
                                                                           0, 0, 0.0, &moment.day_s)))
        return pc_fail(
            err, PC_MISUSE, "--at",
            "Say on which day, as --at 2027-03-18T14:00:00+01:00, or with a place file that has a date.");
    if (isnan(moment.offset_s))
        moment.offset_s = there->site.utc_offset_s;
    if (isnan(moment.offset_s))
        return pc_fail(err, PC_MISUSE, "--at",
                       "Say what clocks there are ahead of UTC, as +01:00 behind the time, or with a place "
                       "file that has "
                       "utc_offset_h.");
    there->offset_s = moment.offset_s;
    there->from_s = moment.day_s - moment.offset_s;
    there->has_time = !isnan(moment.of_day_s);
    there->at_s = there->from_s + (there->has_time ? moment.of_day_s : 0.0);
    int year, month, day;
    pc_clock_civil(there->at_s, &year, &month, &day);
    if (year < 1950 || year > 2100)
        return pc_fail(err, PC_BAD_INPUT, "--at", "The sun can be told from 1950 to 2100; this is %d.", year);
    return PC_OK;
}

enum pc_status pc_there_read(struct pc_cli *cli, struct pc_there *there, struct pc_err *err)
{
    PC_TRY(read_where(cli, there, err));
    return read_when(cli, there, err);
}

const char *pc_there_hm(const struct pc_there *there, double utc_s, char out[16])
{
    char hms[9];
    pc_clock_hms(utc_s + there->offset_s + 30.0, hms);
    snprintf(out, 16, "%.5s", hms);
    return out;
}

const char *pc_there_date(const struct pc_there *there, double utc_s, char out[48])
{
    static const char *const months[] = {"January",   "February", "March",    "April",
                                         "May",       "June",     "July",     "August",
                                         "September", "October",  "November", "December"};
    int year, month, day;
    pc_clock_civil(utc_s + there->offset_s, &year, &month, &day);
    snprintf(out, 48, "%d %s %d", day, months[month - 1], year);
    return out;
}

const char *pc_there_hm_within(const struct pc_there *there, double utc_s, double tolerance_s, char out[48])
{
    char hm[16];
    pc_there_hm(there, utc_s, hm);
    if (isfinite(tolerance_s))
        snprintf(out, 48, "%s ± %.0f min", hm, fmax(1.0, round(tolerance_s / 60.0)));
    else
        snprintf(out, 48, "about %s", hm);
    return out;
}

void pc_there_put_time(const struct pc_there *there, struct pc_json *object, const char *key, double utc_s)
{
    char text[32];
    if (isfinite(utc_s))
        pc_clock_rfc3339(utc_s, there->offset_s, text);
    pc_json_put_text(object, key, isfinite(utc_s) ? text : NULL);
}
