// SPDX-License-Identifier: Apache-2.0
#include "light/parts/handheld.h"

#include "base/linalg.h"
#include "base/units.h"
#include "light/parts/fit.h"
#include "light/parts/handheld_priv.h"

static const double CARD_TOLERANCE_MIRED = 8.0;
// A card tilts a little from frame to frame, and the lens falls off towards the corners it wanders to.
static const double CARD_SE_RATIO = 0.03;
static const double UNEVEN_SE_RATIO =
    0.05;                          // per stop over the card: it is not read at quite the same spot twice
static const double LENS_SE = 0.5; // of what a thin lens loses, before the frames tell more
static const double MOST_UNEVEN_EV = 0.5;
static const double CARDS_ALIKE_EV = 0.05; // two cards of one make
static const double DRIFT_REPORTED_PCT = 3.0;
static const double DRIFT_STRAY_RATIO = 0.25; // as for frames locked off
static const double LEAST_LEVEL = 1e-7;

struct frame_cards {
    double camera[HAND_CARDS][3]; // levels, camera colour, as exposed
    double se_ratio[HAND_CARDS];
    double lens_loss[HAND_CARDS]; // of a thin lens; see take_lens_off
    struct hand_pair pair;
};

struct hand_making {
    struct pc_ctx *ctx;
    struct pc_photo_reader *reader;
    const struct pc_series *series;
    const struct pc_place *place[HAND_CARDS];
    const struct pc_pointed *pointed;
    int pointed_count;
    struct frame_cards *cards; // frame_count
    double *clipped_ratio;     // frame_count
    struct pc_parts colour;    // only its matrix is used
};

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

// How far the light goes apart over a card: the brightest and the darkest of five spots on its disc.
static double uneven_ev(const struct pc_picture *picture, const struct pc_card *card)
{
    double least = INFINITY, most = 0.0, spot_px = 0.4 * card->inner_radius_px,
           out_px = 0.6 * card->inner_radius_px;
    for (int i = 0; i < 9; i++) {
        double way_rad = i * PC_PI / 4.0, out = i < 8 ? out_px : 0.0;
        struct pc_level level;
        pc_picture_level(picture, card->x_px + out * cos(way_rad), card->y_px + out * sin(way_rad), spot_px,
                         NULL, &level);
        if (level.pixels == 0)
            continue;
        double value = fmax(level.value[picture->channels == 3 ? 1 : 0], LEAST_LEVEL);
        least = fmin(least, value);
        most = fmax(most, value);
    }
    return most > 0.0 ? log2(most / least) : 0.0;
}

// What the lens loses at a place against the middle, as a natural logarithm: the cosine to the fourth of the
// way the light comes, as a thin lens has it.
static double lens_loss(const struct hand_making *m, int frame, const struct pc_picture *picture,
                        const struct pc_card *card)
{
    const double USUAL_FOCAL_mm = 50.0, HALF_DIAGONAL_mm = 21.63; // of 36 x 24 mm
    double focal_mm = m->series->frame[frame].facts.focal_35mm_mm;
    double half_px = 0.5 * hypot(picture->full_width_px, picture->full_height_px);
    double r = hypot(card->x_px - 0.5 * picture->full_width_px, card->y_px - 0.5 * picture->full_height_px) /
               half_px;
    double tangent = r * HALF_DIAGONAL_mm / (focal_mm > 0.0 ? focal_mm : USUAL_FOCAL_mm);
    return 2.0 * log(1.0 + tangent * tangent);
}

