// SPDX-License-Identifier: Apache-2.0
// What `depth` was asked, from options, kit and outlet.
#include "front/cli/depth.h"

#include "front/cli/outlet.h"
#include "image/camera/framing.h"
#include "light/kit/kit.h"

#define MM                    0.001
#define CM                    0.01
#define VIEWING_M             0.25 // a page in the hand
#define OVERLAP_PCT           30.0
#define GIVEN_PUPIL_TOLERANCE 0.05

// NAN where it is not known.
struct sensor {
    double width_m, height_m, width_px, height_px;
};

static enum pc_status find_lens(struct pc_cli *cli, const struct pc_camera *camera,
                                const struct pc_lens **lens, struct pc_err *err)
{
    const char *name = pc_args_text(cli->args, "lens");
    if (name == NULL && camera->lens_count == 1)
        *lens = &camera->lenses[0];
    if (name == NULL)
        return *lens != NULL ? PC_OK
                             : pc_fail(err, PC_MISUSE, "--lens", "%s has %zu lenses; say which one.",
                                       camera->name, camera->lens_count);
    const char **names = PC_NEW_N(cli->arena, camera->lens_count + 1, const char *);
    for (size_t i = 0; i < camera->lens_count; i++) {
        names[i] = camera->lenses[i].name;
        if (strcmp(names[i], name) == 0)
            *lens = &camera->lenses[i];
    }
    return *lens != NULL ? PC_OK : pc_args_no_such(err, "lens", name, names, camera->lens_count, "");
}

static enum pc_status take_kit_lens(struct pc_cli *cli, struct pc_depth_setup *setup, struct sensor *sensor,
                                    struct pc_err *err)
{
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    const struct pc_lens *lens = NULL;
    PC_TRY(pc_kit_read(cli->arena, pc_args_text(cli->args, "kit"), kit, err));
    const char *name = pc_args_text(cli->args, "camera");
    const struct pc_camera *camera = name != NULL ? pc_kit_camera(kit, name) : NULL;
    if (name == NULL && kit->camera_count == 1)
        camera = &kit->cameras[0];
    if (camera == NULL)
        return pc_fail(err, PC_MISUSE, "--camera", "Name one of the kit's %zu cameras.", kit->camera_count);
    PC_TRY(find_lens(cli, camera, &lens, err));
    PC_ASSERT(lens != NULL);
    setup->focal_m = lens->focal_mm * MM;
    setup->focal_m_tolerance = lens->focal_mm_tolerance * MM;
    setup->pupil_ratio = lens->pupil_ratio;
    setup->pupil_ratio_tolerance = lens->pupil_ratio_tolerance;
    *sensor = (struct sensor){camera->sensor_mm[0] * MM, camera->sensor_mm[1] * MM, camera->pixels[0],
                              camera->pixels[1]};
    return PC_OK;
}

// The lens from the kit, or as told.
static enum pc_status gather_lens(struct pc_cli *cli, struct pc_depth_setup *setup, struct sensor *sensor,
                                  struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    *sensor = (struct sensor){NAN, NAN, NAN, NAN};
    setup->pupil_ratio = NAN;
    if (pc_args_has(args, "kit"))
        PC_TRY(take_kit_lens(cli, setup, sensor, err));
    double focal_mm, width_mm, height_mm;
    if (pc_args_number(args, "focal-mm", &focal_mm)) {
        setup->focal_m = focal_mm * MM;
        setup->focal_m_tolerance = PC_FRAMING_MARKED_FOCAL_TOLERANCE_RATIO * setup->focal_m;
    }
    if (!(setup->focal_m > 0))
        return pc_fail(err, PC_MISUSE, "depth", "It needs the lens: --focal-mm, or a kit file with --kit.");
    if (pc_args_number(args, "pupil-ratio", &setup->pupil_ratio))
        setup->pupil_ratio_tolerance = GIVEN_PUPIL_TOLERANCE;
    if (pc_args_pair(args, "sensor-mm", &width_mm, &height_mm))
        *sensor = (struct sensor){fmax(width_mm, height_mm) * MM, fmin(width_mm, height_mm) * MM, NAN, NAN};
    return PC_OK;
}

// How the picture is shown: its shape, in any unit, and what that asks of sharpness.
enum shown { BY_COC, BY_PAGE, BY_PIXELS, BY_OUTLET };

static enum pc_status gather_shown(struct pc_cli *cli, const struct sensor *sensor, enum shown *shown,
                                   double shape[2], const struct pc_outlet **outlet, struct pc_err *err)
{
    static const char *const options[] = {
        [BY_COC] = "coc-mm", [BY_PAGE] = "page-mm", [BY_PIXELS] = "output-px", [BY_OUTLET] = "outlet"};
    int given = 0;
    for (size_t i = 0; i < PC_COUNT(options); i++)
        if (pc_args_has(cli->args, options[i])) {
            *shown = (enum shown)i;
            given++;
        }
    PC_TRY(pc_cli_outlet(cli, outlet, err));
    if (given != 1)
        return pc_fail(
            err, PC_MISUSE, "depth",
            "How sharp it has to be comes from one of --outlet, --page-mm, --output-px and --coc-mm.");
    shape[0] = sensor->width_m;
    shape[1] = sensor->height_m;
    if (*shown == BY_PAGE || *shown == BY_PIXELS)
        pc_args_pair(cli->args, options[*shown], &shape[0], &shape[1]);
    if (*shown == BY_OUTLET) {
        shape[0] = pc_outlet_shape_ratio(*outlet);
        shape[1] = 1.0;
    }
    return PC_OK;
}

