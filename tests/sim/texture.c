// SPDX-License-Identifier: Apache-2.0
// What surfaces look like close up: random fields with detail from a hand's breadth down to a pixel.
#include "sim_priv.h"

static double lattice(uint64_t seed, int64_t x, int64_t y)
{
    uint64_t h = seed ^ ((uint64_t)x * 0x9e3779b97f4a7c15u) ^ ((uint64_t)y * 0xc2b2ae3d27d4eb4fu);
    h = (h ^ (h >> 29)) * 0xbf58476d1ce4e5b9u;
    h ^= h >> 32;
    return (double)(h & 0xffffff) / 8388607.5 - 1.0;
}

// Smooth noise, -1..1, about one bump a unit.
static double bumps(uint64_t seed, double x, double y)
{
    // Down to whole numbers without floor(), which is a call on plain x86-64.
    int64_t ix = (int64_t)x, iy = (int64_t)y;
    ix -= x < (double)ix;
    iy -= y < (double)iy;
    double u = x - (double)ix, v = y - (double)iy;
    u = u * u * (3 - 2 * u);
    v = v * v * (3 - 2 * v);
    double top = lattice(seed, ix, iy) * (1 - u) + lattice(seed, ix + 1, iy) * u;
    double low = lattice(seed, ix, iy + 1) * (1 - u) + lattice(seed, ix + 1, iy + 1) * u;
    return top * (1 - v) + low * v;
}

// Octaves from coarse_m down to what a pixel can hold, each `fade` of the one before.
static double field(uint64_t seed, double x_m, double y_m, double coarse_m, double footprint_m, double fade)
{
    double sum = 0, height = 1, whole = 0;
    for (double size = coarse_m; size > 2.2 * footprint_m && size > 2e-4; size *= 0.5) {
        sum += height * bumps(seed++, x_m / size, y_m / size);
        whole += height;
        height *= fade;
    }
    return whole > 0 ? sum / whole : 0;
}

static double step(double edge, double width, double x)
{
    return sim_clamp(0.5 + (x - edge) / width, 0, 1);
}

static double board(const struct sim_setup *setup, double pixel_m, double u, double v)
{
    uint64_t seed = sim_hash(setup->seed, 11, 0);
    switch (setup->table.board) {
    case SIM_BOARD_WOOD: {
        double plank = floor((v + 0.31) / 0.13), in = v + 0.31 - plank * 0.13;
        seed += 977 * (uint64_t)(int64_t)plank;
        double rings = sin(2 * SIM_PI * (v / 0.012 + 2.2 * bumps(seed + 50, u / 0.35, v / 0.03)));
        double grain = field(seed, u * 0.12, v, 0.03, pixel_m, 0.85),
               pores = field(seed + 70, u * 0.5, v, 0.012, pixel_m, 0.9);
        double seam = (1 - step(0.0015, 2 * pixel_m, in)) + step(0.1285, 2 * pixel_m, in);
        return 0.5 + 0.14 * rings + 0.75 * grain + 0.75 * pores + 0.8 * seam;
    }
    case SIM_BOARD_PLASTER:
        return 0.5 + 0.3 * tanh(4.0 * field(seed, u, v, 0.12, pixel_m, 0.8)) +
               0.5 * field(seed + 40, u, v, 0.008, pixel_m, 0.9);
    case SIM_BOARD_LINEN:
    default: {
        double pitch = fmax(0.0016, 3.4 * pixel_m);
        double slub =
            field(seed, u * 0.1, v, 0.01, pixel_m, 0.9) + field(seed + 9, u, v * 0.1, 0.01, pixel_m, 0.9);
        double weave = sin(2 * SIM_PI * u / pitch) * sin(2 * SIM_PI * v / pitch);
        return 0.5 + 0.2 * weave + 0.8 * slub + 0.5 * field(seed + 20, u, v, 0.2, pixel_m, 0.8);
    }
    }
}

