// SPDX-License-Identifier: Apache-2.0
// Frames with seeded faults, and frames with none, of tables that were measured light by light before. A
// fault is 1 to 2 times what harms; every third frame has two, and the graver is to be the sentence.
// PC_SEEDS=FROM+COUNT asks for other seeds than the suite's own; docs/checks.md has what many of them gave.
#include "base/units.h"
#include "image/colour/colour.h"
#include "shoot/check/check.h"
#include "sim_priv.h"
#include "tests/sets/bench.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { OWN_FAULTS = 24, OWN_CLEAN_SETS = 12, CLEAN_EACH = 5 };
static const double FOUND_RATIO = 0.95;
static const double FALSE_ALARMS_RATIO = 0.005; // 3 in 600

struct table {
    struct bench *b;
    struct sim_shot shot; // as planned
    struct pc_dials dials;
    struct pc_check_plan plan;
    struct pc_check_spots spots;
    struct pc_check_look locked;
    double elevation_rad, plate_m; // half of how far the plate reaches along the camera's axis
};

static void still_lamps(struct sim_setup *setup, int seed)
{
    straight_still_lamps(setup, seed);
    setup->window.drift_ratio = seed % 2 != 0 ? 0.03 : -0.03; // over the minutes that frames are taken in
    setup->window.drift_s = 600.0;
}

static void spot(const struct sim_stage *stage, struct sim_vec at, double radius_px,
                 struct pc_check_spot *out)
{
    if (!sim_stage_project(stage, at, &out->x_px, &out->y_px))
        fail_msg("a place is not in the picture");
    out->radius_px = radius_px;
}

static void place_spots(struct table *t)
{
    const struct sim_table *table = &t->b->setup.table;
    struct sim_stage stage;
    sim_stage_init(&stage, &t->b->setup, &t->shot);
    double px_per_m = 1.0 / stage.footprint_m, z = table->plate_z_m, r = table->plate_radius_m;
    struct pc_check_spot *at = t->spots.at;
    spot(&stage, sim_vec(0, 0, z), table->hero_radius_m * px_per_m, &at[PC_CHECK_HERO]);
    spot(&stage, sim_vec(0, -r, z), 0.3 * r * px_per_m, &at[PC_CHECK_FRONT]);
    spot(&stage, sim_vec(0.75 * r, 0, z), 0.18 * r * px_per_m, &at[PC_CHECK_SAUCE]);
    at[PC_CHECK_SURFACE].radius_px = at[PC_CHECK_GREYCARD].radius_px = 12.0;
    if (!sim_place_px(t->b->scene, &t->shot, SIM_PLACE_SURFACE, &at[PC_CHECK_SURFACE].x_px,
                      &at[PC_CHECK_SURFACE].y_px))
        at[PC_CHECK_SURFACE].radius_px = 0.0;
    if (!sim_place_px(t->b->scene, &t->shot, SIM_PLACE_CARD, &at[PC_CHECK_GREYCARD].x_px,
                      &at[PC_CHECK_GREYCARD].y_px))
        at[PC_CHECK_GREYCARD].radius_px = 0.0;
    t->elevation_rad = pc_rad_from_deg(t->b->setup.camera.elevation_deg);
    t->plate_m = r * cos(t->elevation_rad);
}

static void take(struct table *t, struct sim_shot *shot, struct pc_photo *photo)
{
    struct bench *b = t->b;
    if (sim_shoot(b->scene, shot, b->folder, &b->err) != PC_OK ||
        pc_photo_measure(b->reader, shot_path(b, shot), 0, false, photo, &b->err) != PC_OK)
        fail_msg("%s: %s", b->err.place, b->err.text);
}

static void plan(struct table *t, const struct pc_facts *facts)
{
    struct pc_check_plan *plan = &t->plan;
    pc_check_plan_clear(plan);
    plan->shutter_s = facts->shutter_s;
    plan->fnumber = facts->fnumber;
    plan->iso = facts->iso;
    plan->mains_hz = 50.0;
    plan->overhead = t->b->setup.camera.elevation_deg > 80.0;
    plan->parts = &t->b->parts;
    plan->reading = &t->b->reading;
    plan->dials = &t->dials;
}

static void lock(struct table *t)
{
    struct pc_photo photo;
    take(t, &t->shot, &photo);
    plan(t, &photo.facts);
    assert_int_equal(pc_check_look_make(&t->b->ctx, &photo, &t->spots, &t->locked, &t->b->err), PC_OK);
    pc_photo_finish(&photo);
}

