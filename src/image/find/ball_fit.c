// SPDX-License-Identifier: Apache-2.0
// The outline of a mirror ball from what it mirrors. At its rim a mirror shows what lies right behind it, so
// there is hardly an edge to be seen; but the table that it mirrors lies in the same picture. For a ball that
// stands on the table every pixel near its rim is so foretold from the picture itself, and the ball is laid
// where that holds best.
#include "base/linalg.h"
#include "image/find/ball_priv.h"

enum {
    LOOKS_MAX = 2600,
    PARTS = 9,
    STEPS_MAX = 12,
    SHARED_LOOKS = 40,
    COARSE_LOOKS = 500,
    FIRST_LOOKS = 200,
    FITS_MAX = 8
};
enum { B_X, B_Y, B_LOG_RADIUS, B_STEEL, B_UNKNOWNS };

static const double CLEAR_px = 2.5;   // outside of the outline the table is seen without the ball
static const double DEEP_ratio = 0.3; // of the radius: farther in too much of the room is mirrored
static const double OUTSIDE_px = 2.0; // looks reach out so far
static const double SPREAD_px = 0.8;  // a good lens's blur of 0.75 and a pixel's own 1 / sqrt(12)
static const double COARSE_ev = 0.25;
static const double LEAST_RADIUS_px = 20.0, SURE_MISSED_ratio = 0.15;
static const double PLAIN_GAIN = 0.25, PLAIN_MISSED_ratio = 0.12;
static const double CLEAR_MISSED_RATIO = 0.36, BESIDE_RATIO = 0.04;
static const double MOST_MISSED_ratio =
    0.6;                              // where more is not foretold it is no mirror ball, or lies elsewhere
static const double FLOOR = 0.003;    // of a level, against noise in the dark
static const double FAR_radii = 25.0; // along the mirrored way
static const double STEEL = 0.65, STEEL_sd = 0.1; // mirrored straight on: iron 0.58, stainless 0.6, chromium
                                                  // 0.68 (Drude constants in CRC Handbook)

struct look {
    double x, y, level_ev;
    bool rim;
};

struct looks {
    const struct pc_picture *picture;
    double image_px;
    const double *up;
    int parts; // of a pixel at the rim
    double part_px[PARTS], weight[PARTS];
    int count;
    struct look look[LOOKS_MAX];
};

static double clamp(double value, double least, double most)
{
    return fmin(most, fmax(least, value));
}

// The ball that the unknowns stand for, with what every look asks of it.
struct shape {
    double centre[3], middle[3], x, y, steel;
    double cosine, away, px_per_off; // of its radius; in radii; pixels of the picture at hand
    double near_px2;                 // farther from its middle its outline is not, squared
};

// Into parts over two and a half blurs to either side.
static void part_looks(struct looks *k, int parts)
{
    double whole = 0.0;
    k->parts = parts;
    for (int i = 0; i < parts; i++) {
        double off = 5.0 * ((i + 0.5) / parts - 0.5);
        k->part_px[i] = off * SPREAD_px;
        whole += k->weight[i] = exp(-0.5 * off * off);
    }
    for (int i = 0; i < parts; i++)
        k->weight[i] /= whole;
}

static double level_at(const struct pc_picture *picture, double x, double y)
{
    double right = picture->width_px - 1.001, foot = picture->height_px - 1.001;
    x = x < 0.5 ? 0.0 : x - 0.5 > right ? right : x - 0.5;
    y = y < 0.5 ? 0.0 : y - 0.5 > foot ? foot : y - 0.5;
    int ix = (int)x, iy = (int)y;
    double u = x - ix, v = y - iy;
    return (1.0 - v) * ((1.0 - u) * ball_level(picture, ix, iy) + u * ball_level(picture, ix + 1, iy)) +
           v * ((1.0 - u) * ball_level(picture, ix, iy + 1) + u * ball_level(picture, ix + 1, iy + 1));
}

