// SPDX-License-Identifier: Apache-2.0
// Frames of a check reduced to the means of small blocks, and what its files share.
#ifndef PC_LIGHT_PARTS_SELFCHECK_PRIV_H
#define PC_LIGHT_PARTS_SELFCHECK_PRIV_H

#include "light/parts/selfcheck.h"

enum { PC_LOOKS_MAX = PC_FRAMES_MAX + PC_SELFCHECK_TOGETHER_MAX };

struct pc_look {
    bool there; // false: could not be laid over the others
    struct pc_facts facts;
    double time_s;    // as the series counts it; NAN where it cannot be told
    float *mean;      // blocks x channels, of what clips
    uint8_t *clipped; // blocks
    double moved_px;
};

struct pc_looks {
    struct pc_ctx *ctx;
    struct pc_photo_reader *reader;
    struct pc_selfcheck *check;
    struct pc_series *series; // check's own
    const struct pc_selfcheck_together *together;
    int together_count;
    struct pc_notes *notes;
    int first; // frame the others are laid over
    struct pc_picture *first_picture;
    int blocks, channels;
    struct pc_look look[PC_LOOKS_MAX]; // frames of the series, then the frames with several lights on
    int faint_count;                   // frames of a dial that were too faint
    _Atomic int read_count;
};

// A value with how much it counts.
struct pc_sample {
    double value, weight;
};
// Weighted median, with twice its standard error from the scatter found. NAN with fewer than
// PC_SAMPLES_LEAST.
enum { PC_SAMPLES_LEAST = 40 };
struct pc_figure pc_samples_median(struct pc_sample *samples, int count); // sorts them

// Reads every frame, lays it over the first, averages blocks. Frames that show another view are left out with
// a note.
enum pc_status pc_looks_read(struct pc_looks *kit, struct pc_err *err) PC_MUST_CHECK;
void pc_looks_finish(struct pc_looks *kit);

int pc_looks_green(const struct pc_looks *kit);
// A look's exposure over the reference's, by what is known of shutter times.
double pc_looks_exposure(const struct pc_looks *kit, int look);
// The ambient at a time, at the reference exposure: blocks x channels. clipped (blocks) gets marks added.
// False, and all zero, where there is no ambient frame.
bool pc_looks_ambient(const struct pc_looks *kit, double time_s, float *ambient, uint8_t *clipped);
// The light of a look without the ambient, at the reference exposure.
void pc_looks_alone(const struct pc_looks *kit, int look, float *alone, uint8_t *clipped);
// How much more light of its own frame b shows than frame a. The tolerance includes what the ambient may have
// strayed.
struct pc_figure pc_looks_ratio(const struct pc_looks *kit, int a, int b);

// Frames of one light (steady), dial, kelvin, aperture and ISO; or two ambient frames of one aperture and
// ISO.
bool pc_looks_same_setting(const struct pc_looks *kit, int a, int b);
bool pc_looks_same_shutter(const struct pc_looks *kit, int a, int b);
const char *pc_looks_light_name(const struct pc_looks *kit, int light);

void pc_selfcheck_judge(struct pc_looks *kit, enum pc_selfcheck_test test, enum pc_selfcheck_verdict verdict,
                        const char *fmt, ...) PC_PRINTF(4, 5);

void pc_selfcheck_shutters(struct pc_looks *kit); // linearity and shutter times; settles the series' times
void pc_selfcheck_changes(struct pc_looks *kit);  // drift and sag
void pc_selfcheck_dials(struct pc_looks *kit);    // after the sag, which it takes off
enum pc_status pc_selfcheck_sums(struct pc_looks *kit, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_selfcheck_noise(struct pc_looks *kit, struct pc_err *err) PC_MUST_CHECK;

#endif
