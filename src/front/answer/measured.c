// SPDX-License-Identifier: Apache-2.0
#include "front/answer/measured.h"

#include "base/file.h"

static enum pc_status make_series(struct pc_arena *arena, const struct pc_asked *asked, struct pc_measured *m,
                                  struct pc_err *err)
{
    struct pc_series_wish wish = {
        .paths = asked->paths,
        .path_count = asked->path_count,
        .folder = asked->folder,
        .actual = asked->actual,
        .said = asked->said,
        .said_count = asked->said_count,
        .linear = asked->linear,
    };
    return pc_series_make(m->reader, arena, &wish, &m->series, &m->notes, err);
}

// The cards pointed out, each with the frame it names.
static enum pc_status gather_cards(const struct pc_asked *asked, const struct pc_series *series,
                                   struct pc_pointed *pointed, struct pc_err *err)
{
    const char *names[PC_FRAMES_MAX];
    int of_frame[PC_FRAMES_MAX] = {0};
    for (int f = 0; f < series->frame_count; f++)
        names[f] = series->frame[f].name;
    for (int i = 0; i < asked->card_count; i++) {
        const struct pc_asked_card *card = &asked->card[i];
        int frame = 0;
        while (frame < series->frame_count && strcmp(names[frame], pc_file_name(card->frame)) != 0)
            frame++;
        if (frame == series->frame_count)
            return pc_asked_no_such(asked, "card", "frame", card->frame, names, series->frame_count, err);
        of_frame[frame]++;
        pointed[i] = (struct pc_pointed){frame, card->x_px, card->y_px};
    }
    for (int f = 0; f < series->frame_count; f++)
        if (of_frame[f] != 0 && of_frame[f] != 2)
            return pc_asked_fail(asked, err, PC_MISUSE, "card",
                                 "Give it twice for %s: first the card at the hero, then the one at the "
                                 "surface.",
                                 names[f]);
    return PC_OK;
}

static enum pc_status read_by_hand(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_asked *asked,
                                   struct pc_measured *m, const struct pc_place *places,
                                   const struct pc_err *why, struct pc_err *err)
{
    struct pc_pointed *pointed = PC_NEW_N(arena, (size_t)asked->card_count + 1, struct pc_pointed);
    PC_TRY(gather_cards(asked, &m->series, pointed, err));
    struct pc_err inner = {0};
    struct pc_handheld *hand = calloc(1, sizeof *hand);
    PC_ASSERT(hand != NULL);
    enum pc_status status =
        pc_handheld_read(ctx, m->reader, &m->series, &places[PC_PLACE_HERO], &places[PC_PLACE_SURFACE],
                         pointed, asked->card_count, hand, &m->notes, &inner);
    if (status != PC_OK)
        pc_fail(err, status, why->place, "%s As a set taken from the hand it cannot be read either: %s: %s",
                why->text, inner.place, inner.text);
    if (status == PC_OK) {
        m->hand_held = true;
        m->reading = hand->reading;
        m->exposure = hand->exposure;
        m->drift_pct = hand->drift_pct;
        m->greycard = PC_PLACE_HERO;
        pc_notes_add(&m->notes,
                     "The camera moved between the frames (%s), so everything is read from the grey cards at "
                     "the hero and the surface: there are no pictures, and the levels are those of grey "
                     "card. A camera locked off tells more, and more surely.",
                     why->place);
    }
    free(hand);
    return status;
}

// Places as shares of the frame become pixels of it.
static enum pc_status place_all(const struct pc_asked *asked, const struct pc_measured *m,
                                struct pc_place places[PC_PLACES_MAX], struct pc_err *err)
{
    memcpy(places, asked->place, sizeof asked->place);
    if (!asked->places_are_ratios)
        return PC_OK;
    const struct pc_series_frame *first = &m->series.frame[m->series.reference];
    int width_px = m->parts.ambient.full_width_px, height_px = m->parts.ambient.full_height_px;
    if (width_px == 0) {
        width_px = first->facts.width_px;
        height_px = first->facts.height_px;
    }
    if (width_px == 0)
        return pc_fail(err, PC_BAD_INPUT, first->name,
                       "It does not say how large it is, so that nothing in it can be pointed at.");
    for (int i = 0; i < asked->place_count; i++) {
        places[i].x_px = fmin(places[i].x_px * width_px, width_px - 1.0);
        places[i].y_px = fmin(places[i].y_px * height_px, height_px - 1.0);
    }
    return PC_OK;
}

static enum pc_status read_all(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_asked *asked,
                               struct pc_measured *m, struct pc_err *err)
{
    struct pc_place places[PC_PLACES_MAX];
    m->greycard = asked->greycard;
    PC_TRY(pc_photo_reader_create(ctx, NULL, &m->reader, err));
    PC_TRY(make_series(arena, asked, m, err));
    bool hand_held = false;
    struct pc_err inner = {0};
    enum pc_status status =
        pc_parts_make(ctx, m->reader, &m->series, &m->parts, &m->notes, &hand_held, &inner);
    if (status != PC_OK && !hand_held) {
        *err = inner;
        return status;
    }
    PC_TRY(place_all(asked, m, places, err));
    if (status != PC_OK)
        return read_by_hand(ctx, arena, asked, m, places, &inner, err);
    PC_TRY(pc_parts_read(&m->parts, places, asked->place_count, 0.0, &m->reading, &m->notes, err));
    pc_parts_whites(&m->parts, m->greycard, &m->reading);
    m->exposure = (struct pc_exposure){m->parts.reference_shutter_s, m->parts.reference_fnumber,
                                       m->parts.reference_iso};
    m->drift_pct = m->parts.drift_pct;
    return PC_OK;
}

