// SPDX-License-Identifier: Apache-2.0
// Any bytes are a lamp sheet whose light is finite at every dial and kelvin it has, or are refused with a
// place and a sentence.
#include "light/lamp/sheet.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_lamp_sheet sheet;
    struct pc_err err = {0};
    if (pc_lamp_sheet_read_text(arena, (const char *)bytes, count, "fuzz.json", &sheet, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && strncmp(err.place, "fuzz.json", 9) == 0);
        pc_arena_destroy(arena);
        return 0;
    }
    PC_ASSERT(sheet.name != NULL && sheet.size_m[0] > 0 && sheet.kelvin_K[0] <= sheet.kelvin_K[1]);
    for (int d = 0; d <= 4; d++)
        for (int k = 0; k <= 4; k++) {
            double kelvin_K = sheet.kelvin_K[0] + k / 4.0 * (sheet.kelvin_K[1] - sheet.kelvin_K[0]), ratio,
                   within;
            enum pc_status status =
                pc_lamp_sheet_light(&sheet, d / 4.0, kelvin_K, sheet.sag_count > 0 ? 100.0 * d : (double)NAN,
                                    &ratio, &within, NULL);
            PC_ASSERT(status == PC_OK && isfinite(ratio) && ratio >= 0 && isfinite(within) && within >= 0);
            PC_ASSERT(pc_lamp_sheet_dial_for(&sheet, d / 4.0, kelvin_K, sheet.kelvin_K[0]) >= 0);
        }
    pc_arena_destroy(arena);
    return 0;
}
