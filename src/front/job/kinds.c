// SPDX-License-Identifier: Apache-2.0
#include "front/job/kinds.h"

#include "base/clock.h"
#include "base/text.h"

#define PROGRAM      (1u << PC_JOB_PROGRAM)
#define PHOTOGRAPHER (1u << PC_JOB_PHOTOGRAPHER)
#define COOK         (1u << PC_JOB_COOK)
#define CLIENT       (1u << PC_JOB_CLIENT)

enum { NAME_BYTES = 80, LINE_BYTES = 400, ITEMS_MAX = 32 };
static const double day_ms = 86400e3;

static const char *const looks[] = {"airy", "middle", "dark", NULL};
static const char *const frame_roles[] = {"ambient", "light", "flash", "take", "closing", "aside", NULL};
static const char *const touched[] = {"hero", "surface", "greycard", "sauce", "rim", "front", NULL};
static const char *const states[] = {"stand_in", "called", "down", "have_it", "gone", NULL};
static const char *const tones[] = {"shoot_on", "mend", "wait", NULL};
static const char *const sources[] = {"upload", "folder", "ftp", "usb", NULL};

#define TEXT(n, max)                                                                                         \
    {                                                                                                        \
        .name = (n), .type = PC_MEMBER_TEXT, .most = (max)                                                   \
    }
#define NUMBER(n, min, max)                                                                                  \
    {                                                                                                        \
        .name = (n), .type = PC_MEMBER_NUMBER, .least = (min), .most = (max)                                 \
    }
#define NEEDED(n, min, max)                                                                                  \
    {                                                                                                        \
        .name = (n), .type = PC_MEMBER_NUMBER, .least = (min), .most = (max), .needed = true                 \
    }
#define WORD(n, w)                                                                                           \
    {                                                                                                        \
        .name = (n), .type = PC_MEMBER_WORD, .words = (w), .needed = true                                    \
    }

