// SPDX-License-Identifier: Apache-2.0
// What the weighed sum of the parts foretells, against frames that were held out.
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"
#include "image/colour/colour.h"
#include "base/linalg.h"
#include "base/units.h"

#include <setjmp.h>
#include <cmocka.h>

static const double LEAST_USED_RATIO = 0.6;
static const double PATCH_DE00 = 1.0;

static void lab_of(struct bench *b, const double camera[3], const double white_camera[3], double lab[3])
{
    double xyz[3], white[3];
    pc_linalg_apply3(b->parts.xyz_from_camera, camera, xyz);
    pc_linalg_apply3(b->parts.xyz_from_camera, white_camera, white);
    pc_colour_lab_from_xyz(xyz, white, lab);
}

// The chart's patches in the foretold picture against the noiseless truth, both through the file's own
// matrix, white being the truth's white patch at 90 %. NAN when the chart is not wholly in the picture.
static double patches_de00(struct bench *b, const struct sim_shot *shot)
{
    double weights[PC_EMITTERS_MAX], ambient_weight, de[SIM_PATCHES], white[3];
    struct pc_picture foretold, truth;
    true_weights(b, shot, weights, &ambient_weight);
    assert_int_equal(
        pc_parts_weigh(&b->ctx, &b->parts, &b->reading, weights, ambient_weight, &foretold, &b->err), PC_OK);
    assert_int_equal(pc_picture_init(&b->ctx, &truth, foretold.width_px, foretold.height_px, 3, &b->err),
                     PC_OK);
    truth.bin = foretold.bin;
    truth.full_width_px = foretold.full_width_px;
    truth.full_height_px = foretold.full_height_px;
    assert_int_equal(sim_render(b->scene, shot, truth.px, &b->err), PC_OK);
    bool whole = true;
    for (int k = 0; k < SIM_PATCHES && whole; k++) {
        int patch = (k + 18) % SIM_PATCHES; // the white one first
        double x, y, radius, lab[2][3];
        struct pc_level got, real;
        whole = sim_patch_px(b->scene, shot, patch, &x, &y, &radius);
        if (!whole)
            break;
        pc_picture_level(&foretold, x, y, 0.7 * radius, NULL, &got);
        pc_picture_level(&truth, x, y, 0.7 * radius, NULL, &real);
        whole = got.pixels > 0 && real.pixels > 0;
        for (int c = 0; c < 3 && k == 0; c++)
            white[c] = real.value[c] / 0.9;
        lab_of(b, got.value, white, lab[0]);
        lab_of(b, real.value, white, lab[1]);
        de[k] = pc_colour_de2000(lab[0], lab[1]);
    }
    pc_picture_finish(&foretold);
    pc_picture_finish(&truth);
    if (!whole)
        return NAN;
    qsort(de, SIM_PATCHES, sizeof *de, compare_doubles);
    return 0.5 * (de[SIM_PATCHES / 2 - 1] + de[SIM_PATCHES / 2]);
}

void weighed_sums_are_as_held_out_frames(void **state)
{
    (void)state;
    int from, count, failed = 0, charts = 0;
    seeds_asked(&from, &count, 24);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, NULL);
        b->shots = sim_series_emitters(&b->setup, 1.0, b->shot);
        bench_shoot(b);
        struct sim_shot shot;
        struct misses m = {.median_ev = NAN};
        sim_shot_held_out(&b->setup, (uint64_t)seed, true, &shot);
        if (bench_parts(b) != PC_OK || bench_read(b, false) != PC_OK) {
            print_message("seed %d: %s: %s\n", seed, b->err.place, b->err.text);
            failed++;
        } else {
            held_out(b, &shot, &m);
            double de00 = patches_de00(b, &shot);
            charts += !isnan(de00);
            bool good = m.median_ev <= MEDIAN_EV && m.worst_twentieth_ev <= WORST_TWENTIETH_EV &&
                        m.used_ratio >= LEAST_USED_RATIO && b->parts.moved_count == 0 && !(de00 > PATCH_DE00);
            failed += !good;
            print_message("seed %d: %d lights, median %.3f EV, 95 %% %.3f EV, of %.0f %% of the frame, "
                          "patches dE00 %.2f, "
                          "moved %d, drift %.1f %%%s\n",
                          seed, b->setup.light_count, m.median_ev, m.worst_twentieth_ev, 100.0 * m.used_ratio,
                          de00, b->parts.moved_count, b->parts.drift_pct, good ? "" : "  FAILED");
        }
        bench_end(b);
    }
    print_message("weighed sums: %d of %d failed, %d with a whole chart\n", failed, count, charts);
    if (failed * 50 > count)
        fail_msg("%d of %d seeds failed", failed, count);
    assert_true(charts * 4 >= count);
}
