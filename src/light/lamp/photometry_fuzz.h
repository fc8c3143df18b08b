// SPDX-License-Identifier: Apache-2.0
// For the fuzz targets of photometric files: any bytes are a file whose light is finite and nowhere negative,
// or are refused with a sentence.
#ifndef PC_LIGHT_LAMP_PHOTOMETRY_FUZZ_H
#define PC_LIGHT_LAMP_PHOTOMETRY_FUZZ_H

#include "light/lamp/photometry.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

static inline void look_at_file(enum pc_status (*read)(struct pc_arena *arena, const char *text, size_t count,
                                                       const char *place, struct pc_photometry *p,
                                                       struct pc_err *err),
                                const uint8_t *bytes, size_t count, const char *place)
{
    struct pc_photometry p;
    struct pc_err err = {0};
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    if (read(arena, (const char *)bytes, count, place, &p, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0' && err.place[0] != '\0');
        pc_arena_destroy(arena);
        return;
    }
    double v, h, peak = pc_photometry_peak_cd(&p, &v, &h), flux = pc_photometry_flux_lm(&p);
    PC_ASSERT(isfinite(peak) && peak >= 0 && flux >= -1e-6 * peak && isfinite(flux));
    for (double at = -180; at <= 540; at += 41)
        PC_ASSERT(pc_photometry_cd(&p, at / 3, at) >= 0 &&
                  pc_photometry_cd(&p, at / 3, at) <= peak * (1 + 1e-12));
    PC_ASSERT(fabs(pc_photometry_cd(&p, v, h) - peak) <= 1e-6 * peak);
    (void)pc_photometry_tilt_ratio(&p, 30);
    pc_arena_destroy(arena);
}

#endif
