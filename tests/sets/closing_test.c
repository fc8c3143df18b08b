// SPDX-License-Identifier: Apache-2.0
// The closing frame, with one thing wrong at a time.
#include "light/parts/closing.h"
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

// The dials of a reading as a shot had them.
static void dials_of(const struct bench *b, const struct sim_shot *shot, struct pc_dials *dials)
{
    pc_reading_dials_now(&b->reading, dials);
    for (int i = 0; i < b->reading.light_count; i++) {
        int light = sim_light_of(b, b->reading.light[i].name);
        dials->dial_ratio[i] = shot->lit[light] ? shot->dial_ratio[light] : 0.0;
        dials->kelvin_K[i] = shot->kelvin_K[light];
    }
}

enum closing_fault { AS_FORETOLD, LAMP_OFF, EXPOSURE_OFF, WINDOW_OFF, CLOSING_FAULTS };

// One closing frame with one thing wrong; true when the check names that thing and nothing else.
static bool closing_names_it(struct bench *b, enum closing_fault fault, int seed)
{
    struct sim_shot shot, taken;
    struct pc_dials dials;
    struct pc_closing closing;
    sim_shot_held_out(&b->setup, (uint64_t)seed, false, &shot);
    dials_of(b, &shot, &dials);
    taken = shot;
    int lamp = seed % b->setup.light_count;
    snprintf(taken.name, sizeof taken.name, "closing-%d", (int)fault);
    if (fault == LAMP_OFF)
        taken.dial_ratio[lamp] *= 0.7; // half a stop
    if (fault == WINDOW_OFF)
        taken.window_ratio = 0.65;
    if (fault == EXPOSURE_OFF)
        taken.fnumber *= 1.12; // a third of a stop, and the file keeps its word: see below
    if (sim_shoot(b->scene, &taken, b->folder, &b->err) != PC_OK)
        fail_msg("%s", b->err.text);
    if (fault == EXPOSURE_OFF)
        b->parts.series.has_aperture = false; // as if the file had said the aperture of the set
    enum pc_status status = pc_closing_check(&b->ctx, b->reader, &b->parts, &b->reading, &dials,
                                             shot_path(b, &taken), &closing, &b->err);
    b->parts.series.has_aperture = true;
    if (status != PC_OK)
        return false;
    pc_picture_finish(&closing.residual);
    int blamed = 0, light_blamed = -1;
    for (int i = 0; i < b->reading.light_count; i++)
        if (fabs(closing.light_ev[i]) > fmax(0.1, closing.light_tolerance_ev[i])) {
            blamed++;
            light_blamed = sim_light_of(b, b->reading.light[i].name);
        }
    bool window = fabs(closing.ambient_ev) > fmax(0.1, closing.ambient_tolerance_ev);
    bool good = false;
    switch (fault) {
    case AS_FORETOLD:
        good = blamed == 0 && !window && !closing.exposure_blamed && closing.median_ev < MEDIAN_EV;
        break;
    case LAMP_OFF: // a lamp too faint to tell is not blamed, and that is right
        good = !window && !closing.exposure_blamed && ((blamed == 1 && light_blamed == lamp) || blamed == 0);
        for (int i = 0; i < b->reading.light_count && blamed == 0; i++)
            good = good && (sim_light_of(b, b->reading.light[i].name) != lamp || isnan(closing.light_ev[i]));
        break;
    case EXPOSURE_OFF:
        good = closing.exposure_blamed && fabs(closing.exposure_ev + 2.0 * log2(1.12)) < 0.05 &&
               blamed == 0 && !window;
        break;
    case WINDOW_OFF:
        good = blamed == 0 && !closing.exposure_blamed && (window || isnan(closing.ambient_ev));
        break;
    case CLOSING_FAULTS:
        break;
    }
    if (!good) {
        print_message(
            "seed %d fault %d (lamp %d of %d): exposure %+.3f blamed %d, window %+.3f +- %.3f, median %.3f;",
            seed, (int)fault, lamp, b->setup.light_count, closing.exposure_ev, closing.exposure_blamed,
            closing.ambient_ev, closing.ambient_tolerance_ev, closing.median_ev);
        for (int i = 0; i < b->reading.light_count; i++)
            print_message(" %s %+.3f +- %.3f", b->reading.light[i].name, closing.light_ev[i],
                          closing.light_tolerance_ev[i]);
        print_message("\n");
    }
    return good;
}

void the_closing_check_names_what_differs(void **state)
{
    (void)state;
    int from, count, failed = 0;
    seeds_asked(&from, &count, 6);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, straight_still_lamps);
        b->shots = sim_series_job(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        if (bench_parts(b) != PC_OK || bench_read(b, false) != PC_OK) {
            print_message("seed %d: %s: %s\n", seed, b->err.place, b->err.text);
            failed += CLOSING_FAULTS;
        } else {
            for (enum closing_fault fault = AS_FORETOLD; fault < CLOSING_FAULTS; fault++)
                failed += !closing_names_it(b, fault, seed);
        }
        bench_end(b);
    }
    judge("closing check", failed, count * CLOSING_FAULTS, 2);
}