static bool open_table(struct table *t, int seed)
{
    struct bench *b;
    memset(t, 0, sizeof *t);
    t->b = b = seeded(seed, still_lamps);
    b->shots = sim_series_job(&b->setup, 1.0, b->shot);
    bench_shoot(b);
    if (bench_parts(b) != PC_OK || bench_read(b, false) != PC_OK) {
        print_message("seed %d has no parts (%s); passed over\n", seed, b->err.text);
        bench_end(b);
        return false;
    }
    sim_shot_held_out(&b->setup, (uint64_t)seed, false, &t->shot);
    pc_reading_dials_now(&b->reading, &t->dials);
    for (int i = 0; i < b->reading.light_count; i++) {
        int light = sim_light_of(b, b->reading.light[i].name);
        t->dials.dial_ratio[i] = t->shot.dial_ratio[light];
        t->dials.kelvin_K[i] = t->shot.kelvin_K[light];
    }
    place_spots(t);
    lock(t);
    // Nobody locks a frame whose hero clips.
    for (int tries = 0; tries < 6 && t->locked.clipped_pct[PC_CHECK_HERO] > 0.2; tries++) {
        pc_check_look_finish(&t->locked);
        t->shot.shutter_thirds--;
        lock(t);
    }
    return true;
}

static void close_table(struct table *t)
{
    pc_check_look_finish(&t->locked);
    bench_end(t->b);
}

static void check(struct table *t, struct sim_shot *shot, bool locked, struct pc_verdict *verdict)
{
    struct bench *b = t->b;
    struct pc_photo photo;
    take(t, shot, &photo);
    if (pc_check_frame(&b->ctx, &photo, &t->spots, locked ? &t->locked : NULL, &t->plan, verdict, &b->err) !=
        PC_OK)
        fail_msg("%s", b->err.text);
    pc_photo_finish(&photo);
    unlink(shot_path(b, shot));
}

// ---- faults ----

// The lamp that gives most at the surface or the hero.
static int main_lamp(const struct table *t)
{
    int best = 0;
    double most = 0.0;
    const struct pc_reading *r = &t->b->reading;
    for (int i = 0; i < r->light_count; i++) {
        double Y = pc_reading_light_Y(r, &t->dials, i, PC_PLACE_HERO) +
                   pc_reading_light_Y(r, &t->dials, i, PC_PLACE_SURFACE);
        if (Y > most) {
            most = Y;
            best = i;
        }
    }
    return sim_light_of(t->b, r->light[best].name);
}

// The optics that make blur grow by so much: the lens as it is, on a sensor of finer pixels.
static void blur(struct table *t, struct sim_shot *shot, double px_per_m, double behind_m)
{
    const struct sim_camera *c = &t->b->setup.camera;
    double f_m = 1e-3 * c->focal_mm, m = f_m / (c->distance_m - f_m);
    shot->fault.blur_px_per_m = px_per_m;
    shot->fault.behind_m = behind_m;
    t->plan.magnification_ratio = m;
    t->plan.pixel_pitch_m = f_m / shot->fnumber * m / c->distance_m / px_per_m;
}

static void tint(struct table *t, struct sim_shot *shot, double mired)
{
    double matrix[3][3], neutral[3], was[3], is[3], xy[2];
    sim_camera_matrix(t->b->scene, matrix, neutral);
    for (int i = 0; i < 2; i++) {
        double xyz[3];
        pc_colour_planck_xy(pc_K_from_mired(200.0 + i * mired), xy);
        pc_colour_xyz_from_xy(xy, 1.0, xyz);
        for (int c = 0; c < 3; c++)
            (i == 0 ? was : is)[c] = matrix[c][0] * xyz[0] + matrix[c][1] * xyz[1] + matrix[c][2] * xyz[2];
    }
    for (int c = 0; c < 3; c++)
        shot->fault.tint_ratio[c] = is[c] / was[c] / (is[1] / was[1]);
}

static void patch(struct table *t, struct sim_shot *shot, enum pc_check_place place, double share,
                  const double ratio[3])
{
    const struct pc_check_spot *at = &t->spots.at[place];
    shot->fault.patch_px[0] = at->x_px;
    shot->fault.patch_px[1] = at->y_px;
    shot->fault.patch_radius_px = at->radius_px * sqrt(share);
    memcpy(shot->fault.patch_ratio, ratio, sizeof shot->fault.patch_ratio);
}

