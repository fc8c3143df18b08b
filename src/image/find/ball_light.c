// SPDX-License-Identifier: Apache-2.0
// Where the light stands that a ball shows, and how large it is.
#include "image/find/ball.h"

#include "base/linalg.h"
#include "image/find/ball_priv.h"

enum { SIDE_MAX = 140, LOOKS_MAX = 900, UNKNOWNS = 8, STEPS_MAX = 30, ARC_LOOKS = 16 };
enum {
    P_U,
    P_V,
    P_HALF_U,
    P_HALF_V,
    P_TURN,
    P_LEVEL,
    P_UNDER,
    P_BLUR
}; // halves, level and blur as logarithms

static const double BLUR_px = 0.75, BLUR_sd = 0.22; // of a good lens and its sensor; sd of the logarithm
static const double FLUX_sd = 0.9;                  // of its logarithm: tables from 0.06 to 0.8
static const double MOST_OUT = 0.97; // of the radius: farther out the sphere shows what lies behind it
static const double LEAST_OVER = 4.0;

// A pixel of the highlight: what it mirrors, flattened about the light's middle, and how that changes across
// it.
struct look {
    double u, v, u_per_px, v_per_px, level, sd;
    bool clipped;
};

struct highlight {
    struct look look[LOOKS_MAX];
    int count;
    double middle[3], across[3], down[3]; // the flattening's axes
    double x, y;                          // of its centroid, pixels of the picture at hand
    double flux;                          // about what its level times the solid angle it fills must come to
    bool clipped;
};

static bool mirrored(const struct pc_ball *ball, const double ray[3], double normal[3], double way[3])
{
    if (!ball_normal(ball, ray, normal))
        return false;
    double along = ball_dot(ray, normal);
    for (int i = 0; i < 3; i++)
        way[i] = ray[i] - 2.0 * along * normal[i];
    return true;
}

static bool mirrored_at(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                        double x, double y, double way[3])
{
    double ray[3], normal[3];
    ball_ray(picture, image_px, x, y, ray);
    return mirrored(ball, ray, normal, way) && -ball_dot(ray, normal) > sqrt(1.0 - MOST_OUT * MOST_OUT);
}

struct patch {
    int left, top, width, height;
    double level[SIDE_MAX * SIDE_MAX]; // 0 outside of the ball
    uint8_t lit[SIDE_MAX * SIDE_MAX];
};

