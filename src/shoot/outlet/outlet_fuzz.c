// SPDX-License-Identifier: Apache-2.0
// Any bytes are outlets that need pixels, or are refused with a place and a sentence.
#include "shoot/outlet/outlet.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_outlets outlets;
    struct pc_err err = {0};
    if (pc_outlets_read_text(arena, (const char *)bytes, count, "fuzz.json", &outlets, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && strncmp(err.place, "fuzz.json", 9) == 0);
    } else {
        for (size_t i = 0; i < outlets.count; i++) {
            double px[2];
            pc_outlet_needed_px(&outlets.outlets[i], px);
            PC_ASSERT(px[0] > 0 && px[1] > 0 && pc_outlet_shape_ratio(&outlets.outlets[i]) > 0);
        }
    }
    pc_arena_destroy(arena);
    return 0;
}
