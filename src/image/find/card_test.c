// SPDX-License-Identifier: Apache-2.0
#include "image/find/card.h"

#include "image/find/card_scene.h"

#include <setjmp.h>
#include <cmocka.h>

// What counts as found.
static const double CENTRE_RATIO = 0.01; // of the card's size
static const double CORNER_PX = 3.0;     // full resolution
static const double LEVEL_RATIO = 0.01;

struct tally {
    int cards, found, centre, corners, level, both; // of the cards there are
    int extra, scenes, scenes_with_false;
    double worst_corner_px;
};

static double level_in_disc(const struct pc_picture *picture, const struct pc_card *card)
{
    double x0 = card->x_px / picture->bin, y0 = card->y_px / picture->bin,
           r = card->inner_radius_px / picture->bin;
    double sum = 0.0;
    int n = 0;
    for (int y = (int)(y0 - r); y <= (int)(y0 + r); y++)
        for (int x = (int)(x0 - r); x <= (int)(x0 + r); x++)
            if (hypot(x + 0.5 - x0, y + 0.5 - y0) <= r) {
                sum += (double)picture->px[((size_t)y * (size_t)picture->width_px + (size_t)x) * 3 + 1];
                n++;
            }
    return sum / n;
}

static double farthest_corner(const struct pc_card *card, const struct scene_card *truth)
{
    double farthest = 0.0;
    for (int i = 0; i < 4; i++) {
        double nearest = INFINITY;
        for (int k = 0; k < 4; k++)
            nearest = fmin(nearest, hypot(card->corner_px[i][0] - truth->corner_px[k][0],
                                          card->corner_px[i][1] - truth->corner_px[k][1]));
        farthest = fmax(farthest, nearest);
    }
    return farthest;
}

static void judge(const struct scene *scene, const struct pc_card *cards, int count, uint64_t seed,
                  struct tally *tally)
{
    int matched = 0;
    for (int t = 0; t < scene->card_count; t++) {
        const struct scene_card *truth = &scene->card[t];
        const struct pc_card *card = NULL;
        for (int i = 0; i < count; i++)
            if (hypot(cards[i].x_px - truth->x_px, cards[i].y_px - truth->y_px) < 0.1 * truth->across_px)
                card = &cards[i];
        tally->cards++;
        if (card == NULL) {
            print_message("# seed %d (%s): no card at %.0f,%.0f, %.0f across\n", (int)seed, scene->what,
                          truth->x_px, truth->y_px, truth->across_px);
            continue;
        }
        matched++;
        double centre = hypot(card->x_px - truth->x_px, card->y_px - truth->y_px) / truth->across_px;
        double corner = farthest_corner(card, truth);
        double level = level_in_disc(&scene->picture, card) / truth->level[1] - 1.0;
        bool good_centre = centre <= CENTRE_RATIO, good_corner = corner <= CORNER_PX,
             good_level = fabs(level) <= LEVEL_RATIO;
        tally->found++;
        tally->centre += good_centre;
        tally->corners += good_corner;
        tally->level += good_level;
        tally->both += good_centre && good_corner && good_level;
        tally->worst_corner_px = fmax(tally->worst_corner_px, corner);
        if (!good_centre || !good_corner || !good_level)
            print_message(
                "# seed %d (%s): %.0f across: centre %.2f %%, corner %.2f px, level %.2f %%, score %.2f\n",
                (int)seed, scene->what, truth->across_px, 100.0 * centre, corner, 100.0 * level,
                card->score_ratio);
    }
    tally->scenes++;
    tally->extra += count - matched;
    tally->scenes_with_false += count > matched;
    for (int i = 0; count > matched && i < count; i++)
        print_message("# seed %d (%s): of %d, at %.0f,%.0f score %.2f inner %.0f\n", (int)seed, scene->what,
                      scene->card_count, cards[i].x_px, cards[i].y_px, cards[i].score_ratio,
                      cards[i].inner_radius_px);
}

