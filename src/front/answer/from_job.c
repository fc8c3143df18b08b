// SPDX-License-Identifier: Apache-2.0
#include "front/answer/from_job.h"

#include "light/parts/answers.h"

enum { LOG_PAGE = 512, LEAST_FRAMES = 3 };

static const char send_raw[] = "Send the raw files: the camera has bent the tones of these pictures, and no "
                               "light can be measured in them.";
static const char send_set[] =
    "Send the frames of the set: one with the window only, one for each light, and "
    "one more with the window only.";
static const char touch_hero[] = "Touch the hero in the picture.";
static const char touch_surface[] = "Touch the surface in the picture, clear of shadows.";

struct gathering {
    struct pc_job *job;
    struct pc_arena *arena;
    struct pc_job_asked *out;
    struct pc_json *frames, *roles, *touches, *locked, *dials;
    struct pc_json *key; // what the answer depends on
    int64_t dials_rev;   // of the last; 0: none
    int64_t set_ends;    // frames of which nothing is said belong to the set when their number is below
    const char **paths;
    struct pc_said *said;
};

static double number_of(const struct pc_json *object, const char *key)
{
    double value;
    return pc_json_number(pc_json_get(object, key), &value) ? value : (double)NAN;
}

static int64_t rev_of(const struct pc_json *object)
{
    double rev = number_of(object, "rev");
    return isnan(rev) ? 0 : (int64_t)rev;
}

static const char *text_of(const struct pc_json *object, const char *key)
{
    const char *text = pc_json_text(pc_json_get(object, key));
    return text != NULL ? text : "";
}

// The number of the change that first set dials; that of the last would let frames taken between two settings
// into the set.
static enum pc_status find_first_dials(struct gathering *g, int64_t *first, struct pc_err *err)
{
    *first = INT64_MAX;
    if (g->dials == NULL)
        return PC_OK;
    size_t count = LOG_PAGE;
    for (int64_t rev = 0; count == LOG_PAGE;) {
        struct pc_arena *page = pc_arena_create();
        PC_ASSERT(page != NULL);
        struct pc_job_change *changes;
        enum pc_status status = pc_job_since(g->job, page, rev, LOG_PAGE, &changes, &count, err);
        for (size_t i = 0; status == PC_OK && i < count && *first == INT64_MAX; i++) {
            rev = changes[i].rev;
            if (strcmp(changes[i].what, "dials") == 0)
                *first = rev;
        }
        pc_arena_destroy(page);
        PC_TRY(status);
        if (*first != INT64_MAX)
            return PC_OK;
    }
    return PC_OK;
}

static enum pc_status find_set_end(struct gathering *g, struct pc_err *err)
{
    PC_TRY(find_first_dials(g, &g->set_ends, err));
    void *at = NULL;
    const char *id;
    const struct pc_json *frame;
    while (pc_json_next(g->frames, &at, &id, &frame)) {
        const char *role = text_of(pc_json_get(g->roles, id), "role");
        bool past =
            strcmp(role, "take") == 0 || strcmp(role, "closing") == 0 || pc_json_get(g->locked, id) != NULL;
        if (past && rev_of(frame) < g->set_ends)
            g->set_ends = rev_of(frame);
    }
    return PC_OK;
}

static enum pc_role role_of(const char *role)
{
    return strcmp(role, "ambient") == 0 ? PC_ROLE_AMBIENT
           : strcmp(role, "light") == 0 ? PC_ROLE_LIGHT
           : strcmp(role, "flash") == 0 ? PC_ROLE_FLASH
                                        : PC_ROLE_BY_TIME;
}

static const char *stem_of(struct pc_arena *arena, const char *name)
{
    const char *dot = strrchr(name, '.');
    return dot == NULL || dot == name ? name : pc_arena_printf(arena, "%.*s", (int)(dot - name), name);
}

static void say(struct gathering *g, const char *path, const struct pc_json *frame,
                const struct pc_json *said, enum pc_role role)
{
    const char *light = text_of(said, "light");
    g->said[g->out->asked.said_count++] = (struct pc_said){
        .path = path,
        .role = role,
        .light = role == PC_ROLE_AMBIENT ? NULL
                 : light[0] != '\0'      ? pc_arena_strdup(g->arena, light)
                                    : stem_of(g->arena, pc_arena_strdup(g->arena, text_of(frame, "name"))),
        .dial_ratio = number_of(said, "dial_ratio"),
        .kelvin_K = number_of(said, "kelvin_K"),
    };
}

