// SPDX-License-Identifier: Apache-2.0
#include "image/find/ball.h"

#include "base/linalg.h"
#include "image/find/ball_priv.h"

enum { WAYS = 180, STEPS_a_WAY = 9, TRIES = 12000, QUICK = 6, BRIGHT_MAX = 12, OUTLINES_MAX = 12 };

static const double LEAST_RADIUS_px = 12.0; // of the picture at hand
static const double NEAR_px = 0.9;          // an edge this near to an outline lies on it
static const double LEAST_AGREED = 0.42, LEAST_AGREED_MIRROR = 0.2, LEAST_OUTER = 0.5,
                    LEAST_SEEN = 0.45; // shares of the ways out

struct edge {
    double ray[3], step;
    double px_per_off; // pixels to a radian across an outline there, in nearnesses
    int way;
};

struct edges {
    struct edge edge[WAYS * STEPS_a_WAY];
    int count;
    int first[WAYS + 1]; // of each way out
};

double pc_ball_distance_m(const struct pc_ball *ball, double diameter_m)
{
    return 0.5 * diameter_m / sin(ball->radius_rad);
}

bool ball_normal(const struct pc_ball *ball, const double ray[3], double normal[3])
{
    // In radii: the middle is 1 / sin(radius) away.
    double away = 1.0 / sin(ball->radius_rad), along = away * ball_dot(ray, ball->centre);
    double inside = along * along - away * away + 1.0;
    if (inside < 0.0)
        return false;
    double t = along - sqrt(inside);
    for (int i = 0; i < 3; i++)
        normal[i] = t * ray[i] - away * ball->centre[i];
    return true;
}

static double log_level(const struct pc_picture *picture, double x, double y)
{
    int ix = (int)floor(x - 0.5), iy = (int)floor(y - 0.5);
    if (ix < 0 || iy < 0 || ix + 1 >= picture->width_px || iy + 1 >= picture->height_px)
        return NAN;
    double u = x - 0.5 - ix, v = y - 0.5 - iy;
    double value =
        (1.0 - v) * ((1.0 - u) * ball_level(picture, ix, iy) + u * ball_level(picture, ix + 1, iy)) +
        v * ((1.0 - u) * ball_level(picture, ix, iy + 1) + u * ball_level(picture, ix + 1, iy + 1));
    return log2(value + 0.003);
}

static void keep_edge(struct edge *list, int *count, const struct edge *edge)
{
    int at = *count;
    while (at > 0 && list[at - 1].step < edge->step)
        at--;
    if (at == STEPS_a_WAY)
        return;
    int last = *count < STEPS_a_WAY ? (*count)++ : STEPS_a_WAY - 1;
    memmove(&list[at + 1], &list[at], sizeof *list * (size_t)(last - at));
    list[at] = *edge;
}

// The strongest steps along lines out from a place.
static void look_out(const struct pc_picture *picture, double image_px, double x, double y, double most_px,
                     struct edges *edges)
{
    const double STEP_px = 0.5, LEAST_STEP_ev = 0.07;
    edges->count = 0;
    for (int way = 0; way < WAYS; way++) {
        edges->first[way] = edges->count;
        double c = cos(2.0 * M_PI * way / WAYS), s = sin(2.0 * M_PI * way / WAYS);
        struct edge best[STEPS_a_WAY];
        int kept = 0;
        double before = 0.0, here = 0.0;
        for (double r = 4.0; r < most_px; r += STEP_px) {
            double next = 0.0;
            for (int k = -1; k <= 1; k++) { // a little to either side, against noise
                double px = x - 1.2 * k * s, py = y + 1.2 * k * c;
                next += (log_level(picture, px + (r + 1.2) * c, py + (r + 1.2) * s) -
                         log_level(picture, px + (r - 1.2) * c, py + (r - 1.2) * s)) /
                        3.0;
            }
            next = fabs(next);
            if (isnan(next))
                break;
            if (here > LEAST_STEP_ev && here >= before && here > next) {
                double bend = before - 2.0 * here + next,
                       off = bend < 0.0 ? 0.5 * (before - next) / bend : 0.0;
                double at = r + (off - 1.0) * STEP_px;
                struct edge edge = {.step = here, .way = way};
                ball_ray(picture, image_px, x + at * c, y + at * s, edge.ray);
                edge.px_per_off = image_px / picture->bin / (edge.ray[2] * edge.ray[2]) / NEAR_px;
                keep_edge(best, &kept, &edge);
            }
            before = here;
            here = next;
        }
        for (int i = 0; i < kept; i++)
            edges->edge[edges->count++] = best[i];
    }
    edges->first[WAYS] = edges->count;
}