static int compare_levels(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// The ball's brightest place, and the middle of its levels.
static bool brightest(const struct pc_picture *picture, double image_px, const struct pc_ball *ball, int *bx,
                      int *by, double *middle)
{
    double cx = ball->x_px / picture->bin, cy = ball->y_px / picture->bin,
           r = 0.6 * ball->across_px / picture->bin;
    double most = -1.0, best_clipped = 0.0, sample[1024];
    int n = 0, every = (int)ceil(r * r / 250.0);
    for (int y = (int)fmax(1.0, cy - r), k = 0; y < fmin(picture->height_px - 1.0, cy + r); y++)
        for (int x = (int)fmax(1.0, cx - r); x < fmin(picture->width_px - 1.0, cx + r); x++) {
            double way[3];
            if (!mirrored_at(picture, image_px, ball, x + 0.5, y + 0.5, way))
                continue;
            double level = ball_level(picture, x, y), about = 0.0;
            if (level >= most) { // of clipped ones the one most surrounded by light
                for (int j = -1; j <= 1; j++)
                    for (int i = -1; i <= 1; i++)
                        about += ball_level(picture, x + i, y + j);
                if (level > most || about > best_clipped)
                    *bx = x, *by = y, best_clipped = about;
                most = level;
            }
            if (++k % every == 0 && n < (int)PC_COUNT(sample))
                sample[n++] = level;
        }
    if (n < 20)
        return false;
    qsort(sample, (size_t)n, sizeof *sample, compare_levels);
    *middle = sample[n / 2];
    return most > LEAST_OVER * *middle && most > 0.01;
}

// What hangs together with a place above half of what lies between it and the ball's own level.
static void flood(const struct pc_picture *picture, const struct pc_ball *ball, double image_px, int bx,
                  int by, double least, struct patch *patch)
{
    int16_t queue[SIDE_MAX * SIDE_MAX][2];
    int count = 0;
    memset(patch, 0, sizeof *patch);
    patch->left = bx - SIDE_MAX / 2;
    patch->top = by - SIDE_MAX / 2;
    queue[count][0] = SIDE_MAX / 2, queue[count++][1] = SIDE_MAX / 2;
    patch->lit[SIDE_MAX / 2 * SIDE_MAX + SIDE_MAX / 2] = 1;
    for (int i = 0; i < count; i++) {
        static const int next[4][2] = {{-1, 0}, {1, 0}, {0, -1}, {0, 1}};
        for (int k = 0; k < 4; k++) {
            int px = queue[i][0] + next[k][0], py = queue[i][1] + next[k][1], x = patch->left + px,
                y = patch->top + py;
            double way[3];
            if (px < 0 || py < 0 || px >= SIDE_MAX || py >= SIDE_MAX || x < 0 || y < 0 ||
                x >= picture->width_px || y >= picture->height_px || patch->lit[py * SIDE_MAX + px] ||
                ball_level(picture, x, y) < least ||
                !mirrored_at(picture, image_px, ball, x + 0.5, y + 0.5, way))
                continue;
            patch->lit[py * SIDE_MAX + px] = 1;
            queue[count][0] = (int16_t)px, queue[count++][1] = (int16_t)py;
        }
    }
}

// Flattens a direction onto the plane square to the middle (gnomonic: a flat light that faces the ball keeps
// its shape).
static void flatten(const struct highlight *h, const double way[3], double uv[2])
{
    double ahead = fmax(ball_dot(way, h->middle), 0.05);
    uv[0] = ball_dot(way, h->across) / ahead;
    uv[1] = ball_dot(way, h->down) / ahead;
}

static void take_looks(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                       const struct patch *patch, struct highlight *h)
{
    int box[4] = {SIDE_MAX, SIDE_MAX, 0, 0}, margin = 4;
    for (int y = 0; y < SIDE_MAX; y++)
        for (int x = 0; x < SIDE_MAX; x++)
            if (patch->lit[y * SIDE_MAX + x]) {
                box[0] = x < box[0] ? x : box[0];
                box[1] = y < box[1] ? y : box[1];
                box[2] = x > box[2] ? x : box[2];
                box[3] = y > box[3] ? y : box[3];
            }
    double area = (box[2] - box[0] + 2.0 * margin) * (box[3] - box[1] + 2.0 * margin);
    int every = (int)ceil(sqrt(area / LOOKS_MAX));
    for (int y = box[1] - margin; y <= box[3] + margin; y += every)
        for (int x = box[0] - margin; x <= box[2] + margin && h->count < LOOKS_MAX; x += every) {
            double px = patch->left + x + 0.5, py = patch->top + y + 0.5, way[3], right[3], below[3];
            int ix = patch->left + x, iy = patch->top + y;
            if (ix < 0 || iy < 0 || ix >= picture->width_px || iy >= picture->height_px ||
                !mirrored_at(picture, image_px, ball, px, py, way) ||
                !mirrored_at(picture, image_px, ball, px + 0.5, py, right) ||
                !mirrored_at(picture, image_px, ball, px, py + 0.5, below) || ball_dot(way, h->middle) < 0.2)
                continue;
            double at[2], r[2], b[2];
            flatten(h, way, at);
            flatten(h, right, r);
            flatten(h, below, b);
            struct look *look = &h->look[h->count++];
            look->u = at[0];
            look->v = at[1];
            look->u_per_px = 2.0 * hypot(r[0] - at[0], b[0] - at[0]);
            look->v_per_px = 2.0 * hypot(r[1] - at[1], b[1] - at[1]);
            look->level = ball_level(picture, ix, iy);
            look->clipped = look->level >= 0.999;
            look->sd = 0.004 + 0.03 * look->level;
        }
}

// The light that falls on the table about the ball is the light that the ball shows: how bright a clipped
// highlight is follows to a factor of two or so from how bright the table is, whatever it is made of.
static double flux_from_table(const struct pc_picture *picture, const struct pc_ball *ball)
{
    enum { LOOKS = 64 };
    const double STEEL = 0.62, TABLE = 0.25, ASLANT = 0.7;
    double level[LOOKS], cx = ball->x_px / picture->bin, cy = ball->y_px / picture->bin;
    int n = 0;
    for (int i = 0; i < LOOKS; i++) {
        double r = (0.8 + 0.15 * (i % 4)) * ball->across_px / picture->bin, way = 2.0 * M_PI * i / LOOKS;
        int x = (int)(cx + r * cos(way)), y = (int)(cy + r * sin(way));
        if (x >= 0 && y >= 0 && x < picture->width_px && y < picture->height_px)
            level[n++] = ball_level(picture, x, y);
    }
    if (n == 0)
        return 1.0;
    qsort(level, (size_t)n, sizeof *level, compare_levels);
    return STEEL * M_PI * fmax(level[n * 3 / 4], 1e-3) / (TABLE * ASLANT);
}

static bool gather(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                   struct highlight *h)
{
    int bx, by;
    double middle, sx = 0.0, sy = 0.0, sum = 0.0;
    memset(h, 0, sizeof *h);
    if (!brightest(picture, image_px, ball, &bx, &by, &middle))
        return false;
    struct patch *patch = calloc(1, sizeof *patch);
    PC_ASSERT(patch != NULL);
    double least = 0.5 * (ball_level(picture, bx, by) + middle);
    flood(picture, ball, image_px, bx, by, least, patch);
    for (int y = 0; y < SIDE_MAX; y++)
        for (int x = 0; x < SIDE_MAX; x++)
            if (patch->lit[y * SIDE_MAX + x]) {
                double weight = ball_level(picture, patch->left + x, patch->top + y) - middle;
                sum += weight;
                sx += weight * (patch->left + x + 0.5);
                sy += weight * (patch->top + y + 0.5);
            }
    h->x = sx / sum;
    h->y = sy / sum;
    h->clipped = ball_level(picture, bx, by) >= 0.999;
    h->flux = flux_from_table(picture, ball);
    bool good = mirrored_at(picture, image_px, ball, h->x, h->y, h->middle);
    if (good) {
        // Any two axes square to the middle.
        double x_axis[3] = {1.0, 0.0, 0.0}, along = h->middle[0];
        if (fabs(along) > 0.9)
            x_axis[0] = 0.0, x_axis[1] = 1.0, along = h->middle[1];
        for (int i = 0; i < 3; i++)
            h->across[i] = x_axis[i] - along * h->middle[i];
        ball_unit(h->across);
        for (int i = 0; i < 3; i++)
            h->down[i] = h->middle[(i + 1) % 3] * h->across[(i + 2) % 3] -
                         h->middle[(i + 2) % 3] * h->across[(i + 1) % 3];
        take_looks(picture, image_px, ball, patch, h);
    }
    free(patch);
    return good && h->count > 16;
}

static double below(double z) // the normal distribution
{
    if (fabs(z) > 6.0) // within 1e-9
        return z > 0.0 ? 1.0 : 0.0;
    return 0.5 * erfc(-z * M_SQRT1_2);
}

// Share of a blurred pixel that mirrors a disc of half axes a, b (in blurs) when it lies x, y off its middle.
static double share_of_disc(double x, double y, double a, double b)
{
    if (fmin(a, b) > 4.0) { // its rim is straight where it is blurred
        double u = x / a, v = y / b, f = sqrt(u * u + v * v);
        double slope = sqrt(u * u / (a * a) + v * v / (b * b)) / (f > 1e-9 ? f : 1e-9);
        return f < 1e-6 ? 1.0 : below((1.0 - f) / slope);
    }
    if (fabs(x) > a + 6.0 || fabs(y) > b + 6.0)
        return 0.0;
    double sum = 0.0;
    for (int i = 0; i < ARC_LOOKS; i++) { // strips of its width, evenly in the angle (Gauss-Chebyshev)
        double angle = M_PI * (i + 0.5) / ARC_LOOKS, at = b * cos(angle), half = a * sin(angle);
        double weight =
            M_PI / ARC_LOOKS * b * sin(angle) * exp(-0.5 * (y - at) * (y - at)) / sqrt(2.0 * M_PI);
        sum += weight * (below(half - x) - below(-half - x));
    }
    return sum;
}

static double share_of_rectangle(double x, double y, double a, double b)
{
    return (below(a - x) - below(-a - x)) * (below(b - y) - below(-b - y));
}

// The unknowns as every look needs them.
struct drawn {
    bool round;
    double c, s, u, v, half_u, half_v, level, under, blur;
};

static struct drawn drawn_from(bool round, const double p[UNKNOWNS])
{
    return (struct drawn){.round = round,
                          .c = cos(p[P_TURN]),
                          .s = sin(p[P_TURN]),
                          .u = p[P_U],
                          .v = p[P_V],
                          .half_u = exp(p[P_HALF_U]),
                          .half_v = exp(p[P_HALF_V]),
                          .level = exp(p[P_LEVEL]),
                          .under = exp(p[P_UNDER]),
                          .blur = exp(p[P_BLUR])};
}

static double predicted(const struct look *look, const struct drawn *d)
{
    double du = look->u - d->u, dv = look->v - d->v;
    // One pixel's change along the light's own axes.
    double cu = d->c * look->u_per_px, su = d->s * look->u_per_px, cv = d->c * look->v_per_px,
           sv = d->s * look->v_per_px;
    double per_x = 1.0 / (d->blur * sqrt(cu * cu + sv * sv)),
           per_y = 1.0 / (d->blur * sqrt(su * su + cv * cv));
    double x = (d->c * du + d->s * dv) * per_x, y = (d->c * dv - d->s * du) * per_y;
    double a = d->half_u * per_x, b = d->half_v * per_y;
    return d->under + d->level * (d->round ? share_of_disc(x, y, a, b) : share_of_rectangle(x, y, a, b));
}

static void residuals(const struct highlight *h, bool round, const double p[UNKNOWNS], double *r)
{
    struct drawn drawn = drawn_from(round, p);
    for (int i = 0; i < h->count; i++) {
        const struct look *look = &h->look[i];
        double value = predicted(look, &drawn);
        if (look->clipped)
            r[i] = value < 1.0 ? (value - 1.0) / 0.034 : 0.0;
        else
            r[i] = ((value < 2.0 ? value : 2.0) - look->level) / (look->sd + 0.05 * fabs(look->level));
    }
    r[h->count] = (p[P_BLUR] - log(BLUR_px)) / BLUR_sd;
    r[h->count + 1] = (p[P_HALF_U] - p[P_HALF_V]) / 3.0;
    double solid = (round ? M_PI : 4.0) * exp(p[P_HALF_U] + p[P_HALF_V]);
    r[h->count + 2] = (p[P_LEVEL] + log(solid) - log(h->flux)) / FLUX_sd;
}

static double squares(const double *r, int count)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++)
        sum += fmin(r[i] * r[i], 1e6);
    return sum;
}

