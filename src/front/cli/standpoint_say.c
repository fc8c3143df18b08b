// SPDX-License-Identifier: Apache-2.0
// What `standpoint` found, in words and keys.
#include "front/cli/standpoint.h"

#include "base/units.h"
#include "front/cli/print.h"
#include "light/kit/caution.h"

#define CM                 0.01
#define MM                 0.001
#define STRAIGHT_DOWN_RAD  (PC_PI / 2 - 1e-6)
#define OVER_THE_TABLE_RAD (PC_PI / 3) // from here the camera hangs on an arm
#define WANTS_A_LADDER_M   1.8         // sensor above the floor
#define SAME_LEAN_M        0.003

static bool straight_down(const struct pc_standpoint_wish *wish)
{
    return wish->elevation_rad >= STRAIGHT_DOWN_RAD;
}

static const char *what_with(struct pc_cli *cli, const struct pc_standpoint *point)
{
    return pc_arena_printf(cli->arena, "%s with the %s", point->camera->name, point->lens->name);
}

static const char *cm(char out[PC_FIGURE_BYTES], double value_m, double tolerance_m)
{
    return pc_print_figure(out, value_m / CM, tolerance_m / CM);
}

static void say_place(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                      const struct pc_standpoint *point)
{
    const struct pc_framing *framing = &point->framing;
    char a[PC_FIGURE_BYTES], b[PC_FIGURE_BYTES], c[PC_FIGURE_BYTES];
    double floor_m = point->support->height_m + framing->sensor_above_m;
    double floor_tolerance_m = hypot(framing->sensor_above_m_tolerance, point->support->height_m_tolerance);
    pc_print_figure(a, framing->sensor_distance_m, framing->sensor_distance_m_tolerance);
    pc_print_figure(b, floor_m, floor_tolerance_m);
    if (straight_down(wish))
        pc_print_sentence(
            cli->out,
            "%s from the %s (%.2f m), straight down%s: the sensor %s m from the hero, %s m above the "
            "floor.",
            what_with(cli, point), point->support->name, point->support->height_m,
            framing->upright ? ", camera upright" : "", a, b);
    else
        pc_print_sentence(
            cli->out,
            "%s from the %s (%.2f m), looking down at %.0f degrees%s: the sensor %s m from the hero, %s m "
            "above the floor and %s cm back from the hero.",
            what_with(cli, point), point->support->name, point->support->height_m,
            pc_deg_from_rad(wish->elevation_rad), framing->upright ? ", camera upright" : "", a, b,
            cm(c, framing->back_m, framing->sensor_distance_m_tolerance));
    if (!isnan(framing->working_distance_m))
        pc_print_sentence(cli->out, "From the lens's front rim to the hero: %s cm.",
                          cm(a, framing->working_distance_m, framing->working_distance_m_tolerance));
}

static void say_ceiling(struct pc_cli *cli, const struct pc_standpoint *point)
{
    char a[PC_FIGURE_BYTES];
    if (isnan(point->spare_m))
        return;
    cm(a, point->spare_m, point->framing.spare_m_tolerance);
    if (point->spare_is_sure)
        pc_print_sentence(cli->out, "Under the ceiling %s cm are to spare, body and arm counted.", a);
    else
        pc_print_sentence(
            cli->out,
            "Under the ceiling %s cm are to spare, body and arm counted: less than that is good to. "
            "Measure the distance from one frame of an A4 sheet before relying on it.",
            a);
}

static void say_picture(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                        const struct pc_standpoint *point)
{
    const struct pc_framing *framing = &point->framing;
    char a[PC_FIGURE_BYTES];
    if (!isnan(framing->ppi))
        pc_print_sentence(
            cli->out,
            "The picture is %.0f x %.0f cm (the whole sensor shows %.0f x %.0f); on the page %.0f "
            "pixels an inch%s.",
            framing->picture_width_m / CM, framing->picture_height_m / CM, framing->covered_width_m / CM,
            framing->covered_height_m / CM, framing->ppi,
            point->ppi_enough ? ""
                              : pc_arena_printf(cli->arena, ", fewer than the %.0f wanted", wish->least_ppi));
    else
        pc_print_sentence(cli->out, "The picture is %.0f x %.0f cm; the whole sensor shows %.0f x %.0f.",
                          framing->picture_width_m / CM, framing->picture_height_m / CM,
                          framing->covered_width_m / CM, framing->covered_height_m / CM);
    if (!isnan(framing->lean_m))
        pc_print_sentence(cli->out, "What is %.0f cm high, %.0f cm off the middle, leans out by %s mm.",
                          wish->tall_m / CM, wish->tall_off_axis_m / CM,
                          pc_print_figure(a, framing->lean_m / MM, framing->lean_m_tolerance / MM));
    if (framing->too_near)
        pc_print_sentence(cli->out, "The lens does not focus so near: it stops at %.2f m.",
                          point->lens->nearest_m);
}

