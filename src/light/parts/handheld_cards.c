// SPDX-License-Identifier: Apache-2.0
#include "light/parts/handheld_priv.h"

#include "base/linalg.h"

static const double LEAST_SCORE = 0.05;     // the other frame's cards and the places say the rest
static const double LEAST_LONE_SCORE = 0.2; // of one card from which the other's place is foretold
// The cards lie at different heights, so that no one view of a plane fits both quite.
static const double HALF_AT_off = 0.16, MOST_off = 0.3;
static const double LEAST_WORTH = 0.04;
static const double HALF_AT_size_ev =
    0.75;                               // change of the two cards' sizes (lengths, log2) against each other
static const double NEAR_sizes = 3.0;   // how far from the place a card may lie
static const double SAME_sizes = 0.25;  // apart: one card, found twice
static const double SPOT_RATIO = 0.008; // of the picture's width: what is read where a place has no outline

static bool holds(const struct pc_card *card, double x, double y)
{
    for (int i = 0; i < 4; i++) {
        const double *a = card->corner_px[i], *b = card->corner_px[(i + 1) % 4];
        if ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) < 0.0)
            return false;
    }
    return true;
}

// 0..1: how well two cards agree with the two of the reference. The nearer of two cards is the larger one,
// but a camera that goes about a table does not change that much.
static double agreement(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS])
{
    double size_ev = log2(hand_across_px(&pair[0]) / hand_across_px(&pair[1]) *
                          hand_across_px(&reference[1]) / hand_across_px(&reference[0]));
    double off_ratio =
        fabs(size_ev) < 2.0 * HALF_AT_size_ev ? hand_pair_off_ratio(reference, pair) : (double)INFINITY;
    if (!(off_ratio <= MOST_off))
        return 0.0;
    double r = hypot(off_ratio / HALF_AT_off, size_ev / HALF_AT_size_ev);
    return 1.0 / (1.0 + r * r * r * r);
}

// A spot to read at a place where no card's outline can be seen.
static void spot_at(const struct pc_picture *picture, double x_px, double y_px, struct hand_pair *pair, int k)
{
    pair->card[k] =
        (struct pc_card){.x_px = x_px, .y_px = y_px, .inner_radius_px = SPOT_RATIO * picture->full_width_px};
    pair->outlined[k] = false;
}

static const struct pc_card *best_holding(const struct pc_card *found, int count, double x_px, double y_px)
{
    for (int i = 0; i < count; i++) // best first
        if (holds(&found[i], x_px, y_px))
            return &found[i];
    return NULL;
}

struct hunt {
    struct pc_ctx *ctx;
    const struct pc_picture *picture;
    const double *neutral_ratio;
    struct pc_card found[PC_CARDS_MAX];
    int count;
};

static enum pc_status hunt_begin(struct pc_ctx *ctx, const struct pc_loaded *loaded, struct hunt *hunt,
                                 struct pc_err *err)
{
    *hunt = (struct hunt){
        ctx, &loaded->picture, loaded->has_neutral ? loaded->neutral_ratio : NULL, {{{{0}}}}, 0};
    return pc_find_cards(ctx, hunt->picture, hunt->neutral_ratio, LEAST_SCORE, hunt->found, &hunt->count,
                         err);
}

static enum pc_status card_on_place(const struct hunt *hunt, const struct pc_place *place,
                                    struct pc_card *card, bool *found, struct pc_err *err)
{
    const struct pc_card *best = best_holding(hunt->found, hunt->count, place->x_px, place->y_px);
    *found = best != NULL;
    if (best == NULL)
        return pc_find_card_at(hunt->ctx, hunt->picture, hunt->neutral_ratio, place->x_px, place->y_px, card,
                               found, err);
    *card = *best;
    return PC_OK;
}

