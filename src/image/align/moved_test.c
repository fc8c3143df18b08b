// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "image/align/scene_test.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

enum { WIDTH = 300, HEIGHT = 200 };

// One pair of ambient frames: what differs between them is drawn from the seed.
struct trial {
    double nudge_px;
    bool plain;      // the napkin has no stripes
    double slide_px; // soft shadow edges slide
    double noise_told;
    double misregistered_px;
    bool lights; // after is lit by a panel beside the window
};

static void set_up(const struct trial *trial, uint64_t seed, struct pc_ctx *ctx, struct scene *scene,
                   struct pc_picture *before, struct pc_picture *after, double *snr)
{
    uint64_t s = seed * 977 + 3;
    scene_make(scene, WIDTH, HEIGHT, seed);
    // Structure needs some area to be told by: napkins of 2 to 5 % here, of 5 to 10 % between lights.
    scene_add_napkin(scene, (trial->lights ? 0.05 : 0.02) + (trial->lights ? 0.05 : 0.03) * scene_uniform(&s),
                     seed);
    if (trial->plain)
        scene->stripe_depth = 0.0;
    *snr = 12.0 * pow(10.0, scene_uniform(&s)); // 12 to 120
    double level = 0.77 + 0.5 * scene_uniform(&s), turn = 2.0 * PC_PI * scene_uniform(&s);
    struct scene_shot shot = {.weight = {1, 0, 0},
                              .snr = *snr,
                              .read_ratio = 0.5,
                              .vignetting = 0.4,
                              .noise_told = trial->noise_told,
                              .seed = 2 * seed};
    scene_shoot(ctx, scene, &shot, before);
    shot.seed++;
    shot.weight[0] = level;
    if (trial->lights)
        shot.weight[1 + seed % 2] = 1.0;
    shot.drift_x = 0.12 * (2 * scene_uniform(&s) - 1);
    shot.drift_y = 0.12 * (2 * scene_uniform(&s) - 1);
    shot.shadow_dx_px = trial->slide_px * (2 * scene_uniform(&s) - 1);
    shot.napkin_dx_px = trial->nudge_px * cos(turn);
    shot.napkin_dy_px = trial->nudge_px * sin(turn);
    shot.from_reference = (struct pc_align){.shift_x_px = trial->misregistered_px * cos(turn),
                                            .shift_y_px = trial->misregistered_px * sin(turn),
                                            .scale_ratio = 1.0};
    scene_shoot(ctx, scene, &shot, after);
}

struct tally {
    int found, false_found, covered, by_known, by_right;
};

static bool inside(const struct scene *scene, const struct pc_moved *m)
{
    return fabs(m->x_px - WIDTH - scene->napkin_x_px) < 0.5 * (m->width_px + scene->napkin_width_px) &&
           fabs(m->y_px - HEIGHT - scene->napkin_y_px) < 0.5 * (m->height_px + scene->napkin_height_px);
}

// Share of the napkin that leave_out covers.
static double covered(const struct scene *scene, const uint8_t *leave_out)
{
    int in = 0, out = 0;
    for (int y = 0; y < HEIGHT; y++)
        for (int x = 0; x < WIDTH; x++) {
            double dx = 2.0 * x + 1.0 - WIDTH - scene->napkin_x_px,
                   dy = 2.0 * y + 1.0 - HEIGHT - scene->napkin_y_px;
            if (fabs(dx) > 0.5 * scene->napkin_width_px || fabs(dy) > 0.5 * scene->napkin_height_px)
                continue;
            in++;
            out += leave_out[y * WIDTH + x] != 0;
        }
    return in > 0 ? (double)out / in : 1.0;
}

