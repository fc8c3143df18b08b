// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "image/align/scene_test.h"

#include <setjmp.h>
#include <unistd.h>
#include <cmocka.h>

static int factor_of_seeds = 1;

// What is promised on sharp frames of SNR 20, at the worst corner.
static const double WITHIN_PX = 0.1;

static struct pc_align random_align(uint64_t *s, double share, int width_px)
{
    return (struct pc_align){.shift_x_px = share * 0.03 * 2 * width_px * (2 * scene_uniform(s) - 1),
                             .shift_y_px = share * 0.03 * 2 * width_px * (2 * scene_uniform(s) - 1),
                             .rotation_rad = share * pc_rad_from_deg(1.0) * (2 * scene_uniform(s) - 1),
                             .scale_ratio = 1.0 + share * 0.01 * (2 * scene_uniform(s) - 1)};
}

// Window alone against window and a panel, or the panel alone.
static void shoot_two(struct pc_ctx *ctx, const struct scene *scene, uint64_t seed, double snr,
                      const struct pc_align *go, struct pc_picture *a, struct pc_picture *b)
{
    struct scene_shot shot = {
        .weight = {1, 0, 0}, .snr = snr, .read_ratio = 0.3, .vignetting = 0.3, .seed = 2 * seed};
    scene_shoot(ctx, scene, &shot, a);
    shot.seed++;
    shot.weight[0] = seed % 3 == 2 ? 0.0 : 0.5;
    shot.weight[1 + seed % 2] = 1.0;
    shot.from_reference = *go;
    scene_shoot(ctx, scene, &shot, b);
}

static int run_rate(int seeds, int width_px, int height_px, double snr, double share, int *covered)
{
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    int within = 0;
    *covered = 0;
    for (int seed = 0; seed < seeds; seed++) {
        struct scene scene;
        uint64_t s = (uint64_t)seed + 1000;
        scene_make(&scene, width_px, height_px, (uint64_t)seed);
        struct pc_align go = random_align(&s, share, width_px), got;
        struct pc_picture a, b;
        shoot_two(&ctx, &scene, (uint64_t)seed, snr, &go, &a, &b);
        struct pc_err err = {0};
        enum pc_status status = pc_align_find(&ctx, &a, &b, &got, &err);
        double off =
            status == PC_OK ? scene_misplaced_px(&got, &go, 2 * width_px, 2 * height_px) : (double)NAN;
        within += off <= WITHIN_PX;
        *covered += status == PC_OK && off <= 2.0 * got.tolerance_px;
        if (!(off <= WITHIN_PX))
            print_message("# seed %d: %.3f px off (tolerance %.3f, used %.2f) %s\n", seed, off,
                          status == PC_OK ? got.tolerance_px : 0.0,
                          status == PC_OK ? got.tiles_used_ratio : 0.0, err.text);
        pc_picture_finish(&a);
        pc_picture_finish(&b);
    }
    print_message("# %d of %d within %.2f px at SNR %.0f, %d within twice their tolerance\n", within, seeds,
                  WITHIN_PX, snr, *covered);
    return within;
}

static void frames_in_different_light_are_laid_within_a_tenth_of_a_pixel(void **state)
{
    (void)state;
    int seeds = 12 * factor_of_seeds, covered, within = run_rate(seeds, 300, 200, 20, 0.3, &covered);
    assert_true(20 * within >= 19 * seeds);
    assert_true(20 * covered >= 19 * seeds);
}

static void the_promised_reach_is_held(void **state)
{
    (void)state;
    int seeds = 6 * factor_of_seeds, covered, within = run_rate(seeds, 300, 200, 20, 1.0, &covered);
    assert_true(20 * within >= 19 * seeds);
}

static void another_view_is_refused(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    for (uint64_t seed = 0; seed < 8 * (uint64_t)factor_of_seeds; seed++) {
        struct scene one, two;
        scene_make(&one, 300, 200, 2 * seed);
        scene_make(&two, 300, 200, 2 * seed + 1);
        struct scene_shot shot = {.weight = {1, 0, 0}, .snr = 20, .seed = seed};
        struct pc_picture a, b;
        scene_shoot(&ctx, &one, &shot, &a);
        scene_shoot(&ctx, &two, &shot, &b);
        struct pc_align got;
        struct pc_err err = {0};
        int status = pc_align_find(&ctx, &a, &b, &got, &err);
        if (status != PC_BAD_INPUT)
            fail_msg("seed %d: laid over another view, used %.2f", (int)seed, got.tiles_used_ratio);
        assert_non_null(strstr(err.text, "same view"));
        assert_string_equal(err.place, "");
        pc_picture_finish(&a);
        pc_picture_finish(&b);
    }
}

