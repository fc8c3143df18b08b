// SPDX-License-Identifier: Apache-2.0
// Made-up kits photographed as docs/selfcheck.md says, with faults that are known: each is found by name, and
// kits without any are called good. The frames come from tests/sim, which shares nothing with what is judged
// here.
#include "base/file.h"
#include "image/photo/write.h"
#include "light/parts/selfcheck.h"
#include "tests/sim/sim.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { SEEDS = 10 };

struct bench {
    struct pc_ctx ctx;
    struct pc_arena *arena;
    struct pc_photo_reader *reader;
    char folder[64];
    struct sim_setup setup;
    struct sim_scene *scene;
    struct sim_shot shot[SIM_SHOTS_MAX];
    int shots, both;              // both: the shot with two lights on, -1: none
    double (*bend)(double level); // of the raw value, what clips = 1
    bool keeps_names;             // the camera's true shutter times are its rounded names
    struct pc_series series;
    struct pc_notes notes;
    struct pc_selfcheck check;
    struct pc_err err;
};

static struct sim_shot *add(struct bench *b, const char *what, int light, double dial_ratio,
                            int shutter_thirds)
{
    struct sim_shot *shot = &b->shot[b->shots];
    sim_shot_init(&b->setup, shot);
    snprintf(shot->name, sizeof shot->name, "%02d %s", b->shots, what);
    shot->time_s = b->shots * b->setup.step_s;
    shot->noise_seed = (uint64_t)++b->shots;
    shot->shutter_thirds = shutter_thirds;
    if (light >= 0) {
        shot->lit[light] = true;
        shot->dial_ratio[light] = dial_ratio;
    }
    return shot;
}

// The series of docs/selfcheck.md.
static void documented_series(struct bench *b)
{
    bool two = b->setup.light_count > 1;
    struct sim_shot all;
    sim_shot_init(&b->setup, &all);
    for (int k = 0; k < 2 && k < b->setup.light_count; k++) {
        all.lit[k] = true;
        all.dial_ratio[k] = 1.0;
    }
    int thirds = sim_shot_expose(&b->setup, &all, 0.4);
    add(b, "window", -1, 0.0, thirds);
    struct sim_shot one;
    sim_shot_init(&b->setup, &one);
    one.lit[0] = true;
    one.dial_ratio[0] = 1.0;
    // The table holds nothing as white as that meter reads for, so this is just short of clipping.
    int longer = sim_shot_expose(&b->setup, &one, -1.0);
    longer = longer > thirds + 2 ? longer : thirds + 3;
    add(b, "longer", 0, 1.0, longer);
    add(b, "full", 0, 1.0, thirds);
    add(b, "shorter", 0, 1.0, thirds - 2);
    const double dials[] = {0.8, 0.6, 0.4, 0.2, 0.1};
    for (size_t i = 0; i < PC_COUNT(dials); i++)
        add(b, "dial", 0, dials[i], dials[i] > 0.5 ? thirds : longer);
    b->both = -1;
    if (two) {
        add(b, "other", 1, 1.0, thirds);
        b->both = b->shots;
        struct sim_shot *shot = add(b, "both", 0, 1.0, thirds);
        shot->lit[1] = true;
        shot->dial_ratio[1] = 1.0;
    }
    add(b, "again", 0, 1.0, thirds);
    add(b, "window", -1, 0.0, thirds);
    b->setup.window.drift_s = b->setup.step_s * (b->shots - 1);
}

// A kit without a fault: straight dials, warm lights.
static struct bench *bench_open(uint64_t seed)
{
    struct bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    pc_ctx_init(&b->ctx, 0, 0);
    b->arena = pc_arena_create();
    b->notes.arena = b->arena;
    snprintf(b->folder, sizeof b->folder, "/tmp/pc-selfcheck-XXXXXX");
    assert_non_null(mkdtemp(b->folder));
    sim_setup_seeded(&b->setup, seed);
    sim_setup_resize(&b->setup, 840, 560); // for time
    for (int i = 0; i < b->setup.light_count; i++) {
        b->setup.light[i].curve = SIM_CURVE_STRAIGHT;
        b->setup.light[i].sag_ratio = 0.0;
    }
    assert_int_equal(pc_photo_reader_create(&b->ctx, NULL, &b->reader, &b->err), PC_OK);
    return b;
}