static enum pc_status take_pointed(const struct hunt *hunt, const struct pc_place *pointed, const char *frame,
                                   int k, struct hand_pair *pair, struct pc_err *err)
{
    if (!(pointed->x_px >= 0.0) || !(pointed->y_px >= 0.0) || pointed->x_px >= hunt->picture->full_width_px ||
        pointed->y_px >= hunt->picture->full_height_px)
        return pc_fail(err, PC_MISUSE, frame, "%.0f,%.0f lies outside the frame, which is %d by %d.",
                       pointed->x_px, pointed->y_px, hunt->picture->full_width_px,
                       hunt->picture->full_height_px);
    PC_TRY(card_on_place(hunt, pointed, &pair->card[k], &pair->outlined[k], err));
    if (!pair->outlined[k])
        spot_at(hunt->picture, pointed->x_px, pointed->y_px, pair, k);
    return PC_OK;
}

enum pc_status hand_not_found(struct pc_err *err, const char *frame, const char *which)
{
    return pc_fail(
        err, PC_NOT_FOUND, frame,
        "The camera moved between frames, so a grey card is needed at the hero and another at the surface in "
        "every frame, and %s not found in this one. Point both out in it (--card FILE=X,Y, the hero's first "
        "and then the surface's), or lay them flat, whole in the picture and clear of shadow edges, or lock "
        "the "
        "camera off.",
        which);
}

static enum pc_status refuse_same(struct pc_err *err, const char *frame)
{
    return pc_fail(
        err, PC_NOT_FOUND, frame,
        "The hero and the surface lie on the same card; lay one grey card at the hero and another at the "
        "surface.");
}

enum pc_status hand_pair_by_place(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                                  const struct pc_place *place[HAND_CARDS],
                                  const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                                  struct hand_pair *pair, struct pc_err *err)
{
    static const char *const missing[HAND_CARDS] = {"the hero's was", "the surface's was"};
    struct hunt hunt;
    *pair = (struct hand_pair){.worth = 1.0, .pointed = pointed[0] != NULL && pointed[1] != NULL};
    PC_TRY(hunt_begin(ctx, loaded, &hunt, err));
    for (int k = 0; k < HAND_CARDS; k++) {
        if (pointed[k] != NULL) {
            PC_TRY(take_pointed(&hunt, pointed[k], frame, k, pair, err));
            continue;
        }
        PC_TRY(card_on_place(&hunt, place[k], &pair->card[k], &pair->outlined[k], err));
        double nearest = INFINITY;
        for (int i = 0;
             !pair->outlined[k] && i < hunt.count && hunt.found[i].score_ratio >= pc_card_sure_score; i++) {
            const struct pc_card *card = &hunt.found[i];
            double off =
                hypot(card->x_px - place[k]->x_px, card->y_px - place[k]->y_px) / hand_across_px(card);
            if (off < fmin(nearest, NEAR_sizes) &&
                !(k == 1 && holds(&pair->card[0], card->x_px, card->y_px))) {
                nearest = off;
                pair->card[k] = *card;
            }
        }
        pair->outlined[k] |= isfinite(nearest);
        if (!pair->outlined[k])
            return hand_not_found(err, frame, missing[k]);
    }
    if (pair->outlined[0] && holds(&pair->card[0], pair->card[1].x_px, pair->card[1].y_px))
        return refuse_same(err, frame);
    return PC_OK;
}

struct guesses {
    struct hand_pair *pair; // best first
    int count;
};

static bool same_pair(const struct hand_pair *a, const struct hand_pair *b)
{
    for (int k = 0; k < HAND_CARDS; k++)
        if (hypot(a->card[k].x_px - b->card[k].x_px, a->card[k].y_px - b->card[k].y_px) >
            SAME_sizes * hand_across_px(&b->card[k]))
            return false;
    return true;
}

// Adds a pair in its order; of those that are nearly the same the likeliest stays.
static void add_guess(struct guesses *guesses, const struct pc_card two[HAND_CARDS], double worth)
{
    struct hand_pair pair = {.outlined = {true, true}, .worth = worth};
    memcpy(pair.card, two, sizeof pair.card);
    int at = 0;
    for (; at < guesses->count && guesses->pair[at].worth >= worth; at++)
        if (same_pair(&guesses->pair[at], &pair))
            return;
    if (at == HAND_GUESSES_MAX)
        return;
    int gone = at; // a lesser one of the same, or the last
    while (gone < guesses->count && !same_pair(&guesses->pair[gone], &pair))
        gone++;
    if (gone == guesses->count)
        gone = guesses->count < HAND_GUESSES_MAX ? guesses->count++ : HAND_GUESSES_MAX - 1;
    memmove(&guesses->pair[at + 1], &guesses->pair[at], sizeof pair * (size_t)(gone - at));
    guesses->pair[at] = pair;
}