static void a_picture_without_detail_is_refused_for_that(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    struct pc_picture a, b;
    uint64_t s = 1;
    assert_int_equal(pc_picture_init(&ctx, &a, 300, 200, 3, NULL), PC_OK);
    assert_int_equal(pc_picture_init(&ctx, &b, 300, 200, 3, NULL), PC_OK);
    a.noise = b.noise = (struct pc_noise){.offset_var = {1e-5, 1e-5, 1e-5}};
    for (size_t i = 0; i < 300 * 200 * 3; i++) {
        a.px[i] = (float)(0.1 + sqrt(1e-5) * scene_gauss(&s));
        b.px[i] = (float)(0.1 + sqrt(1e-5) * scene_gauss(&s));
    }
    struct pc_align got;
    struct pc_err err = {0};
    assert_int_equal(pc_align_find(&ctx, &a, &b, &got, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "too little detail"));
    pc_picture_finish(&b);
    assert_int_equal(pc_picture_init(&ctx, &b, 200, 300, 3, NULL), PC_OK);
    err = (struct pc_err){0};
    assert_int_equal(pc_align_find(&ctx, &a, &b, &got, &err), PC_BAD_INPUT);
    assert_non_null(strstr(err.text, "200 x 300"));
    pc_picture_finish(&a);
    pc_picture_finish(&b);
}

// Far past the promise a frame is refused or laid right, never wrong.
static void past_its_reach_nothing_is_laid_wrong(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    uint64_t s = 9;
    for (int i = 0; i < 12 * factor_of_seeds; i++) {
        struct pc_align far = {.shift_x_px = 120 * scene_uniform(&s) - 60, .scale_ratio = 1.0};
        far.shift_y_px = i % 3 == 0 ? 40 + 60 * scene_uniform(&s) : 0.0;
        far.rotation_rad = i % 3 == 1 ? 0.08 * scene_uniform(&s) : 0.0;
        far.scale_ratio = i % 3 == 2 ? 1.0 + 0.08 * scene_uniform(&s) : 1.0;
        struct scene scene;
        scene_make(&scene, 300, 200, (uint64_t)i + 40);
        struct pc_picture a, b;
        shoot_two(&ctx, &scene, (uint64_t)i, 30, &far, &a, &b);
        struct pc_align got;
        if (pc_align_find(&ctx, &a, &b, &got, NULL) == PC_OK) {
            double off = scene_misplaced_px(&got, &far, 600, 400);
            if (!(off <= 5.0 * WITHIN_PX))
                fail_msg("case %d: %.2f px off", i, off);
        }
        pc_picture_finish(&a);
        pc_picture_finish(&b);
    }
}

static void threads_change_nothing(void **state)
{
    (void)state;
    struct pc_align got[2],
        go = {.shift_x_px = 5.3, .shift_y_px = -2.1, .rotation_rad = 0.003, .scale_ratio = 0.998};
    for (int k = 0; k < 2; k++) {
        struct pc_ctx ctx;
        pc_ctx_init(&ctx, k == 0 ? 1 : 5, 0);
        struct scene scene;
        scene_make(&scene, 300, 200, 7);
        struct pc_picture a, b;
        shoot_two(&ctx, &scene, 7, 20, &go, &a, &b);
        assert_int_equal(pc_align_find(&ctx, &a, &b, &got[k], NULL), PC_OK);
        pc_picture_finish(&a);
        pc_picture_finish(&b);
        assert_int_equal(ctx.held_bytes, 0);
    }
    assert_memory_equal(&got[0], &got[1], sizeof got[0]);
}

