// SPDX-License-Identifier: Apache-2.0
// Frames of a rolling shutter under a pulsing lamp, made photosite by photosite, and what is found in them.
// Arguments say how many frames of each kind (8 unless said), and how far their seeds lie from the suite's.
#include "image/camera/mains_bands.h"

#include "base/units.h"
#include "image/camera/mains.h"
#include "tests/monte_carlo.h"

enum { WIDTH = 600, HEIGHT = 480 }; // photosites; the picture has half as many each way

static int frames_of_each = 8;
static uint64_t seeds_on = 0;

struct shot {
    uint64_t seed;
    double modulation, hz, phase; // of the lamp
    double readout_s, shutter_s;
    bool cloth;
    double turned_rad, thread_px, striped; // of the cloth
    double nudge_px;                       // the camera against the first frame
    double ambient_drift;                  // left to right, as the sun moves
    bool upright;                          // the camera held upright: the picture is turned (orientation 6)
};

static double even(uint64_t *state, double from, double to)
{
    return from + (to - from) * mc_uniform(state);
}

static double thread_thickness(int64_t thread, uint64_t seed)
{
    uint64_t state = seed + (uint64_t)thread * 7919u;
    return mc_normal(&state);
}

// A plain weave with threads of uneven thickness, and stripes across some.
static double cloth_ratio(const struct shot *shot, double x, double y)
{
    double u = (x * cos(shot->turned_rad) + y * sin(shot->turned_rad)) / shot->thread_px;
    double v = (y * cos(shot->turned_rad) - x * sin(shot->turned_rad)) / shot->thread_px;
    double weave = sin(PC_PI * u) * sin(PC_PI * v);
    double uneven = thread_thickness((int64_t)floor(u), shot->seed / 2) +
                    thread_thickness((int64_t)floor(v), shot->seed / 2 + 99);
    return 1.0 + 0.25 * weave + 0.03 * uneven + shot->striped * (sin(PC_PI * v / 5) > 0 ? 0.2 : 0.0);
}

// The lamp summed over the time that a row is open; light 1 in the mean.
static double lamp_over_row(const struct shot *shot, int row)
{
    double from = 2 * PC_PI * shot->hz * shot->readout_s * row / HEIGHT + shot->phase;
    double span = 2 * PC_PI * shot->hz * shot->shutter_s;
    return 1.0 + shot->modulation * (cos(from) - cos(from + span)) / span;
}

static double photosite(const struct shot *shot, double light, double row_noise_e, int x, int y,
                        uint64_t *state)
{
    static const double filter[2][2] = {{0.55, 1.0}, {1.0, 0.7}}; // RGGB
    double dx = (x - WIDTH / 2.0) / WIDTH, dy = (y - HEIGHT / 2.0) / WIDTH;
    double shade = 1.0 - 0.5 * (dx * dx + dy * dy) + 0.2 * dx - 0.1 * dy + shot->ambient_drift * dx;
    double reflects = shot->cloth ? cloth_ratio(shot, x + shot->nudge_px, y + 0.6 * shot->nudge_px) : 1.0;
    double e = 4000 * filter[y & 1][x & 1] * shade * reflects * light;
    return (e + sqrt(e + 25.0) * mc_normal(state) + row_noise_e) / 20000.0;
}

static void expose(struct pc_ctx *ctx, const struct shot *shot, struct pc_picture *picture)
{
    struct pc_err err = {0};
    int wide = WIDTH / 2, high = HEIGHT / 2;
    if (pc_picture_init(ctx, picture, shot->upright ? high : wide, shot->upright ? wide : high, 3, &err) !=
        PC_OK)
        fail_msg("%s", err.text);
    picture->bin = 2;
    picture->full_width_px = 2 * picture->width_px;
    picture->full_height_px = 2 * picture->height_px;
    uint64_t state = shot->seed * 77 + 5;
    for (int y = 0; y < HEIGHT; y++) {
        double light = lamp_over_row(shot, y), row_noise_e = 0.5 * mc_normal(&state);
        for (int x = 0; x < WIDTH; x++) {
            int c = (x & 1) + (y & 1), i = x / 2, j = y / 2;
            // Orientation 6: the sensor's first row is at the right of the picture.
            int at = shot->upright ? i * picture->width_px + high - 1 - j : j * wide + i;
            double value = photosite(shot, light, row_noise_e, x, y, &state) / (c == 1 ? 2 : 1);
            picture->px[3 * at + c] += (float)value;
        }
    }
}