static void say_board(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                      const struct pc_framing *framing)
{
    bool shows = framing->board_near_shows || framing->board_far_shows || framing->board_side_shows;
    if (framing->sees_past_table) {
        pc_print_sentence(cli->out,
                          "The upper edge looks out over the table, however deep the board: a backdrop is in "
                          "the picture.");
        return;
    }
    if (!framing->board_known)
        pc_print_sentence(cli->out, "A board of %.0f x %.0f cm, its middle under the hero, fills it.",
                          ceil(framing->board_width_least_m / CM - 1e-6),
                          ceil(framing->board_depth_least_m / CM - 1e-6));
    else if (!shows)
        pc_print_sentence(cli->out, "The board, %.0f x %.0f cm, fills it.", wish->board_width_m / CM,
                          wish->board_depth_m / CM);
    else
        pc_print_sentence(
            cli->out, "The board's %s in the picture: %.0f x %.0f cm would have to be %.0f x %.0f.",
            framing->board_far_shows && framing->board_near_shows ? "near and far edges are"
            : framing->board_far_shows                            ? "far edge is"
            : framing->board_near_shows                           ? "near edge is"
                                                                  : "sides are",
            wish->board_width_m / CM, wish->board_depth_m / CM,
            ceil(framing->board_width_least_m / CM - 1e-6), ceil(framing->board_depth_least_m / CM - 1e-6));
}

// Why another that fits comes after the first.
static void say_also(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                     const struct pc_standpoint *best, const struct pc_standpoint *point)
{
    const struct pc_framing *framing = &point->framing;
    const char *reason = "";
    if (framing->too_near)
        reason =
            pc_arena_printf(cli->arena, ", but it does not focus nearer than %.2f m", point->lens->nearest_m);
    else if (!point->ppi_enough)
        reason = pc_arena_printf(cli->arena, ", but has %.0f pixels an inch for the page, %.0f wanted",
                                 framing->ppi, wish->least_ppi);
    else if (framing->lean_m > best->framing.lean_m + SAME_LEAN_M)
        reason = ", but things lean";
    if (framing->lean_m > best->framing.lean_m + SAME_LEAN_M)
        reason = pc_arena_printf(cli->arena, "%s%s %.0f mm rather than %.0f", reason,
                                 strstr(reason, "lean") != NULL ? "" : "; things lean", framing->lean_m / MM,
                                 best->framing.lean_m / MM);
    pc_print_sentence(cli->out, "%s fits too, from the %s at %.2f m%s.", what_with(cli, point),
                      point->support->name, framing->sensor_distance_m, reason);
}

static void say_not(struct pc_cli *cli, const struct pc_standpoint *point)
{
    const struct pc_framing *framing = &point->framing;
    if (point->why_not != NULL) {
        pc_print_sentence(cli->out, "%s cannot: %s", what_with(cli, point), point->why_not);
        return;
    }
    char most[PC_FIGURE_BYTES];
    snprintf(most, sizeof most, ", more than there is under the ceiling");
    if (framing->table_most_m >= 0)
        snprintf(most, sizeof most, ", and with that a table of %.2f m",
                 floor(framing->table_most_m / CM) * CM);
    pc_print_sentence(
        cli->out, "%s does not fit: it wants %.2f m%s; from the lowest table %.0f cm are missing%s.%s%s",
        what_with(cli, point), framing->sensor_distance_m, most, fmax(round(-point->spare_m / CM), 1.0),
        point->spare_is_sure ? "" : ", which is within what that is good to",
        isnan(point->widest_width_m)
            ? ""
            : pc_arena_printf(cli->arena, " From there it shows %.0f x %.0f cm.",
                              floor(point->widest_width_m / CM), floor(point->widest_height_m / CM)),
        point->ppi_enough
            ? ""
            : pc_arena_printf(cli->arena, " It has %.0f pixels an inch for the page.", framing->ppi));
}

void pc_standpoint_print(struct pc_cli *cli, const struct pc_standpoint_wish *wish,
                         const struct pc_standpoint *points, size_t count)
{
    const struct pc_standpoint *best = &points[0];
    say_place(cli, wish, best);
    say_ceiling(cli, best);
    say_picture(cli, wish, best);
    say_board(cli, wish, &best->framing);
    for (size_t i = 1; i < count; i++)
        if (points[i].why_not == NULL && points[i].support != NULL)
            say_also(cli, wish, best, &points[i]);
        else
            say_not(cli, &points[i]);
    if (wish->elevation_rad >= OVER_THE_TABLE_RAD)
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_ARM));
    if (best->support->height_m + best->framing.sensor_above_m > WANTS_A_LADDER_M)
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_LADDER));
}

