// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "image/picture/meter.h"
#include "image/picture/picture.h"
#include "tests/monte_carlo.h"

static void near(double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("got %.12g, want %.12g within %g", got, want, within);
}

// A seeded source of noise (xorshift64*, Vigna 2016).
static double draw(uint64_t *seed)
{
    *seed ^= *seed >> 12;
    *seed ^= *seed << 25;
    *seed ^= *seed >> 27;
    return ((double)(*seed * 2685821657736338717u >> 11) + 0.5) / 9007199254740992.0;
}

static double draw_normal(uint64_t *seed) // Box and Muller
{
    double radius = sqrt(-2.0 * log(draw(seed)));
    return radius * cos(2.0 * PC_PI * draw(seed));
}

static struct pc_ctx ctx;

static struct pc_picture made(int width, int height, int channels)
{
    struct pc_picture picture;
    assert_int_equal(pc_picture_init(&ctx, &picture, width, height, channels, NULL), PC_OK);
    return picture;
}

static void meter_meets_the_standards(void **state)
{
    (void)state;
    // 5000 lx on an 18 % card are 286.479 cd/m2. A reflected-light meter (K 12.5, ISO 2720) then asks for
    // N^2/t = L S / K, and there the sensor is at q K / 78 = 0.104167 of saturation at any speed.
    for (double iso = 50; iso <= 6400; iso *= 2)
        for (double fnumber = 1.4; fnumber < 23; fnumber *= 1.5) {
            double shutter_s = fnumber * fnumber * 12.5 / (286.4788976 * iso);
            near(pc_meter_lx(0.65 * 12.5 / 78.0, shutter_s, fnumber, iso, 0.18), 5000, 1e-4);
        }
    // The same scene by EV: EV100 11.1623 is f/8 at 64 / 2^11.1623 s.
    near(pc_meter_lx(0.104167, 64.0 / exp2(11.1623), 8, 100, 0.18), 5000, 0.5);
    // 4096 cd/m2 at f/16, 1/125 s expose the sensor to 0.0832 lx s: of 0.78 lx s at ISO 100.
    near(pc_meter_lx(0.0832 / 0.78, 1.0 / 125, 16, 100, 0.18), PC_PI * 4096 / 0.18, 0.001 * 71488);
    near(pc_meter_tolerance_ev, 0.3, 0);
}

// x: stops that a sensor is rated beside the truth, and that the meter it is tied to and its card leave.
static bool lux_again(const void *given, const double x[], double y[])
{
    y[0] = *(const double *)given * exp2(x[0]) * exp2(x[1]);
    return true;
}

static void lux_are_good_to_what_they_say(void **state)
{
    (void)state;
    static const double within_ev[][2] = {{0.3, 0}, {0, 0.1}, {0, 0.2}, {0.3, 0.1}};
    for (size_t i = 0; i < PC_COUNT(within_ev); i++) {
        double lx = 750, at[] = {0, 0};
        double stated = pc_meter_lx_tolerance(lx, hypot(within_ev[i][0], within_ev[i][1]));
        mc_judge("lux", lux_again, &lx, 2, at, within_ev[i], 1, &stated);
    }
}

static void init_counts_and_refuses(void **state)
{
    (void)state;
    struct pc_picture picture;
    struct pc_err err = {0};
    size_t before = ctx.held_bytes;
    assert_int_equal(pc_picture_init(&ctx, &picture, 0, 10, 3, &err), PC_BAD_INPUT);
    assert_null(picture.px);
    struct pc_ctx small;
    pc_ctx_init(&small, 1, 100000);
    assert_int_equal(pc_picture_init(&small, &picture, 100, 100, 3, NULL), PC_NO_MEMORY);
    assert_int_equal(pc_picture_init(&small, &picture, 1 << 20, 1 << 20, 3, NULL), PC_NO_MEMORY);
    assert_int_equal(pc_picture_init(&small, &picture, 92, 90, 3, NULL),
                     PC_NO_MEMORY); // pixels fit, mask does not
    assert_int_equal(small.held_bytes, 0);
    assert_null(picture.px);
    pc_picture_finish(&picture);
    picture = made(70, 50, 3);
    assert_int_equal(picture.full_width_px, 70);
    assert_int_equal(picture.bin, 1);
    near(pc_picture_clipped_ratio(&picture), 0, 0);
    for (int i = 0; i < 7; i++)
        picture.clipped[i * 300] = (uint8_t)(1 << i % 3);
    near(pc_picture_clipped_ratio(&picture), 7 / 3500.0, 1e-15);
    pc_picture_finish(&picture);
    pc_picture_finish(NULL);
    assert_int_equal(ctx.held_bytes, before);
}