static void shape_of(const struct looks *k, const double p[B_UNKNOWNS], struct shape *shape)
{
    double radius_rad = exp(p[B_LOG_RADIUS]), sine = sin(radius_rad), scale = k->image_px / k->picture->bin;
    ball_ray(k->picture, k->image_px, p[B_X], p[B_Y], shape->centre);
    shape->x = p[B_X];
    shape->y = p[B_Y];
    shape->steel = p[B_STEEL];
    shape->cosine = cos(radius_rad);
    shape->away = 1.0 / sine;
    for (int i = 0; i < 3; i++)
        shape->middle[i] = shape->away * shape->centre[i];
    shape->px_per_off = scale / sine;
    double near_px =
        1.3 * radius_rad * scale / (shape->centre[2] * shape->centre[2]) + 4.0 * (CLEAR_px + OUTSIDE_px);
    shape->near_px2 = near_px * near_px;
}

static double outside_px(const struct shape *shape, const double ray[3])
{
    return (shape->cosine - ball_dot(ray, shape->centre)) * shape->px_per_off / (ray[2] * ray[2]);
}

// The table at a place of the picture, or as near to it as the ball lets it be seen.
static double table_at(const struct looks *k, const struct shape *shape, double x, double y)
{
    double dx = x - shape->x, dy = y - shape->y, square = dx * dx + dy * dy;
    if (square < shape->near_px2) {
        double ray[3];
        ball_ray(k->picture, k->image_px, x, y, ray);
        double off = outside_px(shape, ray);
        if (off < CLEAR_px) {
            double ratio = (CLEAR_px - off) / fmax(1e-6, sqrt(square));
            x += ratio * dx;
            y += ratio * dy;
        }
    }
    return level_at(k->picture, x, y);
}

// What is seen along a ray: the table, or what of it the ball mirrors. *known: it lies in the picture;
// *per_steel: how it changes with the steel.
static double foretold(const struct looks *k, const struct shape *shape, double x, double y, bool *known,
                       double *per_steel)
{
    double ray[3];
    *known = true;
    *per_steel = 0.0;
    ball_ray(k->picture, k->image_px, x, y, ray);
    // In radii: where the ray meets the ball, whose middle is as far away as told.
    double through = ball_dot(ray, shape->middle),
           inside = through * through - shape->away * shape->away + 1.0;
    if (inside < 0.0)
        return table_at(k, shape, x, y);
    double to_ball = through - sqrt(inside), normal[3], way[3];
    for (int i = 0; i < 3; i++)
        normal[i] = to_ball * ray[i] - shape->middle[i];
    double along = ball_dot(ray, normal);
    for (int i = 0; i < 3; i++)
        way[i] = ray[i] - 2.0 * along * normal[i];
    double high = ball_dot(normal, k->up) + 1.0, down = -ball_dot(way, k->up); // over the table
    double t = down > 1e-3 ? high / down : FAR_radii + 1.0;
    *known = t <= FAR_radii;
    t = *known ? t : FAR_radii;
    double ahead = shape->middle[2] + normal[2] + t * way[2];
    if (!(ahead > 0.1 * shape->away)) {
        *known = false;
        return 0.0;
    }
    const struct pc_picture *picture = k->picture;
    double per = k->image_px / ahead;
    double u = (0.5 * picture->full_width_px + per * (shape->middle[0] + normal[0] + t * way[0])) /
               picture->bin,
           v = (0.5 * picture->full_height_px + per * (shape->middle[1] + normal[1] + t * way[1])) /
               picture->bin;
    *known = *known && u > 0.0 && v > 0.0 && u < picture->width_px && v < picture->height_px;
    // Schlick's law of grazing (Computer Graphics Forum 13:233, 1994).
    double off = 1.0 + along < 0.0 ? 0.0 : 1.0 + along, off2 = off * off;
    double grazing = off2 * off2 * off, level = table_at(k, shape, u, v);
    *per_steel = (1.0 - grazing) * level;
    return shape->steel * *per_steel + grazing * level;
}

