// SPDX-License-Identifier: Apache-2.0
// JSON in and out, over jansson. A value added to an object or array belongs to it from then on; only the
// topmost value is destroyed by hand. Numbers carry a stated count of decimals and no more.
#ifndef PC_BASE_JSON_H
#define PC_BASE_JSON_H

#include "base/arena.h"

struct pc_json; // a value, opaque

struct pc_json *pc_json_object(void);
struct pc_json *pc_json_array(void);
void pc_json_destroy(struct pc_json *json); // NULL is fine

// Into an object under key. A number that is not finite is written as null; decimals 0..9.
void pc_json_put_text(struct pc_json *object, const char *key, const char *text); // NULL text: null
void pc_json_put_number(struct pc_json *object, const char *key, double value, int decimals);
void pc_json_put_int(struct pc_json *object, const char *key, int64_t value);
void pc_json_put_bool(struct pc_json *object, const char *key, bool value);
void pc_json_put(struct pc_json *object, const char *key, struct pc_json *value); // taken
struct pc_json *pc_json_copy(const struct pc_json *json);     // all of it, owned by the caller
void pc_json_remove(struct pc_json *object, const char *key); // fine when it is not there
// At the end of an array.
void pc_json_add(struct pc_json *array, struct pc_json *value); // taken
void pc_json_add_text(struct pc_json *array, const char *text);
void pc_json_add_number(struct pc_json *array, double value, int decimals);

// As text in arena, keys in the order they were put; indented unless line is true.
char *pc_json_print(struct pc_arena *arena, const struct pc_json *json, bool line);

// Reading. place names the file in errors, whose place is "FILE:line:column". Duplicate keys are refused.
enum pc_status pc_json_parse(const char *text, size_t count, const char *place, struct pc_json **json,
                             struct pc_err *err) PC_MUST_CHECK;
const struct pc_json *pc_json_get(const struct pc_json *object, const char *key); // borrowed, or NULL
size_t pc_json_count(const struct pc_json *array);                                // 0 unless an array
const struct pc_json *pc_json_at(const struct pc_json *array, size_t i);          // borrowed, or NULL
bool pc_json_number(const struct pc_json *json, double *value);                   // false unless a number
const char *pc_json_text(const struct pc_json *json);                             // borrowed, or NULL

enum pc_json_kind { PC_JSON_NULL, PC_JSON_BOOL, PC_JSON_NUMBER, PC_JSON_TEXT, PC_JSON_ARRAY, PC_JSON_OBJECT };
enum pc_json_kind pc_json_kind(const struct pc_json *json);
bool pc_json_is_true(const struct pc_json *json);
// Goes through an object in the order of its text: *at starts as NULL; false when there is no further member.
bool pc_json_next(const struct pc_json *object, void **at, const char **key, const struct pc_json **value);

#endif