struct fit {
    double p[UNKNOWNS], sum;
    double sd[UNKNOWNS];
};

static void weigh(const double *jacobian, int rows, struct fit *fit, double scale)
{
    double normal[UNKNOWNS * UNKNOWNS] = {0};
    for (int i = 0; i < rows; i++)
        for (int j = 0; j < UNKNOWNS; j++)
            for (int k = 0; k < UNKNOWNS; k++)
                normal[j * UNKNOWNS + k] += jacobian[i * UNKNOWNS + j] * jacobian[i * UNKNOWNS + k];
    for (int j = 0; j < UNKNOWNS; j++) {
        double unit[UNKNOWNS] = {0}, column[UNKNOWNS];
        unit[j] = 1.0;
        fit->sd[j] = pc_linalg_least_squares(UNKNOWNS, UNKNOWNS, normal, unit, column) && column[j] > 0.0
                         ? scale * sqrt(column[j])
                         : (double)INFINITY;
    }
}

// Levenberg and Marquardt's way to the nearest least sum (J. SIAM 11:431, 1963).
static void settle(const struct highlight *h, bool round, struct fit *fit)
{
    enum { ROWS_MAX = LOOKS_MAX + 3 + UNKNOWNS };
    static const double most[UNKNOWNS] = {0.05, 0.05, 0.3, 0.3, 0.5, 0.7, 0.7, 0.2};
    int rows = h->count + 3;
    double *work = calloc((size_t)ROWS_MAX * (UNKNOWNS + 4), sizeof *work);
    PC_ASSERT(work != NULL);
    double *jacobian = work, *r = work + (ptrdiff_t)ROWS_MAX * UNKNOWNS, *next = r + ROWS_MAX,
           *b = next + ROWS_MAX;
    residuals(h, round, fit->p, r);
    fit->sum = squares(r, rows);
    double damping = 1e-2;
    for (int n = 0; n < STEPS_MAX && damping < 1e8; n++) {
        for (int j = 0; j < UNKNOWNS; j++) {
            double at[UNKNOWNS], little = j < 2 ? 1e-5 : 1e-4;
            memcpy(at, fit->p, sizeof at);
            at[j] += little;
            residuals(h, round, at, next);
            for (int i = 0; i < rows; i++)
                jacobian[i * UNKNOWNS + j] = (next[i] - r[i]) / little;
        }
        for (int i = 0; i < rows; i++)
            b[i] = -r[i];
        bool better = false;
        double before = fit->sum, step[UNKNOWNS], at[UNKNOWNS];
        for (; !better && damping < 1e8; damping *= better ? 0.2 : 8.0) {
            for (int j = 0; j < UNKNOWNS; j++) {
                for (int k = 0; k < UNKNOWNS; k++)
                    jacobian[(rows + j) * UNKNOWNS + k] = j == k ? sqrt(damping) * 10.0 / most[j] : 0.0;
                b[rows + j] = 0.0;
            }
            if (!pc_linalg_least_squares(rows + UNKNOWNS, UNKNOWNS, jacobian, b, step))
                continue;
            for (int j = 0; j < UNKNOWNS; j++)
                at[j] = fit->p[j] + fmin(most[j], fmax(-most[j], step[j]));
            residuals(h, round, at, next);
            double sum = squares(next, rows);
            if (!(sum < fit->sum))
                continue;
            better = true;
            fit->sum = sum;
            memcpy(fit->p, at, sizeof at);
            memcpy(r, next, sizeof *r * (size_t)rows);
        }
        if (!better || before - fit->sum < 1e-6 * before)
            break;
    }
    weigh(jacobian, rows, fit, fmax(1.0, sqrt(fit->sum / fmax(1.0, rows - UNKNOWNS))));
    free(work);
}

