// SPDX-License-Identifier: Apache-2.0
#include "front/cli/framed.h"

#include "front/cli/outlet.h"
#include "image/camera/depth.h"
#include "image/camera/framing.h"

#define MM          0.001
#define CM          0.01
#define MM_PER_INCH 25.4
#define VIEWING_CM  25.0  // a page in the hand
#define PAGE_PPI    300.0 // what printers ask for

static const struct pc_option taking[] = {
    {.name = "camera",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "a camera of the kit",
     .otherwise = "the only one"},
    {.name = "lens",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "a lens of that camera",
     .otherwise = "its only one"},
    {.name = "focal-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "focal length; a phone's own, not its equivalent",
     .least = 1,
     .most = 1200},
    {.name = "pupil-ratio",
     .kind = PC_ARG_NUMBER,
     .metavar = "RATIO",
     .help = "width of the bright disc in the lens seen from behind, over that seen from the front",
     .least = 0.2,
     .most = 5,
     .otherwise = "unknown: 1, within 0.3"},
};
const struct pc_option_group pc_options_taking = {"Camera and lens", taking, PC_COUNT(taking)};

static const struct pc_option picture[] = {
    {.name = "wide-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "width of the picture, measured through the plane in focus",
     .least = 0.5,
     .most = 100000},
    {.name = "magnification",
     .kind = PC_ARG_NUMBER,
     .metavar = "RATIO",
     .help = "size on the sensor over true size, instead",
     .least = 1e-5,
     .most = 10},
    {.name = "page-mm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "printed size, bleed included, for how sharp it has to be, instead of an outlet",
     .least = 5,
     .most = 5000},
    {.name = "viewing-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "how far from the eye the page is",
     .least = 5,
     .most = 10000,
     .otherwise = "25"},
    {.name = "output-px",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "pixels of the picture as delivered, instead of a page",
     .least = 16,
     .most = 60000},
    {.name = "coc-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "circle of confusion on the sensor, instead of any of these",
     .least = 0.0001,
     .most = 1},
};
const struct pc_option_group pc_options_framed = {"The picture", picture, PC_COUNT(picture)};

enum pc_status pc_cli_camera(struct pc_cli *cli, const struct pc_kit *kit, const struct pc_camera **camera,
                             struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "camera");
    *camera = name != NULL ? pc_kit_camera(kit, name) : kit->camera_count == 1 ? &kit->cameras[0] : NULL;
    if (*camera != NULL)
        return PC_OK;
    if (name == NULL)
        return pc_fail(err, PC_MISUSE, "--camera", "Name one of the kit's %zu cameras.", kit->camera_count);
    const char **names = PC_NEW_N(cli->arena, kit->camera_count + 1, const char *);
    for (size_t i = 0; i < kit->camera_count; i++)
        names[i] = kit->cameras[i].name;
    return pc_args_no_such(err, "camera in the kit", name, names, kit->camera_count, "");
}

enum pc_status pc_cli_lens(struct pc_cli *cli, const struct pc_camera *camera, const struct pc_lens **lens,
                           struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "lens");
    const char **names = PC_NEW_N(cli->arena, camera->lens_count + 1, const char *);
    *lens = NULL;
    for (size_t i = 0; i < camera->lens_count; i++) {
        names[i] = camera->lenses[i].name;
        if (name != NULL ? strcmp(names[i], name) == 0 : camera->lens_count == 1)
            *lens = &camera->lenses[i];
    }
    if (*lens != NULL)
        return PC_OK;
    return name != NULL ? pc_args_no_such(err, "lens on this camera", name, names, camera->lens_count, "")
                        : pc_fail(err, PC_MISUSE, "--lens", "%s has %zu lenses; say which one.", camera->name,
                                  camera->lens_count);
}

// How the picture is shown: its shape, in any unit, and what that asks of sharpness.
enum way { BY_COC, BY_PAGE, BY_PIXELS, BY_OUTLET, WAYS, BY_USUAL };

struct shown {
    enum way way;
    double shape[2];
    const struct pc_outlet *outlet;
};

