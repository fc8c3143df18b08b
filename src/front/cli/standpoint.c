// SPDX-License-Identifier: Apache-2.0
// The verb `standpoint`: where the camera goes, and which.
#include "front/cli/verbs.h"

#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/outlet.h"
#include "front/cli/print.h"
#include "front/cli/standpoint.h"
#include "light/kit/class.h"

#define CM                  0.01
#define MM                  0.001
#define STRAIGHT_DOWN_DEG   90.0
#define TAPED_TOLERANCE_M   0.01 // of a height given on the command line
#define ANGLE_TOLERANCE_DEG 1.0  // of an angle set by eye; straight down is trued with a level

// A figure given in cm or mm as metres; NAN when it is not given.
static double length_m(const struct pc_args *args, const char *option, double unit_m)
{
    double value = NAN;
    pc_args_number(args, option, &value);
    return value * unit_m;
}

static void size_m(const struct pc_args *args, const char *option, double unit_m, double *width_m,
                   double *height_m)
{
    *width_m = *height_m = NAN;
    pc_args_pair(args, option, width_m, height_m);
    *width_m *= unit_m;
    *height_m *= unit_m;
}

// A camera told on the command line, its other facts by the class that its sensor is nearest to.
static enum pc_status tell_camera(struct pc_cli *cli, struct pc_camera *camera, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    bool equivalent = pc_args_has(args, "equivalent-mm");
    const char *option = equivalent ? "equivalent-mm" : "focal-mm";
    if (equivalent && pc_args_has(args, "focal-mm"))
        return pc_fail(err, PC_MISUSE, "--equivalent-mm", "Give it or --focal-mm, not both.");
    if (!pc_args_has(args, option) || !pc_args_has(args, "sensor-mm"))
        return pc_fail(
            err, PC_MISUSE, "standpoint",
            "It needs the cameras: a kit file with --kit, or one camera with --sensor-mm and --focal-mm.");
    *camera = (struct pc_camera){.name = "the camera", .sensor_mm_tolerance = 0.1};
    pc_args_pair(args, "sensor-mm", &camera->sensor_mm[0], &camera->sensor_mm[1]);
    pc_args_pair(args, "pixels", &camera->pixels[0], &camera->pixels[1]);
    if (camera->sensor_mm[0] < camera->sensor_mm[1] || camera->pixels[0] < camera->pixels[1])
        return pc_fail(err, PC_MISUSE, "--sensor-mm", "Sensor and pixels have their longer side first.");
    const struct pc_camera_class *class = &pc_camera_classes[pc_camera_class_nearest(camera->sensor_mm)];
    camera->above_sensor_m = class->above_sensor_m;
    camera->above_sensor_m_tolerance = class->above_sensor_m_tolerance;
    camera->lens_count = pc_args_count(args, option);
    camera->lenses = PC_NEW_N(cli->arena, camera->lens_count, struct pc_lens);
    for (size_t i = 0; i < camera->lens_count; i++) {
        double mm = pc_args_at(args, option, i)->value[0];
        double focal_mm = equivalent ? pc_framing_focal_from_equivalent_m(mm * MM, camera->sensor_mm[0] * MM,
                                                                          camera->sensor_mm[1] * MM) /
                                           MM
                                     : mm;
        camera->lenses[i] = (struct pc_lens){
            .name = pc_arena_printf(cli->arena, equivalent ? "%g mm-equivalent" : "%g mm", mm),
            .focal_mm = focal_mm,
            .focal_mm_tolerance = PC_FRAMING_MARKED_FOCAL_TOLERANCE_RATIO * focal_mm,
            .equivalent_mm = equivalent ? mm : (double)NAN,
            .pupil_ratio = NAN,
            .nearest_m = NAN,
            .front_m = NAN};
    }
    return PC_OK;
}

