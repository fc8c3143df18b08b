// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/decode_fuzz.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    return pc_fuzz_decode(pc_decode_png, bytes, count);
}
