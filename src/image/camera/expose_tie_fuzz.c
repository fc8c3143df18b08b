// SPDX-License-Identifier: Apache-2.0
// Any bytes are a tie with a figure in range and every text there, or are refused with a place and a
// sentence.
#include "image/camera/expose_tie.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_tie tie;
    struct pc_err err = {0};
    if (pc_tie_read_text(arena, (const char *)bytes, count, "fuzz.json", &tie, &err) != PC_OK)
        PC_ASSERT(err.text[0] != '\0' && strncmp(err.place, "fuzz.json", 9) == 0);
    else
        PC_ASSERT(fabs(tie.off_ev) <= 2 && tie.maker != NULL && tie.model != NULL && tie.serial != NULL &&
                  tie.lens != NULL);
    pc_arena_destroy(arena);
    return 0;
}
