// SPDX-License-Identifier: Apache-2.0
// Any bytes are JSON that can be printed and read again to the same text, or are refused with a sentence.
#include "base/json.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_json *json, *again;
    struct pc_err err = {0};
    if (pc_json_parse((const char *)bytes, count, "fuzz.json", &json, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0');
        return 0;
    }
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    char *first = pc_json_print(arena, json, true);
    PC_ASSERT(pc_json_parse(first, strlen(first), "again.json", &again, NULL) == PC_OK);
    PC_ASSERT(strcmp(first, pc_json_print(arena, again, true)) == 0);
    pc_json_destroy(again);
    pc_json_destroy(json);
    pc_arena_destroy(arena);
    return 0;
}
