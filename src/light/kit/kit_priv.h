// SPDX-License-Identifier: Apache-2.0
// Tables of keys that kit files are made of.
#ifndef PC_LIGHT_KIT_KIT_PRIV_H
#define PC_LIGHT_KIT_KIT_PRIV_H

#include "light/kit/kit.h"

extern const struct pc_keys pc_camera_keys;
extern const struct pc_keys pc_lamp_keys;
extern const struct pc_keys pc_flash_keys;

#endif