static void level_reads_a_disc(void **state)
{
    (void)state;
    struct pc_picture picture = made(200, 120, 3);
    picture.bin = 2;
    picture.full_width_px = 400;
    picture.full_height_px = 240;
    for (int y = 0; y < 120; y++)
        for (int x = 0; x < 200; x++)
            for (int c = 0; c < 3;
                 c++) // a ramp in full-resolution pixels: its mean over a disc is that at the centre
                picture.px[(y * 200 + x) * 3 + c] = (float)(0.1 * (c + 1) + 0.001 * (2 * x + 1));
    struct pc_level level;
    pc_picture_level(&picture, 160, 100, 40, NULL, &level);
    for (int c = 0; c < 3; c++)
        near(level.value[c], 0.1 * (c + 1) + 0.160, 1e-6);
    near(level.pixels, PC_PI * 20 * 20, 12); // Gauss's circle
    near(level.clipped_ratio, 0, 0);
    // Half of it at the picture's edge: the mean of x over a half disc is 4 r / (3 pi).
    pc_picture_level(&picture, 0, 120, 40, NULL, &level);
    near(level.value[0], 0.1 + 0.001 * 4 * 40 / (3 * PC_PI), 2e-4);
    // Smaller than a pixel: the one that holds the place.
    pc_picture_level(&picture, 161.5, 100.2, 0, NULL, &level);
    assert_int_equal(level.pixels, 1);
    near(level.value[0], 0.1 + 0.001 * 161, 1e-6);
    // Outside, or nowhere.
    static const double bad[][2] = {{-1e300, 5}, {1e300, 5}, {500, 100}, {(double)NAN, 3}, {100, 1000}};
    for (size_t i = 0; i < PC_COUNT(bad); i++) {
        pc_picture_level(&picture, bad[i][0], bad[i][1], 20, NULL, &level);
        assert_int_equal(level.pixels, 0);
        assert_true(isnan(level.value[0]) && isnan(level.se[2]));
    }
    pc_picture_finish(&picture);
}

static void level_leaves_out_what_it_must(void **state)
{
    (void)state;
    struct pc_picture picture = made(100, 100, 1);
    uint8_t *leave_out = calloc(1, 100 * 100);
    assert_non_null(leave_out);
    for (int i = 0; i < 100 * 100; i++) {
        bool left = i % 100 < 50, top = i / 100 < 50;
        picture.px[i] = left ? (top ? 1.0f : 0.25f) : 9.0f;
        picture.clipped[i] = left && top;
        leave_out[i] = !left;
    }
    struct pc_level level;
    pc_picture_level(&picture, 50, 50, 30, leave_out, &level);
    near(level.clipped_ratio, 0.5, 0.0); // of what is not left out; the disc is even about the place
    for (int c = 0; c < 3; c++)          // one channel stands for all
        near(level.value[c], 0.25, 1e-12);
    near(level.se[0], 0, 1e-12);
    // The noise model holds where the scatter found is less.
    picture.noise.offset_var[0] = 1e-4;
    picture.noise.per_signal_var[0] = 4e-4;
    pc_picture_level(&picture, 50, 50, 30, leave_out, &level);
    near(level.se[0], sqrt((1e-4 + 4e-4 * 0.25) / level.pixels), 1e-12);
    memset(leave_out, 1, 100 * 100);
    pc_picture_level(&picture, 50, 50, 30, leave_out, &level);
    assert_int_equal(level.pixels, 0);
    near(level.clipped_ratio, 0, 0);
    free(leave_out);
    pc_picture_finish(&picture);
}

