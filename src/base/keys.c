// SPDX-License-Identifier: Apache-2.0
#include "base/keys.h"

#include "base/file.h"
#include "base/json.h"
#include "base/json_where.h"
#include "base/text.h"

enum { NAMES_MAX = 96, TOLERANCE_KEY_BYTES = 64, PLACE_BYTES_MAX = 160 };

#define TOLERANCE_SUFFIX "_tolerance"

struct reader {
    struct pc_arena *arena;
    const char *text;
    size_t count;
    const char *place;
    size_t step[2 * PC_KEYS_DEPTH_MAX];
    size_t steps;
    struct pc_err *err;
};

// What one value is read into.
struct slot {
    const struct pc_key *row;
    char *object; // the struct that holds the field
    const struct pc_json *json;
};

enum spot { AT_KEY, AT_VALUE };

static double *number_at(char *object, size_t offset)
{
    return (double *)(void *)(object + offset);
}

static enum pc_status fail(const struct reader *reader, enum spot at, const char *fmt, ...) PC_PRINTF(3, 4);
static enum pc_status fail(const struct reader *reader, enum spot at, const char *fmt, ...)
{
    struct pc_json_spot spot = {0};
    bool found = pc_json_where(reader->text, reader->count, reader->step, reader->steps, &spot);
    PC_ASSERT(found);
    char place[sizeof reader->err->place], sentence[sizeof reader->err->text], clean[sizeof sentence];
    size_t length = strlen(reader->place);
    const char *file = reader->place + (length > PLACE_BYTES_MAX ? length - PLACE_BYTES_MAX : 0);
    snprintf(place, sizeof place, "%s:%d:%d", file, at == AT_KEY ? spot.key_line : spot.line,
             at == AT_KEY ? spot.key_column : spot.column);
    va_list list;
    va_start(list, fmt);
    vsnprintf(sentence, sizeof sentence, fmt, list);
    va_end(list);
    pc_text_printable(sentence, clean, sizeof clean);
    pc_fail(reader->err, PC_BAD_INPUT, place, "%s", clean);
    return PC_BAD_INPUT;
}

#ifdef __clang_analyzer__
// It does not look into a function of so many arguments, and would think that it may give back PC_OK.
#define fail(...) (fail(__VA_ARGS__), PC_BAD_INPUT)
#endif

static double si(const struct pc_key *row, double value)
{
    return row->si_per_unit == 0 ? value : value * row->si_per_unit;
}

static bool date_of(const char *text, struct pc_date *date)
{
    static const int days[] = {31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31};
    struct pc_date d;
    int used = 0;
    if (text == NULL || strlen(text) != 10 || strspn(text, "0123456789-") != 10 ||
        sscanf(text, "%4d-%2d-%2d%n", &d.year, &d.month, &d.day, &used) != 3 || used != 10 ||
        text[4] != '-' || text[7] != '-' || d.year < 1 || d.month < 1 || d.month > 12 || d.day < 1 ||
        d.day > days[d.month - 1])
        return false;
    bool leap = (d.year % 4 == 0 && d.year % 100 != 0) || d.year % 400 == 0;
    if (d.month == 2 && d.day == 29 && !leap)
        return false;
    *date = d;
    return true;
}

static int place_of(const char *const *names, const char *name)
{
    for (int i = 0; names[i] != NULL; i++)
        if (strcmp(names[i], name) == 0)
            return i;
    return -1;
}

static void number_default(const struct pc_key *row, char *object)
{
    double value = (double)NAN;
    PC_ASSERT(row->otherwise == NULL || pc_text_double(row->otherwise, &value));
    *number_at(object, row->offset) = si(row, value);
    if (row->offset_within > 0)
        *number_at(object, row->offset_within) = isnan(value) ? (double)NAN : si(row, row->otherwise_within);
}