static enum pc_status read_card(const struct hand_making *m, int frame, const struct pc_picture *picture,
                                int k, struct pc_err *err)
{
    const char *name = m->series->frame[frame].name;
    const struct hand_pair *pair = &m->cards[frame].pair;
    const struct pc_card *card = &pair->card[k];
    struct frame_cards *out = &m->cards[frame];
    struct pc_level level;
    pc_picture_level(picture, card->x_px, card->y_px, card->inner_radius_px, NULL, &level);
    if (level.pixels == 0 || level.clipped_ratio > 0.02)
        return pc_fail(err, PC_BAD_INPUT, name,
                       "The grey card at the %s is clipped; give this frame less exposure.",
                       m->place[k]->name);
    double uneven = uneven_ev(picture, card);
    if (uneven > MOST_UNEVEN_EV)
        return pc_fail(
            err, PC_BAD_INPUT, name,
            "The light on the grey card at the %s goes apart by %.1f stops (a shadow's edge lies on it), so "
            "that it "
            "has no one level; lay it where the light is even, or point out a place on it (--card FILE=X,Y).",
            m->place[k]->name, uneven);
    memcpy(out->camera[k], level.value, sizeof out->camera[k]);
    out->lens_loss[k] = lens_loss(m, frame, picture, card);
    int g = picture->channels == 3 ? 1 : 0;
    out->se_ratio[k] = hypot(level.se[g] / fmax(level.value[g], LEAST_LEVEL),
                             hypot(CARD_SE_RATIO, UNEVEN_SE_RATIO * uneven));
    return PC_OK;
}

static enum pc_status read_frame(struct hand_making *m, int frame, struct pc_err *err)
{
    struct pc_loaded loaded;
    struct pc_facts facts;
    struct pc_place store[HAND_CARDS];
    const struct pc_place *pointed[HAND_CARDS];
    const char *name = m->series->frame[frame].name;
    struct hand_pair *pair = &m->cards[frame].pair;
    PC_TRY(pc_parts_load(m->reader, m->series->frame[frame].path, m->series->linear, &loaded, &facts, err));
    pc_picture_noise_from_one(&loaded.picture);
    gather_pointed(m, frame, store, pointed);
    enum pc_status status =
        frame == m->series->reference
            ? hand_pair_by_place(m->ctx, &loaded, m->place, pointed, name, pair, err)
            : hand_pair_like(m->ctx, &loaded, &m->cards[m->series->reference].pair, pointed, name, pair, err);
    for (int k = 0; k < HAND_CARDS && status == PC_OK; k++)
        status = read_card(m, frame, &loaded.picture, k, err);
    m->clipped_ratio[frame] = loaded.clipped_ratio;
    if (frame == m->series->reference)
        pc_parts_set_colour(&m->colour, &loaded);
    m->colour.ambient.channels = loaded.picture.channels;
    pc_picture_finish(&loaded.picture);
    return status;
}

// Lenses lose more or less than a thin one. Frames of the ambient alone show the two cards in the same light,
// so that what their ratio changes from one to another is the lens's: it moves the usual loss towards what is
// seen, by how much either is worth.
static void take_lens_off(struct hand_making *m)
{
    const struct frame_cards *reference = &m->cards[m->series->reference];
    int g = m->colour.ambient.channels == 3 ? 1 : 0;
    double weight = 1.0 / (LENS_SE * LENS_SE), sum = weight; // of a loss once that of a thin lens
    for (int i = 0; i < m->series->frame_count; i++) {
        const struct frame_cards *frame = &m->cards[i];
        if (m->series->frame[i].role != PC_ROLE_AMBIENT || i == m->series->reference)
            continue;
        double seen =
            log(fmax(frame->camera[1][g], LEAST_LEVEL) / fmax(frame->camera[0][g], LEAST_LEVEL)) -
            log(fmax(reference->camera[1][g], LEAST_LEVEL) / fmax(reference->camera[0][g], LEAST_LEVEL));
        double thin =
            (frame->lens_loss[0] - frame->lens_loss[1]) - (reference->lens_loss[0] - reference->lens_loss[1]);
        double var = 0.0;
        for (int k = 0; k < HAND_CARDS; k++)
            var += frame->se_ratio[k] * frame->se_ratio[k] + reference->se_ratio[k] * reference->se_ratio[k];
        weight += thin * thin / var;
        sum += thin * seen / var;
    }
    double loss = sum / weight, loss_se = 1.0 / sqrt(weight);
    for (int i = 0; i < m->series->frame_count; i++)
        for (int k = 0; k < HAND_CARDS; k++) {
            struct frame_cards *frame = &m->cards[i];
            for (int c = 0; c < 3; c++)
                frame->camera[k][c] *= exp(loss * frame->lens_loss[k]);
            frame->se_ratio[k] = hypot(frame->se_ratio[k], loss_se * frame->lens_loss[k]);
        }
}