// Over many discs of pure noise the means scatter as the standard errors say.
static void level_errors_are_true(void **state)
{
    (void)state;
    struct pc_picture picture = made(400, 400, 1);
    uint64_t seed = 7;
    for (int i = 0; i < 400 * 400; i++)
        picture.px[i] = (float)(0.4 + 0.03 * draw_normal(&seed));
    double chi2 = 0;
    int count = 0;
    for (int y = 10; y < 400; y += 20)
        for (int x = 10; x < 400; x += 20, count++) {
            struct pc_level level;
            pc_picture_level(&picture, x, y, 9, NULL, &level);
            near(level.se[0], 0.03 / sqrt(level.pixels), 0.25 * level.se[0]);
            chi2 += pow((level.value[0] - 0.4) / level.se[0], 2);
        }
    near(chi2 / count, 1.0, 0.25); // 400 discs: one standard deviation is 0.07
    pc_picture_finish(&picture);
}

// Scenes for the noise fits, 0..1 in light. Each has shading; what else they hold grows harder.
enum scene { SCENE_RAMP, SCENE_PATCHES, SCENE_TABLE, SCENES };

static double scene_light(enum scene scene, double x, double y) // x, y in 0..1
{
    double shade = 0.55 + 0.4 * cos(2.0 * x + y);
    switch (scene) {
    case SCENE_RAMP:
        return 0.01 + 0.85 * x;
    case SCENE_PATCHES: { // a chart of plain steps
        int patch = (int)(6 * x) + 6 * (int)(4 * y);
        return shade * exp2(-0.28 * patch);
    }
    default: { // weave on three fifths of it, a plain plate, a dark plain board
        double r = hypot(x - 0.45, y - 0.5);
        if (r < 0.25)
            return shade * 0.85;
        if (y > 0.8)
            return shade * 0.05;
        return shade * (0.35 + 0.08 * sin(900 * x) * sin(700 * y) + 0.05 * sin(140 * x + 60 * y));
    }
    }
}

struct sensor {
    double offset_var, per_signal_var;
};

// How a frame was taken: the gain on its light, whether the camera moved, and whether a quarter of the set
// did.
struct take {
    double gain, shift_px;
    bool moved;
};

// A frame of a scene, clipped at 1.
static struct pc_picture frame(enum scene scene, struct take take, const struct sensor *sensor,
                               uint64_t *seed)
{
    static const double colour[3] = {0.6, 1.0, 0.75};
    struct pc_picture picture = made(360, 240, 3);
    for (int y = 0; y < 240; y++)
        for (int x = 0; x < 360; x++) {
            double u = (x + 0.5 + take.shift_px) / 360, v = (y + 0.5) / 240;
            double shown = scene_light(scene, take.moved && u > 0.5 && v > 0.5 ? u - 0.13 : u, v);
            for (int c = 0; c < 3; c++) {
                double light = take.gain * colour[c] * shown;
                double value =
                    light + sqrt(sensor->offset_var + sensor->per_signal_var * light) * draw_normal(seed);
                if (value >= 1.0)
                    picture.clipped[y * 360 + x] |= (uint8_t)(1 << c);
                picture.px[(y * 360 + x) * 3 + c] = (float)fmin(value, 1.0);
            }
        }
    return picture;
}

// Worst ratio, either way, of the fitted to the true variance over levels of the scene.
static double worst_ratio(const struct pc_noise *noise, const struct sensor *sensor, double least,
                          double most)
{
    double worst = 1;
    for (int c = 0; c < 3; c++)
        for (double level = least; level <= most; level *= 1.3) {
            double fit = noise->offset_var[c] + noise->per_signal_var[c] * level;
            double is = sensor->offset_var + sensor->per_signal_var * level;
            worst = fmax(worst, fmax(fit / is, is / fit));
        }
    return worst;
}

