// SPDX-License-Identifier: Apache-2.0
// Any bytes are a kit with every figure finite or unknown, or are refused with a place and a sentence.
#include "light/kit/kit.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    struct pc_kit kit;
    struct pc_err err = {0};
    if (pc_kit_read_text(arena, (const char *)bytes, count, "fuzz.json", &kit, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && strncmp(err.place, "fuzz.json", 9) == 0);
    } else {
        for (size_t i = 0; i < kit.camera_count; i++) {
            const struct pc_camera *camera = &kit.cameras[i];
            PC_ASSERT(camera->name != NULL && pc_kit_camera(&kit, camera->name) == camera);
            PC_ASSERT(camera->sensor_mm[0] > 0 && camera->pixels[0] > 0 && camera->full_well_e > 0);
            for (size_t j = 0; j < camera->lens_count; j++)
                PC_ASSERT(isfinite(camera->lenses[j].focal_mm) && camera->lenses[j].focal_mm_tolerance >= 0);
        }
        for (size_t i = 0; i < kit.lamp_count; i++)
            PC_ASSERT(kit.lamps[i].at_1m_lx >= 0 && kit.lamps[i].kelvin_K[0] <= kit.lamps[i].kelvin_K[1]);
    }
    pc_arena_destroy(arena);
    return 0;
}
