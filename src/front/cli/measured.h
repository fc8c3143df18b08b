// SPDX-License-Identifier: Apache-2.0
// What `weigh` and `want` begin with: the frames named on the command line, read into a table of readings.
#ifndef PC_FRONT_CLI_MEASURED_H
#define PC_FRONT_CLI_MEASURED_H

#include "front/cli/cli.h"
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
    const char *actual;    // the closing frame, found as the others are; NULL: none was named
    struct pc_dials dials; // as asked with --dials and --shutter, else as captured
};

// Reads what the verb's operands and options name; with_setting: the verb has --dials and --actual. Large: on
// the heap, destroyed by the caller, NULL is fine.
enum pc_status pc_measured_create(struct pc_cli *cli, bool with_setting, struct pc_measured **measured,
                                  struct pc_err *err) PC_MUST_CHECK;
void pc_measured_destroy(struct pc_measured *measured);

// Raw frames' sentences, each on a line of its own.
void pc_measured_print_notes(const struct pc_measured *measured, FILE *out);
struct pc_json *pc_measured_notes_json(const struct pc_measured *measured);

// The light of that name, or PC_MISUSE with the nearest name; option is the place in the error.
enum pc_status pc_measured_light(const struct pc_reading *reading, const char *option, const char *name,
                                 int *light, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_measured_place(const struct pc_reading *reading, const char *option, const char *name,
                                 int *place, struct pc_err *err) PC_MUST_CHECK;

// The limits given on the command line, over every light free.
enum pc_status pc_measured_limits(const struct pc_cli *cli, const struct pc_measured *measured,
                                  struct pc_want *want, struct pc_err *err) PC_MUST_CHECK;

// Dials by name: {"P1": 0.6}, and kelvins of the lights that have them, as "dials" and "kelvins_K" of object.
void pc_measured_put_dials(const struct pc_reading *reading, const struct pc_dials *dials,
                           struct pc_json *object);
// "60 %" or "60 % at 4300 K".
const char *pc_measured_dial_text(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                                  char out[32]);
// How far a dial may be trusted, in a sentence, once for all lights.
void pc_measured_print_trust(const struct pc_reading *reading, FILE *out);

#endif
