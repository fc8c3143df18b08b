// SPDX-License-Identifier: Apache-2.0
#include "image/camera/framing_priv.h"

#include "base/tolerance.h"
#include "base/units.h"

#define PUPIL_UNKNOWN           1.0
#define PUPIL_UNKNOWN_TOLERANCE 0.3
#define GAP_UNKNOWN_RATIO       0.1 // of the focal length
#define MM_PER_INCH             25.4
#define LEVEL_LEAST_RAD         1e-6 // a line of sight flatter than this does not come down
#define SAME_M                  1e-9

// The sensor as the camera is held.
static void held_sensor(const struct pc_framing_wish *wish, bool *upright, double *width_m, double *height_m)
{
    *upright = wish->picture_height_m > wish->picture_width_m;
    *width_m = *upright ? wish->sensor_height_m : wish->sensor_width_m;
    *height_m = *upright ? wish->sensor_width_m : wish->sensor_height_m;
}

static double picture_height_m(const struct pc_framing_wish *wish)
{
    return isnan(wish->picture_height_m)
               ? wish->picture_width_m * wish->sensor_height_m / wish->sensor_width_m
               : wish->picture_height_m;
}

double pc_framing_used_width_m(double sensor_width_m, double sensor_height_m, double width, double height)
{
    bool upright = height > width;
    double across_m = upright ? sensor_height_m : sensor_width_m,
           up_m = upright ? sensor_width_m : sensor_height_m;
    return fmin(across_m, up_m * width / height);
}

static double magnification(const struct pc_framing_wish *wish)
{
    return pc_framing_used_width_m(wish->sensor_width_m, wish->sensor_height_m, wish->picture_width_m,
                                   picture_height_m(wish)) /
           wish->picture_width_m;
}

bool pc_framing_answer(const void *given, const double x[], double y[])
{
    const struct pc_framing_wish *wish = given;
    double f = x[PC_FRAMING_X_FOCAL], m = magnification(wish), down = sin(x[PC_FRAMING_X_ELEVATION]);
    double sensor_m = f * (2 + m + 1 / m) + x[PC_FRAMING_X_GAP];
    double pupil_m = f * (1 / m + 1 / x[PC_FRAMING_X_PUPIL]);
    double above_m = wish->hero_above_m + sensor_m * down;
    // The tall thing stands beside the hero: its top is nearer to the pupil by its height's share of the
    // axis.
    double nearer_m = (x[PC_FRAMING_X_TALL] - wish->hero_above_m) * down;
    double foot_m = -wish->hero_above_m * down;
    if (!(f > 0 && x[PC_FRAMING_X_PUPIL] > 0 && sensor_m > 0) || nearer_m >= pupil_m)
        return false;
    y[PC_FRAMING_Y_SENSOR] = sensor_m;
    y[PC_FRAMING_Y_PUPIL] = pupil_m;
    y[PC_FRAMING_Y_ABOVE] = above_m;
    y[PC_FRAMING_Y_WORKING] = sensor_m - wish->front_m;
    y[PC_FRAMING_Y_LEAN] =
        x[PC_FRAMING_X_OFF_AXIS] * (pupil_m / (pupil_m - nearer_m) - pupil_m / (pupil_m - foot_m));
    y[PC_FRAMING_Y_SPARE] =
        x[PC_FRAMING_X_CEILING] - x[PC_FRAMING_X_TABLE] - above_m - x[PC_FRAMING_X_BODY_ARM];
    return true;
}

