// SPDX-License-Identifier: Apache-2.0
#include "light/parts/handheld_priv.h"

#include "base/linalg.h"

static const double LEAST_SCORE = 0.05;     // the other frame's cards and the places say the rest
static const double LEAST_LONE_SCORE = 0.2; // of one card from which the other's place is foretold
// The cards lie at different heights, so that no one view of a plane fits both quite.
static const double HALF_AT_off = 0.16, MOST_off = 0.3;
static const double LEAST_WORTH = 0.04;
static const double MOST_TURN_cos = 0.2; // the camera rolls by no more than 78 degrees between frames
static const double HALF_AT_size_ev =
    0.75;                               // change of the two cards' sizes (lengths, log2) against each other
static const double MOST_SCALE = 3.0;   // nor goes three times as near
static const double NEAR_sizes = 3.0;   // how far from the place a card may lie
static const double SPOT_ratio = 0.008; // of the picture's width: what is read where a place has no outline

static double across_px(const struct pc_card *card)
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++)
        sum += 0.25 * hypot(card->corner_px[(i + 1) % 4][0] - card->corner_px[i][0],
                            card->corner_px[(i + 1) % 4][1] - card->corner_px[i][1]);
    return sum;
}

static bool holds(const struct pc_card *card, double x, double y)
{
    for (int i = 0; i < 4; i++) {
        const double *a = card->corner_px[i], *b = card->corner_px[(i + 1) % 4];
        if ((b[0] - a[0]) * (y - a[1]) - (b[1] - a[1]) * (x - a[0]) < 0.0)
            return false;
    }
    return true;
}

// The view of a plane (a homography) that takes count points to others, in least squares; 4 points: exactly.
static bool fit_view(const double (*from)[2], const double (*to)[2], int count, double view[8])
{
    double a[8 * 2 * 8], b[16];
    for (int i = 0; i < count; i++) {
        double x = from[i][0], y = from[i][1], u = to[i][0], v = to[i][1];
        const double rows[2][8] = {{x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y},
                                   {0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y}};
        memcpy(a + (ptrdiff_t)i * 16, rows, sizeof rows);
        b[2 * i] = u;
        b[2 * i + 1] = v;
    }
    return pc_linalg_least_squares(2 * count, 8, a, b, view);
}

static bool apply_view(const double view[8], double x, double y, double to[2])
{
    double w = view[6] * x + view[7] * y + 1.0;
    if (!(w > 0.1))
        return false;
    to[0] = (view[0] * x + view[1] * y + view[2]) / w;
    to[1] = (view[3] * x + view[4] * y + view[5]) / w;
    return true;
}

// Corners of one or two cards about their common middle, in units of the first one's size, each card's
// starting at its first[k]-th corner.
static void gather_corners(const struct pc_card *card, int count, const int first[HAND_CARDS], double unit_px,
                           const double middle[2], double (*corner)[2])
{
    for (int k = 0; k < count; k++)
        for (int i = 0; i < 4; i++)
            for (int c = 0; c < 2; c++)
                corner[4 * k + i][c] = (card[k].corner_px[(first[k] + i) % 4][c] - middle[c]) / unit_px;
}

// Which corner of a card is the reference's first, the camera having rolled: the one that leaves the least
// between them.
static int first_corner(const struct pc_card *reference, const struct pc_card *card, const double roll[2])
{
    double unit_px = across_px(reference), unit_now_px = across_px(card), least = INFINITY;
    int first = 0;
    for (int turn = 0; turn < 4; turn++) {
        double sum = 0.0;
        for (int i = 0; i < 4; i++) {
            double x = (reference->corner_px[i][0] - reference->x_px) / unit_px,
                   y = (reference->corner_px[i][1] - reference->y_px) / unit_px;
            const double *corner = card->corner_px[(turn + i) % 4];
            double dx = roll[0] * x - roll[1] * y - (corner[0] - card->x_px) / unit_now_px,
                   dy = roll[1] * x + roll[0] * y - (corner[1] - card->y_px) / unit_now_px;
            sum += dx * dx + dy * dy;
        }
        if (sum < least) {
            least = sum;
            first = turn;
        }
    }
    return first;
}

