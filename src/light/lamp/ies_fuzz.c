// SPDX-License-Identifier: Apache-2.0
// Any bytes are LM-63 whose light is finite and nowhere negative, or are refused with a sentence.
#include "light/lamp/photometry.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_photometry p;
    struct pc_err err = {0};
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    if (pc_photometry_read_lm63(arena, (const char *)bytes, count, "fuzz.ies", &p, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && err.place[0] != '\0');
        pc_arena_destroy(arena);
        return 0;
    }
    double v, h, peak = pc_photometry_peak_cd(&p, &v, &h), flux = pc_photometry_flux_lm(&p);
    PC_ASSERT(isfinite(peak) && peak >= 0 && flux >= -1e-6 * peak && isfinite(flux));
    for (double at = -180; at <= 540; at += 41)
        PC_ASSERT(pc_photometry_cd(&p, at / 3, at) >= 0 &&
                  pc_photometry_cd(&p, at / 3, at) <= peak * (1 + 1e-12));
    PC_ASSERT(fabs(pc_photometry_cd(&p, v, h) - peak) <= 1e-6 * peak);
    (void)pc_photometry_tilt_ratio(&p, 30);
    pc_arena_destroy(arena);
    return 0;
}