// From the looks' own spread.
static void begin(const struct highlight *h, struct fit *fit)
{
    double n = 0.0, su = 0.0, sv = 0.0, suu = 0.0, suv = 0.0, svv = 0.0, most = 0.0, least = INFINITY;
    for (int i = 0; i < h->count; i++) {
        most = fmax(most, h->look[i].level);
        least = fmin(least, h->look[i].level);
    }
    for (int i = 0; i < h->count; i++) {
        const struct look *k = &h->look[i];
        if (k->level < 0.5 * (most + least))
            continue;
        n += 1.0, su += k->u, sv += k->v, suu += k->u * k->u, suv += k->u * k->v, svv += k->v * k->v;
    }
    double mu = su / n, mv = sv / n, a = suu / n - mu * mu, b = suv / n - mu * mv, c = svv / n - mv * mv;
    double mean = 0.5 * (a + c), half = hypot(0.5 * (a - c), b);
    memset(fit, 0, sizeof *fit);
    fit->p[P_U] = mu;
    fit->p[P_V] = mv;
    fit->p[P_TURN] = 0.5 * atan2(2.0 * b, a - c);
    fit->p[P_HALF_U] = 0.5 * log(fmax(2.5 * (mean + half), 1e-5));
    fit->p[P_HALF_V] = 0.5 * log(fmax(2.5 * (mean - half), 1e-5));
    fit->p[P_LEVEL] = log(h->clipped ? 8.0 : 1.3 * most);
    fit->p[P_UNDER] = log(fmax(least, 1e-3));
    fit->p[P_BLUR] = log(BLUR_px);
}