static void put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, name, tolerance, decimals);
}

static struct pc_json *board_json(const struct pc_framing *framing)
{
    struct pc_json *o = pc_json_object();
    pc_json_put_number(o, "width_least_cm", framing->board_width_least_m / CM, 1);
    pc_json_put_number(o, "depth_least_cm", framing->board_depth_least_m / CM, 1);
    if (framing->board_known) {
        pc_json_put_bool(o, "near_edge_shows", framing->board_near_shows);
        pc_json_put_bool(o, "far_edge_shows", framing->board_far_shows);
        pc_json_put_bool(o, "side_shows", framing->board_side_shows);
    }
    return o;
}

static struct pc_json *point_json(const struct pc_standpoint *point)
{
    const struct pc_framing *framing = &point->framing;
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "camera", point->camera->name);
    pc_json_put_text(o, "lens", point->lens->name);
    pc_json_put_bool(o, "does", pc_standpoint_does(point));
    pc_json_put_text(o, "why_not", point->why_not);
    if (point->why_not != NULL)
        return o;
    pc_json_put_text(o, "support", point->support != NULL ? point->support->name : NULL);
    pc_json_put_number(o, "support_m", point->support != NULL ? point->support->height_m : (double)NAN, 3);
    pc_json_put_number(o, "support_most_m", framing->table_most_m, 4);
    put_figure(o, "spare_m", point->spare_m, framing->spare_m_tolerance, 4);
    put_figure(o, "sensor_distance_m", framing->sensor_distance_m, framing->sensor_distance_m_tolerance, 4);
    put_figure(o, "sensor_above_table_m", framing->sensor_above_m, framing->sensor_above_m_tolerance, 4);
    put_figure(o, "pupil_distance_m", framing->pupil_distance_m, framing->pupil_distance_m_tolerance, 4);
    put_figure(o, "working_distance_m", framing->working_distance_m, framing->working_distance_m_tolerance,
               4);
    pc_json_put_number(o, "back_m", framing->back_m, 4);
    pc_json_put_bool(o, "upright", framing->upright);
    pc_json_put_bool(o, "too_near", framing->too_near);
    pc_json_put_number(o, "magnification_ratio", framing->magnification_ratio, 5);
    pc_json_put_number(o, "picture_width_cm", framing->picture_width_m / CM, 2);
    pc_json_put_number(o, "picture_height_cm", framing->picture_height_m / CM, 2);
    pc_json_put_number(o, "covered_width_cm", framing->covered_width_m / CM, 2);
    pc_json_put_number(o, "covered_height_cm", framing->covered_height_m / CM, 2);
    pc_json_put_number(o, "widest_width_cm", point->widest_width_m / CM, 2);
    pc_json_put_number(o, "widest_height_cm", point->widest_height_m / CM, 2);
    pc_json_put_number(o, "ppi", framing->ppi, 1);
    put_figure(o, "lean_mm", framing->lean_m / MM, framing->lean_m_tolerance / MM, 1);
    pc_json_put_bool(o, "sees_past_table", framing->sees_past_table);
    pc_json_put(o, "board", board_json(framing));
    struct pc_json *corners = pc_json_array();
    for (int i = 0; i < 4; i++) {
        struct pc_json *corner = pc_json_object();
        pc_json_put_number(corner, "right_cm", framing->corner_x_m[i] / CM, 2);
        pc_json_put_number(corner, "away_cm", framing->corner_y_m[i] / CM, 2);
        pc_json_add(corners, corner);
    }
    pc_json_put(o, "corners", corners);
    return o;
}

struct pc_json *pc_standpoint_json(const struct pc_standpoint_wish *wish, const struct pc_standpoint *points,
                                   size_t count)
{
    struct pc_json *o = pc_json_object(), *list = pc_json_array(), *cautions = pc_json_array();
    pc_json_put_number(o, "ceiling_m", wish->ceiling_m, 3);
    pc_json_put_number(o, "angle_deg", pc_deg_from_rad(wish->elevation_rad), 2);
    pc_json_put_number(o, "least_ppi", wish->least_ppi, 0);
    for (size_t i = 0; i < count; i++)
        pc_json_add(list, point_json(&points[i]));
    pc_json_put(o, "standpoints", list);
    if (wish->elevation_rad >= OVER_THE_TABLE_RAD)
        pc_json_add_text(cautions, pc_caution_key(PC_CAUTION_ARM));
    if (points[0].support->height_m + points[0].framing.sensor_above_m > WANTS_A_LADDER_M)
        pc_json_add_text(cautions, pc_caution_key(PC_CAUTION_LADDER));
    pc_json_put(o, "cautions", cautions);
    return o;
}
