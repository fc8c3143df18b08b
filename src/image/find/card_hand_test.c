// SPDX-License-Identifier: Apache-2.0
// Grey cards in frames taken from the hand, by the picture maker of the tests.
#include "image/find/card.h"

#include "sim.h"

#include <setjmp.h>
#include <cmocka.h>

// The binned picture of a shot, with the sensor's noise.
static void take(struct pc_ctx *ctx, struct sim_scene *scene, const struct sim_shot *shot,
                 struct pc_picture *picture)
{
    int full_width, full_height;
    sim_upright_size(sim_scene_setup(scene), &full_width, &full_height);
    *picture = (struct pc_picture){.width_px = full_width / 2,
                                   .height_px = full_height / 2,
                                   .channels = 3,
                                   .bin = 2,
                                   .full_width_px = full_width,
                                   .full_height_px = full_height};
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px;
    PC_ASSERT(pc_buffer_init(ctx, &picture->pixels, n, 3, sizeof(float), NULL) == PC_OK);
    PC_ASSERT(pc_buffer_init(ctx, &picture->mask, n, 1, 1, NULL) == PC_OK);
    picture->px = picture->pixels.data;
    picture->clipped = picture->mask.data;
    PC_ASSERT(sim_render(scene, shot, picture->px, NULL) == PC_OK);
    unsigned short state[3] = {1, 2, (unsigned short)shot->noise_seed};
    for (size_t i = 0; i < 3 * n; i++) {
        double value = (double)picture->px[i], normal = -6.0;
        for (int k = 0; k < 12; k++)
            normal += erand48(state);
        value +=
            normal * sim_noise_at(sim_scene_setup(scene), shot->iso, value) * (i % 3 == 1 ? 0.7071 : 1.0);
        if (value >= 1.0)
            picture->clipped[i / 3] |= (uint8_t)(1U << (i % 3));
        picture->px[i] = (float)fmin(value, 1.0);
    }
}

static double farthest_corner(const struct pc_card *card, const double corner_px[4][2])
{
    double farthest = 0.0;
    for (int i = 0; i < 4; i++) {
        double nearest = INFINITY;
        for (int k = 0; k < 4; k++)
            nearest = fmin(nearest, hypot(card->corner_px[i][0] - corner_px[k][0],
                                          card->corner_px[i][1] - corner_px[k][1]));
        farthest = fmax(farthest, nearest);
    }
    return farthest;
}

struct tally {
    int frames, cards, found, close, extra;
};

static bool whole_in_picture(const struct pc_picture *picture, const double corner_px[4][2])
{
    for (int i = 0; i < 4; i++)
        for (int c = 0; c < 2; c++) {
            int most = c == 0 ? picture->full_width_px : picture->full_height_px;
            if (corner_px[i][c] < 8.0 || corner_px[i][c] > most - 8.0)
                return false;
        }
    return true;
}

static void judge(struct sim_scene *scene, const struct sim_shot *shot, const struct pc_picture *picture,
                  const struct pc_card *cards, int count, struct tally *tally)
{
    tally->frames++;
    tally->extra += count;
    for (int k = SIM_PLACE_CARD; k <= SIM_PLACE_SURFACE_CARD; k++) {
        double corner_px[4][2];
        if (!sim_card_px(scene, shot, (enum sim_place)k, corner_px))
            continue;
        bool whole = whole_in_picture(picture, corner_px), found = false;
        tally->cards += whole;
        for (int i = 0; i < count; i++) {
            double off_px = farthest_corner(&cards[i], corner_px);
            if (off_px > 15.0)
                continue;
            found = true;
            tally->extra--;
            tally->found += whole;
            tally->close += whole && off_px <= 3.0;
        }
        if (whole && !found)
            print_message("# %s: the card at %.0f,%.0f is not found\n", shot->name, corner_px[0][0],
                          corner_px[0][1]);
    }
}

// Some of these cards cannot be found by looking: laid on plaster of their own lightness, in the half shadow
// of the hero, or with a corner behind it. Hence the modest share; what is found must be right.
static void most_cards_in_the_hand_are_found(void **state)
{
    (void)state;
    const double LEAST_FOUND_RATIO = 0.7, LEAST_CLOSE_RATIO = 0.95, MOST_EXTRA_RATIO = 0.2;
    enum { SEEDS = 6, SHOTS = 2 };
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    struct tally tally = {0};
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        struct sim_setup setup;
        sim_setup_seeded(&setup, seed);
        struct sim_scene *scene;
        struct sim_shot *shots = calloc(SIM_SHOTS_MAX, sizeof *shots);
        assert_non_null(shots);
        assert_int_equal(sim_scene_create(&setup, &scene, NULL), PC_OK);
        int shot_count = sim_series_hand(&setup, 1.0, 0.3, 10.0, shots);
        double matrix[3][3], neutral_ratio[3];
        sim_camera_matrix(scene, matrix, neutral_ratio);
        for (int s = 0; s < shot_count && s < SHOTS; s++) {
            struct pc_picture picture;
            take(&ctx, scene, &shots[s], &picture);
            struct pc_card cards[PC_CARDS_MAX];
            int count = 0;
            assert_int_equal(
                pc_find_cards(&ctx, &picture, neutral_ratio, pc_card_sure_score, cards, &count, NULL), PC_OK);
            judge(scene, &shots[s], &picture, cards, count, &tally);
            pc_buffer_finish(&picture.mask);
            pc_buffer_finish(&picture.pixels);
        }
        sim_scene_destroy(scene);
        free(shots);
    }
    print_message("# %d frames, %d whole cards: found %d, corners within 3 px %d; %d other finds\n",
                  tally.frames, tally.cards, tally.found, tally.close, tally.extra);
    assert_true(tally.found >= LEAST_FOUND_RATIO * tally.cards);
    assert_true(tally.close >= LEAST_CLOSE_RATIO * tally.found);
    assert_true(tally.extra <= MOST_EXTRA_RATIO * tally.frames);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(most_cards_in_the_hand_are_found),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
