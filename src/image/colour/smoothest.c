// SPDX-License-Identifier: Apache-2.0
// The smoothest reflectance of a colour: least sum of squared differences between bands, under three
// equations (its XYZ) and two bounds a band (0 and 1). Bands that go beyond a bound are held at it, and let
// go again when the slope there pulls inwards (active set; Nocedal and Wright, Numerical Optimization, 2nd
// ed., 16.5).
#include "image/colour/spectrum.h"

#include "base/linalg.h"
#include "image/colour/colour.h"
#include "image/colour/spectrum_priv.h"

enum { N = PC_SPECTRUM_BANDS, SIZE = PC_SPECTRUM_BANDS + 3, MOST_ROUNDS = 200 };

static const double WHITE_K = 6504.0;
static const double BEYOND = 1e-9; // a reflectance this far past a bound is at it, by rounding
static const double PULL = 1e-9;   // likewise of a slope

struct problem {
    double equation[3][N], target[3]; // scaled so that a row's entries are near 1
    int held[N];                      // -1 at 0, 1 at 1, 0 free
};

static bool problem_make(const double lab[3], struct problem *problem)
{
    struct pc_spectrum light;
    double white[3], xyz[3], sum = 0;
    if (!pc_spectrum_daylight(WHITE_K, &light) || !pc_spectrum_xyz(&light, NULL, white))
        return false;
    pc_colour_xyz_from_lab(lab, white, xyz);
    for (int i = 0; i < N; i++)
        sum += light.value[i] * pc_spectrum_cmf[1][i];
    for (int c = 0; c < 3; c++) {
        for (int i = 0; i < N; i++)
            problem->equation[c][i] = N * light.value[i] * pc_spectrum_cmf[c][i] / sum;
        problem->target[c] = N * xyz[c];
    }
    memset(problem->held, 0, sizeof problem->held);
    return true;
}

// Half the slope of the sum of squares at band i, in row.
static void slope_row(int i, double row[SIZE])
{
    if (i > 0) {
        row[i] += 1.0;
        row[i - 1] -= 1.0;
    }
    if (i < N - 1) {
        row[i] += 1.0;
        row[i + 1] -= 1.0;
    }
}

// The minimum with some bands held: x holds the bands and the three multipliers. pull: what each band's slope
// would change by, were it moved.
static bool solve(const struct problem *problem, double x[SIZE], double pull[N])
{
    static const double at_bound[3] = {0.0, 0.0, 1.0};
    double(*matrix)[SIZE] = calloc(SIZE, sizeof *matrix);
    double right[SIZE] = {0};
    PC_ASSERT(matrix != NULL);
    for (int i = 0; i < N; i++) {
        if (problem->held[i] != 0) {
            matrix[i][i] = 1.0;
            right[i] = at_bound[problem->held[i] + 1];
            continue;
        }
        slope_row(i, matrix[i]);
        for (int c = 0; c < 3; c++)
            matrix[i][N + c] = problem->equation[c][i];
    }
    for (int c = 0; c < 3; c++) {
        memcpy(matrix[N + c], problem->equation[c], sizeof problem->equation[c]);
        right[N + c] = problem->target[c];
    }
    bool good = pc_linalg_least_squares(SIZE, SIZE, &matrix[0][0], right, x);
    free(matrix);
    for (int i = 0; good && i < N; i++) {
        double row[SIZE] = {0};
        slope_row(i, row);
        pull[i] = 0;
        for (int k = 0; k < N; k++)
            pull[i] += row[k] * x[k];
        for (int c = 0; c < 3; c++)
            pull[i] += problem->equation[c][i] * x[N + c];
    }
    return good;
}

// Holds the bands that went beyond; when none did, lets the one go that pulls hardest inwards. False when
// neither is called for: done.
static bool change_held(struct problem *problem, const double x[SIZE], const double pull[N])
{
    bool changed = false;
    for (int i = 0; i < N; i++)
        if (problem->held[i] == 0 && (x[i] < -BEYOND || x[i] > 1.0 + BEYOND)) {
            problem->held[i] = x[i] < 0 ? -1 : 1;
            changed = true;
        }
    if (changed)
        return true;
    int hardest = -1;
    double most = PULL;
    for (int i = 0; i < N; i++) {
        double inwards = problem->held[i] * pull[i];
        if (problem->held[i] != 0 && inwards > most) {
            most = inwards;
            hardest = i;
        }
    }
    if (hardest >= 0)
        problem->held[hardest] = 0;
    return hardest >= 0;
}

bool pc_spectrum_smoothest(const double lab[3], struct pc_spectrum *reflectance)
{
    struct problem problem;
    double x[SIZE], pull[N];
    if (!problem_make(lab, &problem))
        return false;
    for (int round = 0; round < MOST_ROUNDS; round++) {
        if (!solve(&problem, x, pull))
            return false;
        if (change_held(&problem, x, pull))
            continue;
        for (int i = 0; i < N; i++)
            reflectance->value[i] = fmin(fmax(x[i], 0.0), 1.0);
        return true;
    }
    return false;
}
