// SPDX-License-Identifier: Apache-2.0
#include "front/cli/lens_asked.h"

#include "light/kit/kit.h"

#define DIAGONAL_35MM_MM 43.266615305567871 // of 36 x 24

static const struct pc_option lens[] = {
    {.name = "focal-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "the lens's focal length",
     .least = 1,
     .most = 2000,
     .otherwise = "as the file says"},
    {.name = "focal-tolerance-pct",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "what the focal length is good to",
     .least = 0,
     .most = 20,
     .otherwise = "3, as marked on lenses"},
    {.name = "equivalent-mm",
     .kind = PC_ARG_NUMBER,
     .metavar = "MM",
     .help = "the focal length in terms of 36 x 24 mm, by the diagonal",
     .least = 4,
     .most = 2000,
     .otherwise = "as the file says"},
    {.name = "sensor-mm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "the sensor, longer side first",
     .least = 2,
     .most = 120,
     .otherwise = "the kit's, or from the file's equivalent"},
    {.name = "camera",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "which camera of the kit took it",
     .otherwise = "the only one, or the one of as many pixels"},
};
const struct pc_option_group pc_options_lens = {"The lens", lens, PC_COUNT(lens)};

static bool has_pixels(const struct pc_camera *camera, double longer_px, double shorter_px)
{
    return fabs(camera->pixels[0] - longer_px) < 0.02 * longer_px &&
           fabs(camera->pixels[1] - shorter_px) < 0.02 * shorter_px;
}

// The longer side of the sensor in the kit; NAN when the kit does not tell which camera it was.
static enum pc_status sensor_of_kit(const struct pc_cli *cli, double longer_px, double shorter_px,
                                    double *sensor_mm, struct pc_err *err)
{
    struct pc_kit kit;
    const char *name = pc_args_text(cli->args, "camera");
    PC_TRY(pc_kit_read(cli->arena, pc_args_text(cli->args, "kit"), &kit, err));
    if (name != NULL) {
        const struct pc_camera *camera = pc_kit_camera(&kit, name);
        if (camera != NULL) {
            *sensor_mm = camera->sensor_mm[0];
            return PC_OK;
        }
        const char **names = PC_NEW_N(cli->arena, kit.camera_count + 1, const char *);
        for (size_t i = 0; i < kit.camera_count; i++)
            names[i] = kit.cameras[i].name;
        return pc_args_no_such(err, "camera in the kit", name, names, kit.camera_count, "");
    }
    int fitting = 0;
    for (size_t i = 0; i < kit.camera_count; i++)
        if (kit.camera_count == 1 || has_pixels(&kit.cameras[i], longer_px, shorter_px)) {
            *sensor_mm = kit.cameras[i].sensor_mm[0];
            fitting++;
        }
    if (fitting != 1)
        *sensor_mm = NAN;
    return PC_OK;
}

enum pc_status pc_lens_asked(const struct pc_cli *cli, const struct pc_photo *photo,
                             struct pc_pose_lens *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    int width_px = photo->picture.full_width_px, height_px = photo->picture.full_height_px;
    double longer_px = fmax(width_px, height_px), shorter_px = fmin(width_px, height_px);
    double focal_mm = photo->facts.focal_mm, equivalent_mm = photo->facts.focal_35mm_mm,
           sensor[2] = {NAN, NAN};
    double tolerance_pct = 100 * pc_pose_marked_focal_tolerance;
    if (pc_args_has(args, "camera") && !pc_args_has(args, "kit"))
        return pc_fail(err, PC_MISUSE, "--camera", "Name the kit file that knows it with --kit.");
    // A focal length told is not the one that the file's equivalent belongs to.
    if (pc_args_number(args, "focal-mm", &focal_mm))
        equivalent_mm = NAN;
    pc_args_number(args, "equivalent-mm", &equivalent_mm);
    pc_args_number(args, "focal-tolerance-pct", &tolerance_pct);
    if (!pc_args_pair(args, "sensor-mm", &sensor[0], &sensor[1]) && pc_args_has(args, "kit"))
        PC_TRY(sensor_of_kit(cli, longer_px, shorter_px, &sensor[0], err));
    *asked = (struct pc_pose_lens){.width_px = width_px,
                                   .height_px = height_px,
                                   .focal_mm = focal_mm,
                                   .focal_tolerance_ratio = tolerance_pct / 100,
                                   .px_per_mm = NAN,
                                   .close_up = true};
    if (!isnan(focal_mm) && !isnan(sensor[0])) {
        asked->px_per_mm = longer_px / sensor[0];
    } else if (!isnan(focal_mm) && !isnan(equivalent_mm)) {
        asked->px_per_mm = pc_pose_px_per_mm_from_35mm(width_px, height_px, focal_mm, equivalent_mm);
    } else if (!isnan(equivalent_mm)) { // how far the lens moves out for a close subject is then not known
        asked->focal_mm = equivalent_mm;
        asked->px_per_mm = hypot(width_px, height_px) / DIAGONAL_35MM_MM;
        asked->close_up = false;
    } else {
        asked->focal_mm = NAN;
    }
    return PC_OK;
}
