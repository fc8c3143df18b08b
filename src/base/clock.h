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

// "HH:MM:SS" of the day, for messages.
void pc_clock_hms(double s, char out[9]);

// Seconds of a clock that only goes forward, for measuring how long something took.
double pc_clock_monotonic_s(void);

#endif