// A pixel as foretold, blurred across the rim. *known: share of it that lies in the picture.
static double look_foretold(const struct looks *k, const struct shape *shape, const struct look *look,
                            double *known, double *per_steel)
{
    bool here;
    if (!look->rim) {
        double value = foretold(k, shape, look->x, look->y, &here, per_steel);
        *known = here;
        return value;
    }
    double dx = look->x - shape->x, dy = look->y - shape->y, sum = 0.0;
    double per = 1.0 / fmax(1e-6, sqrt(dx * dx + dy * dy));
    *known = *per_steel = 0.0;
    for (int i = 0; i < k->parts; i++) {
        double off = k->part_px[i] * per, per_steel_here;
        sum +=
            k->weight[i] * foretold(k, shape, look->x + off * dx, look->y + off * dy, &here, &per_steel_here);
        *per_steel += k->weight[i] * per_steel_here;
        *known += here ? k->weight[i] : 0.0;
    }
    return sum;
}

static void take_looks(struct looks *k, const double p[B_UNKNOWNS], int most)
{
    struct shape shape;
    shape_of(k, p, &shape);
    double r = exp(p[B_LOG_RADIUS]) * k->image_px / k->picture->bin, out = 1.15 * r + 6.0;
    double deep = fmin(0.7 * r, fmax(6.0, DEEP_ratio * r));
    // As many as there is room for, half of them at the rim.
    int rim_every = (int)ceil(2.0 * M_PI * r * 6.0 / (0.5 * most)),
        deep_every = (int)ceil(2.0 * M_PI * r * deep / (0.4 * most));
    int step = (int)fmax(1.0, floor(sqrt(fmin(rim_every, deep_every))));
    rim_every = (int)ceil(rim_every / (double)(step * step));
    deep_every = (int)ceil(deep_every / (double)(step * step));
    int rims = 0, deeps = 0;
    k->count = 0;
    for (int y = (int)fmax(0.0, p[B_Y] - out); y < fmin(k->picture->height_px, p[B_Y] + out); y += step)
        for (int x = (int)fmax(0.0, p[B_X] - out); x < fmin(k->picture->width_px, p[B_X] + out); x += step) {
            double ray[3], known, per_steel, level = ball_level(k->picture, x, y);
            ball_ray(k->picture, k->image_px, x + 0.5, y + 0.5, ray);
            double off = outside_px(&shape, ray);
            if (off > OUTSIDE_px || off < -deep || level > 0.98 || k->count == LOOKS_MAX)
                continue;
            struct look look = {x + 0.5, y + 0.5, log2(level + FLOOR), off > -4.0};
            if ((look.rim ? rims++ % rim_every : deeps++ % deep_every) != 0)
                continue;
            double value = look_foretold(k, &shape, &look, &known, &per_steel);
            if (known > 0.8 && value < 0.9)
                k->look[k->count++] = look;
        }
}

// slope: room for how each look's changes with the steel, B_UNKNOWNS apart, or NULL.
static void misses(const struct looks *k, const double p[B_UNKNOWNS], double *r, double *slope)
{
    struct shape shape;
    shape_of(k, p, &shape);
    for (int i = 0; i < k->count; i++) {
        double known, per_steel;
        double level = look_foretold(k, &shape, &k->look[i], &known, &per_steel) + FLOOR;
        r[i] = log2(level) - k->look[i].level_ev;
        if (slope != NULL)
            slope[(ptrdiff_t)i * B_UNKNOWNS] = per_steel / (level * M_LN2);
    }
}

// Geman and McClure's measure (Bull. Int. Stat. Inst. 52:5, 1987): what misses by far counts once.
static double missed(const struct looks *k, const double p[B_UNKNOWNS], const double *r, double scale)
{
    double sum = 0.0, steel = (p[B_STEEL] - STEEL) / STEEL_sd;
    for (int i = 0; i < k->count; i++) {
        double m = r[i] * r[i] / (scale * scale);
        sum += m / (1.0 + m);
    }
    return sum + steel * steel;
}