static void bench_close(struct bench *b)
{
    char **paths;
    size_t n;
    if (pc_file_list(b->arena, b->folder, &paths, &n, NULL) == PC_OK)
        for (size_t i = 0; i < n; i++)
            unlink(paths[i]);
    rmdir(b->folder);
    pc_photo_reader_destroy(b->reader);
    sim_scene_destroy(b->scene);
    pc_arena_destroy(b->arena);
    assert_int_equal(b->ctx.held_bytes, 0);
    free(b);
}

static const char *path_of(struct bench *b, int shot)
{
    return pc_arena_printf(b->arena, "%s/%s.dng", b->folder, b->shot[shot].name);
}

// The same file again with other numbers in it.
static void rewrite(struct bench *b, int index)
{
    const struct sim_camera *c = &b->setup.camera;
    const struct sim_shot *shot = &b->shot[index];
    size_t n = (size_t)c->width_px * (size_t)c->height_px;
    uint16_t *px = calloc(n, sizeof *px);
    struct pc_photo photo;
    assert_int_equal(sim_mosaic(b->scene, shot, px, &b->err), PC_OK);
    assert_int_equal(pc_photo_read(b->reader, path_of(b, index), PC_WANT_FACTS, false, &photo, &b->err),
                     PC_OK);
    double longer = b->keeps_names ? sim_shutter_nominal_s(shot) / sim_shutter_s(shot) : 1.0,
           range = c->white_dn - c->black_dn;
    for (size_t i = 0; i < n; i++) {
        double level = fmin(1.0, ((double)px[i] - c->black_dn) / range * longer);
        level = b->bend != NULL && level > 0.0 ? b->bend(level) : level;
        px[i] = (uint16_t)lround(c->black_dn + range * level);
    }
    struct pc_dng dng = {.width_px = c->width_px,
                         .height_px = c->height_px,
                         .px = px,
                         .white_dn = c->black_dn + range * (b->bend != NULL ? b->bend(1.0) : 1.0),
                         .no_apex = !c->apex,
                         .facts = photo.facts};
    memcpy(dng.cfa, c->cfa, sizeof dng.cfa);
    for (int i = 0; i < 4; i++)
        dng.black_dn[i] = c->black_dn;
    sim_camera_matrix(b->scene, dng.camera_from_xyz, dng.neutral_ratio);
    dng.facts.orientation = c->orientation;
    assert_int_equal(pc_write_dng(path_of(b, index), &dng, &b->err), PC_OK);
    pc_photo_finish(&photo);
    free(px);
}

static void shoot(struct bench *b)
{
    assert_int_equal(sim_scene_create(&b->setup, &b->scene, &b->err), PC_OK);
    for (int i = 0; i < b->shots; i++) {
        if (sim_shoot(b->scene, &b->shot[i], b->folder, &b->err) != PC_OK)
            fail_msg("%s: %s", b->err.place, b->err.text);
        if (b->bend != NULL || b->keeps_names)
            rewrite(b, i);
    }
}

static enum pc_status run(struct bench *b, const struct pc_selfcheck_together *together)
{
    struct pc_said said[SIM_SHOTS_MAX];
    const char *paths[SIM_SHOTS_MAX];
    int n = 0;
    for (int i = 0; i < b->shots; i++) {
        if (i == b->both)
            continue;
        int light = -1;
        for (int k = 0; k < b->setup.light_count; k++)
            light = b->shot[i].lit[k] ? k : light;
        paths[n] = path_of(b, i);
        said[n] = (struct pc_said){.path = paths[n],
                                   .role = light < 0 ? PC_ROLE_AMBIENT : PC_ROLE_LIGHT,
                                   .light = light < 0 ? NULL : b->setup.light[light].name,
                                   .dial_ratio = light < 0 ? (double)NAN : b->shot[i].dial_ratio[light],
                                   .kelvin_K = NAN};
        n++;
    }
    struct pc_series_wish wish = {
        .paths = paths, .path_count = n, .said = said, .said_count = n, .partial = true};
    PC_TRY(pc_series_make(b->reader, b->arena, &wish, &b->series, &b->notes, &b->err));
    struct pc_selfcheck_together both = {.path = b->both >= 0 ? path_of(b, b->both) : NULL,
                                         .dial_ratio = NAN};
    const struct pc_selfcheck_together *which = together != NULL ? together : &both;
    return pc_selfcheck_run(&b->ctx, b->reader, &b->series, which, which->path != NULL ? 1 : 0, &b->check,
                            &b->notes, &b->err);
}