static enum pc_status gather_cameras(struct pc_cli *cli, const struct pc_kit *kit,
                                     struct pc_standpoint_wish *wish, struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "camera");
    if (!pc_args_has(cli->args, "kit")) {
        struct pc_camera *camera = PC_NEW(cli->arena, struct pc_camera);
        PC_TRY(tell_camera(cli, camera, err));
        wish->cameras = camera;
        wish->camera_count = 1;
        return PC_OK;
    }
    if (pc_args_has(cli->args, "sensor-mm") || pc_args_has(cli->args, "focal-mm") ||
        pc_args_has(cli->args, "equivalent-mm") || pc_args_has(cli->args, "pixels"))
        return pc_fail(err, PC_MISUSE, "--kit",
                       "The kit file tells the cameras; leave --sensor-mm, --pixels, --focal-mm "
                       "and --equivalent-mm out.");
    wish->cameras = kit->cameras;
    wish->camera_count = kit->camera_count;
    if (name == NULL)
        return PC_OK;
    wish->cameras = pc_kit_camera(kit, name);
    wish->camera_count = 1;
    if (wish->cameras != NULL)
        return PC_OK;
    const char **names = PC_NEW_N(cli->arena, kit->camera_count + 1, const char *);
    for (size_t i = 0; i < kit->camera_count; i++)
        names[i] = kit->cameras[i].name;
    return pc_args_no_such(err, "camera", name, names, kit->camera_count, "");
}

static enum pc_status gather_board(struct pc_cli *cli, const struct pc_kit *kit,
                                   struct pc_standpoint_wish *wish, struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "board");
    size_m(cli->args, "board-cm", CM, &wish->board_width_m, &wish->board_depth_m);
    if (name == NULL)
        return PC_OK;
    if (pc_args_has(cli->args, "board-cm"))
        return pc_fail(err, PC_MISUSE, "--board", "Name a board of the kit or give its size, not both.");
    const char **names = PC_NEW_N(cli->arena, kit->board_count + 1, const char *);
    for (size_t i = 0; i < kit->board_count; i++) {
        names[i] = kit->boards[i].name;
        if (strcmp(names[i], name) == 0) {
            wish->board_width_m = kit->boards[i].size_m[0];
            wish->board_depth_m = kit->boards[i].size_m[1];
            return PC_OK;
        }
    }
    return pc_args_no_such(err, "board", name, names, kit->board_count, "");
}

static void gather_heights(struct pc_cli *cli, const struct pc_kit *kit, const struct pc_site *site,
                           struct pc_standpoint_wish *wish)
{
    const struct pc_args *args = cli->args;
    wish->ceiling_m = pc_args_has(args, "site") ? site->ceiling_m : (double)NAN;
    wish->ceiling_m_tolerance = pc_args_has(args, "site") ? site->ceiling_m_tolerance : 0.0;
    if (pc_args_number(args, "ceiling-m", &wish->ceiling_m))
        wish->ceiling_m_tolerance = TAPED_TOLERANCE_M;
    pc_standpoint_supports(cli->arena, kit, site, &wish->supports, &wish->support_count);
    size_t told = pc_args_count(args, "table-m");
    if (told == 0)
        return;
    struct pc_support *supports = PC_NEW_N(cli->arena, told, struct pc_support);
    for (size_t i = 0; i < told; i++)
        supports[i] = (struct pc_support){.name = "table",
                                          .height_m = pc_args_at(args, "table-m", i)->value[0],
                                          .height_m_tolerance = TAPED_TOLERANCE_M};
    wish->supports = supports;
    wish->support_count = told;
}

// The shape of the page or screen, and how many pixels a page wants.
static enum pc_status gather_page(struct pc_cli *cli, struct pc_standpoint_wish *wish, struct pc_err *err)
{
    const struct pc_outlet *outlet;
    PC_TRY(pc_cli_outlet(cli, &outlet, err));
    size_m(cli->args, "page-mm", MM, &wish->page_width_m, &wish->page_height_m);
    bool page = !isnan(wish->page_width_m);
    if (outlet != NULL && page)
        return pc_fail(err, PC_MISUSE, "--page-mm", "Give it or --outlet, not both.");
    if ((outlet != NULL || page) && pc_args_has(cli->args, "high-cm"))
        return pc_fail(err, PC_MISUSE, "--high-cm", "The page has its own shape; leave --high-cm out.");
    wish->least_ppi = page ? PC_STANDPOINT_LEAST_PPI : (double)NAN;
    if (outlet != NULL && pc_outlet_is_page(outlet)) {
        wish->page_width_m = (outlet->size_mm[0] + 2 * outlet->bleed_mm) * MM;
        wish->page_height_m = (outlet->size_mm[1] + 2 * outlet->bleed_mm) * MM;
        wish->least_ppi = outlet->needed_ppi;
    } else if (outlet != NULL) {
        wish->picture_height_m = wish->picture_width_m / pc_outlet_shape_ratio(outlet);
    }
    if (!isnan(wish->page_width_m))
        pc_args_number(cli->args, "least-ppi", &wish->least_ppi);
    return PC_OK;
}

