// SPDX-License-Identifier: Apache-2.0
// What all answers begin with: the frames that were asked about, read into a table of readings.
#ifndef PC_FRONT_ANSWER_MEASURED_H
#define PC_FRONT_ANSWER_MEASURED_H

#include "base/json.h"
#include "front/answer/asked.h"
#include "light/parts/answers.h"
#include "light/parts/handheld.h"
#include "light/parts/want.h"

struct pc_measured {
    struct pc_photo_reader *reader;
    struct pc_series series;
    bool hand_held; // no pictures: parts is empty
    struct pc_parts parts;
    struct pc_reading reading;
    struct pc_exposure exposure; // of the reference frame
    int greycard;                // place in the reading, or PC_NO_PLACE
    double drift_pct;
    struct pc_notes notes;
};

// Reads and measures. arena has the strings and must outlive it. Large: on the heap, destroyed by the caller,
// NULL is fine.
enum pc_status pc_measured_create(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_asked *asked,
                                  struct pc_measured **measured, struct pc_err *err) PC_MUST_CHECK;
void pc_measured_destroy(struct pc_measured *measured);

// The setting asked about: the dials as captured but for those named.
enum pc_status pc_measured_dials(const struct pc_measured *measured, const struct pc_asked *asked,
                                 struct pc_dials *dials, struct pc_err *err) PC_MUST_CHECK;
// The limits asked for, over every light free.
enum pc_status pc_measured_limits(const struct pc_reading *reading, const struct pc_asked *asked,
                                  struct pc_want *want, struct pc_err *err) PC_MUST_CHECK;

// The light of that name, or PC_MISUSE with the nearest name; what: what asked for it, for errors.
enum pc_status pc_measured_light(const struct pc_reading *reading, const struct pc_asked *asked,
                                 const char *what, const char *name, int *light,
                                 struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_measured_place(const struct pc_reading *reading, const struct pc_asked *asked,
                                 const char *what, const char *name, int *place,
                                 struct pc_err *err) PC_MUST_CHECK;

struct pc_json *pc_measured_notes_json(const struct pc_measured *measured);
// Dials by name: {"P1": 0.6}, and kelvins of the lights that have them, as "dials" and "kelvins_K" of object.
void pc_measured_put_dials(const struct pc_reading *reading, const struct pc_dials *dials,
                           struct pc_json *object);

#endif
