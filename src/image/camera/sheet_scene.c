// SPDX-License-Identifier: Apache-2.0
#include "image/camera/sheet_scene.h"

enum { THINGS_MAX = 24, COARSE_px = 4 };

#define PI 3.14159265358979323846

// Lies flat on the table, in the sheet's own millimetres: a rectangle turned, or a disc.
struct thing {
    bool round;
    double x, y, half_x, half_y, cosine, sine, reach;
    double reflectance;
};

struct drawing {
    const struct pc_sheet_scene *s;
    double e[3][3]; // table from camera: rows are the sheet's long way, its short way, down
    double blur_px; // of this picture
    double level;   // what a white surface under the middle of the light gives
    double fall[2], spot[4], band[3];
    double grain, check_mm;
    struct thing thing[THINGS_MAX];
    int things, on_sheet; // the first on_sheet lie on the sheet
    uint64_t noise;
};

static uint64_t random_bits(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u); // splitmix64 (Steele, Lea, Flood, OOPSLA 2014)
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static double between(uint64_t *state, double least, double most)
{
    return least + (most - least) * (double)(random_bits(state) >> 11) * 0x1p-53;
}

static double bell(uint64_t *state)
{
    double r = sqrt(-2.0 * log(between(state, 1e-12, 1.0)));
    return r * cos(2.0 * PI * between(state, 0.0, 1.0));
}

static void cross(const double a[3], const double b[3], double c[3])
{
    c[0] = a[1] * b[2] - a[2] * b[1];
    c[1] = a[2] * b[0] - a[0] * b[2];
    c[2] = a[0] * b[1] - a[1] * b[0];
}

// The sheet's own axes in the camera's: turned on the table from the camera's left-right line.
static void axes_of(const struct pc_sheet_scene *s, double turn_rad, double e[3][3])
{
    double down[3] = {-s->up[0], -s->up[1], -s->up[2]}, right[3], ahead[3], level = 0.0;
    for (int i = 0; i < 3; i++) {
        right[i] = (i == 0) - s->up[0] * s->up[i];
        level += right[i] * right[i];
    }
    for (int i = 0; i < 3; i++)
        right[i] /= sqrt(level);
    cross(down, right, ahead); // towards the picture's foot
    for (int i = 0; i < 3; i++) {
        e[0][i] = cos(turn_rad) * right[i] + sin(turn_rad) * ahead[i];
        e[1][i] = -sin(turn_rad) * right[i] + cos(turn_rad) * ahead[i];
        e[2][i] = down[i];
    }
}

static double turn_of(const struct pc_sheet_scene *s)
{
    uint64_t state = s->seed * 77 + 5;
    return between(&state, -PI, PI);
}

static void project(const struct pc_sheet_scene *s, const double e[3][3], double x, double y, double px[2])
{
    double at[3];
    for (int i = 0; i < 3; i++)
        at[i] = s->centre_mm[i] + x * e[0][i] + y * e[1][i];
    px[0] = 0.5 * s->width_px + s->image_px * at[0] / at[2];
    px[1] = 0.5 * s->height_px + s->image_px * at[1] / at[2];
}

