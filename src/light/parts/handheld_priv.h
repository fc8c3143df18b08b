// SPDX-License-Identifier: Apache-2.0
// Which two of the plain four-sided things in a frame are the cards. Shared between this folder's files.
#ifndef PC_LIGHT_PARTS_HANDHELD_PRIV_H
#define PC_LIGHT_PARTS_HANDHELD_PRIV_H

#include "image/align/views.h"
#include "image/find/card.h"
#include "light/parts/handheld.h"
#include "light/parts/parts_priv.h"

enum { HAND_CARDS = 2 }; // at the hero and at the surface

// The cards of one frame; [0] at the hero, [1] at the surface.
struct hand_pair {
    struct pc_card card[HAND_CARDS];
    bool outlined[HAND_CARDS]; // false: only a place is known, corner_px is unset
    bool pointed;              // both by the user
    double worth;              // 0..1: how likely it is the two cards, by their looks alone
};

struct hand_frame {
    double camera[HAND_CARDS][3]; // levels, camera colour, as exposed
    double veil[HAND_CARDS][3];   // what was taken off them as the lens's veil, and is as uncertain
    double se_ratio[HAND_CARDS];
    double lens_loss[HAND_CARDS]; // of a thin lens; see take_lens_off
    struct hand_pair pair;
    bool hard[HAND_CARDS]; // to read: no outline was seen, or nothing proves that it is the card
    double support;        // share of the reference's picture found where the pair says
    bool lens_seen;
    double lens_ratio, lens_se; // what the frame and the reference tell of the lens
};

struct hand_making {
    struct pc_ctx *ctx;
    struct pc_photo_reader *reader;
    const struct pc_series *series;
    const struct pc_place *place[HAND_CARDS];
    const struct pc_pointed *pointed;
    int pointed_count;
    struct pc_notes *notes;
    struct hand_frame *cards;    // frame_count
    double *clipped_ratio;       // frame_count
    struct pc_parts colour;      // only its matrix is used
    struct pc_picture reference; // its picture, while the others are compared with it
};

static const double HAND_LEAST_LEVEL = 1e-7;

// The pair in the reference frame, by the places the user gave. place[k] NULL or a place pointed out in this
// very frame that must lie on a card: pointed[k].
enum pc_status hand_pair_by_place(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                                  const struct pc_place *place[HAND_CARDS],
                                  const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                                  struct hand_pair *pair, struct pc_err *err) PC_MUST_CHECK;

enum { HAND_GUESSES_MAX = 10 };

// The pairs of another frame that agree with the reference's, best first; pointed as above: what is pointed
// out stands in all of them. PC_NOT_FOUND when there is none.
enum pc_status hand_pairs_like(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                               const struct hand_pair *reference,
                               const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                               struct hand_pair guesses[HAND_GUESSES_MAX], int *count,
                               struct pc_err *err) PC_MUST_CHECK;

// Says in err that which was not found in a frame, and what to do.
enum pc_status hand_not_found(struct pc_err *err, const char *frame, const char *which);

// Cosine of how far the way from one card to the other turned between two frames.
double hand_pair_roll_cos(const struct hand_pair *reference, const struct hand_pair *pair);

// Mean length of a card's sides.
double hand_across_px(const struct pc_card *card);

// The view of a plane (a homography) that takes count points to others, in least squares; 4 points: exactly.
// False when there is none.
bool hand_fit_view(const double (*from)[2], const double (*to)[2], int count, double view[8]);
bool hand_apply_view(const double view[8], double x, double y, double to[2]);

// Corners of one or two cards about their common middle, in units of the first one's size, each card's
// starting at its first[k]-th corner.
void hand_gather_corners(const struct pc_card *card, int count, const int first[HAND_CARDS], double unit_px,
                         const double middle[2], double (*corner)[2]);

// How far two cards are from being the two of the reference seen from elsewhere: what one view of a plane
// leaves of their corners (root mean square, in sizes of a card). INFINITY when no view does.
double hand_pair_off_ratio(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS]);

// The view of the table's plane in which the reference shows as the other frame does, as far as the corners
// of the cards (and the places of those without an outline) tell. False when they tell too little.
bool hand_pair_view(const struct hand_pair *reference, const struct hand_pair *pair,
                    double pair_from_reference[3][3]);

// Where a card of the reference must be in the other frame, as the areas on and about it say: the table's
// plane, and how far the card stands off it. False when they do not agree, or are too few: at is a guess
// then.
bool hand_foretold(const struct pc_shared *shared, const struct pc_picture *picture,
                   const struct pc_card *was, bool outlined, double at[2]);

// What a thin lens loses at a place against the middle, as a natural logarithm: the cosine to the fourth of
// the way the light comes.
double hand_thin_loss(const struct pc_picture *picture, double focal_35mm_mm, double x_px, double y_px);

// How many times that loss the lens has, with its standard error, from what two frames of the ambient share.
// False when that is too little.
bool hand_lens_from(const struct pc_picture *picture, double focal_35mm_mm, const struct pc_shared *shared,
                    double *loss_ratio, double *se);

// Which of the guesses it is, into the frame's cards: the one by which the two frames show one table. Where
// the table has too little structure to tell, cards that look like nothing else, and the camera held about
// upright. Of a frame of the ambient it also takes what it tells of the lens. PC_NOT_FOUND where it is not
// sure, PC_BAD_INPUT where cards pointed out cannot be those of the reference.
enum pc_status hand_choose_pair(struct hand_making *m, int frame, const struct pc_picture *picture,
                                const struct hand_pair *guesses, int count, struct pc_err *err) PC_MUST_CHECK;

// Luminance of a card in a frame, as exposed.
double hand_card_Y(const struct hand_making *m, int frame, int card);

// What one frame has at the cards that the ambient has not, per unit of the reference exposure (camera
// colour): of the levels, or of the veil that was taken off them.
void hand_lone_light(const struct hand_making *m, int frame, bool veil, double alone[HAND_CARDS][3]);

void hand_fill_ambient(const struct hand_making *m, struct pc_reading *reading);
enum pc_status hand_fill_light(const struct hand_making *m, int light, struct pc_handheld *out,
                               struct pc_notes *notes, struct pc_err *err) PC_MUST_CHECK;

// PC_NOT_FOUND names a frame in which something else may have been taken for a card, PC_BAD_INPUT one whose
// cards were pointed out and still do not fit.
enum pc_status hand_check(const struct hand_making *m, struct pc_err *err) PC_MUST_CHECK;

#endif