static double least_worth(const struct guesses *guesses)
{
    return guesses->count == HAND_GUESSES_MAX ? guesses->pair[HAND_GUESSES_MAX - 1].worth : LEAST_WORTH;
}

// Every two candidates in turn, or with the pointed one held fixed.
static void pair_up(const struct hunt *hunt, const struct hand_pair *reference,
                    const struct pc_card *const held[HAND_CARDS], struct guesses *guesses)
{
    struct pc_card two[HAND_CARDS];
    int most[HAND_CARDS] = {held[0] != NULL ? 1 : hunt->count, held[1] != NULL ? 1 : hunt->count};
    for (int i = 0; i < most[0]; i++)
        for (int j = 0; j < most[1]; j++) {
            two[0] = held[0] != NULL ? *held[0] : hunt->found[i];
            two[1] = held[1] != NULL ? *held[1] : hunt->found[j];
            if (holds(&two[0], two[1].x_px, two[1].y_px))
                continue;
            double likely = sqrt(two[0].score_ratio * two[1].score_ratio);
            if (likely <= least_worth(guesses))
                continue;
            double worth = likely * agreement(reference->card, two);
            if (worth > least_worth(guesses))
                add_guess(guesses, two, worth);
        }
}

// Where the other card must be, from one that was found: as one view of its own plane has it (its corners
// tell), and as far as its size and lean alone do, which is steadier where the card is small.
static int foretell(const struct hand_pair *reference, int from, const struct pc_card *card,
                    double places[8][2])
{
    const struct pc_card *was = &reference->card[from], *other = &reference->card[1 - from];
    static const int as_it_is[HAND_CARDS] = {0, 0};
    double unit_px = hand_across_px(was), unit_now_px = hand_across_px(card), corner[4][2], to[4][2];
    const double middle[2] = {was->x_px, was->y_px}, middle_now[2] = {card->x_px, card->y_px};
    const double way[2] = {(other->x_px - was->x_px) / unit_px, (other->y_px - was->y_px) / unit_px};
    int count = 0;
    hand_gather_corners(was, 1, as_it_is, unit_px, middle, corner);
    for (int turn = 0; turn < 4; turn++) {
        const int first[HAND_CARDS] = {turn, 0};
        double view[8], at[2], a[3 * 4], b[4], x[3], lean[2];
        hand_gather_corners(card, 1, first, unit_now_px, middle_now, to);
        // The camera's roll is small against a quarter turn for all but one of the four.
        if (corner[0][0] * to[0][0] + corner[0][1] * to[0][1] <
            0.5 * hypot(corner[0][0], corner[0][1]) * hypot(to[0][0], to[0][1]))
            continue;
        if (hand_fit_view(corner, to, 4, view) && hand_apply_view(view, way[0], way[1], at)) {
            places[count][0] = card->x_px + unit_now_px * at[0];
            places[count++][1] = card->y_px + unit_now_px * at[1];
        }
        bool good = true;
        for (int c = 0; c < 2; c++) {
            for (int i = 0; i < 4; i++) {
                const double row[3] = {corner[i][0], corner[i][1], 1.0};
                memcpy(a + (ptrdiff_t)i * 3, row, sizeof row);
                b[i] = to[i][c];
            }
            good &= pc_linalg_least_squares(4, 3, a, b, x);
            lean[c] = x[0] * way[0] + x[1] * way[1];
        }
        if (good) {
            places[count][0] = card->x_px + unit_now_px * lean[0];
            places[count++][1] = card->y_px + unit_now_px * lean[1];
        }
    }
    return count;
}

