// SPDX-License-Identifier: Apache-2.0
#include "base/clock.h"

// Days from 1970-01-01, by counting years from March so that the leap day comes last.
static int64_t days_from_civil(int year, int month, int day)
{
    int64_t y = month <= 2 ? (int64_t)year - 1 : year;
    int64_t era = (y >= 0 ? y : y - 399) / 400;
    int64_t year_of_era = y - era * 400;
    int64_t day_of_year = (153 * (month + (month > 2 ? -3 : 9)) + 2) / 5 + day - 1;
    int64_t day_of_era = year_of_era * 365 + year_of_era / 4 - year_of_era / 100 + day_of_year;
    return era * 146097 + day_of_era - 719468;
}

bool pc_clock_s_from_civil(int year, int month, int day, int hour, int minute, double second, double *s)
{
    static const int month_days[12] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    if (year < 1 || year > 9999 || month < 1 || month > 12 || day < 1 || day > month_days[month - 1] ||
        hour < 0 || hour > 23 || minute < 0 || minute > 59 || !(second >= 0.0 && second < 61.0))
        return false;
    *s = (double)days_from_civil(year, month, day) * 86400.0 + hour * 3600.0 + minute * 60.0 + second;
    return true;
}

// A fixed-width decimal field.
static bool read_digits(const char *text, int from, int count, int *value)
{
    *value = 0;
    for (int i = from; i < from + count; i++) {
        if (text[i] < '0' || text[i] > '9')
            return false;
        *value = *value * 10 + (text[i] - '0');
    }
    return true;
}

bool pc_clock_s_from_exif(const char *text, double *s)
{
    if (text == NULL || strlen(text) < 19 || text[4] != ':' || text[7] != ':' || text[10] != ' ' ||
        text[13] != ':' || text[16] != ':')
        return false;
    int y, mo, d, h, mi, sec;
    return read_digits(text, 0, 4, &y) && read_digits(text, 5, 2, &mo) && read_digits(text, 8, 2, &d) &&
           read_digits(text, 11, 2, &h) && read_digits(text, 14, 2, &mi) && read_digits(text, 17, 2, &sec) &&
           pc_clock_s_from_civil(y, mo, d, h, mi, sec, s);
}

void pc_clock_hms(double s, char out[9])
{
    int64_t of_day = (int64_t)floor(s) % 86400;
    if (of_day < 0)
        of_day += 86400;
    snprintf(out, 9, "%02d:%02d:%02d", (int)(of_day / 3600) % 24, (int)(of_day / 60) % 60,
             (int)(of_day % 60));
}

double pc_clock_monotonic_s(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}