static void pair_default(const struct pc_key *row, char *object)
{
    double pair[2] = {(double)NAN, (double)NAN};
    if (row->otherwise != NULL) {
        char inner[PC_KEYS_TEXT_MAX]; // without brackets and spaces
        size_t used = 0;
        for (const char *c = row->otherwise; *c != '\0' && used + 1 < sizeof inner; c++)
            if (strchr("[ ]", *c) == NULL)
                inner[used++] = *c;
        inner[used] = '\0';
        PC_ASSERT(pc_text_pair(inner, &pair[0], &pair[1]));
    }
    for (size_t i = 0; i < 2; i++)
        number_at(object, row->offset)[i] = si(row, pair[i]);
    if (row->offset_within > 0)
        *number_at(object, row->offset_within) =
            isnan(pair[0]) ? (double)NAN : si(row, row->otherwise_within);
}

static void row_default(const struct pc_key *row, char *object)
{
    void *field = object + row->offset;
    double value = 0;
    switch (row->kind) {
    case PC_KEY_NUMBER:
        number_default(row, object);
        break;
    case PC_KEY_PAIR:
        pair_default(row, object);
        break;
    case PC_KEY_WHOLE:
        PC_ASSERT(row->otherwise == NULL || pc_text_double(row->otherwise, &value));
        *(int *)field = (int)value;
        break;
    case PC_KEY_YES_NO:
        *(bool *)field = row->otherwise != NULL && strcmp(row->otherwise, "true") == 0;
        break;
    case PC_KEY_TEXT:
        *(const char **)field = row->otherwise;
        break;
    case PC_KEY_DATE:
        memset(field, 0, sizeof(struct pc_date));
        PC_ASSERT(row->otherwise == NULL || date_of(row->otherwise, field));
        break;
    case PC_KEY_ONE_OF:
        *(int *)field = row->otherwise != NULL ? place_of(row->names, row->otherwise) : -1;
        break;
    case PC_KEY_PART:
        pc_keys_default(row->table, field);
        break;
    case PC_KEY_LIST:
        *(void **)field = NULL;
        *(size_t *)(void *)(object + row->offset_count) = 0;
        break;
    }
}

void pc_keys_default(const struct pc_keys *table, void *object)
{
    for (size_t i = 0; i < table->count; i++)
        row_default(&table->rows[i], object);
}

static enum pc_status check_range(const struct reader *reader, const struct pc_key *row, const char *key,
                                  double value, double least, double most)
{
    if (value >= least && value <= most)
        return PC_OK;
    return fail(reader, AT_VALUE, "\"%s\" is %.6g; it must lie between %.6g and %.6g%s%s.", key, value, least,
                most, row->unit != NULL ? " " : "", row->unit != NULL ? row->unit : "");
}

static enum pc_status wrong_kind(const struct reader *reader, const struct pc_key *row, const char *key,
                                 const char *kind)
{
    return fail(reader, AT_VALUE, "\"%s\" must be %s%s%s.", key, kind, row->unit != NULL ? " in " : "",
                row->unit != NULL ? row->unit : "");
}

static void put_within(const struct pc_key *row, char *object, double value)
{
    if (row->offset_within > 0)
        *number_at(object, row->offset_within) =
            si(row, fmax(row->within, fabs(value) * row->within_pct / 100));
}

static enum pc_status read_number(struct reader *reader, const struct slot *slot)
{
    const struct pc_key *row = slot->row;
    double value;
    if (!pc_json_number(slot->json, &value))
        return wrong_kind(reader, row, row->key, "a number");
    PC_TRY(check_range(reader, row, row->key, value, row->least, row->most));
    if (row->kind == PC_KEY_WHOLE) {
        if (value != floor(value))
            return wrong_kind(reader, row, row->key, "a whole number");
        *(int *)(void *)(slot->object + row->offset) = (int)value;
        return PC_OK;
    }
    *number_at(slot->object, row->offset) = si(row, value);
    put_within(row, slot->object, value);
    return PC_OK;
}