static void check(struct bench *b)
{
    shoot(b);
    if (run(b, NULL) != PC_OK)
        fail_msg("%s: %s", b->err.place, b->err.text);
}

static const char *const tests_by_name[] = {"linearity", "shutter", "superposition", "dial",
                                            "drift",     "sag",     "noise"};

static void print_all(const struct bench *b, int seed)
{
    const struct pc_selfcheck *c = &b->check;
    print_message("seed %d: bend %.3f±%.3f EV (%.1f to %.1f), times %d, sum %.3f±%.3f EV spread %.3f, bend "
                  "%.1f %%, held "
                  "out %.1f %%, drift %.1f %%, sag %.2f±%.2f %%, gain %.4f read %.2f SNR %.0f\n",
                  seed, c->bent >= 0 ? c->shutter[c->bent].bend_ev.value : -1.0,
                  c->bent >= 0 ? c->shutter[c->bent].bend_ev.tolerance : -1.0,
                  c->bent >= 0 ? c->shutter[c->bent].low_ev : 0.0,
                  c->bent >= 0 ? c->shutter[c->bent].high_ev : 0.0, c->times, c->sum[0].off_ev.value,
                  c->sum[0].off_ev.tolerance, c->sum[0].spread_ev, c->dial[0].bend_pct,
                  c->dial[0].held_out_pct, c->drift.pct.value, c->sag[0].pct.value, c->sag[0].pct.tolerance,
                  c->noise.gain_dn_per_e, c->noise.read_noise_e, c->noise.mid_grey_snr_ratio[1]);
    for (int i = 0; i < c->shutter_count; i++)
        print_message("  measured %.3f±%.3f, named %.3f, thirds %.3f\n", c->shutter[i].measured_ev.value,
                      c->shutter[i].measured_ev.tolerance, c->shutter[i].named_ev, c->shutter[i].thirds_ev);
    for (int i = 0; i < PC_SELFCHECK_TESTS; i++)
        if (c->judged[i].verdict != PC_SELFCHECK_GOOD)
            print_message("  %s %s: %s\n", tests_by_name[i],
                          c->judged[i].verdict == PC_SELFCHECK_OFF ? "off" : "not tested",
                          c->judged[i].advice);
}

static void expect(struct bench *b, enum pc_selfcheck_test test, enum pc_selfcheck_verdict verdict)
{
    if (b->check.judged[test].verdict == verdict)
        return;
    print_all(b, 0);
    fail_msg("%s: verdict %d, want %d: %s", tests_by_name[test], b->check.judged[test].verdict, verdict,
             b->check.judged[test].advice);
}

static void expect_near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %g, want %g within %g", what, got, want, within);
}

static void kits_without_a_fault_are_good(void **state)
{
    (void)state;
    int failed = 0;
    for (int seed = 1; seed <= SEEDS; seed++) {
        struct bench *b = bench_open((uint64_t)seed);
        documented_series(b);
        check(b);
        bool good = true;
        for (int i = 0; i < PC_SELFCHECK_TESTS; i++) {
            bool told = i != PC_SELFCHECK_SUPERPOSITION || b->both >= 0;
            good = good && b->check.judged[i].verdict == (told ? PC_SELFCHECK_GOOD : PC_SELFCHECK_NOT_TESTED);
        }
        const struct pc_figure *sag = &b->check.sag[0].pct;
        good = good && fabs(sag->value) <= fmax(sag->tolerance, 0.1) + 0.1;
        good = good && b->check.times != PC_SELFCHECK_TIMES_NAMED && b->check.drift.from >= 0;
        // The sensor's own numbers, from the photon-transfer model that made the frames: its gain grows with
        // the true ISO.
        const struct sim_camera *c = &b->setup.camera;
        double doublings = log2(b->setup.iso / 100.0);
        double gain = c->gain_dn_per_e * b->setup.iso / 100.0 * exp2(c->iso_error_ev * doublings);
        // A tenth for the estimate. Read noise hides under the photons of a lit frame, so only its size is
        // asked for.
        good = good && fabs(b->check.noise.gain_dn_per_e / gain - 1.0) < 0.1;
        good = good && b->check.noise.read_noise_e < 3.0 * c->read_noise_e + 10.0;
        if (!good) {
            print_message("gain %.4f\n", gain);
            failed++;
        }
        print_all(b, seed);
        bench_close(b);
    }
    if (failed > 0)
        fail_msg("%d of %d seeds failed", failed, SEEDS);
}