struct laid {
    double p[B_UNKNOWNS], missed_ratio, gain, sd[B_UNKNOWNS];
};

// Weighted least squares by Levenberg's way until it holds still; the normal matrix is left behind.
static void lay(const struct looks *k, double scale, struct laid *laid, double normal[B_UNKNOWNS][B_UNKNOWNS])
{
    static const double little[B_STEEL] = {0.05, 0.05, 0.001}, most[B_UNKNOWNS] = {1.0, 1.0, 0.02, 0.1};
    double *work = calloc((size_t)LOOKS_MAX * (2 * B_UNKNOWNS + 2), sizeof *work);
    PC_ASSERT(work != NULL);
    double *r = work, *next = work + LOOKS_MAX, *slope = next + LOOKS_MAX,
           *steel = slope + (ptrdiff_t)LOOKS_MAX * B_UNKNOWNS;
    misses(k, laid->p, r, slope + B_STEEL);
    double now = missed(k, laid->p, r, scale), damping = 1e-2;
    for (int n = 0; n < STEPS_MAX && damping < 1e4; n++) {
        for (int j = 0; j < B_STEEL; j++) {
            double at[B_UNKNOWNS];
            memcpy(at, laid->p, sizeof at);
            at[j] += little[j];
            misses(k, at, next, NULL);
            for (int i = 0; i < k->count; i++)
                slope[i * B_UNKNOWNS + j] = (next[i] - r[i]) / little[j];
        }
        double b[B_UNKNOWNS] = {0};
        memset(normal, 0, sizeof(double[B_UNKNOWNS][B_UNKNOWNS]));
        for (int i = 0; i < k->count; i++) {
            double m = 1.0 + r[i] * r[i] / (scale * scale), weight = 1.0 / (m * m * scale * scale);
            const double *s = slope + (ptrdiff_t)i * B_UNKNOWNS;
            for (int j = 0; j < B_UNKNOWNS; j++) {
                b[j] -= weight * s[j] * r[i];
                for (int l = 0; l < B_UNKNOWNS; l++)
                    normal[j][l] += weight * s[j] * s[l];
            }
        }
        normal[B_STEEL][B_STEEL] += 1.0 / (STEEL_sd * STEEL_sd);
        b[B_STEEL] -= (laid->p[B_STEEL] - STEEL) / (STEEL_sd * STEEL_sd);
        double before = now;
        for (bool better = false; !better && damping < 1e4; damping *= better ? 0.1 : 10.0) {
            double damped[B_UNKNOWNS][B_UNKNOWNS], step[B_UNKNOWNS], at[B_UNKNOWNS];
            memcpy(damped, normal, sizeof damped);
            for (int j = 0; j < B_UNKNOWNS; j++)
                damped[j][j] = damped[j][j] * (1.0 + damping) + 1e-9;
            if (!pc_linalg_least_squares(B_UNKNOWNS, B_UNKNOWNS, &damped[0][0], b, step))
                continue;
            for (int j = 0; j < B_UNKNOWNS; j++)
                at[j] = laid->p[j] + clamp(step[j], -most[j], most[j]);
            at[B_STEEL] = clamp(at[B_STEEL], 0.3, 0.95);
            misses(k, at, next, steel);
            double here = missed(k, at, next, scale);
            if (!(here < now))
                continue;
            better = true;
            now = here;
            memcpy(laid->p, at, sizeof at);
            memcpy(r, next, sizeof *r * (size_t)k->count);
            for (int i = 0; i < k->count; i++)
                slope[i * B_UNKNOWNS + B_STEEL] = steel[i * B_UNKNOWNS];
        }
        if (before - now < 1e-4 * before)
            break;
    }
    laid->missed_ratio = now / k->count;
    free(work);
}

