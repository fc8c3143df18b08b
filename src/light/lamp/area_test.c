// SPDX-License-Identifier: Apache-2.0
// Area sources against values that were computed twice elsewhere (closed form and quadrature), and here
// against plain sums over the source, which share nothing with the formulas.
#include "light/lamp/area.h"

#include "base/units.h"
#include "tests/monte_carlo.h"

static void near(const char *what, double got, double want, double within)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.12g, want %.12g within %g", what, got, want, within);
}

static const struct pc_receiver TABLE = {{0, 0, 0}, {0, 0, 1}};
static const double DOWN[3] = {0, 0, -1};

static struct pc_polygon four(const double corner_m[4][3])
{
    struct pc_polygon p = {.corners = 4};
    memcpy(p.corner_m, corner_m, sizeof(double) * 12);
    return p;
}

// Per cd/m2; both computed twice elsewhere.
static void rectangles(void **state)
{
    (void)state;
    static const double parallel[][4] = {{1, 1, 1, 0.435209876},
                                         {.3, .15, 1, 0.041893261},
                                         {2, .5, .7, 0.447813244},
                                         {.6, .6, .5, 0.503231878}};
    static const double upright[][4] = {
        {1, 1, 1, 0.175094144}, {1.2, .8, 2, 0.048585647}, {.5, 2, .3, 0.379846370}};
    for (size_t i = 0; i < PC_COUNT(parallel); i++) {
        const double *p = parallel[i];
        near("parallel", pc_rectangle_parallel_lx(p[0], p[1], p[2]), p[3], 1e-9);
        struct pc_polygon polygon =
            four((const double[4][3]){{0, 0, p[2]}, {0, p[1], p[2]}, {p[0], p[1], p[2]}, {p[0], 0, p[2]}});
        near("as a polygon", pc_polygon_lx(&polygon, &TABLE), p[3], 1e-9);
    }
    for (size_t i = 0; i < PC_COUNT(upright); i++) {
        const double *p = upright[i];
        near("upright", pc_rectangle_upright_lx(p[0], p[1], p[2]), p[3], 1e-9);
        // Standing on the table at x = d, shining back.
        struct pc_polygon polygon =
            four((const double[4][3]){{p[2], 0, 0}, {p[2], 0, p[0]}, {p[2], p[1], p[0]}, {p[2], p[1], 0}});
        near("as a polygon", pc_polygon_lx(&polygon, &TABLE), p[3], 1e-9);
    }
}

static void polygons(void **state)
{
    (void)state;
    struct pc_polygon square = pc_polygon_rectangle((const double[]){0, 0, 1}, DOWN, .6, .6);
    near("over the middle", pc_polygon_lx(&square, &TABLE), 0.321610461, 1e-9);
    struct pc_polygon triangle = {.corners = 3, .corner_m = {{0, 0, 1}, {0, 1, 1}, {1, 0, 1}}};
    near("triangle", pc_polygon_lx(&triangle, &TABLE), 0.302299894, 1e-9);
    struct pc_polygon panel =
        pc_polygon_rectangle((const double[]){0, -1, 1}, (const double[]){0, 1, -1}, .6, .3);
    near("leaning panel", pc_polygon_lx(&panel, &TABLE), 0.061352163, 1e-9);
    const struct pc_receiver behind = {{0, -2, 2}, {0, 0.6, -0.8}};
    near("behind it", pc_polygon_lx(&panel, &behind), 0, 0);
    const struct pc_receiver away = {{0, 0, 0}, {0, 0, -1}};
    near("facing away", pc_polygon_lx(&panel, &away), 0, 0);
    // As a point at its middle, facing the table at 45 degrees: area cos cos / d^2.
    near("as a point", .6 * .3 * sqrt(.5) / 2, 0.063639610, 1e-9);
    // 5000 lm to one side as Lambert has it, I = flux / pi, from a small panel 2 m off: 397.89 lx (derived).
    struct pc_polygon small = pc_polygon_rectangle((const double[]){0, 0, 2}, DOWN, .01, .01);
    near("flux", 5000 / (PC_PI * 1e-4) * pc_polygon_lx(&small, &TABLE), 397.89, 0.02);
    // A strip of 1 to 20, distance over its length.
    static const double strip[][2] = {{1, 15.83}, {2, 4.118}, {3, 1.845}, {5, 0.667}, {10, 0.167}};
    for (size_t i = 0; i < PC_COUNT(strip); i++) {
        struct pc_polygon p = pc_polygon_rectangle((const double[]){0, 0, strip[i][0]}, DOWN, 1, .05);
        near("too bright", 100 * (.05 / (strip[i][0] * strip[i][0]) / pc_polygon_lx(&p, &TABLE) - 1),
             strip[i][1], 0.006);
    }
    // How much too bright a point at the middle would have it, in per cent, distance over side 1, 2, 3,
    // 5, 10.
    static const double over[][2] = {{1, 32.93}, {2, 8.302}, {3, 3.697}, {5, 1.332}, {10, 0.333}};
    for (size_t i = 0; i < PC_COUNT(over); i++) {
        struct pc_polygon p = pc_polygon_rectangle((const double[]){0, 0, over[i][0]}, DOWN, 1, 1);
        near("too bright", 100 * (1 / (over[i][0] * over[i][0]) / pc_polygon_lx(&p, &TABLE) - 1), over[i][1],
             0.006);
    }
}

