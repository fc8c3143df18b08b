// SPDX-License-Identifier: Apache-2.0
#include "light/parts/handheld.h"

#include "base/units.h"
#include "light/parts/handheld_priv.h"

// A card's sheen goes with the camera's place: nobody's card is quite matt. A judgement, not measured.
static const double CARD_SE_RATIO = 0.02;
// A spot where the card must be, or a card by its looks alone. A judgement as well.
static const double HARD_SE_RATIO = 0.05;
// Of the frame's mean a lens lays this much over all of the frame: stray light of 1 to 3 % is usual for the
// veiling glare index (ISO 9358), which takes a far whiter surround. A judgement; all of it is carried as
// uncertain.
static const double VEIL_RATIO = 0.015;
static const double UNEVEN_SE_RATIO =
    0.05;                          // per stop over the card: it is not read at quite the same spot twice
static const double LENS_SE = 0.5; // of what a thin lens loses, before the frames tell more
static const double MOST_UNEVEN_EV = 0.5;
static const double LEAST_DISC_RATIO = 0.006; // of the picture's width, to read a card on
static const double DRIFT_REPORTED_PCT = 3.0;

// Fills in what the user pointed out in this frame: the first place is the hero's card, the second the
// surface's.
static void gather_pointed(const struct hand_making *m, int frame, struct pc_place store[HAND_CARDS],
                           const struct pc_place *pointed[HAND_CARDS])
{
    int n = 0;
    pointed[0] = pointed[1] = NULL;
    for (int i = 0; i < m->pointed_count && n < HAND_CARDS; i++)
        if (m->pointed[i].frame == frame) {
            store[n] = (struct pc_place){.x_px = m->pointed[i].x_px, .y_px = m->pointed[i].y_px};
            pointed[n] = &store[n];
            n++;
        }
}

// How far the light goes apart over a card: the brightest and the darkest of nine spots on a disc about its
// centre.
static double uneven_ev(const struct pc_picture *picture, const struct pc_card *card, double radius_px)
{
    double least = INFINITY, most = 0.0, spot_px = 0.4 * radius_px, out_px = 0.6 * radius_px;
    for (int i = 0; i < 9; i++) {
        double way_rad = i * PC_PI / 4.0, out = i < 8 ? out_px : 0.0;
        struct pc_level level;
        pc_picture_level(picture, card->x_px + out * cos(way_rad), card->y_px + out * sin(way_rad), spot_px,
                         NULL, &level);
        if (level.pixels == 0)
            continue;
        double value = fmax(level.value[picture->channels == 3 ? 1 : 0], HAND_LEAST_LEVEL);
        least = fmin(least, value);
        most = fmax(most, value);
    }
    return most > 0.0 ? log2(most / least) : 0.0;
}

// Per channel, of the whole picture.
static void mean_level(const struct pc_picture *picture, double mean[3])
{
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px;
    int channels = picture->channels;
    for (int c = 0; c < channels; c++) {
        double sum = 0.0;
        for (size_t i = 0; i < n; i++)
            sum += (double)picture->px[i * (size_t)channels + (size_t)c];
        mean[c] = sum / (double)n;
    }
}

static enum pc_status read_card(struct hand_making *m, int frame, const struct pc_picture *picture,
                                const double mean[3], int k, struct pc_err *err)
{
    const char *name = m->series->frame[frame].name;
    const struct hand_pair *pair = &m->cards[frame].pair;
    const struct pc_card *card = &pair->card[k];
    struct hand_frame *out = &m->cards[frame];
    struct pc_level level;
    // Where a shadow reaches over the card its middle is what counts, if that has one level.
    double radius_px = card->inner_radius_px, uneven = uneven_ev(picture, card, radius_px);
    while (uneven > MOST_UNEVEN_EV && 0.7 * radius_px > LEAST_DISC_RATIO * picture->full_width_px) {
        radius_px *= 0.7;
        uneven = uneven_ev(picture, card, radius_px);
        out->hard[k] = true;
    }
    pc_picture_level(picture, card->x_px, card->y_px, radius_px, NULL, &level);
    if (level.pixels == 0 || level.clipped_ratio > 0.02)
        return pc_fail(err, PC_BAD_INPUT, name,
                       "The grey card at the %s is clipped; give this frame less exposure.",
                       m->place[k]->name);
    if (uneven > MOST_UNEVEN_EV)
        return pc_fail(
            err, PC_BAD_INPUT, name,
            "The light on the grey card at the %s goes apart by %.1f stops (a shadow's edge lies on it), so "
            "that it "
            "has no one level; lay it where the light is even, or point out a place on it (--card FILE=X,Y).",
            m->place[k]->name, uneven);
    for (int c = 0; c < 3; c++) {
        out->veil[k][c] = VEIL_RATIO * mean[c < picture->channels ? c : 0];
        out->camera[k][c] = level.value[c] - out->veil[k][c];
    }
    out->lens_loss[k] =
        hand_thin_loss(picture, m->series->frame[frame].facts.focal_35mm_mm, card->x_px, card->y_px);
    int g = picture->channels == 3 ? 1 : 0;
    out->se_ratio[k] = hypot(level.se[g] / fmax(level.value[g], HAND_LEAST_LEVEL),
                             hypot(out->hard[k] ? HARD_SE_RATIO : CARD_SE_RATIO, UNEVEN_SE_RATIO * uneven));
    return PC_OK;
}