static enum pc_status read_pair(struct reader *reader, const struct slot *slot)
{
    const struct pc_key *row = slot->row;
    double pair[2];
    if (pc_json_kind(slot->json) != PC_JSON_ARRAY || pc_json_count(slot->json) != 2 ||
        !pc_json_number(pc_json_at(slot->json, 0), &pair[0]) ||
        !pc_json_number(pc_json_at(slot->json, 1), &pair[1]))
        return wrong_kind(reader, row, row->key, "two numbers between brackets, as [1, 2],");
    for (size_t i = 0; i < 2; i++) {
        PC_TRY(check_range(reader, row, row->key, pair[i], row->least, row->most));
        number_at(slot->object, row->offset)[i] = si(row, pair[i]);
    }
    put_within(row, slot->object, fmax(fabs(pair[0]), fabs(pair[1])));
    return PC_OK;
}

static enum pc_status read_text(struct reader *reader, const struct slot *slot, const char **text)
{
    const char *given = pc_json_text(slot->json);
    if (given == NULL)
        return wrong_kind(reader, slot->row, slot->row->key, "text between quotes");
    if (given[0] == '\0' || strlen(given) > PC_KEYS_TEXT_MAX)
        return fail(reader, AT_VALUE, "\"%s\" must have from 1 to %d characters.", slot->row->key,
                    PC_KEYS_TEXT_MAX);
    char *copy = pc_arena_strdup(reader->arena, given);
    pc_text_printable(given, copy, strlen(given) + 1);
    if (strcmp(copy, given) != 0)
        return fail(reader, AT_VALUE, "\"%s\" has control characters in it; write it in one plain line.",
                    slot->row->key);
    *text = copy;
    return PC_OK;
}

static enum pc_status read_one_of(struct reader *reader, const struct slot *slot)
{
    const struct pc_key *row = slot->row;
    const char *text;
    PC_TRY(read_text(reader, slot, &text));
    int i = place_of(row->names, text);
    if (i >= 0) {
        *(int *)(void *)(slot->object + row->offset) = i;
        return PC_OK;
    }
    size_t count = 0, used = 0;
    char all[400] = "";
    for (; row->names[count] != NULL && used < sizeof all; count++)
        used +=
            (size_t)snprintf(all + used, sizeof all - used, "%s%s", count > 0 ? ", " : "", row->names[count]);
    const char *nearest = pc_text_nearest(text, row->names, count);
    if (nearest != NULL)
        return fail(reader, AT_VALUE, "\"%s\" cannot be \"%s\"; did you mean \"%s\"? There are: %s.",
                    row->key, text, nearest, all);
    return fail(reader, AT_VALUE, "\"%s\" cannot be \"%s\"; there are: %s.", row->key, text, all);
}

static enum pc_status read_object(struct reader *reader, const struct pc_keys *table,
                                  const struct pc_json *json, size_t depth, char *object);

static const struct pc_key *name_row(const struct pc_keys *table)
{
    for (size_t i = 0; table->name_key != NULL && i < table->count; i++)
        if (strcmp(table->rows[i].key, table->name_key) == 0)
            return &table->rows[i];
    return NULL;
}

// Gives a nameless one its noun and number, and refuses a name that an earlier one has.
static enum pc_status settle_name(struct reader *reader, const struct pc_keys *table, char *first, size_t i)
{
    const struct pc_key *row = name_row(table);
    if (row == NULL)
        return PC_OK;
    const char **name = (const char **)(void *)(first + i * table->size_bytes + row->offset);
    if (*name == NULL)
        *name = pc_arena_printf(reader->arena, "%s %zu", table->noun, i + 1);
    for (size_t j = 0; j < i; j++) {
        const char *other = *(const char **)(void *)(first + j * table->size_bytes + row->offset);
        if (strcmp(*name, other) == 0)
            return fail(reader, AT_VALUE, "Two here are called \"%s\"; give each %s a name of its own.",
                        other, table->noun);
    }
    return PC_OK;
}

