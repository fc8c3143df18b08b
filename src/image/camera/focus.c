// SPDX-License-Identifier: Apache-2.0
// Where to focus, frame by frame, when one frame is not deep enough.
#include "image/camera/depth_priv.h"

enum { BISECTIONS = 32, ROUNDS = 6 };
#define OVERLAP_MOST_RATIO 0.9

// Limits of what is sharp when the lens is focused at_m behind the front edge.
static void limits(const struct pc_depth_setup *setup, bool ring, double at_m, double *near_m, double *far_m)
{
    double f_m = setup->focal_m, m = setup->magnification_ratio, y[PC_DEPTH_Y_COUNT];
    if (ring && at_m != 0) {
        // Sensor to subject is f (2 + m + 1/m) and what lies between the principal planes, which stays.
        double sum = m + 1 / m + at_m / f_m;
        m = (sum - sqrt(sum * sum - 4)) / 2;
        if (setup->magnification_ratio > 1)
            m = 1 / m;
    }
    double x[PC_DEPTH_X_COUNT] = {f_m, setup->f_number, setup->coc_m, m,
                                  isnan(setup->pupil_ratio) ? 1.0 : setup->pupil_ratio};
    bool answered = pc_depth_answer(NULL, x, y);
    PC_ASSERT(answered);
    *near_m = y[PC_DEPTH_Y_SHARP_NEAR];
    *far_m = y[PC_DEPTH_Y_SHARP_FAR];
}

// Lays frames from the front edge back, each over its neighbour by overlap_ratio of the nearer one's depth.
// Stops when behind_m is reached or there are count of them; gives back how far they reach.
static double lay(const struct pc_depth_setup *setup, bool ring, double behind_m, double overlap_ratio,
                  int count, struct pc_focus_plan *plan)
{
    double from_m = 0.0, reach_m = 0.0;
    plan->frames = 0;
    while (plan->frames < count && (reach_m < behind_m || plan->frames == 0)) {
        // The plane in focus lies as far behind the front limit as its own near depth says, which changes
        // with the plane by a few hundredths: each round is that much nearer.
        double near_m, far_m, at_m = from_m;
        for (int i = 0; i < ROUNDS; i++) {
            limits(setup, ring, at_m, &near_m, &far_m);
            at_m = from_m + near_m;
        }
        plan->at_m[plan->frames++] = at_m;
        reach_m = at_m + far_m;
        from_m = reach_m - overlap_ratio * (near_m + far_m);
    }
    return reach_m;
}

static enum pc_status find(const struct pc_depth_setup *setup, bool ring, double behind_m,
                           double overlap_ratio, struct pc_focus_plan *plan, struct pc_err *err)
{
    struct pc_depth depth;
    PC_TRY(pc_depth_find(setup, &depth, err));
    if (!(behind_m > 0 && isfinite(behind_m)))
        return pc_fail(err, PC_BAD_INPUT, "depth wanted", "It must be more than nothing.");
    if (!(overlap_ratio >= 0 && overlap_ratio <= OVERLAP_MOST_RATIO))
        return pc_fail(err, PC_BAD_INPUT, "overlap", "It must lie between 0 and 90 %%.");
    if (!(depth.sharp_total_m > 0))
        return pc_fail(
            err, PC_BAD_INPUT, "f-number",
            "At this aperture diffraction alone blurs the picture more than allowed, however many frames "
            "are taken; open the aperture.");
    double reach_m = lay(setup, ring, behind_m, overlap_ratio, PC_FOCUS_FRAMES_MAX, plan);
    if (reach_m < behind_m)
        return pc_fail(err, PC_BAD_INPUT, "depth wanted",
                       "It would take more than %d frames; close the aperture, or make the picture wider.",
                       PC_FOCUS_FRAMES_MAX);
    plan->overlap_ratio = overlap_ratio;
    if (plan->frames < 2)
        return PC_OK;
    // As many frames with more overlap, so that the last one ends with the depth wanted.
    double low = overlap_ratio, high = 1.0;
    for (int i = 0, frames = plan->frames; i < BISECTIONS; i++) {
        double middle = (low + high) / 2;
        if (lay(setup, ring, INFINITY, middle, frames, plan) >= behind_m)
            low = middle;
        else
            high = middle;
    }
    lay(setup, ring, INFINITY, low, plan->frames, plan);
    plan->overlap_ratio = low;
    return PC_OK;
}

enum pc_status pc_focus_by_rail(const struct pc_depth_setup *setup, double behind_m, double overlap_ratio,
                                struct pc_focus_plan *plan, struct pc_err *err)
{
    return find(setup, false, behind_m, overlap_ratio, plan, err);
}

enum pc_status pc_focus_by_ring(const struct pc_depth_setup *setup, double behind_m, double overlap_ratio,
                                struct pc_focus_plan *plan, struct pc_err *err)
{
    return find(setup, true, behind_m, overlap_ratio, plan, err);
}
