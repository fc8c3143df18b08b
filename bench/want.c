// SPDX-License-Identifier: Apache-2.0
// Dials for goals with six emitters (two lights of one, two of a warm and a cool one): the slowest of some
// sets of goals, stepless and in steps. A set's time is its processor time (one thread does all), the best of
// three tries; the sets are the same every time.
#include "base/units.h"
#include "bench.h"
#include "image/colour/colour.h"
#include "light/parts/want.h"

enum { SETS = 60, TRIES = 3, LIGHTS = 4, PLACES = 3 };
static const double LIMIT_MS = 20.0;

static double uniform(uint64_t *state, double low, double high)
{
    // Knuth's 64-bit linear congruential generator (MMIX); its upper bits.
    *state = *state * 6364136223846793005u + 1442695040888963407u;
    return low + (high - low) * (double)(*state >> 11) * 0x1p-53;
}

static void xyz_of(double cct_K, double Y, double xyz[3])
{
    double xy[2];
    pc_colour_planck_xy(cct_K, xy);
    pc_colour_xyz_from_xy(xy, Y, xyz);
}

static void make_reading(struct pc_reading *r, uint64_t *state)
{
    memset(r, 0, sizeof *r);
    r->place_count = PLACES;
    r->has_colour = true;
    for (int p = 0; p < PLACES; p++) {
        r->reflect_ev[p] = p == PC_PLACE_SURFACE ? 0.0 : uniform(state, -2.0, 2.0);
        xyz_of(uniform(state, 5000.0, 9000.0), exp2(uniform(state, -8.0, -3.0)), r->ambient_xyz[p]);
    }
    for (int i = 0; i < LIGHTS; i++) {
        struct pc_reading_light *light = &r->light[r->light_count++];
        snprintf(light->name, sizeof light->name, "P%d", i + 1);
        light->emitter_count = i < 2 ? 1 : 2;
        light->dial_ratio = 0.5;
        light->kelvin_K = i < 2 ? (double)NAN : 4200.0;
        light->curve = pc_curve_straight();
        for (int k = 0; k < light->emitter_count; k++) {
            struct pc_reading_emitter *e = &r->emitter[r->emitter_count];
            light->emitter[k] = r->emitter_count++;
            e->light = i;
            e->cct_K = i < 2 ? (double)NAN : k == 0 ? 2700.0 : 6500.0;
            double cct_K = i < 2 ? uniform(state, 2700.0, 6500.0) : e->cct_K;
            for (int p = 0; p < PLACES; p++)
                xyz_of(cct_K, exp2(uniform(state, -5.0, 0.0)), e->xyz[p]);
        }
    }
}

static void make_want(const struct pc_reading *reading, struct pc_want *want, bool stepped, uint64_t *state)
{
    pc_want_init(reading, want);
    want->goal[want->goal_count++] =
        (struct pc_goal){.kind = PC_GOAL_HERO_LEVEL, .value = uniform(state, -1.0, 1.0)};
    want->goal[want->goal_count++] =
        (struct pc_goal){.kind = PC_GOAL_SURFACE_UNDER, .value = uniform(state, 0.0, 3.0)};
    want->goal[want->goal_count++] =
        (struct pc_goal){.kind = PC_GOAL_PLACE_LEVEL, .place = 2, .value = uniform(state, -1.0, 1.0)};
    want->goal[want->goal_count++] = (struct pc_goal){
        .kind = PC_GOAL_PLACE_WARMTH, .place = PC_PLACE_HERO, .value = uniform(state, -50.0, 50.0)};
    want->goal[want->goal_count++] =
        (struct pc_goal){.kind = PC_GOAL_SECOND_SHADOW, .value = uniform(state, 0.1, 0.6)};
    for (int i = 0; i < reading->light_count; i++) {
        want->limit[i].most_ratio = uniform(state, 0.6, 1.0);
        want->limit[i].step_ratio = stepped ? 0.01 : 0.0;
        want->limit[i].step_K = stepped ? 50.0 : 0.0;
    }
}

int main(void)
{
    struct pc_err err = {0};
    uint64_t state = 20270318;
    double worst_ms = 0.0, all_ms[SETS];
    for (int s = 0; s < SETS; s++) {
        struct pc_reading reading;
        struct pc_want want;
        struct pc_want_answer answer;
        make_reading(&reading, &state);
        make_want(&reading, &want, s % 2 == 1, &state);
        double best_ms = INFINITY;
        for (int t = 0; t < TRIES; t++) {
            double t0_s = bench_cpu_s();
            if (pc_want_solve(&reading, &want, &answer, &err) != PC_OK)
                bench_fail(&err);
            best_ms = fmin(best_ms, 1e3 * (bench_cpu_s() - t0_s));
        }
        all_ms[s] = best_ms;
        worst_ms = fmax(worst_ms, best_ms);
    }
    fprintf(stderr, "%d sets of goals: half of them within %.2f ms\n", SETS, bench_median(all_ms, SETS));
    bench_print("want", worst_ms, LIMIT_MS, "ms");
    return 0;
}