// Sensors as raw frames have them, in units of saturation: a clean one (30,000 electrons, 3 of read noise,
// binned), the same at high ISO, and one that hears nothing but its own read noise.
static const struct sensor SENSORS[] = {{1e-8, 8e-6}, {4e-6, 3e-4}, {1e-5, 1e-6}};

// The promise of picture.h, and what the fits are known to do.
static const double ONE_WITHIN = 1.5, PAIR_WITHIN = 1.15;

static void noise_is_found_in_one_frame(void **state)
{
    (void)state;
    for (size_t s = 0; s < PC_COUNT(SENSORS); s++)
        for (int scene = 0; scene < SCENES; scene++)
            for (double gain = 0.7; gain < 2; gain *= 2) { // the brighter one is clipped in part
                uint64_t seed = 100 + s * 10 + (uint64_t)scene;
                struct pc_picture picture =
                    frame((enum scene)scene, (struct take){.gain = gain}, &SENSORS[s], &seed);
                pc_picture_noise_from_one(&picture);
                near(worst_ratio(&picture.noise, &SENSORS[s], 0.03, 0.6), 1, ONE_WITHIN - 1);
                pc_picture_finish(&picture);
            }
}

static void noise_is_found_in_a_pair(void **state)
{
    (void)state;
    static const struct take second[] = {{.gain = 0.65}, {.gain = 1.3, .moved = true}, {.gain = 0.3}};
    for (size_t s = 0; s < PC_COUNT(SENSORS); s++)
        for (int scene = 0; scene < SCENES; scene++) {
            uint64_t seed = 300 + s * 100 + (uint64_t)scene * 10;
            struct pc_picture a = frame((enum scene)scene, (struct take){.gain = 0.6}, &SENSORS[s], &seed);
            struct take take = second[(s + (size_t)scene) % PC_COUNT(second)];
            struct pc_picture b = frame((enum scene)scene, take, &SENSORS[s], &seed);
            assert_true(pc_picture_noise_from_pair(&a, &b));
            near(worst_ratio(&a.noise, &SENSORS[s], 0.03, 0.6), 1, PAIR_WITHIN - 1);
            assert_memory_equal(&a.noise, &b.noise, sizeof a.noise);
            pc_picture_finish(&a);
            pc_picture_finish(&b);
        }
    // A twentieth of a pixel apart, detail leaves a trace in the weave, not in the fit.
    uint64_t seed = 5;
    struct pc_picture a = frame(SCENE_TABLE, (struct take){.gain = 0.6}, &SENSORS[1], &seed);
    struct pc_picture b =
        frame(SCENE_TABLE, (struct take){.gain = 0.6, .shift_px = 0.05}, &SENSORS[1], &seed);
    assert_true(pc_picture_noise_from_pair(&a, &b));
    near(worst_ratio(&a.noise, &SENSORS[1], 0.03, 0.6), 1, PAIR_WITHIN - 1);
    pc_picture_finish(&a);
    pc_picture_finish(&b);
}

static void pairs_without_anything_in_common_are_refused(void **state)
{
    (void)state;
    uint64_t seed = 3;
    struct pc_picture a = frame(SCENE_RAMP, (struct take){.gain = 0.6}, &SENSORS[1], &seed);
    struct pc_picture other = frame(SCENE_PATCHES, (struct take){.gain = 1}, &SENSORS[1], &seed);
    struct pc_picture small = made(359, 240, 3), grey = made(360, 240, 1), black = made(360, 240, 3);
    struct pc_noise before = {.offset_var = {7}};
    a.noise = before;
    assert_false(pc_picture_noise_from_pair(&a, &other));
    assert_false(pc_picture_noise_from_pair(&a, &small));
    assert_false(pc_picture_noise_from_pair(&a, &grey));
    assert_false(pc_picture_noise_from_pair(&a, &black));
    assert_false(pc_picture_noise_from_pair(&black, &a));
    assert_memory_equal(&a.noise, &before, sizeof before);
    memset(other.clipped, 7, 360 * 240);
    assert_false(pc_picture_noise_from_pair(&a, &other));
    // Nor can one frame tell without grain, or when all of it is clipped, or when it is smaller than a
    // sample.
    struct pc_picture tiny = made(5, 4, 3);
    struct pc_picture *const mute[] = {&black, &other, &tiny};
    for (size_t i = 0; i < PC_COUNT(mute); i++) {
        mute[i]->noise = before;
        pc_picture_noise_from_one(mute[i]);
        near(mute[i]->noise.offset_var[0] + mute[i]->noise.per_signal_var[0], 0, 0);
    }
    struct pc_picture *const all[] = {&a, &other, &small, &grey, &black, &tiny};
    for (size_t i = 0; i < PC_COUNT(all); i++)
        pc_picture_finish(all[i]);
}