static enum pc_status find_shown(struct pc_cli *cli, const char *verb, const struct pc_cli_sensor *sensor,
                                 bool must_say, struct shown *shown, struct pc_err *err)
{
    static const char *const options[WAYS] = {
        [BY_COC] = "coc-mm", [BY_PAGE] = "page-mm", [BY_PIXELS] = "output-px", [BY_OUTLET] = "outlet"};
    int given = 0;
    *shown = (struct shown){.way = BY_USUAL, .shape = {sensor->size_m[0], sensor->size_m[1]}};
    for (enum way way = BY_COC; way < WAYS; way++)
        if (pc_args_has(cli->args, options[way])) {
            shown->way = way;
            given++;
        }
    PC_TRY(pc_cli_outlet(cli, &shown->outlet, err));
    if (given > 1 || (must_say && given == 0))
        return pc_fail(
            err, PC_MISUSE, verb,
            "How sharp it has to be comes from one of --outlet, --page-mm, --output-px and --coc-mm.");
    if (shown->way == BY_PAGE || shown->way == BY_PIXELS)
        pc_args_pair(cli->args, options[shown->way], &shown->shape[0], &shown->shape[1]);
    if (shown->way == BY_OUTLET) {
        shown->shape[0] = pc_outlet_shape_ratio(shown->outlet);
        shown->shape[1] = 1.0;
    }
    return PC_OK;
}

static void find_coc(struct pc_cli *cli, const struct pc_cli_sensor *sensor, const struct shown *shown,
                     double used_m, struct pc_framed *framed)
{
    const double *shape = shown->shape;
    double coc_mm = NAN, viewing_cm = VIEWING_CM;
    double usual_px = fmin(PC_FRAMED_USUAL_PX, sensor->size_px[0]); // fmin passes over NAN
    bool upright = shape[1] > shape[0];
    double sensor_px_per_m = sensor->size_px[upright] / sensor->size_m[upright];
    pc_args_number(cli->args, "viewing-cm", &viewing_cm);
    framed->px_per_m = usual_px / sensor->size_m[0];
    switch (shown->way) {
    case BY_COC:
        pc_args_number(cli->args, "coc-mm", &coc_mm);
        framed->coc_m = coc_mm * MM;
        framed->coc_from = "as given";
        break;
    case BY_PAGE:
        framed->coc_m = pc_depth_coc_from_print_m(used_m, shape[0] * MM, viewing_cm * CM);
        framed->coc_from = pc_arena_printf(cli->arena, "a page of %.0f x %.0f mm seen from %.0f cm", shape[0],
                                           shape[1], viewing_cm);
        framed->px_per_m = fmin(shape[0] / MM_PER_INCH * PAGE_PPI / used_m, sensor_px_per_m);
        break;
    case BY_PIXELS:
        framed->coc_m = pc_depth_coc_from_pixels_m(used_m, shape[0]);
        framed->coc_from =
            pc_arena_printf(cli->arena, "one and a half of %.0f x %.0f pixels", shape[0], shape[1]);
        framed->px_per_m = shape[0] / used_m;
        break;
    case BY_OUTLET: {
        double needed_px[2];
        double across_px = sensor_px_per_m * used_m;
        pc_outlet_needed_px(shown->outlet, needed_px);
        framed->coc_m = MM * pc_outlet_confusion_mm(shown->outlet, used_m / MM,
                                                    isnan(across_px) ? (double)INFINITY : across_px);
        framed->coc_from = pc_arena_printf(cli->arena, "for %s", shown->outlet->name);
        framed->px_per_m = fmin(needed_px[0], across_px) / used_m;
        break;
    }
    default:
        framed->coc_m = pc_depth_coc_from_pixels_m(sensor->size_m[0], usual_px);
        framed->coc_from = pc_arena_printf(cli->arena, "one and a half of %.0f pixels across", usual_px);
    }
}

enum pc_status pc_cli_framed(struct pc_cli *cli, const char *verb, const struct pc_cli_sensor *sensor,
                             bool must_say, struct pc_framed *framed, struct pc_err *err)
{
    double wide_cm;
    struct shown shown;
    PC_TRY(find_shown(cli, verb, sensor, must_say, &shown, err));
    *framed = (struct pc_framed){0};
    bool wide = pc_args_number(cli->args, "wide-cm", &wide_cm);
    if (wide == pc_args_has(cli->args, "magnification"))
        return pc_fail(
            err, PC_MISUSE, verb,
            "How near it is comes from --wide-cm, the width of the picture, or --magnification, one "
            "of them.");
    if ((wide || shown.way != BY_COC) && isnan(sensor->size_m[0]))
        return pc_fail(err, PC_MISUSE, verb,
                       "It needs the sensor as well: --sensor-mm, or a kit file with --kit.");
    double used_m =
        pc_framing_used_width_m(sensor->size_m[0], sensor->size_m[1], shown.shape[0], shown.shape[1]);
    pc_args_number(cli->args, "magnification", &framed->magnification_ratio);
    if (wide)
        framed->magnification_ratio = used_m / (wide_cm * CM);
    find_coc(cli, sensor, &shown, used_m, framed);
    return PC_OK;
}
