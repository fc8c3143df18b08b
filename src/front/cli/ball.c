// SPDX-License-Identifier: Apache-2.0
// The verb `ball`: where each light stands, from a steel ball in the frames of one light each.
#include "front/cli/verbs.h"

#include "base/file.h"
#include "base/units.h"
#include "front/cli/lens_asked.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "image/find/ball.h"
#include "light/kit/kit.h"

#include <sys/stat.h>

#define BALL_MM      40.0
#define LIGHT_M      1.0
#define TILT_DEG     1.0 // how well a told tilt is known
#define BALL_TOLD_MM 0.1
#define LEAST_PX     60.0

enum { FRAMES_MAX = 32 };

struct lit_frame {
    const char *path;
    struct pc_ball_light light;
    bool found;
    double clock_h, clock_tolerance_h, elevation_deg, elevation_tolerance_deg;
    bool matte_found;
    double matte_clock_h, matte_elevation_deg, matte_off_deg, matte_tolerance_deg;
};

struct asked {
    struct pc_pose_lens lens;
    double image_px, ball_mm, ball_tolerance_mm, light_m;
    double up[3], up_tolerance_rad;
    bool has_up, from_sheet, has_ball, has_matte;
    struct pc_ball ball, matte;
    struct lit_frame frame[FRAMES_MAX];
    size_t frames;
    double camera_m, camera_tolerance_m;
};