// One line of the key: all that was said of a frame of the set, and its bytes.
static void put_frame_key(struct gathering *g, const struct pc_json *frame, const struct pc_json *said)
{
    struct pc_json *line = pc_json_array();
    pc_json_add_text(line, text_of(frame, "name"));
    pc_json_add_text(line, text_of(frame, "sha256"));
    pc_json_add_text(line, text_of(said, "role"));
    pc_json_add_text(line, text_of(said, "light"));
    pc_json_add_number(line, number_of(said, "dial_ratio"), 4);
    pc_json_add_number(line, number_of(said, "kelvin_K"), 1);
    pc_json_add(g->key, line);
}

static enum pc_status gather_set(struct gathering *g, int *raws, struct pc_err *err)
{
    void *at = NULL;
    const char *id;
    const struct pc_json *frame;
    *raws = 0;
    while (pc_json_next(g->frames, &at, &id, &frame)) {
        const struct pc_json *said = pc_json_get(g->roles, id);
        const char *word = text_of(said, "role");
        enum pc_role role = role_of(word);
        bool raw = pc_photo_name_is_raw(text_of(frame, "name"));
        *raws += raw;
        if (role != PC_ROLE_BY_TIME && !raw)
            return pc_fail(
                err, PC_BAD_INPUT, text_of(frame, "name"),
                "It is no raw file, so no light can be measured in it; send the raw of this frame, "
                "or call it aside.");
        if (!raw || (role == PC_ROLE_BY_TIME && (word[0] != '\0' || rev_of(frame) >= g->set_ends)))
            continue;
        char *path;
        PC_TRY(pc_job_frame_path(g->job, g->arena, id, &path, err));
        g->paths[g->out->asked.path_count++] = path;
        if (role != PC_ROLE_BY_TIME)
            say(g, path, frame, said, role);
        put_frame_key(g, frame, said);
    }
    g->out->asked.paths = g->paths;
    g->out->asked.said = g->said;
    return PC_OK;
}

static bool add_touch(struct gathering *g, const char *subject, const char *name)
{
    const struct pc_json *touch = pc_json_get(g->touches, subject);
    double x = number_of(touch, "x_ratio"), y = number_of(touch, "y_ratio");
    if (touch == NULL || isnan(x) || isnan(y))
        return false;
    PC_ASSERT(pc_asked_add_place(&g->out->asked, name, x, y, NULL) == PC_OK);
    struct pc_json *line = pc_json_array();
    pc_json_add_text(line, subject);
    pc_json_add_number(line, x, 6);
    pc_json_add_number(line, y, 6);
    pc_json_add(g->key, line);
    return true;
}

static void gather_touches(struct gathering *g)
{
    struct pc_job_asked *out = g->out;
    const struct pc_json *hero = pc_json_get(g->touches, "hero");
    out->asked.places_are_ratios = true;
    out->hero_x_ratio = number_of(hero, "x_ratio");
    out->hero_y_ratio = number_of(hero, "y_ratio");
    if (!add_touch(g, "hero", "hero"))
        out->needs = touch_hero;
    else if (!add_touch(g, "surface", "surface"))
        out->needs = touch_surface;
    else if (add_touch(g, "greycard", "grey card"))
        out->asked.greycard = out->asked.place_count - 1;
}

static double member(const struct pc_json *object, const char *name)
{
    return object == NULL ? (double)NAN : number_of(object, name);
}

static void gather_dials(struct gathering *g)
{
    const struct pc_json *dials = pc_json_get(g->dials, "dials"),
                         *kelvins = pc_json_get(g->dials, "kelvins_K");
    struct pc_asked_dial *all = PC_NEW_N(g->arena, 2UL * PC_LIGHTS_MAX, struct pc_asked_dial);
    int n = 0;
    void *at = NULL;
    const char *light;
    const struct pc_json *value;
    while (dials != NULL && n < PC_LIGHTS_MAX && pc_json_next(dials, &at, &light, &value)) {
        struct pc_asked_dial dial = {pc_arena_strdup(g->arena, light), NAN, member(kelvins, light)};
        pc_json_number(value, &dial.dial_ratio);
        all[n++] = dial;
    }
    at = NULL;
    while (kelvins != NULL && n < 2 * PC_LIGHTS_MAX && pc_json_next(kelvins, &at, &light, &value)) {
        if (dials != NULL && pc_json_get(dials, light) != NULL)
            continue;
        struct pc_asked_dial dial = {pc_arena_strdup(g->arena, light), NAN, NAN};
        pc_json_number(value, &dial.kelvin_K);
        all[n++] = dial;
    }
    g->out->asked.dial = all;
    g->out->asked.dial_count = n;
    g->out->asked.shutter_s = number_of(g->dials, "shutter_s");
    for (int i = 0; i < n; i++) {
        struct pc_json *line = pc_json_array();
        pc_json_add_text(line, all[i].light);
        pc_json_add_number(line, all[i].dial_ratio, 6);
        pc_json_add_number(line, all[i].kelvin_K, 1);
        pc_json_add(g->key, line);
    }
    pc_json_add_number(g->key, g->out->asked.shutter_s, 9);
}