static struct tally run(const char *what, const struct trial *trial, uint64_t first, int seeds)
{
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    struct tally tally = {0};
    for (uint64_t seed = first; seed < first + (uint64_t)seeds; seed++) {
        struct scene scene;
        struct pc_picture before, after;
        double snr;
        set_up(trial, seed, &ctx, &scene, &before, &after, &snr);
        static uint8_t leave_out[WIDTH * HEIGHT];
        memset(leave_out, 0, sizeof leave_out);
        struct pc_moved moved[PC_MOVED_MAX];
        int count = 0;
        enum pc_status status =
            trial->lights
                ? pc_align_moved_between_lights(&ctx, &before, &after, 0.1, leave_out, moved, &count, NULL)
                : pc_align_moved(&ctx, &before, &after, 0.1, leave_out, moved, &count, NULL);
        assert_int_equal(status, PC_OK);
        bool hit = false;
        for (int i = 0; i < count; i++) {
            bool on = trial->nudge_px > 0.0 && inside(&scene, &moved[i]);
            if (on && !isnan(moved[i].by_px)) {
                tally.by_known++;
                tally.by_right += fabs(moved[i].by_px - trial->nudge_px) < 1.0;
            }
            if (!on)
                print_message("# %s seed %d SNR %.0f: false at %.0f,%.0f (%.0f x %.0f)\n", what, (int)seed,
                              snr, moved[i].x_px, moved[i].y_px, moved[i].width_px, moved[i].height_px);
            hit |= on;
            tally.false_found += !on;
        }
        tally.found += hit;
        tally.covered += covered(&scene, leave_out) > 0.98;
        if (trial->nudge_px > 0.0 && !hit)
            print_message("# %s seed %d SNR %.0f: missed (stripes %.2f, %.0f px, albedo %.2f)\n", what,
                          (int)seed, snr, scene.stripe_depth, scene.stripe_px, scene.napkin_albedo);
        pc_picture_finish(&before);
        pc_picture_finish(&after);
    }
    print_message("# %s: found %d, covered %d, by known %d, right %d, false %d, of %d\n", what, tally.found,
                  tally.covered, tally.by_known, tally.by_right, tally.false_found, seeds);
    return tally;
}

static int seeds_wanted = 5;

static void a_nudged_napkin_is_found(void **state)
{
    (void)state;
    struct trial trial = {.nudge_px = 4, .slide_px = 1, .noise_told = 1, .misregistered_px = 0.05};
    int seeds = seeds_wanted;
    struct tally t = run("nudged", &trial, 0, seeds);
    assert_true(20 * t.found >= 19 * seeds);
    assert_true(20 * t.covered >= 18 * seeds);
    assert_int_equal(t.false_found, 0);
    assert_true(10 * t.by_right >= 8 * t.by_known);
}

static void nothing_is_found_where_nothing_moved(void **state)
{
    (void)state;
    static const double told[] = {1.0, 1.5, 1.0 / 1.5};
    for (size_t i = 0; i < PC_COUNT(told); i++) {
        struct trial trial = {.slide_px = 2, .noise_told = told[i], .misregistered_px = 0.1};
        struct tally t = run("clean", &trial, 1000 + 1000 * i, seeds_wanted);
        assert_int_equal(t.false_found, 0);
    }
}

static void between_lights_a_napkin_is_found_and_shadows_are_not(void **state)
{
    (void)state;
    struct trial nudged = {.nudge_px = 6, .noise_told = 1, .misregistered_px = 0.05, .lights = true};
    struct trial clean = {.noise_told = 1, .misregistered_px = 0.1, .lights = true};
    struct tally t = run("nudged between lights", &nudged, 5000, seeds_wanted);
    assert_int_equal(t.false_found, 0);
    assert_true(2 * t.found >= seeds_wanted);
    t = run("clean between lights", &clean, 6000, seeds_wanted);
    assert_int_equal(t.false_found, 0);
}

int main(int argc, char **argv)
{
    if (argc > 1)
        seeds_wanted = (int)strtol(argv[1], NULL, 10);
    if (argc > 2)
        cmocka_set_test_filter(argv[2]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_nudged_napkin_is_found),
        cmocka_unit_test(nothing_is_found_where_nothing_moved),
        cmocka_unit_test(between_lights_a_napkin_is_found_and_shadows_are_not),
    };
    return cmocka_run_group_tests_name("moved", tests, NULL, NULL);
}
