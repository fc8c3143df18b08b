// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_tie.h"

#include "base/file.h"
#include "base/json.h"
#include "image/picture/meter.h"

static const double MOST_OFF_EV = 2.0;

enum pc_status pc_card_lx(const struct pc_photo *photo, const struct pc_level *card, double reflectance_ratio,
                          const char *path, double *lx, struct pc_err *err)
{
    const struct pc_facts *facts = &photo->facts;
    double shutter_s = isnan(facts->shutter_apex_s) ? facts->shutter_s : facts->shutter_apex_s;
    const char *missing = isnan(shutter_s)        ? "shutter time"
                          : isnan(facts->fnumber) ? "f-number"
                          : isnan(facts->iso)     ? "ISO"
                                                  : NULL;
    if (missing != NULL)
        return pc_fail(err, PC_BAD_INPUT, path,
                       "It does not say its %s, so the card gives no lux; leave --greycard out.", missing);
    if (card->pixels == 0 || card->clipped_ratio > 0)
        return pc_fail(
            err, PC_BAD_INPUT, path,
            "The grey card is clipped at the place given; take the frame again with less exposure.");
    double level = card->value[photo->picture.channels == 3 ? 1 : 0];
    if (!(level > 0))
        return pc_fail(err, PC_BAD_INPUT, path, "There is no light on the grey card at the place given.");
    *lx = pc_meter_lx(level, shutter_s, facts->fnumber, facts->iso, reflectance_ratio);
    return PC_OK;
}

enum pc_status pc_tie_make(const struct pc_facts *facts, double camera_lx, double meter_lx,
                           struct pc_tie *tie, struct pc_err *err)
{
    double off_ev = log2(meter_lx / camera_lx);
    if (!(fabs(off_ev) <= MOST_OFF_EV))
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "The card says %.0f lx and the meter %.0f lx. No camera is so far off: hold the meter where "
            "the card lies, facing as it faces, and give the place of the card again.",
            camera_lx, meter_lx);
    *tie = (struct pc_tie){facts->maker, facts->model, facts->serial, facts->lens, facts->fnumber, off_ev};
    return PC_OK;
}

enum pc_status pc_tie_write(const char *path, const struct pc_tie *tie, struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    if (arena == NULL)
        return pc_fail(err, PC_NO_MEMORY, path, "There is no memory left to write it.");
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "camera_maker", tie->maker);
    pc_json_put_text(o, "camera_model", tie->model);
    pc_json_put_text(o, "camera_serial", tie->serial);
    pc_json_put_text(o, "lens", tie->lens);
    pc_json_put_number(o, "fnumber", tie->fnumber, 3);
    pc_json_put_number(o, "off_ev", tie->off_ev, 4);
    const char *text = pc_arena_printf(arena, "%s\n", pc_json_print(arena, o, false));
    pc_json_destroy(o);
    enum pc_status status = pc_file_write(path, text, strlen(text), err);
    pc_arena_destroy(arena);
    return status;
}

static const struct pc_key rows[] = {
    {.key = "camera_maker",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_tie, maker),
     .help = "as its frames say"},
    {.key = "camera_model",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_tie, model),
     .help = "as its frames say"},
    {.key = "camera_serial",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_tie, serial),
     .help = "as its frames say"},
    {.key = "lens",
     .kind = PC_KEY_TEXT,
     .offset = offsetof(struct pc_tie, lens),
     .help = "as its frames say"},
    {.key = "fnumber",
     .kind = PC_KEY_NUMBER,
     .offset = offsetof(struct pc_tie, fnumber),
     .least = 0.5,
     .most = 128,
     .help = "aperture of the frame it was tied with"},
    {.key = "off_ev",
     .kind = PC_KEY_NUMBER,
     .offset = offsetof(struct pc_tie, off_ev),
     .unit = "EV",
     .least = -2,
     .most = 2,
     .help = "the meter's lux over the camera's, in stops"},
};
const struct pc_keys pc_tie_keys = {
    .noun = "tie", .size_bytes = sizeof(struct pc_tie), .rows = rows, .count = PC_COUNT(rows)};

static enum pc_status finish(const char *place, struct pc_tie *tie, struct pc_err *err)
{
    const char **texts[] = {&tie->maker, &tie->model, &tie->serial, &tie->lens};
    for (size_t i = 0; i < PC_COUNT(texts); i++)
        *texts[i] = *texts[i] != NULL ? *texts[i] : "";
    if (isnan(tie->off_ev))
        return pc_fail(err, PC_BAD_INPUT, place,
                       "It holds no \"off_ev\", so it ties nothing; make it anew with --meter-lx.");
    return PC_OK;
}

enum pc_status pc_tie_read(struct pc_arena *arena, const char *path, struct pc_tie *tie, struct pc_err *err)
{
    PC_TRY(pc_keys_read_file(arena, &pc_tie_keys, path, tie, err));
    return finish(path, tie, err);
}

enum pc_status pc_tie_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                struct pc_tie *tie, struct pc_err *err)
{
    PC_TRY(pc_keys_read(arena, &pc_tie_keys, text, count, place, tie, err));
    return finish(place, tie, err);
}

enum pc_status pc_tie_apply(const struct pc_tie *tie, const struct pc_facts *facts, const char *path,
                            double *lx, double *tolerance_ev, struct pc_err *err)
{
    if (strcmp(tie->maker, facts->maker) != 0 || strcmp(tie->model, facts->model) != 0 ||
        strcmp(tie->serial, facts->serial) != 0)
        return pc_fail(
            err, PC_BAD_INPUT, path,
            "It is from another camera (%s %s %s) than the one that was tied to the meter (%s %s %s).",
            facts->maker, facts->model, facts->serial, tie->maker, tie->model, tie->serial);
    *lx *= exp2(tie->off_ev);
    *tolerance_ev =
        strcmp(tie->lens, facts->lens) == 0 ? PC_TIE_TOLERANCE_EV : PC_TIE_OTHER_LENS_TOLERANCE_EV;
    return PC_OK;
}