static bool possible(const struct table *t, enum pc_check_kind kind)
{
    const struct sim_table *table = &t->b->setup.table;
    double x_px, y_px;
    bool slanted = t->elevation_rad < pc_rad_from_deg(65.0);
    struct sim_scene *scene = t->b->scene;
    switch (kind) {
    case PC_CHECK_SYNC:
        return false; // a flash of its own, below
    case PC_CHECK_FOCUS:
    case PC_CHECK_DEPTH:
        return slanted;
    case PC_CHECK_WINDOW:
        return table->hero == SIM_HERO_BOWL;
    case PC_CHECK_MOVED:
        return table->napkin.there && sim_place_px(scene, &t->shot, SIM_PLACE_NAPKIN, &x_px, &y_px);
    case PC_CHECK_CAST:
        return t->spots.at[PC_CHECK_GREYCARD].radius_px > 0.0;
    default:
        return true;
    }
}

static void crop_out(struct table *t, double by_px)
{
    int w, h;
    const struct pc_check_spot *hero = &t->spots.at[PC_CHECK_HERO];
    sim_upright_size(&t->b->setup, &w, &h);
    t->plan.crops = 1;
    t->plan.crop[0] = (struct pc_check_crop){"square", (hero->x_px - hero->radius_px + by_px) / w, 0, 1, 1};
}

static void put_fault(struct table *t, enum pc_check_kind kind, double times, uint64_t *r,
                      struct sim_shot *shot)
{
    double harm = pc_check_kind_harm(kind), turn = sim_between(r, 0, 2 * SIM_PI);
    bool one = sim_uniform(r) < 0.5;
    static const double butter[3] = {1.2, 1.1, 0.2};
    switch (kind) {
    case PC_CHECK_EXPOSURE:
        if (one)
            shot->iso /= exp2(times * harm);
        else
            shot->fnumber *= exp2(0.5 * times * harm);
        break;
    case PC_CHECK_LIGHT:
        shot->dial_ratio[main_lamp(t)] *= one ? 0.0 : exp2(-times * harm);
        break;
    case PC_CHECK_SHAKE:
        shot->fault.shake_px[0] = times * harm * cos(turn);
        shot->fault.shake_px[1] = times * harm * sin(turn);
        break;
    case PC_CHECK_FOCUS:
        blur(t, shot, times * harm / (2.0 * t->plate_m), t->plate_m);
        break;
    case PC_CHECK_CLIP:
        patch(t, shot, PC_CHECK_HERO, 0.01 * times * harm, butter);
        break;
    case PC_CHECK_LEVEL:
        shot->fault.gain_ratio = exp2((one && times < 1.2 ? 1.0 : -1.0) * times * harm);
        break;
    case PC_CHECK_DEPTH:
        blur(t, shot, times * harm / (2.0 * t->plate_m), -t->plate_m);
        break;
    case PC_CHECK_BANDS:
        shot->fault.bands = sim_between(r, 3, 12);
        shot->fault.bands_ratio = 0.01 * times * harm;
        shot->fault.bands_phase_rad = turn;
        break;
    case PC_CHECK_MOVED:
        shot->napkin_px[0] = times * harm * cos(turn);
        shot->napkin_px[1] = times * harm * sin(turn);
        break;
    case PC_CHECK_CAST:
        tint(t, shot, (one ? 1.0 : -1.0) * times * harm);
        break;
    case PC_CHECK_WINDOW: {
        struct sim_truth truth;
        const struct pc_check_spot *at = &t->spots.at[PC_CHECK_SAUCE];
        double add[3];
        assert_int_equal(
            sim_truth_disc(t->b->scene, shot, at->x_px, at->y_px, at->radius_px, &truth, &t->b->err), PC_OK);
        for (int c = 0; c < 3; c++)
            add[c] = 3.0 * truth.camera_rgb[c];
        patch(t, shot, PC_CHECK_SAUCE, 0.01 * times * harm, add);
        break;
    }
    case PC_CHECK_CROP:
        crop_out(t, times * harm);
        break;
    case PC_CHECK_SYNC:
    case PC_CHECK_KINDS:
        break;
    }
}

// One picture cannot be out of focus in two ways, nor have two patches.
static bool together(enum pc_check_kind a, enum pc_check_kind b)
{
    bool both_soft =
        (a == PC_CHECK_FOCUS || a == PC_CHECK_DEPTH) && (b == PC_CHECK_FOCUS || b == PC_CHECK_DEPTH);
    bool both_patch =
        (a == PC_CHECK_CLIP || a == PC_CHECK_WINDOW) && (b == PC_CHECK_CLIP || b == PC_CHECK_WINDOW);
    return a != b && !both_soft && !both_patch;
}

