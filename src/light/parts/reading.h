// SPDX-License-Identifier: Apache-2.0
// The measured light as a small table: what each emitter gives at each place. Everything that answers in
// numbers (shares, ways, wanting, foretelling at places) works on this table; pictures are weighed in
// weigh.h.
//
// A light is one thing with a dial. It has one emitter, or two (a warm and a cool one, with a kelvin
// setting). Levels are at the reference shutter, aperture and ISO of the set of parts, 1.0 = the sensor's
// saturation in Y of a neutral. The ambient and continuous lights scale with the shutter time, flash does
// not.
#ifndef PC_LIGHT_PARTS_READING_H
#define PC_LIGHT_PARTS_READING_H

#include "image/picture/picture.h"
#include "light/lamp/curve.h"
#include "light/lamp/kelvin.h"

enum { PC_PLACES_MAX = 12, PC_LIGHTS_MAX = 12, PC_EMITTERS_MAX = 16 };
enum { PC_PLACE_HERO = 0, PC_PLACE_SURFACE = 1 }; // always the first two

struct pc_reading_emitter {
    int light;
    double cct_K;                   // of a warm or cool emitter, as the photographer named it; else NAN
    double xyz[PC_PLACES_MAX][3];   // alone, at full dial
    double se_ratio[PC_PLACES_MAX]; // one standard error of Y, relative
    double white_xyz[3];            // of a neutral lit by it alone, any scale; NAN where not known
};

struct pc_reading_light {
    char name[48];
    int emitter_count;
    int emitter[2]; // into emitters; with two, the warmer first
    bool flash;
    struct pc_curve curve;
    struct pc_kelvin kelvin; // of two emitters; no points where the mixing was not measured
    double dial_ratio;       // as captured, 0..1; 1 where nobody said
    double kelvin_K;         // as captured: NAN with one emitter
};

struct pc_reading {
    int place_count, light_count, emitter_count;
    struct pc_place place[PC_PLACES_MAX];
    struct pc_reading_light light[PC_LIGHTS_MAX];
    struct pc_reading_emitter emitter[PC_EMITTERS_MAX];
    double ambient_xyz[PC_PLACES_MAX][3];
    double ambient_se_ratio[PC_PLACES_MAX];
    double ambient_white_xyz[3];  // as for the emitters
    double white_tolerance_mired; // of the difference between two of these whites
    // log2 of how much more of the light each place sends back than the surface does, from the ambient part
    // or a grey card; light level = picture level - this. 0 at the surface.
    double reflect_ev[PC_PLACES_MAX];
    double reflect_tolerance_ev;
    bool has_colour; // xyz are true XYZ; else all three hold the level of the sensor's green and colour is
                     // not known
};

// One setting of everything.
struct pc_dials {
    double dial_ratio[PC_LIGHTS_MAX];
    double kelvin_K[PC_LIGHTS_MAX]; // used where the light has two emitters
    double shutter_ratio;           // shutter time over the reference's; 1: the same
};

// The dials as captured, shutter 1.
void pc_reading_dials_now(const struct pc_reading *reading, struct pc_dials *dials);

// How much of each emitter's full light a setting gives (weights[emitter_count]), shutter included, and the
// weight of the ambient. A two-emitter light whose mixing was measured drives each emitter at K kelvin as its
// kelvin curve says, times curve(dial). Else it gives curve(dial) of light in all: the warm share of it is
// what puts the mix's correlated colour temperature at K, on the chord between the two (in mired where colour
// is unknown). K outside the two ends is cut to the nearer.
void pc_reading_weights(const struct pc_reading *reading, const struct pc_dials *dials, double *weights,
                        double *ambient_weight);

// XYZ at a place under a setting.
void pc_reading_xyz(const struct pc_reading *reading, const struct pc_dials *dials, int place, double xyz[3]);

// Y that one light gives at a place under a setting; light -1: the ambient.
double pc_reading_light_Y(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                          int place);

// How many stops the surface falls where the second-strongest light there is blocked: log2(all / (all - it));
// 0 with fewer than two lights lit. *second (may be NULL) gets that light, *apart_ev how far under the
// strongest it is.
double pc_reading_second_shadow_ev(const struct pc_reading *reading, const struct pc_dials *dials,
                                   int *second, double *apart_ev);

#endif
