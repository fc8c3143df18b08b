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

// Two digits, and what follows them.
static bool take_two(const char **text, int *value)
{
    size_t n = strnlen(*text, 2);
    if (n < 2 || !read_digits(*text, 0, 2, value))
        return false;
    *text += 2;
    return true;
}

static bool take(const char **text, const char *any_of)
{
    if (**text == '\0' || strchr(any_of, **text) == NULL)
        return false;
    (*text)++;
    return true;
}

static bool take_date(const char **text, double *day_s)
{
    int century, year, month, day, as_year, as_month, as_day;
    if (!(take_two(text, &century) && take_two(text, &year) && take(text, "-") && take_two(text, &month) &&
          take(text, "-") && take_two(text, &day) &&
          pc_clock_s_from_civil(century * 100 + year, month, day, 0, 0, 0.0, day_s)))
        return false;
    // 29 February of a common year comes back as another day.
    pc_clock_civil(*day_s, &as_year, &as_month, &as_day);
    return as_day == day;
}

static bool take_time(const char **text, double *of_day_s)
{
    int hour, minute, second = 0;
    double fraction = 0.0, unit = 1.0;
    if (!take_two(text, &hour) || !take(text, ":") || !take_two(text, &minute))
        return false;
    if (take(text, ":")) {
        if (!take_two(text, &second))
            return false;
        for (bool point = take(text, "."); point && **text >= '0' && **text <= '9'; (*text)++)
            fraction += (unit /= 10.0) * (**text - '0');
    }
    *of_day_s = hour * 3600.0 + minute * 60.0 + second + fraction;
    return hour <= 23 && minute <= 59 && second <= 60;
}

static bool take_offset(const char **text, double *offset_s)
{
    int hour = 0, minute = 0;
    bool west = **text == '-';
    if (take(text, "Zz")) {
        *offset_s = 0.0;
        return true;
    }
    if (!take(text, "+-") || !take_two(text, &hour) || !take(text, ":") || !take_two(text, &minute))
        return false;
    *offset_s = (west ? -1.0 : 1.0) * (hour * 3600.0 + minute * 60.0);
    return hour <= 23 && minute <= 59;
}

bool pc_clock_moment(const char *text, struct pc_moment *moment)
{
    struct pc_moment m = {(double)NAN, (double)NAN, (double)NAN};
    bool timed = true;
    if (strlen(text) >= 5 && text[4] == '-') {
        if (!take_date(&text, &m.day_s))
            return false;
        timed = take(&text, "Tt ");
    }
    if (timed && (!take_time(&text, &m.of_day_s) || (*text != '\0' && !take_offset(&text, &m.offset_s))))
        return false;
    if (*text != '\0')
        return false;
    *moment = m;
    return true;
}

// The inverse of days_from_civil, by eras of 400 years that begin in March.
void pc_clock_civil(double s, int *year, int *month, int *day)
{
    int64_t z = (int64_t)floor(s / 86400.0) + 719468;
    int64_t era = (z >= 0 ? z : z - 146096) / 146097;
    int64_t of_era = z - era * 146097;
    int64_t year_of_era = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
    int64_t of_year = of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    int64_t from_march = (5 * of_year + 2) / 153;
    *day = (int)(of_year - (153 * from_march + 2) / 5 + 1);
    *month = (int)(from_march < 10 ? from_march + 3 : from_march - 9);
    *year = (int)(year_of_era + era * 400 + (*month <= 2));
}

void pc_clock_rfc3339(double utc_s, double offset_s, char out[32])
{
    int year, month, day, minutes = (int)(fabs(offset_s) / 60.0 + 0.5);
    char hms[9];
    pc_clock_civil(utc_s + offset_s, &year, &month, &day);
    pc_clock_hms(utc_s + offset_s, hms);
    snprintf(out, 32, "%04d-%02d-%02dT%s%c%02d:%02d", year % 10000, month % 100, day % 100, hms,
             offset_s < 0 ? '-' : '+', minutes / 60 % 100, minutes % 60);
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