static double dot(const double a[3], const double b[3])
{
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

// As seen from the ball: the camera at six o'clock, three to the right of the picture.
static void by_the_clock(const double up[3], const double way[3], double *clock_h, double *elevation_deg)
{
    double right[3], length = sqrt(fmax(1e-12, 1.0 - up[0] * up[0]));
    for (int i = 0; i < 3; i++)
        right[i] = ((i == 0) - up[0] * up[i]) / length;
    double ahead[3];
    for (int i = 0; i < 3; i++)
        ahead[i] = up[(i + 1) % 3] * right[(i + 2) % 3] - up[(i + 2) % 3] * right[(i + 1) % 3];
    *elevation_deg = pc_deg_from_rad(asin(fmin(1.0, fmax(-1.0, dot(way, up)))));
    double hours = atan2(dot(way, right), dot(way, ahead)) * 6.0 / PC_PI;
    *clock_h = hours < 0.0 ? hours + 12.0 : hours;
}

// How level the camera is: as told, or from a sheet of A4 in the frame.
static enum pc_status find_up(struct pc_cli *cli, const struct pc_picture *picture, struct asked *asked,
                              struct pc_err *err)
{
    double tilt_deg;
    if (pc_args_number(cli->args, "tilt", &tilt_deg)) {
        double tilt_rad = pc_rad_from_deg(tilt_deg);
        asked->up[0] = 0.0;
        asked->up[1] = -sin(tilt_rad);
        asked->up[2] = -cos(tilt_rad);
        asked->has_up = true;
        double tolerance_deg = TILT_DEG;
        pc_args_number(cli->args, "tilt-tolerance", &tolerance_deg);
        asked->up_tolerance_rad = pc_rad_from_deg(tolerance_deg);
        return PC_OK;
    }
    struct pc_sheet sheets[PC_SHEETS_MAX];
    struct pc_pose pose;
    int count;
    PC_TRY(pc_find_sheets(cli->ctx, picture, sheets, &count, err));
    if (pc_pose_choose(sheets, count, &asked->lens, &pose) >= 0) {
        memcpy(asked->up, pose.up, sizeof asked->up);
        asked->up_tolerance_rad = hypot(pose.tilt_tolerance_rad,
                                        isnan(pose.roll_rad) ? pose.side_tolerance_rad
                                                             : sin(pose.tilt_rad) * pose.roll_tolerance_rad);
        asked->image_px = pose.image_px;
        asked->from_sheet = true;
        asked->has_up = true;
    }
    return PC_OK;
}

static enum pc_status check_place(const struct pc_picture *picture, const char *option,
                                  const struct pc_arg *arg, struct pc_err *err)
{
    if (arg->value[0] >= picture->full_width_px || arg->value[1] >= picture->full_height_px)
        return pc_fail(err, PC_MISUSE, option,
                       "%s lies outside the frame, which is %d x %d pixels when upright.", arg->text,
                       picture->full_width_px, picture->full_height_px);
    return PC_OK;
}

// The ball lies still while the lights change: its outline is taken from the first frame that shows it.
static enum pc_status find_balls(struct pc_cli *cli, const struct pc_picture *picture, struct asked *asked,
                                 struct pc_err *err)
{
    if (!asked->has_ball && pc_args_has(cli->args, "ball")) {
        const struct pc_arg *at = pc_args_at(cli->args, "ball", 0);
        PC_TRY(check_place(picture, "--ball", at, err));
        asked->has_ball =
            pc_find_ball_at(picture, asked->image_px, asked->up, at->value[0], at->value[1], &asked->ball);
    } else if (!asked->has_ball) {
        asked->has_ball = pc_find_ball(picture, asked->image_px, asked->up, &asked->ball);
    }
    if (!asked->has_matte && pc_args_has(cli->args, "matte")) {
        const struct pc_arg *at = pc_args_at(cli->args, "matte", 0);
        PC_TRY(check_place(picture, "--matte", at, err));
        asked->has_matte =
            pc_find_ball_at(picture, asked->image_px, NULL, at->value[0], at->value[1], &asked->matte);
    }
    if (asked->has_ball && asked->ball.across_px < LEAST_PX)
        return pc_fail(err, PC_BAD_INPUT, "ball",
                       "The ball is only %.0f pixels across; it takes %.0f. Go nearer, or take a "
                       "larger ball.",
                       asked->ball.across_px, LEAST_PX);
    return PC_OK;
}

static enum pc_status take_off(struct pc_picture *picture, const struct pc_picture *ambient, const char *path,
                               struct pc_err *err)
{
    if (picture->width_px != ambient->width_px || picture->height_px != ambient->height_px ||
        picture->channels != ambient->channels)
        return pc_fail(err, PC_BAD_INPUT, path, "The ambient frame has another size.");
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px, channels = (size_t)picture->channels;
    for (size_t i = 0; i < n; i++) {
        // What is over-exposed without the light too says nothing of it.
        bool lost = picture->clipped[i] != 0 && ambient->clipped[i] != 0;
        for (size_t c = i * channels; c < (i + 1) * channels; c++)
            picture->px[c] = lost ? 0.0F : picture->px[c] - ambient->px[c];
        if (lost)
            picture->clipped[i] = 0;
    }
    return PC_OK;
}

// The camera's own lean turns what is seen about a level line: all of it counts towards the height, and
// towards the clock the more, the higher the light is.
static void set_tolerances(double up_tolerance_rad, struct lit_frame *frame)
{
    double high_rad = pc_rad_from_deg(frame->elevation_deg), level = fmax(cos(high_rad), 1e-3);
    frame->elevation_tolerance_deg = pc_deg_from_rad(hypot(frame->light.tolerance_rad, up_tolerance_rad));
    double round_rad = hypot(frame->light.tolerance_rad, up_tolerance_rad * sin(high_rad)) / level;
    frame->clock_tolerance_h = fmin(6.0, round_rad * 6.0 / PC_PI);
}

// How differently the two balls may see a light that is as near as told.
static double apart_rad(const struct asked *asked)
{
    double size_m = 1e-3 * asked->ball_mm, square = 0.0;
    for (int i = 0; i < 3; i++) {
        double apart = asked->ball.centre[i] - asked->matte.centre[i];
        square += apart * apart;
    }
    return sqrt(square) * pc_ball_distance_m(&asked->ball, size_m) / asked->light_m;
}

static void look_at_light(const struct pc_picture *picture, const struct asked *asked,
                          struct lit_frame *frame)
{
    frame->found = pc_ball_light(picture, asked->image_px, &asked->ball,
                                 5e-4 * asked->ball_mm / asked->light_m, &frame->light);
    if (!frame->found)
        return;
    by_the_clock(asked->up, frame->light.direction, &frame->clock_h, &frame->elevation_deg);
    set_tolerances(asked->up_tolerance_rad, frame);
    double way[3], tolerance_rad;
    if (!asked->has_matte ||
        !pc_ball_matte(picture, asked->image_px, &asked->matte, asked->up, way, &tolerance_rad))
        return;
    frame->matte_found = true;
    by_the_clock(asked->up, way, &frame->matte_clock_h, &frame->matte_elevation_deg);
    frame->matte_off_deg = pc_deg_from_rad(acos(fmin(1.0, dot(way, frame->light.direction))));
    frame->matte_tolerance_deg =
        pc_deg_from_rad(hypot(hypot(tolerance_rad, frame->light.tolerance_rad), apart_rad(asked)));
}

static enum pc_status read_frame(struct pc_cli *cli, struct pc_photo_reader *reader, const char *path,
                                 struct pc_photo *photo, struct pc_err *err)
{
    PC_TRY(pc_photo_read(reader, path, PC_WANT_MEASURE, pc_args_has(cli->args, "linear"), photo, err));
    if (photo->tone_mapped)
        return pc_fail(
            err, PC_UNSUPPORTED, path,
            "The tones of this picture were bent, so no light can be read from it; give the raw file.");
    return PC_OK;
}

static enum pc_status prepare(struct pc_cli *cli, const struct pc_photo *photo, struct asked *asked,
                              struct pc_err *err)
{
    if (asked->image_px > 0.0)
        return PC_OK;
    PC_TRY(pc_lens_asked(cli, photo, &asked->lens, err));
    if (isnan(asked->lens.focal_mm))
        return pc_fail(err, PC_BAD_INPUT, "ball",
                       "The file does not say enough about its lens. Give --focal-mm and --sensor-mm, or "
                       "--equivalent-mm.");
    asked->image_px = asked->lens.focal_mm * asked->lens.px_per_mm;
    return PC_OK;
}

static enum pc_status look(struct pc_cli *cli, struct asked *asked, struct pc_err *err)
{
    struct pc_photo_reader *reader;
    struct pc_photo ambient = {0};
    const char *ambient_path = pc_args_text(cli->args, "ambient");
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status =
        ambient_path != NULL ? read_frame(cli, reader, ambient_path, &ambient, err) : PC_OK;
    for (size_t i = 0; status == PC_OK && i < asked->frames; i++) {
        struct pc_photo photo = {0};
        struct lit_frame *frame = &asked->frame[i];
        status = pc_ctx_step(cli->ctx, "reading the frames", (double)i / (double)asked->frames, err);
        if (status == PC_OK)
            status = read_frame(cli, reader, frame->path, &photo, err);
        if (status == PC_OK)
            status = prepare(cli, &photo, asked, err);
        if (status == PC_OK && !asked->has_up)
            status = find_up(cli, &photo.picture, asked, err);
        if (status == PC_OK)
            status = find_balls(cli, &photo.picture, asked, err);
        if (status == PC_OK && !asked->has_up)
            status = pc_fail(
                err, PC_NOT_FOUND, frame->path,
                "Which way is up is not known: lay a sheet of A4 in the first frame, or say with --tilt how "
                "far the camera looks off straight down.");
        if (status == PC_OK && !asked->has_ball)
            status = pc_fail(err, PC_NOT_FOUND, frame->path,
                             "No polished ball is seen%s. Say with --ball where it lies.",
                             pc_args_has(cli->args, "ball") ? " at the place given" : ", or more than one");
        if (status == PC_OK && ambient_path != NULL)
            status = take_off(&photo.picture, &ambient.picture, frame->path, err);
        if (status == PC_OK)
            look_at_light(&photo.picture, asked, frame);
        pc_photo_finish(&photo);
    }
    pc_photo_finish(&ambient);
    pc_photo_reader_destroy(reader);
    return status;
}

static void clock_text(double clock_h, char out[32])
{
    int halves = (int)lrint(2.0 * clock_h) % 24;
    int hour = halves / 2 == 0 ? 12 : halves / 2;
    snprintf(out, 32, halves % 2 ? "half past %d o'clock" : "%d o'clock", hour);
}

// A stop more than the estimate, which is good to a stop.
static double darker_ev(const struct pc_ball_light *light)
{
    return light->clipped ? fmin(12.0, ceil(light->over_ev + 1.0)) : 0.0;
}

static void print_light(const struct pc_cli *cli, const struct lit_frame *frame)
{
    char figure[3][PC_FIGURE_BYTES], hour[32];
    if (!frame->found) {
        pc_print_sentence(cli->out, "%s: the ball shows no light that stands out.",
                          pc_file_name(frame->path));
        return;
    }
    clock_text(frame->clock_h, hour);
    const char *way = frame->elevation_deg > 85.0 ? "straight above" : hour,
               *high = pc_print_figure(figure[0], frame->elevation_deg, frame->elevation_tolerance_deg);
    if (isnan(frame->light.width_rad))
        pc_print_sentence(cli->out,
                          "%s: %s, %s degrees up. How large it is cannot be told: its image is over-exposed. "
                          "Take this frame again about %.0f stop%s darker, and give it after this one.",
                          pc_file_name(frame->path), way, high, darker_ev(&frame->light),
                          darker_ev(&frame->light) > 1.0 ? "s" : "");
    else
        pc_print_sentence(cli->out, "%s: %s, %s degrees up; %s degrees across, %s the other way%s.",
                          pc_file_name(frame->path), way, high,
                          pc_print_figure(figure[1], pc_deg_from_rad(frame->light.width_rad),
                                          pc_deg_from_rad(frame->light.width_tolerance_rad)),
                          pc_print_figure(figure[2], pc_deg_from_rad(frame->light.narrow_rad),
                                          pc_deg_from_rad(frame->light.narrow_tolerance_rad)),
                          frame->light.clipped ? " (its image is over-exposed: the size comes from its rim)"
                                               : "");
    if (frame->matte_found)
        pc_print_sentence(
            cli->out,
            "  The matte ball's shading %s: it points %.0f degrees away, and can be trusted to %.0f.",
            frame->matte_off_deg <= frame->matte_tolerance_deg ? "agrees" : "does not agree",
            frame->matte_off_deg, frame->matte_tolerance_deg);
}

static void put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, name, tolerance, decimals);
}

