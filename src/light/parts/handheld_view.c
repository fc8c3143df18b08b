// SPDX-License-Identifier: Apache-2.0
// How two cards on a table are seen from one place and from another.
#include "light/parts/handheld_priv.h"

#include "base/linalg.h"

static const double MOST_SCALE = 3.0; // a camera does not go three times as near

double hand_across_px(const struct pc_card *card)
{
    double sum = 0.0;
    for (int i = 0; i < 4; i++)
        sum += 0.25 * hypot(card->corner_px[(i + 1) % 4][0] - card->corner_px[i][0],
                            card->corner_px[(i + 1) % 4][1] - card->corner_px[i][1]);
    return sum;
}

bool hand_fit_view(const double (*from)[2], const double (*to)[2], int count, double view[8])
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

bool hand_apply_view(const double view[8], double x, double y, double to[2])
{
    double w = view[6] * x + view[7] * y + 1.0;
    if (!(w > 0.1))
        return false;
    to[0] = (view[0] * x + view[1] * y + view[2]) / w;
    to[1] = (view[3] * x + view[4] * y + view[5]) / w;
    return true;
}

void hand_gather_corners(const struct pc_card *card, int count, const int first[HAND_CARDS], double unit_px,
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
    double unit_px = hand_across_px(reference), unit_now_px = hand_across_px(card), least = INFINITY;
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

// Cosine and sine of how far the way from one card to the other turned between two frames.
static void roll_of(const struct pc_card was[HAND_CARDS], const struct pc_card now[HAND_CARDS],
                    double roll[2])
{
    double x = was[1].x_px - was[0].x_px, y = was[1].y_px - was[0].y_px, u = now[1].x_px - now[0].x_px,
           v = now[1].y_px - now[0].y_px, lengths = hypot(x, y) * hypot(u, v);
    roll[0] = (x * u + y * v) / lengths;
    roll[1] = (x * v - y * u) / lengths;
}

double hand_pair_roll_cos(const struct hand_pair *reference, const struct hand_pair *pair)
{
    double roll[2];
    roll_of(reference->card, pair->card, roll);
    return roll[0];
}

double hand_pair_off_ratio(const struct pc_card reference[HAND_CARDS], const struct pc_card pair[HAND_CARDS])
{
    static const int as_they_are[HAND_CARDS] = {0, 0};
    double unit_px = hand_across_px(&reference[0]), unit_now_px = hand_across_px(&pair[0]),
           scale = unit_now_px / unit_px;
    double roll[2];
    roll_of(reference, pair, roll);
    if (isnan(roll[0]) || scale > MOST_SCALE || scale < 1.0 / MOST_SCALE)
        return INFINITY;
    const double middle[2] = {0.5 * (reference[0].x_px + reference[1].x_px),
                              0.5 * (reference[0].y_px + reference[1].y_px)};
    const double middle_now[2] = {0.5 * (pair[0].x_px + pair[1].x_px), 0.5 * (pair[0].y_px + pair[1].y_px)};
    const int first[HAND_CARDS] = {first_corner(&reference[0], &pair[0], roll),
                                   first_corner(&reference[1], &pair[1], roll)};
    double from[8][2], to[8][2], view[8], sum = 0.0;
    hand_gather_corners(reference, HAND_CARDS, as_they_are, unit_px, middle, from);
    hand_gather_corners(pair, HAND_CARDS, first, unit_now_px, middle_now, to);
    if (!hand_fit_view(from, to, 8, view))
        return INFINITY;
    for (int i = 0; i < 8; i++) {
        double at[2];
        if (!hand_apply_view(view, from[i][0], from[i][1], at))
            return INFINITY;
        sum += (at[0] - to[i][0]) * (at[0] - to[i][0]) + (at[1] - to[i][1]) * (at[1] - to[i][1]);
    }
    return sqrt(sum / 8.0);
}

bool hand_pair_view(const struct hand_pair *reference, const struct hand_pair *pair,
                    double pair_from_reference[3][3])
{
    double from[10][2], to[10][2], view[8];
    int n = 0;
    const struct pc_card *was = reference->card, *now = pair->card;
    double unit_px = hypot(was[1].x_px - was[0].x_px, was[1].y_px - was[0].y_px),
           unit_now_px = hypot(now[1].x_px - now[0].x_px, now[1].y_px - now[0].y_px), roll[2];
    if (!(unit_px > 0.0) || !(unit_now_px > 0.0))
        return false;
    roll_of(was, now, roll);
    for (int k = 0; k < HAND_CARDS; k++) {
        bool outlined = reference->outlined[k] && pair->outlined[k];
        int first = outlined ? first_corner(&was[k], &now[k], roll) : 0;
        for (int i = 0; i < (outlined ? 4 : 1); i++, n++) {
            const double middle[2] = {was[k].x_px, was[k].y_px}, middle_now[2] = {now[k].x_px, now[k].y_px};
            const double *p = outlined ? was[k].corner_px[i] : middle;
            const double *q = outlined ? now[k].corner_px[(first + i) % 4] : middle_now;
            from[n][0] = (p[0] - was[0].x_px) / unit_px;
            from[n][1] = (p[1] - was[0].y_px) / unit_px;
            to[n][0] = (q[0] - now[0].x_px) / unit_now_px;
            to[n][1] = (q[1] - now[0].y_px) / unit_now_px;
        }
    }
    double plane[3][3] = {{roll[0], -roll[1], 0.0}, {roll[1], roll[0], 0.0}, {0.0, 0.0, 1.0}};
    if (n > 4) {
        if (!hand_fit_view(from, to, n, view))
            return false;
        const double fitted[3][3] = {
            {view[0], view[1], view[2]}, {view[3], view[4], view[5]}, {view[6], view[7], 1.0}};
        memcpy(plane, fitted, sizeof plane);
    }
    const double in[3][3] = {{1.0 / unit_px, 0.0, -was[0].x_px / unit_px},
                             {0.0, 1.0 / unit_px, -was[0].y_px / unit_px},
                             {0.0, 0.0, 1.0}};
    const double out[3][3] = {
        {unit_now_px, 0.0, now[0].x_px}, {0.0, unit_now_px, now[0].y_px}, {0.0, 0.0, 1.0}};
    double inner[3][3];
    pc_linalg_multiply3(plane, in, inner);
    pc_linalg_multiply3(out, inner, pair_from_reference);
    return true;
}

static double median_of(double *values, int count)
{
    for (int i = 1; i < count; i++) {
        double value = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > value; at--)
            values[at] = values[at - 1];
        values[at] = value;
    }
    return count % 2 == 1 ? values[count / 2] : 0.5 * (values[count / 2 - 1] + values[count / 2]);
}