static double dot3(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// A sum over small pieces of a source, each a point with Lambert's two cosines.
static double piece_lx(const double from_m[3], const double shines[3], double area_m2,
                       const struct pc_receiver *receiver)
{
    double to[3] = {from_m[0] - receiver->at_m[0], from_m[1] - receiver->at_m[1],
                    from_m[2] - receiver->at_m[2]};
    double d2 = dot3(to, to), in = dot3(to, receiver->facing), out = -dot3(to, shines);
    return in > 0 && out > 0 ? area_m2 * in * out / (d2 * d2) : 0;
}

static void random_direction(uint64_t *seed, double out[3])
{
    double z = 2 * mc_uniform(seed) - 1, a = 2 * PC_PI * mc_uniform(seed), s = sqrt(1 - z * z);
    out[0] = s * cos(a);
    out[1] = s * sin(a);
    out[2] = z;
}

static void any_polygon_is_its_sum(void **state)
{
    (void)state;
    enum { N = 400 };
    uint64_t seed = 11;
    int lit = 0;
    for (int n = 0; n < 30; n++) {
        double facing[3], middle[3], width = 0.2 + mc_uniform(&seed), height = 0.2 + mc_uniform(&seed),
                                     sum = 0;
        struct pc_receiver receiver = {{0, 0, 0}, {0, 0, 1}};
        random_direction(&seed, middle);
        random_direction(&seed, facing);
        random_direction(&seed, receiver.facing);
        for (int c = 0; c < 3; c++)
            middle[c] *= 1.3;
        struct pc_polygon p = pc_polygon_rectangle(middle, facing, width, height);
        for (int i = 0; i < N; i++)
            for (int j = 0; j < N; j++) {
                double at[3];
                for (int c = 0; c < 3; c++)
                    at[c] = p.corner_m[0][c] + (i + 0.5) / N * (p.corner_m[1][c] - p.corner_m[0][c]) +
                            (j + 0.5) / N * (p.corner_m[3][c] - p.corner_m[0][c]);
                sum += piece_lx(at, facing, width * height / N / N, &receiver);
            }
        lit += sum > 0;
        near("rectangle", pc_polygon_lx(&p, &receiver), sum, 2e-4 * fmax(sum, 0.05));
    }
    assert_true(lit > 8); // some of them cut by the horizon
}

static void discs(void **state)
{
    (void)state;
    near("on the axis", pc_disc_lx((const double[]){0, 0, 1}, DOWN, .25, &TABLE), 0.184799568, 1e-9);
    near("beside", pc_disc_lx((const double[]){.5, 0, 1}, DOWN, .25, &TABLE), 0.123094865, 1e-9);
    near("further", pc_disc_lx((const double[]){0, 1, 1}, DOWN, .5, &TABLE), 0.206963188, 1e-9);
    static const double over[][2] = {{1, 25.0}, {2, 6.25}, {3, 2.778}, {5, 1.000}, {10, 0.25}};
    for (size_t i = 0; i < PC_COUNT(over); i++)
        near("too bright",
             100 * (PC_PI / 4 / (over[i][0] * over[i][0]) /
                        pc_disc_lx((const double[]){0, 0, over[i][0]}, DOWN, .5, &TABLE) -
                    1),
             over[i][1], 0.0006);
    enum { N = 500 };
    uint64_t seed = 12;
    int lit = 0, cut = 0;
    for (int n = 0; n < 60; n++) {
        double facing[3], middle[3], u[3], v[3], radius = 0.1 + 0.6 * mc_uniform(&seed), sum = 0, all = 0;
        struct pc_receiver receiver = {{0.2, -0.1, 0.3}, {0, 0, 1}};
        random_direction(&seed, facing);
        random_direction(&seed, receiver.facing);
        random_direction(&seed, middle);
        random_direction(&seed, u);
        double k = dot3(u, facing);
        for (int c = 0; c < 3; c++) {
            u[c] -= k * facing[c];
            middle[c] = receiver.at_m[c] + 1.2 * middle[c];
        }
        double length = sqrt(dot3(u, u));
        for (int c = 0; c < 3; c++)
            u[c] /= length;
        v[0] = facing[1] * u[2] - facing[2] * u[1];
        v[1] = facing[2] * u[0] - facing[0] * u[2];
        v[2] = facing[0] * u[1] - facing[1] * u[0];
        for (int i = 0; i < N; i++)
            for (int j = 0; j < N; j++) {
                double r = radius * sqrt((i + 0.5) / N), a = 2 * PC_PI * (j + 0.5) / N, at[3], to = 0;
                for (int c = 0; c < 3; c++) {
                    at[c] = middle[c] + r * cos(a) * u[c] + r * sin(a) * v[c];
                    to += (at[c] - receiver.at_m[c]) * receiver.facing[c];
                }
                double lx = piece_lx(at, facing, PC_PI * radius * radius / N / N, &receiver);
                sum += lx;
                all += to > 0 ? 1 : 0;
            }
        lit += sum > 0;
        cut += sum > 0 && all > 0 && all < N * N;
        near("disc", pc_disc_lx(middle, facing, radius, &receiver), sum, 2e-4 * fmax(sum, 0.05));
    }
    assert_true(lit > 10 && cut > 4);
}

static void barn_doors(void **state)
{
    (void)state;
    struct pc_polygon square = pc_polygon_rectangle((const double[]){0, 0, 1}, DOWN, .6, .6);
    // A blade at the edge x = 0.3, closed so far that from below it covers the half: its edge at half of the
    // depth, on the sight line to the middle.
    const struct pc_blade half = {{.3, 0, 1}, {{0, -1, .5}, {0, 1, .5}}};
    struct pc_polygon seen = pc_polygon_behind_blades(&square, &half, 1, TABLE.at_m);
    near("half hidden", pc_polygon_lx(&seen, &TABLE), 0.160805230, 1e-9);
    // Wide open it hides nothing from below, but all from outside it, and a part from between.
    const struct pc_blade open = {{.3, 0, 1}, {{.4, -1, .8}, {.4, 1, .8}}};
    seen = pc_polygon_behind_blades(&square, &open, 1, TABLE.at_m);
    near("open", pc_polygon_lx(&seen, &TABLE), 0.321610461, 1e-9);
    const double outside[3] = {1, 0, .9}, between[3] = {.7, 0, 0};
    seen = pc_polygon_behind_blades(&square, &open, 1, outside);
    assert_int_equal(seen.corners, 0);
    // From (0.7, 0) the line past the edge (0.4, 0.8) meets the panel's plane at x = 0.325: nothing hidden.
    seen = pc_polygon_behind_blades(&square, &open, 1, between);
    const struct pc_receiver there = {{.7, 0, 0}, {0, 0, 1}};
    near("between", pc_polygon_lx(&seen, &there), pc_polygon_lx(&square, &there), 1e-12);
    // From (1.2, 0): at x = 0.4 - 0.8 / 0.8 * 0.2 = 0.2, so that a strip of 0.1 is gone.
    const struct pc_receiver far = {{1.2, 0, 0}, {0, 0, 1}};
    seen = pc_polygon_behind_blades(&square, &open, 1, far.at_m);
    struct pc_polygon rest = pc_polygon_rectangle((const double[]){-.05, 0, 1}, DOWN, .5, .6);
    near("a strip gone", pc_polygon_lx(&seen, &far), pc_polygon_lx(&rest, &far), 1e-12);
    // Two blades leave a slit: 0.2 wide between edges at x = +-0.05 half way down.
    const struct pc_blade slit[2] = {{{.3, 0, 1}, {{.05, -1, .5}, {.05, 1, .5}}},
                                     {{-.3, 0, 1}, {{-.05, -1, .5}, {-.05, 1, .5}}}};
    seen = pc_polygon_behind_blades(&square, slit, 2, TABLE.at_m);
    struct pc_polygon narrow = pc_polygon_rectangle((const double[]){0, 0, 1}, DOWN, .2, .6);
    near("slit", pc_polygon_lx(&seen, &TABLE), pc_polygon_lx(&narrow, &TABLE), 1e-12);
}

static void scrims(void **state)
{
    (void)state;
    struct pc_polygon cloth = pc_polygon_rectangle((const double[]){0, 0, 1}, DOWN, 1, 1);
    // 10 klx on a square metre, half of it strewn, 1 m below the middle: E/L 0.752274688.
    near("lit evenly", pc_scrim_lit_lx(&cloth, .5, 10000, &TABLE), 1197.28, 0.01);
    near("E/L", pc_polygon_lx(&cloth, &TABLE), 0.752274688, 1e-9);
    // All straight through, or none: what the source gives alone, and what a sum over the cloth gives.
    struct pc_polygon panel = pc_polygon_rectangle((const double[]){.2, .1, 2}, DOWN, .3, .3);
    const struct pc_scrim_cloth clear = {1, 0}, silk = {.1, .4}, black = {0, 0};
    near("clear", pc_scrim_lx(&panel, &cloth, &clear, &TABLE), pc_polygon_lx(&panel, &TABLE), 1e-12);
    near("black", pc_scrim_lx(&panel, &cloth, &black, &TABLE), 0, 1e-12);
    enum { N = 120 };
    double sum = .1 * pc_polygon_lx(&panel, &TABLE);
    for (int i = 0; i < N; i++)
        for (int j = 0; j < N; j++) {
            const double at[3] = {-.5 + (i + .5) / N, -.5 + (j + .5) / N, 1};
            const struct pc_receiver back = {{at[0], at[1], at[2]}, {0, 0, 1}};
            double lit = 0;
            for (int k = 0; k < 9; k++) // the panel as nine points
                lit += piece_lx((const double[]){.2 + .1 * (k % 3 - 1), .1 + .1 * (k / 3 - 1), 2}, DOWN,
                                .3 * .3 / 9, &back);
            sum += .4 / PC_PI * lit * piece_lx(at, DOWN, 1.0 / N / N, &TABLE);
        }
    near("silk", pc_scrim_lx(&panel, &cloth, &silk, &TABLE), sum, 5e-3 * sum);
    // Cloth beside the panel's light: it passes by.
    struct pc_polygon aside = pc_polygon_rectangle((const double[]){3, 0, 1}, DOWN, .5, .5);
    near("aside", pc_scrim_lx(&panel, &aside, &black, &TABLE), pc_polygon_lx(&panel, &TABLE), 1e-12);
    // Stops of cloth one behind another add.
    near("a stop and a third", pc_ratio_from_ev(-4.0 / 3), 0.39685, 1e-5);
    static const double lost[][2] = {{.9, .152}, {.8, .322}, {.5, 1}, {.4, 1.322}, {.25, 2}};
    for (size_t i = 0; i < PC_COUNT(lost); i++)
        near("stops", -pc_ev_from_ratio(lost[i][0]), lost[i][1], 0.0005);
}

static void shadows(void **state)
{
    (void)state;
    // Source width across the edge, source to edge, source to plane.
    static const double rows[][4] = {{.05, .5, 1, .05}, {.3, .5, 1, .30}, {.3, .5, .7, .12}};
    for (size_t i = 0; i < PC_COUNT(rows); i++)
        near("penumbra", pc_penumbra_m(rows[i][0], rows[i][2], rows[i][2] - rows[i][1]), rows[i][3], 1e-12);
    near("on the table", pc_penumbra_m(.3, 1, 0), 0, 0);
    assert_true(isnan(pc_penumbra_m(.3, 1, 1)) && isnan(pc_penumbra_m(.3, 1, -.1)));
    double share[3], depth[3];
    pc_shadow_depths(3, (const double[]){3500, 3500, 750}, share, depth);
    near("45 %", 100 * share[0], 45, 0.5);
    near("45 %", 100 * share[1], 45, 0.5);
    near("stops", depth[1], log2(7750.0 / 4250), 1e-12);
    pc_shadow_depths(3, (const double[]){3500, 900, 750}, share, depth);
    near("68 %", 100 * share[0], 68, 0.5);
    near("17 %", 100 * share[1], 17, 0.5);
    pc_shadow_depths(1, (const double[]){100}, share, depth);
    assert_true(isinf(depth[0]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rectangles), cmocka_unit_test(polygons),   cmocka_unit_test(any_polygon_is_its_sum),
        cmocka_unit_test(discs),      cmocka_unit_test(barn_doors), cmocka_unit_test(scrims),
        cmocka_unit_test(shadows),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
