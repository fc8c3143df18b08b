// SPDX-License-Identifier: Apache-2.0
#include "base/json.h"

#include <jansson.h>

#include "base/text.h"

enum { DEEPEST_DECIMALS = 9, PRINTED_DIGITS = 12 };

static json_t *inner(const struct pc_json *json)
{
    return (json_t *)(uintptr_t)json;
}

static struct pc_json *outer(json_t *json)
{
    PC_ASSERT(json != NULL);
    return (struct pc_json *)json;
}

static json_t *number(double value, int decimals)
{
    PC_ASSERT(decimals >= 0 && decimals <= DEEPEST_DECIMALS);
    double scale = pow(10.0, decimals);
    double rounded = round(value * scale) / scale;
    return isfinite(rounded) ? json_real(rounded == 0.0 ? 0.0 : rounded) : json_null();
}

struct pc_json *pc_json_object(void)
{
    return outer(json_object());
}

struct pc_json *pc_json_array(void)
{
    return outer(json_array());
}

struct pc_json *pc_json_copy(const struct pc_json *json)
{
    return outer(json_deep_copy(inner(json)));
}

void pc_json_remove(struct pc_json *object, const char *key)
{
    (void)json_object_del(inner(object), key);
}

void pc_json_destroy(struct pc_json *json)
{
    json_decref(inner(json));
}

// Bytes that are not UTF-8 (a file name may hold any) become U+FFFD, so that the output stays valid JSON.
static json_t *text_value(const char *text)
{
    if (text == NULL)
        return json_null();
    json_t *value = json_string(text);
    if (value != NULL)
        return value;
    size_t n = strlen(text), used = 0;
    char *clean = malloc(3 * n + 1);
    PC_ASSERT(clean != NULL);
    for (size_t i = 0; i < n; i++) {
        if ((unsigned char)text[i] < 0x80) {
            clean[used++] = text[i];
        } else {
            memcpy(clean + used, "\xef\xbf\xbd", 3);
            used += 3;
        }
    }
    value = json_stringn(clean, used);
    free(clean);
    return value;
}

static void put(struct pc_json *object, const char *key, json_t *value)
{
    PC_ASSERT(json_object_set_new(inner(object), key, value) == 0);
}

void pc_json_put_text(struct pc_json *object, const char *key, const char *text)
{
    put(object, key, text_value(text));
}

void pc_json_put_number(struct pc_json *object, const char *key, double value, int decimals)
{
    put(object, key, number(value, decimals));
}

void pc_json_put_int(struct pc_json *object, const char *key, int64_t value)
{
    put(object, key, json_integer(value));
}

void pc_json_put_bool(struct pc_json *object, const char *key, bool value)
{
    put(object, key, json_boolean(value));
}

void pc_json_put(struct pc_json *object, const char *key, struct pc_json *value)
{
    put(object, key, inner(value));
}

static void add(struct pc_json *array, json_t *value)
{
    PC_ASSERT(json_array_append_new(inner(array), value) == 0);
}

void pc_json_add(struct pc_json *array, struct pc_json *value)
{
    add(array, inner(value));
}

void pc_json_add_text(struct pc_json *array, const char *text)
{
    add(array, text_value(text));
}

void pc_json_add_number(struct pc_json *array, double value, int decimals)
{
    add(array, number(value, decimals));
}

char *pc_json_print(struct pc_arena *arena, const struct pc_json *json, bool line)
{
    size_t flags =
        JSON_ENCODE_ANY | JSON_REAL_PRECISION(PRINTED_DIGITS) | (line ? JSON_COMPACT : JSON_INDENT(2));
    char *text = json_dumps(inner(json), flags);
    PC_ASSERT(text != NULL);
    char *copy = pc_arena_strdup(arena, text);
    free(text);
    return copy;
}

static enum pc_status refuse(const json_error_t *error, const char *place, struct pc_err *err)
{
    char spot[sizeof err->place];
    snprintf(spot, sizeof spot, "%s:%d:%d", place, error->line, error->column);
    if (json_error_code(error) == json_error_duplicate_key)
        return pc_fail(err, PC_BAD_INPUT, spot, "The key that ends here is written twice; take one out.");
    char text[JSON_ERROR_TEXT_LENGTH];
    pc_text_printable(error->text, text, sizeof text);
    return pc_fail(err, PC_BAD_INPUT, spot, "This is not valid JSON: %s.", text);
}

enum pc_status pc_json_parse(const char *text, size_t count, const char *place, struct pc_json **json,
                             struct pc_err *err)
{
    json_error_t error;
    json_t *value = json_loadb(text, count, JSON_REJECT_DUPLICATES, &error);
    if (value == NULL)
        return refuse(&error, place, err);
    *json = outer(value);
    return PC_OK;
}

const struct pc_json *pc_json_get(const struct pc_json *object, const char *key)
{
    return (const struct pc_json *)json_object_get(inner(object), key);
}

size_t pc_json_count(const struct pc_json *array)
{
    return json_array_size(inner(array));
}

const struct pc_json *pc_json_at(const struct pc_json *array, size_t i)
{
    return (const struct pc_json *)json_array_get(inner(array), i);
}

bool pc_json_number(const struct pc_json *json, double *value)
{
    if (json == NULL || !json_is_number(inner(json)))
        return false;
    *value = json_number_value(inner(json));
    return true;
}

const char *pc_json_text(const struct pc_json *json)
{
    return json != NULL ? json_string_value(inner(json)) : NULL;
}

enum pc_json_kind pc_json_kind(const struct pc_json *json)
{
    switch (json_typeof(inner(json))) {
    case JSON_OBJECT:
        return PC_JSON_OBJECT;
    case JSON_ARRAY:
        return PC_JSON_ARRAY;
    case JSON_STRING:
        return PC_JSON_TEXT;
    case JSON_INTEGER:
    case JSON_REAL:
        return PC_JSON_NUMBER;
    case JSON_TRUE:
    case JSON_FALSE:
        return PC_JSON_BOOL;
    case JSON_NULL:
        break;
    }
    return PC_JSON_NULL;
}

bool pc_json_is_true(const struct pc_json *json)
{
    return json_is_true(inner(json));
}

bool pc_json_next(const struct pc_json *object, void **at, const char **key, const struct pc_json **value)
{
    *at = *at == NULL ? json_object_iter(inner(object)) : json_object_iter_next(inner(object), *at);
    if (*at == NULL)
        return false;
    *key = json_object_iter_key(*at);
    *value = (const struct pc_json *)json_object_iter_value(*at);
    return true;
}