static struct pc_json *frame_json(const struct lit_frame *frame)
{
    struct pc_json *o = pc_json_object();
    const struct pc_ball_light *light = &frame->light;
    pc_json_put_text(o, "file", frame->path);
    put_figure(o, "clock_h", frame->found ? frame->clock_h : (double)NAN,
               frame->found ? frame->clock_tolerance_h : (double)NAN, 2);
    put_figure(o, "elevation_deg", frame->found ? frame->elevation_deg : (double)NAN,
               frame->found ? frame->elevation_tolerance_deg : (double)NAN, 2);
    put_figure(o, "width_deg", frame->found ? pc_deg_from_rad(light->width_rad) : (double)NAN,
               frame->found ? pc_deg_from_rad(light->width_tolerance_rad) : (double)NAN, 2);
    put_figure(o, "narrow_deg", frame->found ? pc_deg_from_rad(light->narrow_rad) : (double)NAN,
               frame->found ? pc_deg_from_rad(light->narrow_tolerance_rad) : (double)NAN, 2);
    pc_json_put_number(o, "solid_angle_sr", frame->found ? light->solid_sr : (double)NAN, 5);
    pc_json_put_bool(o, "over_exposed", light->clipped);
    pc_json_put_number(o, "darker_ev", frame->found ? darker_ev(light) : (double)NAN, 0);
    put_figure(o, "matte_off_deg", frame->matte_found ? frame->matte_off_deg : (double)NAN,
               frame->matte_found ? frame->matte_tolerance_deg : (double)NAN, 1);
    return o;
}

