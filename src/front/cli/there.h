// SPDX-License-Identifier: Apache-2.0
// Where and when, for the verbs that ask the sun and the sky: a place file, and what the options say instead.
#ifndef PC_FRONT_CLI_THERE_H
#define PC_FRONT_CLI_THERE_H

#include "front/cli/cli.h"
#include "light/kit/site_daylight.h"

extern const struct pc_option_group pc_options_there;  // --site --at --lat --lon --height-m
extern const struct pc_option_group pc_options_window; // --facing --facing-within --window-m ...

struct pc_there {
    const char *name; // of the place; NULL: none
    struct pc_sun_station station;
    double from_s, offset_s; // UTC of the day's midnight there, and what clocks there are ahead of UTC
    bool has_time;           // a moment was asked for
    double at_s;             // then it, UTC
    bool has_windows;        // the place file or the options tell of one
    struct pc_site site;     // with what the options say instead
};

// PC_BAD_INPUT or PC_MISUSE when where, when or the clock's offset is missing.
enum pc_status pc_there_read(struct pc_cli *cli, struct pc_there *there, struct pc_err *err) PC_MUST_CHECK;

// Turns the house so that the first window looks there.
void pc_there_turn(struct pc_there *there, double facing_rad, double tolerance_rad);

// "14:00" and "18 March 2027" on the clock there, to the nearest minute.
const char *pc_there_hm(const struct pc_there *there, double utc_s, char out[16]);
const char *pc_there_date(const struct pc_there *there, double utc_s, char out[48]);
// "14:00 ± 5 min"; "about 14:00" where the tolerance is not finite.
const char *pc_there_hm_within(const struct pc_there *there, double utc_s, double tolerance_s, char out[48]);
// Puts a time as RFC 3339; NAN: null.
void pc_there_put_time(const struct pc_there *there, struct pc_json *object, const char *key, double utc_s);

#endif
