// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_blur.h"

static const double GRAVITY_M_S2 = 9.80665; // standard value

const struct pc_mover pc_movers[] = {
    {"steam", "the steam is", 0.35, 0.15},
    {"hands", "the hands are", 0.5, 0.3},
    {"drip", "the drip is", 0.1, 0.06}, // honey and batter
};
const size_t pc_mover_count = PC_COUNT(pc_movers);

const struct pc_mover *pc_mover_find(const char *name)
{
    for (size_t i = 0; i < pc_mover_count; i++)
        if (strcmp(pc_movers[i].name, name) == 0)
            return &pc_movers[i];
    return NULL;
}

double pc_blur_pour_m_s(double height_m)
{
    return sqrt(2.0 * GRAVITY_M_S2 * height_m);
}

double pc_blur_moving_m(double speed_m_s, double magnification_ratio, double shutter_s)
{
    return magnification_ratio * speed_m_s * shutter_s;
}

double pc_blur_hand_m(double focal_m, double magnification_ratio, double shutter_s)
{
    double turned_m = focal_m * (1.0 + magnification_ratio) * PC_BLUR_TURN_RAD_S * shutter_s;
    return hypot(turned_m, pc_blur_moving_m(PC_BLUR_SHIFT_M_S, magnification_ratio, shutter_s));
}
