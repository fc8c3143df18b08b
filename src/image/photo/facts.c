// SPDX-License-Identifier: Apache-2.0
#include "image/photo/facts.h"

#include "base/clock.h"

static double within(double value, double least, double most)
{
    return value >= least && value <= most ? value : (double)NAN; // false for NAN too
}

static void clean_text(char *text, size_t size)
{
    text[size - 1] = '\0';
    size_t n = 0, keep = 0;
    for (size_t i = 0; text[i] != '\0'; i++) {
        unsigned char c = (unsigned char)text[i];
        if (c < 0x20 || c == 0x7f || (c == ' ' && n == 0))
            continue;
        text[n++] = (char)c;
        if (c != ' ')
            keep = n;
    }
    memset(text + keep, 0, size - keep);
}

void pc_facts_clear(struct pc_facts *facts)
{
    *facts = (struct pc_facts){
        .shutter_s = NAN,
        .shutter_apex_s = NAN,
        .fnumber = NAN,
        .iso = NAN,
        .focal_mm = NAN,
        .focal_35mm_mm = NAN,
        .time_s = NAN,
        .utc_offset_s = NAN,
        .flash_fired = -1,
    };
}

// Bounds wide enough for any camera made: a millionth of a second to a day, f/0.5 to a pinhole, and so on.
void pc_facts_clean(struct pc_facts *facts)
{
    facts->shutter_s = within(facts->shutter_s, 1e-6, 86400);
    facts->shutter_apex_s = within(facts->shutter_apex_s, 1e-6, 86400);
    // An APEX time of zero, which would be one second, beside an exposure time of zero was not filled in
    // either.
    if (isnan(facts->shutter_s) && facts->shutter_apex_s == 1.0)
        facts->shutter_apex_s = NAN;
    facts->fnumber = within(facts->fnumber, 0.5, 512);
    facts->iso = within(facts->iso, 1, 1e7);
    facts->focal_mm = within(facts->focal_mm, 0.5, 10000);
    facts->focal_35mm_mm = within(facts->focal_35mm_mm, 1, 20000);
    facts->time_s = within(facts->time_s, 1, 7258118400.0); // to the year 2200
    facts->utc_offset_s = within(facts->utc_offset_s, -14 * 3600, 14 * 3600);
    if (facts->orientation < 1 || facts->orientation > 8)
        facts->orientation = 0;
    if (facts->flash_fired != 0 && facts->flash_fired != 1)
        facts->flash_fired = -1;
    if (facts->width_px < 1 || facts->height_px < 1)
        facts->width_px = facts->height_px = 0;
    clean_text(facts->maker, sizeof facts->maker);
    clean_text(facts->model, sizeof facts->model);
    clean_text(facts->serial, sizeof facts->serial);
    clean_text(facts->lens, sizeof facts->lens);
}

static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

void pc_facts_set_time(struct pc_facts *facts, const char *date_time, const char *sub_seconds,
                       const char *offset)
{
    double s;
    char exact[20]; // some cameras write a blank or a zone after the 19 bytes that count
    if (date_time != NULL && strlen(date_time) >= 19) {
        memcpy(exact, date_time, 19);
        exact[19] = '\0';
        if (pc_clock_s_from_exif(exact, &s)) {
            double place = 0.1;
            for (const char *c = sub_seconds; c != NULL && is_digit(*c); c++, place /= 10)
                s += place * (*c - '0');
            facts->time_s = s;
        }
    }
    if (offset != NULL && strlen(offset) >= 6 && (offset[0] == '+' || offset[0] == '-') &&
        is_digit(offset[1]) && is_digit(offset[2]) && offset[3] == ':' && is_digit(offset[4]) &&
        is_digit(offset[5])) {
        double hours = (offset[1] - '0') * 10 + (offset[2] - '0');
        double minutes = (offset[4] - '0') * 10 + (offset[5] - '0');
        facts->utc_offset_s = (offset[0] == '-' ? -60.0 : 60.0) * (hours * 60 + minutes);
    }
}
