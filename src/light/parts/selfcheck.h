// SPDX-License-Identifier: Apache-2.0
// An owner's check of their own camera and lights, from a documented series of frames (docs/selfcheck.md):
// how far the kit keeps what weighing takes for granted. Each check gives its figures with their tolerance
// (95 %), a plain verdict against what weighing needs, and what to do. What the frames cannot tell is named
// as not tested.
#ifndef PC_LIGHT_PARTS_SELFCHECK_H
#define PC_LIGHT_PARTS_SELFCHECK_H

#include "light/parts/answers.h"

enum { PC_SELFCHECK_ROWS_MAX = 16, PC_SELFCHECK_TOGETHER_MAX = 4 };

// What weighing needs: a sum good to 0.05 EV, a dial good to 3 % of the light.
extern const double pc_selfcheck_needed_ev, pc_selfcheck_needed_pct;

enum pc_selfcheck_verdict { PC_SELFCHECK_NOT_TESTED, PC_SELFCHECK_GOOD, PC_SELFCHECK_OFF };

enum pc_selfcheck_test {
    PC_SELFCHECK_LINEARITY,     // is the raw value proportional to the light, at every level
    PC_SELFCHECK_SHUTTER,       // which times the camera keeps
    PC_SELFCHECK_SUPERPOSITION, // are two lights together the sum of each alone
    PC_SELFCHECK_DIAL,          // how the light follows the dial
    PC_SELFCHECK_DRIFT,         // of the window
    PC_SELFCHECK_SAG,           // of a light as it warms
    PC_SELFCHECK_NOISE,
    PC_SELFCHECK_TESTS,
};

struct pc_selfcheck_judged {
    enum pc_selfcheck_verdict verdict;
    // What to do where it is off, what to photograph where it is not tested, at times a word where it is
    // good; else "".
    char advice[400];
};

// One light at two shutters. Frames are those of the series.
struct pc_selfcheck_shutters {
    int longer, shorter;
    struct pc_figure measured_ev; // how much more light the longer one gathered
    double named_ev,
        thirds_ev; // how much more it would by the names; by thirds of a stop or what the file states
    struct pc_figure bend_ev; // the largest difference of that between levels of the picture; NAN: not seen
    double low_ev, high_ev;   // the levels that were compared, against what clips, in the longer one
};

enum pc_selfcheck_times {
    PC_SELFCHECK_TIMES_ALIKE, // at these shutters names and thirds do not differ
    PC_SELFCHECK_TIMES_THIRDS,
    PC_SELFCHECK_TIMES_NAMED,
    PC_SELFCHECK_TIMES_NEITHER,
};

struct pc_selfcheck_sum {
    char frame[192];
    int light_count, light[PC_LIGHTS_MAX]; // that are on in it
    struct pc_figure off_ev;               // the frame over the sum of the parts
    double spread_ev;                      // 95 % of the picture is no further off than this
    struct pc_figure
        light_ev[PC_LIGHTS_MAX]; // each of them in the frame over alone, as light[]; NAN: cannot be told
    bool good;
};

struct pc_selfcheck_dial {
    int light;
    double kelvin_K; // NAN where nobody said
    int dials;
    double lowest_ratio, highest_ratio;
    struct pc_curve curve;
    double bend_pct, bend_at_ratio; // the light over a straight line through nothing and the highest dial
    double held_out_pct, held_out_at_ratio; // the largest error at a dial that was left out; signed
    double between_pct;                     // what that says of the whole curve between its dials
    double fell_pct;                        // largest fall of the light at a rising dial
    bool good;
};

struct pc_selfcheck_change { // of the window (light -1) or of one light at one setting
    int light, from, to;
    struct pc_figure pct;
    double after_s; // NAN where the frames have no times
    bool good;
};

struct pc_selfcheck_noise {
    int frame, again; // the pair it was read from; -1: none
    bool has_electrons;
    double gain_dn_per_e, read_noise_e,
        saturation_e; // of one sensor pixel under the green filter, at the frames' ISO
    int channels;
    double mid_grey_snr_ratio[3]; // at 18 % of what clips, one binned pixel
    double weighable_ev;          // the level, against what clips, at which that ratio is 20 in green
};

struct pc_selfcheck {
    struct pc_series series; // its shutter times as found
    struct pc_selfcheck_judged judged[PC_SELFCHECK_TESTS];
    int shutter_count, sum_count, dial_count, sag_count;
    struct pc_selfcheck_shutters shutter[PC_SELFCHECK_ROWS_MAX];
    int bent; // row of shutter[] with the largest bend; -1: none told
    enum pc_selfcheck_times times;
    struct pc_selfcheck_sum sum[PC_SELFCHECK_TOGETHER_MAX];
    struct pc_selfcheck_dial dial[PC_SELFCHECK_ROWS_MAX];
    struct pc_selfcheck_change
        drift; // the largest between two window frames one after the other; from -1: none
    struct pc_selfcheck_change sag[PC_SELFCHECK_ROWS_MAX];
    struct pc_selfcheck_noise noise;
};

// A frame with several lights on, each at a dial it was also taken alone at.
struct pc_selfcheck_together {
    const char *path;                 // borrowed
    const char *light[PC_LIGHTS_MAX]; // borrowed
    int light_count;                  // 0: all lights of the series
    double dial_ratio;                // of all of them; NAN: the highest each was taken at
};

// The series may be partial (series.h); it is copied, its arena must outlive check. Large: keep it on the
// heap. PC_MISUSE for a light that there is not, PC_BAD_INPUT when nothing at all can be told.
enum pc_status pc_selfcheck_run(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_series *series, const struct pc_selfcheck_together *together,
                                int together_count, struct pc_selfcheck *check, struct pc_notes *notes,
                                struct pc_err *err) PC_MUST_CHECK;

#endif
