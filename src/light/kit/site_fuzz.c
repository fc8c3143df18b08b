// SPDX-License-Identifier: Apache-2.0
// Any bytes are a place with every figure finite or unknown, or are refused with a place and a sentence.
#include "light/kit/site.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_site site;
    struct pc_err err = {0};
    if (pc_site_read_text(arena, (const char *)bytes, count, "fuzz.json", &site, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && strncmp(err.place, "fuzz.json", 9) == 0);
    } else {
        PC_ASSERT(site.ceiling_m > site.table.height_m && isfinite(site.ceiling_m_tolerance));
        for (size_t i = 0; i < site.window_count; i++) {
            const struct pc_window *window = &site.windows[i];
            PC_ASSERT(pc_site_window(&site, window->name) == window && window->width_m > 0);
            PC_ASSERT(isnan(window->facing_rad) == isnan(window->facing_rad_tolerance));
        }
        for (size_t i = 0; i < site.circuit_count; i++)
            for (size_t j = 0; j < site.circuits[i].load_count; j++)
                PC_ASSERT(site.circuits[i].loads[j].count >= 1);
    }
    pc_arena_destroy(arena);
    return 0;
}