static enum pc_status gather(struct pc_cli *cli, struct pc_kit *kit, struct pc_site *site,
                             struct pc_standpoint_wish *wish, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    if (pc_args_has(args, "kit"))
        PC_TRY(pc_kit_read(cli->arena, pc_args_text(args, "kit"), kit, err));
    pc_site_default(site);
    if (pc_args_has(args, "site"))
        PC_TRY(pc_site_read(cli->arena, pc_args_text(args, "site"), site, err));
    *wish = (struct pc_standpoint_wish){.least_ppi = NAN, .picture_height_m = length_m(args, "high-cm", CM)};
    PC_TRY(gather_cameras(cli, kit, wish, err));
    PC_TRY(gather_board(cli, kit, wish, err));
    gather_heights(cli, kit, site, wish);
    double deg = STRAIGHT_DOWN_DEG, above_m = length_m(args, "hero-cm", CM);
    pc_args_number(args, "angle", &deg);
    wish->elevation_rad = pc_rad_from_deg(deg);
    wish->elevation_rad_tolerance = deg < STRAIGHT_DOWN_DEG ? pc_rad_from_deg(ANGLE_TOLERANCE_DEG) : 0.0;
    wish->hero_above_m = isnan(above_m) ? 0.0 : above_m;
    wish->picture_width_m = length_m(args, "wide-cm", CM);
    PC_TRY(gather_page(cli, wish, err));
    wish->tall_m = length_m(args, "tall-cm", CM);
    wish->tall_off_axis_m = length_m(args, "off-axis-cm", CM);
    if (isnan(wish->tall_m) != isnan(wish->tall_off_axis_m))
        return pc_fail(err, PC_MISUSE, "--tall-cm",
                       "How far a tall thing leans needs both --tall-cm and --off-axis-cm.");
    if (!isnan(wish->picture_height_m) && !isnan(wish->page_width_m))
        return pc_fail(err, PC_MISUSE, "--high-cm",
                       "The page has its own shape; leave --high-cm or --page-mm out.");
    return PC_OK;
}

// What to do when nothing fits: the picture that would, or a lower table.
static enum pc_status none_fits(struct pc_cli *cli, const struct pc_standpoint *points, size_t count,
                                const struct pc_standpoint_wish *wish, struct pc_err *err)
{
    const struct pc_standpoint *best = NULL;
    for (size_t i = 0; i < count; i++)
        if (points[i].why_not == NULL && (best == NULL || points[i].spare_m > best->spare_m))
            best = &points[i];
    PC_ASSERT(best != NULL);
    const char *widest = isnan(best->widest_width_m)
                             ? " or"
                             : pc_arena_printf(cli->arena, ", make the picture at most %.0f cm wide, or",
                                               floor(best->widest_width_m / CM));
    return pc_fail(
        err, PC_BAD_INPUT, wish->support_count > 1 ? "tables" : "table",
        "Nothing fits under the ceiling: even %s with the %s lacks %.0f cm from the lowest table. Lower it%s "
        "choose a shorter lens.",
        best->camera->name, best->lens->name, fmax(ceil(-best->spare_m / CM), 1.0), widest);
}