static double draw_electrons(uint64_t *seed, double mean) // Poisson; its normal limit beyond 60
{
    if (mean > 60)
        return fmax(round(mean + sqrt(mean) * draw_normal(seed)), 0.0);
    double product = draw(seed), least = exp(-mean);
    int count = 0;
    for (; product > least; count++)
        product *= draw(seed);
    return count;
}

// The sensor of EMVA 1288 by electrons: K = 0.25 DN each, 2 of read noise, whole DN. Its linear model by
// hand: var = K^2 s_d^2 + 1/12 + K (mu - mu_dark), and SNR at a pixel, at 10, 100, 1000 and 10000 electrons.
static void a_sensor_counted_in_electrons_is_found(void **state)
{
    (void)state;
    static const double published[4][3] = {
        {10, .95833, 2.55377}, {100, 6.58333, 9.74355}, {1000, 62.8333, 31.5388}, {10000, 625.333, 99.9733}};
    struct pc_picture frames[2];
    uint64_t seed = 44;
    for (int f = 0; f < 2; f++) {
        frames[f] = made(320, 320, 1);
        for (int i = 0; i < 320 * 320; i++) {
            double electrons = draw_electrons(&seed, exp2(3.0 + 10.6 * (i % 320) / 320.0));
            frames[f].px[i] = (float)round(0.25 * (electrons + 2.0 * draw_normal(&seed)));
        }
    }
    assert_true(pc_picture_noise_from_pair(&frames[0], &frames[1]));
    near(frames[0].noise.per_signal_var[0], 0.25, 0.05 * 0.25);
    for (int i = 0; i < 4; i++) {
        double level = 0.25 * published[i][0];
        double var = frames[0].noise.offset_var[0] + frames[0].noise.per_signal_var[0] * level;
        near(var / published[i][1], 1.0, PAIR_WITHIN - 1);
        // The true model through a reading of one pixel.
        frames[1].noise.offset_var[0] = 0.25 * 0.25 * 4 + 1.0 / 12;
        frames[1].noise.per_signal_var[0] = 0.25;
        frames[1].px[0] = (float)level;
        struct pc_level read;
        pc_picture_level(&frames[1], 0.5, 0.5, 0, NULL, &read);
        near(read.value[0] / read.se[0], published[i][2], 1e-4 * published[i][2]);
    }
    pc_picture_finish(&frames[0]);
    pc_picture_finish(&frames[1]);
}

static int set_up(void **state)
{
    (void)state;
    pc_ctx_init(&ctx, 1, (size_t)256 << 20);
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(meter_meets_the_standards),
        cmocka_unit_test(lux_are_good_to_what_they_say),
        cmocka_unit_test(init_counts_and_refuses),
        cmocka_unit_test(level_reads_a_disc),
        cmocka_unit_test(level_leaves_out_what_it_must),
        cmocka_unit_test(level_errors_are_true),
        cmocka_unit_test(noise_is_found_in_one_frame),
        cmocka_unit_test(noise_is_found_in_a_pair),
        cmocka_unit_test(pairs_without_anything_in_common_are_refused),
        cmocka_unit_test(a_sensor_counted_in_electrons_is_found),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
