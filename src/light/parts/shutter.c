// SPDX-License-Identifier: Apache-2.0
// True shutter times from the rounded names that cameras write.
#include "base/units.h"
#include "light/parts/series.h"

static const double SAME_TIME_RATIO =
    0.005; // two writings of one time differ by rounding only: 1/64 as 0.0156 s
static const double WIDEST_ROUNDING_EV = 0.12; // 1/60 for 1/64 is 0.093; no rounded name is further off
static const double DECIDED_EV = 0.02;         // level of two ambient frames is known to about this

static bool same_time(double a_s, double b_s)
{
    return fabs(a_s / b_s - 1.0) < SAME_TIME_RATIO;
}

double pc_shutter_third_s(double shutter_s)
{
    return exp2(round(3.0 * log2(shutter_s)) / 3.0);
}

// The time a file states beyond doubt, or NAN when it may be a rounded name.
static double stated_time(const struct pc_facts *facts)
{
    double named_s = facts->shutter_s, apex_s = facts->shutter_apex_s;
    if (isnan(named_s))
        return apex_s;
    if (!isnan(apex_s) && !same_time(named_s, apex_s) && fabs(log2(apex_s / named_s)) < WIDEST_ROUNDING_EV)
        return apex_s;
    double third_s = pc_shutter_third_s(named_s);
    if (same_time(named_s, third_s))
        return third_s;
    // Neither a third nor near one: no dial has this time, so it was measured.
    return fabs(log2(third_s / named_s)) >= WIDEST_ROUNDING_EV ? named_s : (double)NAN;
}

void pc_shutter_resolve(struct pc_series *series)
{
    const struct pc_facts *reference = &series->frame[series->reference].facts;
    for (int i = 0; i < series->frame_count; i++) {
        struct pc_series_frame *frame = &series->frame[i];
        frame->shutter_tolerance_ev = 0.0;
        if (!series->has_exposure) {
            frame->shutter_s = 1.0;
            continue;
        }
        double stated_s = stated_time(&frame->facts);
        frame->shutter_s = isnan(stated_s) ? pc_shutter_third_s(frame->facts.shutter_s) : stated_s;
    }
    if (!series->has_exposure)
        return;
    double reference_s = series->frame[series->reference].shutter_s;
    double reference_named_s = isnan(reference->shutter_s) ? reference_s : reference->shutter_s;
    bool reference_stated = !isnan(stated_time(reference));
    for (int i = 0; i < series->frame_count; i++) {
        struct pc_series_frame *frame = &series->frame[i];
        double named_s = isnan(frame->facts.shutter_s) ? frame->shutter_s : frame->facts.shutter_s;
        if (same_time(named_s, reference_named_s) || (reference_stated && !isnan(stated_time(&frame->facts))))
            continue;
        double as_thirds = frame->shutter_s / reference_s, as_named = named_s / reference_named_s;
        frame->shutter_tolerance_ev = fabs(log2(as_thirds / as_named));
    }
}

double pc_shutter_like(const struct pc_series *series, const struct pc_facts *facts)
{
    if (!series->has_exposure || (isnan(facts->shutter_s) && isnan(facts->shutter_apex_s)))
        return series->frame[series->reference].shutter_s;
    double stated_s = stated_time(facts);
    if (!isnan(stated_s))
        return stated_s;
    const struct pc_series_frame *reference = &series->frame[series->reference];
    bool as_named =
        isnan(stated_time(&reference->facts)) && same_time(reference->shutter_s, reference->facts.shutter_s);
    return as_named ? facts->shutter_s : pc_shutter_third_s(facts->shutter_s);
}

bool pc_shutter_decide(struct pc_series *series, int a, int b, double measured_ratio)
{
    const struct pc_series_frame *fa = &series->frame[a], *fb = &series->frame[b];
    double thirds_ev = log2(fa->shutter_s / fb->shutter_s);
    double named_ev = log2(fa->facts.shutter_s / fb->facts.shutter_s);
    if (!series->has_exposure || isnan(named_ev) || fabs(thirds_ev - named_ev) < 2.0 * DECIDED_EV)
        return false;
    double measured_ev = log2(measured_ratio);
    bool is_thirds = fabs(measured_ev - thirds_ev) < DECIDED_EV,
         is_named = fabs(measured_ev - named_ev) < DECIDED_EV;
    if (is_thirds == is_named)
        return false;
    for (int i = 0; i < series->frame_count; i++) {
        struct pc_series_frame *frame = &series->frame[i];
        if (is_named && isnan(stated_time(&frame->facts)))
            frame->shutter_s = frame->facts.shutter_s;
        frame->shutter_tolerance_ev = 0.0;
    }
    return true;
}
