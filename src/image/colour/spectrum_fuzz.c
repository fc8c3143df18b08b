// SPDX-License-Identifier: Apache-2.0
// Any bytes are a spectrum of finite numbers, or are refused with a sentence.
#include "image/colour/spectrum.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count);

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_spectrum spectrum;
    struct pc_rendering rendering;
    struct pc_err err = {0};
    if (pc_spectrum_parse((const char *)bytes, count, "fuzz.csv", &spectrum, &err) != PC_OK) {
        PC_ASSERT(err.text[0] != '\0');
        return 0;
    }
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
        PC_ASSERT(isfinite(spectrum.value[i]) && spectrum.value[i] >= 0);
    if (pc_spectrum_rendering(&spectrum, 1, 3, &rendering))
        PC_ASSERT(isfinite(rendering.ra) && rendering.ra <= 100.0 + 1e-9);
    return 0;
}
