// SPDX-License-Identifier: Apache-2.0
// The verb `mains`: which shutters leave the ripple of lamps alone, and what ripple there is in frames.
#include "front/cli/mains.h"

#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"
#include "image/find/card.h"
#include "image/photo/photo.h"
#include "light/kit/caution.h"
#include "light/kit/kit.h"

#define USUAL_MAINS_HZ        50.0
#define USUAL_RIPPLE_PCT      30.0 // of a plain LED lamp; they go from 5 to 60
#define READOUT_TOLERANCE_PCT 5.0  // of one that is typed
#define VAGUE_READOUT_RATIO   0.25 // a class's readout is no help in telling frequencies
#define CARD_INSIDE_RATIO     0.7  // half the side of a square in the card's inner disc

static const double usual_shutters_s[] = {1.0 / 25,  1.0 / 30,  1.0 / 40,  1.0 / 50,  1.0 / 60,
                                          1.0 / 80,  1.0 / 100, 1.0 / 125, 1.0 / 160, 1.0 / 200,
                                          1.0 / 250, 1.0 / 500, 1.0 / 1000};

static enum pc_status gather_readout(struct pc_cli *cli, struct pc_mains_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    if (pc_args_number(args, "readout", &asked->readout_s)) {
        asked->readout_s_tolerance = READOUT_TOLERANCE_PCT / 100 * asked->readout_s;
        return PC_OK;
    }
    const char *name = pc_args_text(args, "camera");
    if (!pc_args_has(args, "kit") || name == NULL)
        return PC_OK;
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    PC_TRY(pc_kit_read(cli->arena, pc_args_text(args, "kit"), kit, err));
    const struct pc_camera *camera = pc_kit_camera(kit, name);
    if (camera == NULL) {
        const char **names = PC_NEW_N(cli->arena, kit->camera_count + 1, const char *);
        for (size_t i = 0; i < kit->camera_count; i++)
            names[i] = kit->cameras[i].name;
        return pc_args_no_such(err, "camera in the kit", name, names, kit->camera_count, "");
    }
    if (camera->readout_s_tolerance <= VAGUE_READOUT_RATIO * camera->readout_s) {
        asked->readout_s = camera->readout_s;
        asked->readout_s_tolerance = camera->readout_s_tolerance;
    }
    return PC_OK;
}

static enum pc_status gather(struct pc_cli *cli, struct pc_mains_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    *asked = (struct pc_mains_asked){.mains_hz = USUAL_MAINS_HZ,
                                     .modulation_pct = USUAL_RIPPLE_PCT,
                                     .most_pct = PC_MAINS_SEEN_PCT,
                                     .duty_ratio = NAN,
                                     .readout_s = NAN,
                                     .frames_hz = NAN};
    double duty_pct;
    pc_args_number(args, "mains-hz", &asked->mains_hz);
    asked->pulses_hz = 2 * asked->mains_hz;
    asked->on_mains = !pc_args_number(args, "lamp-hz", &asked->pulses_hz);
    if (pc_args_number(args, "duty", &duty_pct)) {
        asked->duty_ratio = duty_pct / 100;
        asked->modulation_pct = 100; // switched off and on
        if (asked->on_mains)
            return pc_fail(err, PC_MISUSE, "--duty",
                           "Say how often the lamp is switched as well: --lamp-hz.");
    }
    if (pc_args_has(args, "duty") && pc_args_has(args, "ripple"))
        return pc_fail(err, PC_MISUSE, "--ripple",
                       "A lamp that is switched ripples by all of it; leave it out.");
    pc_args_number(args, "ripple", &asked->modulation_pct);
    pc_args_number(args, "left", &asked->most_pct);
    pc_args_number(args, "clip", &asked->frames_hz);
    if (pc_args_has(args, "greycard") && pc_args_operand_count(args) != 1)
        return pc_fail(err, PC_MISUSE, "--greycard",
                       "It goes with one frame; of two, all of them is compared.");
    return gather_readout(cli, asked, err);
}

static void judge_shutter(const struct pc_mains_asked *asked, double marked_s,
                          struct pc_mains_shutter *shutter)
{
    *shutter = (struct pc_mains_shutter){.marked_s = marked_s};
    double hz_tolerance = asked->on_mains ? PC_MAINS_TOLERANCE_RATIO * asked->pulses_hz : 0.0;
    if (isnan(asked->duty_ratio))
        pc_mains_left_find(asked->pulses_hz, hz_tolerance, marked_s, &shutter->left);
    else
        pc_mains_switched_find(asked->pulses_hz, asked->duty_ratio, marked_s, &shutter->left);
    shutter->harmless =
        (shutter->left.left_ratio + shutter->left.left_ratio_tolerance) * asked->modulation_pct <=
        asked->most_pct;
}