// What bare table misses less twice what the ball does: more than 0 where it is a ball, 1 at best.
static double gained(const struct looks *k, const struct laid *laid)
{
    struct shape shape;
    shape_of(k, laid->p, &shape);
    double bare = 0.0;
    for (int i = 0; i < k->count; i++) {
        double miss = log2(table_at(k, &shape, k->look[i].x, k->look[i].y) + FLOOR) - k->look[i].level_ev;
        double m = miss * miss / (COARSE_ev * COARSE_ev);
        bare += m / (1.0 + m);
    }
    return bare / k->count - 2.0 * laid->missed_ratio;
}

// The most promising first guesses.
struct starts {
    int kept;
    double promise[FITS_MAX];
    struct laid laid[FITS_MAX];
};

static void offer(struct looks *k, double x, double y, double radius_rad, struct starts *starts)
{
    double r[LOOKS_MAX];
    struct laid laid = {.p = {x, y, log(radius_rad), STEEL}};
    take_looks(k, laid.p, FIRST_LOOKS);
    if (k->count <= FIRST_LOOKS / 8)
        return;
    misses(k, laid.p, r, NULL);
    laid.missed_ratio = missed(k, laid.p, r, COARSE_ev) / k->count;
    double here = gained(k, &laid);
    int at = starts->kept;
    while (at > 0 && starts->promise[at - 1] < here)
        at--;
    if (at == FITS_MAX)
        return;
    int last = starts->kept < FITS_MAX ? starts->kept++ : FITS_MAX - 1;
    memmove(&starts->promise[at + 1], &starts->promise[at], sizeof(double) * (size_t)(last - at));
    memmove(&starts->laid[at + 1], &starts->laid[at], sizeof(struct laid) * (size_t)(last - at));
    starts->promise[at] = here;
    starts->laid[at] = laid;
}

// Foretells so much that no other start would end elsewhere.
static bool is_plain(const struct laid *laid)
{
    return laid->gain > PLAIN_GAIN && laid->missed_ratio < PLAIN_MISSED_ratio;
}

static bool best_of(struct looks *k, struct starts *starts, struct laid *best)
{
    double most = best->gain, normal[B_UNKNOWNS][B_UNKNOWNS];
    for (int i = 0; i < starts->kept && !is_plain(best); i++) {
        struct laid *here = &starts->laid[i];
        bool good = true;
        for (int n = 0; good && n < 2; n++) {
            take_looks(k, here->p, COARSE_LOOKS);
            good = k->count > COARSE_LOOKS / 8;
            if (good)
                lay(k, COARSE_ev, here, normal);
        }
        double gain = good ? gained(k, here) : 0.0;
        if (gain > most) {
            here->gain = most = gain;
            *best = *here;
        }
    }
    starts->kept = 0;
    return most > 0.0;
}

// About the best so far.
static bool once_more(struct looks *k, struct starts *starts, struct laid *laid)
{
    if (is_plain(laid))
        return true;
    double radius_rad = exp(laid->p[B_LOG_RADIUS]), r = radius_rad * k->image_px / k->picture->bin;
    for (int i = -1; i <= 1; i++)
        for (int j = -1; j <= 1; j++)
            for (int n = -1; n <= 1; n++)
                offer(k, laid->p[B_X] + 0.06 * r * i, laid->p[B_Y] + 0.06 * r * j,
                      radius_rad * (1.0 + 0.05 * n), starts);
    return best_of(k, starts, laid);
}

// Without a guess: every radius in steps of a tenth, about a place that lies in the ball.
static bool anywhere(struct looks *k, struct starts *starts, double x, double y, double most_px,
                     struct laid *laid)
{
    for (double r = LEAST_RADIUS_px; r < most_px; r *= 1.12)
        for (int i = -4; i <= 4; i++)
            for (int j = -4; j <= 4; j++)
                if (i * i + j * j <= 16)
                    offer(k, x + 0.18 * r * i, y + 0.18 * r * j, atan(r * k->picture->bin / k->image_px),
                          starts);
    return best_of(k, starts, laid);
}

