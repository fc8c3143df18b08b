// SPDX-License-Identifier: Apache-2.0
// The verb `plumb`: where the camera stands over the table, and whether it is level.
#include "front/cli/verbs.h"

#include "base/file.h"
#include "base/units.h"
#include "front/cli/lens_asked.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "image/camera/pose.h"

struct plumbed {
    const char *path;
    struct pc_pose_lens lens;
    struct pc_sheet sheet;
    struct pc_pose pose;
};

static enum pc_status find_by_corners(const struct pc_cli *cli, const struct pc_picture *picture,
                                      struct plumbed *plumbed, struct pc_err *err)
{
    double corner[4][2];
    for (size_t i = 0; i < 4; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "corner", i);
        if (arg->value[0] >= picture->full_width_px || arg->value[1] >= picture->full_height_px)
            return pc_fail(err, PC_MISUSE, "--corner",
                           "%s lies outside the frame, which is %d x %d pixels when upright.", arg->text,
                           picture->full_width_px, picture->full_height_px);
        corner[i][0] = arg->value[0];
        corner[i][1] = arg->value[1];
    }
    if (!pc_find_sheet_at(picture, corner, &plumbed->sheet))
        return pc_fail(
            err, PC_NOT_FOUND, plumbed->path,
            "Between the four places no four straight edges are seen that are brighter inside. Give the "
            "corners of the sheet to within 1 %% of the picture's width.");
    if (!pc_pose_from_sheet(&plumbed->sheet, &plumbed->lens, &plumbed->pose))
        return pc_fail(
            err, PC_BAD_INPUT, plumbed->path,
            "What lies between the four places has not the shape of an A4 sheet for this lens. Check the "
            "corners and the focal length; a cropped frame or a lens that bends lines will not do.");
    return PC_OK;
}

static enum pc_status find_by_itself(struct pc_cli *cli, const struct pc_picture *picture,
                                     struct plumbed *plumbed, struct pc_err *err)
{
    struct pc_sheet sheets[PC_SHEETS_MAX];
    int count;
    PC_TRY(pc_find_sheets(cli->ctx, picture, sheets, &count, err));
    int at = pc_pose_choose(sheets, count, &plumbed->lens, &plumbed->pose);
    if (at < 0)
        return pc_fail(
            err, PC_NOT_FOUND, plumbed->path,
            "No A4 sheet is seen in this frame%s. Lay one flat on the table, all of it in the picture and "
            "not over-exposed, or give its four corners with --corner.",
            count > 0 ? "; the plain rectangles in it have another shape" : "");
    plumbed->sheet = sheets[at];
    return PC_OK;
}

static enum pc_status look(struct pc_cli *cli, struct plumbed *plumbed, struct pc_err *err)
{
    struct pc_photo_reader *reader;
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    struct pc_photo photo = {0};
    enum pc_status status = pc_ctx_step(cli->ctx, "reading the frame", 0, err);
    if (status == PC_OK)
        status = pc_photo_read(reader, plumbed->path, PC_WANT_MEASURE, false, &photo, err);
    pc_photo_reader_destroy(reader);
    if (status == PC_OK)
        status = pc_lens_asked(cli, &photo, &plumbed->lens, err);
    if (status == PC_OK && pc_args_has(cli->args, "corner"))
        status = find_by_corners(cli, &photo.picture, plumbed, err);
    else if (status == PC_OK)
        status = find_by_itself(cli, &photo.picture, plumbed, err);
    pc_photo_finish(&photo);
    return status;
}

static void print_distances(FILE *out, const struct pc_pose *pose)
{
    char figure[3][PC_FIGURE_BYTES];
    if (pose->focal == PC_POSE_FOCAL_REFUSED) {
        pc_print_sentence(
            out, "How far away the camera is cannot be told: the file does not say enough about its lens, "
                 "and a frame from within 20 degrees of straight down looks the same from near with a short "
                 "lens as from afar with a long one. Give --focal-mm and --sensor-mm, or take a frame "
                 "tilted by 30 degrees.");
        return;
    }
    pc_print_sentence(out, "The lens is %s m from the middle of the sheet and %s m above the table.",
                      pc_print_figure(figure[0], pose->distance_m, pose->distance_tolerance_m),
                      pc_print_figure(figure[1], pose->height_m, pose->height_tolerance_m));
    if (!isnan(pose->sensor_m))
        pc_print_sentence(out, "The sensor (the mark on the body) is %s m above the table.",
                          pc_print_figure(figure[2], pose->sensor_m, pose->sensor_tolerance_m));
}

static void print_side(FILE *out, double rad, double tolerance_rad, const char *higher, const char *lower)
{
    char figure[PC_FIGURE_BYTES];
    if (fabs(rad) <= tolerance_rad) {
        pc_print_sentence(out, "The camera's %s and %s are level to %.1g degrees.", higher, lower,
                          pc_deg_from_rad(tolerance_rad));
        return;
    }
    pc_print_sentence(out, "Lower the camera's %s by %s degrees.", rad > 0.0 ? higher : lower,
                      pc_print_figure(figure, pc_deg_from_rad(fabs(rad)), pc_deg_from_rad(tolerance_rad)));
}

