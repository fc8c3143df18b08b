// SPDX-License-Identifier: Apache-2.0
#include "image/find/card.h"

#include "base/units.h"
#include "image/find/plain_priv.h"
#include "image/find/quad.h"
#include "image/find/texture_priv.h"

enum {
    ABOUT_WIDTH_PX = 760,  // a card of 3 % is still 22 pixels across
    COARSE_WIDTH_PX = 380, // where a larger card on cloth of its own lightness stands out by being plain
    AREAS_MAX = 1024,
    CANDIDATES_MAX = 256,
    LEAST_SIDE_PX = 64,
    LEAST_CORE_PX = 24,
};

static const double LEAST_ACROSS_RATIO = 0.03, MOST_ACROSS_RATIO = 0.60;
const double pc_card_sure_score = 0.5;
static const double PATCH_SCORE =
    0.3; // times what it would be alone: never sure, still there for who knows the place
static const double HALF_AT_texture = 0.016; // a card has a quarter of it, a weave twice
// How far about a patch of a chart its like are counted, in its own size.
static const double CHART_REACH = 3.5, BESIDE_REACH = 2.6;
// From plain paper in good light to a small card in a noisy frame.
static const double CHANGES_EV[] = {0.04, 0.06, 0.09, 0.13, 0.18, 0.25, 0.34};
// How far a card may depart from the smooth light over it when it is grown from a place.
static const double LEVELS_OFF_EV[] = {0.05, 0.09, 0.15, 0.25};
static const double LEAST_SCORE_AT_PLACE = 0.05;

struct candidate {
    double corner[4][2]; // in pixels of the field; once settled, of the picture
    double x, y, across, area, radius;
    double fill; // how much of the four-sided figure the area fills, and the other way round
    double level_ev, red_ev, blue_ev, above_ev;
    bool refined;              // lies on edges seen in the picture, not only around the plain area
    double seen_ratio, off_px; // of its edges
    double texture_ratio, score;
    int alike, beside; // things of about this size about it, and right beside it
};

static double rises(double value, double from, double to)
{
    double t = fmin(1.0, fmax(0.0, (value - from) / (to - from)));
    return t * t * (3.0 - 2.0 * t);
}

// 1 at nothing, 1/2 at half_at, and soon nothing.
static double falls(double value, double half_at)
{
    double r = value / half_at;
    return 1.0 / (1.0 + r * r * r * r);
}

static double side_length(const double corner[4][2], int side)
{
    const double *a = corner[side], *b = corner[(side + 1) % 4];
    return hypot(b[0] - a[0], b[1] - a[1]);
}

// The longer pair of opposite sides, on average.
static double quad_across(const double corner[4][2])
{
    return 0.5 * fmax(side_length(corner, 0) + side_length(corner, 2),
                      side_length(corner, 1) + side_length(corner, 3));
}

// A rectangle no longer than two to one, seen at up to 50 degrees from not too near.
static bool may_be_a_rectangle(const double corner[4][2])
{
    const double MOST_TAPER = 1.8, MOST_ASPECT = 3.4, LEAST_ANGLE_DEG = 32.0;
    double side[4];
    for (int i = 0; i < 4; i++)
        side[i] = side_length(corner, i);
    for (int i = 0; i < 2; i++)
        if (side[i] > MOST_TAPER * side[i + 2] || side[i + 2] > MOST_TAPER * side[i])
            return false;
    double a = side[0] + side[2], b = side[1] + side[3];
    if (a > MOST_ASPECT * b || b > MOST_ASPECT * a)
        return false;
    for (int i = 0; i < 4; i++) {
        const double *o = corner[i], *p = corner[(i + 1) % 4], *q = corner[(i + 3) % 4];
        double angle_rad = acos(((p[0] - o[0]) * (q[0] - o[0]) + (p[1] - o[1]) * (q[1] - o[1])) /
                                (side[i] * side[(i + 3) % 4]));
        double deg = pc_deg_from_rad(angle_rad);
        if (!(deg > LEAST_ANGLE_DEG && deg < 180.0 - LEAST_ANGLE_DEG))
            return false;
    }
    return true;
}