static const struct pc_member job_members[] = {
    TEXT("title", LINE_BYTES),
    TEXT("client", LINE_BYTES),
    {.name = "date", .type = PC_MEMBER_DATE},
    TEXT("place", LINE_BYTES),
    {0},
};
static const struct pc_member shot_members[] = {
    TEXT("dish", LINE_BYTES),
    {.name = "look", .type = PC_MEMBER_WORD, .words = looks},
    NUMBER("angle_deg", 0.0, 90.0),
    TEXT("dish_class", NAME_BYTES),
    {.name = "outlets", .type = PC_MEMBER_TEXTS, .most = NAME_BYTES},
    NUMBER("tallest_mm", 0.0, 2000.0),
    {0},
};
// As in a file of outlets (shoot/outlet).
static const struct pc_member outlet_members[] = {
    {.name = "size_mm", .type = PC_MEMBER_PAIR, .least = 1.0, .most = 20000.0},
    {.name = "size_px", .type = PC_MEMBER_PAIR, .least = 1.0, .most = 100000.0},
    NUMBER("bleed_mm", 0.0, 100.0),
    NUMBER("needed_ppi", 1.0, 2400.0),
    NUMBER("fold_at", 0.0, 1.0),
    NUMBER("fold_clear_mm", 0.0, 500.0),
    NUMBER("clear_top_pct", 0.0, 90.0),
    NUMBER("clear_bottom_pct", 0.0, 90.0),
    NUMBER("clear_left_pct", 0.0, 90.0),
    NUMBER("clear_right_pct", 0.0, 90.0),
    NUMBER("hero_shown_pct", 1.0, 100.0),
    NUMBER("hero_margin_pct", 0.0, 45.0),
    {.name = "hero_at_pct", .type = PC_MEMBER_PAIR, .least = 0.0, .most = 100.0},
    NUMBER("viewed_from_m", 0.05, 100.0),
    NUMBER("lit_mm", 20.0, 20000.0),
    {0},
};
static const struct pc_member frame_members[] = {
    TEXT("name", LINE_BYTES),
    TEXT("file", LINE_BYTES),
    TEXT("sha256", 64),
    NUMBER("bytes", 0.0, 1e12),
    WORD("from", sources),
    TEXT("device", NAME_BYTES),
    NUMBER("taken_ms", -1e15, 1e15),
    {0},
};
static const struct pc_member role_members[] = {
    WORD("role", frame_roles),       TEXT("light", 40),        NUMBER("dial_ratio", 0.0, 1.0),
    NUMBER("kelvin_K", 1000, 40000), TEXT("shot", NAME_BYTES), {0},
};
static const struct pc_member touch_members[] = {
    NEEDED("x_ratio", 0.0, 1.0),
    NEEDED("y_ratio", 0.0, 1.0),
    NUMBER("radius_ratio", 0.0, 0.5),
    TEXT("shot", NAME_BYTES),
    {0},
};
static const struct pc_member dials_members[] = {
    {.name = "dials", .type = PC_MEMBER_NUMBERS, .least = 0.0, .most = 1.0},
    {.name = "kelvins_K", .type = PC_MEMBER_NUMBERS, .least = 1000.0, .most = 40000.0},
    NUMBER("shutter_s", 1e-5, 3600.0),
    TEXT("why", LINE_BYTES),
    {0},
};
static const struct pc_member no_members[] = {{0}};
static const struct pc_member plate_members[] = {
    TEXT("shot", NAME_BYTES),
    TEXT("dish", LINE_BYTES),
    TEXT("dish_class", NAME_BYTES),
    {0},
};
static const struct pc_member tap_members[] = {WORD("state", states), NUMBER("ago_ms", 0.0, day_ms), {0}};
static const struct pc_member verdict_members[] = {
    WORD("tone", tones),           TEXT("kind", NAME_BYTES),
    TEXT("sentence", LINE_BYTES),  NUMBER("value", -1e9, 1e9),
    NUMBER("tolerance", 0.0, 1e9), TEXT("unit", NAME_BYTES),
    TEXT("action", LINE_BYTES),    NUMBER("x_ratio", 0.0, 1.0),
    NUMBER("y_ratio", 0.0, 1.0),   {0},
};
static const struct pc_member choice_members[] = {
    {.name = "this", .type = PC_MEMBER_BOOL, .needed = true},
    TEXT("why", LINE_BYTES),
    {0},
};
static const struct pc_member undo_members[] = {NEEDED("rev", 1.0, 9e15), {0}};

const struct pc_kind pc_kinds[] = {
    {"job", PC_SUBJECT_NONE, NULL, PHOTOGRAPHER, job_members},
    {"shot", PC_SUBJECT_NAME, NULL, PHOTOGRAPHER, shot_members},
    {"outlet", PC_SUBJECT_NAME, NULL, PHOTOGRAPHER, outlet_members, .whole = true},
    {"frame", PC_SUBJECT_FRAME, NULL, PROGRAM, frame_members},
    {"role", PC_SUBJECT_FRAME, NULL, PHOTOGRAPHER, role_members, .whole = true},
    {"touch", PC_SUBJECT_WORD, touched, PHOTOGRAPHER, touch_members, .whole = true},
    {"dials", PC_SUBJECT_NONE, NULL, PHOTOGRAPHER, dials_members},
    {"locked", PC_SUBJECT_FRAME, NULL, PHOTOGRAPHER, no_members},
    {"plate", PC_SUBJECT_NAME, NULL, PHOTOGRAPHER | COOK, plate_members},
    {"tap", PC_SUBJECT_NAME, NULL, PHOTOGRAPHER | COOK, tap_members, .every = true},
    {"verdict", PC_SUBJECT_FRAME, NULL, PROGRAM, verdict_members, .whole = true},
    {"choice", PC_SUBJECT_FRAME, NULL, PHOTOGRAPHER | CLIENT, choice_members, .whole = true},
    {"undo", PC_SUBJECT_NONE, NULL, PHOTOGRAPHER | COOK | CLIENT, undo_members, .every = true},
};
const size_t pc_kinds_count = PC_COUNT(pc_kinds);