double hand_pair_off_ratio(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS])
{
    static const int as_they_are[HAND_CARDS] = {0, 0};
    double way[2] = {reference[1].x_px - reference[0].x_px, reference[1].y_px - reference[0].y_px};
    double now[2] = {pair[1].x_px - pair[0].x_px, pair[1].y_px - pair[0].y_px};
    double unit_px = across_px(&reference[0]), unit_now_px = across_px(&pair[0]),
           scale = unit_now_px / unit_px;
    double lengths = hypot(way[0], way[1]) * hypot(now[0], now[1]);
    const double roll[2] = {(way[0] * now[0] + way[1] * now[1]) / lengths,
                            (way[0] * now[1] - way[1] * now[0]) / lengths};
    if (!(roll[0] > MOST_TURN_cos) || scale > MOST_SCALE || scale < 1.0 / MOST_SCALE)
        return INFINITY;
    const double middle[2] = {0.5 * (reference[0].x_px + reference[1].x_px),
                              0.5 * (reference[0].y_px + reference[1].y_px)};
    const double middle_now[2] = {0.5 * (pair[0].x_px + pair[1].x_px), 0.5 * (pair[0].y_px + pair[1].y_px)};
    const int first[HAND_CARDS] = {first_corner(&reference[0], &pair[0], roll),
                                   first_corner(&reference[1], &pair[1], roll)};
    double from[8][2], to[8][2], view[8], sum = 0.0;
    gather_corners(reference, HAND_CARDS, as_they_are, unit_px, middle, from);
    gather_corners(pair, HAND_CARDS, first, unit_now_px, middle_now, to);
    if (!fit_view(from, to, 8, view))
        return INFINITY;
    for (int i = 0; i < 8; i++) {
        double at[2];
        if (!apply_view(view, from[i][0], from[i][1], at))
            return INFINITY;
        sum += (at[0] - to[i][0]) * (at[0] - to[i][0]) + (at[1] - to[i][1]) * (at[1] - to[i][1]);
    }
    return sqrt(sum / 8.0);
}

// 0..1: how well two cards agree with the two of the reference. The nearer of two cards is the larger one,
// but a camera that goes about a table does not change that much.
static double agreement(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS])
{
    double size_ev =
        log2(across_px(&pair[0]) / across_px(&pair[1]) * across_px(&reference[1]) / across_px(&reference[0]));
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
        (struct pc_card){.x_px = x_px, .y_px = y_px, .inner_radius_px = SPOT_ratio * picture->full_width_px};
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

static enum pc_status not_found(struct pc_err *err, const char *frame, const char *which)
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

enum pc_status hand_pair_by_place(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                                  const struct pc_place *place[HAND_CARDS],
                                  const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                                  struct hand_pair *pair, struct pc_err *err)
{
    static const char *const missing[HAND_CARDS] = {"the hero's was", "the surface's was"};
    struct hunt hunt;
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
            double off = hypot(card->x_px - place[k]->x_px, card->y_px - place[k]->y_px) / across_px(card);
            if (off < fmin(nearest, NEAR_sizes) &&
                !(k == 1 && holds(&pair->card[0], card->x_px, card->y_px))) {
                nearest = off;
                pair->card[k] = *card;
            }
        }
        pair->outlined[k] |= isfinite(nearest);
        if (!pair->outlined[k])
            return not_found(err, frame, missing[k]);
    }
    if (pair->outlined[0] && holds(&pair->card[0], pair->card[1].x_px, pair->card[1].y_px))
        return pc_fail(
            err, PC_NOT_FOUND, frame,
            "The hero and the surface lie on the same card; lay one grey card at the hero and another at the "
            "surface.");
    return PC_OK;
}

// Every two candidates in turn, or with the pointed one held fixed.
static double best_pair(const struct hunt *hunt, const struct hand_pair *reference,
                        const struct pc_place *const pointed[HAND_CARDS], struct hand_pair *pair)
{
    struct pc_card two[HAND_CARDS];
    double best = LEAST_WORTH;
    int most[HAND_CARDS] = {pointed[0] != NULL ? 1 : hunt->count, pointed[1] != NULL ? 1 : hunt->count};
    struct pc_card held[HAND_CARDS] = {pair->card[0], pair->card[1]};
    for (int i = 0; i < most[0]; i++)
        for (int j = 0; j < most[1]; j++) {
            two[0] = pointed[0] != NULL ? held[0] : hunt->found[i];
            two[1] = pointed[1] != NULL ? held[1] : hunt->found[j];
            if (holds(&two[0], two[1].x_px, two[1].y_px))
                continue;
            double likely = sqrt(two[0].score_ratio * two[1].score_ratio);
            if (likely <= best)
                continue;
            double worth = likely * agreement(reference->card, two);
            if (worth > best) {
                best = worth;
                memcpy(pair->card, two, sizeof two);
            }
        }
    return best > LEAST_WORTH ? best : 0.0;
}