// Looks for the card that no search found where one that was found says it must be.
static enum pc_status grow_missing(struct hunt *hunt, const struct hand_pair *reference,
                                   const struct pc_card *const held[HAND_CARDS], struct guesses *guesses,
                                   struct pc_err *err)
{
    const int MOST_SURE = 4;
    for (int from = 0; from < HAND_CARDS; from++) {
        if (held[1 - from] != NULL)
            continue;
        int count = held[from] != NULL ? 1 : hunt->count < MOST_SURE ? hunt->count : MOST_SURE;
        for (int i = 0; i < count; i++) {
            const struct pc_card *sure = held[from] != NULL ? held[from] : &hunt->found[i];
            double places[8][2];
            if (sure->score_ratio < LEAST_LONE_SCORE)
                continue;
            int n = foretell(reference, from, sure, places);
            for (int p = 0; p < n; p++) {
                struct pc_card two[HAND_CARDS];
                bool found;
                two[from] = *sure;
                PC_TRY(pc_find_card_at(hunt->ctx, hunt->picture, hunt->neutral_ratio, places[p][0],
                                       places[p][1], &two[1 - from], &found, err));
                double likely = found ? sqrt(sure->score_ratio * two[1 - from].score_ratio) : 0.0;
                likely *= found ? agreement(reference->card, two) : 0.0;
                if (likely > least_worth(guesses))
                    add_guess(guesses, two, likely);
            }
        }
    }
    return PC_OK;
}

// A pair of which one card was found and the other's place is only foretold: last in the list, for the table
// to prove.
static void add_lone(const struct hunt *hunt, const struct hand_pair *reference, struct guesses *guesses)
{
    const int MOST_SURE = 3;
    for (int from = 0; from < HAND_CARDS; from++)
        for (int i = 0; reference->outlined[from] && i < hunt->count && i < MOST_SURE; i++) {
            double places[8][2];
            int n = hunt->found[i].score_ratio < LEAST_LONE_SCORE
                        ? 0
                        : foretell(reference, from, &hunt->found[i], places);
            for (int p = 1; p < n && guesses->count < HAND_GUESSES_MAX; p += 2) { // as the card leans
                struct hand_pair *pair = &guesses->pair[guesses->count++];
                pair->card[from] = hunt->found[i];
                pair->outlined[from] = true;
                pair->pointed = false;
                pair->worth = 0.0;
                spot_at(hunt->picture, places[p][0], places[p][1], pair, 1 - from);
            }
        }
}

enum pc_status hand_pairs_like(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                               const struct hand_pair *reference,
                               const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                               struct hand_pair guesses[HAND_GUESSES_MAX], int *count, struct pc_err *err)
{
    const double GOOD_WORTH = 0.15;
    struct hunt hunt;
    struct hand_pair told = {.worth = 1.0, .pointed = true};
    struct guesses list = {guesses, 0};
    const struct pc_card *held[HAND_CARDS] = {NULL, NULL};
    PC_TRY(hunt_begin(ctx, loaded, &hunt, err));
    bool by_outline = true;
    for (int k = 0; k < HAND_CARDS; k++)
        if (pointed[k] != NULL) {
            PC_TRY(take_pointed(&hunt, pointed[k], frame, k, &told, err));
            by_outline &= told.outlined[k];
            held[k] = &told.card[k];
        }
    if (held[0] != NULL && held[1] != NULL) {
        if (told.outlined[0] && holds(&told.card[0], told.card[1].x_px, told.card[1].y_px))
            return refuse_same(err, frame);
        guesses[0] = told;
        *count = 1;
        return PC_OK;
    }
    if (reference->outlined[0] && reference->outlined[1] && by_outline) {
        pair_up(&hunt, reference, held, &list);
        if (list.count == 0 || list.pair[0].worth < GOOD_WORTH)
            PC_TRY(grow_missing(&hunt, reference, held, &list, err));
    }
    if (held[0] == NULL && held[1] == NULL)
        add_lone(&hunt, reference, &list);
    *count = list.count;
    return list.count > 0 ? PC_OK : hand_not_found(err, frame, hunt.count == 0 ? "none was" : "the two were");
}