enum pc_status pc_kind_find(const char *what, const struct pc_kind **kind, struct pc_err *err)
{
    const char *names[PC_COUNT(pc_kinds)];
    for (size_t i = 0; i < pc_kinds_count; i++) {
        names[i] = pc_kinds[i].what;
        if (strcmp(what, names[i]) == 0) {
            *kind = &pc_kinds[i];
            return PC_OK;
        }
    }
    const char *nearest = pc_text_nearest(what, names, pc_kinds_count);
    char shown[64];
    pc_text_printable(what, shown, sizeof shown);
    return pc_fail(err, PC_MISUSE, "what", "There is no change called \"%s\"%s%s%s.", shown,
                   nearest == NULL ? "" : "; did you mean ", nearest == NULL ? "" : nearest,
                   nearest == NULL ? "" : "?");
}

static bool plain_text(const char *text, double most_bytes)
{
    size_t n = strlen(text);
    if ((double)n > most_bytes)
        return false;
    for (size_t i = 0; i < n; i++)
        if ((unsigned char)text[i] < 0x20 || text[i] == 0x7f)
            return false;
    return true;
}

static bool is_word(const char *const *words, const char *text)
{
    for (; *words != NULL; words++)
        if (strcmp(*words, text) == 0)
            return true;
    return false;
}

static bool is_date(const char *text)
{
    struct pc_moment moment;
    return strlen(text) == 10 && pc_clock_moment(text, &moment) && !isnan(moment.day_s) &&
           isnan(moment.of_day_s);
}

static enum pc_status check_text(const struct pc_member *member, const struct pc_json *value,
                                 struct pc_err *err)
{
    const char *text = pc_json_text(value);
    if (text == NULL)
        return pc_fail(err, PC_MISUSE, member->name, "It has to be a text.");
    if (member->type == PC_MEMBER_DATE && !is_date(text))
        return pc_fail(err, PC_MISUSE, member->name, "It has to be a date, such as 2027-03-18.");
    if (member->type == PC_MEMBER_TEXT && !plain_text(text, member->most))
        return pc_fail(err, PC_MISUSE, member->name,
                       "It has to be one line of at most %.0f bytes, without control characters.",
                       member->most);
    if (member->type == PC_MEMBER_WORD && !is_word(member->words, text)) {
        char known[256] = "";
        for (const char *const *word = member->words; *word != NULL; word++) {
            size_t n = strlen(known);
            snprintf(known + n, sizeof known - n, "%s%s", n > 0 ? ", " : "", *word);
        }
        return pc_fail(err, PC_MISUSE, member->name, "It has to be one of: %s.", known);
    }
    return PC_OK;
}

static enum pc_status check_number(const struct pc_member *member, const char *place,
                                   const struct pc_json *value, struct pc_err *err)
{
    double number = NAN;
    if (!pc_json_number(value, &number) || !(number >= member->least && number <= member->most))
        return pc_fail(err, PC_MISUSE, place, "It has to be a number from %g to %g.", member->least,
                       member->most);
    return PC_OK;
}

static enum pc_status check_items(const struct pc_member *member, const struct pc_json *value,
                                  struct pc_err *err)
{
    if (member->type == PC_MEMBER_TEXTS) {
        if (pc_json_kind(value) != PC_JSON_ARRAY || pc_json_count(value) > ITEMS_MAX)
            return pc_fail(err, PC_MISUSE, member->name, "It has to be a list of at most %d names.",
                           ITEMS_MAX);
        for (size_t i = 0; i < pc_json_count(value); i++) {
            const char *text = pc_json_text(pc_json_at(value, i));
            if (text == NULL || !plain_text(text, member->most))
                return pc_fail(err, PC_MISUSE, member->name, "Each of its items has to be a short text.");
        }
        return PC_OK;
    }
    if (member->type == PC_MEMBER_PAIR) {
        if (pc_json_kind(value) != PC_JSON_ARRAY || pc_json_count(value) != 2)
            return pc_fail(err, PC_MISUSE, member->name, "It has to be a list of two numbers.");
        PC_TRY(check_number(member, member->name, pc_json_at(value, 0), err));
        return check_number(member, member->name, pc_json_at(value, 1), err);
    }
    if (pc_json_kind(value) != PC_JSON_OBJECT)
        return pc_fail(err, PC_MISUSE, member->name, "It has to be an object of numbers by name.");
    void *at = NULL;
    const char *key = NULL;
    const struct pc_json *item = NULL;
    int count = 0;
    while (pc_json_next(value, &at, &key, &item)) {
        if (++count > ITEMS_MAX || !plain_text(key, NAME_BYTES))
            return pc_fail(err, PC_MISUSE, member->name, "It holds at most %d short names.", ITEMS_MAX);
        PC_TRY(check_number(member, member->name, item, err));
    }
    return PC_OK;
}

