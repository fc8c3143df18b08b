// SPDX-License-Identifier: Apache-2.0
#include "front/cli/measured.h"

#include <sys/stat.h>

#include "base/file.h"
#include "front/cli/print.h"

static const double USUAL_STEP_PCT = 1.0; // as panels show their dials

struct frames {
    const char **paths;
    size_t count;
    const char *folder;
};

static bool is_folder(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

static enum pc_status list_frames(struct pc_cli *cli, struct frames *frames, struct pc_err *err)
{
    size_t n = pc_args_operand_count(cli->args);
    if (n == 1 && is_folder(pc_args_operand(cli->args, 0))) {
        char **paths;
        frames->folder = pc_args_operand(cli->args, 0);
        PC_TRY(pc_file_list(cli->arena, frames->folder, &paths, &frames->count, err));
        frames->paths = PC_NEW_N(cli->arena, frames->count + 1, const char *);
        for (size_t i = 0; i < frames->count; i++)
            frames->paths[i] = paths[i];
        return PC_OK;
    }
    frames->paths = PC_NEW_N(cli->arena, n + 1, const char *);
    frames->count = n;
    for (size_t i = 0; i < n; i++) {
        frames->paths[i] = pc_args_operand(cli->args, i);
        struct stat st;
        if (stat(frames->paths[i], &st) != 0)
            return pc_fail(err, PC_NOT_FOUND, frames->paths[i], "There is no file or folder of this name.");
        if (is_folder(frames->paths[i]))
            return pc_fail(err, PC_MISUSE, frames->paths[i], "Name one folder, or frames one by one.");
    }
    return PC_OK;
}

// A frame named by an option may be given as it stands or as a name inside the folder.
static const char *find_frame(struct pc_cli *cli, const struct frames *frames, const char *path)
{
    struct stat st;
    if (frames->folder == NULL || stat(path, &st) == 0)
        for (size_t i = 0; i < frames->count; i++) {
            struct stat other;
            if (strcmp(frames->paths[i], path) == 0 ||
                (stat(path, &st) == 0 && stat(frames->paths[i], &other) == 0 && st.st_ino == other.st_ino &&
                 st.st_dev == other.st_dev))
                return frames->paths[i];
        }
    if (frames->folder == NULL)
        return path;
    const char *inside = pc_arena_printf(cli->arena, "%s/%s", frames->folder, path);
    for (size_t i = 0; i < frames->count; i++)
        if (strcmp(pc_file_name(frames->paths[i]), path) == 0)
            return frames->paths[i];
    return stat(path, &st) == 0 ? path : inside;
}

static int gather_said(struct pc_cli *cli, const struct frames *frames, struct pc_said *said)
{
    const struct pc_args *args = cli->args;
    int n = 0;
    for (size_t i = 0; i < pc_args_count(args, "ambient"); i++)
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, pc_args_at(args, "ambient", i)->path),
                                     .role = PC_ROLE_AMBIENT,
                                     .dial_ratio = NAN,
                                     .kelvin_K = NAN};
    for (size_t i = 0; i < pc_args_count(args, "light"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "light", i);
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, arg->path),
                                     .role = PC_ROLE_LIGHT,
                                     .light = arg->name,
                                     .dial_ratio = arg->dial_ratio,
                                     .kelvin_K = arg->kelvin_K};
    }
    for (size_t i = 0; i < pc_args_count(args, "flash"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "flash", i);
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, arg->path),
                                     .role = PC_ROLE_FLASH,
                                     .light = arg->name,
                                     .dial_ratio = NAN,
                                     .kelvin_K = NAN};
    }
    return n;
}

