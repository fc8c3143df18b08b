// SPDX-License-Identifier: Apache-2.0
// The closing check: one frame taken at the set dials, held against what the parts foretold.
//
// The frame is explained as a weighted sum of the same parts (least squares, weights never negative), so that
// what differs has a name: the exposure if everything differs alike, the window, or one lamp.
#ifndef PC_LIGHT_PARTS_CLOSING_H
#define PC_LIGHT_PARTS_CLOSING_H

#include "light/parts/parts.h"

struct pc_closing_place {
    double foretold_ev, actual_ev; // against what clips the sensor, at the closing frame's exposure
    double tolerance_ev;           // of the foretold
};

struct pc_closing {
    struct pc_closing_place place[PC_PLACES_MAX];
    // By how much everything in the frame is brighter than its own shutter, aperture and ISO say; tolerance
    // 95 %.
    double exposure_ev, exposure_tolerance_ev;
    bool exposure_blamed;           // it explains the difference: no lamp is at fault
    double light_ev[PC_LIGHTS_MAX]; // each light against its dial, exposure taken off; NAN: too faint to tell
    double light_tolerance_ev[PC_LIGHTS_MAX];
    double ambient_ev,
        ambient_tolerance_ev;         // the window against the last window frame; NAN: too faint to tell
    double median_ev, worst_tenth_ev; // |actual - foretold| over the usable pixels
    struct pc_picture
        residual; // one channel: EV of actual over foretold, exposure not taken off; NAN where unusable
};

// path: the closing frame; dials: as set. The residual is the caller's to finish.
enum pc_status pc_closing_check(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_parts *parts, const struct pc_reading *reading,
                                const struct pc_dials *dials, const char *path, struct pc_closing *closing,
                                struct pc_err *err) PC_MUST_CHECK;
// The same of a frame that lies on the parts already. name: of the frame, in errors.
enum pc_status pc_closing_of_laid(struct pc_ctx *ctx, const struct pc_parts *parts,
                                  const struct pc_reading *reading, const struct pc_dials *dials,
                                  const struct pc_laid *laid, const char *name, struct pc_closing *closing,
                                  struct pc_err *err) PC_MUST_CHECK;

#endif