// From c / cos(radius).
static bool outline_from(const double c[3], struct pc_ball *ball)
{
    double length = sqrt(ball_dot(c, c));
    if (!(length > 1.0) || !isfinite(length))
        return false;
    ball->radius_rad = acos(1.0 / length);
    for (int i = 0; i < 3; i++)
        ball->centre[i] = c[i] / length;
    return true;
}

// How far outside of the outline a ray passes, in pixels of the picture at hand.
double ball_outside_px(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                       const double ray[3])
{
    double off_rad = (cos(ball->radius_rad) - ball_dot(ray, ball->centre)) / sin(ball->radius_rad); // near it
    return off_rad * image_px / picture->bin / (ray[2] * ray[2]);
}

// How many ways out (every so many of them) have an edge on the outline, counting nearness; *ways: how many.
static double support(const struct edges *edges, const struct pc_ball *ball, int every, int *ways)
{
    double cosine = cos(ball->radius_rad), per_sine = 1.0 / sin(ball->radius_rad), sum = 0.0;
    *ways = 0;
    for (int way = 0; way < WAYS; way += every) {
        double nearest = 1.0;
        for (int i = edges->first[way]; i < edges->first[way + 1]; i++) {
            const struct edge *edge = &edges->edge[i];
            double off = (cosine - ball_dot(edge->ray, ball->centre)) * per_sine * edge->px_per_off;
            nearest = off * off < nearest ? off * off : nearest;
        }
        sum += 1.0 - nearest;
        *ways += nearest < 1.0;
    }
    return sum;
}

static uint64_t next_random(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u); // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

// The cone through three rays: d . c = 1 for each.
static bool cone_through(const double a[3], const double b[3], const double d[3], struct pc_ball *ball)
{
    double c[3], bd[3];
    for (int i = 0; i < 3; i++) {
        int j = (i + 1) % 3, k = (i + 2) % 3;
        bd[i] = b[j] * d[k] - b[k] * d[j];
        c[i] = bd[i] + d[j] * a[k] - d[k] * a[j] + a[j] * b[k] - a[k] * b[j];
    }
    double det = ball_dot(a, bd);
    for (int i = 0; i < 3; i++)
        c[i] /= det;
    return outline_from(c, ball);
}

static bool same_outline(const struct pc_ball *a, const struct pc_ball *b)
{
    return fabs(a->radius_rad - b->radius_rad) < 0.03 * a->radius_rad &&
           ball_dot(a->centre, b->centre) > cos(0.03 * a->radius_rad);
}

// The outlines that most ways out agree on (Fischler and Bolles, CACM 24:381, 1981), best first, each once;
// larger: of two the larger one is the better.
// Returns how many.
static int agree(const struct edges *edges, const double from[3], double least_rad, double most_rad,
                 double least_agreed, bool larger, struct pc_ball list[OUTLINES_MAX])
{
    uint64_t state = 1;
    double score[OUTLINES_MAX];
    int count = 0;
    for (int n = 0; n < TRIES; n++) {
        const struct edge *e[3];
        for (int k = 0; k < 3; k++)
            e[k] = &edges->edge[next_random(&state) % (uint64_t)edges->count];
        struct pc_ball tried = {0};
        int ways;
        if (!cone_through(e[0]->ray, e[1]->ray, e[2]->ray, &tried) || tried.radius_rad < least_rad ||
            tried.radius_rad > most_rad || ball_dot(tried.centre, from) < cos(0.85 * tried.radius_rad))
            continue;
        support(edges, &tried, QUICK, &ways);
        if (ways < 0.6 * least_agreed * WAYS / QUICK)
            continue;
        double here = support(edges, &tried, 1, &ways) * (larger ? tried.radius_rad : 1.0);
        if (ways < least_agreed * WAYS)
            continue;
        int known = 0;
        while (known < count && !same_outline(&list[known], &tried))
            known++;
        if (known < count) {
            if (here <= score[known])
                continue;
            memmove(&list[known], &list[known + 1], sizeof *list * (size_t)(count - known - 1));
            memmove(&score[known], &score[known + 1], sizeof *score * (size_t)(count - known - 1));
            count--;
        }
        int at = count;
        while (at > 0 && score[at - 1] < here)
            at--;
        if (at == OUTLINES_MAX)
            continue;
        int last = count < OUTLINES_MAX ? count++ : OUTLINES_MAX - 1;
        memmove(&list[at + 1], &list[at], sizeof *list * (size_t)(last - at));
        memmove(&score[at + 1], &score[at], sizeof *score * (size_t)(last - at));
        list[at] = tried;
        score[at] = here;
    }
    return count;
}

