// SPDX-License-Identifier: Apache-2.0
// A wish from a page, read and answered.
#include "front/answer/desk_priv.h"

#include "front/answer/wanted.h"

enum { NAME_BYTES = 31 };

// A wish as it is read; texts stay in its JSON.
struct wish {
    struct pc_asked asked; // dials and limits only
    struct pc_wanted_goal goal[PC_GOALS_MAX];
    int goals;
    struct pc_asked_dial dial[2 * PC_LIGHTS_MAX];
    struct pc_asked_limit limit[3 * PC_LIGHTS_MAX];
};

static enum pc_status read_number(const struct pc_json *json, const char *place, double least, double most,
                                  double *value, struct pc_err *err)
{
    if (!pc_json_number(json, value) || !(*value >= least && *value <= most))
        return pc_fail(err, PC_BAD_INPUT, place, "This has to be a number from %g to %g.", least, most);
    return PC_OK;
}

static enum pc_status read_goal(const struct pc_json *json, struct pc_wanted_goal *goal, struct pc_err *err)
{
    const char *key = pc_json_text(pc_json_get(json, "goal"));
    const struct pc_json *place = pc_json_get(json, "place");
    if (key == NULL || !pc_wanted_kind(key, &goal->kind))
        return pc_fail(err, PC_BAD_INPUT, "goal",
                       "This has to be hero_ev, surface_under_hero_light_stops, place_ev, place_mired, "
                       "key_to_fill_stops or second_shadow_stops.");
    bool at_place = goal->kind == PC_GOAL_PLACE_LEVEL || goal->kind == PC_GOAL_PLACE_WARMTH;
    goal->place = at_place ? pc_json_text(place) : NULL;
    if (at_place && goal->place == NULL)
        return pc_fail(err, PC_BAD_INPUT, "place", "Say at which place.");
    double most = goal->kind == PC_GOAL_PLACE_WARMTH ? 300.0 : 10.0;
    return read_number(pc_json_get(json, "value"), "value", goal->kind == PC_GOAL_SECOND_SHADOW ? 0.0 : -most,
                       most, &goal->value, err);
}

static enum pc_status read_dials(const struct pc_json *json, struct wish *wish, struct pc_err *err)
{
    const struct pc_json *dials = pc_json_get(json, "dials"), *kelvins = pc_json_get(json, "kelvins_K"),
                         *value;
    const char *light;
    void *at = NULL;
    while (dials != NULL && pc_json_next(dials, &at, &light, &value)) {
        if (wish->asked.dial_count == PC_LIGHTS_MAX)
            return pc_fail(err, PC_BAD_INPUT, "dials", "There are more than %d lights.", PC_LIGHTS_MAX);
        struct pc_asked_dial *dial = &wish->dial[wish->asked.dial_count++];
        *dial = (struct pc_asked_dial){.light = light, .kelvin_K = NAN};
        PC_TRY(read_number(value, "dials", 0.0, 1.0, &dial->dial_ratio, err));
    }
    at = NULL;
    while (kelvins != NULL && pc_json_next(kelvins, &at, &light, &value)) {
        if (wish->asked.dial_count == 2 * PC_LIGHTS_MAX)
            return pc_fail(err, PC_BAD_INPUT, "kelvins_K", "There are more than %d lights.", PC_LIGHTS_MAX);
        struct pc_asked_dial *dial = &wish->dial[wish->asked.dial_count++];
        *dial = (struct pc_asked_dial){.light = light, .dial_ratio = NAN};
        PC_TRY(read_number(value, "kelvins_K", 1000.0, 40000.0, &dial->kelvin_K, err));
    }
    return PC_OK;
}

static enum pc_status add_limit(struct wish *wish, const char *key, struct pc_asked_limit limit,
                                struct pc_err *err)
{
    if (wish->asked.limit_count == (int)PC_COUNT(wish->limit))
        return pc_fail(err, PC_BAD_INPUT, key, "There are more limits than lights.");
    wish->limit[wish->asked.limit_count++] = limit;
    return PC_OK;
}

static enum pc_status read_limits(const struct pc_json *json, struct wish *wish, struct pc_err *err)
{
    static const struct {
        const char *key;
        enum pc_asked_limit_kind kind;
    } kinds[] = {{"caps", PC_LIMIT_CAP}, {"leasts", PC_LIMIT_LEAST}};
    for (size_t k = 0; k < PC_COUNT(kinds); k++) {
        const struct pc_json *all = pc_json_get(json, kinds[k].key), *value;
        const char *light;
        void *at = NULL;
        while (all != NULL && pc_json_next(all, &at, &light, &value)) {
            struct pc_asked_limit limit = {.kind = kinds[k].kind, .light = light};
            PC_TRY(read_number(value, kinds[k].key, 0.0, 1.0, &limit.value[0], err));
            PC_TRY(add_limit(wish, kinds[k].key, limit, err));
        }
    }
    const struct pc_json *leave = pc_json_get(json, "leave");
    for (size_t i = 0; leave != NULL && i < pc_json_count(leave); i++) {
        struct pc_asked_limit limit = {.kind = PC_LIMIT_LEAVE, .light = pc_json_text(pc_json_at(leave, i))};
        if (limit.light == NULL)
            return pc_fail(err, PC_BAD_INPUT, "leave", "Each of its items has to be the name of a light.");
        PC_TRY(add_limit(wish, "leave", limit, err));
    }
    return PC_OK;
}

