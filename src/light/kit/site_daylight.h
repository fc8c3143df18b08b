// SPDX-License-Identifier: Apache-2.0
// A place file as the sun and the sky see it.
#ifndef PC_LIGHT_KIT_SITE_DAYLIGHT_H
#define PC_LIGHT_KIT_SITE_DAYLIGHT_H

#include "light/kit/site.h"
#include "light/sky/daylight.h"

// The table, windows, skyline and room of a place, and what they were measured to: of several windows the
// worst of each figure. The hero stands in the table's middle, to 2 cm. Panes are told from the glass by
// pc_glass_panes. PC_BAD_INPUT when a window's bearing is missing, there is none, or the place cannot be.
enum pc_status pc_site_daylight(const struct pc_site *site, struct pc_daylight_place *place,
                                struct pc_daylight_care *care, struct pc_err *err) PC_MUST_CHECK;

#endif