static enum pc_status make_series(struct pc_cli *cli, bool with_setting, struct pc_measured *m,
                                  struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct frames frames = {0};
    PC_TRY(list_frames(cli, &frames, err));
    size_t most =
        pc_args_count(args, "ambient") + pc_args_count(args, "light") + pc_args_count(args, "flash");
    struct pc_said *said = PC_NEW_N(cli->arena, most + 1, struct pc_said);
    const char *actual = with_setting ? pc_args_text(args, "actual") : NULL;
    m->actual = actual != NULL ? find_frame(cli, &frames, actual) : NULL;
    struct pc_series_wish wish = {
        .paths = frames.paths,
        .path_count = (int)frames.count,
        .folder = frames.folder,
        .actual = m->actual,
        .said = said,
        .said_count = gather_said(cli, &frames, said),
        .linear = pc_args_has(args, "linear"),
    };
    return pc_series_make(m->reader, cli->arena, &wish, &m->series, &m->notes, err);
}

static enum pc_status add_place(struct pc_place *places, int *count, const char *name, double x_px,
                                double y_px, struct pc_err *err)
{
    if (*count == PC_PLACES_MAX)
        return pc_fail(err, PC_MISUSE, "--place", "There are more than %d places.", PC_PLACES_MAX);
    for (int i = 0; i < *count; i++)
        if (strcmp(places[i].name, name) == 0)
            return pc_fail(err, PC_MISUSE, "--place", "The place \"%s\" is given twice.", name);
    struct pc_place *place = &places[(*count)++];
    snprintf(place->name, sizeof place->name, "%s", name);
    place->x_px = x_px;
    place->y_px = y_px;
    return PC_OK;
}

static enum pc_status gather_places(struct pc_cli *cli, struct pc_place *places, int *count, int *greycard,
                                    struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    double x, y;
    *count = 0;
    *greycard = PC_NO_PLACE;
    PC_ASSERT(pc_args_pair(args, "hero", &x, &y));
    PC_TRY(add_place(places, count, "hero", x, y, err));
    PC_ASSERT(pc_args_pair(args, "surface", &x, &y));
    PC_TRY(add_place(places, count, "surface", x, y, err));
    for (size_t i = 0; i < pc_args_count(args, "place"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "place", i);
        PC_TRY(add_place(places, count, arg->name, arg->value[0], arg->value[1], err));
    }
    if (pc_args_pair(args, "greycard", &x, &y)) {
        *greycard = *count;
        PC_TRY(add_place(places, count, "grey card", x, y, err));
    }
    return PC_OK;
}

static enum pc_status no_such(struct pc_err *err, const char *option, const char *what, const char *word,
                              const char *const *names, size_t count)
{
    struct pc_err inner = {0};
    enum pc_status status = pc_args_no_such(&inner, what, word, names, count, "");
    return pc_fail(err, status, option, "%s", inner.text);
}

// The cards pointed out by --card, each with the frame it names.
static enum pc_status gather_cards(struct pc_cli *cli, const struct pc_measured *m,
                                   struct pc_pointed **pointed, int *count, struct pc_err *err)
{
    size_t n = pc_args_count(cli->args, "card");
    const char *names[PC_FRAMES_MAX];
    int of_frame[PC_FRAMES_MAX] = {0}, frames = m->series.frame_count;
    *pointed = PC_NEW_N(cli->arena, n + 1, struct pc_pointed);
    *count = 0;
    for (int f = 0; f < frames; f++)
        names[f] = m->series.frame[f].name;
    for (size_t i = 0; i < n; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "card", i);
        int frame = 0;
        while (frame < frames && strcmp(names[frame], pc_file_name(arg->name)) != 0)
            frame++;
        if (frame == frames)
            return no_such(err, "--card", "frame", arg->name, names, (size_t)frames);
        of_frame[frame]++;
        (*pointed)[(*count)++] = (struct pc_pointed){frame, arg->value[0], arg->value[1]};
    }
    for (int f = 0; f < frames; f++)
        if (of_frame[f] != 0 && of_frame[f] != 2)
            return pc_fail(err, PC_MISUSE, "--card",
                           "Give it twice for %s: first the card at the hero, then the one at the "
                           "surface.",
                           names[f]);
    return PC_OK;
}

