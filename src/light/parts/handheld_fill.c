// SPDX-License-Identifier: Apache-2.0
// From levels on the cards to the table of readings.
#include "light/parts/handheld_priv.h"

#include "base/linalg.h"
#include "base/units.h"
#include "light/parts/fit.h"

static const double CARD_TOLERANCE_MIRED = 8.0;
static const double CARDS_ALIKE_EV = 0.05;    // two cards of one make
static const double DRIFT_STRAY_RATIO = 0.25; // as for frames locked off
static const double MIX_CERTAIN_RATIO = 0.1;  // of the whole drive, 95 %: as for frames locked off

double hand_card_Y(const struct hand_making *m, int frame, int card)
{
    return pc_parts_Y(&m->colour, m->cards[frame].camera[card]);
}

void hand_lone_light(const struct hand_making *m, int frame, bool veil, double alone[HAND_CARDS][3])
{
    const struct pc_series *series = m->series;
    int before, after;
    double between;
    pc_series_bracket(series, frame, &before, &after, &between);
    bool flash = series->light[series->frame[frame].light].flash;
    double gain = pc_series_gain(series, frame), shutter = pc_series_exposure(series, frame) / gain;
    double unit = flash ? gain : gain * shutter, ambient = flash ? shutter : 1.0;
    for (int k = 0; k < HAND_CARDS; k++)
        for (int c = 0; c < 3; c++) {
            const struct hand_frame *at = &m->cards[frame], *from = &m->cards[before], *to = &m->cards[after];
            double level = veil ? at->veil[k][c] : at->camera[k][c],
                   first = veil ? from->veil[k][c] : from->camera[k][c],
                   last = veil ? to->veil[k][c] : to->camera[k][c];
            alone[k][c] =
                level / unit - ambient * ((1.0 - between) * first / pc_series_exposure(series, before) +
                                          between * last / pc_series_exposure(series, after));
        }
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

void hand_fill_ambient(const struct hand_making *m, struct pc_reading *reading)
{
    int last = m->series->reference;
    for (int i = 0; i < m->series->frame_count; i++)
        if (m->series->frame[i].role == PC_ROLE_AMBIENT)
            last = i;
    for (int k = 0; k < HAND_CARDS; k++) {
        double camera[3];
        for (int c = 0; c < 3; c++)
            camera[c] =
                fmax(m->cards[last].camera[k][c], HAND_LEAST_LEVEL) / pc_series_exposure(m->series, last);
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
    double alone[HAND_CARDS][3], veil[HAND_CARDS][3],
        stray_ratio = DRIFT_STRAY_RATIO * fabs(out->drift_pct) / 100.0;
    double whole = 0.5 * m->series->frame[frame].shutter_tolerance_ev * log(2.0);
    hand_lone_light(m, frame, false, alone);
    hand_lone_light(m, frame, true, veil);
    for (int k = 0; k < HAND_CARDS; k++) {
        double xyz[3];
        to_xyz(m, alone[k], xyz);
        for (int c = 0; c < 3; c++)
            emitter->xyz[k][c] = fmax(xyz[c], HAND_LEAST_LEVEL) * per_full;
        // The card's own error is of the whole frame, of which the light is a part.
        double Y = fmax(xyz[1], HAND_LEAST_LEVEL), ambient_over = out->reading.ambient_xyz[k][1] / Y;
        double card = m->cards[frame].se_ratio[k] * (1.0 + ambient_over),
               drift = 0.5 * stray_ratio * ambient_over, veiled = 0.5 * pc_parts_Y(&m->colour, veil[k]) / Y;
        emitter->se_ratio[k] = sqrt(card * card + drift * drift + whole * whole + veiled * veiled);
    }
    memcpy(emitter->white_xyz, emitter->xyz[PC_PLACE_HERO], sizeof emitter->white_xyz);
}

// How a frame between the two ends drives each emitter, from the colours on both cards; false when that
// cannot be told.
static bool read_mix(const struct hand_making *m, const int ends[2], int frame, const struct pc_curve *curve,
                     struct pc_fit_mix *mix)
{
    const struct pc_series_frame *of = m->series->frame;
    const int frames[3] = {ends[0], ends[1], frame};
    double alone[3][HAND_CARDS][3], a[2 * HAND_CARDS * 3], b[HAND_CARDS * 3], weight[2];
    for (int i = 0; i < 3; i++)
        hand_lone_light(m, frames[i], false, alone[i]);
    int n = 0;
    for (int k = 0; k < HAND_CARDS; k++) {
        // Each colour counts by how well it is known: the card's own error is of the frame.
        for (int c = 0; c < 3; c++, n++) {
            double least = m->cards[frame].se_ratio[k] *
                           fmax(m->cards[frame].camera[k][c], HAND_LEAST_LEVEL) /
                           pc_series_exposure(m->series, frame);
            a[2 * n] = alone[0][k][c] / least;
            a[2 * n + 1] = alone[1][k][c] / least;
            b[n] = alone[2][k][c] / least;
        }
    }
    double full[2] = {pc_curve_light(curve, of[ends[0]].dial_ratio),
                      pc_curve_light(curve, of[ends[1]].dial_ratio)},
           now = pc_curve_light(curve, of[frame].dial_ratio);
    double xx = 0.0, xy = 0.0, yy = 0.0;
    for (int i = 0; i < n; i++) {
        xx += a[2 * i] * a[2 * i];
        xy += a[2 * i] * a[2 * i + 1];
        yy += a[2 * i + 1] * a[2 * i + 1];
    }
    double spread = xx * yy - xy * xy;
    if (!(spread > 0.0) || !pc_linalg_least_squares(n, 2, a, b, weight))
        return false;
    *mix = (struct pc_fit_mix){.mired = pc_mired_from_K(of[frame].kelvin_K),
                               .warm_ratio = weight[0] * full[0] / now,
                               .cool_ratio = weight[1] * full[1] / now};
    double sure = 2.0 * sqrt(fmax(xx, yy) / spread); // 95 % of either weight
    return sure < MIX_CERTAIN_RATIO * (weight[0] + weight[1]);
}

static void fill_kelvin(const struct hand_making *m, int light, const int ends[2],
                        struct pc_reading_light *to, struct pc_notes *notes)
{
    const struct pc_series *series = m->series;
    struct pc_fit_mix mixes[PC_FRAMES_MAX];
    int n = 0;
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *frame = &series->frame[i];
        if (frame->light != light || frame->kelvin_K == series->frame[ends[0]].kelvin_K ||
            frame->kelvin_K == series->frame[ends[1]].kelvin_K)
            continue;
        bool again = false; // one mix for each kelvin: the first
        for (int k = 0; k < n; k++)
            again |= mixes[k].mired == pc_mired_from_K(frame->kelvin_K);
        if (!again && read_mix(m, ends, i, &to->curve, &mixes[n]))
            n++;
        else
            pc_notes_add(
                notes, "%s was passed over: %s", frame->name,
                again
                    ? "another frame of this light at the same kelvin was used."
                    : "it cannot be told apart into the warm and the cool light by the colour on the cards.");
    }
    double fell;
    to->kelvin = pc_fit_kelvin(pc_mired_from_K(series->frame[ends[1]].kelvin_K),
                               pc_mired_from_K(series->frame[ends[0]].kelvin_K), mixes, n, &fell);
    if (to->kelvin.points > 0)
        pc_notes_add(notes,
                     "How %s mixes warm and cool was measured at %d kelvin%s between the two, on the cards.",
                     to->name, to->kelvin.points - 2, to->kelvin.points == 3 ? "" : "s");
}

enum pc_status hand_fill_light(const struct hand_making *m, int light, struct pc_handheld *out,
                               struct pc_notes *notes, struct pc_err *err)
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
        if (frame->light != light)
            continue;
        if (!(isnan(frame->kelvin_K) || frame->kelvin_K == series->frame[warm].kelvin_K)) {
            if (frame->kelvin_K == series->frame[cool].kelvin_K && i != cool)
                pc_notes_add(
                    notes,
                    "%s was passed over: in a set from the hand the dial of %s is measured at its warmest "
                    "kelvin only.",
                    frame->name, to->name);
            continue;
        }
        double alone[HAND_CARDS][3];
        hand_lone_light(m, i, false, alone);
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
    if (to->emitter_count == 2)
        fill_kelvin(m, light, frames, to, notes);
    to->kelvin_K = to->emitter_count == 2
                       ? pc_K_from_mired(0.5 * (pc_mired_from_K(series->frame[warm].kelvin_K) +
                                                pc_mired_from_K(series->frame[cool].kelvin_K)))
                       : (double)NAN;
    return PC_OK;
}
