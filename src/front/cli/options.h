// SPDX-License-Identifier: Apache-2.0
// Groups of options that several verbs share. A verb lists the groups it takes; the words stay the same
// everywhere.
#ifndef PC_FRONT_CLI_OPTIONS_H
#define PC_FRONT_CLI_OPTIONS_H

#include "front/cli/cli.h"

extern const struct pc_option_group pc_options_frames;  // --light --ambient --flash --linear
extern const struct pc_option_group pc_options_places;  // --hero --surface (required) --place --greycard
extern const struct pc_option_group pc_options_setting; // --dials --actual
extern const struct pc_option_group
    pc_options_goals; // --hero-ev --surface-stops --change --warmer --second-shadow
extern const struct pc_option_group pc_options_limits;  // --step --cap --least --kelvin --leave
extern const struct pc_option_group pc_options_answer;  // --json --out
extern const struct pc_option_group pc_options_json;    // --json alone
extern const struct pc_option_group pc_options_kit;     // --kit
extern const struct pc_option_group pc_options_site;    // --site
extern const struct pc_option_group pc_options_outlet;  // --outlet --outlets
extern const struct pc_option_group pc_options_section; // --section

#endif