// How many scenes, and how wide they are: more in the full suite.
struct size {
    int scenes;
    int widths[3];
};

static void run(const struct size *size, uint64_t first, bool with_cards, struct tally *tally)
{
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    for (int i = 0; i < size->scenes; i++) {
        struct scene scene;
        uint64_t seed = first + (uint64_t)i;
        scene_draw(&ctx, seed, size->widths[seed % 3], with_cards ? 1 + (int)(seed / 4 % 2) : 0, &scene);
        struct pc_card cards[PC_CARDS_MAX];
        int count = 0;
        const double *neutral =
            seed % 4 == 0 ? NULL : scene.neutral_ratio; // now and then the colour is not known
        assert_int_equal(
            pc_find_cards(&ctx, &scene.picture, neutral, pc_card_sure_score, cards, &count, NULL), PC_OK);
        judge(&scene, cards, count, seed, tally);
        scene_finish(&scene);
    }
    print_message("# %d scenes, %d cards: found %d; centre %d, corners %d (worst %.2f px), level %d, all %d; "
                  "scenes with a false find %d\n",
                  tally->scenes, tally->cards, tally->found, tally->centre, tally->corners,
                  tally->worst_corner_px, tally->level, tally->both, tally->scenes_with_false);
    assert_true(atomic_load(&ctx.held_bytes) == 0);
}

static void cards_are_found(void **state)
{
    struct tally tally = {0};
    run(*state, 1001, true, &tally);
    if (tally.both < 0.95 * tally.cards)
        fail_msg("of %d cards %d were found within the tolerances", tally.cards, tally.both);
    if (tally.scenes_with_false > fmax(1.0, 0.02 * tally.scenes)) // one is chance in the quick suite's few
        fail_msg("%d of %d scenes with a false find", tally.scenes_with_false, tally.scenes);
}

static void nothing_is_found_where_there_is_none(void **state)
{
    struct tally tally = {0};
    run(*state, 5001, false, &tally);
    if (tally.scenes_with_false > fmax(1.0, 0.02 * tally.scenes))
        fail_msg("%d of %d scenes with a false find", tally.scenes_with_false, tally.scenes);
}

static void the_best_comes_first_and_corners_go_round(void **state)
{
    const struct size *size = *state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    int compared = 0;
    for (uint64_t seed = 1; seed <= 6; seed++) {
        struct scene scene;
        scene_draw(&ctx, seed, size->widths[0], 2, &scene);
        struct pc_card cards[PC_CARDS_MAX], again[PC_CARDS_MAX];
        int count = 0, count_again = 0;
        assert_int_equal(pc_find_cards(&ctx, &scene.picture, NULL, pc_card_sure_score, cards, &count, NULL),
                         PC_OK);
        assert_int_equal(
            pc_find_cards(&ctx, &scene.picture, NULL, pc_card_sure_score, again, &count_again, NULL), PC_OK);
        assert_int_equal(count, count_again);
        for (int i = 0; i < count; i++) {
            const double(*corner)[2] = cards[i].corner_px;
            assert_memory_equal(&cards[i], &again[i], sizeof cards[i]);
            assert_true(i == 0 || cards[i].score_ratio <= cards[i - 1].score_ratio);
            for (int k = 0; k < 4; k++) {
                const double *a = corner[k], *b = corner[(k + 1) % 4], *c = corner[(k + 2) % 4];
                assert_true((b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0]) > 0.0);
                assert_true(hypot(a[0], a[1]) >= hypot(corner[0][0], corner[0][1]));
                double side = hypot(b[0] - a[0], b[1] - a[1]);
                double off =
                    ((b[0] - a[0]) * (cards[i].y_px - a[1]) - (b[1] - a[1]) * (cards[i].x_px - a[0])) / side;
                assert_true(cards[i].inner_radius_px <= 0.9 * off + 1e-9);
            }
            compared++;
        }
        scene_finish(&scene);
    }
    assert_true(compared >= 8);
}