void pc_framing_gather(const struct pc_framing_wish *wish, double x[], double x_tolerance[])
{
    bool pupil = !isnan(wish->pupil_ratio), gap = !isnan(wish->principal_gap_m);
    const double values[PC_FRAMING_X_COUNT][2] = {
        [PC_FRAMING_X_FOCAL] = {wish->focal_m, wish->focal_m_tolerance},
        [PC_FRAMING_X_PUPIL] = {pupil ? wish->pupil_ratio : PUPIL_UNKNOWN,
                                pupil ? wish->pupil_ratio_tolerance : PUPIL_UNKNOWN_TOLERANCE},
        [PC_FRAMING_X_GAP] = {gap ? wish->principal_gap_m : 0.0,
                              gap ? wish->principal_gap_m_tolerance : GAP_UNKNOWN_RATIO * wish->focal_m},
        [PC_FRAMING_X_ELEVATION] = {wish->elevation_rad, wish->elevation_rad_tolerance},
        [PC_FRAMING_X_CEILING] = {wish->ceiling_m, wish->ceiling_m_tolerance},
        [PC_FRAMING_X_TABLE] = {wish->table_m[0], wish->table_m_tolerance},
        [PC_FRAMING_X_BODY_ARM] = {wish->body_arm_m, wish->body_arm_m_tolerance},
        [PC_FRAMING_X_TALL] = {wish->tall_m, wish->tall_tolerance_m},
        [PC_FRAMING_X_OFF_AXIS] = {wish->tall_off_axis_m, wish->tall_tolerance_m},
    };
    for (int i = 0; i < PC_FRAMING_X_COUNT; i++) {
        x[i] = values[i][0];
        x_tolerance[i] = values[i][1];
    }
}

static bool positive(double value)
{
    return value > 0 && isfinite(value);
}

static enum pc_status check(const struct pc_framing_wish *wish, struct pc_err *err)
{
    const struct {
        double value;
        const char *name;
    } needed[] = {{wish->sensor_width_m, "sensor's width"},
                  {wish->sensor_height_m, "sensor's height"},
                  {wish->focal_m, "focal length"},
                  {isnan(wish->pupil_ratio) ? PUPIL_UNKNOWN : wish->pupil_ratio, "pupil ratio"},
                  {wish->picture_width_m, "picture's width"},
                  {picture_height_m(wish), "picture's height"},
                  {isnan(wish->outlet_width_m) ? 1.0 : wish->outlet_width_m, "outlet's width"},
                  {isnan(wish->board_width_m) ? 1.0 : wish->board_width_m, "board's width"},
                  {isnan(wish->board_depth_m) ? 1.0 : wish->board_depth_m, "board's depth"},
                  {isnan(wish->tall_m) ? 1.0 : wish->tall_m, "tall thing's height"}};
    for (size_t i = 0; i < PC_COUNT(needed); i++)
        if (!positive(needed[i].value))
            return pc_fail(err, PC_BAD_INPUT, needed[i].name, "It must be more than nothing.");
    if (!(wish->elevation_rad > 0 && wish->elevation_rad <= PC_PI / 2 + LEVEL_LEAST_RAD))
        return pc_fail(err, PC_BAD_INPUT, "angle",
                       "The camera looks down at more than 0 and at most 90 degrees; 90 is straight down.");
    if (wish->table_count < 1 || wish->table_count > PC_FRAMING_TABLES_MAX)
        return pc_fail(err, PC_BAD_INPUT, "tables", "There must be at least one table and at most %d.",
                       PC_FRAMING_TABLES_MAX);
    for (int i = 0; i < wish->table_count; i++)
        if (!(wish->table_m[i] >= 0 && !(wish->table_m[i] >= wish->ceiling_m)))
            return pc_fail(err, PC_BAD_INPUT, "tables", "A table stands between the floor and the ceiling.");
    if (!(wish->hero_above_m >= 0 && wish->body_arm_m >= 0))
        return pc_fail(
            err, PC_BAD_INPUT, "heights",
            "The hero stands on the table, and what is kept for body and arm is not less than nothing.");
    return PC_OK;
}