// A shot of the moved camera, resampled, against the shot of the camera that stayed: the scene itself is the
// truth.
static void resampling_brings_a_frame_back(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    struct scene scene;
    scene_make(&scene, 300, 200, 3);
    struct pc_align go = {.shift_x_px = 7.1, .shift_y_px = -3.3, .rotation_rad = 0.01, .scale_ratio = 1.006};
    struct scene_shot shot = {.weight = {1, 0, 0}};
    struct pc_picture still, moved, back;
    scene_shoot(&ctx, &scene, &shot, &still);
    shot.from_reference = go;
    scene_shoot(&ctx, &scene, &shot, &moved);
    assert_int_equal(pc_align_resample(&ctx, &moved, &go, &back, NULL), PC_OK);
    double sum = 0.0;
    int n = 0, outside = 0;
    for (size_t i = 0; i < 300 * 200; i++) {
        if (back.clipped[i]) {
            outside += back.clipped[i] == 7 && back.px[3 * i] == 0.0f;
            continue;
        }
        double off = (double)back.px[3 * i + 1] / (double)still.px[3 * i + 1] - 1.0;
        sum += off * off;
        n++;
    }
    assert_int_equal(n + outside, 300 * 200);
    assert_in_range(outside, 300, 6000);
    // The finest waves are 4.5 of these pixels long, where the kernel loses up to a tenth of their 3 % each.
    if (!(sqrt(sum / n) < 0.01))
        fail_msg("rms %.4f", sqrt(sum / n));
    pc_picture_finish(&still);
    pc_picture_finish(&moved);
    pc_picture_finish(&back);
}

static void whole_shifts_copy_and_clipping_spreads(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 2, 0);
    struct pc_picture a, b;
    assert_int_equal(pc_picture_init(&ctx, &a, 40, 30, 3, NULL), PC_OK);
    a.bin = 2;
    a.full_width_px = 80;
    a.full_height_px = 60;
    a.noise.offset_var[1] = 3e-6;
    for (int i = 0; i < 40 * 30 * 3; i++)
        a.px[i] = (float)(i % 97);
    a.clipped[10 * 40 + 20] = 2;
    struct pc_align by = {
        .shift_x_px = 6.0, .shift_y_px = -4.0, .scale_ratio = 1.0}; // 3 right, 2 up in these
    assert_int_equal(pc_align_resample(&ctx, &a, &by, &b, NULL), PC_OK);
    assert_int_equal(b.full_width_px, 80);
    assert_true(b.noise.offset_var[1] == 3e-6);
    for (int y = 0; y < 30; y++)
        for (int x = 0; x < 40; x++) {
            bool in = x + 3 < 40 && y >= 2;
            size_t to = (size_t)y * 40 + (size_t)x, from = ((size_t)y - 2) * 40 + (size_t)x + 3;
            assert_int_equal(b.clipped[to], in ? a.clipped[from] : 7);
            for (size_t c = 0; c < 3; c++)
                assert_true(b.px[3 * to + c] == (in ? a.px[3 * from + c] : 0.0f));
        }
    pc_picture_finish(&b);
    by.shift_x_px = 5.0; // half a pixel: four columns see the clipped one, one row does
    assert_int_equal(pc_align_resample(&ctx, &a, &by, &b, NULL), PC_OK);
    int marked = 0;
    for (int x = 0; x < 40; x++)
        marked += b.clipped[12 * 40 + x] == 2;
    assert_int_equal(marked, 4);
    pc_picture_finish(&a);
    pc_picture_finish(&b);
    by.scale_ratio = (double)NAN;
    assert_int_equal(pc_picture_init(&ctx, &a, 40, 30, 1, NULL), PC_OK);
    assert_int_equal(pc_align_resample(&ctx, &a, &by, &b, NULL), PC_BAD_INPUT);
    pc_picture_finish(&a);
}

int main(int argc, char **argv)
{
    if (argc > 1)
        factor_of_seeds = (int)strtol(argv[1], NULL, 10);
    if (argc > 2)
        cmocka_set_test_filter(argv[2]);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(frames_in_different_light_are_laid_within_a_tenth_of_a_pixel),
        cmocka_unit_test(the_promised_reach_is_held),
        cmocka_unit_test(another_view_is_refused),
        cmocka_unit_test(a_picture_without_detail_is_refused_for_that),
        cmocka_unit_test(past_its_reach_nothing_is_laid_wrong),
        cmocka_unit_test(threads_change_nothing),
        cmocka_unit_test(resampling_brings_a_frame_back),
        cmocka_unit_test(whole_shifts_copy_and_clipping_spreads),
    };
    return cmocka_run_group_tests_name("align", tests, NULL, NULL);
}