// The outermost pixels of an area by rows and by columns: all of its rim, if it is convex.
static int rim_of(const struct plain_field *field, const struct plain_area *area, double (*rim)[2])
{
    int w = field->width_px, n = 0;
    for (int y = area->top; y <= area->bottom; y++) {
        const int32_t *row = field->label + (size_t)y * (size_t)w;
        int l = area->left, r = area->right;
        while (l <= r && row[l] != area->label)
            l++;
        while (r > l && row[r] != area->label)
            r--;
        if (l > r)
            continue;
        rim[n][0] = l, rim[n++][1] = y + 0.5;
        rim[n][0] = r + 1.0, rim[n++][1] = y + 0.5;
    }
    for (int x = area->left; x <= area->right; x++) {
        const int32_t *column = field->label + x;
        int t = area->top, b = area->bottom;
        while (t <= b && column[(size_t)t * (size_t)w] != area->label)
            t++;
        while (b > t && column[(size_t)b * (size_t)w] != area->label)
            b--;
        if (t > b)
            continue;
        rim[n][0] = x + 0.5, rim[n++][1] = t;
        rim[n][0] = x + 0.5, rim[n++][1] = b + 1.0;
    }
    return n;
}

// Intersection over union of the area and the figure.
static double fill_of(const struct plain_field *field, const struct plain_area *area,
                      const double corner[4][2])
{
    int inside = 0;
    for (int y = area->top; y <= area->bottom; y++)
        for (int x = area->left; x <= area->right; x++)
            inside += field->label[(size_t)y * (size_t)field->width_px + (size_t)x] == area->label &&
                      pc_quad_holds(corner, x + 0.5, y + 0.5);
    return inside / (pc_quad_area(corner) + area->pixels - inside);
}

static bool candidate_from_area(const struct plain_field *field, const struct plain_area *area,
                                double (*rim)[2], struct candidate *candidate)
{
    const double LEAST_FILL = 0.78;
    double wide = area->right - area->left + 1, high = area->bottom - area->top + 1;
    double longest = hypot(wide, high);
    if (area->at_border || longest < 0.7 * LEAST_ACROSS_RATIO * field->width_px ||
        fmax(wide, high) > 1.6 * MOST_ACROSS_RATIO * field->width_px || area->pixels < 0.3 * wide * high)
        return false;
    double off;
    if (!pc_quad_from_rim(rim, rim_of(field, area, rim), candidate->corner, &off))
        return false;
    const double(*corner)[2] = candidate->corner;
    candidate->across = quad_across(corner);
    double centre[2];
    if (off > 0.6 + 0.02 * candidate->across || !may_be_a_rectangle(corner) ||
        !pc_quad_centre(corner, centre))
        return false;
    candidate->fill = fill_of(field, area, corner);
    if (candidate->fill < LEAST_FILL)
        return false;
    candidate->x = centre[0];
    candidate->y = centre[1];
    candidate->area = pc_quad_area(corner);
    candidate->level_ev = area->model[0];
    candidate->red_ev = area->red_ev;
    candidate->blue_ev = area->blue_ev;
    return true;
}

static bool same_thing(const struct candidate *a, const struct candidate *b)
{
    return pc_quad_holds(a->corner, b->x, b->y) && pc_quad_holds(b->corner, a->x, a->y) &&
           a->area < 2.0 * b->area && b->area < 2.0 * a->area;
}

// Adds one to a list unless it is there; the better filled one stays. candidate may lie in the list, from
// count on.
static int add_candidate(struct candidate *list, int count, const struct candidate *candidate)
{
    int at = 0;
    while (at < count && !same_thing(&list[at], candidate))
        at++;
    if (at == CANDIDATES_MAX || (at < count && candidate->fill <= list[at].fill))
        return count;
    if (&list[at] != candidate)
        list[at] = *candidate;
    return at == count ? count + 1 : count;
}

// Every four-sided plain thing in the picture, once each: the best filled one of those that several limits
// gave.
static int list_candidates(struct plain_field *field, struct plain_area *areas, double (*rim)[2],
                           struct candidate *list)
{
    int count = 0;
    for (size_t t = 0; t < PC_COUNT(CHANGES_EV); t++) {
        int found = plain_areas(field, CHANGES_EV[t], LEAST_CORE_PX, areas, AREAS_MAX);
        for (int i = 0; i < found; i++) {
            struct candidate candidate = {0};
            if (!candidate_from_area(field, &areas[i], rim, &candidate))
                continue;
            count = add_candidate(list, count, &candidate);
        }
    }
    return count;
}

