// SPDX-License-Identifier: Apache-2.0
// What `depth` was asked, from options, kit and outlet.
#include "front/cli/depth.h"

#include "front/cli/framed.h"
#include "image/camera/framing.h"

#define MM                    0.001
#define OVERLAP_PCT           30.0
#define GIVEN_PUPIL_TOLERANCE 0.05

static enum pc_status take_kit_lens(struct pc_cli *cli, struct pc_depth_setup *setup,
                                    struct pc_cli_sensor *sensor, struct pc_err *err)
{
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    const struct pc_camera *camera;
    const struct pc_lens *lens;
    PC_TRY(pc_kit_read(cli->arena, pc_args_text(cli->args, "kit"), kit, err));
    PC_TRY(pc_cli_camera(cli, kit, &camera, err));
    PC_TRY(pc_cli_lens(cli, camera, &lens, err));
    setup->focal_m = lens->focal_mm * MM;
    setup->focal_m_tolerance = lens->focal_mm_tolerance * MM;
    setup->pupil_ratio = lens->pupil_ratio;
    setup->pupil_ratio_tolerance = lens->pupil_ratio_tolerance;
    *sensor = (struct pc_cli_sensor){{camera->sensor_mm[0] * MM, camera->sensor_mm[1] * MM},
                                     {camera->pixels[0], camera->pixels[1]}};
    return PC_OK;
}

// The lens from the kit, or as told.
static enum pc_status gather_lens(struct pc_cli *cli, struct pc_depth_setup *setup,
                                  struct pc_cli_sensor *sensor, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    *sensor = (struct pc_cli_sensor){{NAN, NAN}, {NAN, NAN}};
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
        *sensor = (struct pc_cli_sensor){{fmax(width_mm, height_mm) * MM, fmin(width_mm, height_mm) * MM},
                                         {NAN, NAN}};
    return PC_OK;
}

enum pc_status pc_cli_depth_gather(struct pc_cli *cli, struct pc_cli_depth_asked *asked, struct pc_err *err)
{
    double deep_mm, overlap_pct = OVERLAP_PCT;
    struct pc_cli_sensor sensor;
    struct pc_framed framed;
    struct pc_depth_setup *setup = &asked->setup;
    *asked = (struct pc_cli_depth_asked){.deep_m = NAN};
    PC_TRY(gather_lens(cli, setup, &sensor, err));
    PC_TRY(pc_cli_framed(cli, "depth", &sensor, true, &framed, err));
    setup->magnification_ratio = framed.magnification_ratio;
    setup->coc_m = framed.coc_m;
    asked->coc_from = framed.coc_from;
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