static bool place(struct pc_sheet_scene *s, uint64_t *state)
{
    double px_per_mm = s->width_px / s->sensor_width_mm;
    double ray[3] = {
        between(state, -0.3, 0.3) * s->sensor_width_mm / s->focal_mm,
        between(state, -0.3, 0.3) * s->sensor_width_mm * s->height_px / s->width_px / s->focal_mm, 1.0};
    double length = sqrt(ray[0] * ray[0] + ray[1] * ray[1] + 1.0), e[3][3];
    for (int i = 0; i < 3; i++)
        s->centre_mm[i] = s->distance_mm * ray[i] / length;
    s->image_px = s->focal_mm * s->centre_mm[2] / (s->centre_mm[2] - s->focal_mm) * px_per_mm;
    axes_of(s, turn_of(s), e);
    static const double square[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    for (int i = 0; i < 4; i++) {
        project(s, e, square[i][0] * s->long_mm, square[i][1] * s->short_mm, s->corner_px[i]);
        if (!(s->corner_px[i][0] > 0.02 * s->width_px) || !(s->corner_px[i][0] < 0.98 * s->width_px) ||
            !(s->corner_px[i][1] > 0.02 * s->height_px) || !(s->corner_px[i][1] < 0.98 * s->height_px))
            return false;
    }
    return true;
}

void pc_sheet_scene_init(struct pc_sheet_scene *sheet, uint64_t seed, int camera, double least_tilt_deg,
                         double most_tilt_deg, bool there)
{
    uint64_t state = seed;
    *sheet = (struct pc_sheet_scene){.seed = seed, .bin = 2, .there = there};
    sheet->width_px = camera == 0 ? 8192 : 4032;
    sheet->height_px = camera == 0 ? 5464 : 3024;
    sheet->sensor_width_mm = camera == 0 ? 36.0 : 7.6;
    double diagonal_mm = sheet->sensor_width_mm * hypot(sheet->width_px, sheet->height_px) / sheet->width_px;
    sheet->focal_mm = camera == 0 ? 50.0 : 24.0 * diagonal_mm / 43.266615305567871;
    // 19 sheets in 20 are cut to within half a millimetre.
    sheet->long_mm = 297.0 + 0.5 / 1.96 * bell(&state);
    sheet->short_mm = 210.0 + 0.5 / 1.96 * bell(&state);
    sheet->board = (enum pc_sheet_scene_board)(random_bits(&state) % PC_SHEET_SCENE_BOARDS);
    if (!there) { // a napkin, a card, a cutting board
        static const double aspects[] = {1.0, 1.25, 1.333, 1.5, 1.6, 1.778};
        sheet->short_mm = between(&state, 100.0, 220.0);
        sheet->long_mm = sheet->short_mm * aspects[random_bits(&state) % 6];
    }
    do {
        sheet->tilt_rad = between(&state, least_tilt_deg, most_tilt_deg) * PI / 180.0;
        sheet->roll_rad = between(&state, -3.0, 3.0) * PI / 180.0;
        double way = sheet->tilt_rad < 0.17 ? between(&state, -PI, PI) : sheet->roll_rad;
        sheet->up[0] = sin(sheet->tilt_rad) * sin(way);
        sheet->up[1] = -sin(sheet->tilt_rad) * cos(way);
        sheet->up[2] = -cos(sheet->tilt_rad);
        sheet->distance_mm = between(&state, 900.0, 1700.0);
    } while (!place(sheet, &state));
    sheet->clipped = random_bits(&state) % 3 == 0 ? 1.0 : 0.0;
}

// ---- what lies about ----

static double inside_mm(const struct thing *t, double x, double y)
{
    double u = t->cosine * (x - t->x) + t->sine * (y - t->y),
           v = t->cosine * (y - t->y) - t->sine * (x - t->x);
    if (t->round)
        return t->half_x - hypot(u, v);
    return fmin(t->half_x - fabs(u), t->half_y - fabs(v));
}

static struct thing thing_at(double x, double y, double half_x, double half_y, bool round, double turn_rad,
                             double reflectance)
{
    return (struct thing){round,
                          x,
                          y,
                          half_x,
                          round ? half_x : half_y,
                          cos(turn_rad),
                          sin(turn_rad),
                          hypot(half_x, round ? 0.0 : half_y),
                          reflectance};
}

static double share_covered(const struct drawing *d)
{
    enum { GRID = 60 };
    int covered = 0;
    for (int j = 0; j < GRID; j++)
        for (int i = 0; i < GRID; i++) {
            double x = ((i + 0.5) / GRID - 0.5) * d->s->long_mm,
                   y = ((j + 0.5) / GRID - 0.5) * d->s->short_mm;
            bool under = false;
            for (int k = 0; k < d->on_sheet; k++)
                under = under || inside_mm(&d->thing[k], x, y) > 0.0;
            covered += under;
        }
    return covered / (double)(GRID * GRID);
}

// Something on a corner or an edge, at most 15 % of the sheet, on every other frame.
static void lay_on_sheet(struct drawing *d, uint64_t *state)
{
    if (!d->s->there || random_bits(state) % 2 == 0)
        return;
    int want = 1 + (int)(random_bits(state) % 2);
    for (int n = 0; n < want; n++) {
        double corner = random_bits(state) % 2 == 0 ? 1.0 : between(state, -0.8, 0.8);
        double a = 0.5 * d->s->long_mm * (random_bits(state) % 2 == 0 ? 1.0 : -1.0);
        double b = 0.5 * d->s->short_mm * (random_bits(state) % 2 == 0 ? 1.0 : -1.0);
        if (random_bits(state) % 2 == 0)
            a *= corner;
        else
            b *= corner;
        static const double grey[] = {0.05, 0.18, 0.4, 0.75};
        d->thing[d->things] =
            thing_at(a, b, between(state, 8.0, 55.0), between(state, 8.0, 55.0), random_bits(state) % 2 == 0,
                     between(state, 0.0, PI), grey[random_bits(state) % 4]);
        d->on_sheet = ++d->things;
        if (share_covered(d) > 0.15)
            d->on_sheet = --d->things;
    }
}

static void lay_about(struct drawing *d, uint64_t *state)
{
    int want = 3 + (int)(random_bits(state) % 6);
    double sheet = 0.5 * hypot(d->s->long_mm, d->s->short_mm);
    for (int tries = 0; tries < 60 && want > 0; tries++) {
        double x = between(state, -700.0, 700.0), y = between(state, -600.0, 600.0);
        double size = between(state, 40.0, 140.0), kind = between(state, 0.0, 1.0);
        struct thing thing =
            thing_at(x, y, size, size * between(state, 0.55, 0.97), kind < 0.4, between(state, 0.0, PI),
                     kind < 0.3   ? 0.8
                     : kind < 0.5 ? 0.18
                                  : between(state, 0.04, 0.7));
        if (kind > 0.85) { // cutlery, a ruler
            thing.half_y = between(state, 4.0, 12.0);
            thing.half_x = thing.reach = 110.0;
        }
        if (fabs(thing.half_x / thing.half_y - 1.4142) < 0.05) // another of A4's shape is another matter
            continue;
        bool free = hypot(x, y) > sheet + thing.reach + 4.0;
        for (int k = 0; k < d->things; k++)
            free =
                free && hypot(x - d->thing[k].x, y - d->thing[k].y) > d->thing[k].reach + thing.reach + 4.0;
        if (!free || d->things > THINGS_MAX - 4)
            continue;
        d->thing[d->things++] = thing;
        want--;
        if (thing.round && kind < 0.3 && size > 70.0) // a plate's well
            d->thing[d->things++] = thing_at(x, y, 0.68 * size, 0.68 * size, true, 0.0, 0.74);
    }
}

// ---- boards ----

static double lattice(int x, int y)
{
    uint64_t state = (uint64_t)(uint32_t)x << 32 | (uint32_t)y;
    return (double)(random_bits(&state) >> 11) * 0x1p-52 - 1.0;
}

static double bumps(double x, double y)
{
    int ix = (int)floor(x), iy = (int)floor(y);
    double u = x - ix, v = y - iy;
    u = u * u * (3.0 - 2.0 * u);
    v = v * v * (3.0 - 2.0 * v);
    return (1.0 - v) * ((1.0 - u) * lattice(ix, iy) + u * lattice(ix + 1, iy)) +
           v * ((1.0 - u) * lattice(ix, iy + 1) + u * lattice(ix + 1, iy + 1));
}

static double board_at(const struct drawing *d, double x, double y)
{
    double c = cos(d->grain), s = sin(d->grain), u = c * x + s * y, v = c * y - s * x;
    switch (d->s->board) {
    case PC_SHEET_SCENE_OAK: {
        double seam = fabs(remainder(v, 90.0));
        double wave = bumps(u / 160.0, v / 12.0) + 0.5 * bumps(u / 60.0, v / 2.5);
        return 0.06 * (1.0 + 0.28 * wave) * (seam < 1.0 ? 0.4 + 0.6 * seam : 1.0);
    }
    case PC_SHEET_SCENE_LINEN:
        return 0.35 * (1.0 + 0.12 * bumps(u / 1.3, v / 9.0) + 0.12 * bumps(u / 9.0, v / 1.3) +
                       0.05 * bumps(u / 60.0, v / 60.0));
    case PC_SHEET_SCENE_PLASTER:
        return 0.78 * (1.0 + 0.02 * bumps(u / 40.0, v / 40.0) + 0.012 * bumps(u / 6.0, v / 6.0));
    default: // a checked cloth
        return (remainder(u, 2.0 * d->check_mm) > 0.0) == (remainder(v, 2.0 * d->check_mm) > 0.0) ? 0.5 : 0.2;
    }
}

// ---- the picture ----

static double light_at(const struct drawing *d, double x, double y)
{
    double spot = hypot(x - d->spot[0], y - d->spot[1]) / d->spot[2];
    double band = fabs(d->band[1] * x + d->band[2] * y - d->band[0]) / 120.0;
    return exp2(d->fall[0] * x + d->fall[1] * y) * (1.0 + d->spot[3] * exp(-spot * spot)) *
           (1.0 - 0.25 * exp(-band * band));
}

// Share of a blurred pixel that lies on a thing: the blur's integral across each edge.
static double cover(double inside_px, double blur_px)
{
    return inside_px > 5.0 * blur_px    ? 1.0
           : inside_px < -5.0 * blur_px ? 0.0
                                        : 0.5 * erfc(-inside_px / (M_SQRT2 * blur_px));
}

// px: of the full picture. Where the ray meets the table, and how a step on the table looks there.
struct spot {
    double x, y, dx[2], dy[2]; // mm; mm to a full pixel right and down
};

static bool meet(const struct drawing *d, double px, double py, double *x, double *y)
{
    const struct pc_sheet_scene *s = d->s;
    double ray[3] = {(px - 0.5 * s->width_px) / s->image_px, (py - 0.5 * s->height_px) / s->image_px, 1.0};
    double down = 0.0, depth = 0.0;
    for (int i = 0; i < 3; i++) {
        down += ray[i] * d->e[2][i];
        depth += s->centre_mm[i] * d->e[2][i];
    }
    if (!(down > 0.02))
        return false;
    *x = *y = 0.0;
    for (int i = 0; i < 3; i++) {
        double at = ray[i] * depth / down - s->centre_mm[i];
        *x += at * d->e[0][i];
        *y += at * d->e[1][i];
    }
    return true;
}

// How far inside in binned pixels: the distance in mm over how much of it one pixel spans across that edge.
static double inside_px(const struct drawing *d, const struct thing *t, const struct spot *at)
{
    double here = inside_mm(t, at->x, at->y);
    if (fabs(here) >
        12.0 * d->s->bin * (fabs(at->dx[0]) + fabs(at->dx[1]) + fabs(at->dy[0]) + fabs(at->dy[1])))
        return here > 0.0 ? 1e3 : -1e3;
    double h = 1e-3, gx = (inside_mm(t, at->x + h, at->y) - inside_mm(t, at->x - h, at->y)) / (2.0 * h);
    double gy = (inside_mm(t, at->x, at->y + h) - inside_mm(t, at->x, at->y - h)) / (2.0 * h);
    double across = hypot(gx * at->dx[0] + gy * at->dx[1], gx * at->dy[0] + gy * at->dy[1]);
    return here / across / d->s->bin;
}

// The sheet's share is a product over its two ways, so that corners come out round.
static double sheet_cover(const struct drawing *d, const struct spot *at)
{
    double share = 1.0, b = d->blur_px * d->s->bin;
    double across[2] = {hypot(at->dx[0], at->dy[0]), hypot(at->dx[1], at->dy[1])};
    double off[4] = {0.5 * d->s->long_mm - at->x, 0.5 * d->s->long_mm + at->x, 0.5 * d->s->short_mm - at->y,
                     0.5 * d->s->short_mm + at->y};
    for (int k = 0; k < 4; k++)
        share *= cover(off[k] / across[k / 2], b);
    return share;
}

static double reflectance_at(const struct drawing *d, const struct spot *at)
{
    const struct pc_sheet_scene *s = d->s;
    double value = -1.0, paper = sheet_cover(d, at);
    if (paper < 1.0)
        value = board_at(d, at->x, at->y);
    for (int k = d->on_sheet; k < d->things; k++) {
        const struct thing *t = &d->thing[k];
        if (hypot(at->x - t->x, at->y - t->y) > t->reach + 20.0)
            continue;
        double share = cover(inside_px(d, t, at), d->blur_px);
        value = (1.0 - share) * value + share * t->reflectance;
    }
    if (paper > 0.0)
        value = (1.0 - paper) * fmax(value, 0.0) +
                paper * (s->there ? 0.85 : 0.3 + 0.55 * fmod((double)s->seed * 0.37, 1.0));
    for (int k = 0; k < d->on_sheet; k++) {
        double share = cover(inside_px(d, &d->thing[k], at), d->blur_px);
        value = (1.0 - share) * value + share * d->thing[k].reflectance;
    }
    return value;
}

static double level_at(const struct drawing *d, double x_px, double y_px)
{
    double px = x_px * d->s->bin, py = y_px * d->s->bin;
    struct spot at;
    if (!meet(d, px, py, &at.x, &at.y))
        return 0.02;
    double right[2], down[2];
    if (!meet(d, px + 1.0, py, &right[0], &right[1]) || !meet(d, px, py + 1.0, &down[0], &down[1]))
        return 0.02;
    for (int c = 0; c < 2; c++) {
        at.dx[c] = right[c] - (c ? at.y : at.x);
        at.dy[c] = down[c] - (c ? at.y : at.x);
    }
    return d->level * light_at(d, at.x, at.y) * reflectance_at(d, &at);
}

static void set_pixel(struct drawing *d, struct pc_picture *p, int x, int y, double level)
{
    // 0.4 % at full level, and a floor: about ISO 400 on a middling sensor, binned.
    uint64_t bits = random_bits(&d->noise);
    double sum = 0.0;
    for (int k = 0; k < 4; k++)
        sum += (double)(bits >> (16 * k) & 0xffff) / 65536.0;
    double bell_like = (sum - 2.0) * 1.7320508;
    double value = level + bell_like * sqrt(2e-7 + 1.6e-5 * fmax(level, 0.0));
    size_t at = (size_t)y * (size_t)p->width_px + (size_t)x;
    bool clipped = value >= 1.0;
    p->clipped[at] = clipped ? 7 : 0;
    p->px[3 * at] = (float)(clipped ? 1.0 : 0.9 * value);
    p->px[3 * at + 1] = (float)(clipped ? 1.0 : value);
    p->px[3 * at + 2] = (float)(clipped ? 1.0 : 0.8 * value);
}

static bool near_outline(const struct pc_sheet_scene *s, double x, double y)
{
    const double NEAR_px = 28.0 * s->bin;
    for (int i = 0; i < 4; i++) {
        const double *a = s->corner_px[i], *b = s->corner_px[(i + 1) % 4];
        double dx = b[0] - a[0], dy = b[1] - a[1],
               t = ((x - a[0]) * dx + (y - a[1]) * dy) / (dx * dx + dy * dy);
        t = fmin(1.0, fmax(0.0, t));
        if (hypot(x - a[0] - t * dx, y - a[1] - t * dy) < NEAR_px)
            return true;
    }
    return false;
}

static void set_up(struct drawing *d, const struct pc_sheet_scene *sheet)
{
    uint64_t state = sheet->seed * 31 + 7;
    *d = (struct drawing){.s = sheet, .noise = sheet->seed * 13 + 1};
    axes_of(sheet, turn_of(sheet), d->e);
    d->blur_px = between(&state, 0.5, 1.1);
    d->level = between(&state, 0.65, 1.0);
    double way = between(&state, -PI, PI), fall = between(&state, 0.0, 0.6) / 300.0;
    d->fall[0] = fall * cos(way);
    d->fall[1] = fall * sin(way);
    d->spot[0] = between(&state, -140.0, 140.0);
    d->spot[1] = between(&state, -100.0, 100.0);
    d->spot[2] = between(&state, 60.0, 120.0);
    d->spot[3] = sheet->clipped > 0.0 ? between(&state, 0.4, 0.8) : 0.0;
    way = between(&state, -PI, PI);
    d->band[0] = between(&state, -400.0, 400.0);
    d->band[1] = cos(way);
    d->band[2] = sin(way);
    d->grain = between(&state, -PI, PI);
    d->check_mm = between(&state, 12.0, 40.0);
    lay_on_sheet(d, &state);
    lay_about(d, &state);
}

enum pc_status pc_sheet_scene_draw(struct pc_ctx *ctx, const struct pc_sheet_scene *sheet,
                                   struct pc_picture *picture, struct pc_err *err)
{
    struct drawing d;
    set_up(&d, sheet);
    PC_TRY(
        pc_picture_init(ctx, picture, sheet->width_px / sheet->bin, sheet->height_px / sheet->bin, 3, err));
    picture->bin = sheet->bin;
    picture->full_width_px = sheet->width_px;
    picture->full_height_px = sheet->height_px;
    for (int y = 0; y < picture->height_px; y += COARSE_px)
        for (int x = 0; x < picture->width_px; x += COARSE_px) {
            bool fine =
                near_outline(sheet, (x + 0.5 * COARSE_px) * sheet->bin, (y + 0.5 * COARSE_px) * sheet->bin);
            double level = fine ? 0.0 : level_at(&d, x + 0.5 * COARSE_px, y + 0.5 * COARSE_px);
            for (int j = y; j < y + COARSE_px && j < picture->height_px; j++)
                for (int i = x; i < x + COARSE_px && i < picture->width_px; i++)
                    set_pixel(&d, picture, i, j, fine ? level_at(&d, i + 0.5, j + 0.5) : level);
        }
    return PC_OK;
}
