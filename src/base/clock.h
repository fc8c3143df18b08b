// SPDX-License-Identifier: Apache-2.0
// Civil time as cameras write it, and seconds to reckon with. Proleptic Gregorian, no leap seconds.
#ifndef PC_BASE_CLOCK_H
#define PC_BASE_CLOCK_H

#include "base/err.h"

// Seconds since 1970-01-01 00:00:00 in the same clock as the civil time given (a camera's own, unless an
// offset is known and taken off by the caller). False when a field is out of range.
bool pc_clock_s_from_civil(int year, int month, int day, int hour, int minute, double second, double *s);

// Reads "YYYY:MM:DD HH:MM:SS" (Exif 2.32, DateTimeOriginal). False when it is anything else.
bool pc_clock_s_from_exif(const char *text, double *s);

// A moment as people write it: "2027-03-18T14:00:00+01:00" (RFC 3339; the seconds may be left out), or a part
// of that: without the offset, the date alone, the time of day alone. day_s is the start of its day and
// of_day_s what has passed of it, both by the clock that it was written by; offset_s what that is ahead of
// UTC. NAN: not written. False, outputs untouched, when it is anything else.
struct pc_moment {
    double day_s, of_day_s, offset_s;
};
bool pc_clock_moment(const char *text, struct pc_moment *moment);

// The civil date of a time in seconds since 1970, in the same clock.
void pc_clock_civil(double s, int *year, int *month, int *day);
// "2027-03-18T14:00:00+01:00", of UTC on a clock that is offset_s ahead of it; cut to the second. The year
// lies in 1..9999, the offset within a day.
void pc_clock_rfc3339(double utc_s, double offset_s, char out[32]);

// "HH:MM:SS" of the day, for messages.
void pc_clock_hms(double s, char out[9]);

// Seconds of a clock that only goes forward, for measuring how long something took.
double pc_clock_monotonic_s(void);

#endif
