// SPDX-License-Identifier: Apache-2.0
// Who lights what, from frames taken from the hand.
#include "base/linalg.h"
#include "light/parts/answers.h"
#include "light/parts/handheld.h"
#include "tests/sets/bench.h"
#include "tests/sets/sets.h"

#include <setjmp.h>
#include <cmocka.h>

// What every light (and last the window) truly gives on either card in each shot; taken while the shot's view
// is at hand, as every look from another place is made anew.
struct hand_truth {
    double Y[SIM_SHOTS_MAX][2][SIM_LIGHTS_MAX + 1];
    double place_px[SIM_SHOTS_MAX][2][2];
    // How much more of a light than of the window the camera sees, against the eye: a camera's filters are
    // not the eye's, and which lamp has which spectrum no frame tells. 1 for the window.
    double seen_ratio[SIM_LIGHTS_MAX + 1];
};

static double camera_Y(const struct bench *b, const double rgb[3])
{
    double camera_from_xyz[3][3], xyz_from_camera[3][3], neutral[3], xyz[3];
    sim_camera_matrix(b->scene, camera_from_xyz, neutral);
    assert_true(pc_linalg_invert3(camera_from_xyz, xyz_from_camera));
    pc_linalg_apply3(xyz_from_camera, rgb, xyz);
    return xyz[1];
}

// Of the one light of a shot, on a card: what it adds to the window there, which the lens treats alike.
static double light_seen_ratio(struct bench *b, const struct sim_shot *shot, const double place_px[2])
{
    struct sim_shot dark = *shot;
    struct sim_truth on, off;
    double added[3];
    for (int k = 0; k < SIM_LIGHTS_MAX; k++)
        dark.lit[k] = false;
    assert_int_equal(sim_truth_disc(b->scene, shot, place_px[0], place_px[1], 4.0, &on, &b->err), PC_OK);
    assert_int_equal(sim_truth_disc(b->scene, &dark, place_px[0], place_px[1], 4.0, &off, &b->err), PC_OK);
    for (int c = 0; c < 3; c++)
        added[c] = on.camera_rgb[c] - off.camera_rgb[c];
    return camera_Y(b, added) / (on.xyz[1] - off.xyz[1]) / (camera_Y(b, off.camera_rgb) / off.xyz[1]);
}

static void shoot_from_the_hand(struct bench *b, struct hand_truth *truth)
{
    static const enum sim_place card[2] = {SIM_PLACE_HERO_CARD, SIM_PLACE_SURFACE_CARD};
    for (int light = 0; light <= b->setup.light_count; light++)
        truth->seen_ratio[light] = 1.0;
    for (int i = 0; i < b->shots; i++) {
        if (sim_shoot(b->scene, &b->shot[i], b->folder, &b->err) != PC_OK)
            fail_msg("%s: %s", b->err.place, b->err.text);
        for (int k = 0; k < 2; k++) {
            double *at = truth->place_px[i][k];
            assert_true(sim_place_px(b->scene, &b->shot[i], card[k], &at[0], &at[1]));
            for (int light = 0; light <= b->setup.light_count; light++)
                truth->Y[i][k][light] = true_Y(b, &b->shot[i], card[k], light);
        }
        for (int light = 0; light < b->setup.light_count; light++)
            if (b->shot[i]
                    .lit[light]) // on the card that has more of it, where the lens's veil counts for less
                truth->seen_ratio[light] = light_seen_ratio(
                    b, &b->shot[i], truth->place_px[i][truth->Y[i][1][light] > truth->Y[i][0][light]]);
    }
}

// Each light as strong as in its own frame, the window as in the last; to the eye, or as the camera sees it.
static void hand_shares(const struct bench *b, const struct hand_truth *truth, int card, bool camera,
                        double *shares)
{
    double all = truth->Y[b->shots - 1][card][b->setup.light_count];
    for (int k = 0; k < b->setup.light_count; k++)
        shares[k] = 0.0;
    for (int i = 0; i < b->shots; i++)
        for (int k = 0; k < b->setup.light_count; k++)
            if (b->shot[i].lit[k]) {
                double Y = truth->Y[i][card][k] * (camera ? truth->seen_ratio[k] : 1.0);
                shares[k] += Y;
                all += Y;
            }
    for (int k = 0; k < b->setup.light_count; k++)
        shares[k] /= all;
}

// Reads a set taken from the hand as a photographer would: where the program names a frame in which it does
// not find a card, both are pointed out in that frame, and it is asked again.
static enum pc_status read_from_the_hand(struct bench *b, const struct hand_truth *truth,
                                         struct pc_handheld *hand, int *pointed_frames)
{
    struct pc_place hero = {
        .name = "hero", .x_px = truth->place_px[0][0][0], .y_px = truth->place_px[0][0][1]};
    struct pc_place surface = {
        .name = "surface", .x_px = truth->place_px[0][1][0], .y_px = truth->place_px[0][1][1]};
    struct pc_pointed pointed[2 * SIM_SHOTS_MAX];
    int count = 0, notes = b->notes.count;
    PC_TRY(bench_series(b));
    for (*pointed_frames = 0; *pointed_frames <= b->shots; ++*pointed_frames) {
        struct pc_err err = {0};
        b->notes.count = notes;
        enum pc_status status = pc_handheld_read(&b->ctx, b->reader, &b->series, &hero, &surface, pointed,
                                                 count, hand, &b->notes, &err);
        int named = -1;
        for (int i = 0; i < b->series.frame_count; i++)
            if (strcmp(b->series.frame[i].name, err.place) == 0)
                named = i;
        if (status != PC_NOT_FOUND || named < 0 || *pointed_frames == b->shots) {
            b->err = err;
            return status;
        }
        for (int k = 0; k < 2; k++)
            pointed[count++] =
                (struct pc_pointed){named, truth->place_px[named][k][0], truth->place_px[named][k][1]};
    }
    return PC_OK;
}