static enum pc_status gather_closing(struct gathering *g, struct pc_err *err)
{
    void *at = NULL;
    const char *id, *newest = NULL;
    const struct pc_json *frame, *closing = NULL;
    while (pc_json_next(g->frames, &at, &id, &frame)) {
        const struct pc_json *said = pc_json_get(g->roles, id);
        if (strcmp(text_of(said, "role"), "closing") != 0 || rev_of(said) < g->dials_rev ||
            !pc_photo_name_is_raw(text_of(frame, "name")))
            continue;
        newest = id;
        closing = frame;
    }
    if (newest == NULL)
        return PC_OK;
    char *path;
    PC_TRY(pc_job_frame_path(g->job, g->arena, newest, &path, err));
    g->out->asked.actual = path;
    pc_json_add_text(g->key, text_of(closing, "sha256"));
    return PC_OK;
}

static void take_key(struct gathering *g, char hex[PC_DIGEST_HEX_BYTES])
{
    const char *text = pc_json_print(g->arena, g->key, true);
    pc_digest_of_bytes(text, strlen(text), hex);
}

static enum pc_status gather(struct gathering *g, struct pc_err *err)
{
    struct pc_job_asked *out = g->out;
    PC_TRY(pc_job_now(g->job, "frame", &g->frames, err));
    PC_TRY(pc_job_now(g->job, "role", &g->roles, err));
    PC_TRY(pc_job_now(g->job, "touch", &g->touches, err));
    PC_TRY(pc_job_now(g->job, "locked", &g->locked, err));
    PC_TRY(pc_job_now_of(g->job, "dials", "", &g->dials, err));
    g->dials_rev = rev_of(g->dials);
    size_t count = 0;
    void *at = NULL;
    const char *id;
    const struct pc_json *frame;
    while (pc_json_next(g->frames, &at, &id, &frame))
        count++;
    g->paths = PC_NEW_N(g->arena, count + 1, const char *);
    g->said = PC_NEW_N(g->arena, count + 1, struct pc_said);
    int raws;
    PC_TRY(find_set_end(g, err));
    PC_TRY(gather_set(g, &raws, err));
    gather_touches(g);
    if (out->asked.path_count < LEAST_FRAMES)
        out->needs = count > 0 && raws == 0 ? send_raw : send_set;
    take_key(g, out->set_key);
    gather_dials(g);
    PC_TRY(gather_closing(g, err));
    take_key(g, out->key);
    return PC_OK;
}

enum pc_status pc_job_ask(struct pc_job *job, struct pc_job_asked **asked, struct pc_err *err)
{
    struct pc_job_asked *out = calloc(1, sizeof *out);
    PC_ASSERT(out != NULL);
    out->arena = pc_arena_create();
    PC_ASSERT(out->arena != NULL);
    pc_asked_init(&out->asked);
    struct gathering g = {.job = job, .arena = out->arena, .out = out, .key = pc_json_array()};
    enum pc_status status = gather(&g, err);
    struct pc_json *const all[] = {g.frames, g.roles, g.touches, g.locked, g.dials, g.key};
    for (size_t i = 0; i < PC_COUNT(all); i++)
        pc_json_destroy(all[i]);
    if (status != PC_OK) {
        pc_job_asked_destroy(out);
        return status;
    }
    *asked = out;
    return PC_OK;
}

void pc_job_asked_destroy(struct pc_job_asked *asked)
{
    if (asked == NULL)
        return;
    pc_arena_destroy(asked->arena);
    free(asked);
}

static const struct pc_reading_light *find_light(const struct pc_reading *reading, const char *name)
{
    for (int i = 0; i < reading->light_count; i++)
        if (strcmp(reading->light[i].name, name) == 0)
            return &reading->light[i];
    return NULL;
}

const char *pc_job_asked_fit(struct pc_job_asked *asked, const struct pc_reading *reading)
{
    struct pc_asked_dial *kept =
        PC_NEW_N(asked->arena, (size_t)asked->asked.dial_count + 1, struct pc_asked_dial);
    const char *sentence = NULL;
    int n = 0;
    for (int i = 0; i < asked->asked.dial_count; i++) {
        struct pc_asked_dial dial = asked->asked.dial[i];
        const struct pc_reading_light *light = find_light(reading, dial.light);
        if (light == NULL && sentence == NULL)
            sentence = pc_arena_printf(asked->arena, "A dial is set for %s, but no frame shows that light.",
                                       dial.light);
        if (light == NULL)
            continue;
        if (light->emitter_count != 2)
            dial.kelvin_K = NAN;
        kept[n++] = dial;
    }
    asked->asked.dial = kept;
    asked->asked.dial_count = n;
    return sentence;
}
