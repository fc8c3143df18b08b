// SPDX-License-Identifier: Apache-2.0
// The keys of a lamp sheet. base/keys.h tells how to add one.
#include "base/units.h"
#include "light/lamp/sheet.h"

#define NUMBER(type, field) .kind = PC_KEY_NUMBER, .offset = offsetof(type, field)
#define FIGURE(type, field) NUMBER(type, field), .offset_within = offsetof(type, field##_tolerance)
#define LIST(field, n)                                                                                       \
    .kind = PC_KEY_LIST, .offset = offsetof(struct pc_lamp_sheet, field),                                    \
    .offset_count = offsetof(struct pc_lamp_sheet, n)
#define PERCENT .unit = "%", .si_per_unit = 0.01

enum { ROWS_BETWEEN_MAX = PC_KELVIN_POINTS_MAX - 2 };

static const char *const source_names[] = {
    [PC_LAMP_LED] = "LED",
    [PC_LAMP_TUNGSTEN] = "tungsten",
    [PC_LAMP_FLUORESCENT] = "fluorescent",
    [PC_LAMP_FLASH] = "flash",
    NULL,
};

static const struct pc_key dial_rows[] = {
    {.key = "dial_pct",
     NUMBER(struct pc_lamp_dial_row, dial_ratio),
     PERCENT,
     .least = 0.1,
     .most = 100,
     .otherwise = "100",
     .help = "what the dial shows"},
    {.key = "light_pct",
     NUMBER(struct pc_lamp_dial_row, light_ratio),
     PERCENT,
     .least = 0.001,
     .most = 1000,
     .otherwise = "100",
     .help = "light there, on any scale"},
};
static const struct pc_keys dial_keys = {
    "dial row", sizeof(struct pc_lamp_dial_row), dial_rows, PC_COUNT(dial_rows), NULL, NULL};

static const struct pc_key kelvin_rows[] = {
    {.key = "kelvin_K",
     NUMBER(struct pc_lamp_kelvin_row, kelvin_K),
     .unit = "K",
     .least = 1000,
     .most = 40000,
     .help = "what the dial shows, between the ends"},
    {.key = "warm_share_pct",
     NUMBER(struct pc_lamp_kelvin_row, share_ratio),
     PERCENT,
     .least = 0.1,
     .most = 99.9,
     .help = "warm emitter's share of the whole drive there"},
    {.key = "drive_pct",
     NUMBER(struct pc_lamp_kelvin_row, drive_ratio),
     PERCENT,
     .least = 1,
     .most = 1000,
     .otherwise = "100",
     .help = "both emitters' drive there; 100 is one of them alone at its end"},
};
static const struct pc_keys kelvin_keys = {
    "kelvin row", sizeof(struct pc_lamp_kelvin_row), kelvin_rows, PC_COUNT(kelvin_rows), NULL, NULL};

static const struct pc_key sag_rows[] = {
    {.key = "after_min",
     NUMBER(struct pc_lamp_sag_row, after_s),
     .unit = "min",
     .si_per_unit = 60,
     .least = 0,
     .most = 120,
     .help = "after it was switched on"},
    {.key = "light_pct",
     NUMBER(struct pc_lamp_sag_row, light_ratio),
     PERCENT,
     .least = 1,
     .most = 1000,
     .otherwise = "100",
     .help = "of its light when it was switched on"},
};
static const struct pc_keys sag_keys = {
    "sag row", sizeof(struct pc_lamp_sag_row), sag_rows, PC_COUNT(sag_rows), NULL, NULL};

static const char *check_dials(const struct pc_lamp_sheet *sheet)
{
    for (size_t i = 1; i < sheet->dial_count; i++)
        if (!(sheet->dials[i].dial_ratio > sheet->dials[i - 1].dial_ratio &&
              sheet->dials[i].light_ratio > sheet->dials[i - 1].light_ratio))
            return "\"dials\" must rise from row to row, dial and light both.";
    return sheet->dial_count == 1 ? "\"dials\" has one row; a curve needs two or more." : NULL;
}

