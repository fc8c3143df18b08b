// SPDX-License-Identifier: Apache-2.0
// Any bytes are LM-63, or are refused with a sentence.
#include "light/lamp/photometry_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    look_at_file(pc_photometry_read_lm63, bytes, count, "fuzz.ies");
    return 0;
}
