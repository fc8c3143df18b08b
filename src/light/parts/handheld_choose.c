// SPDX-License-Identifier: Apache-2.0
// Which two things in a frame are the cards: proved by the table about them.
#include "light/parts/handheld_priv.h"

// A card from where the table about it says; and where only the table's plane says, above which cards may
// lie.
static const double MOST_OFF_sizes = 0.5, MOST_GUESSED_OFF_sizes = 1.5;
static const double SPOT_RATIO = 0.006; // of the picture's width: what is read of a card foretold
enum { LEAST_STRUCTURED = 20 };         // areas; fewer tell nothing
// On made sets the right pair nearly always finds 0.48 to 0.97 of the areas, any other pair none.
static const double LEAST_SUPPORT = 0.2, SURE_SUPPORT = 0.35;
// Without a table to go by the camera rolls by no more than 60 degrees: a judgement.
static const double MOST_TURN_COS = 0.5;

// How much of the reference's picture is found in a frame when it is seen as a pair of cards says.
static double support_of(const struct pc_shared *shared)
{
    return shared->structured >= LEAST_STRUCTURED ? (double)shared->count / shared->structured : 0.0;
}

// Holds the chosen pair against what the table says of where its cards are. A card that is elsewhere is
// something else, and is read where it must be instead. False when that is not known.
static bool settle_pair(const struct hand_pair *reference, const struct pc_picture *picture,
                        const struct pc_shared *shared, struct hand_pair *pair)
{
    for (int k = 0; k < HAND_CARDS; k++) {
        const struct pc_card *was = &reference->card[k];
        double at[2], spot_px = SPOT_RATIO * picture->full_width_px;
        bool known = hand_foretold(shared, picture, was, reference->outlined[k], at);
        double off_px = hypot(at[0] - pair->card[k].x_px, at[1] - pair->card[k].y_px);
        double most_sizes = known ? MOST_OFF_sizes : MOST_GUESSED_OFF_sizes;
        if (pair->outlined[k] && off_px < most_sizes * hand_across_px(&pair->card[k]))
            continue;
        if (!known)
            return false;
        if (reference->outlined[k])
            spot_px = fmin(spot_px, 0.6 * was->inner_radius_px);
        pair->card[k] = (struct pc_card){.x_px = at[0], .y_px = at[1], .inner_radius_px = spot_px};
        pair->outlined[k] = false;
    }
    return true;
}

// Cards pointed out the other way round, when the table shows it.
static enum pc_status refuse_swapped(const struct hand_making *m, int frame, const struct pc_picture *picture,
                                     const struct hand_pair *pair, struct pc_shared *shared,
                                     struct pc_err *err)
{
    const struct hand_pair swapped = {.card = {pair->card[1], pair->card[0]},
                                      .outlined = {pair->outlined[1], pair->outlined[0]}};
    double view[3][3];
    if (!hand_pair_view(&m->cards[m->series->reference].pair, &swapped, view))
        return PC_OK;
    PC_TRY(pc_align_shared(m->ctx, &m->reference, picture, view, false, shared, err));
    if (support_of(shared) < LEAST_SUPPORT)
        return PC_OK;
    return pc_fail(
        err, PC_BAD_INPUT, m->series->frame[frame].name,
        "The cards pointed out in this frame are the other way round: give the hero's first and then "
        "the surface's (--card).");
}

// A place pointed out that is not where the table shows the card.
static enum pc_status refuse_elsewhere(const struct hand_making *m, int frame,
                                       const struct pc_picture *picture, const struct pc_shared *shared,
                                       struct pc_err *err)
{
    const struct hand_pair *reference = &m->cards[m->series->reference].pair, *pair = &m->cards[frame].pair;
    for (int k = 0; k < HAND_CARDS; k++) {
        double at[2];
        if (!reference->outlined[k] ||
            !hand_foretold(shared, picture, &reference->card[k], reference->outlined[k], at) ||
            hypot(at[0] - pair->card[k].x_px, at[1] - pair->card[k].y_px) <
                MOST_GUESSED_OFF_sizes * hand_across_px(&reference->card[k]))
            continue;
        return pc_fail(
            err, PC_BAD_INPUT, m->series->frame[frame].name,
            "The card pointed out at %.0f,%.0f for the %s is not the one of %s, which lies at about "
            "%.0f,%.0f here.",
            pair->card[k].x_px, pair->card[k].y_px, m->place[k]->name,
            m->series->frame[m->series->reference].name, at[0], at[1]);
    }
    return PC_OK;
}

enum pc_status hand_choose_pair(struct hand_making *m, int frame, const struct pc_picture *picture,
                                const struct hand_pair *guesses, int count, struct pc_err *err)
{
    struct hand_frame *out = &m->cards[frame];
    const struct hand_pair *reference = &m->cards[m->series->reference].pair;
    bool ambient = m->series->frame[frame].role == PC_ROLE_AMBIENT;
    double best = 0.0, focal_mm = m->series->frame[frame].facts.focal_35mm_mm;
    struct pc_shared *shared = calloc(2, sizeof *shared), *proof = shared + 1;
    PC_ASSERT(shared != NULL);
    enum pc_status status = PC_OK;
    int chosen = -1;
    bool told = false; // the table has something to say
    for (int i = 0; i < count && status == PC_OK && best < SURE_SUPPORT; i++) {
        double view[3][3];
        if (!hand_pair_view(reference, &guesses[i], view))
            continue;
        status = pc_align_shared(m->ctx, &m->reference, picture, view, ambient, shared, err);
        double support = support_of(shared);
        told |= shared->structured >= LEAST_STRUCTURED;
        if (status != PC_OK || support <= best)
            continue;
        best = support;
        chosen = i;
        *proof = *shared;
        if (ambient && support >= LEAST_SUPPORT)
            out->lens_seen = hand_lens_from(picture, focal_mm, shared, &out->lens_ratio, &out->lens_se);
    }
    out->support = best;
    bool plain = best < LEAST_SUPPORT;
    const struct hand_pair *likely = &guesses[0];
    out->pair = plain ? *likely : guesses[chosen];
    bool sure = out->pair.pointed;
    if (!sure && plain) // and nothing that speaks against them
        sure = !told &&
               fmin(likely->card[0].score_ratio, likely->card[1].score_ratio) >= pc_card_sure_score &&
               hand_pair_roll_cos(reference, likely) > MOST_TURN_COS;
    else if (!sure)
        sure = settle_pair(reference, picture, proof, &out->pair);
    if (status == PC_OK && out->pair.pointed && plain)
        status = refuse_swapped(m, frame, picture, likely, shared, err);
    if (status == PC_OK && out->pair.pointed && !plain)
        status = refuse_elsewhere(m, frame, picture, proof, err);
    free(shared);
    PC_TRY(status);
    for (int k = 0; k < HAND_CARDS; k++)
        out->hard[k] = !out->pair.outlined[k] || plain;
    return sure ? PC_OK : hand_not_found(err, m->series->frame[frame].name, "which two they are was");
}
