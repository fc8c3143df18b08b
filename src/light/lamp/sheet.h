// SPDX-License-Identifier: Apache-2.0
// A lamp sheet: one short JSON file a lamp (docs/lamps.md lists its keys), what its owner or a meter knows of
// it. A figure that is unknown is NAN. Texts and lists live in the arena that it was read into.
#ifndef PC_LIGHT_LAMP_SHEET_H
#define PC_LIGHT_LAMP_SHEET_H

#include "base/keys.h"
#include "image/colour/spectrum.h"
#include "light/lamp/curve.h"
#include "light/lamp/kelvin.h"

enum pc_lamp_source { PC_LAMP_LED, PC_LAMP_TUNGSTEN, PC_LAMP_FLUORESCENT, PC_LAMP_FLASH };

struct pc_lamp_dial_row {
    double dial_ratio, light_ratio;
};

struct pc_lamp_kelvin_row {
    double kelvin_K, share_ratio, drive_ratio;
};

struct pc_lamp_sag_row {
    double after_s, light_ratio;
};

struct pc_lamp_sheet {
    const char *name;
    int source; // enum pc_lamp_source
    bool round; // size_m[0] is then the diameter
    double size_m[2], size_m_tolerance;
    double power_W, power_W_tolerance;
    double kelvin_K[2],
        kelvin_K_tolerance; // warmest and coolest that it shows; what it gives is that and off_K
    double off_K;
    double duv, duv_tolerance;
    double at_1m_lx, at_1m_lx_tolerance;             // on its axis, warmed up, at the dial and kelvin below
    double at_1m_dial_ratio, at_1m_K;                // known after reading
    double output_ratio;                             // of at_1m_lx that this one still gives
    double warm_end_ratio, warm_end_ratio_tolerance; // light at the warmest setting over that at the coolest
    double f_at_1m, f_at_1m_tolerance;               // of a flash at full power, ISO 100
    double ripple_hz, ripple_ratio; // of its light: (most - least) / (most + least); 0 Hz: none
    const char *spectrum;           // file name of a measured spectrum, beside the sheet; NULL: none
    struct pc_lamp_dial_row *dials;
    size_t dial_count;
    struct pc_lamp_kelvin_row *kelvins;
    size_t kelvin_count;
    struct pc_lamp_sag_row *sag; // against the light when it is switched on
    size_t sag_count;
    // From the rows, after reading.
    struct pc_curve curve;
    struct pc_kelvin mix; // points is 0 where no rows say how it mixes
};

extern const struct pc_keys pc_lamp_sheet_keys;

enum pc_status pc_lamp_sheet_read(struct pc_arena *arena, const char *path, struct pc_lamp_sheet *sheet,
                                  struct pc_err *err) PC_MUST_CHECK;
// The same from text; place names it in errors.
enum pc_status pc_lamp_sheet_read_text(struct pc_arena *arena, const char *text, size_t count,
                                       const char *place, struct pc_lamp_sheet *sheet,
                                       struct pc_err *err) PC_MUST_CHECK;

// Its light at a dial, a kelvin and so many seconds after it was switched on, over at_1m_lx. NAN: as at_1m_lx
// was taken, and warmed up. The tolerance is that of the curves alone: the dial's where the dial differs
// (pc_curve.tolerance_pct), the mix's where the kelvin does, 2 % of sag where a time is given. False with a
// sentence where the sheet cannot tell (a kelvin outside its range, a time without rows).
enum pc_status pc_lamp_sheet_light(const struct pc_lamp_sheet *sheet, double dial_ratio, double kelvin_K,
                                   double after_s, double *ratio, double *ratio_tolerance,
                                   struct pc_err *err) PC_MUST_CHECK;

// The dial that gives as much light at the second kelvin as this dial gives at the first; above 1: it cannot.
double pc_lamp_sheet_dial_for(const struct pc_lamp_sheet *sheet, double dial_ratio, double from_K,
                              double to_K);

// Its light after ten minutes over that when switched on; 1 without rows.
double pc_lamp_sheet_sag_ratio(const struct pc_lamp_sheet *sheet);

// The measured spectrum that it names, else for tungsten Planck's at kelvin_K. PC_NOT_FOUND with a sentence
// when it has neither.
enum pc_status pc_lamp_sheet_spectrum(struct pc_arena *arena, const char *path,
                                      const struct pc_lamp_sheet *sheet, double kelvin_K,
                                      struct pc_spectrum *spectrum, struct pc_err *err) PC_MUST_CHECK;

#endif