static enum pc_status judge_shutters(struct pc_cli *cli, const struct pc_mains_asked *asked,
                                     struct pc_mains_found *found, struct pc_err *err)
{
    size_t given = pc_args_count(cli->args, "shutter");
    if (given > PC_MAINS_SHUTTERS_MAX)
        return pc_fail(err, PC_MISUSE, "--shutter", "More than %d cannot be told at once.",
                       PC_MAINS_SHUTTERS_MAX);
    found->count = given > 0 ? given : PC_COUNT(usual_shutters_s);
    for (size_t i = 0; i < found->count; i++) {
        double marked_s = given > 0 ? pc_args_at(cli->args, "shutter", i)->value[0] : usual_shutters_s[i];
        judge_shutter(asked, marked_s, &found->shutter[i]);
    }
    for (int i = 0; i < PC_MARKS_SHUTTER; i++) {
        struct pc_mains_shutter shutter;
        judge_shutter(asked, pc_marks_shutter[i].marked, &shutter);
        if (shutter.harmless)
            found->harmless[found->harmless_count++] = &pc_marks_shutter[i];
    }
    double clip_s = given > 0 ? found->shutter[0].marked_s : 0.5 / asked->frames_hz;
    found->clip_s = clip_s;
    if (!isnan(asked->frames_hz) &&
        !pc_mains_clip_find(asked->pulses_hz, clip_s, asked->frames_hz, &found->clip))
        return pc_fail(err, PC_MISUSE, "--shutter",
                       "It is longer than a frame of the clip, which has 1/%.4g s.", asked->frames_hz);
    return PC_OK;
}

static enum pc_status read_frame(struct pc_cli *cli, struct pc_photo_reader *reader, size_t i,
                                 struct pc_photo *photo, struct pc_err *err)
{
    const char *path = pc_args_operand(cli->args, i);
    PC_TRY(pc_ctx_step(cli->ctx, "reading the frames", 0.4 * (double)i, err));
    PC_TRY(pc_photo_read(reader, path, PC_WANT_MEASURE, false, photo, err));
    if (photo->tone_mapped)
        return pc_fail(
            err, PC_UNSUPPORTED, path,
            "A camera or a program has bent its tones, so bands cannot be measured in it; take the raw "
            "file.");
    if (isnan(photo->facts.shutter_s) && isnan(photo->facts.shutter_apex_s))
        return pc_fail(err, PC_BAD_INPUT, path,
                       "It does not say its shutter time, so nothing can be said of others.");
    return PC_OK;
}

// The square inside the card.
static enum pc_status find_card(struct pc_cli *cli, const struct pc_photo *photo, struct pc_bands_area *area,
                                struct pc_err *err)
{
    const struct pc_arg *at = pc_args_at(cli->args, "greycard", 0);
    const struct pc_picture *picture = &photo->picture;
    struct pc_card card;
    bool there = false;
    if (at->value[0] >= picture->full_width_px || at->value[1] >= picture->full_height_px)
        return pc_fail(err, PC_MISUSE, "--greycard",
                       "%s lies outside the frame, which is %d x %d pixels when upright.", at->text,
                       picture->full_width_px, picture->full_height_px);
    PC_TRY(pc_find_card_at(cli->ctx, picture, photo->has_neutral ? photo->neutral_ratio : NULL, at->value[0],
                           at->value[1], &card, &there, err));
    if (!there)
        return pc_fail(err, PC_NOT_FOUND, "--greycard",
                       "No plain four-sided card holds this place; fill the frame with the card and leave "
                       "--greycard out.");
    double half_px = CARD_INSIDE_RATIO * card.inner_radius_px;
    *area = (struct pc_bands_area){card.x_px - half_px, card.y_px - half_px, card.x_px + half_px,
                                   card.y_px + half_px};
    return PC_OK;
}

// Mains or not: what the frequency is, and where it is not known, what the readout then is.
static void name_lamp(const struct pc_mains_asked *asked, struct pc_mains_found *found)
{
    const struct pc_bands *bands = &found->bands;
    pc_bands_lamp_find(bands, asked->readout_s, asked->readout_s_tolerance, NAN, found->taken_s,
                       found->frames, &found->lamp);
    found->lamp_mains_hz = NAN;
    found->readout_s = found->readout_s_tolerance = NAN;
    if (isnan(asked->readout_s)) {
        pc_bands_lamp_find(bands, NAN, 0, asked->pulses_hz, found->taken_s, found->frames, &found->lamp);
        found->readout_s = bands->bands / asked->pulses_hz;
        found->readout_s_tolerance =
            hypot(bands->bands_tolerance / bands->bands, PC_MAINS_TOLERANCE_RATIO) * found->readout_s;
        return;
    }
    static const double mains_hz[] = {50, 60};
    for (size_t i = 0; i < PC_COUNT(mains_hz); i++)
        if (fabs(found->lamp.hz - 2 * mains_hz[i]) <= found->lamp.hz_tolerance &&
            !(fabs(found->lamp.hz - 2 * found->lamp_mains_hz) < fabs(found->lamp.hz - 2 * mains_hz[i])))
            found->lamp_mains_hz = mains_hz[i];
    if (!isnan(found->lamp_mains_hz)) // the mains keep their frequency better than a readout is known
        pc_bands_lamp_find(bands, asked->readout_s, asked->readout_s_tolerance, 2 * found->lamp_mains_hz,
                           found->taken_s, found->frames, &found->lamp);
}

