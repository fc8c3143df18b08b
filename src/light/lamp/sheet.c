// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/sheet.h"

#include "base/file.h"
#include "base/units.h"

static const double MEASURED_PCT = 3, FEW_ROWS_PCT = 8; // as light/lamp/curve.h has them
static const size_t ROWS_FOR_MEASURED = 4;
static const double MIX_TOLERANCE_EV = 0.05, MIX_TOLERANCE_MIRED = 5;
static const double UNMIXED_PCT = 10; // a panel without rows, between its ends
static const double SAG_PCT = 2;
static const double WARM_S = 600;
enum { SPECTRUM_BYTES_MAX = 1 << 20 };

static struct pc_curve curve_from_rows(const struct pc_lamp_sheet *sheet)
{
    if (sheet->dial_count == 0)
        return pc_curve_straight();
    struct pc_curve curve = {.points = (int)sheet->dial_count,
                             .tolerance_pct =
                                 sheet->dial_count >= ROWS_FOR_MEASURED ? MEASURED_PCT : FEW_ROWS_PCT};
    for (size_t i = 0; i < sheet->dial_count; i++) {
        curve.dial_ratio[i] = sheet->dials[i].dial_ratio;
        curve.light_ratio[i] = sheet->dials[i].light_ratio;
    }
    return curve;
}

// The rows rise in kelvin and so fall in mired; the two ends are known.
static struct pc_kelvin mix_from_rows(const struct pc_lamp_sheet *sheet)
{
    struct pc_kelvin mix = {.tolerance_ev = MIX_TOLERANCE_EV, .tolerance_mired = MIX_TOLERANCE_MIRED};
    if (sheet->kelvin_count == 0)
        return mix;
    mix.points = (int)sheet->kelvin_count + 2;
    int last = mix.points - 1;
    mix.mired[0] = pc_mired_from_K(sheet->kelvin_K[1]);
    mix.mired[last] = pc_mired_from_K(sheet->kelvin_K[0]);
    mix.share_ratio[last] = mix.drive_ratio[0] = mix.drive_ratio[last] = 1;
    for (int i = 1; i < last; i++) {
        const struct pc_lamp_kelvin_row *row = &sheet->kelvins[last - 1 - i];
        mix.mired[i] = pc_mired_from_K(row->kelvin_K);
        mix.share_ratio[i] = row->share_ratio;
        mix.drive_ratio[i] = row->drive_ratio;
    }
    return mix;
}

enum pc_status pc_lamp_sheet_read_text(struct pc_arena *arena, const char *text, size_t count,
                                       const char *place, struct pc_lamp_sheet *sheet, struct pc_err *err)
{
    PC_TRY(pc_keys_read(arena, &pc_lamp_sheet_keys, text, count, place, sheet, err));
    if (sheet->name == NULL) {
        const char *file = pc_file_name(place), *dot = strrchr(file, '.');
        sheet->name =
            pc_arena_printf(arena, "%.*s", (int)(dot != NULL ? dot - file : (long)strlen(file)), file);
    }
    if (isnan(sheet->at_1m_K))
        sheet->at_1m_K = 0.5 * (sheet->kelvin_K[0] + sheet->kelvin_K[1]);
    sheet->curve = curve_from_rows(sheet);
    sheet->mix = mix_from_rows(sheet);
    return PC_OK;
}

enum pc_status pc_lamp_sheet_read(struct pc_arena *arena, const char *path, struct pc_lamp_sheet *sheet,
                                  struct pc_err *err)
{
    char *text;
    size_t count;
    PC_TRY(pc_file_read(arena, path, PC_KEYS_BYTES_MAX, &text, &count, err));
    return pc_lamp_sheet_read_text(arena, text, count, path, sheet, err);
}

// On a scale of 1 at the coolest setting.
static double light_at_K(const struct pc_lamp_sheet *sheet, double kelvin_K)
{
    double mired = pc_mired_from_K(kelvin_K), warm, cool;
    if (sheet->mix.points >= 2) {
        pc_kelvin_drives(&sheet->mix, mired, &warm, &cool);
        return cool + warm * sheet->warm_end_ratio;
    }
    double cool_mired = pc_mired_from_K(sheet->kelvin_K[1]), warm_mired = pc_mired_from_K(sheet->kelvin_K[0]);
    double share = warm_mired > cool_mired ? (mired - cool_mired) / (warm_mired - cool_mired) : 0;
    return 1 + share * (sheet->warm_end_ratio - 1);
}