// Where the other card must be, from one that was found: as one view of its own plane has it (its corners
// tell), and as far as its size and lean alone do, which is steadier where the card is small.
static int foretell(const struct hand_pair *reference, int from, const struct pc_card *card,
                    double places[8][2])
{
    const struct pc_card *was = &reference->card[from], *other = &reference->card[1 - from];
    static const int as_it_is[HAND_CARDS] = {0, 0};
    double unit_px = across_px(was), unit_now_px = across_px(card), corner[4][2], to[4][2];
    const double middle[2] = {was->x_px, was->y_px}, middle_now[2] = {card->x_px, card->y_px};
    const double way[2] = {(other->x_px - was->x_px) / unit_px, (other->y_px - was->y_px) / unit_px};
    int count = 0;
    gather_corners(was, 1, as_it_is, unit_px, middle, corner);
    for (int turn = 0; turn < 4; turn++) {
        const int first[HAND_CARDS] = {turn, 0};
        double view[8], at[2], a[3 * 4], b[4], x[3], lean[2];
        gather_corners(card, 1, first, unit_now_px, middle_now, to);
        // The camera's roll is small against a quarter turn for all but one of the four.
        if (corner[0][0] * to[0][0] + corner[0][1] * to[0][1] <
            0.5 * hypot(corner[0][0], corner[0][1]) * hypot(to[0][0], to[0][1]))
            continue;
        if (fit_view(corner, to, 4, view) && apply_view(view, way[0], way[1], at)) {
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
                                   const struct pc_place *const pointed[HAND_CARDS], double *worth,
                                   struct hand_pair *pair, struct pc_err *err)
{
    const int MOST_SURE = 4;
    for (int from = 0; from < HAND_CARDS; from++) {
        if (pointed[1 - from] != NULL)
            continue;
        int count = pointed[from] != NULL ? 1 : hunt->count < MOST_SURE ? hunt->count : MOST_SURE;
        const struct pc_card held = pair->card[from];
        for (int i = 0; i < count; i++) {
            const struct pc_card *sure = pointed[from] != NULL ? &held : &hunt->found[i];
            double places[8][2];
            if (sure->score_ratio < fmax(LEAST_LONE_SCORE, *worth * *worth))
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
                if (likely > fmax(*worth, LEAST_WORTH)) {
                    *worth = likely;
                    memcpy(pair->card, two, sizeof two);
                }
            }
        }
    }
    return PC_OK;
}

enum pc_status hand_pair_like(struct pc_ctx *ctx, const struct pc_loaded *loaded,
                              const struct hand_pair *reference,
                              const struct pc_place *const pointed[HAND_CARDS], const char *frame,
                              struct hand_pair *pair, struct pc_err *err)
{
    const double GOOD_WORTH = 0.15;
    struct hunt hunt;
    PC_TRY(hunt_begin(ctx, loaded, &hunt, err));
    bool by_outline = reference->outlined[0] && reference->outlined[1];
    pair->outlined[0] = pair->outlined[1] = true;
    for (int k = 0; k < HAND_CARDS; k++)
        if (pointed[k] != NULL) {
            PC_TRY(take_pointed(&hunt, pointed[k], frame, k, pair, err));
            by_outline &= pair->outlined[k];
        }
    if (pointed[0] != NULL && pointed[1] != NULL)
        return PC_OK;
    double worth = by_outline ? best_pair(&hunt, reference, pointed, pair) : 0.0;
    if (by_outline && worth < GOOD_WORTH)
        PC_TRY(grow_missing(&hunt, reference, pointed, &worth, pair, err));
    return worth > 0.0 ? PC_OK : not_found(err, frame, hunt.count == 0 ? "none was" : "the two were");
}
