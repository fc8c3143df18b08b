// SPDX-License-Identifier: Apache-2.0
// Whether what was read can be two cards that stayed where they are: the last stop for a thing taken for a
// card.
#include "light/parts/handheld_priv.h"

// The window may go a little another way between two frames; a thing that is no card is seldom so near to
// one.
static const double AMBIENT_APART_EV = 0.15;
// Of the ambient: cards read 1 % apart at most where light is even, and half as much again is left to shade.
static const double DARKER_RATIO = 0.06;
// One light has one colour, but walls and food throw theirs on one card more than on the other.
static const double COLOUR_APART_EV = 0.5;
static const double AMBIENT_COLOUR_APART_EV = 0.2;
static const double TOLD_RATIO =
    0.25; // of all the light on the card: below it a light's colour is not well known

static enum pc_status refuse(const struct hand_making *m, int a, int b, const char *what, struct pc_err *err)
{
    const struct pc_series *series = m->series;
    int frame = m->cards[a].pair.pointed ? b : a;
    bool pointed = m->cards[a].pair.pointed && m->cards[b].pair.pointed;
    if (pointed)
        return pc_fail(
            err, PC_BAD_INPUT, series->frame[a].name,
            "%s, though the cards are pointed out in %s and %s: a card was moved, something threw its "
            "shadow on it, or the places are not on the cards. Take the set again with the cards left "
            "lying.",
            what, series->frame[a].name, series->frame[b].name);
    return pc_fail(
        err, PC_NOT_FOUND, series->frame[frame].name,
        "%s (%s against %s): something else may have been taken for a grey card. Point both cards out in "
        "this frame (--card FILE=X,Y given twice, the hero's first and then the surface's), or take the set "
        "again.",
        what, series->frame[a].name, series->frame[b].name);
}

// log2 of a colour's red and blue over its green.
static void colour_ev(const double camera[3], double ev[2])
{
    double green = fmax(camera[1], HAND_LEAST_LEVEL);
    ev[0] = log2(fmax(camera[0], HAND_LEAST_LEVEL) / green);
    ev[1] = log2(fmax(camera[2], HAND_LEAST_LEVEL) / green);
}

static double colours_apart_ev(const double a[3], const double b[3])
{
    double u[2], v[2];
    colour_ev(a, u);
    colour_ev(b, v);
    return fmax(fabs(u[0] - v[0]), fabs(u[1] - v[1]));
}

static enum pc_status check_ambient(const struct hand_making *m, int frame, struct pc_err *err)
{
    int reference = m->series->reference;
    const struct hand_frame *was = &m->cards[reference], *now = &m->cards[frame];
    double ratio_ev[2];
    for (int i = 0; i < 2; i++)
        ratio_ev[i] = log2(fmax(hand_card_Y(m, i == 0 ? reference : frame, 0), HAND_LEAST_LEVEL) /
                           fmax(hand_card_Y(m, i == 0 ? reference : frame, 1), HAND_LEAST_LEVEL));
    if (fabs(ratio_ev[1] - ratio_ev[0]) > AMBIENT_APART_EV)
        return refuse(m, frame, reference,
                      "The two cards do not stand to each other as they did under the same light", err);
    for (int k = 0; k < HAND_CARDS && m->colour.ambient.channels == 3; k++)
        if (colours_apart_ev(was->camera[k], now->camera[k]) > AMBIENT_COLOUR_APART_EV)
            return refuse(m, frame, reference,
                          "A card does not have the colour that it had under the same light", err);
    return PC_OK;
}

static enum pc_status check_light(const struct hand_making *m, int frame, struct pc_err *err)
{
    int before, after;
    double between, alone[HAND_CARDS][3];
    pc_series_bracket(m->series, frame, &before, &after, &between);
    hand_lone_light(m, frame, false, alone);
    bool told = true;
    for (int k = 0; k < HAND_CARDS; k++) {
        double Y = pc_parts_Y(&m->colour, alone[k]),
               ambient = hand_card_Y(m, before, k) / pc_series_exposure(m->series, before);
        if (Y < -DARKER_RATIO * ambient)
            return refuse(m, frame, before, "A card is darker with the light on than without it", err);
        told &= Y > TOLD_RATIO * (Y + ambient);
    }
    if (told && m->colour.ambient.channels == 3 && colours_apart_ev(alone[0], alone[1]) > COLOUR_APART_EV)
        return refuse(m, frame, before, "One light has two colours on the two cards", err);
    return PC_OK;
}

enum pc_status hand_check(const struct hand_making *m, struct pc_err *err)
{
    for (int i = 0; i < m->series->frame_count; i++) {
        if (i == m->series->reference)
            continue;
        PC_TRY(m->series->frame[i].role == PC_ROLE_AMBIENT ? check_ambient(m, i, err)
                                                           : check_light(m, i, err));
    }
    return PC_OK;
}