static void find_coc(struct pc_cli *cli, struct pc_cli_depth_asked *asked, const struct sensor *sensor,
                     enum shown shown, const double shape[2], const struct pc_outlet *outlet, double used_m)
{
    struct pc_depth_setup *setup = &asked->setup;
    double coc_mm = NAN, viewing_cm = VIEWING_M / CM;
    pc_args_number(cli->args, "viewing-cm", &viewing_cm);
    switch (shown) {
    case BY_COC:
        pc_args_number(cli->args, "coc-mm", &coc_mm);
        setup->coc_m = coc_mm * MM;
        asked->coc_from = "as given";
        break;
    case BY_PAGE:
        setup->coc_m = pc_depth_coc_from_print_m(used_m, shape[0] * MM, viewing_cm * CM);
        asked->coc_from = pc_arena_printf(cli->arena, "a page of %.0f x %.0f mm seen from %.0f cm", shape[0],
                                          shape[1], viewing_cm);
        break;
    case BY_PIXELS:
        setup->coc_m = pc_depth_coc_from_pixels_m(used_m, shape[0]);
        asked->coc_from =
            pc_arena_printf(cli->arena, "one and a half of %.0f x %.0f pixels", shape[0], shape[1]);
        break;
    case BY_OUTLET: {
        double across_m = shape[1] > shape[0] ? sensor->height_m : sensor->width_m;
        double across_px = shape[1] > shape[0] ? sensor->height_px : sensor->width_px;
        setup->coc_m =
            MM * pc_outlet_confusion_mm(outlet, used_m / MM,
                                        isnan(across_px) ? (double)INFINITY : across_px * used_m / across_m);
        asked->coc_from = pc_arena_printf(cli->arena, "for %s", outlet->name);
    }
    }
}

// Circle of confusion, and the magnification from the width of the picture, by the shape that it is shown in.
static enum pc_status gather_picture(struct pc_cli *cli, struct pc_cli_depth_asked *asked,
                                     const struct sensor *sensor, struct pc_err *err)
{
    double wide_cm, shape[2];
    enum shown shown = BY_COC;
    const struct pc_outlet *outlet;
    PC_TRY(gather_shown(cli, sensor, &shown, shape, &outlet, err));
    bool wide = pc_args_number(cli->args, "wide-cm", &wide_cm);
    if (wide == pc_args_has(cli->args, "magnification"))
        return pc_fail(err, PC_MISUSE, "depth",
                       "How near it is comes from --wide-cm or --magnification, one of them.");
    if ((wide || shown != BY_COC) && isnan(sensor->width_m))
        return pc_fail(err, PC_MISUSE, "depth",
                       "It needs the sensor as well: --sensor-mm, or a kit file with --kit.");
    double used_m = pc_framing_used_width_m(sensor->width_m, sensor->height_m, shape[0], shape[1]);
    pc_args_number(cli->args, "magnification", &asked->setup.magnification_ratio);
    if (wide)
        asked->setup.magnification_ratio = used_m / (wide_cm * CM);
    find_coc(cli, asked, sensor, shown, shape, outlet, used_m);
    return PC_OK;
}

enum pc_status pc_cli_depth_gather(struct pc_cli *cli, struct pc_cli_depth_asked *asked, struct pc_err *err)
{
    double deep_mm, overlap_pct = OVERLAP_PCT;
    struct sensor sensor;
    struct pc_depth_setup *setup = &asked->setup;
    *asked = (struct pc_cli_depth_asked){.deep_m = NAN};
    PC_TRY(gather_lens(cli, setup, &sensor, err));
    PC_TRY(gather_picture(cli, asked, &sensor, err));
    pc_args_number(cli->args, "f", &setup->f_number);
    setup->f_number_tolerance = PC_DEPTH_F_NUMBER_TOLERANCE_RATIO * setup->f_number;
    setup->coc_m_tolerance = PC_DEPTH_COC_TOLERANCE_RATIO * setup->coc_m;
    setup->magnification_ratio_tolerance =
        PC_DEPTH_MAGNIFICATION_TOLERANCE_RATIO * setup->magnification_ratio;
    pc_args_number(cli->args, "overlap", &overlap_pct);
    asked->overlap_ratio = overlap_pct / 100;
    if (pc_args_number(cli->args, "deep-mm", &deep_mm))
        asked->deep_m = deep_mm * MM;
    return PC_OK;
}