static double sag_at(const struct pc_lamp_sheet *sheet, double after_s)
{
    double before_s = 0, before = 1;
    for (size_t i = 0; i < sheet->sag_count; i++) {
        const struct pc_lamp_sag_row *row = &sheet->sag[i];
        if (after_s <= row->after_s)
            return row->after_s > before_s ? before + (row->light_ratio - before) * (after_s - before_s) /
                                                          (row->after_s - before_s)
                                           : row->light_ratio;
        before_s = row->after_s;
        before = row->light_ratio;
    }
    return before;
}

double pc_lamp_sheet_sag_ratio(const struct pc_lamp_sheet *sheet)
{
    return sag_at(sheet, WARM_S);
}

// Of a mix: its own, and what the unknown ratio of the ends does to it.
static double kelvin_tolerance_ratio(const struct pc_lamp_sheet *sheet, double kelvin_K)
{
    double own = sheet->mix.points >= 2 ? pc_ratio_from_ev(MIX_TOLERANCE_EV) - 1 : UNMIXED_PCT / 100;
    struct pc_lamp_sheet other = *sheet;
    other.warm_end_ratio += sheet->warm_end_ratio_tolerance;
    double as_is = light_at_K(sheet, kelvin_K) / light_at_K(sheet, sheet->at_1m_K);
    double moved = light_at_K(&other, kelvin_K) / light_at_K(&other, sheet->at_1m_K);
    return hypot(own, moved / as_is - 1);
}

enum pc_status pc_lamp_sheet_light(const struct pc_lamp_sheet *sheet, double dial_ratio, double kelvin_K,
                                   double after_s, double *ratio, double *ratio_tolerance, struct pc_err *err)
{
    double out = sheet->output_ratio, relative = 0;
    if (!isnan(kelvin_K) && !(kelvin_K >= sheet->kelvin_K[0] && kelvin_K <= sheet->kelvin_K[1]))
        return pc_fail(err, PC_BAD_INPUT, sheet->name,
                       "It cannot be set to %.0f K; its sheet says %.0f to %.0f K.", kelvin_K,
                       sheet->kelvin_K[0], sheet->kelvin_K[1]);
    if (!isnan(after_s) && sheet->sag_count == 0)
        return pc_fail(
            err, PC_NOT_FOUND, sheet->name,
            "Its sheet does not say how its light falls over the first minutes; add \"sag\" or leave "
            "the time out.");
    if (!isnan(dial_ratio) && fabs(dial_ratio - sheet->at_1m_dial_ratio) > 1e-9) {
        out *= pc_curve_light(&sheet->curve, dial_ratio) /
               pc_curve_light(&sheet->curve, sheet->at_1m_dial_ratio);
        relative = sheet->curve.tolerance_pct / 100;
    }
    if (!isnan(kelvin_K) && fabs(kelvin_K - sheet->at_1m_K) > 1e-9) {
        out *= light_at_K(sheet, kelvin_K) / light_at_K(sheet, sheet->at_1m_K);
        relative = hypot(relative, kelvin_tolerance_ratio(sheet, kelvin_K));
    }
    if (!isnan(after_s)) {
        out *= sag_at(sheet, after_s) / sag_at(sheet, WARM_S);
        relative = hypot(relative, SAG_PCT / 100);
    }
    *ratio = out;
    *ratio_tolerance = out * relative;
    return PC_OK;
}

double pc_lamp_sheet_dial_for(const struct pc_lamp_sheet *sheet, double dial_ratio, double from_K,
                              double to_K)
{
    double wanted =
        pc_curve_light(&sheet->curve, dial_ratio) * light_at_K(sheet, from_K) / light_at_K(sheet, to_K);
    // Beyond full there is no curve; the shortfall is told as a straight line.
    return wanted > 1 ? wanted : pc_curve_dial(&sheet->curve, wanted);
}

enum pc_status pc_lamp_sheet_spectrum(struct pc_arena *arena, const char *path,
                                      const struct pc_lamp_sheet *sheet, double kelvin_K,
                                      struct pc_spectrum *spectrum, struct pc_err *err)
{
    if (sheet->spectrum == NULL && sheet->source == PC_LAMP_TUNGSTEN) {
        *spectrum = pc_spectrum_planck(kelvin_K);
        return PC_OK;
    }
    if (sheet->spectrum == NULL)
        return pc_fail(err, PC_NOT_FOUND, sheet->name,
                       "Its sheet names no measured spectrum, so how it renders colours cannot be told.");
    const char *file = pc_file_name(path);
    const char *beside = sheet->spectrum[0] == '/'
                             ? sheet->spectrum
                             : pc_arena_printf(arena, "%.*s%s", (int)(file - path), path, sheet->spectrum);
    char *text;
    size_t count;
    PC_TRY(pc_file_read(arena, beside, SPECTRUM_BYTES_MAX, &text, &count, err));
    return pc_spectrum_parse(text, count, beside, spectrum, err);
}
