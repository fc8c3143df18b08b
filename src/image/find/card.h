// SPDX-License-Identifier: Apache-2.0
// A grey card in a picture, known by its shape (one plain four-sided patch) and its neutrality.
#ifndef PC_IMAGE_FIND_CARD_H
#define PC_IMAGE_FIND_CARD_H

#include "image/picture/picture.h"

struct pc_card {
    double corner_px[4][2]; // full-resolution, clockwise from the one nearest the top left
    double x_px, y_px;      // centre
    double inner_radius_px; // of the largest disc about the centre that stays inside with a tenth to spare
    double score_ratio;     // 0..1: how plain, neutral and four-sided it is
};

enum { PC_CARDS_MAX = 48 };

// From here on a card is one without anything else being known.
extern const double pc_card_sure_score;

// Finds up to PC_CARDS_MAX cards, best first, each at least 3 % and at most 60 % of the picture's width
// across. neutral_ratio: camera colour of a grey under about this light, green = 1 (NULL: not known, shape
// alone decides). least_score_ratio: pc_card_sure_score, or less by a caller who knows more of where cards
// must be and sorts out the rest. A card may be turned and seen at up to 50 degrees; light across it may vary
// by half a stop. *count is 0 when there is none; that is not an error.
enum pc_status pc_find_cards(struct pc_ctx *ctx, const struct pc_picture *picture,
                             const double *neutral_ratio, double least_score_ratio,
                             struct pc_card cards[PC_CARDS_MAX], int *count,
                             struct pc_err *err) PC_MUST_CHECK;

// The card that holds a place (full-resolution pixels), grown from there: finds cards whose edges are too
// soft or too faint to be met by a search of the whole picture. *found is false, *card untouched when nothing
// four-sided and plain holds the place; that is not an error. The score is as above, whether or not its like
// lie beside it.
enum pc_status pc_find_card_at(struct pc_ctx *ctx, const struct pc_picture *picture,
                               const double *neutral_ratio, double x_px, double y_px, struct pc_card *card,
                               bool *found, struct pc_err *err) PC_MUST_CHECK;

#endif