// How much brighter it is than what lies around it.
static double above_surroundings_ev(const struct plain_field *field, const struct candidate *candidate)
{
    enum { LOOKS_A_SIDE = 8 };
    double level[4 * LOOKS_A_SIDE];
    int n = 0;
    for (int i = 0; i < 4 * LOOKS_A_SIDE; i++) {
        const double *a = candidate->corner[i / LOOKS_A_SIDE],
                     *b = candidate->corner[(i / LOOKS_A_SIDE + 1) % 4];
        double t = (i % LOOKS_A_SIDE + 0.5) / LOOKS_A_SIDE;
        double x = candidate->x + 1.35 * (a[0] + t * (b[0] - a[0]) - candidate->x);
        double y = candidate->y + 1.35 * (a[1] + t * (b[1] - a[1]) - candidate->y);
        if (x < 0.0 || y < 0.0 || x >= field->width_px || y >= field->height_px)
            continue;
        double value = (double)field->level_ev[(size_t)y * (size_t)field->width_px + (size_t)x];
        int at = n++;
        for (; at > 0 && level[at - 1] > value; at--)
            level[at] = level[at - 1];
        level[at] = value;
    }
    return n > 0 ? candidate->level_ev - level[n / 2] : 0.0;
}

// Lights differ along the way from warm to cool, where red and blue part, far more than from green to
// magenta, where they go together: one frame a light may hold a 2800 K panel in a camera set for 6500 K.
static double neutral_score(const struct pc_picture *picture, const double *neutral_ratio,
                            const struct candidate *candidate)
{
    const double HALF_AT_WARMTH_EV = 1.3, HALF_AT_TINT_EV = 0.4;
    if (neutral_ratio == NULL || picture->channels != 3)
        return 1.0;
    double red = candidate->red_ev - log2(neutral_ratio[0] / neutral_ratio[1]);
    double blue = candidate->blue_ev - log2(neutral_ratio[2] / neutral_ratio[1]);
    return falls(
        hypot((red - blue) * M_SQRT1_2 / HALF_AT_WARMTH_EV, (red + blue) * M_SQRT1_2 / HALF_AT_TINT_EV), 1.0);
}

// Clockwise from the corner nearest the top left of the picture.
static void order_corners(double corner[4][2])
{
    int first = 0;
    for (int i = 1; i < 4; i++)
        if (hypot(corner[i][0], corner[i][1]) < hypot(corner[first][0], corner[first][1]))
            first = i;
    double turned[4][2];
    for (int i = 0; i < 4; i++)
        memcpy(turned[i], corner[(first + i) % 4], sizeof turned[i]);
    memcpy(corner, turned, sizeof turned);
}

static double inner_radius(const double corner[4][2], const double centre[2])
{
    double least = INFINITY;
    for (int i = 0; i < 4; i++) {
        const double *a = corner[i], *b = corner[(i + 1) % 4];
        double off = (b[0] - a[0]) * (centre[1] - a[1]) - (b[1] - a[1]) * (centre[0] - a[0]);
        least = fmin(least, off / side_length(corner, i));
    }
    return 0.9 * least;
}

// How much of a card's shape it has, 0..1.
static double shape_score(const struct candidate *candidate)
{
    const double UNREFINED_SCORE =
        0.35; // on cloth of its own lightness a card is plain, but has no edges to speak of
    if (!candidate->refined)
        return UNREFINED_SCORE * rises(candidate->fill, 0.76, 0.92);
    return rises(candidate->seen_ratio, 0.5, 0.9) *
           falls(candidate->off_px, 0.25 + 0.003 * candidate->across) * rises(candidate->fill, 0.84, 0.95);
}

// Fills in what follows from the corners. False when they are not those of a card.
static bool measure_shape(const struct pc_picture *picture, struct candidate *candidate)
{
    double centre[2];
    if (!pc_quad_centre(candidate->corner, centre) || !may_be_a_rectangle(candidate->corner))
        return false;
    candidate->x = centre[0];
    candidate->y = centre[1];
    candidate->across = quad_across(candidate->corner);
    candidate->area = pc_quad_area(candidate->corner);
    candidate->radius = inner_radius(candidate->corner, centre);
    if (!candidate->refined)
        candidate->radius *= 0.8; // its sides are known less well
    candidate->texture_ratio = texture_ratio(picture, centre[0], centre[1], candidate->radius);
    return candidate->radius >= 2.0;
}