enum pc_status pc_measured_create(struct pc_ctx *ctx, struct pc_arena *arena, const struct pc_asked *asked,
                                  struct pc_measured **measured, struct pc_err *err)
{
    struct pc_measured *m = calloc(1, sizeof *m);
    PC_ASSERT(m != NULL);
    m->notes.arena = arena;
    enum pc_status status = read_all(ctx, arena, asked, m, err);
    if (status != PC_OK) {
        pc_measured_destroy(m);
        return status;
    }
    *measured = m;
    return PC_OK;
}

void pc_measured_destroy(struct pc_measured *measured)
{
    if (measured == NULL)
        return;
    pc_parts_finish(&measured->parts);
    pc_photo_reader_destroy(measured->reader);
    free(measured);
}

enum pc_status pc_measured_dials(const struct pc_measured *measured, const struct pc_asked *asked,
                                 struct pc_dials *dials, struct pc_err *err)
{
    pc_reading_dials_now(&measured->reading, dials);
    for (int i = 0; i < asked->dial_count; i++) {
        const struct pc_asked_dial *dial = &asked->dial[i];
        int light = -1;
        PC_TRY(pc_measured_light(&measured->reading, asked, "dials", dial->light, &light, err));
        if (!isnan(dial->dial_ratio))
            dials->dial_ratio[light] = dial->dial_ratio;
        if (isnan(dial->kelvin_K))
            continue;
        if (measured->reading.light[light].emitter_count != 2)
            return pc_asked_fail(asked, err, PC_MISUSE, "dials",
                                 "%s was taken at one colour, so its kelvin cannot be set; take a warm and "
                                 "a cool frame of it.",
                                 dial->light);
        dials->kelvin_K[light] = dial->kelvin_K;
    }
    if (isnan(asked->shutter_s))
        return PC_OK;
    if (!measured->series.has_exposure)
        return pc_asked_fail(
            asked, err, PC_BAD_INPUT, "shutter",
            "The frames do not say their shutter times, so another cannot be set against them.");
    struct pc_facts like = {.shutter_s = asked->shutter_s, .shutter_apex_s = NAN};
    dials->shutter_ratio = pc_shutter_like(&measured->series, &like) / measured->exposure.shutter_s;
    return PC_OK;
}

struct pc_json *pc_measured_notes_json(const struct pc_measured *measured)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < measured->notes.count; i++)
        pc_json_add_text(array, measured->notes.text[i]);
    return array;
}

enum pc_status pc_measured_light(const struct pc_reading *reading, const struct pc_asked *asked,
                                 const char *what, const char *name, int *light, struct pc_err *err)
{
    const char *names[PC_LIGHTS_MAX];
    for (int i = 0; i < reading->light_count; i++) {
        names[i] = reading->light[i].name;
        if (strcmp(names[i], name) == 0) {
            *light = i;
            return PC_OK;
        }
    }
    return pc_asked_no_such(asked, what, "light", name, names, reading->light_count, err);
}

enum pc_status pc_measured_place(const struct pc_reading *reading, const struct pc_asked *asked,
                                 const char *what, const char *name, int *place, struct pc_err *err)
{
    const char *names[PC_PLACES_MAX];
    for (int i = 0; i < reading->place_count; i++) {
        names[i] = reading->place[i].name;
        if (strcmp(names[i], name) == 0) {
            *place = i;
            return PC_OK;
        }
    }
    return pc_asked_no_such(asked, what, "place", name, names, reading->place_count, err);
}

static void apply_limit(const struct pc_asked_limit *asked, struct pc_limit *limit)
{
    switch (asked->kind) {
    case PC_LIMIT_CAP:
        limit->most_ratio = asked->value[0];
        break;
    case PC_LIMIT_LEAST:
        limit->least_ratio = asked->value[0];
        break;
    case PC_LIMIT_KELVIN:
        limit->least_K = asked->value[0];
        limit->most_K = asked->value[1];
        break;
    case PC_LIMIT_LEAVE:
        limit->may_change = false;
        break;
    }
}

enum pc_status pc_measured_limits(const struct pc_reading *reading, const struct pc_asked *asked,
                                  struct pc_want *want, struct pc_err *err)
{
    static const char *const names[] = {[PC_LIMIT_CAP] = "cap",
                                        [PC_LIMIT_LEAST] = "least",
                                        [PC_LIMIT_KELVIN] = "kelvin",
                                        [PC_LIMIT_LEAVE] = "leave"};
    pc_want_init(reading, want);
    for (int light = 0; light < reading->light_count; light++)
        want->limit[light].step_ratio = asked->step_ratio;
    for (int i = 0; i < asked->limit_count; i++) {
        int light = -1;
        PC_TRY(pc_measured_light(reading, asked, names[asked->limit[i].kind], asked->limit[i].light, &light,
                                 err));
        apply_limit(&asked->limit[i], &want->limit[light]);
    }
    for (int light = 0; light < reading->light_count; light++)
        if (want->limit[light].least_ratio > want->limit[light].most_ratio)
            return pc_fail(err, PC_MISUSE, reading->light[light].name,
                           "Its lowest dial is above its cap; nothing is left to set it to.");
    return PC_OK;
}

void pc_measured_put_dials(const struct pc_reading *reading, const struct pc_dials *dials,
                           struct pc_json *object)
{
    struct pc_json *ratios = pc_json_object(), *kelvins = pc_json_object();
    for (int i = 0; i < reading->light_count; i++) {
        pc_json_put_number(ratios, reading->light[i].name, dials->dial_ratio[i], 3);
        if (reading->light[i].emitter_count == 2)
            pc_json_put_number(kelvins, reading->light[i].name, dials->kelvin_K[i], 0);
    }
    pc_json_put(object, "dials", ratios);
    pc_json_put(object, "kelvins_K", kelvins);
}
