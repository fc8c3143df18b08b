// SPDX-License-Identifier: Apache-2.0
// The shares as a function of their inputs, for tolerances and for the tests that judge them.
#ifndef PC_SHOOT_ADVISE_GLARE_PRIV_H
#define PC_SHOOT_ADVISE_GLARE_PRIV_H

#include "shoot/advise/glare.h"

enum {
    PC_GLARE_X_DISTANCE,
    PC_GLARE_X_ELEVATION,
    PC_GLARE_X_TURN,
    PC_GLARE_X_HEIGHT,
    PC_GLARE_X_SOURCE_X, // how far off all sources are
    PC_GLARE_X_SOURCE_Y,
    PC_GLARE_X_SOURCE_Z,
    PC_GLARE_X_COUNT
};
// y[0]: all sources; then each.
enum { PC_GLARE_Y_COUNT = 1 + PC_GLARE_SOURCES_MAX };

// given: a struct pc_glare_scene. False when the camera is behind the surface.
bool pc_glare_answer(const void *given, const double x[], double y[]);
void pc_glare_gather(const struct pc_glare_scene *scene, double x[], double x_tolerance[]);

// Where along one way the surface comes clear or unclear nearest to from_rad. given: this. y[0]: the angle.
struct pc_glare_search {
    const struct pc_glare_scene *scene;
    enum pc_glare_way way;
    double from_rad;
};
void pc_glare_find_edge(const struct pc_glare_scene *scene, enum pc_glare_way way,
                        struct pc_glare_edge *edge);
bool pc_glare_edge_answer(const void *given, const double x[], double y[]);

#endif