static double width_of(const struct fit *fit, int which)
{
    return 2.0 * atan(exp(fit->p[which]));
}

// Where a disc and a rectangle fit alike their widths are weighed by how well each does.
static void put_size(const struct fit *disc, const struct fit *rectangle, struct pc_ball_light *light)
{
    double better = disc->sum - rectangle->sum, scale = fmax(1.0, 0.02 * fmin(disc->sum, rectangle->sum));
    double share = 1.0 / (1.0 + exp(fmin(60.0, fmax(-60.0, 0.5 * better / scale)))); // of the disc
    double wide[2], narrow[2], sd[2];
    const struct fit *fits[2] = {disc, rectangle};
    for (int k = 0; k < 2; k++) {
        double u = width_of(fits[k], P_HALF_U), v = width_of(fits[k], P_HALF_V);
        wide[k] = fmax(u, v);
        narrow[k] = fmin(u, v);
        sd[k] = hypot(fits[k]->sd[P_HALF_U], fits[k]->sd[P_HALF_V]);
    }
    light->round = share > 0.5;
    light->width_rad = share * wide[0] + (1.0 - share) * wide[1];
    light->narrow_rad = share * narrow[0] + (1.0 - share) * narrow[1];
    double ratio = hypot(1.96 * fmax(sd[0], sd[1]), 0.04);
    light->width_tolerance_rad =
        hypot(ratio * light->width_rad, sqrt(share * (1.0 - share)) * (wide[0] - wide[1]));
    light->narrow_tolerance_rad =
        hypot(ratio * light->narrow_rad, sqrt(share * (1.0 - share)) * (narrow[0] - narrow[1]));
    double a = tan(0.5 * light->width_rad), b = tan(0.5 * light->narrow_rad);
    // Of a rectangle square to the line of sight 4 asin(...), of an ellipse about pi a b.
    double four = 4.0 * asin(a * b / sqrt((1.0 + a * a) * (1.0 + b * b)));
    light->solid_sr = share * 0.25 * M_PI * four + (1.0 - share) * four;
}

