// SPDX-License-Identifier: Apache-2.0
#include "image/colour/colour.h"
#include "image/colour/locus_priv.h"

static const double LEAST_K = 1000.0, MOST_K = 100000.0;
static const double END_SLACK_RATIO = 1e-3; // an answer this little past an end is that end, by rounding
static const double MOST_DUV = 0.05;        // CIE 15: beyond it no correlated colour temperature

bool pc_colour_uv_from_xyz(const double xyz[3], double uv[2])
{
    double d = xyz[0] + 15.0 * xyz[1] + 3.0 * xyz[2];
    if (!(d > 0.0))
        return false;
    uv[0] = 4.0 * xyz[0] / d;
    uv[1] = 6.0 * xyz[1] / d;
    return true;
}

void pc_colour_xyz_from_xy(const double xy[2], double Y, double xyz[3])
{
    xyz[0] = Y * xy[0] / xy[1];
    xyz[1] = Y;
    xyz[2] = Y * (1.0 - xy[0] - xy[1]) / xy[1];
}

static int nearest_row(const double uv[2])
{
    int best = 0;
    double least = HUGE_VAL;
    for (int i = 0; i < PC_LOCUS_ROWS; i++) {
        double du = pc_locus_table[i].u - uv[0], dv = pc_locus_table[i].v - uv[1], d2 = du * du + dv * dv;
        if (d2 < least) {
            least = d2;
            best = i;
        }
    }
    return best;
}

// The locus about a row, as a parabola through it and its neighbours in steps of the table (1 % of
// temperature): at(s) = middle + s * slope + s^2 * bend, and s = -1, 0, 1 at the three.
struct arc {
    double middle[2], slope[2], bend[2];
};

static struct arc arc_about(const struct pc_locus_row *row)
{
    double before[2] = {row[-1].u, row[-1].v}, at[2] = {row[0].u, row[0].v}, after[2] = {row[1].u, row[1].v};
    struct arc arc;
    for (int i = 0; i < 2; i++) {
        arc.middle[i] = at[i];
        arc.slope[i] = 0.5 * (after[i] - before[i]);
        arc.bend[i] = 0.5 * (after[i] + before[i]) - at[i];
    }
    return arc;
}

// The step s where the line to uv is square to the arc (Newton), and the signed distance there, positive
// above the locus. False where uv lies beyond the arc's centre and no nearest point can be told.
static bool arc_foot(const struct arc *arc, const double uv[2], double *step, double *off)
{
    double s = 0.0, along[2] = {0}, to[2] = {0};
    for (int round = 0; round < 8; round++) {
        double square = 0.0, rate = 0.0;
        for (int i = 0; i < 2; i++) {
            along[i] = arc->slope[i] + 2.0 * s * arc->bend[i];
            to[i] = uv[i] - (arc->middle[i] + s * (arc->slope[i] + s * arc->bend[i]));
            square += to[i] * along[i];
            rate += along[i] * along[i] - 2.0 * to[i] * arc->bend[i];
        }
        if (!(rate > 0.0))
            return false;
        s += square / rate;
        if (!(fabs(s) <= 2.0))
            return false;
    }
    *step = s;
    *off = (to[0] * along[1] - to[1] * along[0]) / hypot(along[0], along[1]);
    return true;
}

bool pc_colour_cct_from_uv(const double uv[2], double *cct_K, double *duv)
{
    if (!isfinite(uv[0]) || !isfinite(uv[1]))
        return false;
    int m = nearest_row(uv);
    if (m == 0 || m == PC_LOCUS_ROWS - 1)
        return false;
    struct arc arc = arc_about(pc_locus_table + m);
    double step, off;
    if (!arc_foot(&arc, uv, &step, &off) || fabs(off) > MOST_DUV)
        return false;
    double T = pc_locus_table[m].T_K * pow(PC_LOCUS_STEP_RATIO, step);
    if (!(T >= LEAST_K * (1.0 - END_SLACK_RATIO) && T <= MOST_K * (1.0 + END_SLACK_RATIO)))
        return false;
    *cct_K = fmin(fmax(T, LEAST_K), MOST_K);
    *duv = off;
    return true;
}

void pc_colour_uv_from_cct(double cct_K, double duv, double uv[2])
{
    double xyz[3], per_K[3];
    pc_locus_xyz(pc_locus_cmf, cct_K, xyz, per_K);
    double d = xyz[0] + 15.0 * xyz[1] + 3.0 * xyz[2], d_per_K = per_K[0] + 15.0 * per_K[1] + 3.0 * per_K[2];
    double u = 4.0 * xyz[0] / d, v = 6.0 * xyz[1] / d;
    double u_per_K = (4.0 * per_K[0] - u * d_per_K) / d, v_per_K = (6.0 * per_K[1] - v * d_per_K) / d;
    double length = hypot(u_per_K, v_per_K);
    // Square to the locus, which runs towards smaller u as it gets hotter: its right-hand side is above it.
    uv[0] = u + duv * v_per_K / length;
    uv[1] = v - duv * u_per_K / length;
}
