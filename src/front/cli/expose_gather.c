// SPDX-License-Identifier: Apache-2.0
// What `expose` is asked: camera, picture, lamps and dials, from the kit or as told.
#include "front/cli/expose.h"

#include "image/camera/depth.h"
#include "image/camera/expose_blur.h"
#include "image/camera/framing.h"
#include "light/kit/class.h"
#include "light/kit/kit.h"

#define MM                0.001
#define CM                0.01
#define CARD_RATIO        0.18
#define USUAL_CLASS       1    // full frame
#define USUAL_RIPPLE_PCT  30.0 // of a plain LED lamp
#define RIPPLE_TOLERANCE  0.5  // of a figure that nobody measured
#define LONGEST_HAND_S    0.5
#define LONGEST_S         30.0
#define SHORTEST_S        (1.0 / 8000)
#define NOISIEST_ISO      6400.0
#define FALL_TOLERANCE    0.1  // of a pour's height, as its speed goes by the root
#define SPEED_TOLERANCE   0.2  // of a speed that is typed
#define FRAMING_TOLERANCE 0.03 // of the magnification, from a marked focal length
#define FLASH_TOLERANCE   0.06 // of the f-number, a sixth of a stop
#define REACH_TOLERANCE   0.03 // of the flash's distance, by tape
#define LEAST_POWER       (1.0 / 64)
#define POWER_STEP_EV     (1.0 / 3)

static void take_camera(const struct pc_camera *camera, struct pc_expose_asked *asked)
{
    struct pc_expose_ask *ask = &asked->ask;
    ask->sensor_width_m = camera->sensor_mm[0] * MM;
    ask->sensor_px = camera->pixels[0];
    asked->sensor = (struct pc_cli_sensor){{camera->sensor_mm[0] * MM, camera->sensor_mm[1] * MM},
                                           {camera->pixels[0], camera->pixels[1]}};
    ask->sensor = (struct pc_sensor){.full_well_e = camera->full_well_e,
                                     .full_well_e_tolerance = camera->full_well_e_tolerance,
                                     .read_noise_e = camera->read_noise_e,
                                     .read_noise_e_tolerance = camera->read_noise_e_tolerance,
                                     .base_iso = camera->base_iso};
    ask->least_iso = camera->base_iso;
    ask->flash.sync_s = camera->sync_s;
    asked->camera = camera->name;
}

static void take_class(int index, struct pc_expose_asked *asked)
{
    const struct pc_camera_class *camera = &pc_camera_classes[index];
    take_camera(&(struct pc_camera){.name = camera->name,
                                    .sensor_mm = {camera->sensor_mm[0], camera->sensor_mm[1]},
                                    .pixels = {camera->pixels[0], camera->pixels[1]},
                                    .sync_s = camera->sync_s,
                                    .full_well_e = camera->full_well_e,
                                    .full_well_e_tolerance = camera->full_well_e_tolerance,
                                    .read_noise_e = camera->read_noise_e,
                                    .read_noise_e_tolerance = camera->read_noise_e_tolerance,
                                    .base_iso = 100},
                asked);
}

static enum pc_status take_kit(struct pc_cli *cli, const struct pc_kit *kit, struct pc_expose_asked *asked,
                               struct pc_err *err)
{
    const char *flash = pc_args_text(cli->args, "flash");
    const struct pc_camera *camera;
    const struct pc_lens *lens;
    PC_TRY(pc_cli_camera(cli, kit, &camera, err));
    PC_TRY(pc_cli_lens(cli, camera, &lens, err));
    take_camera(camera, asked);
    asked->noisy_iso = camera->noisy_iso;
    asked->ask.focal_m = lens->focal_mm * MM;
    asked->ask.pupil_ratio = lens->pupil_ratio;
    asked->ask.widest_f = lens->widest_f;
    asked->ask.narrowest_f = lens->narrowest_f;
    if (flash == NULL)
        return PC_OK;
    const char **names = PC_NEW_N(cli->arena, kit->flash_count + 1, const char *);
    for (size_t i = 0; i < kit->flash_count; i++) {
        names[i] = kit->flashes[i].name;
        if (strcmp(names[i], flash) == 0) {
            asked->ask.flash.full_f = kit->flashes[i].f_at_1m;
            asked->ask.flash.full_f_tolerance = kit->flashes[i].f_at_1m_tolerance;
            asked->ask.has_flash = true;
            asked->flash = flash;
            return PC_OK;
        }
    }
    return pc_args_no_such(err, "flash in the kit", flash, names, kit->flash_count, "");
}