static bool says_hard_to_read(const struct pc_notes *notes)
{
    for (int i = 0; i < notes->count; i++)
        if (strstr(notes->text[i], "hard to read") != NULL)
            return true;
    return false;
}

// How a set from the hand came out, against the light as the camera sees it: what its filters make of a
// lamp's spectrum is no fault of the hand's, and is the same in sets locked off. ANNOUNCED: a share is off by
// more than the tenth, within the tolerance printed, and the series says that its cards are hard to read.
// REFUSED even with the cards pointed out.
enum hand_end { HAND_RIGHT, HAND_ANNOUNCED, HAND_REFUSED, HAND_WRONG, HAND_ENDS };

struct hand_score {
    int ends[HAND_ENDS], frames, pointed, figures, outside; // outside of the tolerance, to the eye
    int eye_off;                                            // sets with a share off by more, to the eye
};

static enum hand_end judge_shares(struct bench *b, const struct hand_truth *truth,
                                  const struct pc_handheld *hand, int seed, struct hand_score *score)
{
    const double RIGHT_EV = 0.1,
                 LEAST_SHARE = 0.05; // a share under 5 % is within the noise of where cards lie
    struct pc_dials now;
    struct pc_answers answers;
    bool hard = says_hard_to_read(&b->notes);
    bool eye_off = false;
    enum hand_end end = HAND_RIGHT;
    pc_reading_dials_now(&hand->reading, &now);
    pc_answers_make(NULL, &hand->reading, &now, PC_PLACE_HERO, NULL, &answers);
    for (int p = 0; p < 2; p++) {
        double shares[SIM_LIGHTS_MAX], seen[SIM_LIGHTS_MAX];
        hand_shares(b, truth, p, false, shares);
        hand_shares(b, truth, p, true, seen);
        for (int i = 0; i < hand->reading.light_count; i++) {
            int light = sim_light_of(b, hand->reading.light[i].name);
            struct pc_figure got = answers.light[i].share_ratio[p];
            bool inside = fabs(got.value - shares[light]) <= got.tolerance + 0.002;
            score->figures++;
            score->outside += !inside;
            if (shares[light] <= LEAST_SHARE)
                continue;
            double off_ev = ev_between(got.value, seen[light]), eye_ev = ev_between(got.value, shares[light]);
            eye_off |= eye_ev > RIGHT_EV;
            if (off_ev <= RIGHT_EV && eye_ev <= RIGHT_EV)
                continue;
            print_message("seed %d: %s at %s: share %.4f +- %.4f, truly %.4f, to the camera %.4f%s\n", seed,
                          hand->reading.light[i].name, hand->reading.place[p].name, got.value, got.tolerance,
                          shares[light], seen[light], hard ? ", said to be hard to read" : "");
            if (off_ev > RIGHT_EV) {
                enum hand_end of_it = hard && inside ? HAND_ANNOUNCED : HAND_WRONG;
                end = of_it > end ? of_it : end;
            }
        }
    }
    score->eye_off += eye_off;
    return end;
}

void shares_from_the_hand_are_right(void **state)
{
    (void)state;
    int from, count;
    struct hand_score score = {0};
    seeds_asked(&from, &count, 5);
    for (int seed = from; seed < from + count; seed++) {
        struct bench *b = seeded(seed, NULL);
        struct hand_truth truth;
        struct pc_handheld *hand = calloc(1, sizeof *hand);
        int pointed = 0;
        b->shots = sim_series_hand(&b->setup, 1.0, 0.3, 10.0, b->shot);
        shoot_from_the_hand(b, &truth);
        enum hand_end end = HAND_REFUSED;
        if (read_from_the_hand(b, &truth, hand, &pointed) == PC_OK)
            end = judge_shares(b, &truth, hand, seed, &score);
        else
            print_message("seed %d: refused: %s: %s\n", seed, b->err.place, b->err.text);
        if (pointed > 0)
            print_message("seed %d: pointed out in %d of %d frames\n", seed, pointed, b->shots);
        score.ends[end]++;
        score.frames += b->shots;
        score.pointed += pointed;
        free(hand);
        bench_end(b);
    }
    print_message(
        "shares from the hand: %d sets right, %d announced, %d refused, %d wrong; cards pointed out in "
        "%d of %d frames; to the eye %d sets off by more, %d of %d figures outside their tolerance\n",
        score.ends[HAND_RIGHT], score.ends[HAND_ANNOUNCED], score.ends[HAND_REFUSED], score.ends[HAND_WRONG],
        score.pointed, score.frames, score.eye_off, score.outside, score.figures);
    judge("shares from the hand", score.ends[HAND_WRONG] + score.ends[HAND_REFUSED], count, 2);
    judge("shares from the hand within the tenth", count - score.ends[HAND_RIGHT], count, 5);
    judge("cards found without help", score.pointed, score.frames, 10);
    if (score.outside * 20 > score.figures)
        fail_msg("%d of %d shares from the hand lie outside their 95 %% tolerance", score.outside,
                 score.figures);
}