static enum pc_status read_wish(const struct pc_json *json, struct wish *wish, struct pc_err *err)
{
    const struct pc_json *goals = pc_json_get(json, "goals");
    pc_asked_init(&wish->asked);
    wish->asked.dial = wish->dial;
    wish->asked.limit = wish->limit;
    if (pc_json_count(goals) == 0 || pc_json_count(goals) > PC_GOALS_MAX)
        return pc_fail(err, PC_BAD_INPUT, "goals", "Say what is wanted: from 1 to %d goals.", PC_GOALS_MAX);
    for (; (size_t)wish->goals < pc_json_count(goals); wish->goals++)
        PC_TRY(read_goal(pc_json_at(goals, (size_t)wish->goals), &wish->goal[wish->goals], err));
    PC_TRY(read_dials(json, wish, err));
    return read_limits(json, wish, err);
}

static enum pc_status add_place(const struct pc_json *json, const struct pc_measured *m,
                                struct pc_asked *places, struct pc_err *err)
{
    const char *name = pc_json_text(pc_json_get(json, "name"));
    double x, y;
    if (name == NULL || name[0] == '\0' || strlen(name) > NAME_BYTES)
        return pc_fail(err, PC_BAD_INPUT, "places", "Each place needs a name of at most %d bytes.",
                       NAME_BYTES);
    PC_TRY(read_number(pc_json_get(json, "x_ratio"), "x_ratio", 0.0, 1.0, &x, err));
    PC_TRY(read_number(pc_json_get(json, "y_ratio"), "y_ratio", 0.0, 1.0, &y, err));
    int width_px = m->parts.ambient.full_width_px, height_px = m->parts.ambient.full_height_px;
    return pc_asked_add_place(places, name, fmin(x * width_px, width_px - 1.0),
                              fmin(y * height_px, height_px - 1.0), err);
}

// The measured light read at more places: a copy that borrows all but its reading.
static enum pc_status read_more(const struct pc_json *json, const struct pc_measured *m,
                                struct pc_measured *more, struct pc_err *err)
{
    const struct pc_json *all = pc_json_get(json, "places");
    struct pc_asked places;
    *more = *m;
    if (pc_json_count(all) == 0)
        return PC_OK;
    if (m->hand_held)
        return pc_fail(err, PC_UNSUPPORTED, "places",
                       "A set taken from the hand is read at the hero and the surface only.");
    pc_asked_init(&places);
    memcpy(places.place, m->reading.place, sizeof places.place);
    places.place_count = m->reading.place_count;
    for (size_t i = 0; i < pc_json_count(all); i++)
        PC_TRY(add_place(pc_json_at(all, i), m, &places, err));
    PC_TRY(pc_parts_read(&m->parts, places.place, places.place_count, 0.0, &more->reading, NULL, err));
    pc_parts_whites(&m->parts, m->greycard, &more->reading);
    return PC_OK;
}

static enum pc_status answer_wish(const struct pc_json *json, const struct wish *wish,
                                  const struct pc_measured *m, struct pc_json **said, struct pc_err *err)
{
    struct pc_measured *more = malloc(sizeof *more);
    struct pc_wanted *wanted = malloc(sizeof *wanted);
    PC_ASSERT(more != NULL && wanted != NULL);
    enum pc_status status = read_more(json, m, more, err);
    if (status == PC_OK)
        status = pc_wanted_make(more, &wish->asked, wish->goal, wish->goals, wanted, err);
    if (status == PC_OK) {
        *said = pc_wanted_json(wanted);
        pc_json_put_text(*said, "state", "ready");
    }
    free(wanted);
    free(more);
    return status;
}

enum pc_status pc_desk_want(struct pc_desk *desk, const struct pc_json *json, struct pc_json **said,
                            struct pc_err *err)
{
    struct wish wish = {0};
    struct pc_desk_answer *answer;
    char sentence[900];
    PC_TRY(read_wish(json, &wish, err));
    enum pc_desk_state state = pc_desk_now(desk, &answer, sentence);
    if (answer == NULL) {
        *said = pc_desk_state_json(desk, state, sentence);
        return PC_OK;
    }
    enum pc_status status = answer_wish(json, &wish, answer->set->measured, said, err);
    pc_desk_let_go(desk, answer);
    return status;
}