// Whoever has no kit file says what is not usual.
static enum pc_status take_told(struct pc_cli *cli, struct pc_expose_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    const char *name = pc_args_text(args, "class");
    int index = USUAL_CLASS;
    if (pc_args_has(args, "camera") || pc_args_has(args, "lens") || pc_args_has(args, "flash"))
        return pc_fail(err, PC_MISUSE, "--kit", "Cameras, lenses and flashes have names in a kit file only.");
    if (name != NULL) {
        for (index = (int)pc_camera_class_count - 1; index >= 0; index--)
            if (strcmp(pc_camera_classes[index].name, name) == 0)
                break;
        if (index < 0)
            return pc_args_no_such(err, "class of cameras", name, pc_camera_class_names,
                                   pc_camera_class_count, "");
    }
    take_class(index, asked);
    return PC_OK;
}

static enum pc_status gather_framing(struct pc_cli *cli, struct pc_expose_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_expose_ask *ask = &asked->ask;
    double focal_mm;
    if (pc_args_number(args, "focal-mm", &focal_mm))
        ask->focal_m = focal_mm * MM;
    pc_args_number(args, "pupil-ratio", &ask->pupil_ratio);
    struct pc_framed framed;
    PC_TRY(pc_cli_framed(cli, "expose", &asked->sensor, false, &framed, err));
    ask->magnification_ratio = framed.magnification_ratio;
    ask->magnification_ratio_tolerance = FRAMING_TOLERANCE * ask->magnification_ratio;
    ask->coc_m = framed.coc_m;
    ask->output_px = framed.px_per_m * ask->sensor_width_m; // over the whole sensor
    double deep_mm = 0;
    pc_args_number(args, "deep-mm", &deep_mm);
    ask->depth_m = deep_mm * MM;
    ask->hand = pc_args_has(args, "hand");
    if ((ask->hand || ask->depth_m > 0) && !(ask->focal_m > 0))
        return pc_fail(err, PC_MISUSE, "--focal-mm",
                       "Depth and shake need the lens: --focal-mm, or a kit file.");
    return PC_OK;
}

static enum pc_status gather_movement(struct pc_cli *cli, struct pc_expose_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_expose_ask *ask = &asked->ask;
    const char *name = pc_args_text(args, "moving");
    double fall_cm;
    bool pour = pc_args_number(args, "pour-cm", &fall_cm),
         speed = pc_args_number(args, "speed-m-s", &ask->speed_m_s);
    if (pour + speed + (name != NULL) > 1)
        return pc_fail(err, PC_MISUSE, "expose",
                       "What moves comes from one of --moving, --pour-cm and --speed-m-s.");
    if (pour) {
        ask->speed_m_s = pc_blur_pour_m_s(fall_cm * CM);
        ask->speed_m_s_tolerance = FALL_TOLERANCE * ask->speed_m_s;
        ask->moving = "the pour is";
    } else if (speed) {
        ask->speed_m_s_tolerance = SPEED_TOLERANCE * ask->speed_m_s;
        ask->moving = "what moves is";
    } else if (name != NULL) {
        const struct pc_mover *mover = pc_mover_find(name);
        const char *names[8];
        for (size_t i = 0; i < pc_mover_count; i++)
            names[i] = pc_movers[i].name;
        if (mover == NULL)
            return pc_args_no_such(err, "kind of movement", name, names, pc_mover_count, "");
        ask->speed_m_s = mover->speed_m_s;
        ask->speed_m_s_tolerance = mover->speed_m_s_tolerance;
        ask->moving = mover->is;
    }
    return PC_OK;
}