// From a place off its middle, a card is the same as by a search of the whole picture; outside there is none.
static void a_place_gives_the_card_that_holds_it(void **state)
{
    const struct size *size = *state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    int cards = 0, right = 0;
    for (uint64_t seed = 2001; seed <= 2004; seed++) {
        struct scene scene;
        scene_draw(&ctx, seed, size->widths[0], 2, &scene);
        for (int i = 0; i < scene.card_count; i++) {
            const struct scene_card *truth = &scene.card[i];
            struct pc_card card;
            bool found;
            double aside_px = 0.12 * truth->across_px;
            assert_int_equal(pc_find_card_at(&ctx, &scene.picture, scene.neutral_ratio,
                                             truth->x_px + aside_px, truth->y_px - aside_px, &card, &found,
                                             NULL),
                             PC_OK);
            cards++;
            right += found && farthest_corner(&card, truth) <= CORNER_PX;
        }
        struct pc_card card;
        bool found = true;
        assert_int_equal(pc_find_card_at(&ctx, &scene.picture, NULL, -5.0, 10.0, &card, &found, NULL), PC_OK);
        assert_false(found);
        assert_int_equal(pc_find_card_at(&ctx, &scene.picture, NULL, NAN, 1e9, &card, &found, NULL), PC_OK);
        assert_false(found);
        scene_finish(&scene);
    }
    print_message("# %d of %d cards grown from a place\n", right, cards);
    assert_true(right >= 0.85 * cards);
}

// Nothing, flat grey, not-a-number and all clipped: no card, and no harm.
static void bare_pictures_hold_no_card(void **state)
{
    (void)state;
    struct pc_ctx ctx;
    pc_ctx_init(&ctx, 1, 0);
    static const float fills[] = {0.0F, 0.18F, -1.0F, (float)NAN, (float)INFINITY};
    static const int sizes[][2] = {{1, 1}, {5000, 1}, {1, 5000}, {64, 64}, {640, 427}};
    for (size_t f = 0; f < PC_COUNT(fills); f++)
        for (size_t s = 0; s < PC_COUNT(sizes); s++)
            for (int channels = 1; channels <= 3; channels += 2) {
                size_t n = (size_t)sizes[s][0] * (size_t)sizes[s][1];
                struct pc_picture picture = {.width_px = sizes[s][0],
                                             .height_px = sizes[s][1],
                                             .channels = channels,
                                             .bin = 1,
                                             .full_width_px = sizes[s][0],
                                             .full_height_px = sizes[s][1]};
                assert_int_equal(
                    pc_buffer_init(&ctx, &picture.pixels, n, (size_t)channels, sizeof(float), NULL), PC_OK);
                assert_int_equal(pc_buffer_init(&ctx, &picture.mask, n, 1, 1, NULL), PC_OK);
                picture.px = picture.pixels.data;
                picture.clipped = picture.mask.data;
                for (size_t i = 0; i < n * (size_t)channels; i++)
                    picture.px[i] = fills[f];
                struct pc_card cards[PC_CARDS_MAX];
                int count = -1;
                assert_int_equal(pc_find_cards(&ctx, &picture, NULL, pc_card_sure_score, cards, &count, NULL),
                                 PC_OK);
                assert_int_equal(count, 0);
                pc_buffer_finish(&picture.mask);
                pc_buffer_finish(&picture.pixels);
            }
}

int main(int argc, char **argv)
{
    bool full = argc > 1 && strcmp(argv[1], "full") == 0;
    struct size size = full ? (struct size){200, {600, 900, 1300}} : (struct size){16, {600, 640, 600}};
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_prestate(cards_are_found, &size),
        cmocka_unit_test_prestate(nothing_is_found_where_there_is_none, &size),
        cmocka_unit_test_prestate(the_best_comes_first_and_corners_go_round, &size),
        cmocka_unit_test_prestate(a_place_gives_the_card_that_holds_it, &size),
        cmocka_unit_test(bare_pictures_hold_no_card),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