static void print_all(struct pc_cli *cli, const struct asked *asked)
{
    char figure[PC_FIGURE_BYTES];
    if (pc_args_has(cli->args, "json")) {
        struct pc_json *o = pc_json_object(), *lights = pc_json_array();
        pc_json_put_number(o, "ball_x_px", asked->ball.x_px, 1);
        pc_json_put_number(o, "ball_y_px", asked->ball.y_px, 1);
        pc_json_put_number(o, "ball_across_px", asked->ball.across_px, 1);
        put_figure(o, "camera_distance_m", asked->camera_m, asked->camera_tolerance_m, 4);
        for (size_t i = 0; i < asked->frames; i++)
            pc_json_add(lights, frame_json(&asked->frame[i]));
        pc_json_put(o, "lights", lights);
        pc_cli_put_json(cli, o);
        return;
    }
    pc_print_sentence(cli->out,
                      "The ball lies %s m from the lens. Seen from it, with the camera at six o'clock:",
                      pc_print_figure(figure, asked->camera_m, asked->camera_tolerance_m));
    for (size_t i = 0; i < asked->frames; i++)
        print_light(cli, &asked->frame[i]);
}

static enum pc_status list_frames(struct pc_cli *cli, struct asked *asked, struct pc_err *err)
{
    struct stat st;
    char **paths = NULL;
    const char *first = pc_args_operand(cli->args, 0);
    asked->frames = pc_args_operand_count(cli->args);
    if (asked->frames == 1 && stat(first, &st) == 0 && S_ISDIR(st.st_mode)) {
        PC_TRY(pc_file_list(cli->arena, first, &paths, &asked->frames, err));
        if (asked->frames == 0)
            return pc_fail(err, PC_NOT_FOUND, first, "This folder holds no frames.");
    }
    if (asked->frames > FRAMES_MAX)
        return pc_fail(err, PC_MISUSE, "ball", "More than %d frames cannot be read at once.", FRAMES_MAX);
    for (size_t i = 0; i < asked->frames; i++)
        asked->frame[i].path = paths != NULL ? paths[i] : pc_args_operand(cli->args, i);
    return PC_OK;
}