static void print_verdict(const char *what, int seed, const struct pc_verdict *v)
{
    print_message("seed %d, %s: \"%s\"", seed, what, v->sentence);
    for (int i = 0; i < v->count; i++)
        print_message(" %s %.2f", pc_check_kind_name(v->finding[i].kind), v->finding[i].over_ratio);
    print_message("\n");
}

static enum pc_check_kind draw_kind(const struct table *t, uint64_t *r, int at)
{
    for (;; at += 1 + (int)(sim_uniform(r) * 5))
        if (possible(t, (enum pc_check_kind)(at % PC_CHECK_KINDS)))
            return (enum pc_check_kind)(at % PC_CHECK_KINDS);
}

static bool fault_is_found(struct table *t, int seed)
{
    uint64_t r = sim_hash((uint64_t)seed, 0xfa17, 0);
    struct sim_shot shot = t->shot;
    struct pc_verdict verdict;
    char what[64];
    shot.noise_seed = sim_next(&r);
    shot.time_s += sim_between(&r, 20, 300);
    snprintf(shot.name, sizeof shot.name, "fault");
    enum pc_check_kind kind = draw_kind(t, &r, seed % PC_CHECK_KINDS);
    double times = sim_between(&r, 1, 2);
    put_fault(t, kind, times, &r, &shot);
    snprintf(what, sizeof what, "%s %.2f", pc_check_kind_name(kind), times);
    if (seed % 3 == 0) {
        enum pc_check_kind other;
        do
            other = draw_kind(t, &r, (int)(sim_uniform(&r) * PC_CHECK_KINDS));
        while (!together(kind, other));
        put_fault(t, other, sim_between(&r, 1, 2), &r, &shot);
        snprintf(what, sizeof what, "%s and %s", pc_check_kind_name(kind), pc_check_kind_name(other));
        kind = other < kind ? other : kind;
    }
    check(t, &shot, true, &verdict);
    bool found = verdict.count > 0 && verdict.finding[0].kind == kind;
    if (!found || getenv("PC_CHECKS_SAY") != NULL)
        print_verdict(what, seed, &verdict);
    return found;
}

static void the_gravest_fault_is_the_sentence(void **state)
{
    (void)state;
    int from, count, found = 0, asked = 0;
    seeds_asked(&from, &count, OWN_FAULTS);
    for (int seed = from; asked < count && seed < from + 2 * count; seed++) {
        struct table t;
        if (!open_table(&t, seed))
            continue;
        asked++;
        found += fault_is_found(&t, seed);
        close_table(&t);
    }
    print_message("faults: %d of %d found\n", found, asked);
    assert_int_equal(asked, count);
    assert_true(found >= (int)floor(FOUND_RATIO * count));
}

static void clean_frames_are_left_in_peace(void **state)
{
    (void)state;
    int from, count, alarms = 0, frames = 0, sets = 0;
    seeds_asked(&from, &count, OWN_CLEAN_SETS);
    for (int seed = from; sets < count && seed < from + 2 * count; seed++) {
        struct table t;
        if (!open_table(&t, seed))
            continue;
        sets++;
        uint64_t r = sim_hash((uint64_t)seed, 0xc1ea, 0);
        for (int i = 0; i < CLEAN_EACH; i++, frames++) {
            struct sim_shot shot = t.shot;
            struct pc_verdict verdict;
            shot.noise_seed = sim_next(&r);
            shot.time_s += sim_between(&r, 20, 300);
            snprintf(shot.name, sizeof shot.name, "clean");
            bool locked = i > 0 || getenv("PC_UNLOCKED") == NULL;
            check(&t, &shot, locked, &verdict);
            if (verdict.count == 0)
                continue;
            alarms++;
            print_verdict(locked ? "clean" : "clean, nothing locked", seed, &verdict);
        }
        close_table(&t);
    }
    print_message("clean frames: %d false alarms in %d\n", alarms, frames);
    assert_int_equal(sets, count);
    assert_true(alarms <= FALSE_ALARMS_RATIO * frames);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_gravest_fault_is_the_sentence),
        cmocka_unit_test(clean_frames_are_left_in_peace),
    };
    if (argc > 1)
        cmocka_set_test_filter(argv[1]);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