// A set-up whose exposure gives 1/15 and 1/25 or so.
static struct bench *demo_like(void)
{
    struct bench *b = bench_open(4);
    b->setup.camera.nominal_shutter = true;
    b->setup.camera.apex = false;
    b->setup.camera.black_wander_dn = 0.0;
    struct sim_shot all;
    sim_shot_init(&b->setup, &all);
    for (int k = 0; k < 2; k++) {
        all.lit[k] = true;
        all.dial_ratio[k] = 1.0;
    }
    int off = -18 - sim_shot_expose(&b->setup, &all, 0.4); // thirds too bright: all lights are dimmed alike
    for (int i = 0; i < b->setup.light_count; i++)
        b->setup.light[i].full_lx_at_1m *= exp2(-off / 3.0);
    b->setup.window.hero_lx *= exp2(-off / 3.0);
    return b;
}

static void true_times_are_told_from_names(void **state)
{
    (void)state;
    for (int names = 0; names < 2; names++) {
        struct bench *b = demo_like();
        b->keeps_names = names != 0;
        documented_series(b);
        assert_int_equal(b->shot[2].shutter_thirds, -18);
        check(b);
        assert_int_equal(b->check.times, names ? PC_SELFCHECK_TIMES_NAMED : PC_SELFCHECK_TIMES_THIRDS);
        expect(b, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_GOOD);
        expect_near("shutter", b->check.series.frame[2].shutter_s, names ? 1.0 / 60.0 : 1.0 / 64.0, 1e-6);
        bench_close(b);
    }
}

static double shoulder(double level)
{
    return level - 0.14 * level * level;
}

static double power_law(double level)
{
    return pow(level, 0.93);
}

static void bent_raw_numbers_are_found(void **state)
{
    (void)state;
    struct bench *b = demo_like();
    b->bend = shoulder;
    documented_series(b);
    check(b);
    expect(b, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_OFF);
    assert_true(b->check.bent >= 0);
    bench_close(b);
    // A power law bends all levels alike, and shows in that no shutter gives the light it should.
    b = demo_like();
    b->bend = power_law;
    documented_series(b);
    check(b);
    expect(b, PC_SELFCHECK_SHUTTER, PC_SELFCHECK_OFF);
    assert_int_equal(b->check.times, PC_SELFCHECK_TIMES_NEITHER);
    bench_close(b);
}

static void a_sagging_light_is_found(void **state)
{
    (void)state;
    struct bench *b = demo_like();
    b->setup.step_s = 20.0;
    b->setup.light[0].sag_ratio = 0.05;
    b->setup.light[0].sag_s = 100.0;
    b->setup.light[0].on_since_s = 38.0; // just before its first frame at the set's shutter
    documented_series(b);
    check(b);
    expect(b, PC_SELFCHECK_SAG, PC_SELFCHECK_OFF);
    double first =
        sim_emitter_level(&b->setup, &b->shot[2], 0) + sim_emitter_level(&b->setup, &b->shot[2], 1);
    const struct sim_shot *again = &b->shot[b->shots - 2];
    double last = sim_emitter_level(&b->setup, again, 0) + sim_emitter_level(&b->setup, again, 1);
    expect_near("sag", b->check.sag[0].pct.value, 100.0 * (last / first - 1.0), 0.4);
    assert_true(b->check.sag[0].pct.value < -3.0);
    expect(b, PC_SELFCHECK_DIAL, PC_SELFCHECK_GOOD); // taken off there
    expect(b, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_GOOD);
    bench_close(b);
}

static void dial_curves_are_measured(void **state)
{
    (void)state;
    const struct {
        enum sim_curve curve;
        double shape;
        enum pc_selfcheck_verdict verdict;
    } kits[] = {{SIM_CURVE_POWER, 1.5, PC_SELFCHECK_GOOD},
                {SIM_CURVE_S, 0.5, PC_SELFCHECK_GOOD},
                {SIM_CURVE_DEAD, 0.36, PC_SELFCHECK_OFF}};
    for (size_t i = 0; i < PC_COUNT(kits); i++) {
        struct bench *b = demo_like();
        b->setup.light[0].curve = kits[i].curve;
        b->setup.light[0].curve_shape = kits[i].shape;
        b->setup.light[0].full_lx_at_1m *= 2.0;
        b->setup.window.hero_lx *= 0.2;
        documented_series(b);
        check(b);
        expect(b, PC_SELFCHECK_DIAL, kits[i].verdict);
        const struct pc_selfcheck_dial *dial = &b->check.dial[0];
        double at = dial->bend_at_ratio;
        expect_near("bend", dial->bend_pct, 100.0 * (sim_light_curve(&b->setup.light[0], at) / at - 1.0),
                    2.5);
        assert_true(fabs(dial->bend_pct) > 10.0);
        bench_close(b);
    }
}