static const struct pc_option picture_options[] = {
    {.name = "wide-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "width of the picture, measured through the hero",
     .least = 0.5,
     .most = 2000,
     .required = true},
    {.name = "high-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "its height",
     .least = 0.5,
     .most = 2000,
     .otherwise = "the page's shape, or the sensor's"},
    {.name = "page-mm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "printed size, bleed included: gives the shape, and pixels an inch",
     .least = 5,
     .most = 5000},
    {.name = "least-ppi",
     .kind = PC_ARG_NUMBER,
     .metavar = "PPI",
     .help = "pixels an inch that the page wants",
     .least = 10,
     .most = 2400,
     .otherwise = "300"},
    {.name = "angle",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how far the camera looks down: 90 is straight down",
     .least = 1,
     .most = 90,
     .otherwise = "90"},
    {.name = "hero-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "height above the table of what is in focus",
     .least = 0,
     .most = 200,
     .otherwise = "the table itself"},
    {.name = "tall-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "height of the tallest thing, to tell how far it leans",
     .least = 0.1,
     .most = 300},
    {.name = "off-axis-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "how far it stands to the side of the middle",
     .least = 0,
     .most = 500},
    {.name = "board-cm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxD",
     .help = "size of the board under it, across and away from the camera",
     .least = 1,
     .most = 1000},
    {.name = "board",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "a board of the kit, its long side across"},
};
static const struct pc_option camera_options[] = {
    {.name = "camera",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "only this camera of the kit",
     .otherwise = "all of them"},
    {.name = "sensor-mm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "without a kit: the sensor, longer side first",
     .least = 2,
     .most = 120},
    {.name = "pixels",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "without a kit: pixels of a frame, longer side first",
     .least = 100,
     .most = 60000},
    {.name = "focal-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "without a kit: focal length, as marked",
     .least = 1,
     .most = 1200,
     .repeatable = true},
    {.name = "equivalent-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "the same as phones state it, on 36 x 24 mm by diagonal",
     .least = 5,
     .most = 2000,
     .repeatable = true},
};
static const struct pc_option height_options[] = {
    {.name = "ceiling-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "height of the ceiling",
     .least = 1,
     .most = 50,
     .otherwise = "the place file's, or none"},
    {.name = "table-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "height of a table or trestle that the board may lie on",
     .least = 0,
     .most = 3,
     .repeatable = true,
     .otherwise = "the place's table and trestles, or 0.75"},
};
static const struct pc_option_group picture_group = {"The picture", picture_options,
                                                     PC_COUNT(picture_options)};
static const struct pc_option_group camera_group = {"The camera", camera_options, PC_COUNT(camera_options)};
static const struct pc_option_group height_group = {"Heights above the floor", height_options,
                                                    PC_COUNT(height_options)};
static const struct pc_option_group *const groups[] = {
    &picture_group, &pc_options_outlet,  &pc_options_kit,  &camera_group, &pc_options_site,
    &height_group,  &pc_options_section, &pc_options_json, NULL};

static enum pc_status draw(struct pc_cli *cli, const struct pc_kit *kit, const struct pc_site *site,
                           const struct pc_standpoint_wish *wish, const struct pc_standpoint *best,
                           struct pc_err *err)
{
    struct pc_section section;
    pc_standpoint_section(wish, best, site, kit->arm_count > 0 ? kit->arms[0].length_m : (double)NAN,
                          &section);
    section.camera = pc_arena_printf(cli->arena, "%s, %s", best->camera->name, best->lens->name);
    section.title = pc_arena_printf(cli->arena, "%s with the %s from the %s", best->camera->name,
                                    best->lens->name, best->support->name);
    return pc_section_save(&section, pc_args_text(cli->args, "section"), err);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_standpoint_wish wish;
    struct pc_standpoint *points;
    size_t count;
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    struct pc_site *site = PC_NEW(cli->arena, struct pc_site);
    PC_TRY(gather(cli, kit, site, &wish, err));
    PC_TRY(pc_standpoint_find(cli->arena, &wish, &points, &count, err));
    if (points[0].support == NULL)
        return none_fits(cli, points, count, &wish, err);
    if (pc_args_has(cli->args, "section"))
        PC_TRY(draw(cli, kit, site, &wish, &points[0], err));
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_standpoint_json(&wish, points, count));
    else
        pc_standpoint_print(cli, &wish, points, count);
    return PC_OK;
}

const struct pc_verb pc_verb_standpoint = {
    .name = "standpoint",
    .question = "where does the camera go?",
    .about = "Tells which camera and lens show a picture of this width, from how far, from which table it "
             "fits under "
             "the ceiling, what else gets into the picture and how far tall things lean. Several cameras, "
             "lenses and "
             "tables are tried at once, the best first.\n"
             "With --kit and --site cameras, boards, tables and ceiling come from files; without them one "
             "camera can be "
             "told here.",
    .hour = PC_HOUR_SETUP,
    .operands = "",
    .groups = groups,
    .run = run,
};
