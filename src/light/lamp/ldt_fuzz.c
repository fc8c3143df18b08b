// SPDX-License-Identifier: Apache-2.0
// Any bytes are EULUMDAT, or are refused with a sentence.
#include "light/lamp/photometry_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    look_at_file(pc_photometry_read_eulumdat, bytes, count, "fuzz.ldt");
    return 0;
}