// Straight lines from the entrance pupil through the picture's corners, down to the table.
static void find_corners(const struct pc_framing_wish *wish, struct pc_framing *framing)
{
    double down = sin(wish->elevation_rad), level = cos(wish->elevation_rad);
    double pupil_y_m = -framing->pupil_distance_m * level,
           pupil_z_m = wish->hero_above_m + framing->pupil_distance_m * down;
    for (int i = 0; i < 4; i++) {
        double right_m = (i == 1 || i == 2 ? 0.5 : -0.5) * framing->picture_width_m;
        double up_m = (i >= 2 ? 0.5 : -0.5) * framing->picture_height_m;
        // The picture's up lies along the table away from the camera, and upwards, by the elevation.
        double dy = up_m * down - pupil_y_m, dz = wish->hero_above_m + up_m * level - pupil_z_m;
        bool comes_down = dz < -LEVEL_LEAST_RAD * framing->pupil_distance_m;
        double t = comes_down ? -pupil_z_m / dz : (double)NAN;
        framing->corner_x_m[i] = t * right_m;
        framing->corner_y_m[i] = pupil_y_m + t * dy;
        framing->sees_past_table |= !comes_down;
    }
}

// Half of what the picture shows of the table from side to side, y_m behind the hero: it grows with the
// distance along the axis.
static double half_seen_m(const struct pc_framing_wish *wish, const struct pc_framing *framing, double y_m)
{
    double down = sin(wish->elevation_rad), level = cos(wish->elevation_rad),
           pupil_m = framing->pupil_distance_m;
    double along_m = (y_m + pupil_m * level) * level + (wish->hero_above_m + pupil_m * down) * down;
    return framing->picture_width_m / 2 * along_m / pupil_m;
}

static void find_board(const struct pc_framing_wish *wish, struct pc_framing *framing)
{
    double near_m = -framing->corner_y_m[0];
    double far_m = framing->sees_past_table ? (double)INFINITY : framing->corner_y_m[2];
    framing->board_width_least_m =
        framing->sees_past_table ? (double)INFINITY : 2 * half_seen_m(wish, framing, far_m);
    framing->board_depth_least_m = 2 * fmax(near_m, far_m);
    framing->board_known = !isnan(wish->board_width_m) && !isnan(wish->board_depth_m);
    if (!framing->board_known)
        return;
    double half_m = wish->board_depth_m / 2;
    framing->board_near_shows = near_m > half_m + SAME_M;
    framing->board_far_shows = far_m > half_m + SAME_M;
    framing->board_side_shows =
        half_seen_m(wish, framing, fmin(far_m, half_m)) > wish->board_width_m / 2 + SAME_M;
}

static void find_tables(const struct pc_framing_wish *wish, struct pc_framing *framing)
{
    framing->table = -1;
    framing->table_most_m = wish->ceiling_m - framing->sensor_above_m - wish->body_arm_m;
    for (int i = 0; i < wish->table_count; i++) {
        double spare_m = framing->table_most_m - wish->table_m[i];
        framing->spare_m[i] = spare_m;
        framing->fit[i] = isnan(spare_m)                         ? PC_FRAMING_FITS
                          : spare_m < -SAME_M                    ? PC_FRAMING_TOO_HIGH
                          : spare_m < framing->spare_m_tolerance ? PC_FRAMING_FITS_BARELY
                                                                 : PC_FRAMING_FITS;
        if (framing->fit[i] != PC_FRAMING_TOO_HIGH &&
            (framing->table < 0 || wish->table_m[i] > wish->table_m[framing->table]))
            framing->table = i;
    }
}

