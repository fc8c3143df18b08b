// SPDX-License-Identifier: Apache-2.0
// How strongly a smooth surface mirrors. Pure; safe from any thread.
#ifndef PC_SHOOT_ADVISE_FRESNEL_H
#define PC_SHOOT_ADVISE_FRESNEL_H

#include "base/err.h"

// What a glossy surface may be. How to add one: a row in fresnel.c; help, --json and docs name it by its
// name.
struct pc_gloss {
    const char *name; // "broth"
    const char *says; // "clear soup, stock, wine"
    double index, index_tolerance;
    double absorption; // imaginary part of the index; 0 but for metals
};
extern const struct pc_gloss pc_glosses[];
extern const int pc_gloss_count;
const struct pc_gloss *pc_gloss_find(const char *name); // NULL: there is none

struct pc_mirrored {                           // of the light that falls on it
    double plain_ratio, plain_ratio_tolerance; // unpolarised light, seen without a filter
    // Through a polariser turned against the reflection, relative to food seen through the same filter: what
    // is left is polarised in the plane of incidence, of which it lets all through, as it does of half of the
    // food's.
    double filtered_ratio, filtered_ratio_tolerance;
};

// Fresnel's equations (Born and Wolf, Principles of Optics, 1.5.2; 14.2 for metals). incidence 0..pi/2.
void pc_fresnel(double index, double absorption, double incidence_rad, double *across_ratio,
                double *in_plane_ratio);
struct pc_mirrored pc_fresnel_mirrored(const struct pc_gloss *gloss, double incidence_rad,
                                       double incidence_rad_tolerance);

// Incidence at which a polariser takes the whole reflection away: atan(index) (Brewster).
double pc_fresnel_best_incidence_rad(const struct pc_gloss *gloss);

#endif