static double card_Y(const struct hand_making *m, int frame, int card)
{
    return pc_parts_Y(&m->colour, m->cards[frame].camera[card]);
}

static double pair_drift_ratio(const struct hand_making *m, int a, int b)
{
    double at_a = card_Y(m, a, 0) + card_Y(m, a, 1), at_b = card_Y(m, b, 0) + card_Y(m, b, 1);
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

// The light of one frame alone at the cards, per unit of the reference exposure (camera colour).
static void lone_light(const struct hand_making *m, int i, double alone[HAND_CARDS][3])
{
    const struct pc_series *series = m->series;
    int before, after;
    double between;
    pc_series_bracket(series, i, &before, &after, &between);
    bool flash = series->light[series->frame[i].light].flash;
    double gain = pc_series_gain(series, i), shutter = pc_series_exposure(series, i) / gain;
    double unit = flash ? gain : gain * shutter, ambient = flash ? shutter : 1.0;
    for (int k = 0; k < HAND_CARDS; k++)
        for (int c = 0; c < 3; c++)
            alone[k][c] =
                m->cards[i].camera[k][c] / unit -
                ambient *
                    ((1.0 - between) * m->cards[before].camera[k][c] / pc_series_exposure(series, before) +
                     between * m->cards[after].camera[k][c] / pc_series_exposure(series, after));
}

static void to_xyz(const struct hand_making *m, const double camera[3], double xyz[3])
{
    if (m->colour.has_xyz) {
        pc_linalg_apply3(m->colour.xyz_from_camera, camera, xyz);
        return;
    }
    for (int c = 0; c < 3; c++)
        xyz[c] = pc_parts_Y(&m->colour, camera);
}

static void fill_ambient(const struct hand_making *m, struct pc_reading *reading)
{
    int last = m->series->reference;
    for (int i = 0; i < m->series->frame_count; i++)
        if (m->series->frame[i].role == PC_ROLE_AMBIENT)
            last = i;
    for (int k = 0; k < HAND_CARDS; k++) {
        double camera[3];
        for (int c = 0; c < 3; c++)
            camera[c] = fmax(m->cards[last].camera[k][c], LEAST_LEVEL) / pc_series_exposure(m->series, last);
        to_xyz(m, camera, reading->ambient_xyz[k]);
        reading->ambient_se_ratio[k] = m->cards[last].se_ratio[k];
    }
    memcpy(reading->ambient_white_xyz, reading->ambient_xyz[PC_PLACE_HERO],
           sizeof reading->ambient_white_xyz);
    reading->white_tolerance_mired = CARD_TOLERANCE_MIRED;
    reading->reflect_tolerance_ev = CARDS_ALIKE_EV; // both places are grey card: nothing to divide out
}

static void fill_emitter(const struct hand_making *m, const struct pc_handheld *out, int frame,
                         double per_full, struct pc_reading_emitter *emitter)
{
    double alone[HAND_CARDS][3], stray_ratio = DRIFT_STRAY_RATIO * fabs(out->drift_pct) / 100.0;
    double whole = 0.5 * m->series->frame[frame].shutter_tolerance_ev * log(2.0);
    lone_light(m, frame, alone);
    for (int k = 0; k < HAND_CARDS; k++) {
        double xyz[3];
        to_xyz(m, alone[k], xyz);
        for (int c = 0; c < 3; c++)
            emitter->xyz[k][c] = fmax(xyz[c], LEAST_LEVEL) * per_full;
        // The card's own error is of the whole frame, of which the light is a part.
        double Y = fmax(xyz[1], LEAST_LEVEL), ambient_over = out->reading.ambient_xyz[k][1] / Y;
        double card = m->cards[frame].se_ratio[k] * (1.0 + ambient_over),
               drift = 0.5 * stray_ratio * ambient_over;
        emitter->se_ratio[k] = sqrt(card * card + drift * drift + whole * whole);
    }
    memcpy(emitter->white_xyz, emitter->xyz[PC_PLACE_HERO], sizeof emitter->white_xyz);
}

static enum pc_status fill_light(const struct hand_making *m, int light, struct pc_handheld *out,
                                 struct pc_err *err)
{
    struct pc_reading *reading = &out->reading;
    struct pc_reading_light *to = &reading->light[light];
    const struct pc_series *series = m->series;
    snprintf(to->name, sizeof to->name, "%s", series->light[light].name);
    to->flash = series->light[light].flash;
    int warm = -1, cool = -1, n = 0;
    double dial[PC_FRAMES_MAX], level[PC_FRAMES_MAX];
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        if (frame->light != light)
            continue;
        bool warmer = warm < 0 || frame->kelvin_K < series->frame[warm].kelvin_K;
        bool cooler = cool < 0 || frame->kelvin_K > series->frame[cool].kelvin_K;
        bool same = warm >= 0 && !warmer && frame->dial_ratio > series->frame[warm].dial_ratio &&
                    isnan(frame->kelvin_K);
        warm = warmer || same ? i : warm;
        cool = cooler || same ? i : cool;
        out->clipped_ratio[light] = fmax(out->clipped_ratio[light], m->clipped_ratio[i]);
    }
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        if (frame->light != light ||
            !(isnan(frame->kelvin_K) || frame->kelvin_K == series->frame[warm].kelvin_K))
            continue;
        double alone[HAND_CARDS][3];
        lone_light(m, i, alone);
        dial[n] = frame->dial_ratio;
        level[n++] = pc_parts_Y(&m->colour, alone[0]) + pc_parts_Y(&m->colour, alone[1]);
    }
    to->curve = pc_fit_curve(dial, level, n, NULL);
    to->emitter_count = warm != cool ? 2 : 1;
    const int frames[2] = {warm, cool};
    for (int e = 0; e < to->emitter_count; e++) {
        if (reading->emitter_count == PC_EMITTERS_MAX)
            return pc_fail(err, PC_BAD_INPUT, to->name, "There are more than %d emitters.", PC_EMITTERS_MAX);
        to->emitter[e] = reading->emitter_count++;
        struct pc_reading_emitter *emitter = &reading->emitter[to->emitter[e]];
        emitter->light = light;
        emitter->cct_K = to->emitter_count == 2 ? series->frame[frames[e]].kelvin_K : (double)NAN;
        to->dial_ratio = series->frame[frames[e]].dial_ratio;
        fill_emitter(m, out, frames[e], 1.0 / pc_curve_light(&to->curve, to->dial_ratio), emitter);
    }
    to->kelvin_K = to->emitter_count == 2
                       ? pc_K_from_mired(0.5 * (pc_mired_from_K(series->frame[warm].kelvin_K) +
                                                pc_mired_from_K(series->frame[cool].kelvin_K)))
                       : (double)NAN;
    return PC_OK;
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
    PC_TRY(find_drift(m, out, notes, err));
    struct pc_reading *reading = &out->reading;
    reading->place_count = HAND_CARDS;
    for (int k = 0; k < HAND_CARDS; k++)
        reading->place[k] = *m->place[k];
    reading->has_colour = m->colour.has_xyz;
    reading->light_count = series->light_count;
    fill_ambient(m, reading);
    for (int light = 0; light < series->light_count; light++)
        PC_TRY(fill_light(m, light, out, err));
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
                              .pointed_count = pointed_count};
    m->cards = calloc((size_t)series->frame_count, sizeof *m->cards);
    m->clipped_ratio = calloc((size_t)series->frame_count, sizeof *m->clipped_ratio);
    PC_ASSERT(m->cards != NULL && m->clipped_ratio != NULL);
    enum pc_status status = hand_read(m, handheld, notes, err);
    free(m->cards);
    free(m->clipped_ratio);
    free(m);
    return status;
}