enum pc_status pc_framing_find(const struct pc_framing_wish *wish, struct pc_framing *framing,
                               struct pc_err *err)
{
    double x[PC_FRAMING_X_COUNT], x_tolerance[PC_FRAMING_X_COUNT], y[PC_FRAMING_Y_COUNT],
        tolerance[PC_FRAMING_Y_COUNT];
    PC_TRY(check(wish, err));
    pc_framing_gather(wish, x, x_tolerance);
    if (!pc_tolerance(pc_framing_answer, wish, PC_FRAMING_X_COUNT, x, x_tolerance, PC_FRAMING_Y_COUNT, y,
                      tolerance))
        return pc_fail(err, PC_BAD_INPUT, "tall thing",
                       "It would reach the lens, which stands %.2f m from the hero; take a longer lens.",
                       x[PC_FRAMING_X_FOCAL] * (1 / magnification(wish) + 1 / x[PC_FRAMING_X_PUPIL]));
    double m = magnification(wish), sensor_width_m, sensor_height_m;
    bool upright;
    held_sensor(wish, &upright, &sensor_width_m, &sensor_height_m);
    double width_px = upright ? wish->sensor_height_px : wish->sensor_width_px;
    double used_px = width_px * wish->picture_width_m * m / sensor_width_m;
    *framing = (struct pc_framing){
        .upright = upright,
        .magnification_ratio = m,
        .sensor_distance_m = y[PC_FRAMING_Y_SENSOR],
        .sensor_distance_m_tolerance = tolerance[PC_FRAMING_Y_SENSOR],
        .pupil_distance_m = y[PC_FRAMING_Y_PUPIL],
        .pupil_distance_m_tolerance = tolerance[PC_FRAMING_Y_PUPIL],
        .working_distance_m = y[PC_FRAMING_Y_WORKING],
        .working_distance_m_tolerance = tolerance[PC_FRAMING_Y_WORKING],
        .sensor_above_m = y[PC_FRAMING_Y_ABOVE],
        .sensor_above_m_tolerance = tolerance[PC_FRAMING_Y_ABOVE],
        .back_m = y[PC_FRAMING_Y_SENSOR] * cos(wish->elevation_rad),
        .picture_width_m = wish->picture_width_m,
        .picture_height_m = picture_height_m(wish),
        .covered_width_m = sensor_width_m / m,
        .covered_height_m = sensor_height_m / m,
        .ppi = width_px > 0 ? used_px / (wish->outlet_width_m * 1000 / MM_PER_INCH) : (double)NAN,
        .lean_m = y[PC_FRAMING_Y_LEAN],
        .lean_m_tolerance = tolerance[PC_FRAMING_Y_LEAN],
        .too_near = y[PC_FRAMING_Y_SENSOR] < wish->closest_m,
        .spare_m_tolerance = tolerance[PC_FRAMING_Y_SPARE],
    };
    if (y[PC_FRAMING_Y_WORKING] <= 0)
        return pc_fail(
            err, PC_BAD_INPUT, "picture's width",
            "The hero would stand inside the lens; make the picture wider, or take a longer lens.");
    find_tables(wish, framing);
    find_corners(wish, framing);
    find_board(wish, framing);
    return PC_OK;
}

void pc_framing_widest(const struct pc_framing_wish *wish, double table_m, double *width_m, double *height_m)
{
    *width_m = *height_m = NAN;
    double gap_m = isnan(wish->principal_gap_m) ? 0.0 : wish->principal_gap_m;
    double sensor_m =
        (wish->ceiling_m - table_m - wish->body_arm_m - wish->hero_above_m) / sin(wish->elevation_rad);
    double sum = (sensor_m - gap_m) / wish->focal_m - 2; // m + 1/m
    if (!(sum > 2))
        return;
    double m = (sum - sqrt(sum * sum - 4)) / 2;
    double wider = magnification(wish) / m;
    *width_m = wish->picture_width_m * wider;
    *height_m = picture_height_m(wish) * wider;
}

double pc_framing_focal_from_equivalent_m(double equivalent_m, double sensor_width_m, double sensor_height_m)
{
    return equivalent_m * hypot(sensor_width_m, sensor_height_m) / hypot(0.036, 0.024);
}

static bool stands_before(const struct pc_framing *a, const struct pc_framing *b, double least_ppi)
{
    if ((a->table >= 0) != (b->table >= 0))
        return a->table >= 0;
    if (a->too_near != b->too_near)
        return !a->too_near;
    bool a_enough = !(a->ppi < least_ppi), b_enough = !(b->ppi < least_ppi);
    if (a_enough != b_enough)
        return a_enough;
    return a->pupil_distance_m > b->pupil_distance_m + SAME_M;
}

void pc_framing_rank(const struct pc_framing *framing, int count, double least_ppi, int *order)
{
    for (int i = 0; i < count; i++) {
        int at = i;
        for (; at > 0 && stands_before(&framing[i], &framing[order[at - 1]], least_ppi); at--)
            order[at] = order[at - 1];
        order[at] = i;
    }
}
