// SPDX-License-Identifier: Apache-2.0
// The four things that `lamp` can be asked about, one source file each.
#ifndef PC_FRONT_CLI_LAMP_PRIV_H
#define PC_FRONT_CLI_LAMP_PRIV_H

#include "front/cli/cli.h"
#include "image/colour/spectrum.h"

// What a person gives without saying how well it is known.
#define LAMP_TAPE_M        0.01 // a tape along a line
#define LAMP_OTHER_PCT     3.0  // the kelvin of a light that is not one's own
#define LAMP_OTHER_DUV     0.003
#define LAMP_METER_PCT     10.0 // lux from a hand-held meter
#define LAMP_WAVELENGTH_NM 1.0  // a hand-held spectrometer
#define LAMP_TILT_PCT      3.0

enum pc_status lamp_about_file(struct pc_cli *cli, const char *path, struct pc_err *err);
enum pc_status lamp_about_sheet(struct pc_cli *cli, const char *path, struct pc_err *err);
enum pc_status lamp_about_spectrum(struct pc_cli *cli, const char *path, struct pc_err *err);
enum pc_status lamp_about_place(struct pc_cli *cli, struct pc_err *err);

// What a spectrum does to colours, as sentences and as keys of o; PC_BAD_INPUT when it has no kelvin.
enum pc_status lamp_put_rendering(struct pc_cli *cli, const char *name, const struct pc_spectrum *light,
                                  struct pc_json *o, struct pc_err *err);

void lamp_put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals);

// The number of an option, NAN when it is not given.
double lamp_number(const struct pc_cli *cli, const char *option);

#endif