static const char *check_kelvins(const struct pc_lamp_sheet *sheet)
{
    for (size_t i = 0; i < sheet->kelvin_count; i++) {
        const struct pc_lamp_kelvin_row *row = &sheet->kelvins[i];
        if (isnan(row->kelvin_K) || isnan(row->share_ratio))
            return "Each row of \"kelvins\" needs \"kelvin_K\" and \"warm_share_pct\".";
        if (!(row->kelvin_K > sheet->kelvin_K[0] && row->kelvin_K < sheet->kelvin_K[1]))
            return "The rows of \"kelvins\" must lie between the ends that \"kelvin_K\" gives; the ends "
                   "themselves "
                   "are known.";
        if (i > 0 && !(row->kelvin_K > row[-1].kelvin_K && row->share_ratio < row[-1].share_ratio))
            return "\"kelvins\" must rise in kelvin from row to row, and the warm share must not rise with "
                   "them.";
    }
    return NULL;
}

static const char *check_sag(const struct pc_lamp_sheet *sheet)
{
    for (size_t i = 0; i < sheet->sag_count; i++)
        if (isnan(sheet->sag[i].after_s) || (i > 0 && !(sheet->sag[i].after_s > sheet->sag[i - 1].after_s)))
            return "Each row of \"sag\" needs \"after_min\", and they must rise.";
    return NULL;
}

static const char *check_sheet(const void *object)
{
    const struct pc_lamp_sheet *sheet = object;
    if (sheet->kelvin_K[0] > sheet->kelvin_K[1])
        return "\"kelvin_K\" has the warmest first; change them about.";
    if (!isnan(sheet->at_1m_K) &&
        !(sheet->at_1m_K >= sheet->kelvin_K[0] && sheet->at_1m_K <= sheet->kelvin_K[1]))
        return "\"at_1m_K\" lies outside \"kelvin_K\".";
    if (sheet->source == PC_LAMP_FLASH && !isnan(sheet->at_1m_lx))
        return "A flash has \"f_at_1m\" instead of \"at_1m_lx\".";
    if (sheet->source != PC_LAMP_FLASH && !isnan(sheet->f_at_1m))
        return "\"f_at_1m\" is for a flash; say \"source\": \"flash\" or give \"at_1m_lx\".";
    const char *wrong = check_dials(sheet);
    if (wrong == NULL)
        wrong = check_kelvins(sheet);
    return wrong != NULL ? wrong : check_sag(sheet);
}

