// SPDX-License-Identifier: Apache-2.0
// How rows of keys point at fields, and how well a figure is known by the way it was got.
#ifndef PC_LIGHT_KIT_WITHIN_PRIV_H
#define PC_LIGHT_KIT_WITHIN_PRIV_H

#include "base/keys.h"

#define NUMBER(type, field)     .kind = PC_KEY_NUMBER, .offset = offsetof(type, field)
#define FIGURE(type, field)     NUMBER(type, field), .offset_within = offsetof(type, field##_tolerance)
#define WHOLE(type, field)      .kind = PC_KEY_WHOLE, .offset = offsetof(type, field)
#define YES_NO(type, field)     .kind = PC_KEY_YES_NO, .offset = offsetof(type, field)
#define TEXT(type, field)       .kind = PC_KEY_TEXT, .offset = offsetof(type, field)
#define DATE(type, field)       .kind = PC_KEY_DATE, .offset = offsetof(type, field)
#define ONE_OF(type, field)     .kind = PC_KEY_ONE_OF, .offset = offsetof(type, field)
#define PAIR_PLAIN(type, field) .kind = PC_KEY_PAIR, .offset = offsetof(type, field)
#define PAIR(type, field)       PAIR_PLAIN(type, field), .offset_within = offsetof(type, field##_tolerance)
#define PART(type, field)       .kind = PC_KEY_PART, .offset = offsetof(type, field)
#define LIST(type, field, n)                                                                                 \
    .kind = PC_KEY_LIST, .offset = offsetof(type, field), .offset_count = offsetof(type, n)

#define TAPE_M           0.03 // a tape held by one person, over a table or up a wall
#define TAPE_HEIGHT_M    0.01 // a tape stood on the floor or laid along an edge
#define MARKED_FOCAL_PCT 3    // focal lengths are marked rounded, and shorten as one focuses near
#define LABEL_PCT        10   // watts on a label
#define REFLECTANCE_PCT  10   // judged against a grey card
#define BEARING_DEG      5    // a phone's compass indoors, held against the wall

#endif
