// SPDX-License-Identifier: Apache-2.0
// Lamps that pulse with the mains or with their dimmer, and what a shutter leaves of it. Pure; safe from any
// thread.
//
// Modulation is 100 (max - min) / (max + min) per cent, or as a ratio the amplitude over the mean. Most lamps
// that hang on mains of 50 Hz pulse at 100 Hz.
//
// A sensor that reads its rows one after the other turns what is left into bands: readout time times
// frequency of them from the top to the bottom of the sensor. A shutter that opens all at once turns it into
// frames that differ.
#ifndef PC_IMAGE_CAMERA_MAINS_H
#define PC_IMAGE_CAMERA_MAINS_H

#include "image/camera/expose.h"

// What mains keep to, as a rule: 50 Hz stays within 0.1 Hz.
#define PC_MAINS_TOLERANCE_RATIO 0.002
// Bands of more than this are seen on plain ground; less is lost in its own grain.
#define PC_MAINS_SEEN_PCT 2.0

// Share of a sinusoid's modulation that is left in frames of this shutter: |sin(pi f t) / (pi f t)|. Zero
// where the shutter holds whole waves (the mean of a sinusoid over a window; any textbook of signals).
double pc_mains_left_ratio(double ripple_hz, double shutter_s);

// Modulation left of a lamp that is switched on and off, on for duty_ratio (0 to 1) of each period, as a
// ratio: between the brightest and the darkest frame, exactly, all harmonics counted.
double pc_mains_switched_left_ratio(double switching_hz, double duty_ratio, double shutter_s);

struct pc_mains_left {
    double left_ratio, left_ratio_tolerance; // of the lamp's modulation
};
// For a shutter as its dial says it. Cameras disagree whether 1/50 is 1/50 or 1/50.8; the tolerance reaches
// both, and what the mains keep to.
void pc_mains_left_find(double ripple_hz, double ripple_hz_tolerance, double marked_s,
                        struct pc_mains_left *left);

// The same of a lamp that is switched, its frequency known: the modulation left, not the share of it.
void pc_mains_switched_find(double switching_hz, double duty_ratio, double marked_s,
                            struct pc_mains_left *left);

// The marks from longest_s to shortest_s that leave at most most_pct of a lamp's modulation_pct, the longer
// first. most: what of[] has room for. Gives how many it got.
int pc_mains_shutters(double ripple_hz, double modulation_pct, double most_pct, double longest_s,
                      double shortest_s, const struct pc_mark **of, int most);

// A clip: each frame sees the lamp at another moment of its wave, unless the frame rate holds whole waves.
struct pc_mains_clip {
    double left_ratio; // in each frame: how deep its bands, or how far frames differ
    double beat_hz;    // how often the picture pulses, or the bands pass; 0: they stand still
};
// The beat is the ripple's distance from the nearest multiple of the frame rate (aliasing). A beat slower
// than 0.05 Hz counts as standing still. False when the shutter is longer than a frame, or a number is not
// positive.
bool pc_mains_clip_find(double ripple_hz, double shutter_s, double frames_hz, struct pc_mains_clip *clip);

// Of the usual frame rates (24, 25, 30, 50, 60 a second) those under which this ripple stands still.
enum { PC_MAINS_RATES_MAX = 5 };
int pc_mains_still_rates(double ripple_hz, double rates_hz[PC_MAINS_RATES_MAX]);

// Up to this modulation at this frequency people are at low risk, or feel nothing (IEEE 1789-2015, figures
// quoted from memory, to be looked up before they are relied on): .025 f up to 90 Hz, .08 f up to 1250 Hz;
// a third to a half of that for no effect. Above 1250 (3000) Hz: 100 %.
double pc_mains_low_risk_pct(double ripple_hz);
double pc_mains_no_effect_pct(double ripple_hz);

#endif