// Least squares through the edges on the outline; its tolerance from their scatter.
static bool settle(const struct pc_picture *picture, double image_px, const struct edges *edges,
                   double near_px, struct pc_ball *ball)
{
    double a[WAYS * 3], b[WAYS], c[3], square = 0.0;
    int n = 0;
    for (int i = 0, way = -1; i < edges->count; i++) {
        const struct edge *e = &edges->edge[i];
        double off = ball_outside_px(picture, image_px, ball, e->ray);
        if (e->way == way || fabs(off) > near_px)
            continue;
        way = e->way;
        memcpy(a + (ptrdiff_t)n * 3, e->ray, sizeof e->ray);
        b[n++] = 1.0;
        square += off * off;
    }
    if (n < WAYS / 3 || !pc_linalg_least_squares(n, 3, a, b, c) || !outline_from(c, ball))
        return false;
    ball->seen_ratio = n / (double)WAYS;
    // Neighbouring looks share what displaces them: one in thirty counts.
    double sd_rad = hypot(sqrt(square / n), 0.2) * picture->bin / image_px * sqrt(30.0 / n);
    ball->centre_tolerance_rad = 1.96 * M_SQRT2 * sd_rad;
    ball->radius_tolerance_rad = 1.96 * sd_rad;
    return true;
}

static void place_ball(const struct pc_picture *picture, double image_px, struct pc_ball *ball)
{
    ball->x_px = 0.5 * picture->full_width_px + image_px * ball->centre[0] / ball->centre[2];
    ball->y_px = 0.5 * picture->full_height_px + image_px * ball->centre[1] / ball->centre[2];
    ball->across_px = 2.0 * image_px * tan(ball->radius_rad) / ball->centre[2];
}

// Looks again, straight out from its own middle.
static bool refine(const struct pc_picture *picture, double image_px, struct edges *edges,
                   struct pc_ball *ball)
{
    place_ball(picture, image_px, ball);
    double radius_px = 0.5 * ball->across_px / picture->bin;
    look_out(picture, image_px, ball->x_px / picture->bin, ball->y_px / picture->bin, 1.25 * radius_px + 4.0,
             edges);
    return edges->count >= WAYS / 2 && settle(picture, image_px, edges, 1.0, ball) &&
           settle(picture, image_px, edges, 0.8, ball) && ball->seen_ratio >= LEAST_SEEN;
}

// By its edges alone.
static bool find_outline(const struct pc_picture *picture, double image_px, struct edges *edges,
                         const double from[3], double most_rad, struct pc_ball *ball)
{
    struct pc_ball list[OUTLINES_MAX], inner, outer;
    if (agree(edges, from, LEAST_RADIUS_px * picture->bin / image_px, most_rad, LEAST_AGREED, true, list) ==
        0)
        return false;
    inner = list[0];
    if (!settle(picture, image_px, edges, NEAR_px, &inner))
        return false;
    // Of two rings the outer one counts, if a second look bears it out.
    bool two = agree(edges, inner.centre, 1.15 * inner.radius_rad, fmin(most_rad, 1.6 * inner.radius_rad),
                     LEAST_AGREED, true, list) > 0;
    if (two) {
        outer = list[0];
        two = settle(picture, image_px, edges, NEAR_px, &outer) && refine(picture, image_px, edges, &outer) &&
              outer.seen_ratio >= LEAST_OUTER;
    }
    *ball = two ? outer : inner;
    return two || refine(picture, image_px, edges, ball);
}

// A ball mirrors the horizon and its own shadow as rings of their own within its rim; of all rings that
// edges make, and of what lies near them, the one that foretells the picture best is the rim.
static bool find_mirror(const struct pc_picture *picture, double image_px, const double up[3],
                        const struct edges *edges, double x_px, double y_px, double most_px,
                        struct pc_ball *ball)
{
    struct pc_ball list[OUTLINES_MAX];
    double from[3];
    ball_ray(picture, image_px, x_px / picture->bin, y_px / picture->bin, from);
    int count = agree(edges, from, LEAST_RADIUS_px * picture->bin / image_px,
                      atan(most_px * picture->bin / image_px), LEAST_AGREED_MIRROR, false, list);
    for (int i = 0; i < count; i++) {
        place_ball(picture, image_px, &list[i]);
        list[i].seen_ratio = 0.0;
    }
    if (!ball_fit_mirror(picture, image_px, up, list, count, x_px, y_px, most_px, ball))
        return false;
    int ways;
    place_ball(picture, image_px, ball);
    support(edges, ball, 1, &ways);
    ball->seen_ratio = ways / (double)WAYS;
    return true;
}