// Lays the sides on the picture's edges; where those are not seen they stay about the plain area. False when
// it is no card.
static bool settle(const struct pc_picture *picture, const struct plain_field *field,
                   struct candidate *candidate)
{
    candidate->above_ev = above_surroundings_ev(field, candidate);
    for (int i = 0; i < 4; i++)
        for (int c = 0; c < 2; c++)
            candidate->corner[i][c] *= field->shrink;
    struct candidate laid = *candidate;
    struct pc_quad_edges edges;
    laid.refined = pc_quad_refine(picture, 2.0 * field->shrink + 2.0, laid.corner, &edges);
    if (laid.refined) {
        laid.off_px = edges.off_px;
        laid.seen_ratio = 1.0;
        for (int i = 0; i < 4; i++)
            laid.seen_ratio = fmin(laid.seen_ratio, edges.seen_ratio[i]);
        if (measure_shape(picture, &laid) && shape_score(&laid) > shape_score(candidate)) {
            *candidate = laid;
            return true;
        }
    }
    return measure_shape(picture, candidate);
}

// A card on a table is alone; the patches of a chart, grey or not, have their like beside them.
static void count_alike(struct candidate *list, int count)
{
    for (int i = 0; i < count; i++)
        for (int j = 0; j < count; j++) {
            double size = fmax(list[i].across, list[j].across), ratio = list[i].area / list[j].area;
            double apart = hypot(list[i].x - list[j].x, list[i].y - list[j].y) / size;
            bool alike =
                i != j && ratio < 1.8 && ratio > 1.0 / 1.8 && list[j].texture_ratio < HALF_AT_texture;
            list[i].alike += alike && apart < CHART_REACH;
            list[i].beside += alike && apart < BESIDE_REACH;
        }
}

static double card_score(const struct pc_picture *picture, const double *neutral_ratio,
                         const struct candidate *candidate)
{
    double across_ratio = candidate->across / picture->width_px;
    if (across_ratio < LEAST_ACROSS_RATIO || across_ratio > MOST_ACROSS_RATIO)
        return 0.0;
    double score = shape_score(candidate) * neutral_score(picture, neutral_ratio, candidate);
    if (candidate->alike >= 2 && candidate->beside >= 1) // one or two may be other cards
        score *= PATCH_SCORE;
    // A sheet of paper is as plain and neutral, but stands out more than a grey card does.
    score *= 1.0 - 0.3 * rises(candidate->above_ev, 1.6, 2.6);
    score *= falls(candidate->texture_ratio, HALF_AT_texture);
    return score * (0.8 + 0.2 * rises(across_ratio, 0.0, 0.1));
}

// Cards on one table are of a kind; a plain patch much smaller than a good card is a stripe or a label.
static void prefer_large(struct candidate *list, int count)
{
    const double GOOD_SCORE = 0.7;
    double largest = 0.0;
    for (int i = 0; i < count; i++)
        if (list[i].score >= GOOD_SCORE)
            largest = fmax(largest, list[i].area);
    for (int i = 0; i < count; i++)
        if (list[i].area < largest)
            list[i].score *= 0.5 + 0.5 * rises(list[i].area / largest, 0.06, 0.25);
}

static struct pc_card card_from_candidate(const struct candidate *candidate, int bin)
{
    struct pc_card card = {.x_px = candidate->x * bin,
                           .y_px = candidate->y * bin,
                           .inner_radius_px = candidate->radius * bin,
                           .score_ratio = candidate->score};
    memcpy(card.corner_px, candidate->corner, sizeof card.corner_px);
    order_corners(card.corner_px);
    for (int i = 0; i < 4; i++)
        for (int c = 0; c < 2; c++)
            card.corner_px[i][c] *= bin;
    return card;
}

static void keep_best(struct pc_card cards[PC_CARDS_MAX], int *count, struct pc_card card)
{
    int at = *count;
    while (at > 0 && cards[at - 1].score_ratio < card.score_ratio)
        at--;
    if (at == PC_CARDS_MAX)
        return;
    int last = *count < PC_CARDS_MAX ? (*count)++ : PC_CARDS_MAX - 1;
    memmove(&cards[at + 1], &cards[at], sizeof *cards * (size_t)(last - at));
    cards[at] = card;
}

struct search {
    struct plain_field field;
    struct pc_buffer areas, rim, list;
};

static void search_finish(struct search *search)
{
    pc_buffer_finish(&search->list);
    pc_buffer_finish(&search->rim);
    pc_buffer_finish(&search->areas);
    plain_field_finish(&search->field);
}

