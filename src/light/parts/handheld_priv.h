// SPDX-License-Identifier: Apache-2.0
// Which two of the plain four-sided things in a frame are the cards. Shared between this folder's files.
#ifndef PC_LIGHT_PARTS_HANDHELD_PRIV_H
#define PC_LIGHT_PARTS_HANDHELD_PRIV_H

#include "image/find/card.h"
#include "light/parts/handheld.h"
#include "light/parts/parts_priv.h"

enum { HAND_CARDS = 2 }; // at the hero and at the surface

// The cards of one frame; [0] at the hero, [1] at the surface.
struct hand_pair {
    struct pc_card card[HAND_CARDS];
    bool outlined[HAND_CARDS]; // false: only a place is known, corner_px is unset
};

// The pair in the reference frame, by the places the user gave. place[k] NULL or a place pointed out in this
// very frame that must lie on a card: pointed[k].
enum pc_status hand_pair_by_place(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                                  const struct pc_place *place[HAND_CARDS],
                                  const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                                  struct hand_pair *pair, struct pc_err *err) PC_MUST_CHECK;

// The pair in another frame, as it agrees with the reference's; pointed as above.
enum pc_status hand_pair_like(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                              const struct hand_pair *reference,
                              const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                              struct hand_pair *pair, struct pc_err *err) PC_MUST_CHECK;

// How far two cards are from being the two of the reference seen from elsewhere: what one view of a plane
// leaves of their corners (root mean square, in sizes of a card). INFINITY when no view does.
double hand_pair_off_ratio(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS]);

#endif