static const struct pc_key sheet_rows[] = {
    {.key = "name",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_lamp_sheet, name),
     .or_else = "the file's name",
     .help = "what you call it"},
    {.key = "source",
     .kind = PC_KEY_ONE_OF,
     .offset = offsetof(struct pc_lamp_sheet, source),
     .names = source_names,
     .otherwise = "LED",
     .help = "what makes its light"},
    {.key = "round",
     .kind = PC_KEY_YES_NO,
     .offset = offsetof(struct pc_lamp_sheet, round),
     .otherwise = "false",
     .help = "what shines is round; size_cm then begins with its diameter"},
    {.key = "size_cm",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct pc_lamp_sheet, size_m),
     .offset_within = offsetof(struct pc_lamp_sheet, size_m_tolerance),
     .unit = "cm",
     .si_per_unit = 0.01,
     .least = 0.1,
     .most = 500,
     .within = 1,
     .otherwise = "[30, 30]",
     .otherwise_within = 20,
     .help = "what shines, width and height"},
    {.key = "power_W",
     FIGURE(struct pc_lamp_sheet, power_W),
     .unit = "W",
     .least = 0,
     .most = 20000,
     .within_pct = 10,
     .help = "from the socket at full dial"},
    {.key = "kelvin_K",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct pc_lamp_sheet, kelvin_K),
     .offset_within = offsetof(struct pc_lamp_sheet, kelvin_K_tolerance),
     .unit = "K",
     .least = 1000,
     .most = 40000,
     .within = 100,
     .otherwise = "[5600, 5600]",
     .otherwise_within = 600,
     .help = "warmest and coolest setting; twice the same for one colour"},
    {.key = "off_K",
     NUMBER(struct pc_lamp_sheet, off_K),
     .unit = "K",
     .least = -3000,
     .most = 3000,
     .otherwise = "0",
     .help = "the kelvin it gives less the kelvin it shows; negative is warmer"},
    {.key = "tint_duv",
     FIGURE(struct pc_lamp_sheet, duv),
     .least = -0.05,
     .most = 0.05,
     .within = 0.001,
     .otherwise = "0",
     .otherwise_within = 0.005,
     .help = "its tint as Duv, positive is greener"},
    {.key = "at_1m_lx",
     FIGURE(struct pc_lamp_sheet, at_1m_lx),
     .unit = "lx",
     .least = 0.1,
     .most = 1e7,
     .within_pct = 10,
     .help = "on its axis at 1 m, warmed up, at at_1m_dial_pct and at_1m_K"},
    {.key = "at_1m_dial_pct",
     NUMBER(struct pc_lamp_sheet, at_1m_dial_ratio),
     PERCENT,
     .least = 0.1,
     .most = 100,
     .otherwise = "100",
     .help = "the dial at_1m_lx was taken at"},
    {.key = "at_1m_K",
     NUMBER(struct pc_lamp_sheet, at_1m_K),
     .unit = "K",
     .least = 1000,
     .most = 40000,
     .or_else = "the middle of kelvin_K",
     .help = "the kelvin at_1m_lx was taken at"},
    {.key = "output_pct",
     NUMBER(struct pc_lamp_sheet, output_ratio),
     PERCENT,
     .least = 1,
     .most = 200,
     .otherwise = "100",
     .help = "what this one gives of at_1m_lx, if it has aged"},
    {.key = "warm_end_pct",
     FIGURE(struct pc_lamp_sheet, warm_end_ratio),
     PERCENT,
     .least = 5,
     .most = 2000,
     .within = 3,
     .otherwise = "100",
     .otherwise_within = 15,
     .help = "its light at the warmest setting over that at the coolest"},
    {.key = "f_at_1m",
     FIGURE(struct pc_lamp_sheet, f_at_1m),
     .least = 0.7,
     .most = 256,
     .within_pct = 5,
     .help = "of a flash: f-number that full power wants at 1 m and ISO 100"},
    {.key = "ripple_Hz",
     NUMBER(struct pc_lamp_sheet, ripple_hz),
     .unit = "Hz",
     .least = 0,
     .most = 1e6,
     .otherwise = "0",
     .help = "how often its light goes up and down; 0: not at all"},
    {.key = "ripple_pct",
     NUMBER(struct pc_lamp_sheet, ripple_ratio),
     PERCENT,
     .least = 0,
     .most = 100,
     .otherwise = "0",
     .help = "how far: 100 (most - least) / (most + least)"},
    {.key = "spectrum",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_lamp_sheet, spectrum),
     .or_else = "not measured",
     .help = "file name of its measured spectrum, beside this file: nm,value on each line"},
    {.key = "dials",
     LIST(dials, dial_count),
     .most = PC_CURVE_POINTS_MAX,
     .table = &dial_keys,
     .or_else = "a straight line, good to 15 %",
     .help = "its light by dial, rising"},
    {.key = "kelvins",
     LIST(kelvins, kelvin_count),
     .most = ROWS_BETWEEN_MAX,
     .table = &kelvin_keys,
     .or_else = "not known how it mixes",
     .help = "how it mixes its two emitters between the ends, rising"},
    {.key = "sag",
     LIST(sag, sag_count),
     .most = 16,
     .table = &sag_keys,
     .or_else = "not known",
     .help = "its light over the first minutes, rising in time"},
};

const struct pc_keys pc_lamp_sheet_keys = {
    "lamp sheet", sizeof(struct pc_lamp_sheet), sheet_rows, PC_COUNT(sheet_rows), NULL, check_sheet};
