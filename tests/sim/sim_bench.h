// SPDX-License-Identifier: Apache-2.0
// For tests of the picture maker: a scene, a small set-up, a noiseless picture, or the test fails.
#ifndef SIM_BENCH_H
#define SIM_BENCH_H

#include "sim_priv.h"

void near(double got, double want, double within, const char *what);

struct sim_scene *scene_of(const struct sim_setup *setup);

// Of 480 x 320 pixels.
struct sim_setup small(uint64_t seed);

// As sim_render; to be freed.
float *render(struct sim_scene *scene, const struct sim_shot *shot);

#endif