static void two_lights_on_one_battery_are_found(void **state)
{
    (void)state;
    struct bench *b = demo_like();
    documented_series(b);
    b->shot[b->both].dial_ratio[0] = 0.85;
    check(b);
    expect(b, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_OFF);
    assert_int_equal(b->check.sum_count, 1);
    for (int k = 0; k < 2; k++) {
        const struct pc_figure *ev = &b->check.sum[0].light_ev[k];
        bool dimmed =
            strcmp(b->check.series.light[b->check.sum[0].light[k]].name, b->setup.light[0].name) == 0;
        expect_near("light", ev->value, dimmed ? log2(0.85) : 0.0, 0.03);
    }
    assert_non_null(strstr(b->check.judged[PC_SELFCHECK_SUPERPOSITION].advice, b->setup.light[0].name));
    bench_close(b);
}

static void a_changing_window_is_told_and_does_no_harm(void **state)
{
    (void)state;
    const double drifts[] = {0.08, -0.25};
    for (size_t i = 0; i < PC_COUNT(drifts); i++) {
        struct bench *b = demo_like();
        b->setup.window.drift_ratio = drifts[i];
        documented_series(b);
        check(b);
        expect_near("drift", b->check.drift.pct.value, 100.0 * drifts[i], 0.5);
        expect(b, PC_SELFCHECK_DRIFT, i == 0 ? PC_SELFCHECK_GOOD : PC_SELFCHECK_OFF);
        expect(b, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_GOOD);
        expect(b, PC_SELFCHECK_LINEARITY, PC_SELFCHECK_GOOD);
        bench_close(b);
    }
}

static void what_is_missing_is_not_tested(void **state)
{
    (void)state;
    struct bench *b = demo_like();
    documented_series(b);
    b->shot[1] = b->shot[b->shots - 1]; // two window frames are left
    b->shots = 2;
    b->both = -1;
    check(b);
    for (int i = 0; i < PC_SELFCHECK_TESTS; i++) {
        bool told = i == PC_SELFCHECK_DRIFT || i == PC_SELFCHECK_NOISE;
        expect(b, (enum pc_selfcheck_test)i, told ? PC_SELFCHECK_GOOD : PC_SELFCHECK_NOT_TESTED);
        assert_true(told || b->check.judged[i].advice[0] != '\0');
    }
    b->shots = 1;
    assert_int_equal(run(b, NULL), PC_BAD_INPUT);
    bench_close(b);
}

static void a_light_that_was_never_taken_alone_is_a_misuse(void **state)
{
    (void)state;
    struct bench *b = demo_like();
    documented_series(b);
    shoot(b);
    struct pc_selfcheck_together both = {.path = path_of(b, b->both),
                                         .light = {b->setup.light[0].name, "nobody"},
                                         .light_count = 2,
                                         .dial_ratio = NAN};
    assert_int_equal(run(b, &both), PC_MISUSE);
    assert_string_equal(b->err.place, "nobody");
    // At a dial at which it was not taken alone it is not tested.
    memset(&b->err, 0, sizeof b->err);
    both.light[1] = b->setup.light[1].name;
    both.dial_ratio = 0.5;
    assert_int_equal(run(b, &both), PC_OK);
    expect(b, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_NOT_TESTED);
    bench_close(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kits_without_a_fault_are_good),
        cmocka_unit_test(true_times_are_told_from_names),
        cmocka_unit_test(bent_raw_numbers_are_found),
        cmocka_unit_test(a_sagging_light_is_found),
        cmocka_unit_test(dial_curves_are_measured),
        cmocka_unit_test(two_lights_on_one_battery_are_found),
        cmocka_unit_test(a_changing_window_is_told_and_does_no_harm),
        cmocka_unit_test(what_is_missing_is_not_tested),
        cmocka_unit_test(a_light_that_was_never_taken_alone_is_a_misuse),
    };
    return cmocka_run_group_tests_name("selfcheck", tests, NULL, NULL);
}
