// SPDX-License-Identifier: Apache-2.0
// The crops of all outlets on one frame, before anybody cuts. Frame and boxes are as the frame is shown,
// upright, x from the left and y from the top. Pure; safe from any thread.
//
// A crop has the outlet's shape, bleed included: its longer side is a whole number of pixels, its shorter one
// the nearest whole number to the shape. It may be used when
//   it lies inside the frame;
//   the hero (the middle share of it that has to show) lies whole in the trimmed picture with its margin;
//   hero and boxes to keep in are clear of the bands for type, and each lies on one side of the fold, clear;
//   it has the pixels an inch, or the screen's pixels, that are needed.
// Among those the one with the most pixels is the best; then the one that has the hero's middle nearest to
// where it is wanted along x, then along y; then the one further left, then further up. All is reckoned in
// whole numbers (thousandths of a millimetre or of a screen's pixel), so there is no tolerance.
//
// When there is none, the answer is the proof: limits that cannot all be kept, any of which left out would
// let a crop be, and by how much the frame misses.
#ifndef PC_SHOOT_OUTLET_CROPS_H
#define PC_SHOOT_OUTLET_CROPS_H

#include "base/json.h"
#include "shoot/outlet/outlet.h"

enum { PC_CROPS_FRAME_MAX_PX = 40000, PC_CROPS_KEEP_IN_MAX = 16 };

enum pc_crops_limit {
    PC_CROPS_HERO = 1,
    PC_CROPS_MARGIN = 2,
    PC_CROPS_KEEP_IN = 4,
    PC_CROPS_TYPE = 8,
    PC_CROPS_FOLD = 16,
    PC_CROPS_PIXELS = 32,
    PC_CROPS_EDGES = 64, // of the frame
    PC_CROPS_ALL = 127,
};

enum pc_crops_side { PC_CROPS_LEFT, PC_CROPS_ABOVE, PC_CROPS_RIGHT, PC_CROPS_BELOW };

struct pc_crops_box {
    double from_ratio[2], to_ratio[2]; // of width and height
};

struct pc_crops_frame {
    int px[2];       // as stored
    int orientation; // as in EXIF, 1 to 8; 5 to 8 are shown on their side. 0: as stored
    struct pc_crops_box hero;
    struct pc_crops_box keep_in[PC_CROPS_KEEP_IN_MAX];
    size_t keep_in_count;
};

struct pc_crop {
    const struct pc_outlet *outlet; // kept
    bool fits;                      // all limits kept
    bool there;                     // all but the pixels needed: the fields up to reached_ppi are set
    int at_px[2], size_px[2];
    int needed_px;       // along the longer side
    int reached_ppi;     // rounded down; 0 for a screen
    unsigned conflict;   // limits, when it does not fit
    int side;            // enum pc_crops_side with the least missing, or -1: none helps
    int missing_px;      // on that side of the frame; so many pixels more, and there is a crop
    double missing_mm;   // the same on the page; NAN for a screen
    bool aim_does;       // the frame moved by that, not made larger, will do
    int step_back_pct10; // tenths of a per cent further off, aimed as it is; -1: no distance helps
    const char *sentence;
};

struct pc_crops {
    int frame_px[2]; // as shown
    struct pc_crop *crops;
    size_t count;
    bool all_fit;
    int step_back_pct10; // for one framing with all crops in it, aimed as it is; -1: none
    const char *sentence;
};

// outlets are kept. PC_BAD_INPUT: no pixels, or a box that is not in the frame.
enum pc_status pc_crops_find(struct pc_arena *arena, const struct pc_crops_frame *frame,
                             const struct pc_outlet *const *outlets, size_t count, struct pc_crops *crops,
                             struct pc_err *err) PC_MUST_CHECK;

// Lines as "S1 cover: 5464 x 7071 px at 627 ppi", and last what holds for all.
char *pc_crops_text(struct pc_arena *arena, const struct pc_crops *crops);
struct pc_json *pc_crops_json(const struct pc_crops *crops);

#endif
