// SPDX-License-Identifier: Apache-2.0
// What `expose` reads from frames: light off a grey card, tied to a meter or not, and a sensor's noise.
#include "front/cli/expose.h"

#include "image/camera/expose_tie.h"
#include "image/picture/meter.h"

#define DISC_OF_FRAME 200 // the card is read over a disc whose radius is this part of the frame's longer side
#define TOLD_LX_RATIO 0.1 // a hand-held meter, and where it is held

static enum pc_status read_card(struct pc_cli *cli, const char *path, double card_ratio,
                                struct pc_photo *photo, double *lx, struct pc_err *err)
{
    struct pc_photo_reader *reader;
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status = pc_photo_read(reader, path, PC_WANT_MEASURE, false, photo, err);
    pc_photo_reader_destroy(reader);
    PC_TRY(status);
    if (photo->tone_mapped)
        return pc_fail(err, PC_UNSUPPORTED, path,
                       "A camera or a program has bent its tones, so it gives no lux; take the raw file.");
    const struct pc_arg *at = pc_args_at(cli->args, "greycard", 0);
    const struct pc_picture *picture = &photo->picture;
    int width_px = picture->full_width_px, height_px = picture->full_height_px;
    if (at->value[0] >= width_px || at->value[1] >= height_px)
        return pc_fail(err, PC_MISUSE, "--greycard",
                       "%s lies outside the frame, which is %d x %d pixels when upright.", at->text, width_px,
                       height_px);
    struct pc_level level;
    pc_picture_level(picture, at->value[0], at->value[1],
                     (width_px > height_px ? width_px : height_px) / (double)DISC_OF_FRAME, NULL, &level);
    return pc_card_lx(photo, &level, card_ratio, path, lx, err);
}

// A tie is made with --meter-lx, and used without.
static enum pc_status tie(struct pc_cli *cli, const struct pc_facts *facts, struct pc_expose_light *light,
                          double *tolerance_ev, struct pc_err *err)
{
    struct pc_tie tie;
    double meter_lx;
    light->tie_path = pc_args_text(cli->args, "tie");
    if (pc_args_number(cli->args, "meter-lx", &meter_lx)) {
        PC_TRY(pc_tie_make(facts, light->lx, meter_lx, &tie, err));
        light->tie_off_ev = tie.off_ev;
        if (light->tie_path != NULL)
            PC_TRY(pc_tie_write(light->tie_path, &tie, err));
    } else if (light->tie_path != NULL) {
        PC_TRY(pc_tie_read(cli->arena, light->tie_path, &tie, err));
    } else {
        return PC_OK;
    }
    light->tied = true;
    return pc_tie_apply(&tie, facts, pc_args_text(cli->args, "card"), &light->lx, tolerance_ev, err);
}

enum pc_status pc_expose_light_find(struct pc_cli *cli, double card_ratio, struct pc_expose_light *light,
                                    struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    bool card = pc_args_has(args, "card"), told = pc_args_has(args, "lux");
    *light = (struct pc_expose_light){.lx = NAN, .lx_tolerance = NAN, .tie_off_ev = NAN, .from_card = card};
    if (card + told != 1)
        return pc_fail(err, PC_MISUSE, "expose",
                       "It needs the light: --lux, or --card with a raw frame of a grey card, one of them.");
    if (card != pc_args_has(args, "greycard"))
        return pc_fail(err, PC_MISUSE, "--greycard",
                       "--card and --greycard go together: the frame, and where the "
                       "card lies in it.");
    if (!card && (pc_args_has(args, "tie") || pc_args_has(args, "meter-lx")))
        return pc_fail(err, PC_MISUSE, "--tie",
                       "A tie is between a camera and a meter; it goes with --card.");
    if (told) {
        pc_args_number(args, "lux", &light->lx);
        light->lx_tolerance = TOLD_LX_RATIO * light->lx;
        return PC_OK;
    }
    struct pc_photo photo = {0};
    double tolerance_ev = pc_meter_tolerance_ev;
    enum pc_status status = read_card(cli, pc_args_text(args, "card"), card_ratio, &photo, &light->lx, err);
    if (status == PC_OK)
        status = tie(cli, &photo.facts, light, &tolerance_ev, err);
    light->lx_tolerance = pc_meter_lx_tolerance(light->lx, tolerance_ev);
    pc_photo_finish(&photo);
    return status;
}

// Of noise told from one frame, whose detail passes for noise, and from two (image/picture/picture.h).
#define ONE_FRAME_TOLERANCE  1.0
#define TWO_FRAMES_TOLERANCE 0.15

static enum pc_status read_noise(struct pc_cli *cli, struct pc_photo_reader *reader, size_t frames,
                                 struct pc_photo photo[2], struct pc_err *err)
{
    for (size_t i = 0; i < frames; i++) {
        const char *path = pc_args_at(cli->args, "noise", i)->path;
        PC_TRY(pc_photo_read(reader, path, PC_WANT_MEASURE, false, &photo[i], err));
        if (photo[i].form != PC_FORM_RAW)
            return pc_fail(err, PC_UNSUPPORTED, path,
                           "Only a raw frame shows its sensor's noise; take the raw file.");
        if (isnan(photo[i].facts.iso))
            return pc_fail(err, PC_BAD_INPUT, path,
                           "It does not say its ISO, so its noise tells nothing of others.");
    }
    return PC_OK;
}

enum pc_status pc_expose_noise_find(struct pc_cli *cli, double base_iso, struct pc_sensor *sensor,
                                    struct pc_err *err)
{
    size_t frames = pc_args_count(cli->args, "noise");
    if (frames > 2)
        return pc_fail(err, PC_MISUSE, "--noise",
                       "Give one frame, or two of the same scene at the same ISO.");
    struct pc_photo photo[2] = {{0}, {0}};
    struct pc_photo_reader *reader;
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status = read_noise(cli, reader, frames, photo, err);
    pc_photo_reader_destroy(reader);
    struct pc_picture *picture = &photo[0].picture;
    bool known = false;
    if (status == PC_OK) {
        int channel = picture->channels == 3 ? 1 : 0;
        int greens = picture->channels == 1 ? picture->bin * picture->bin : picture->bin == 3 ? 5 : 2;
        bool pair = frames == 2 && fabs(photo[0].facts.iso - photo[1].facts.iso) < 1 &&
                    pc_picture_noise_from_pair(picture, &photo[1].picture);
        if (frames == 1)
            pc_picture_noise_from_one(picture);
        known = (frames == 1 || pair) &&
                pc_noise_sensor_from(&picture->noise, channel, greens, photo[0].facts.iso, base_iso,
                                     pair ? TWO_FRAMES_TOLERANCE : ONE_FRAME_TOLERANCE, sensor);
    }
    pc_photo_finish(&photo[0]);
    pc_photo_finish(&photo[1]);
    if (status == PC_OK && !known)
        return pc_fail(
            err, PC_BAD_INPUT, pc_args_at(cli->args, "noise", 0)->path,
            "Its noise cannot be told; give a frame with plain areas, or two of the same scene at the same "
            "ISO.");
    return status;
}