static enum pc_status gather_lamps(struct pc_cli *cli, struct pc_expose_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_expose_ask *ask = &asked->ask;
    double mains_hz = 50;
    bool ripples = pc_args_number(args, "mains-hz", &mains_hz);
    ask->modulation_pct = USUAL_RIPPLE_PCT;
    bool told = pc_args_number(args, "ripple", &ask->modulation_pct);
    ask->ripple_hz = ripples || told ? 2 * mains_hz : 0.0;
    ask->modulation_pct_tolerance = told ? 0.0 : RIPPLE_TOLERANCE * ask->modulation_pct;
    if (pc_args_number(args, "flash-f", &ask->flash.full_f)) {
        ask->flash.full_f_tolerance = FLASH_TOLERANCE * ask->flash.full_f;
        ask->has_flash = true;
        asked->flash = "Flash";
    }
    ask->flash.distance_m = 1;
    bool far = pc_args_number(args, "flash-m", &ask->flash.distance_m);
    ask->flash.distance_m_tolerance = REACH_TOLERANCE * ask->flash.distance_m;
    pc_args_number(args, "sync", &ask->flash.sync_s);
    ask->flash.duration_s = NAN;
    pc_args_number(args, "flash-lasts", &ask->flash.duration_s);
    ask->flash.least_power_ratio = LEAST_POWER;
    ask->flash.step_ev = POWER_STEP_EV;
    ask->ambient_under_ev = NAN;
    bool under = pc_args_number(args, "under", &ask->ambient_under_ev);
    if ((far || under) && !ask->has_flash)
        return pc_fail(err, PC_MISUSE, far ? "--flash-m" : "--under",
                       "It goes with a flash: --flash of the kit, or --flash-f.");
    return PC_OK;
}

static enum pc_status gather_dials(struct pc_cli *cli, struct pc_expose_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_expose_ask *ask = &asked->ask;
    double *marked = asked->marked;
    marked[0] = marked[1] = marked[2] = NAN;
    ask->longest_s = ask->hand ? LONGEST_HAND_S : LONGEST_S;
    ask->shortest_s = SHORTEST_S;
    ask->most_iso = fmax(isnan(asked->noisy_iso) ? NOISIEST_ISO : asked->noisy_iso, ask->least_iso);
    if (pc_args_number(args, "f", &marked[0]))
        ask->widest_f = ask->narrowest_f = marked[0];
    if (pc_args_number(args, "shutter", &marked[1]))
        ask->longest_s = ask->shortest_s = marked[1];
    if (pc_args_number(args, "iso", &marked[2]))
        ask->least_iso = ask->most_iso = marked[2];
    pc_args_number(args, "clip", &ask->frames_hz);
    if (ask->frames_hz > 0 && ask->shortest_s * ask->frames_hz > 1.001)
        return pc_fail(err, PC_MISUSE, "--shutter",
                       "It is longer than a frame of the clip, which has 1/%.4g s.", ask->frames_hz);
    if (ask->frames_hz > 0)
        ask->has_flash = false; // it fires once
    asked->fixed = !isnan(marked[0]) && !isnan(marked[1]) && !isnan(marked[2]);
    return PC_OK;
}

enum pc_status pc_expose_gather(struct pc_cli *cli, struct pc_expose_asked *asked, double *card_ratio,
                                struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_expose_ask *ask = &asked->ask;
    asked->noisy_iso = NAN;
    ask->widest_f = 2.8;
    ask->narrowest_f = 22;
    ask->pupil_ratio = NAN;
    *card_ratio = CARD_RATIO;
    asked->wants_ways =
        !pc_args_has(args, "card") || pc_args_has(args, "wide-cm") || pc_args_has(args, "magnification");
    if (pc_args_has(args, "kit")) {
        struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
        PC_TRY(pc_kit_read(cli->arena, pc_args_text(args, "kit"), kit, err));
        *card_ratio = isnan(kit->greycard_ratio) ? CARD_RATIO : kit->greycard_ratio;
        if (asked->wants_ways)
            PC_TRY(take_kit(cli, kit, asked, err));
    } else {
        PC_TRY(take_told(cli, asked, err));
    }
    if (!asked->wants_ways)
        return PC_OK;
    asked->measured_noise = pc_args_has(args, "noise");
    if (asked->measured_noise)
        PC_TRY(pc_expose_noise_find(cli, ask->sensor.base_iso, &ask->sensor, err));
    PC_TRY(gather_framing(cli, asked, err));
    PC_TRY(gather_movement(cli, asked, err));
    PC_TRY(gather_lamps(cli, asked, err));
    return gather_dials(cli, asked, err);
}
