// SPDX-License-Identifier: Apache-2.0
// Both readers of TIFF directories: libexif's for facts, and our own look at what a raw has.
#include "image/photo/worker/decode_fuzz.h"
#include "image/photo/worker/ifd.h"

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t count)
{
    struct pc_facts facts;
    pc_facts_clear(&facts);
    pc_exif_read(bytes, count, &facts);
    pc_facts_clean(&facts);
    PC_ASSERT(!(facts.shutter_s <= 0) && !(facts.iso <= 0) && facts.orientation >= 0 &&
              facts.orientation <= 8);
    PC_ASSERT(memchr(facts.maker, '\0', sizeof facts.maker) != NULL);
    struct pc_ifd_look look;
    pc_ifd_look(bytes, count, &look);
    for (int i = 0; i < 9; i++)
        PC_ASSERT(isfinite(look.camera_from_xyz[i / 3][i % 3]));
    return 0;
}