bool ball_fit_mirror(const struct pc_picture *picture, double image_px, const double up[3],
                     const struct pc_ball *guesses, int count, double x_px, double y_px, double most_px,
                     struct pc_ball *ball)
{
    // Outlines that share one side with a ring seen within the ball: it touches the rim where the ball
    // mirrors along the table.
    static const double STARTS[][3] = {{0.0, 0.0, 1.0},    {0.0, -0.05, 1.05}, {0.0, 0.05, 1.05},
                                       {-0.05, 0.0, 1.05}, {0.05, 0.0, 1.05},  {0.0, -0.1, 1.1},
                                       {0.0, 0.0, 0.95},   {0.0, -0.18, 1.18}, {0.0, -0.3, 1.3},
                                       {0.0, 0.0, 1.2},    {0.0, 0.0, 1.4}};
    static const double scales_ev[] = {0.25, 0.1, 0.1};
    static const int looks[] = {LOOKS_MAX / 3, LOOKS_MAX / 3, LOOKS_MAX};
    struct looks *k = calloc(1, sizeof *k);
    PC_ASSERT(k != NULL);
    *k = (struct looks){.picture = picture, .image_px = image_px, .up = up};
    part_looks(k, PARTS);
    struct laid laid = {0};
    double normal[B_UNKNOWNS][B_UNKNOWNS];
    struct starts *starts = calloc(1, sizeof *starts);
    PC_ASSERT(starts != NULL);
    double bin = picture->bin;
    for (int i = 0; i < count; i++) {
        double r = 0.5 * guesses[i].across_px / bin;
        for (size_t j = 0; j < PC_COUNT(STARTS); j++)
            offer(k, guesses[i].x_px / bin + STARTS[j][0] * r, guesses[i].y_px / bin + STARTS[j][1] * r,
                  guesses[i].radius_rad * STARTS[j][2], starts);
    }
    bool good = best_of(k, starts, &laid) && once_more(k, starts, &laid);
    if (!good || laid.missed_ratio > SURE_MISSED_ratio)
        good = anywhere(k, starts, x_px / bin, y_px / bin, most_px, &laid) && once_more(k, starts, &laid);
    free(starts);
    for (size_t i = 0; good && i < PC_COUNT(scales_ev); i++) {
        take_looks(k, laid.p, looks[i]);
        good = k->count > 100;
        if (good)
            lay(k, scales_ev[i], &laid, normal);
    }
    for (int j = 0; good && j < 3; j++) {
        double one[B_UNKNOWNS] = {0}, column[B_UNKNOWNS];
        one[j] = 1.0;
        // Neighbouring looks share what displaces them.
        good = pc_linalg_least_squares(B_UNKNOWNS, B_UNKNOWNS, &normal[0][0], one, column) && column[j] > 0.0;
        laid.sd[j] = good ? sqrt(SHARED_LOOKS * column[j] * fmax(laid.missed_ratio, 0.02)) : 0.0;
    }
    free(k);
    if (!good || laid.missed_ratio > MOST_MISSED_ratio)
        return false;
    struct pc_ball found = {0};
    ball_ray(picture, image_px, laid.p[B_X], laid.p[B_Y], found.centre);
    found.radius_rad = exp(laid.p[B_LOG_RADIUS]);
    found.centre_tolerance_rad = 1.96 * hypot(laid.sd[B_X], laid.sd[B_Y]) * picture->bin / image_px;
    found.radius_tolerance_rad = 1.96 * laid.sd[B_LOG_RADIUS] * found.radius_rad;
    found.missed_ratio = laid.missed_ratio;
    if (laid.missed_ratio > CLEAR_MISSED_RATIO) { // an outline beside it might do as well
        found.centre_tolerance_rad = hypot(found.centre_tolerance_rad, BESIDE_RATIO * found.radius_rad);
        found.radius_tolerance_rad = hypot(found.radius_tolerance_rad, BESIDE_RATIO * found.radius_rad);
    }
    *ball = found;
    return true;
}