bool pc_find_ball_at(const struct pc_picture *picture, double image_px, const double up[3], double x_px,
                     double y_px, struct pc_ball *ball)
{
    double x = x_px / picture->bin, y = y_px / picture->bin, from[3];
    double reach_px = fmin(0.5 * picture->width_px, fmax(0.16 * picture->width_px, 240.0));
    struct pc_ball found = {0};
    if (!(x > 4.0) || !(y > 4.0) || !(x < picture->width_px - 4.0) || !(y < picture->height_px - 4.0))
        return false;
    ball_ray(picture, image_px, x, y, from);
    struct edges *edges = calloc(1, sizeof *edges);
    PC_ASSERT(edges != NULL);
    look_out(picture, image_px, x, y, reach_px, edges);
    double most_rad = atan(reach_px * picture->bin / image_px);
    bool good = edges->count >= WAYS / 2 &&
                (up != NULL ? find_mirror(picture, image_px, up, edges, x_px, y_px, reach_px, &found)
                            : find_outline(picture, image_px, edges, from, most_rad, &found));
    free(edges);
    if (!good)
        return false;
    place_ball(picture, image_px, &found);
    *ball = found;
    return true;
}

struct bright {
    double over;
    int x, y;
};

// Where small blocks are brightest against what lies about them, each highlight once; a ball shows its light
// there. Returns how many.
static int list_bright(const struct pc_picture *picture, struct bright bright[BRIGHT_MAX])
{
    enum { BLOCK_px = 8, APART_px = 24 };
    static const int ring[8][2] = {{-18, 0},   {18, 0},  {0, -18},  {0, 18},
                                   {-13, -13}, {13, 13}, {-13, 13}, {13, -13}};
    int count = 0;
    for (int y = 3 * BLOCK_px; y < picture->height_px - 3 * BLOCK_px; y += BLOCK_px)
        for (int x = 3 * BLOCK_px; x < picture->width_px - 3 * BLOCK_px; x += BLOCK_px) {
            struct bright here = {.x = x, .y = y};
            double most = 0.0, about = 0.0;
            for (int j = 0; j < BLOCK_px; j += 2)
                for (int i = 0; i < BLOCK_px; i += 2)
                    if (ball_level(picture, x + i, y + j) > most)
                        most = ball_level(picture, here.x = x + i, here.y = y + j);
            if (most < 0.02)
                continue;
            for (int k = 0; k < 8; k++)
                about += ball_level(picture, here.x + ring[k][0], here.y + ring[k][1]) / 8.0;
            here.over = most / (about + 0.01);
            int near = 0;
            while (near < count && abs(bright[near].x - here.x) + abs(bright[near].y - here.y) > APART_px)
                near++;
            if (near < count) {
                if (bright[near].over >= here.over)
                    continue;
                memmove(&bright[near], &bright[near + 1], sizeof *bright * (size_t)(--count - near));
            }
            int at = count;
            while (at > 0 && bright[at - 1].over < here.over)
                at--;
            if (at == BRIGHT_MAX)
                continue;
            int last = count < BRIGHT_MAX ? count++ : BRIGHT_MAX - 1;
            memmove(&bright[at + 1], &bright[at], sizeof *bright * (size_t)(last - at));
            bright[at] = here;
        }
    return count;
}

bool pc_find_ball(const struct pc_picture *picture, double image_px, const double up[3], struct pc_ball *ball)
{
    const double MOST_MISSED_ratio = 0.42, LEAST_OVER = 2.0;
    struct bright bright[BRIGHT_MAX];
    struct pc_ball best = {0};
    int count = list_bright(picture, bright), found = 0;
    for (int i = 0; i < count && bright[i].over > LEAST_OVER; i++) {
        struct pc_ball here;
        struct pc_ball_light light;
        double x = (bright[i].x + 0.5) * picture->bin, y = (bright[i].y + 0.5) * picture->bin;
        if (found > 0 && hypot(x - best.x_px, y - best.y_px) < 0.55 * best.across_px)
            continue; // in the one that is known
        if (!pc_find_ball_at(picture, image_px, up, x, y, &here) || here.missed_ratio > MOST_MISSED_ratio ||
            (up == NULL && here.seen_ratio < 0.7) || !pc_ball_light(picture, image_px, &here, 0.02, &light))
            continue;
        if (found++ > 0)
            return false;
        best = here;
    }
    if (found == 1)
        *ball = best;
    return found == 1;
}