// A frame whose bands are depth deep.
static struct shot draw(uint64_t seed, double depth)
{
    uint64_t state = seed;
    struct shot shot = {.seed = seed,
                        .hz = even(&state, 0, 1) < 0.5 ? 100 : 120,
                        .phase = even(&state, 0, 2 * PC_PI),
                        .readout_s = even(&state, 0.02, 0.2),
                        .shutter_s = 1 / even(&state, 150, 1500),
                        .turned_rad = pc_rad_from_deg(even(&state, -4, 4)),
                        .thread_px = even(&state, 3, 12),
                        .striped = even(&state, 0, 1) < 0.25,
                        .upright = even(&state, 0, 1) < 0.3};
    double span = PC_PI * shot.hz * shot.shutter_s;
    shot.modulation = depth / fabs(sin(span) / span);
    return shot;
}

static struct pc_bands find(struct pc_ctx *ctx, const struct shot *a, const struct shot *b)
{
    struct pc_picture picture[2] = {{0}, {0}};
    struct pc_bands bands;
    struct pc_err err = {0};
    expose(ctx, a, &picture[0]);
    if (b != NULL)
        expose(ctx, b, &picture[1]);
    enum pc_status status =
        pc_bands_find(&picture[0], b != NULL ? &picture[1] : NULL, a->upright ? 6 : 1, NULL, &bands, &err);
    pc_picture_finish(&picture[0]);
    pc_picture_finish(&picture[1]);
    if (status != PC_OK)
        fail_msg("%s", err.text);
    return bands;
}

// What came of many frames.
struct tally {
    int found, frequency_held, depth_held, unclear, wide;
    int frequency_twice, depth_twice; // within half the tolerance
};

static void count(struct tally *tally, const struct pc_bands *bands, const struct shot *shot, double depth)
{
    double true_bands = shot->hz * shot->readout_s;
    tally->unclear += bands->verdict == PC_BANDS_UNCLEAR;
    if (bands->verdict != PC_BANDS_FOUND)
        return;
    tally->found++;
    tally->frequency_twice += 2 * fabs(bands->bands - true_bands) <= bands->bands_tolerance;
    tally->depth_twice += 2 * fabs(bands->depth_pct - 100 * depth) <= bands->depth_pct_tolerance;
    tally->frequency_held += fabs(bands->bands - true_bands) <= bands->bands_tolerance;
    tally->depth_held += fabs(bands->depth_pct - 100 * depth) <= bands->depth_pct_tolerance;
    tally->wide += bands->bands_tolerance > 0.1 || bands->depth_pct_tolerance > 0.25;
    if (depth < 0.015)
        print_message("# %g bands of %g %% where none are worth telling\n", bands->bands, bands->depth_pct);
}

static void say(const char *what, const struct tally *tally)
{
    print_message(
        "# %s: %d of %d found, frequency held %d (%d in half), depth %d (%d); wide %d, unclear %d\n", what,
        tally->found, frames_of_each, tally->frequency_held, tally->frequency_twice, tally->depth_held,
        tally->depth_twice, tally->wide, tally->unclear);
}

// 19 in 20, less what so few frames may be off by.
static int nearly_all(void)
{
    return (int)floor(frames_of_each * (0.95 - 3 * sqrt(0.95 * 0.05 / frames_of_each)));
}

static void bands_on_a_card_are_found(void **state)
{
    struct tally tally = {0};
    for (int i = 0; i < frames_of_each; i++) {
        struct shot shot = draw(seeds_on + 1000 + (uint64_t)i, 0.015);
        struct pc_bands bands = find(*state, &shot, NULL);
        count(&tally, &bands, &shot, 0.015);
        if (bands.verdict != PC_BANDS_FOUND)
            print_message("# not found: %d, %g bands, least %g\n", i, shot.hz * shot.readout_s,
                          bands.least_pct);
    }
    say("1.5 % on a card", &tally);
    assert_int_equal(tally.found, frames_of_each);
    assert_true(tally.frequency_held >= nearly_all() && tally.depth_held >= nearly_all());
    assert_true(10 * tally.wide <= frames_of_each); // else the tolerances say nothing
    // At most twice what would do: half of it does not hold 19 times in 20. A few frames cannot tell.
    assert_true(frames_of_each < 50 ||
                (tally.frequency_twice < 0.95 * frames_of_each && tally.depth_twice < 0.95 * frames_of_each));
}

