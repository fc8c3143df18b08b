// SPDX-License-Identifier: Apache-2.0
// What LibRaw makes of a raw file: an independent reader for tests.
#ifndef PC_TESTS_ORACLE_RAW_H
#define PC_TESTS_ORACLE_RAW_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

struct oracle_raw {
    int raw_width_px, raw_height_px, left_px, top_px, width_px, height_px, flip;
    uint16_t *px;       // whole array; free() it
    double black_dn[4]; // by position in the 2 x 2 pattern at the active top left
    double white_dn;
    double camera_from_xyz[3][3]; // the file's ColorMatrix1
    double neutral_ratio[3];
    char cfa[5];
    double shutter_s, fnumber, iso, focal_mm, focal_35mm_mm;
    double time_s; // as LibRaw tells it: in this machine's time zone
    char maker[64], model[64], serial[64], lens[128];
};

bool oracle_raw_read(const char *path, struct oracle_raw *raw);

#ifdef __cplusplus
}
#endif

#endif