static double napkin(const struct sim_setup *setup, double pixel_m, double u, double v)
{
    uint64_t seed = sim_hash(setup->seed, 12, 0);
    double phase = v / 0.024 - floor(v / 0.024), edge = pixel_m / 0.024;
    double stripe = step(0.3, edge, phase) * (1 - step(0.55, edge, phase));
    double thread =
        field(seed, u * 0.15, v, 0.006, pixel_m, 0.9) + field(seed + 9, u, v * 0.15, 0.006, pixel_m, 0.9);
    double crease = 0.15 * bumps(seed + 30, u / 0.05, v / 0.05);
    return 0.15 + 0.7 * stripe + 0.3 * thread + crease;
}

static void chart(const struct sim_flat *flat, double u, double v, struct sim_hit *hit)
{
    double x = (u / flat->width_m + 0.5) * 6.0, y = (0.5 - v / flat->deep_m) * 4.0;
    int i = (int)sim_clamp(floor(x), 0, 5), j = (int)sim_clamp(floor(y), 0, 3);
    bool inside = fabs(x - i - 0.5) < 0.42 && fabs(y - j - 0.5) < 0.42;
    hit->a = hit->b = (uint8_t)(inside ? SIM_M_PATCH + 6 * j + i : SIM_M_FRAME);
}

void sim_texture(const struct sim_setup *setup, double pixel_m, struct sim_hit *hit, double u, double v)
{
    const struct sim_table *t = &setup->table;
    uint64_t seed = sim_hash(setup->seed, 13, (uint64_t)hit->thing);
    double mix = 0;
    switch (hit->thing) {
    case SIM_T_BOARD:
        hit->a = SIM_M_BOARD_A;
        hit->b = SIM_M_BOARD_B;
        mix = board(setup, pixel_m, u, v);
        break;
    case SIM_T_CARD:
    case SIM_T_HERO_CARD:
    case SIM_T_SURFACE_CARD:
        hit->a = hit->b = SIM_M_CARD;
        break;
    case SIM_T_CHART:
        chart(&t->chart, u, v, hit);
        break;
    case SIM_T_NAPKIN:
        hit->a = SIM_M_NAPKIN_A;
        hit->b = SIM_M_NAPKIN_B;
        mix = napkin(setup, pixel_m, u, v);
        break;
    case SIM_T_PLATE:
    case SIM_T_SIDE: {
        double r = hypot(u, v) / t->plate_radius_m;
        hit->a = SIM_M_PLATE_A;
        hit->b = SIM_M_PLATE_B;
        mix = 0.25 + 0.4 * field(seed, u, v, 0.02, pixel_m, 0.8) +
              0.5 * step(0.78, 0.03, r) * (1 - step(0.83, 0.03, r));
        break;
    }
    case SIM_T_LIQUID:
        hit->a = hit->n.z > 0.5 ? SIM_M_LIQUID : SIM_M_PLATE_B;
        hit->b = SIM_M_PLATE_B;
        mix = hit->n.z > 0.5 ? 0.25 + 0.25 * field(seed, u, v, 0.03, pixel_m, 0.7) : 0;
        break;
    case SIM_T_DOME:
        hit->a = SIM_M_HERO_A;
        hit->b = SIM_M_HERO_B;
        mix = 0.35 + 0.9 * field(seed, u, v, 0.025, pixel_m, 0.8);
        break;
    case SIM_T_BALL:
        hit->a = SIM_M_BALL_A;
        hit->b = SIM_M_BALL_B;
        mix = 0.4 + 0.9 * field(seed, u, v, 0.012, pixel_m, 0.8);
        break;
    case SIM_T_TOP:
    case SIM_T_NONE:
        hit->a = SIM_M_TOP;
        hit->b = SIM_M_FRAME;
        mix = 0.2 + 0.3 * field(seed, u, v, 0.05, pixel_m, 0.8);
        break;
    }
    hit->mix = (float)sim_clamp(mix, 0, 1);
}
