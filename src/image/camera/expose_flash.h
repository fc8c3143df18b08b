// SPDX-License-Identifier: Apache-2.0
// Flash: how much power a setting wants, and how far the steady light lies under it. Pure; safe from any
// thread.
#ifndef PC_IMAGE_CAMERA_EXPOSE_FLASH_H
#define PC_IMAGE_CAMERA_EXPOSE_FLASH_H

#include "image/camera/expose.h"

struct pc_flash_head {
    double full_f, full_f_tolerance; // f-number that full power wants at 1 m, ISO 100
    double distance_m, distance_m_tolerance;
    double least_power_ratio; // 1/64: the lowest setting
    double step_ev;           // between settings
    double sync_s;            // the shortest shutter that still sees the whole flash; 0: any
    double duration_s;        // how long it shines, to half; NAN: unknown
};

// Light falls off with the square of the distance; a soft box nearer than its own width falls off more
// slowly. In stops from what the setting wants; positive is over.
double pc_flash_ev(const struct pc_flash_head *head, double power_ratio, double effective_f, double iso);

struct pc_flash_setting {
    double power_ratio;                  // on a step, within the head's range
    double flash_ev, flash_ev_tolerance; // what that gives
    double
        beyond_ev; // how far what is wanted lies outside the range: positive: too weak, negative: too strong
};
// The power that brings flash alone to wanted_ev (0: as metered).
void pc_flash_setting_find(const struct pc_flash_head *head, double wanted_ev, double effective_f, double iso,
                           struct pc_flash_setting *setting);

// "full power", "1/8 power", "1/8 power + 0.3"; gives back out.
const char *pc_flash_power_text(char out[32], double power_ratio);

#endif