static enum pc_status find_pair(struct hand_making *m, int frame, const struct pc_loaded *loaded,
                                struct pc_err *err)
{
    struct pc_place store[HAND_CARDS];
    const struct pc_place *pointed[HAND_CARDS];
    struct hand_pair guesses[HAND_GUESSES_MAX];
    const char *name = m->series->frame[frame].name;
    int count;
    gather_pointed(m, frame, store, pointed);
    if (frame == m->series->reference) {
        struct hand_frame *out = &m->cards[frame];
        PC_TRY(hand_pair_by_place(m->ctx, loaded, m->place, pointed, name, &out->pair, err));
        for (int k = 0; k < HAND_CARDS; k++)
            out->hard[k] = !out->pair.outlined[k];
        return PC_OK;
    }
    PC_TRY(hand_pairs_like(m->ctx, loaded, &m->cards[m->series->reference].pair, pointed, name, guesses,
                           &count, err));
    return hand_choose_pair(m, frame, &loaded->picture, guesses, count, err);
}

static enum pc_status read_frame(struct hand_making *m, int frame, struct pc_err *err)
{
    struct pc_loaded loaded;
    struct pc_facts facts;
    PC_TRY(pc_parts_load(m->reader, m->series->frame[frame].path, m->series->linear, &loaded, &facts, err));
    pc_picture_noise_from_one(&loaded.picture);
    enum pc_status status = find_pair(m, frame, &loaded, err);
    double mean[3];
    mean_level(&loaded.picture, mean);
    for (int k = 0; k < HAND_CARDS && status == PC_OK; k++)
        status = read_card(m, frame, &loaded.picture, mean, k, err);
    m->clipped_ratio[frame] = loaded.clipped_ratio;
    if (frame == m->series->reference) {
        pc_parts_set_colour(&m->colour, &loaded);
        pc_parts_note_sensor(&loaded, m->series->frame[frame].name, m->notes);
    }
    m->colour.ambient.channels = loaded.picture.channels;
    if (frame == m->series->reference)
        m->reference = loaded.picture;
    else
        pc_picture_finish(&loaded.picture);
    return status;
}

// Lenses lose more or less than a thin one: what the frames tell of it moves the usual loss by how much
// either is worth.
static void take_lens_off(struct hand_making *m)
{
    double weight = 1.0 / (LENS_SE * LENS_SE), sum = weight; // of a loss once that of a thin lens
    for (int i = 0; i < m->series->frame_count; i++) {
        const struct hand_frame *frame = &m->cards[i];
        if (frame->lens_seen) {
            weight += 1.0 / (frame->lens_se * frame->lens_se);
            sum += frame->lens_ratio / (frame->lens_se * frame->lens_se);
        }
    }
    double loss = sum / weight, loss_se = 1.0 / sqrt(weight);
    for (int i = 0; i < m->series->frame_count; i++)
        for (int k = 0; k < HAND_CARDS; k++) {
            struct hand_frame *frame = &m->cards[i];
            for (int c = 0; c < 3; c++) {
                frame->camera[k][c] *= exp(loss * frame->lens_loss[k]);
                frame->veil[k][c] *= exp(loss * frame->lens_loss[k]);
            }
            frame->se_ratio[k] = hypot(frame->se_ratio[k], loss_se * frame->lens_loss[k]);
        }
}

static double pair_drift_ratio(const struct hand_making *m, int a, int b)
{
    double at_a = hand_card_Y(m, a, 0) + hand_card_Y(m, a, 1),
           at_b = hand_card_Y(m, b, 0) + hand_card_Y(m, b, 1);
    return at_b / at_a * pc_series_exposure(m->series, a) / pc_series_exposure(m->series, b);
}

