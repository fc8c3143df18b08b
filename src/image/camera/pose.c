// SPDX-License-Identifier: Apache-2.0
// Gauss-Newton on the four lines' offsets and slopes, with the focal length, the sheet's two lengths and a
// common shift of its edges as further unknowns, each held by what is known of it. Eight numbers of lines and
// four of those meet six of pose and four: two are left over, and tell an A4 sheet from other rectangles.
#include "image/camera/pose.h"

#include "base/linalg.h"
#include "base/tolerance.h"
#include "base/units.h"

enum { UNKNOWNS = PC_POSE_UNKNOWNS, STEPS_MAX = 40 };
enum { TURN = 0, SHIFT = 3, FOCAL = 6, LONG = 7, SHORT = 8, HALO = 9 }; // places among the unknowns
enum { Y_DISTANCE, Y_HEIGHT, Y_SENSOR, Y_TILT, Y_ROLL, Y_SIDE, Y_FORE, Y_IMAGE, Y_TURN };

const double pc_pose_sheet_tolerance_mm = 0.5;
const double pc_pose_least_tilt_focal_rad = 20.0 * PC_PI / 180.0;
const double pc_pose_least_tilt_roll_rad = 10.0 * PC_PI / 180.0;
const double pc_pose_marked_focal_tolerance = 0.03;

static const double DIAGONAL_35mm_mm = 43.266615305567871; // of 24 x 36
static const double COVERS_sd = 1.959963984540054;         // a tolerance holds 19 times in 20
static const double FREE_FOCAL_sd = 3.0;                   // of its logarithm: as good as not known
static const double EASY_MISFIT_sd = 2.0;                  // beyond it tolerances grow with it
static const double SURE_MISFIT_sd = 2.4; // of a sheet that was looked for, 1 in 300 (chi-squared, 2 degrees)
static const double BENT_ratio = 2e-4;    // of a side: how far a good lens and a flat sheet may bend it
static const double MOST_MISFIT_sd = 12.0;                 // of one that somebody pointed at
static const double LEAST_AWAY_m = 0.2, MOST_AWAY_m = 3.2; // of a sheet that was looked for
static const double MOST_FREE_FOCAL_TOLERANCE = 0.06;

double pc_pose_px_per_mm_from_35mm(int width_px, int height_px, double focal_mm, double focal_35mm_mm)
{
    return hypot(width_px, height_px) * focal_35mm_mm / (DIAGONAL_35mm_mm * focal_mm);
}

// Rotation by a vector (Rodrigues' formula).
static void rotation_from(const double w[3], double r[3][3])
{
    double angle = sqrt(w[0] * w[0] + w[1] * w[1] + w[2] * w[2]);
    double a = angle > 1e-9 ? sin(angle) / angle : 1.0;
    double b = angle > 1e-5 ? (1.0 - cos(angle)) / (angle * angle) : 0.5;
    const double k[3][3] = {{0, -w[2], w[1]}, {w[2], 0, -w[0]}, {-w[1], w[0], 0}};
    double kk[3][3];
    pc_linalg_multiply3(k, k, kk);
    for (int i = 0; i < 3; i++)
        for (int j = 0; j < 3; j++)
            r[i][j] = (i == j) + a * k[i][j] + b * kk[i][j];
}

// The other way (its logarithm), for angles well under pi.
static void vector_from(const double r[3][3], double w[3])
{
    double c = fmin(1.0, fmax(-1.0, 0.5 * (r[0][0] + r[1][1] + r[2][2] - 1.0))), angle = acos(c);
    double s = angle > 1e-6 ? 0.5 * angle / sin(angle) : 0.5;
    w[0] = s * (r[2][1] - r[1][2]);
    w[1] = s * (r[0][2] - r[2][0]);
    w[2] = s * (r[1][0] - r[0][1]);
}