static void shallow_ones_are_passed_over(void **state)
{
    struct tally tally = {0};
    for (int i = 0; i < frames_of_each; i++) {
        struct shot shot = draw(seeds_on + 2000 + (uint64_t)i, 0.003);
        struct pc_bands bands = find(*state, &shot, NULL);
        count(&tally, &bands, &shot, 0.003);
    }
    say("0.3 % on a card", &tally);
    assert_int_equal(tally.found, 0);
    assert_int_equal(tally.unclear, 0);
}

static void cloth_is_not_taken_for_bands(void **state)
{
    struct tally tally = {0};
    for (int i = 0; i < frames_of_each; i++) {
        struct shot shot = draw(seeds_on + 3000 + (uint64_t)i, 0);
        shot.cloth = true;
        struct pc_bands bands = find(*state, &shot, NULL);
        count(&tally, &bands, &shot, 0);
    }
    say("none on cloth", &tally);
    assert_int_equal(tally.found, 0);
}

// The second frame at a shutter that leaves nothing, the camera a little off, the window drifting.
static struct shot second_of(const struct shot *shot, uint64_t seed, double shutter_s)
{
    uint64_t state = seed;
    struct shot second = *shot;
    second.shutter_s = shutter_s;
    second.phase = even(&state, 0, 2 * PC_PI);
    second.nudge_px = even(&state, -0.3, 0.3);
    second.ambient_drift = even(&state, -0.05, 0.05);
    return second;
}

// Two frames share a seed, so that they show the same cloth; their noise must not be the same.
static struct pc_bands find_pair(struct pc_ctx *ctx, struct shot *a, double second_s)
{
    struct shot b = second_of(a, a->seed + 7, second_s);
    a->seed = 2 * (a->seed / 2);
    b.seed = a->seed + 1;
    return find(ctx, a, &b);
}

static void bands_on_cloth_are_found_in_two_frames(void **state)
{
    struct tally deep = {0}, shallow = {0};
    for (int i = 0; i < frames_of_each; i++)
        for (int which = 0; which < 2; which++) {
            double depth = which == 0 ? 0.015 : 0.003;
            struct shot shot = draw(seeds_on + 4000 + 2 * (uint64_t)i, depth);
            shot.cloth = true;
            struct pc_bands bands = find_pair(*state, &shot, 2 / shot.hz);
            count(which == 0 ? &deep : &shallow, &bands, &shot, depth);
        }
    say("1.5 % on cloth, two frames", &deep);
    say("0.3 % on cloth, two frames", &shallow);
    assert_true(deep.found >= nearly_all());
    assert_int_equal(shallow.found, 0);
    assert_true(deep.frequency_held >= deep.found * nearly_all() / frames_of_each);
    assert_true(deep.depth_held >= deep.found * nearly_all() / frames_of_each);
}

// Two frames at one short shutter: the lamp's modulation lies where it is said to lie, 19 times in 20.
static void the_lamp_behind_bands(void **state)
{
    int found = 0, hz_held = 0, one_held = 0, two_held = 0;
    for (int i = 0; i < frames_of_each; i++) {
        struct shot shot = draw(seeds_on + 5000 + 2 * (uint64_t)i, 0.06);
        double shutters[2] = {shot.shutter_s, shot.shutter_s};
        struct pc_bands_lamp lamp;
        struct pc_bands bands = find(*state, &shot, NULL);
        pc_bands_lamp_find(&bands, shot.readout_s, 0, NAN, shutters, 1, &lamp);
        hz_held += fabs(lamp.hz - shot.hz) <= lamp.hz_tolerance;
        one_held += lamp.modulation_low_pct <= 100 * shot.modulation &&
                    100 * shot.modulation <= lamp.modulation_high_pct;
        bands = find_pair(*state, &shot, shot.shutter_s);
        if (bands.verdict != PC_BANDS_FOUND)
            continue;
        found++;
        pc_bands_lamp_find(&bands, NAN, NAN, shot.hz, shutters, 2, &lamp);
        two_held += lamp.modulation_low_pct <= 100 * shot.modulation &&
                    100 * shot.modulation <= lamp.modulation_high_pct;
    }
    print_message("# frequency held %d of %d, modulation %d of %d from one frame, %d of %d from two\n",
                  hz_held, frames_of_each, one_held, frames_of_each, two_held, found);
    assert_true(hz_held >= nearly_all() && one_held >= nearly_all());
    assert_true(found >= frames_of_each * 3 / 4 && two_held >= found * nearly_all() / frames_of_each);
}