static enum pc_status look(struct pc_cli *cli, const struct pc_mains_asked *asked,
                           struct pc_mains_found *found, struct pc_photo photo[2], struct pc_err *err)
{
    struct pc_photo_reader *reader;
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status = PC_OK;
    for (int i = 0; i < found->frames && status == PC_OK; i++)
        status = read_frame(cli, reader, (size_t)i, &photo[i], err);
    pc_photo_reader_destroy(reader);
    PC_TRY(status);
    for (int i = 0; i < found->frames; i++)
        found->taken_s[i] =
            isnan(photo[i].facts.shutter_s) ? photo[i].facts.shutter_apex_s : photo[i].facts.shutter_s;
    struct pc_bands_area area, *part = NULL;
    if (pc_args_has(cli->args, "greycard")) {
        part = &area;
        PC_TRY(find_card(cli, &photo[0], part, err));
    }
    PC_TRY(pc_bands_find(&photo[0].picture, found->frames == 2 ? &photo[1].picture : NULL,
                         photo[0].facts.orientation, part, &found->bands, err));
    if (found->bands.verdict == PC_BANDS_FOUND)
        name_lamp(asked, found);
    return PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_mains_asked asked;
    struct pc_mains_found *found = PC_NEW(cli->arena, struct pc_mains_found);
    struct pc_photo photo[2] = {{0}, {0}};
    PC_TRY(gather(cli, &asked, err));
    PC_TRY(judge_shutters(cli, &asked, found, err));
    found->frames = (int)pc_args_operand_count(cli->args);
    enum pc_status status = found->frames > 0 ? look(cli, &asked, found, photo, err) : PC_OK;
    pc_photo_finish(&photo[0]);
    pc_photo_finish(&photo[1]);
    PC_TRY(status);
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_mains_json(&asked, found));
    else
        pc_mains_print(cli, &asked, found);
    return PC_OK;
}

static const struct pc_option lamp_options[] = {
    {.name = "mains-hz",
     .kind = PC_ARG_NUMBER,
     .metavar = "HZ",
     .help = "of the sockets; lamps pulse twice as often",
     .least = 45,
     .most = 65,
     .otherwise = "50"},
    {.name = "lamp-hz",
     .kind = PC_ARG_NUMBER,
     .metavar = "HZ",
     .help = "how often the lamp pulses, where its maker says (dimmers)",
     .least = 20,
     .most = 100000},
    {.name = "duty",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "of a lamp that is switched off and on: how much of the time it is on",
     .least = 0.1,
     .most = 99.9},
    {.name = "ripple",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "how far the light pulses, (max - min) / (max + min)",
     .least = 0.1,
     .most = 100,
     .otherwise = "30"},
};
static const struct pc_option camera_options[] = {
    {.name = "shutter",
     .kind = PC_ARG_TIME,
     .metavar = "T",
     .help = "a shutter to be told about",
     .least = 0.00001,
     .most = 60,
     .repeatable = true,
     .otherwise = "the usual ones"},
    {.name = "left",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "bands as deep as this may stay",
     .least = 0.1,
     .most = 50,
     .otherwise = "2"},
    {.name = "clip",
     .kind = PC_ARG_NUMBER,
     .metavar = "FPS",
     .help = "frames a second of a clip",
     .least = 1,
     .most = 2000},
    {.name = "readout",
     .kind = PC_ARG_TIME,
     .metavar = "T",
     .help = "how long the sensor takes from its first row to its last",
     .least = 0.0005,
     .most = 2},
    {.name = "camera",
     .kind = PC_ARG_NAME,
     .metavar = "NAME",
     .help = "a camera of the kit, for its readout"},
    {.name = "greycard",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where a card lies in the one frame; otherwise all of it has to be plain"},
};
static const struct pc_option_group lamp_group = {"The lamp", lamp_options, PC_COUNT(lamp_options)};
static const struct pc_option_group camera_group = {"The camera", camera_options, PC_COUNT(camera_options)};
static const struct pc_option_group *const groups[] = {&lamp_group, &camera_group, &pc_options_kit,
                                                       &pc_options_json, NULL};

const struct pc_verb pc_verb_mains = {
    .name = "mains",
    .question = "which shutters leave no bands?",
    .about =
        "Tells what is left of a lamp's ripple at a camera's shutters, and which of them are harmless. With "
        "frames it measures the bands that are there: in one raw frame of something plain, or in two of the "
        "same scene, the second best at a shutter that holds whole waves (1/50 s, or 1/60 s where the mains "
        "have 60 Hz). Take them with the electronic shutter; the mechanical one is too quick for bands.",
    .hour = PC_HOUR_SETUP,
    .operands = "[FRAME [FRAME]]",
    .least_operands = 0,
    .most_operands = 2,
    .groups = groups,
    .run = run,
};
