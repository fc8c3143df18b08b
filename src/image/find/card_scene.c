// SPDX-License-Identifier: Apache-2.0
#include "image/find/card_scene.h"

#include "base/linalg.h"
#include "base/units.h"

enum { THINGS_MAX = 64 };

enum table { TABLE_WOOD, TABLE_PLASTER, TABLE_LINEN, TABLE_BOARD, TABLES };
enum surface { SURFACE_PLAIN, SURFACE_CLOTH };

// Something flat on the table: a square or disc of half size 1 in u, v.
struct thing {
    bool round, casts;
    enum surface surface;
    double px_from_uv[3][3], uv_from_px[3][3];
    double corner[4][2]; // of the square, in pixels of the picture
    double reflectance[3];
    double shadow[2];   // how deep, and how soft in pixels
    double slope_ev[2]; // light across it, from -1 to 1 in u and v
    double x, y, reach; // circle around it
};

struct drawing {
    uint64_t random;
    int width, height;
    double tilt_rad, roll_rad, soft_px;
    double gain, slope_ev[2], neutral[3];
    enum table table;
    double table_rgb[3], grain, grain_way[3]; // its strength; cosine and sine of its way, cosine of the tilt
    struct thing thing[THINGS_MAX];
    int things;
    double shine[3][4]; // x, y, radius, height
};

static uint64_t next_random(uint64_t *state) // splitmix64
{
    uint64_t z = (*state += 0x9E3779B97F4A7C15U);
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9U;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBU;
    return z ^ (z >> 31);
}

static double between(struct drawing *d, double least, double most)
{
    return least + (most - least) * (double)(next_random(&d->random) >> 11) * 0x1p-53;
}

static double lattice(int x, int y)
{
    uint64_t state = (uint64_t)(uint32_t)x << 32 | (uint32_t)y;
    return (double)(next_random(&state) >> 11) * 0x1p-52 - 1.0;
}

// Smooth noise, -1..1, one bump to a unit.
static double bumps(double x, double y)
{
    int ix = (int)x, iy = (int)y; // floor() is a call on plain x86-64
    ix -= x < ix;
    iy -= y < iy;
    double u = x - ix, v = y - iy;
    u = u * u * (3.0 - 2.0 * u);
    v = v * v * (3.0 - 2.0 * v);
    return (1.0 - v) * ((1.0 - u) * lattice(ix, iy) + u * lattice(ix + 1, iy)) +
           v * ((1.0 - u) * lattice(ix, iy + 1) + u * lattice(ix + 1, iy + 1));
}

static void apply(const double m[3][3], double x, double y, double out[2])
{
    double z = m[2][0] * x + m[2][1] * y + m[2][2];
    out[0] = (m[0][0] * x + m[0][1] * y + m[0][2]) / z;
    out[1] = (m[1][0] * x + m[1][1] * y + m[1][2]) / z;
}

