// SPDX-License-Identifier: Apache-2.0
// Two lights that should have one colour: how far apart they are, what the kelvin dial can do about it, what
// a gel can, and what several lights come to where they mix. Colour differences are in mired (1e6 / K),
// positive: warmer; tint as Duv, positive: greener. Pure; safe from any thread.
#ifndef PC_LIGHT_LAMP_MATCH_H
#define PC_LIGHT_LAMP_MATCH_H

#include "image/colour/spectrum.h"

struct pc_match {
    double apart_mired, apart_mired_tolerance; // the lamp less the other light
    double set_K;                              // the other light's kelvin, cut to the lamp's range
    double left_mired, left_mired_tolerance;   // the lamp at set_K less the other light
    bool at_limit; // set_K is an end of the range, and the other light lies beyond
};

// All in kelvin, above 0; warmest_K <= coolest_K. What the lamp's dial shows is good to lamp_K_tolerance, at
// its ends too.
struct pc_match pc_match_kelvin(double lamp_K, double lamp_K_tolerance, double warmest_K, double coolest_K,
                                double against_K, double against_K_tolerance);

struct pc_gel {
    double mired, mired_tolerance;       // strength of the gel; negative: it cools
    double loss_ev, loss_ev_tolerance;   // of light
    double left_duv, left_duv_tolerance; // tint against the other light, once the kelvin is the same
};

// The gel that takes a light of this spectrum to a kelvin, as a perfect one would (pc_spectrum_gel), and the
// tint that no such gel takes out. Tolerances: the spectrum's instrument as in pc_spectrum_rendering, and the
// other light's. False where no gel between -400 and 400 mired does it.
bool pc_gel_towards(const struct pc_spectrum *light, double wavelength_tolerance_nm,
                    double tilt_tolerance_pct, double to_K, double to_K_tolerance, double to_duv,
                    double to_duv_tolerance, struct pc_gel *gel);

enum { PC_MIX_MAX = 8 };

struct pc_mix_light {
    double lx, lx_tolerance; // at the place
    double K, K_tolerance;   // NAN: not known
    double duv, duv_tolerance;
};

struct pc_mix {
    double lx, lx_tolerance;
    double cct_K, cct_K_tolerance; // NAN when one of the lights has no kelvin, or the mix no CCT
    double duv, duv_tolerance;
    double share_ratio[PC_MIX_MAX], share_ratio_tolerance[PC_MIX_MAX];
    double shadow_ev[PC_MIX_MAX],
        shadow_ev_tolerance[PC_MIX_MAX]; // how deep its shadow is; INFINITY: all there is
};

// Light adds up in XYZ. 1 to PC_MIX_MAX lights of kelvins 1000..40000. False when there is no light at all.
bool pc_mix_lights(int count, const struct pc_mix_light lights[], struct pc_mix *mix);

// Duv of CIE daylight of this kelvin, 4000..25000; NAN outside.
double pc_mix_daylight_duv(double K);

#endif