static enum pc_status check_member(const struct pc_member *member, const struct pc_json *value,
                                   struct pc_err *err)
{
    switch (member->type) {
    case PC_MEMBER_TEXT:
    case PC_MEMBER_WORD:
    case PC_MEMBER_DATE:
        return check_text(member, value, err);
    case PC_MEMBER_NUMBER:
        return check_number(member, member->name, value, err);
    case PC_MEMBER_BOOL:
        return pc_json_kind(value) == PC_JSON_BOOL
                   ? PC_OK
                   : pc_fail(err, PC_MISUSE, member->name, "It has to be true or false.");
    case PC_MEMBER_TEXTS:
    case PC_MEMBER_NUMBERS:
    case PC_MEMBER_PAIR:
        return check_items(member, value, err);
    }
    return PC_OK;
}

static enum pc_status check_subject(const struct pc_kind *kind, const char *subject, struct pc_err *err)
{
    switch (kind->subject) {
    case PC_SUBJECT_NONE:
        return subject[0] == '\0'
                   ? PC_OK
                   : pc_fail(err, PC_MISUSE, "subject", "A change of %s has no subject.", kind->what);
    case PC_SUBJECT_WORD:
        return is_word(kind->subjects, subject)
                   ? PC_OK
                   : pc_fail(err, PC_MISUSE, "subject",
                             "A touch is of hero, surface, greycard, sauce, rim or front.");
    case PC_SUBJECT_NAME:
    case PC_SUBJECT_FRAME:
        return subject[0] != '\0' && plain_text(subject, NAME_BYTES)
                   ? PC_OK
                   : pc_fail(err, PC_MISUSE, "subject", "A change of %s needs a name of at most %d bytes.",
                             kind->what, NAME_BYTES);
    }
    return PC_OK;
}

enum pc_status pc_kind_check(const struct pc_kind *kind, const struct pc_job_wish *wish, struct pc_err *err)
{
    if ((kind->roles & (1u << wish->role)) == 0)
        return pc_fail(err, PC_MISUSE, "what", "The %s cannot change this (%s).",
                       pc_job_role_names[wish->role], kind->what);
    PC_TRY(check_subject(kind, wish->subject == NULL ? "" : wish->subject, err));
    if (wish->body != NULL && pc_json_kind(wish->body) != PC_JSON_OBJECT)
        return pc_fail(err, PC_MISUSE, "body", "The body has to be an object.");
    void *at = NULL;
    const char *key = NULL;
    const struct pc_json *value = NULL;
    while (wish->body != NULL && pc_json_next(wish->body, &at, &key, &value)) {
        const struct pc_member *member = kind->members;
        while (member->name != NULL && strcmp(member->name, key) != 0)
            member++;
        char shown[64];
        pc_text_printable(key, shown, sizeof shown);
        if (member->name == NULL)
            return pc_fail(err, PC_MISUSE, shown, "A change of %s says nothing of this.", kind->what);
        if (pc_json_kind(value) != PC_JSON_NULL) // null: as if it had not been said
            PC_TRY(check_member(member, value, err));
    }
    for (const struct pc_member *member = kind->members; member->name != NULL; member++) {
        const struct pc_json *said = wish->body == NULL ? NULL : pc_json_get(wish->body, member->name);
        if (member->needed && (said == NULL || pc_json_kind(said) == PC_JSON_NULL))
            return pc_fail(err, PC_MISUSE, member->name, "A change of %s has to say this.", kind->what);
    }
    return PC_OK;
}