static enum pc_status read_by_hand(struct pc_cli *cli, struct pc_measured *m, const struct pc_place *places,
                                   const struct pc_err *why, struct pc_err *err)
{
    struct pc_pointed *pointed;
    int pointed_count;
    PC_TRY(gather_cards(cli, m, &pointed, &pointed_count, err));
    struct pc_err inner = {0};
    struct pc_handheld *hand = calloc(1, sizeof *hand);
    PC_ASSERT(hand != NULL);
    enum pc_status status =
        pc_handheld_read(cli->ctx, m->reader, &m->series, &places[PC_PLACE_HERO], &places[PC_PLACE_SURFACE],
                         pointed, pointed_count, hand, &m->notes, &inner);
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

static enum pc_status read_all(struct pc_cli *cli, bool with_setting, struct pc_measured *m,
                               struct pc_err *err)
{
    struct pc_place places[PC_PLACES_MAX];
    int count;
    PC_TRY(gather_places(cli, places, &count, &m->greycard, err));
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &m->reader, err));
    PC_TRY(make_series(cli, with_setting, m, err));
    bool hand_held = false;
    struct pc_err inner = {0};
    enum pc_status status =
        pc_parts_make(cli->ctx, m->reader, &m->series, &m->parts, &m->notes, &hand_held, &inner);
    if (status != PC_OK && hand_held)
        return read_by_hand(cli, m, places, &inner, err);
    if (status != PC_OK) {
        *err = inner;
        return status;
    }
    PC_TRY(pc_parts_read(&m->parts, places, count, 0.0, &m->reading, &m->notes, err));
    pc_parts_whites(&m->parts, m->greycard, &m->reading);
    m->exposure = (struct pc_exposure){m->parts.reference_shutter_s, m->parts.reference_fnumber,
                                       m->parts.reference_iso};
    m->drift_pct = m->parts.drift_pct;
    return PC_OK;
}

static enum pc_status read_dials(struct pc_cli *cli, struct pc_measured *m, struct pc_err *err)
{
    for (size_t i = 0; i < pc_args_count(cli->args, "dials"); i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "dials", i);
        int light = -1;
        PC_TRY(pc_measured_light(&m->reading, "--dials", arg->name, &light, err));
        m->dials.dial_ratio[light] = arg->value[0];
        if (!isnan(arg->kelvin_K)) {
            if (m->reading.light[light].emitter_count != 2)
                return pc_fail(err, PC_MISUSE, "--dials",
                               "%s was taken at one colour, so its kelvin cannot be set; take a warm and a "
                               "cool frame of it.",
                               arg->name);
            m->dials.kelvin_K[light] = arg->kelvin_K;
        }
    }
    double shutter_s;
    if (!pc_args_number(cli->args, "shutter", &shutter_s))
        return PC_OK;
    if (!m->series.has_exposure)
        return pc_fail(err, PC_BAD_INPUT, "--shutter",
                       "The frames do not say their shutter times, so another cannot be set against them.");
    struct pc_facts like = {.shutter_s = shutter_s, .shutter_apex_s = NAN};
    m->dials.shutter_ratio = pc_shutter_like(&m->series, &like) / m->exposure.shutter_s;
    return PC_OK;
}

enum pc_status pc_measured_create(struct pc_cli *cli, bool with_setting, struct pc_measured **measured,
                                  struct pc_err *err)
{
    struct pc_measured *m = calloc(1, sizeof *m);
    PC_ASSERT(m != NULL);
    m->notes.arena = cli->arena;
    enum pc_status status = read_all(cli, with_setting, m, err);
    if (status == PC_OK)
        pc_reading_dials_now(&m->reading, &m->dials);
    if (status == PC_OK && with_setting)
        status = read_dials(cli, m, err);
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

void pc_measured_print_notes(const struct pc_measured *measured, FILE *out)
{
    for (int i = 0; i < measured->notes.count; i++)
        pc_print_sentence(out, "%s", measured->notes.text[i]);
}

struct pc_json *pc_measured_notes_json(const struct pc_measured *measured)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < measured->notes.count; i++)
        pc_json_add_text(array, measured->notes.text[i]);
    return array;
}

