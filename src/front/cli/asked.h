// SPDX-License-Identifier: Apache-2.0
// What `weigh` and `want` share: the frames, places and limits named on the command line, and words for
// dials.
#ifndef PC_FRONT_CLI_ASKED_H
#define PC_FRONT_CLI_ASKED_H

#include "front/answer/measured.h"
#include "front/cli/cli.h"

// with_setting: the verb has --dials, --shutter and --actual.
enum pc_status pc_cli_asked(struct pc_cli *cli, bool with_setting, struct pc_asked *asked,
                            struct pc_err *err) PC_MUST_CHECK;

// Raw frames' sentences, each on a line of its own.
void pc_cli_print_notes(const struct pc_measured *measured, FILE *out);
// "60 %" or "60 % at 4300 K".
const char *pc_cli_dial_text(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                             char out[32]);
// How far a dial may be trusted, in a sentence, once for all lights.
void pc_cli_print_trust(const struct pc_reading *reading, FILE *out);

#endif
