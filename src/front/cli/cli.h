// SPDX-License-Identifier: Apache-2.0
// The command line: a table of verbs, their options as data, and what a verb works with. No logic of the job
// lives here: a verb reads its options, calls the library's public functions, and prints what they found.
//
// How to add a verb
// 1. Write src/front/cli/NAME.c with `const struct pc_verb pc_verb_NAME`: its question, hour, operands, the
// groups
//    of options (shared ones are in options.h) and its run function.
// 2. Add it to pc_verbs[] in verbs.c and the file to meson.build. Help, man page and completion follow by
// themselves.
// 3. Describe its --json keys in docs/json.md (a test looks for each of them there), and add its misuses to
// tests/bad.
#ifndef PC_FRONT_CLI_CLI_H
#define PC_FRONT_CLI_CLI_H

#include "base/clock.h"
#include "base/ctx.h"
#include "base/json.h"

// How an option's value is written. All are checked while the command line is read, so a verb never sees a
// bad one.
enum pc_arg_kind {
    PC_ARG_SWITCH,       // --json
    PC_ARG_NAME,         // --leave window
    PC_ARG_PATH,         // --actual plate.dng
    PC_ARG_NUMBER,       // --step 5
    PC_ARG_TIME,         // --shutter 1/200
    PC_ARG_MOMENT,       // --at 2027-03-18T14:00+01:00, or a part of it
    PC_ARG_POINT,        // --hero 2010,1340
    PC_ARG_NAMED_NUMBER, // --cap key=60
    PC_ARG_NAMED_POINT,  // --place rim=2010,1340
    PC_ARG_NAMED_RANGE,  // --kelvin key=3200-5600
    PC_ARG_NAMED_PATH,   // --flash kicker=3.dng
    PC_ARG_LIGHT_FRAME,  // --light key=3.dng@60%@4300K: the dial and the kelvin may be left out
    PC_ARG_LIGHTS_FRAME, // --together key,fill=9.dng@60%: the names and the dial may be left out
    PC_ARG_DIALS,        // --dials key=0.6,fill=0.25@4300K
    PC_ARG_NAMED_STAND,  // --stands P1=10,95,60: o'clock, cm along the floor, cm above the table
    PC_ARG_SIZE,         // --page-mm 436x286: both more than nothing, within least and most
    PC_ARG_PAIR,         // --at 45,-30: two numbers of any sign
    PC_ARG_LIGHT_LX,     // --lx key=3500@5300K: the kelvin may be left out
};

struct pc_option {
    const char *name; // without the dashes
    enum pc_arg_kind kind;
    const char *metavar; // how help shows the value: "X,Y"; NULL for a switch
    const char *help;    // a phrase, no full stop
    double least, most;  // numbers lie within, both ends included; both 0: any
    bool repeatable;
    bool required;
    const char *otherwise; // what holds when it is not given, for help; NULL: nothing worth saying
};

struct pc_option_group {
    const char *title; // a heading in help
    const struct pc_option *options;
    size_t count;
};

// When in the day the question comes up; help lists verbs in this order.
enum pc_hour { PC_HOUR_RECCE, PC_HOUR_SETUP, PC_HOUR_PLATE, PC_HOUR_AFTER, PC_HOUR_KIT, PC_HOUR_COUNT };

// One value as given. Numbers not given in it are NAN, texts NULL.
struct pc_arg {
    const char *text;  // as typed
    const char *name;  // before the "=" (NULL: none was given), or all of it for PC_ARG_NAME
    const char *path;  // a file or folder
    double value[3];   // the number; x and y; low and high; the fraction of a dial (0..1); clock and tape
    double dial_ratio; // 0..1, of PC_ARG_LIGHT_FRAME and PC_ARG_LIGHTS_FRAME
    struct pc_moment moment; // of PC_ARG_MOMENT
    double kelvin_K;         // of PC_ARG_LIGHT_FRAME, PC_ARG_DIALS and PC_ARG_LIGHT_LX
};

struct pc_args; // what was typed after the verb, opaque
struct pc_verb;

// Names are looked up in the verb's own table: asking for one that is not there is a bug and is asserted.
bool pc_args_has(const struct pc_args *args, const char *option);
// How often it was given; for PC_ARG_DIALS, how many lights were named in all.
size_t pc_args_count(const struct pc_args *args, const char *option);
const struct pc_arg *pc_args_at(const struct pc_args *args, const char *option, size_t i); // i < count
const char *pc_args_text(const struct pc_args *args, const char *option); // as typed, or NULL when not given
bool pc_args_number(const struct pc_args *args, const char *option,
                    double *value); // false: not given, untouched
bool pc_args_pair(const struct pc_args *args, const char *option, double *x, double *y);
size_t pc_args_operand_count(const struct pc_args *args);
const char *pc_args_operand(const struct pc_args *args, size_t i);

// What a verb works with.
struct pc_cli {
    struct pc_ctx *ctx;
    struct pc_arena *arena; // lives until the program ends
    const struct pc_args *args;
    FILE *out; // results; nothing else may be printed there
};

struct pc_verb {
    const char *name;
    const char *question; // "what does this frame say?"
    const char *about;    // a paragraph or two (split by a newline) for help and the man page
    enum pc_hour hour;
    const char *operands; // how help shows them: "DIR | FILE..."
    size_t least_operands, most_operands;
    const struct pc_option_group *const *groups; // ends with NULL
    enum pc_status (*run)(struct pc_cli *cli, struct pc_err *err);
};

extern const struct pc_verb *const pc_verbs[];
extern const size_t pc_verb_count;
const struct pc_verb *pc_verb_find(const char *name); // NULL: there is none

// Reads argv (without the program and the verb). *help is set when --help was among it; the rest is then
// unchecked. PC_MISUSE with the option as place and a sentence that names the nearest option.
enum pc_status pc_args_parse(struct pc_arena *arena, const struct pc_verb *verb, int argc, char *const *argv,
                             struct pc_args **args, bool *help, struct pc_err *err) PC_MUST_CHECK;
// The misuse of a name, where options[] or verbs are no help: "There is no X; did you mean Y?"
enum pc_status pc_args_no_such(struct pc_err *err, const char *what, const char *word,
                               const char *const *names, size_t count, const char *prefix);

// Prints a verb's answer for programs: the object, indented, on cli->out. json is taken.
void pc_cli_put_json(struct pc_cli *cli, struct pc_json *json);
// Something worth knowing that is not the answer, on stderr as "platecall: PLACE: sentence". place may be
// NULL.
void pc_cli_note(const char *place, const char *fmt, ...) PC_PRINTF(2, 3);

void pc_help_program(FILE *out);
void pc_help_verb(FILE *out, const struct pc_verb *verb);
void pc_help_man(FILE *out);             // roff, man(7)
void pc_help_bash_completion(FILE *out); // for bash

#endif