static void on_plane(const struct pc_shared *shared, double x_px, double y_px, double at[2])
{
    const double from[3] = {x_px, y_px, 1.0};
    double to[3];
    pc_linalg_apply3(shared->b_from_a, from, to);
    at[0] = to[0] / to[2];
    at[1] = to[1] / to[2];
}

bool hand_foretold(const struct pc_shared *shared, const struct pc_picture *picture,
                   const struct pc_card *was, bool outlined, double at[2])
{
    enum { LEAST_AREAS = 3 };
    const double REACH_RATIO = 0.06, ALIKE_RATIO = 0.006; // of the picture's width
    double reach_px = REACH_RATIO * picture->full_width_px, alike_px = ALIKE_RATIO * picture->full_width_px;
    double off[2][PC_SHARED_AREAS_MAX], sorted[2][PC_SHARED_AREAS_MAX], middle[2];
    int n = 0, alike = 0;
    if (outlined)
        reach_px = fmax(0.7 * hand_across_px(was), 0.5 * reach_px);
    for (int i = 0; i < shared->count; i++) {
        const struct pc_shared_area *area = &shared->area[i];
        if (hypot(area->a_px[0] - was->x_px, area->a_px[1] - was->y_px) > reach_px)
            continue;
        double plane[2];
        on_plane(shared, area->a_px[0], area->a_px[1], plane);
        for (int c = 0; c < 2; c++)
            sorted[c][n] = off[c][n] = area->b_px[c] - plane[c];
        n++;
    }
    on_plane(shared, was->x_px, was->y_px, at);
    if (n < LEAST_AREAS)
        return false;
    for (int c = 0; c < 2; c++)
        middle[c] = median_of(sorted[c], n);
    for (int i = 0; i < n; i++)
        alike += hypot(off[0][i] - middle[0], off[1][i] - middle[1]) < alike_px;
    at[0] += middle[0];
    at[1] += middle[1];
    return alike >= LEAST_AREAS && 2 * alike > n;
}