static enum pc_status find_drift(struct hand_making *m, struct pc_handheld *out, struct pc_notes *notes,
                                 struct pc_err *err)
{
    int last = -1;
    for (int i = 0; i < m->series->frame_count; i++) {
        if (m->series->frame[i].role != PC_ROLE_AMBIENT)
            continue;
        if (last >= 0) {
            double pct = 100.0 * (pair_drift_ratio(m, last, i) - 1.0);
            if (fabs(pct) > pc_drift_refused_pct)
                return pc_series_refuse_drift(m->series, last, i, pct, err);
            if (fabs(pct) > fabs(out->drift_pct))
                out->drift_pct = pct;
        }
        last = i;
    }
    if (fabs(out->drift_pct) > DRIFT_REPORTED_PCT)
        pc_notes_add(notes, "The window went %s by %.0f %% over the set; this was taken off.",
                     out->drift_pct > 0.0 ? "up" : "down", fabs(out->drift_pct));
    return PC_OK;
}

// Says in which frames a card was read without its outline, or unproved.
static void note_hard(const struct hand_making *m, struct pc_notes *notes)
{
    char names[400] = "";
    size_t at = 0;
    int n = 0;
    for (int i = 0; i < m->series->frame_count; i++)
        if (m->cards[i].hard[0] || m->cards[i].hard[1]) {
            int took =
                snprintf(names + at, sizeof names - at, "%s%s", n > 0 ? ", " : "", m->series->frame[i].name);
            if (took < 0 || at + (size_t)took >= sizeof names)
                snprintf(names + sizeof names - 4, 4, "...");
            at = at + (size_t)took < sizeof names ? at + (size_t)took : sizeof names - 1;
            n++;
        }
    if (n > 0)
        pc_notes_add(
            notes,
            "A grey card is hard to read in %s: it is seen too flat, a shadow reaches over it, or nothing "
            "about it shows that it is the card. The shares' tolerances are wider for it.",
            names);
}

static enum pc_status hand_read(struct hand_making *m, struct pc_handheld *out, struct pc_notes *notes,
                                struct pc_err *err)
{
    const struct pc_series *series = m->series;
    PC_TRY(read_frame(m, series->reference, err));
    for (int i = 0; i < series->frame_count; i++) {
        PC_TRY(pc_ctx_step(m->ctx, "finding the grey cards", (double)i / series->frame_count, err));
        if (i != series->reference)
            PC_TRY(read_frame(m, i, err));
    }
    take_lens_off(m);
    PC_TRY(hand_check(m, err));
    note_hard(m, notes);
    PC_TRY(find_drift(m, out, notes, err));
    struct pc_reading *reading = &out->reading;
    reading->place_count = HAND_CARDS;
    for (int k = 0; k < HAND_CARDS; k++)
        reading->place[k] = *m->place[k];
    reading->has_colour = m->colour.has_xyz;
    reading->light_count = series->light_count;
    hand_fill_ambient(m, reading);
    for (int light = 0; light < series->light_count; light++)
        PC_TRY(hand_fill_light(m, light, out, notes, err));
    const struct pc_series_frame *reference = &series->frame[series->reference];
    out->exposure = (struct pc_exposure){series->has_exposure ? reference->shutter_s : (double)NAN,
                                         series->has_aperture ? reference->facts.fnumber : (double)NAN,
                                         series->has_iso ? reference->facts.iso : (double)NAN};
    return PC_OK;
}

enum pc_status pc_handheld_read(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_series *series, const struct pc_place *hero,
                                const struct pc_place *surface, const struct pc_pointed *pointed,
                                int pointed_count, struct pc_handheld *handheld, struct pc_notes *notes,
                                struct pc_err *err)
{
    memset(handheld, 0, sizeof *handheld);
    struct hand_making *m = calloc(1, sizeof *m);
    PC_ASSERT(m != NULL);
    *m = (struct hand_making){.ctx = ctx,
                              .reader = reader,
                              .series = series,
                              .place = {hero, surface},
                              .pointed = pointed,
                              .pointed_count = pointed_count,
                              .notes = notes};
    m->cards = calloc((size_t)series->frame_count, sizeof *m->cards);
    m->clipped_ratio = calloc((size_t)series->frame_count, sizeof *m->clipped_ratio);
    PC_ASSERT(m->cards != NULL && m->clipped_ratio != NULL);
    enum pc_status status = hand_read(m, handheld, notes, err);
    pc_picture_finish(&m->reference);
    free(m->cards);
    free(m->clipped_ratio);
    free(m);
    return status;
}
