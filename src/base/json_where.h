// SPDX-License-Identifier: Apache-2.0
// Where in a JSON text a value stands, for errors found after reading. Pure; safe from any thread.
#ifndef PC_BASE_JSON_WHERE_H
#define PC_BASE_JSON_WHERE_H

#include "base/err.h"

struct pc_json_spot {
    int line, column;         // of the value's first character, from 1; columns count characters, not bytes
    int key_line, key_column; // of its key's opening quote; those of the value where it has no key
};

// text must have been read by pc_json_parse. Each step goes into the n-th member of an object or array, in
// the order of the text. False when there is no such value; spot is then untouched.
bool pc_json_where(const char *text, size_t count, const size_t *step, size_t steps,
                   struct pc_json_spot *spot);

#endif