enum pc_status pc_measured_light(const struct pc_reading *reading, const char *option, const char *name,
                                 int *light, struct pc_err *err)
{
    const char *names[PC_LIGHTS_MAX];
    for (int i = 0; i < reading->light_count; i++) {
        names[i] = reading->light[i].name;
        if (strcmp(names[i], name) == 0) {
            *light = i;
            return PC_OK;
        }
    }
    return no_such(err, option, "light", name, names, (size_t)reading->light_count);
}

enum pc_status pc_measured_place(const struct pc_reading *reading, const char *option, const char *name,
                                 int *place, struct pc_err *err)
{
    const char *names[PC_PLACES_MAX];
    for (int i = 0; i < reading->place_count; i++) {
        names[i] = reading->place[i].name;
        if (strcmp(names[i], name) == 0) {
            *place = i;
            return PC_OK;
        }
    }
    return no_such(err, option, "place", name, names, (size_t)reading->place_count);
}

enum pc_status pc_measured_limits(const struct pc_cli *cli, const struct pc_measured *measured,
                                  struct pc_want *want, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    const struct pc_reading *reading = &measured->reading;
    double step_pct = USUAL_STEP_PCT;
    int light;
    pc_want_init(reading, want);
    pc_args_number(args, "step", &step_pct);
    for (light = 0; light < reading->light_count; light++)
        want->limit[light].step_ratio = 0.01 * step_pct;
    for (size_t i = 0; i < pc_args_count(args, "cap"); i++) {
        PC_TRY(pc_measured_light(reading, "--cap", pc_args_at(args, "cap", i)->name, &light, err));
        want->limit[light].most_ratio = 0.01 * pc_args_at(args, "cap", i)->value[0];
    }
    for (size_t i = 0; i < pc_args_count(args, "least"); i++) {
        PC_TRY(pc_measured_light(reading, "--least", pc_args_at(args, "least", i)->name, &light, err));
        want->limit[light].least_ratio = 0.01 * pc_args_at(args, "least", i)->value[0];
    }
    for (size_t i = 0; i < pc_args_count(args, "kelvin"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "kelvin", i);
        PC_TRY(pc_measured_light(reading, "--kelvin", arg->name, &light, err));
        want->limit[light].least_K = arg->value[0];
        want->limit[light].most_K = arg->value[1];
    }
    for (size_t i = 0; i < pc_args_count(args, "leave"); i++) {
        PC_TRY(pc_measured_light(reading, "--leave", pc_args_at(args, "leave", i)->name, &light, err));
        want->limit[light].may_change = false;
    }
    for (light = 0; light < reading->light_count; light++)
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

const char *pc_measured_dial_text(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                                  char out[32])
{
    double pct = 100.0 * dials->dial_ratio[light];
    int decimals = pct > 0.0 && pct < 9.95 ? 1 : 0;
    if (reading->light[light].emitter_count == 2 && pct > 0.0)
        snprintf(out, 32, "%.*f %% at %.0f K", decimals, pct, 50.0 * round(dials->kelvin_K[light] / 50.0));
    else
        snprintf(out, 32, "%.*f %%", decimals, pct);
    return out;
}

void pc_measured_print_trust(const struct pc_reading *reading, FILE *out)
{
    double best = INFINITY, worst = 0.0;
    for (int i = 0; i < reading->light_count; i++) {
        best = fmin(best, reading->light[i].curve.tolerance_pct);
        worst = fmax(worst, reading->light[i].curve.tolerance_pct);
    }
    if (worst >= pc_curve_straight().tolerance_pct)
        pc_print_sentence(
            out,
            "Dials are taken as straight lines%s, good to %.0f %% of the light; frames of a light at four "
            "or more dials (--light) bring that to 3 %%.",
            best < worst ? " where a light was taken at one dial only" : "", worst);
    else
        pc_print_sentence(
            out, "Dials follow the curves measured in the frames, good to %.0f %% of the light.", worst);
}
