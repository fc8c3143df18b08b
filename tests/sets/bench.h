// SPDX-License-Identifier: Apache-2.0
// A made-up table on the bench: shot by tests/sim into a folder of its own, read as a photographer's set is
// read, and held against the noiseless truth. A failure of the bench itself fails the test that runs.
#ifndef TESTS_SETS_BENCH_H
#define TESTS_SETS_BENCH_H

#include "light/parts/parts.h"
#include "light/parts/reading.h"
#include "tests/sim/sim.h"

// The honest tolerance of a weighed sum of raw frames is 0.05 EV; one pixel in twenty may be three times
// that.
static const double MEDIAN_EV = 0.05, WORST_TWENTIETH_EV = 0.15;

struct bench {
    struct pc_ctx ctx;
    struct pc_arena *arena;
    struct pc_photo_reader *reader;
    char folder[64];
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shot[SIM_SHOTS_MAX];
    int shots;
    struct pc_series series;
    struct pc_notes notes;
    struct pc_parts parts;
    struct pc_reading reading;
    struct pc_err err;
};

// The seeds to go through: 1 ... own, or what PC_SEEDS says.
void seeds_asked(int *from, int *count, int own);

// Fails the test when more than most_pct of count failed.
void judge(const char *what, int failed, int count, int most_pct);

// A fresh bench with one thing changed (or nothing: NULL) from the seeded set-up; bench_end removes its
// frames and fails the test when memory is still held.
struct bench *seeded(int seed, void (*change)(struct sim_setup *, int seed));
void bench_end(struct bench *b);

// A change to a set-up: every lamp straight in its dial and still, the window still.
void straight_still_lamps(struct sim_setup *setup, int seed);

// Writes b->shot[0 ... b->shots) into the folder.
void bench_shoot(struct bench *b);
const char *shot_path(struct bench *b, const struct sim_shot *shot);

// From the frames in the folder to the series, to the parts (the series with them), to the reading at hero
// and surface (and at a grey card, which then is white). What failed is in b->err.
enum pc_status bench_series(struct bench *b);
enum pc_status bench_parts(struct bench *b);
enum pc_status bench_read(struct bench *b, bool card);

// The light of the set-up that has this name.
int sim_light_of(const struct bench *b, const char *name);

// The true weights of a shot: level of each emitter over its level in the frame it was measured in. Lights of
// the reading are in the order of the series, which is the order of the set-up.
void true_weights(struct bench *b, const struct sim_shot *shot, double *weights, double *ambient_weight);

struct misses {
    double median_ev, worst_twentieth_ev, used_ratio;
};

// Foretold against the noiseless truth of the same shot, over pixels that a real frame would show at SNR 20
// or more.
void held_out(struct bench *b, const struct sim_shot *shot, struct misses *misses);

// What one emitter pair (a light, or the window) gives at a place, as the reading has it: over a disc, in one
// shot.
double true_Y(struct bench *b, const struct sim_shot *shot, enum sim_place which, int light);

// The shares of all lights of the set-up at a place, each light as strong as in its own frame (lamps sag) and
// the window as in the last. Shot by shot, as a camera that moved makes every look a new one.
void true_shares(struct bench *b, enum sim_place which, double *shares);

double ev_between(double a, double b);
int compare_doubles(const void *a, const void *b);

#endif