static enum pc_status read_list(struct reader *reader, const struct slot *slot, size_t depth)
{
    const struct pc_key *row = slot->row;
    if (pc_json_kind(slot->json) != PC_JSON_ARRAY)
        return wrong_kind(reader, row, row->key, "a list between brackets, as [{...}, {...}]");
    size_t count = pc_json_count(slot->json);
    if ((double)count > row->most)
        return fail(reader, AT_VALUE, "\"%s\" has %zu entries; at most %.0f are read.", row->key, count,
                    row->most);
    char *first = count > 0 ? pc_arena_alloc(reader->arena, count, row->table->size_bytes) : NULL;
    for (size_t i = 0; i < count; i++) {
        reader->step[reader->steps++] = i;
        PC_TRY(read_object(reader, row->table, pc_json_at(slot->json, i), depth + 1,
                           first + i * row->table->size_bytes));
        PC_TRY(settle_name(reader, row->table, first, i));
        reader->steps--;
    }
    *(void **)(void *)(slot->object + row->offset) = first;
    *(size_t *)(void *)(slot->object + row->offset_count) = count;
    return PC_OK;
}

static enum pc_status read_value(struct reader *reader, const struct slot *slot, size_t depth)
{
    void *field = slot->object + slot->row->offset;
    const char *text;
    switch (slot->row->kind) {
    case PC_KEY_NUMBER:
    case PC_KEY_WHOLE:
        return read_number(reader, slot);
    case PC_KEY_PAIR:
        return read_pair(reader, slot);
    case PC_KEY_YES_NO:
        if (pc_json_kind(slot->json) != PC_JSON_BOOL)
            return wrong_kind(reader, slot->row, slot->row->key, "true or false");
        *(bool *)field = pc_json_is_true(slot->json);
        return PC_OK;
    case PC_KEY_TEXT:
        return read_text(reader, slot, field);
    case PC_KEY_DATE:
        PC_TRY(read_text(reader, slot, &text));
        return date_of(text, field)
                   ? PC_OK
                   : wrong_kind(reader, slot->row, slot->row->key, "a day that exists, as \"2027-03-18\"");
    case PC_KEY_ONE_OF:
        return read_one_of(reader, slot);
    case PC_KEY_PART:
        return read_object(reader, slot->row->table, slot->json, depth + 1, field);
    case PC_KEY_LIST:
        return read_list(reader, slot, depth);
    }
    return PC_OK;
}

// "ceiling_m_tolerance" of a row "ceiling_m" that has one.
static void tolerance_key(const struct pc_key *row, char out[TOLERANCE_KEY_BYTES])
{
    snprintf(out, TOLERANCE_KEY_BYTES, "%s" TOLERANCE_SUFFIX, row->key);
}

static const char *article(const struct pc_keys *table)
{
    return strchr("aeiou", table->noun[0]) != NULL ? "An" : "A";
}

static const struct pc_key *find_row(const struct pc_keys *table, const char *key, bool *tolerance)
{
    char with_suffix[TOLERANCE_KEY_BYTES];
    for (size_t i = 0; i < table->count; i++) {
        const struct pc_key *row = &table->rows[i];
        *tolerance = false;
        if (strcmp(row->key, key) == 0)
            return row;
        *tolerance = true;
        tolerance_key(row, with_suffix);
        if (row->offset_within > 0 && strcmp(with_suffix, key) == 0)
            return row;
    }
    return NULL;
}

static enum pc_status unknown_key(const struct reader *reader, const struct pc_keys *table, const char *key)
{
    const char *names[2 * NAMES_MAX];
    size_t count = 0;
    PC_ASSERT(table->count <= NAMES_MAX);
    for (size_t i = 0; i < table->count; i++) {
        names[count++] = table->rows[i].key;
        char with_suffix[TOLERANCE_KEY_BYTES];
        tolerance_key(&table->rows[i], with_suffix);
        if (table->rows[i].offset_within > 0)
            names[count++] = pc_arena_strdup(reader->arena, with_suffix);
    }
    const char *nearest = pc_text_nearest(key, names, count);
    if (nearest != NULL)
        return fail(reader, AT_KEY, "%s %s has no \"%.64s\"; did you mean \"%s\"?", article(table),
                    table->noun, key, nearest);
    return fail(reader, AT_KEY, "%s %s has no \"%.64s\"; take it out, or see the list of keys.",
                article(table), table->noun, key);
}