// bands over readout
static bool hz_again(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = x[0] / x[1];
    return x[1] > 0;
}

static void the_frequency_is_good_to_what_it_says(void **state)
{
    (void)state;
    struct pc_bands bands = {
        .bands = 5.3, .bands_tolerance = 0.08, .depth_pct = NAN, .depth_pct_tolerance = NAN};
    static const double within_s[] = {0.001, 0.005, 0.015}; // measured, told, a class of cameras
    const double shutter_s[2] = {1.0 / 200, 1.0 / 200};
    for (size_t i = 0; i < PC_COUNT(within_s); i++) {
        struct pc_bands_lamp lamp;
        pc_bands_lamp_find(&bands, 0.053, within_s[i], NAN, shutter_s, 1, &lamp);
        double x[] = {bands.bands, 0.053}, tolerance[] = {bands.bands_tolerance, within_s[i]};
        mc_judge("frequency", hz_again, NULL, 2, x, tolerance, 1, &lamp.hz_tolerance);
    }
}

static void fewer_than_bands_are_not_bands(void **state)
{
    struct shot shot = draw(6000, 0.05);
    shot.readout_s = 0.5 / shot.hz;
    struct pc_bands bands = find(*state, &shot, NULL);
    assert_int_equal(bands.verdict, PC_BANDS_FEW);
    assert_true(bands.slow_pct > 3 && isnan(bands.bands));
}

static void what_cannot_be_read_says_so(void **state)
{
    struct shot shot = draw(7000, 0.05), other = draw(7001, 0.05);
    struct pc_picture picture[2] = {{0}, {0}};
    struct pc_bands bands;
    struct pc_err err = {0};
    shot.upright = false;
    other.upright = true;
    expose(*state, &shot, &picture[0]);
    expose(*state, &other, &picture[1]);
    assert_int_equal(pc_bands_find(&picture[0], &picture[1], 1, NULL, &bands, &err), PC_BAD_INPUT);
    err = (struct pc_err){0};
    struct pc_bands_area small = {100, 100, 140, 140};
    assert_int_equal(pc_bands_find(&picture[0], NULL, 1, &small, &bands, &err), PC_BAD_INPUT);
    // A part of the frame counts bands of the whole.
    struct pc_bands_area part = {50, 60, 550, 420};
    shot = draw(7002, 0.03);
    shot.upright = false;
    pc_picture_finish(&picture[0]);
    expose(*state, &shot, &picture[0]);
    assert_int_equal(pc_bands_find(&picture[0], NULL, 1, &part, &bands, &err), PC_OK);
    if (!(fabs(bands.bands - shot.hz * shot.readout_s) <= bands.bands_tolerance))
        fail_msg("%g bands, want %g", bands.bands, shot.hz * shot.readout_s);
    pc_picture_finish(&picture[0]);
    pc_picture_finish(&picture[1]);
}

int main(int argc, char **argv)
{
    if (argc > 1)
        frames_of_each = (int)strtol(argv[1], NULL, 10);
    if (argc > 2)
        seeds_on = strtoull(argv[2], NULL, 10);
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(bands_on_a_card_are_found, &ctx),
        cmocka_unit_test_prestate(shallow_ones_are_passed_over, &ctx),
        cmocka_unit_test_prestate(cloth_is_not_taken_for_bands, &ctx),
        cmocka_unit_test_prestate(bands_on_cloth_are_found_in_two_frames, &ctx),
        cmocka_unit_test_prestate(the_lamp_behind_bands, &ctx),
        cmocka_unit_test(the_frequency_is_good_to_what_it_says),
        cmocka_unit_test_prestate(fewer_than_bands_are_not_bands, &ctx),
        cmocka_unit_test_prestate(what_cannot_be_read_says_so, &ctx),
    };
    return cmocka_run_group_tests_name("mains_bands", tests, NULL, NULL);
}