static void print_found(const struct pc_cli *cli, const struct plumbed *plumbed)
{
    const struct pc_pose *pose = &plumbed->pose;
    char figure[2][PC_FIGURE_BYTES];
    FILE *out = cli->out;
    fprintf(out, "%s\n", pc_file_name(plumbed->path));
    print_distances(out, pose);
    pc_print_sentence(out, "It looks %s degrees off straight down.",
                      pc_print_figure(figure[0], pc_deg_from_rad(pose->tilt_rad),
                                      pc_deg_from_rad(pose->tilt_tolerance_rad)));
    if (pose->tilt_rad < pc_pose_least_tilt_roll_rad) {
        print_side(out, pose->side_rad, pose->side_tolerance_rad, "right side", "left side");
        print_side(out, pose->fore_rad, pose->fore_tolerance_rad, "side at the picture's foot",
                   "side at the picture's head");
        pc_print_sentence(
            out,
            "As it hangs, things at the picture's right come out %+.1f %% larger than at its left, and "
            "at its foot %+.1f %% larger than at its head.",
            100 * pose->keystone_side_ratio, 100 * pose->keystone_ratio);
    } else {
        print_side(out, pose->roll_rad, pose->roll_tolerance_rad, "right side", "left side");
        pc_print_sentence(
            out,
            "At this angle things on the table come out %.0f %% larger at the picture's foot than at its "
            "head; only from straight down do square boards stay square.",
            100 * pose->keystone_ratio);
    }
    if (pose->focal == PC_POSE_FOCAL_FOUND)
        pc_print_sentence(out, "The focal length was found from the frame itself: %s picture widths.",
                          pc_print_figure(figure[1], pose->image_px / plumbed->lens.width_px,
                                          pose->image_tolerance_px / plumbed->lens.width_px));
}

static void put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, name, tolerance, decimals);
}

static struct pc_json *found_json(const struct plumbed *plumbed)
{
    const struct pc_pose *p = &plumbed->pose;
    static const char *const focal[] = {"given", "found", "refused"};
    struct pc_json *o = pc_json_object(), *corners = pc_json_array();
    pc_json_put_text(o, "file", plumbed->path);
    put_figure(o, "distance_m", p->distance_m, p->distance_tolerance_m, 4);
    put_figure(o, "height_m", p->height_m, p->height_tolerance_m, 4);
    put_figure(o, "sensor_height_m", p->sensor_m, p->sensor_tolerance_m, 4);
    put_figure(o, "tilt_deg", pc_deg_from_rad(p->tilt_rad), pc_deg_from_rad(p->tilt_tolerance_rad), 3);
    put_figure(o, "roll_deg", pc_deg_from_rad(p->roll_rad), pc_deg_from_rad(p->roll_tolerance_rad), 3);
    put_figure(o, "right_side_up_deg", pc_deg_from_rad(p->side_rad), pc_deg_from_rad(p->side_tolerance_rad),
               3);
    put_figure(o, "foot_side_up_deg", pc_deg_from_rad(p->fore_rad), pc_deg_from_rad(p->fore_tolerance_rad),
               3);
    put_figure(o, "sheet_turn_deg", pc_deg_from_rad(p->turn_rad), pc_deg_from_rad(p->turn_tolerance_rad), 3);
    put_figure(o, "image_distance_px", p->image_px, p->image_tolerance_px, 1);
    pc_json_put_text(o, "focal_length", focal[p->focal]);
    pc_json_put_number(o, "keystone_pct", 100 * p->keystone_ratio, 2);
    pc_json_put_number(o, "keystone_side_pct", 100 * p->keystone_side_ratio, 2);
    pc_json_put_number(o, "misfit_sd", p->misfit_sd, 2);
    for (int i = 0; i < 4; i++) {
        struct pc_json *corner = pc_json_object();
        pc_json_put_number(corner, "x_px", plumbed->sheet.corner_px[i][0], 2);
        pc_json_put_number(corner, "y_px", plumbed->sheet.corner_px[i][1], 2);
        pc_json_add(corners, corner);
    }
    pc_json_put(o, "corners", corners);
    return o;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    size_t corners = pc_args_count(cli->args, "corner");
    if (corners != 0 && corners != 4)
        return pc_fail(err, PC_MISUSE, "--corner",
                       "A sheet has four corners: give --corner four times, or not at all.");
    struct plumbed *plumbed = PC_NEW(cli->arena, struct plumbed);
    plumbed->path = pc_args_operand(cli->args, 0);
    PC_TRY(look(cli, plumbed, err));
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, found_json(plumbed));
    else
        print_found(cli, plumbed);
    return PC_OK;
}

static const struct pc_option sheet[] = {
    {.name = "corner",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "a corner of the sheet, four times, where it is not found by itself",
     .repeatable = true},
};
static const struct pc_option_group sheet_group = {"The sheet", sheet, PC_COUNT(sheet)};
static const struct pc_option_group *const groups[] = {&sheet_group, &pc_options_lens, &pc_options_kit,
                                                       &pc_options_json, NULL};

const struct pc_verb pc_verb_plumb = {
    .name = "plumb",
    .question = "where does the camera stand, and is it level?",
    .about = "From one frame with a sheet of A4 lying flat on the table: how far and how high the camera is, "
             "how it is "
             "tilted, and which side to lower. The sheet is found by its edges, on any board a little darker "
             "than paper; "
             "a corner or an edge of it may be covered. Any picture will do, a telephone's JPEG too.\n"
             "Distance needs the lens: from the file, the kit, or told. Without it, it is found from frames "
             "tilted by 30 "
             "degrees or more.",
    .hour = PC_HOUR_SETUP,
    .operands = "FILE",
    .least_operands = 1,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