// Lays a thing of a size across (pixels, along u) and aspect v/u at x, y, turned in its plane, the plane
// tilted.
static void lay(const struct drawing *d, struct thing *thing, double x, double y, double across,
                double aspect, double turn_rad, double tilt_rad, double roll_rad)
{
    double focal = 1.2 * d->width, s = 0.5 * across / focal;
    double ct = cos(turn_rad), st = sin(turn_rad), ci = cos(tilt_rad), si = sin(tilt_rad), cr = cos(roll_rad),
           sr = sin(roll_rad);
    // Turned in the plane, tilted about x, rolled about the line of sight; one focal length away.
    double ux = ct * s, uy = st * s, vx = -st * s * aspect, vy = ct * s * aspect;
    const double a[3] = {cr * ux - sr * uy * ci, sr * ux + cr * uy * ci, uy * si};
    const double b[3] = {cr * vx - sr * vy * ci, sr * vx + cr * vy * ci, vy * si};
    const double m[3][3] = {{focal * a[0] + x * a[2], focal * b[0] + x * b[2], x},
                            {focal * a[1] + y * a[2], focal * b[1] + y * b[2], y},
                            {a[2], b[2], 1.0}};
    double inverse[3][3];
    PC_ASSERT(pc_linalg_invert3(m, inverse));
    memcpy(thing->px_from_uv, m, sizeof m);
    memcpy(thing->uv_from_px, inverse, sizeof inverse);
    // As hard as a window's or a panel's, and deeper the nearer to the thing's own size the source is.
    thing->shadow[1] = 4.0 + 6.0 * fabs(lattice((int)x, (int)y));
    thing->shadow[0] = 0.05 + 0.35 * fabs(lattice((int)y, (int)x));
    static const double square[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    thing->x = x;
    thing->y = y;
    thing->reach = 0.0;
    for (int i = 0; i < 4; i++) {
        apply(thing->px_from_uv, square[i][0], square[i][1], thing->corner[i]);
        thing->reach = fmax(thing->reach, hypot(thing->corner[i][0] - x, thing->corner[i][1] - y));
    }
}

// How far a pixel is inside the thing, pixels; negative outside.
static double depth(const struct thing *thing, double x, double y)
{
    double dx0 = x - thing->x, dy0 = y - thing->y, far = thing->reach + 10.0;
    if (dx0 * dx0 + dy0 * dy0 > far * far)
        return -20.0;
    if (thing->round) {
        double at[2], right[2], down[2];
        apply(thing->uv_from_px, x, y, at);
        apply(thing->uv_from_px, x + 0.5, y, right);
        apply(thing->uv_from_px, x, y + 0.5, down);
        double r = hypot(at[0], at[1]);
        double gx = (hypot(right[0], right[1]) - r) / 0.5, gy = (hypot(down[0], down[1]) - r) / 0.5;
        return (1.0 - r) / fmax(hypot(gx, gy), 1e-9);
    }
    double least = INFINITY;
    for (int i = 0; i < 4; i++) {
        const double *a = thing->corner[i], *b = thing->corner[(i + 1) % 4];
        double dx = b[0] - a[0], dy = b[1] - a[1];
        least = fmin(least, (dx * (y - a[1]) - dy * (x - a[0])) / sqrt(dx * dx + dy * dy));
    }
    return least;
}

static double cover(double depth_px, double soft_px)
{
    return fmin(1.0, fmax(0.0, 0.5 + depth_px / soft_px));
}

static void colour(double rgb[3], double r, double g, double b)
{
    rgb[0] = r;
    rgb[1] = g;
    rgb[2] = b;
}

static void choose_table(struct drawing *d)
{
    d->table = (enum table)(next_random(&d->random) % TABLES);
    double k = between(d, 0.0, 1.0);
    switch (d->table) {
    case TABLE_WOOD:
        colour(d->table_rgb, 0.14 + 0.36 * k, 0.09 + 0.26 * k, 0.05 + 0.18 * k);
        break;
    case TABLE_PLASTER:
        colour(d->table_rgb, 0.36 + 0.40 * k, 0.35 + 0.39 * k, 0.33 + 0.37 * k);
        break;
    case TABLE_LINEN:
        colour(d->table_rgb, 0.42 + 0.35 * k, 0.40 + 0.35 * k, 0.35 + 0.32 * k);
        break;
    default:
        colour(d->table_rgb, 0.04 + 0.05 * k, 0.04 + 0.05 * k, 0.045 + 0.05 * k);
    }
    d->grain = between(d, 0.5, 1.0);
}

// Reflectance of the table, by its own coordinates: picture widths.
static double table_texture(const struct drawing *d, double u, double v)
{
    double f = 1.0;
    switch (d->table) {
    case TABLE_WOOD:
        f += 0.18 * bumps(u * 4.0, v * 90.0) + 0.10 * bumps(u * 9.0, v * 260.0) +
             0.10 * bumps(u * 3.0, v * 12.0);
        if (fabs(v * 4.0 - floor(v * 4.0) - 0.5) > 0.493)
            f *= 0.4; // between boards
        break;
    case TABLE_PLASTER:
        f += 0.05 * bumps(u * 20.0, v * 20.0) + 0.03 * bumps(u * 120.0, v * 120.0);
        break;
    case TABLE_LINEN:
        f += 0.06 * sin(u * 1800.0) * sin(v * 1800.0) + 0.05 * bumps(u * 400.0, v * 15.0) +
             0.05 * bumps(u * 15.0, v * 400.0);
        break;
    default:
        f += 0.06 * bumps(u * 60.0, v * 60.0);
    }
    return 1.0 + (f - 1.0) * d->grain;
}

// A folded cloth: a weave of five pixels, threads of uneven colour, a crease, and no part of it quite flat.
static double cloth_texture(const double uv[2], double reach_px)
{
    double thread = reach_px * 1.1;
    double crease = fabs(uv[0] + 0.1) < 0.03 || fabs(uv[1] - 0.05) < 0.03 ? 0.85 : 1.0;
    return crease * (1.0 + 0.08 * sin(uv[0] * thread) * sin(uv[1] * thread) +
                     0.04 * bumps(uv[0] * 40.0, uv[1] * 4.0) + 0.08 * bumps(uv[0] * 2.0, uv[1] * 3.0));
}

static bool is_free(const struct drawing *d, double x, double y, double reach)
{
    for (int i = 0; i < d->things; i++)
        if (hypot(x - d->thing[i].x, y - d->thing[i].y) < reach + d->thing[i].reach + 6.0)
            return false;
    return true;
}

// A place for something that may (or may not) hang over the picture's rim.
static bool find_place(struct drawing *d, double reach, bool whole, double at[2])
{
    double margin = whole ? reach + 8.0 : 0.0;
    for (int tries = 0; tries < 60; tries++) {
        if (2.0 * margin >= d->width || 2.0 * margin >= d->height)
            return false;
        at[0] = between(d, margin, d->width - margin);
        at[1] = between(d, margin, d->height - margin);
        if (is_free(d, at[0], at[1], reach))
            return true;
    }
    return false;
}

static void add_cards(struct drawing *d, struct scene *scene, int count)
{
    double first = 0.0;
    for (int i = 0; i < count; i++) {
        struct thing card = {.casts = true};
        double least = log(count == 1 ? 0.035 : 0.05), most = log(count == 1 ? 0.55 : 0.28),
               at[2] = {0.5 * d->width, 0.5 * d->height};
        bool leans = next_random(&d->random) % 3 == 0; // at the hero it may lean on something
        double tilt_rad = leans ? pc_rad_from_deg(between(d, 0.0, 50.0)) : d->tilt_rad;
        double roll_rad = leans ? between(d, 0.0, 2.0 * PC_PI) : d->roll_rad;
        double turn_rad = between(d, 0.0, 2.0 * PC_PI), aspect = between(d, 0.62, 1.0);
        for (int tries = 0; tries < 40; tries++) {
            double across = i == 0 ? exp(between(d, least, most)) * d->width : first * between(d, 0.7, 1.4);
            lay(d, &card, at[0], at[1], across, aspect, turn_rad, tilt_rad, roll_rad);
            if (find_place(d, card.reach, true, at)) {
                first = across;
                lay(d, &card, at[0], at[1], across, aspect, turn_rad, tilt_rad, roll_rad);
                break;
            }
            PC_ASSERT(tries < 39);
        }
        double grey = between(d, 0.165, 0.2);
        colour(card.reflectance, grey * between(d, 0.97, 1.03), grey, grey * between(d, 0.97, 1.03));
        double slope = between(d, 0.0, 0.25), way_rad = between(d, 0.0, 2.0 * PC_PI);
        card.slope_ev[0] = slope * cos(way_rad);
        card.slope_ev[1] = slope * sin(way_rad);
        d->thing[d->things++] = card;
        scene->card_count = i + 1;
    }
}

static void add_plates_and_napkins(struct drawing *d)
{
    int count = (int)(next_random(&d->random) % 4);
    for (int i = 0; i < count && d->things < THINGS_MAX; i++) {
        struct thing thing = {.casts = true, .round = next_random(&d->random) % 2 == 0};
        double across = between(d, 0.06, 0.3) * d->width, at[2] = {0};
        if (!find_place(d, 0.75 * across, false, at))
            continue;
        double aspect = thing.round ? 1.0 : between(d, 0.6, 1.0);
        lay(d, &thing, at[0], at[1], across, aspect, between(d, 0.0, 2.0 * PC_PI), d->tilt_rad, d->roll_rad);
        double white = between(d, 0.6, 0.85);
        colour(thing.reflectance, white, white, white * 0.97);
        if (!thing.round) {
            thing.surface = SURFACE_CLOTH;
            if (next_random(&d->random) % 2 == 0)
                colour(thing.reflectance, between(d, 0.1, 0.7), between(d, 0.1, 0.7), between(d, 0.1, 0.7));
        }
        d->thing[d->things++] = thing;
        if (thing.round && d->things < THINGS_MAX) { // the well of the plate
            lay(d, &thing, at[0], at[1], 0.66 * across, 1.0, 0.0, d->tilt_rad, d->roll_rad);
            thing.casts = false;
            for (int c = 0; c < 3; c++)
                thing.reflectance[c] *= 0.8;
            d->thing[d->things++] = thing;
        }
    }
}

// 24 patches in four rows on a dark frame: 18 colours, six greys.
static void add_chart(struct drawing *d)
{
    double across = between(d, 0.15, 0.5) * d->width, at[2] = {0};
    if (!find_place(d, 0.62 * across, false, at) || d->things + 25 > THINGS_MAX)
        return;
    double turn_rad = between(d, 0.0, 2.0 * PC_PI);
    struct thing frame = {.casts = true};
    lay(d, &frame, at[0], at[1], across, 0.68, turn_rad, d->tilt_rad, d->roll_rad);
    colour(frame.reflectance, 0.04, 0.04, 0.04);
    d->thing[d->things++] = frame;
    static const double greys[6] = {0.9, 0.59, 0.36, 0.19, 0.09, 0.031};
    for (int i = 0; i < 24; i++) {
        struct thing patch = frame;
        patch.casts = false;
        // A smaller square of the frame's own plane: px_from_uv with u, v scaled and moved.
        double u = -0.8 + 0.32 * (i % 6), v = -0.72 + 0.48 * (double)(i / 6), su = 0.135, sv = 0.2;
        double moved[3][3] = {{su, 0.0, u}, {0.0, sv, v}, {0.0, 0.0, 1.0}};
        pc_linalg_multiply3(frame.px_from_uv, moved, patch.px_from_uv);
        PC_ASSERT(pc_linalg_invert3(patch.px_from_uv, patch.uv_from_px));
        static const double square[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
        double centre[2];
        apply(patch.px_from_uv, 0.0, 0.0, centre);
        patch.x = centre[0];
        patch.y = centre[1];
        patch.reach = 0.0;
        for (int k = 0; k < 4; k++) {
            apply(patch.px_from_uv, square[k][0], square[k][1], patch.corner[k]);
            patch.reach =
                fmax(patch.reach, hypot(patch.corner[k][0] - patch.x, patch.corner[k][1] - patch.y));
        }
        if (i >= 18)
            colour(patch.reflectance, greys[i - 18], greys[i - 18], greys[i - 18]);
        else
            colour(patch.reflectance, between(d, 0.04, 0.6), between(d, 0.04, 0.5), between(d, 0.04, 0.5));
        d->thing[d->things++] = patch;
    }
}

static void pixel(const struct drawing *d, double x, double y, double rgb[3])
{
    double c = d->grain_way[0], s = d->grain_way[1];
    double u = (c * x + s * y) / d->width, v = (-s * x + c * y) / d->width / d->grain_way[2];
    double texture = table_texture(d, u, v), shadow = 1.0;
    for (int k = 0; k < 3; k++)
        rgb[k] = d->table_rgb[k] * texture;
    for (int i = 0; i < d->things; i++) {
        const struct thing *thing = &d->thing[i];
        double dx0 = x - thing->x, dy0 = y - thing->y, far = thing->reach + 14.0; // neither it nor its shadow
        if (dx0 * dx0 + dy0 * dy0 > far * far)
            continue;
        if (thing->casts) // a thin soft shadow on one side
            shadow = 1.0 - thing->shadow[0] * cover(depth(thing, x - 1.5, y - 2.5), thing->shadow[1]);
        double a = cover(depth(thing, x, y), d->soft_px), uv[2];
        if (thing->casts)
            for (int k = 0; k < 3; k++)
                rgb[k] *= shadow;
        if (a <= 0.0)
            continue;
        apply(thing->uv_from_px, x, y, uv);
        double light = exp2(thing->slope_ev[0] * uv[0] + thing->slope_ev[1] * uv[1]);
        if (thing->surface == SURFACE_CLOTH)
            light *= cloth_texture(uv, thing->reach);
        for (int k = 0; k < 3; k++)
            rgb[k] += a * (light * thing->reflectance[k] - rgb[k]);
    }
    double light =
        d->gain * exp2(d->slope_ev[0] * (x / d->width - 0.5) + d->slope_ev[1] * (y / d->width - 0.3));
    for (int k = 0; k < 3; k++)
        rgb[k] *= light * d->neutral[k];
    for (int i = 0; i < 3; i++) {
        double dx = x - d->shine[i][0], dy = y - d->shine[i][1];
        double r2 = (dx * dx + dy * dy) / (d->shine[i][2] * d->shine[i][2]);
        for (int k = 0; k < 3 && r2 < 16.0; k++)
            rgb[k] += d->shine[i][3] * exp(-r2);
    }
}

// Two standard normal numbers: Marsaglia's polar method.
static void normal_pair(struct drawing *d, double pair[2])
{
    double square;
    do {
        for (int i = 0; i < 2; i++)
            pair[i] = between(d, -1.0, 1.0);
        square = pair[0] * pair[0] + pair[1] * pair[1];
    } while (square >= 1.0 || square == 0.0);
    double scale = sqrt(-2.0 * log(square) / square);
    pair[0] *= scale;
    pair[1] *= scale;
}

static void add_noise(struct drawing *d, struct pc_picture *picture)
{
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px * 3;
    double pair[2];
    for (size_t i = 0; i < n; i++) {
        if (i % 2 == 0)
            normal_pair(d, pair);
        double value = (double)picture->px[i];
        value += pair[i % 2] * sqrt(picture->noise.offset_var[0] + picture->noise.per_signal_var[0] * value);
        if (value >= 1.0) {
            value = 1.0;
            picture->clipped[i / 3] |= (uint8_t)(1U << (i % 3));
        }
        picture->px[i] = (float)value;
    }
}

static void tell_truth(const struct drawing *d, struct scene *scene)
{
    for (int i = 0; i < scene->card_count; i++) {
        const struct thing *thing = &d->thing[i];
        struct scene_card *card = &scene->card[i];
        double rgb[3];
        pixel(d, thing->x, thing->y, rgb);
        memcpy(card->level, rgb, sizeof rgb);
        card->x_px = thing->x * scene->picture.bin;
        card->y_px = thing->y * scene->picture.bin;
        for (int k = 0; k < 4; k++)
            for (int c = 0; c < 2; c++)
                card->corner_px[k][c] = thing->corner[k][c] * scene->picture.bin;
        for (int k = 0; k < 2; k++)
            card->across_px = fmax(card->across_px, hypot(card->corner_px[k + 1][0] - card->corner_px[k][0],
                                                          card->corner_px[k + 1][1] - card->corner_px[k][1]));
    }
}

void scene_draw(struct pc_ctx *ctx, uint64_t seed, int width_px, int card_count, struct scene *scene)
{
    memset(scene, 0, sizeof *scene);
    struct drawing d = {.random = seed * 1000003U + 17U, .width = width_px, .height = width_px * 2 / 3};
    struct pc_picture *picture = &scene->picture;
    size_t n = (size_t)d.width * (size_t)d.height;
    PC_ASSERT(pc_buffer_init(ctx, &picture->pixels, n, 3, sizeof(float), NULL) == PC_OK);
    PC_ASSERT(pc_buffer_init(ctx, &picture->mask, n, 1, 1, NULL) == PC_OK);
    picture->px = picture->pixels.data;
    picture->clipped = picture->mask.data;
    picture->width_px = d.width;
    picture->height_px = d.height;
    picture->channels = 3;
    picture->bin = 2;
    picture->full_width_px = 2 * d.width;
    picture->full_height_px = 2 * d.height;

    d.tilt_rad = pc_rad_from_deg(between(&d, 0.0, 50.0));
    d.roll_rad = between(&d, -0.2, 0.2);
    d.soft_px = between(&d, 1.0, 2.5);
    d.gain = between(&d, 0.45, 1.0);
    d.slope_ev[0] = between(&d, -0.7, 0.7);
    d.slope_ev[1] = between(&d, -0.7, 0.7);
    colour(d.neutral, between(&d, 0.4, 0.8), 1.0, between(&d, 0.4, 0.8));
    for (int c = 0; c < 3; c++) // said to within a cast, as under one of several lights
        scene->neutral_ratio[c] = c == 1 ? 1.0 : d.neutral[c] * exp2(between(&d, -0.15, 0.15));
    choose_table(&d);
    colour(d.grain_way, cos(0.4 + d.roll_rad), sin(0.4 + d.roll_rad), cos(d.tilt_rad));
    add_cards(&d, scene, card_count);
    if (next_random(&d.random) % 2 == 0)
        add_chart(&d);
    add_plates_and_napkins(&d);
    for (int i = 0; i < 3; i++) {
        double at[2] = {-1e6, -1e6}, radius = between(&d, 0.003, 0.02) * d.width;
        if (!find_place(&d, 4.0 * radius, false, at))
            at[0] = -1e6;
        const double shine[4] = {at[0], at[1], radius, between(&d, 0.5, 3.0)};
        memcpy(d.shine[i], shine, sizeof shine);
    }
    // SNR at the middle grey 20 to 100.
    double snr = exp(between(&d, log(20.0), log(100.0))), grey = 0.18 * d.gain;
    for (int c = 0; c < 3; c++) {
        picture->noise.per_signal_var[c] = grey / (snr * snr);
        picture->noise.offset_var[c] = 0.05 * grey * grey / (snr * snr);
    }
    for (int y = 0; y < d.height; y++)
        for (int x = 0; x < d.width; x++) {
            double rgb[3];
            pixel(&d, x + 0.5, y + 0.5, rgb);
            for (int c = 0; c < 3; c++)
                picture->px[((size_t)y * (size_t)d.width + (size_t)x) * 3 + (size_t)c] = (float)rgb[c];
        }
    tell_truth(&d, scene);
    add_noise(&d, picture);
    static const char *const tables[TABLES] = {"wood", "plaster", "linen", "board"};
    snprintf(scene->what, sizeof scene->what, "%s, %d wide, tilt %.0f, SNR %.0f", tables[d.table], d.width,
             pc_deg_from_rad(d.tilt_rad), snr);
}

void scene_finish(struct scene *scene)
{
    pc_buffer_finish(&scene->picture.mask);
    pc_buffer_finish(&scene->picture.pixels);
}