// As told, or the kit's.
static enum pc_status ball_size(struct pc_cli *cli, struct asked *asked, struct pc_err *err)
{
    asked->ball_mm = BALL_MM;
    asked->ball_tolerance_mm = BALL_TOLD_MM;
    if (pc_args_number(cli->args, "ball-mm", &asked->ball_mm) || !pc_args_has(cli->args, "kit"))
        return PC_OK;
    struct pc_kit kit;
    PC_TRY(pc_kit_read(cli->arena, pc_args_text(cli->args, "kit"), &kit, err));
    asked->ball_mm = 1e3 * kit.ball_m;
    asked->ball_tolerance_mm = 1e3 * kit.ball_m_tolerance;
    return PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct asked *asked = PC_NEW(cli->arena, struct asked);
    asked->light_m = LIGHT_M;
    PC_TRY(ball_size(cli, asked, err));
    pc_args_number(cli->args, "light-m", &asked->light_m);
    PC_TRY(list_frames(cli, asked, err));
    PC_TRY(look(cli, asked, err));
    asked->camera_m = pc_ball_distance_m(&asked->ball, 1e-3 * asked->ball_mm);
    // A thin lens focused at u has its image f u / (u - f) behind it; taken as f, u comes out short by f.
    if (asked->lens.close_up && !asked->from_sheet)
        asked->camera_m += 1e-3 * asked->lens.focal_mm;
    double focal_ratio = asked->lens.focal_tolerance_ratio;
    asked->camera_tolerance_m =
        asked->camera_m * hypot(hypot(focal_ratio, asked->ball_tolerance_mm / asked->ball_mm),
                                asked->ball.radius_tolerance_rad / asked->ball.radius_rad);
    print_all(cli, asked);
    return PC_OK;
}

static const struct pc_option where[] = {
    {.name = "ball",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where the polished ball lies in the picture",
     .otherwise = "the one round thing with a highlight"},
    {.name = "ball-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "its diameter",
     .least = 5,
     .most = 300,
     .otherwise = "the kit's, or 40"},
    {.name = "light-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "about how far the lights are, to a factor of two",
     .least = 0.1,
     .most = 100,
     .otherwise = "1"},
    {.name = "matte", .kind = PC_ARG_POINT, .metavar = "X,Y", .help = "where a matte ball lies, as a check"},
    {.name = "tilt",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how far the camera looks off straight down",
     .least = 0,
     .most = 90,
     .otherwise = "from a sheet of A4 in the first frame"},
    {.name = "tilt-tolerance",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how well that is known, and that neither side hangs lower",
     .least = 0,
     .most = 10,
     .otherwise = "1"},
    {.name = "ambient",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "the same frame with all these lights off"},
    {.name = "linear",
     .kind = PC_ARG_SWITCH,
     .help = "these TIFF or PNG files hold linear light and may be measured like raw files"},
};
static const struct pc_option_group where_group = {"The ball", where, PC_COUNT(where)};
static const struct pc_option_group *const groups[] = {&where_group, &pc_options_lens, &pc_options_kit,
                                                       &pc_options_json, NULL};

const struct pc_verb pc_verb_ball = {
    .name = "ball",
    .question = "where does each light stand?",
    .about = "From frames of one light each with a polished steel ball of 25 to 60 mm on the table: for each "
             "the direction "
             "by the clock (the camera at six) and how high, and how large the light is as seen from there. "
             "The ball must "
             "be 60 pixels across or more, the camera must not move between the frames.\n"
             "A matte ball beside it checks the direction by its shading.",
    .hour = PC_HOUR_SETUP,
    .operands = "FILE... | FOLDER",
    .least_operands = 1,
    .most_operands = FRAMES_MAX,
    .groups = groups,
    .run = run,
};