// Entrance pupil to image, pixels.
static double image_distance_px(const struct pc_pose_lens *lens, const double p[UNKNOWNS])
{
    double focal_mm = exp(p[FOCAL]), depth_mm = p[SHIFT + 2];
    double out = lens->close_up && depth_mm > 1.5 * focal_mm ? depth_mm / (depth_mm - focal_mm) : 1.0;
    return focal_mm * out * lens->px_per_mm;
}

// Corners as seen: the long side lies along the sheet's own x. False when one is behind the camera.
static bool project(const struct pc_pose_lens *lens, const double p[UNKNOWNS], double corner[4][2])
{
    static const double square[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    double r[3][3], v = image_distance_px(lens, p);
    rotation_from(p + TURN, r);
    for (int i = 0; i < 4; i++) {
        double at[3], x[3] = {square[i][0] * p[LONG], square[i][1] * p[SHORT], 0.0};
        pc_linalg_apply3(r, x, at);
        double z = at[2] + p[SHIFT + 2];
        if (!(z > 1.0))
            return false;
        corner[i][0] = 0.5 * lens->width_px + v * (at[0] + p[SHIFT]) / z;
        corner[i][1] = 0.5 * lens->height_px + v * (at[1] + p[SHIFT + 1]) / z;
    }
    return true;
}

// What the sides' offsets and slopes would be, against the lines that were seen.
static bool predict(const struct pc_pose_answer *a, const double p[UNKNOWNS], double off[8])
{
    double corner[4][2];
    if (!project(&a->lens, p, corner))
        return false;
    for (int i = 0; i < 4; i++) {
        const struct pc_sheet_side *side = &a->side[i];
        double d[2], s[2];
        for (int k = 0; k < 2; k++) {
            double dx = corner[(i + k) % 4][0] - side->x_px, dy = corner[(i + k) % 4][1] - side->y_px;
            d[k] = dx * side->nx + dy * side->ny;
            s[k] = dx * side->ny - dy * side->nx;
        }
        double slope = (d[1] - d[0]) / (s[1] - s[0]);
        off[2 * i] = d[0] - slope * s[0] - p[HALO];
        off[2 * i + 1] = slope;
    }
    return true;
}

static bool residuals(const struct pc_pose_answer *a, const double x[], const double p[UNKNOWNS],
                      double r[PC_POSE_INPUTS])
{
    if (!predict(a, p, r))
        return false;
    for (int i = 0; i < 4; i++)
        r[8 + i] = p[FOCAL + i];
    for (int i = 0; i < PC_POSE_INPUTS; i++)
        r[i] = (r[i] - x[i]) / a->sd[i];
    return true;
}

static double sum_of_squares(const double r[PC_POSE_INPUTS])
{
    double sum = 0.0;
    for (int i = 0; i < PC_POSE_INPUTS; i++)
        sum += r[i] * r[i];
    return sum;
}

// Turns are composed with the turn there is, so that no angle is special.
static void moved(const double p[UNKNOWNS], const double step[UNKNOWNS], double out[UNKNOWNS])
{
    double now[3][3], more[3][3], both[3][3];
    rotation_from(p + TURN, now);
    rotation_from(step + TURN, more);
    pc_linalg_multiply3(more, now, both);
    vector_from(both, out + TURN);
    for (int i = SHIFT; i < UNKNOWNS; i++)
        out[i] = p[i] + step[i];
}

static bool slopes(const struct pc_pose_answer *a, const double x[], const double p[UNKNOWNS],
                   double jacobian[PC_POSE_INPUTS * UNKNOWNS])
{
    static const double little[UNKNOWNS] = {1e-6, 1e-6, 1e-6, 1e-3, 1e-3, 1e-3, 1e-6, 1e-4, 1e-4, 1e-4};
    for (int j = 0; j < UNKNOWNS; j++) {
        double step[UNKNOWNS] = {0.0}, at[UNKNOWNS], up[PC_POSE_INPUTS], down[PC_POSE_INPUTS];
        step[j] = little[j];
        moved(p, step, at);
        if (!residuals(a, x, at, up))
            return false;
        step[j] = -little[j];
        moved(p, step, at);
        if (!residuals(a, x, at, down))
            return false;
        for (int i = 0; i < PC_POSE_INPUTS; i++)
            jacobian[i * UNKNOWNS + j] = (up[i] - down[i]) / (2.0 * little[j]);
    }
    return true;
}

// From p to the nearest least sum of squares (Levenberg-Marquardt: Marquardt, J. SIAM 11:431, 1963, with
// steps measured in what each unknown may change by).
static bool settle(const struct pc_pose_answer *a, const double x[], double p[UNKNOWNS], double *sum)
{
    static const double most[UNKNOWNS] = {0.5, 0.5, 0.5, 300, 300, 300, 0.5, 2.0, 2.0, 2.0};
    double r[PC_POSE_INPUTS], damping = 1e-4;
    if (!residuals(a, x, p, r))
        return false;
    *sum = sum_of_squares(r);
    for (int n = 0; n < STEPS_MAX && damping < 1e9; n++) {
        double jacobian[(PC_POSE_INPUTS + UNKNOWNS) * UNKNOWNS] = {0}, b[PC_POSE_INPUTS + UNKNOWNS] = {0};
        if (!slopes(a, x, p, jacobian))
            return false;
        for (int i = 0; i < PC_POSE_INPUTS; i++)
            b[i] = -r[i];
        bool better = false;
        double step[UNKNOWNS], at[UNKNOWNS], before = *sum;
        for (; !better && damping < 1e9; damping *= better ? 0.1 : 10.0) {
            for (int j = 0; j < UNKNOWNS; j++)
                jacobian[(PC_POSE_INPUTS + j) * UNKNOWNS + j] = sqrt(damping) / most[j];
            double next[PC_POSE_INPUTS];
            if (!pc_linalg_least_squares(PC_POSE_INPUTS + UNKNOWNS, UNKNOWNS, jacobian, b, step))
                continue;
            moved(p, step, at);
            if (!residuals(a, x, at, next) || !(sum_of_squares(next) <= *sum))
                continue;
            better = true;
            memcpy(p, at, sizeof at);
            memcpy(r, next, sizeof next);
            *sum = sum_of_squares(next);
        }
        if (!better || before - *sum < 1e-10 * (1e-6 + before))
            break;
    }
    return isfinite(*sum);
}

// A pose to begin with: the plane-to-picture mapping of the corners (Zhang, IEEE PAMI 22:1330, 2000, section
// 3.1), made a rotation.
static bool start_from_corners(const struct pc_pose_answer *a, double image_px, double p[UNKNOWNS])
{
    static const double square[4][2] = {{-0.5, -0.5}, {0.5, -0.5}, {0.5, 0.5}, {-0.5, 0.5}};
    double m[8 * 8] = {0}, b[8], h[8];
    for (int i = 0; i < 4; i++) {
        const double *c = a->corner_px[i];
        double X = square[i][0] * PC_A4_LONG_mm, Y = square[i][1] * PC_A4_SHORT_mm;
        double u = (c[0] - 0.5 * a->lens.width_px) / image_px,
               v = (c[1] - 0.5 * a->lens.height_px) / image_px;
        const double row[2][8] = {{X, Y, 1, 0, 0, 0, -u * X, -u * Y}, {0, 0, 0, X, Y, 1, -v * X, -v * Y}};
        memcpy(m + (ptrdiff_t)i * 16, row, sizeof row);
        b[2 * i] = u;
        b[2 * i + 1] = v;
    }
    for (int i = 0; i < 8; i++) // to numbers of about one, so that rank is told rightly
        for (int j = 0; j < 8; j++)
            m[i * 8 + j] /= j == 2 || j == 5 ? 1.0 : 100.0;
    if (!pc_linalg_least_squares(8, 8, m, b, h))
        return false;
    double r1[3] = {h[0] / 100, h[3] / 100, h[6] / 100}, r2[3] = {h[1] / 100, h[4] / 100, h[7] / 100};
    double n1 = sqrt(r1[0] * r1[0] + r1[1] * r1[1] + r1[2] * r1[2]);
    double n2 = sqrt(r2[0] * r2[0] + r2[1] * r2[1] + r2[2] * r2[2]), dot = 0.0;
    for (int i = 0; i < 3; i++) {
        r1[i] /= n1;
        r2[i] /= n2;
        dot += r1[i] * r2[i];
    }
    // The two orthogonal directions nearest to both, in their plane.
    double sum[3], difference[3], ns = sqrt(2.0 + 2.0 * dot), nd = sqrt(2.0 - 2.0 * dot);
    if (!(ns > 0.05) || !(nd > 0.05))
        return false;
    for (int i = 0; i < 3; i++) {
        sum[i] = (r1[i] + r2[i]) / ns;
        difference[i] = (r1[i] - r2[i]) / nd;
        r1[i] = (sum[i] + difference[i]) * M_SQRT1_2;
        r2[i] = (sum[i] - difference[i]) * M_SQRT1_2;
    }
    const double r[3][3] = {{r1[0], r2[0], r1[1] * r2[2] - r1[2] * r2[1]},
                            {r1[1], r2[1], r1[2] * r2[0] - r1[0] * r2[2]},
                            {r1[2], r2[2], r1[0] * r2[1] - r1[1] * r2[0]}};
    vector_from(r, p + TURN);
    double scale = 2.0 / (n1 + n2);
    p[SHIFT] = h[2] * scale;
    p[SHIFT + 1] = h[5] * scale;
    p[SHIFT + 2] = scale;
    return true;
}

// The other pose that a small sheet far away may have: its face turned to the other side of the line of sight
// (Schweighofer and Pinz, IEEE PAMI 28:2024, 2006).
static void turn_over(double p[UNKNOWNS])
{
    double r[3][3], n[3], v[3], length = 0.0, along = 0.0;
    rotation_from(p + TURN, r);
    for (int i = 0; i < 3; i++) {
        n[i] = r[i][2];
        v[i] = p[SHIFT + i];
        length += v[i] * v[i];
    }
    length = sqrt(length);
    for (int i = 0; i < 3; i++)
        along += n[i] * v[i] / length;
    // Half a turn about the line of sight takes the normal there; turning the sheet back by half keeps its
    // sides.
    double axis[3], m[3], sine = 0.0;
    for (int i = 0; i < 3; i++)
        m[i] = 2.0 * along * v[i] / length - n[i];
    axis[0] = n[1] * m[2] - n[2] * m[1];
    axis[1] = n[2] * m[0] - n[0] * m[2];
    axis[2] = n[0] * m[1] - n[1] * m[0];
    for (int i = 0; i < 3; i++)
        sine += axis[i] * axis[i];
    sine = sqrt(sine);
    double angle = atan2(sine, n[0] * m[0] + n[1] * m[1] + n[2] * m[2]);
    if (!(sine > 1e-6))
        return;
    double step[UNKNOWNS] = {0.0}, out[UNKNOWNS];
    for (int i = 0; i < 3; i++)
        step[i] = axis[i] * angle / sine;
    moved(p, step, out);
    memcpy(p, out, sizeof out);
}

static bool focal_known(const struct pc_pose_lens *lens)
{
    return isfinite(lens->focal_mm) && isfinite(lens->px_per_mm);
}

// Everything but the pose. first: the side taken for a long one.
static void fill_in(const struct pc_sheet *sheet, const struct pc_pose_lens *lens, int first,
                    struct pc_pose_answer *a)
{
    memset(a, 0, sizeof *a);
    a->lens = *lens;
    bool known = focal_known(lens);
    if (!known) {
        a->lens.px_per_mm = 1.0;
        a->lens.close_up = false;
    }
    for (int i = 0; i < 4; i++) {
        a->side[i] = sheet->side[(first + i) % 4];
        memcpy(a->corner_px[i], sheet->corner_px[(first + i) % 4], sizeof a->corner_px[i]);
        a->sd[2 * i] = a->side[i].offset_sd_px;
        a->sd[2 * i + 1] = a->side[i].slope_sd_ratio;
    }
    a->x[8] =
        known ? log(lens->focal_mm) : log(1.04 * hypot(lens->width_px, lens->height_px)); // 45 mm on 24 x 36
    a->x[9] = PC_A4_LONG_mm;
    a->x[10] = PC_A4_SHORT_mm;
    a->sd[8] = known ? fmax(lens->focal_tolerance_ratio / COVERS_sd, 1e-6) : FREE_FOCAL_sd;
    a->sd[9] = a->sd[10] = pc_pose_sheet_tolerance_mm / COVERS_sd;
    a->sd[11] = sheet->halo_sd_px;
    for (int i = 0; i < PC_POSE_INPUTS; i++)
        a->x_tolerance[i] = COVERS_sd * a->sd[i];
    if (!known)
        a->x_tolerance[8] = 0.0; // found from the lines, not from what it began with
    else if (!(lens->focal_tolerance_ratio > 0.0))
        a->x_tolerance[8] = 0.0;
}

bool pc_pose_answer_init(const struct pc_sheet *sheet, const struct pc_pose_lens *lens,
                         struct pc_pose_answer *answer)
{
    // Of the focal length begun with: 17 to 170 mm on 24 x 36, where none is known.
    static const double guesses[] = {1.0, 0.38, 0.65, 1.8, 3.8};
    size_t count = focal_known(lens) ? 1 : PC_COUNT(guesses);
    double least = INFINITY;
    for (int first = 0; first < 2; first++) {
        struct pc_pose_answer a;
        fill_in(sheet, lens, first, &a);
        for (size_t g = 0; g < 2 * count; g++) {
            double p[UNKNOWNS] = {0.0}, sum;
            p[FOCAL] = a.x[8] + log(guesses[g / 2]);
            p[LONG] = PC_A4_LONG_mm;
            p[SHORT] = PC_A4_SHORT_mm;
            if (!start_from_corners(&a, exp(p[FOCAL]) * a.lens.px_per_mm, p))
                continue;
            if (g % 2 == 1)
                turn_over(p);
            if (settle(&a, a.x, p, &sum) && sum < least) {
                least = sum;
                memcpy(a.at, p, sizeof p);
                a.sum_of_squares = sum;
                *answer = a;
            }
        }
    }
    if (!isfinite(least))
        return false;
    double y[PC_POSE_OUTPUTS];
    if (!pc_pose_answer(answer, answer->x, y))
        return false;
    answer->turn_about_rad = y[Y_TURN];
    return true;
}

static void up_of(const double p[UNKNOWNS], double up[3])
{
    double r[3][3];
    rotation_from(p + TURN, r);
    for (int i = 0; i < 3; i++)
        up[i] = -r[i][2]; // the sheet's own x and y go clockwise as seen, so its z goes down
}

// The sheet's long side against the camera's left-right line laid on the table.
static double turn_of(const double p[UNKNOWNS], const double up[3], double about_rad)
{
    double r[3][3], level[3], length = sqrt(fmax(1e-12, 1.0 - up[0] * up[0])), along = 0.0, across = 0.0;
    rotation_from(p + TURN, r);
    for (int i = 0; i < 3; i++) {
        level[i] = ((i == 0) - up[0] * up[i]) / length;
        along += level[i] * r[i][0];
        across += level[i] * r[i][1];
    }
    return about_rad + remainder(atan2(-across, along) - about_rad, PC_PI);
}

bool pc_pose_answer(const void *given, const double x[], double y[])
{
    const struct pc_pose_answer *a = given;
    double p[UNKNOWNS], sum, up[3];
    memcpy(p, a->at, sizeof p);
    if (!settle(a, x, p, &sum))
        return false;
    up_of(p, up);
    const double *t = p + SHIFT;
    bool known = focal_known(&a->lens) && a->sd[8] < FREE_FOCAL_sd;
    double image_px = image_distance_px(&a->lens, p);
    y[Y_DISTANCE] = 1e-3 * sqrt(t[0] * t[0] + t[1] * t[1] + t[2] * t[2]);
    y[Y_HEIGHT] = -1e-3 * (up[0] * t[0] + up[1] * t[1] + up[2] * t[2]);
    // Of a focal length in terms of 24 x 36 mm nobody knows how deep the camera is.
    y[Y_SENSOR] =
        known && a->lens.close_up ? y[Y_HEIGHT] - 1e-3 * image_px / a->lens.px_per_mm * up[2] : (double)NAN;
    y[Y_TILT] = atan2(hypot(up[0], up[1]), -up[2]);
    y[Y_ROLL] = y[Y_TILT] < 0.8 * pc_pose_least_tilt_roll_rad ? (double)NAN : atan2(up[0], -up[1]);
    y[Y_SIDE] = asin(up[0]);
    y[Y_FORE] = asin(up[1]);
    y[Y_IMAGE] = image_px;
    y[Y_TURN] = turn_of(p, up, a->turn_about_rad);
    return y[Y_HEIGHT] > 0.0;
}

static void put(const double y[], const double y_tolerance[], double misfit_sd, struct pc_pose *pose)
{
    const struct {
        double *value, *tolerance;
    } to[] = {
        [Y_DISTANCE] = {&pose->distance_m, &pose->distance_tolerance_m},
        [Y_HEIGHT] = {&pose->height_m, &pose->height_tolerance_m},
        [Y_SENSOR] = {&pose->sensor_m, &pose->sensor_tolerance_m},
        [Y_TILT] = {&pose->tilt_rad, &pose->tilt_tolerance_rad},
        [Y_ROLL] = {&pose->roll_rad, &pose->roll_tolerance_rad},
        [Y_SIDE] = {&pose->side_rad, &pose->side_tolerance_rad},
        [Y_FORE] = {&pose->fore_rad, &pose->fore_tolerance_rad},
        [Y_IMAGE] = {&pose->image_px, &pose->image_tolerance_px},
        [Y_TURN] = {&pose->turn_rad, &pose->turn_tolerance_rad},
    };
    // Sides that agree less than they should (a lens that bends lines, a wavy sheet) are trusted less: the
    // Birge ratio (Phys. Rev. 40:207, 1932).
    double wider = fmax(1.0, misfit_sd / EASY_MISFIT_sd);
    for (size_t i = 0; i < PC_COUNT(to); i++) {
        *to[i].value = y[i];
        *to[i].tolerance = wider * y_tolerance[i];
    }
}

// Distances scale with the focal length: without it there are none.
static void refuse_focal(struct pc_pose *pose)
{
    pose->focal = PC_POSE_FOCAL_REFUSED;
    pose->distance_m = pose->distance_tolerance_m = NAN;
    pose->height_m = pose->height_tolerance_m = NAN;
    pose->sensor_m = pose->sensor_tolerance_m = NAN;
    pose->image_px = pose->image_tolerance_px = NAN;
}

static bool focal_is_told(const double y[], const double y_tolerance[])
{
    return y[Y_TILT] >= pc_pose_least_tilt_focal_rad &&
           y_tolerance[Y_IMAGE] <= MOST_FREE_FOCAL_TOLERANCE * y[Y_IMAGE];
}

// The pose with any lens that may be on the camera: 22 to 90 mm on 24 x 36.
static bool any_lens(const struct pc_sheet *sheet, const struct pc_pose_lens *lens, struct pc_pose_answer *a)
{
    struct pc_pose_lens usual = *lens;
    usual.focal_mm = 1.04 * hypot(lens->width_px, lens->height_px);
    usual.focal_tolerance_ratio = 0.7;
    usual.px_per_mm = 1.0;
    usual.close_up = false;
    return pc_pose_answer_init(sheet, &usual, a);
}

static void put_rest(const struct pc_pose_answer *a, struct pc_pose *pose)
{
    up_of(a->at, pose->up);
    memcpy(pose->centre_mm, a->at + SHIFT, sizeof pose->centre_mm);
    double image_px = image_distance_px(&a->lens, a->at);
    double down = 0.5 * a->lens.height_px / image_px * pose->up[1] / pose->up[2];
    double right = 0.5 * a->lens.width_px / image_px * pose->up[0] / pose->up[2];
    pose->keystone_ratio = (1.0 + down) / (1.0 - down) - 1.0;
    pose->keystone_side_ratio = (1.0 + right) / (1.0 - right) - 1.0;
    if (pose->tilt_rad < pc_pose_least_tilt_roll_rad)
        pose->roll_rad = pose->roll_tolerance_rad = NAN;
}

bool pc_pose_from_sheet(const struct pc_sheet *sheet, const struct pc_pose_lens *lens, struct pc_pose *pose)
{
    bool known = focal_known(lens);
    struct pc_pose_answer a;
    double y[PC_POSE_OUTPUTS], y_tolerance[PC_POSE_OUTPUTS];
    if (!pc_pose_answer_init(sheet, lens, &a))
        return false;
    struct pc_pose found = {.focal = known ? PC_POSE_FOCAL_GIVEN : PC_POSE_FOCAL_FOUND,
                            .misfit_sd = sqrt(a.sum_of_squares / (known ? 2.0 : 1.0))};
    if (!(found.misfit_sd < MOST_MISFIT_sd) || !pc_tolerance(pc_pose_answer, &a, PC_POSE_INPUTS, a.x,
                                                             a.x_tolerance, PC_POSE_OUTPUTS, y, y_tolerance))
        return false;
    bool refused = !known && !focal_is_told(y, y_tolerance);
    if (refused &&
        (!any_lens(sheet, lens, &a) || !pc_tolerance(pc_pose_answer, &a, PC_POSE_INPUTS, a.x, a.x_tolerance,
                                                     PC_POSE_OUTPUTS, y, y_tolerance)))
        return false;
    put(y, y_tolerance, found.misfit_sd, &found);
    put_rest(&a, &found);
    if (refused)
        refuse_focal(&found);
    *pose = found;
    return true;
}

// A large sheet's sides are known so well that the lens shows.
static double most_misfit_sd(const struct pc_sheet *sheet)
{
    double bent = 0.0;
    for (int i = 0; i < 4; i++) {
        const double *a = sheet->corner_px[i], *b = sheet->corner_px[(i + 1) % 4];
        bent += 0.25 * BENT_ratio * hypot(b[0] - a[0], b[1] - a[1]) / sheet->side[i].offset_sd_px;
    }
    return SURE_MISFIT_sd * hypot(1.0, bent);
}

// Without a focal length a tilt can make up for another shape; so the shape must also be had with a lens that
// is on cameras, and the sheet be seen well.
static bool sure_without_focal(const struct pc_sheet *sheet, const struct pc_pose_lens *lens,
                               const struct pc_pose *pose)
{
    const double SHORTEST_WIDTHS = 0.6, LONGEST_WIDTHS = 6.0, LEAST_SCORE = 0.7, MOST_MISFIT = 2.5;
    struct pc_pose_answer usual;
    double width_px = fmax(lens->width_px, lens->height_px);
    if (pose->focal == PC_POSE_FOCAL_FOUND &&
        !(pose->image_px > SHORTEST_WIDTHS * width_px && pose->image_px < LONGEST_WIDTHS * width_px))
        return false;
    return sheet->score_ratio >= LEAST_SCORE && any_lens(sheet, lens, &usual) &&
           sqrt(usual.sum_of_squares / 2.0) <= MOST_MISFIT;
}

int pc_pose_choose(const struct pc_sheet *sheets, int count, const struct pc_pose_lens *lens,
                   struct pc_pose *pose)
{
    for (int i = 0; i < count; i++) {
        struct pc_pose found;
        if (!pc_pose_from_sheet(&sheets[i], lens, &found) || found.misfit_sd > most_misfit_sd(&sheets[i]) ||
            found.distance_m < LEAST_AWAY_m || found.distance_m > MOST_AWAY_m ||
            (!focal_known(lens) && !sure_without_focal(&sheets[i], lens, &found)))
            continue;
        *pose = found;
        return i;
    }
    return -1;
}