// How far past clipping a highlight is moves its rim by as much as the lens blurs, and no one can tell the
// two apart. per_rad_px: pixels to a radian of the light, on the side of the ball that faces the camera.
static void doubt_size(double per_rad_px, struct pc_ball_light *light)
{
    const double RIM_px = 1.6, MOST_ratio = 0.15;
    light->width_tolerance_rad = hypot(light->width_tolerance_rad, RIM_px / per_rad_px);
    light->narrow_tolerance_rad = hypot(light->narrow_tolerance_rad, RIM_px / per_rad_px);
    if (light->width_tolerance_rad <= MOST_ratio * light->width_rad &&
        light->narrow_tolerance_rad <= 1.5 * MOST_ratio * light->narrow_rad)
        return;
    light->width_rad = light->width_tolerance_rad = NAN;
    light->narrow_rad = light->narrow_tolerance_rad = NAN;
    light->solid_sr = NAN;
}

bool pc_ball_light(const struct pc_picture *picture, double image_px, const struct pc_ball *ball,
                   double ball_over_light_ratio, struct pc_ball_light *light)
{
    struct highlight *h = calloc(1, sizeof *h);
    PC_ASSERT(h != NULL);
    if (!gather(picture, image_px, ball, h)) {
        free(h);
        return false;
    }
    struct fit disc, rectangle;
    begin(h, &disc);
    rectangle = disc;
    settle(h, true, &disc);
    settle(h, false, &rectangle);
    const struct fit *better = disc.sum < rectangle.sum ? &disc : &rectangle;
    struct pc_ball_light found = {
        .clipped = h->clipped, .x_px = h->x * picture->bin, .y_px = h->y * picture->bin};
    put_size(&disc, &rectangle, &found);
    found.over_ev = found.clipped ? fmax(0.0, better->p[P_LEVEL] / M_LN2) : 0.0;
    if (found.clipped)
        doubt_size(0.25 * ball->across_px / picture->bin, &found);
    // The middle as fitted where that is near the centroid, then as seen from the ball's own middle.
    double u = better->p[P_U], v = better->p[P_V], ray[3], normal[3], way[3];
    if (!(hypot(u, v) < 0.1))
        u = v = 0.0;
    ball_ray(picture, image_px, h->x, h->y, ray);
    bool good = ball_normal(ball, ray, normal);
    for (int i = 0; i < 3; i++)
        way[i] = h->middle[i] + u * h->across[i] + v * h->down[i];
    ball_unit(way);
    double across = sqrt(fmax(0.0, 1.0 - ball_dot(way, normal) * ball_dot(way, normal)));
    for (int i = 0; i < 3; i++)
        found.direction[i] = way[i] + ball_over_light_ratio * normal[i];
    ball_unit(found.direction);
    // A place on the ball turns the mirrored way by twice what it turns the normal.
    double radii = 2.0 * hypot(ball->centre_tolerance_rad, 1.96 * 0.15 * picture->bin / image_px) /
                   sin(ball->radius_rad) / fmax(0.1, -ball_dot(ray, normal));
    // The whole ball's size counts towards its rim.
    double facing = fmax(0.1, -ball_dot(ray, normal));
    radii = hypot(radii, 2.0 * ball->radius_tolerance_rad / ball->radius_rad *
                             sqrt(fmax(0.0, 1.0 - facing * facing)) / facing);
    found.tolerance_rad = hypot(radii, ball_over_light_ratio * across);
    free(h);
    if (good)
        *light = found;
    return good;
}