// Tolerances come after all else, so that the place of their key in the file does not matter.
static enum pc_status read_tolerance(struct reader *reader, const struct slot *slot)
{
    const struct pc_key *row = slot->row;
    char key[TOLERANCE_KEY_BYTES];
    tolerance_key(row, key);
    double value, field = *number_at(slot->object, row->offset);
    if (!pc_json_number(slot->json, &value))
        return wrong_kind(reader, row, key, "a number");
    PC_TRY(check_range(reader, row, key, value, 0, row->most - row->least));
    if (isnan(field))
        return fail(reader, AT_KEY, "\"%s\" says how well \"%s\" is known, and that is not given.", key,
                    row->key);
    *number_at(slot->object, row->offset_within) = si(row, value);
    return PC_OK;
}

static enum pc_status read_members(struct reader *reader, const struct pc_keys *table,
                                   const struct pc_json *json, bool tolerances, size_t depth, char *object)
{
    void *at = NULL;
    const char *key;
    struct slot slot = {.object = object};
    for (size_t i = 0; pc_json_next(json, &at, &key, &slot.json); i++) {
        bool tolerance;
        reader->step[reader->steps++] = i;
        slot.row = find_row(table, key, &tolerance);
        if (slot.row == NULL)
            return unknown_key(reader, table, key);
        if (tolerance == tolerances && pc_json_kind(slot.json) != PC_JSON_NULL)
            PC_TRY(tolerance ? read_tolerance(reader, &slot) : read_value(reader, &slot, depth));
        reader->steps--;
    }
    return PC_OK;
}

static enum pc_status read_object(struct reader *reader, const struct pc_keys *table,
                                  const struct pc_json *json, size_t depth, char *object)
{
    PC_ASSERT(depth < PC_KEYS_DEPTH_MAX);
    if (pc_json_kind(json) != PC_JSON_OBJECT)
        return fail(reader, AT_VALUE, "%s %s is written between braces, as {\"key\": value}.", article(table),
                    table->noun);
    pc_keys_default(table, object);
    PC_TRY(read_members(reader, table, json, false, depth, object));
    PC_TRY(read_members(reader, table, json, true, depth, object));
    const char *wrong = table->check != NULL ? table->check(object) : NULL;
    return wrong == NULL ? PC_OK : fail(reader, AT_VALUE, "%s", wrong);
}

enum pc_status pc_keys_read(struct pc_arena *arena, const struct pc_keys *table, const char *text,
                            size_t count, const char *place, void *object, struct pc_err *err)
{
    if (count > PC_KEYS_BYTES_MAX)
        return pc_fail(err, PC_BAD_INPUT, place, "It is larger than %d bytes; that is no hand-written %s.",
                       PC_KEYS_BYTES_MAX, table->noun);
    struct pc_json *json;
    PC_TRY(pc_json_parse(text, count, place, &json, err));
    struct reader reader = {.arena = arena, .text = text, .count = count, .place = place, .err = err};
    enum pc_status status = read_object(&reader, table, json, 0, object);
    pc_json_destroy(json);
    return status;
}

enum pc_status pc_keys_read_file(struct pc_arena *arena, const struct pc_keys *table, const char *path,
                                 void *object, struct pc_err *err)
{
    char *text;
    size_t count;
    PC_TRY(pc_file_read(arena, path, PC_KEYS_BYTES_MAX, &text, &count, err));
    return pc_keys_read(arena, table, text, count, path, object, err);
}