static enum pc_status search_init(struct pc_ctx *ctx, const struct pc_picture *picture, int about_width_px,
                                  struct search *search, struct pc_err *err)
{
    memset(search, 0, sizeof *search);
    PC_TRY(plain_field_init(ctx, picture, about_width_px, &search->field, err));
    size_t rim_count = 2 * ((size_t)search->field.width_px + (size_t)search->field.height_px);
    enum pc_status status = pc_buffer_init(ctx, &search->areas, AREAS_MAX, 1, sizeof(struct plain_area), err);
    if (status == PC_OK)
        status = pc_buffer_init(ctx, &search->rim, rim_count, 1, sizeof(double[2]), err);
    if (status == PC_OK)
        status = pc_buffer_init(ctx, &search->list, CANDIDATES_MAX, 1, sizeof(struct candidate), err);
    if (status != PC_OK)
        search_finish(search);
    return status;
}

// Adds what one size of the field shows to list (candidates in pixels of the picture).
static enum pc_status add_seen(struct pc_ctx *ctx, const struct pc_picture *picture, int about_width_px,
                               double least_shape_score, struct candidate *list, int *count,
                               struct pc_err *err)
{
    struct search search;
    PC_TRY(search_init(ctx, picture, about_width_px, &search, err));
    struct candidate *candidates = search.list.data;
    int listed = list_candidates(&search.field, search.areas.data, search.rim.data, candidates);
    for (int i = 0; i < listed; i++)
        if (settle(picture, &search.field, &candidates[i]) && shape_score(&candidates[i]) > least_shape_score)
            *count = add_candidate(list, *count, &candidates[i]);
    search_finish(&search);
    return PC_OK;
}

enum pc_status pc_find_cards(struct pc_ctx *ctx, const struct pc_picture *picture,
                             const double *neutral_ratio, double least_score_ratio,
                             struct pc_card cards[PC_CARDS_MAX], int *count, struct pc_err *err)
{
    *count = 0;
    if (picture->width_px < LEAST_SIDE_PX || picture->height_px < LEAST_SIDE_PX)
        return PC_OK;
    struct pc_buffer list = {0};
    int n = 0;
    PC_TRY(pc_buffer_init(ctx, &list, CANDIDATES_MAX, 1, sizeof(struct candidate), err));
    struct candidate *candidates = list.data;
    enum pc_status status = add_seen(ctx, picture, ABOUT_WIDTH_PX, least_score_ratio, candidates, &n, err);
    if (status == PC_OK && least_score_ratio < pc_card_sure_score) // the coarse look finds no sure ones
        status = add_seen(ctx, picture, COARSE_WIDTH_PX, least_score_ratio, candidates, &n, err);
    if (status == PC_OK) {
        count_alike(candidates, n);
        for (int i = 0; i < n; i++)
            candidates[i].score = card_score(picture, neutral_ratio, &candidates[i]);
        prefer_large(candidates, n);
        for (int i = 0; i < n; i++)
            if (candidates[i].score >= least_score_ratio)
                keep_best(cards, count, card_from_candidate(&candidates[i], picture->bin));
    }
    pc_buffer_finish(&list);
    return status;
}

enum pc_status pc_find_card_at(struct pc_ctx *ctx, const struct pc_picture *picture,
                               const double *neutral_ratio, double x_px, double y_px, struct pc_card *card,
                               bool *found, struct pc_err *err)
{
    *found = false;
    double x = x_px / picture->bin, y = y_px / picture->bin;
    if (picture->width_px < LEAST_SIDE_PX || picture->height_px < LEAST_SIDE_PX || !(x >= 0.0) ||
        !(y >= 0.0) || x >= picture->width_px || y >= picture->height_px)
        return PC_OK;
    struct search search;
    PC_TRY(search_init(ctx, picture, ABOUT_WIDTH_PX, &search, err));
    struct plain_field *field = &search.field;
    double best = LEAST_SCORE_AT_PLACE;
    for (size_t t = 0; t < PC_COUNT(LEVELS_OFF_EV); t++) {
        struct plain_area area;
        struct candidate candidate = {0};
        if (!plain_area_about(field, x / field->shrink, y / field->shrink, LEVELS_OFF_EV[t], &area) ||
            !candidate_from_area(field, &area, search.rim.data, &candidate) ||
            !settle(picture, field, &candidate) || !pc_quad_holds(candidate.corner, x, y))
            continue;
        candidate.score = card_score(picture, neutral_ratio, &candidate);
        if (candidate.score > best) {
            best = candidate.score;
            *card = card_from_candidate(&candidate, picture->bin);
            *found = true;
        }
    }
    search_finish(&search);
    return PC_OK;
}
