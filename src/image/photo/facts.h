// SPDX-License-Identifier: Apache-2.0
// What a frame says of itself (Exif 2.32), free of anything that only C can read, since one decoder is C++.
#ifndef PC_IMAGE_PHOTO_FACTS_H
#define PC_IMAGE_PHOTO_FACTS_H

#include "base/err.h"

#ifdef __cplusplus
extern "C" {
#endif

// Missing is NAN, "", 0 (orientation) or -1 (flash): never a guess.
struct pc_facts {
    double shutter_s;      // ExposureTime: what the camera shows, often a rounded name (1/60 for 1/64)
    double shutter_apex_s; // from ShutterSpeedValue, often the true time
    double fnumber;
    double iso;
    double focal_mm;
    double focal_35mm_mm;
    double time_s; // DateTimeOriginal with its sub-seconds, seconds since 1970 by the camera's own clock
    double utc_offset_s; // OffsetTimeOriginal
    int orientation;     // 1..8; for HEIF, whose container carries the rotation, 1 once decoded
    int flash_fired;     // 1, 0, or -1
    char maker[64];
    char model[64];
    char serial[64];
    char lens[96];
    int width_px, height_px; // full resolution, after orientation; 0 when unknown
};

// Everything missing.
void pc_facts_clear(struct pc_facts *facts);

// Makes missing whatever no camera can have meant (zero shutter, ISO of a billion, 31 February), and strings
// ended, without control bytes and without blanks at their ends. For facts from any source, hostile ones
// included.
void pc_facts_clean(struct pc_facts *facts);

// The civil time, sub-seconds and offset as Exif writes them ("2026:01:31 10:00:00", "25", "+01:00"). NULL or
// nonsense is missing.
void pc_facts_set_time(struct pc_facts *facts, const char *date_time, const char *sub_seconds,
                       const char *offset);

#ifdef __cplusplus
}
#endif

#endif
