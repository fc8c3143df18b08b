// SPDX-License-Identifier: Apache-2.0
// What the verb `expose` was asked and has found, between its sources.
#ifndef PC_FRONT_CLI_EXPOSE_H
#define PC_FRONT_CLI_EXPOSE_H

#include "front/cli/framed.h"
#include "image/camera/expose_ways.h"

// Light on the subject, as told or as the card in a frame says it.
struct pc_expose_light {
    double lx, lx_tolerance; // NAN: not told
    bool from_card;
    bool tied;
    double tie_off_ev; // NAN: no tie was made
    const char *tie_path;
};

struct pc_expose_asked {
    struct pc_expose_ask ask;
    struct pc_cli_sensor sensor;
    bool wants_ways;            // more was asked than lux or a tie
    bool fixed;                 // --f, --shutter and --iso: one setting, judged
    double marked[3];           // f, s, ISO as given; NAN: free
    const char *camera, *flash; // in words
    double noisy_iso;           // the kit says that it is noisy from here on; NAN: it does not
    bool measured_noise;        // the sensor is from --noise
};

struct pc_expose_found {
    struct pc_ways ways;
    struct pc_way fixed;
    bool reachable; // with fixed: flash makes up what steady light lacks
};

// All but the light. card_ratio: what the kit's grey card reflects.
enum pc_status pc_expose_gather(struct pc_cli *cli, struct pc_expose_asked *asked, double *card_ratio,
                                struct pc_err *err) PC_MUST_CHECK;

// The light, from --lux or --card with its tie (expose_card.c). Makes the tie where --meter-lx is given.
enum pc_status pc_expose_light_find(struct pc_cli *cli, double card_ratio, struct pc_expose_light *light,
                                    struct pc_err *err) PC_MUST_CHECK;

// The sensor's full well and read noise from the frames of --noise, one or two.
enum pc_status pc_expose_noise_find(struct pc_cli *cli, double base_iso, struct pc_sensor *sensor,
                                    struct pc_err *err) PC_MUST_CHECK;

void pc_expose_print(struct pc_cli *cli, const struct pc_expose_asked *asked,
                     const struct pc_expose_light *light, const struct pc_expose_found *found);
struct pc_json *pc_expose_json(const struct pc_expose_asked *asked, const struct pc_expose_light *light,
                               const struct pc_expose_found *found);

#endif
