// SPDX-License-Identifier: Apache-2.0
// What a place can and cannot do for a kit, from little: each finding is a range from worst to best within
// what is known, and the limit that stands in the way. Pure; safe from any thread.
//
// Ranges come from the ends of what is known, not from errors adding up by chance, so whatever is added to
// kit or place file makes a range narrower or leaves it (docs/kit.md).
#ifndef PC_SHOOT_ADVISE_RECCE_H
#define PC_SHOOT_ADVISE_RECCE_H

#include "light/kit/caution.h"
#include "light/kit/site.h"
#include "shoot/outlet/outlet.h"

enum { PC_RECCE_FINDINGS_MAX = 16, PC_RECCE_REACHES_MAX = 128, PC_RECCE_ANGLES_MAX = 8 };

struct pc_range {
    double low, high;
};

enum pc_verdict { PC_VERDICT_CAN, PC_VERDICT_PERHAPS, PC_VERDICT_CANNOT };

// The widest picture straight down from one table through one lens.
struct pc_recce_reach {
    const struct pc_camera *camera;
    const struct pc_lens *lens;
    const struct pc_support *support;
    struct pc_range width_m; // 0 where the ceiling lets none
};

struct pc_recce_finding {
    const char *key; // "overhead", for programs
    enum pc_verdict verdict;
    struct pc_range range; // NAN: the finding is no figure
    const char *unit;      // of range; NULL: a plain number
    const char *limit;     // what stands in the way or would first: "ceiling"
    const char *sentence;
    int caution; // enum pc_caution; -1: none
};

struct pc_recce {
    struct pc_recce_finding finding[PC_RECCE_FINDINGS_MAX];
    size_t count;
    struct pc_recce_reach reach[PC_RECCE_REACHES_MAX];
    size_t reach_count;
};

struct pc_recce_wish {
    const struct pc_kit *kit;
    const struct pc_site *site;
    double wide_m;                  // a picture wanted from straight above; NAN: none
    const struct pc_outlet *outlet; // where it will be seen; NULL: not said
    double surface_ev;              // the darkest surface wanted under the hero; NAN: as the dark way has it
    double angle_rad[PC_RECCE_ANGLES_MAX]; // of the looks, how far the camera looks down
    size_t angle_count;                    // 0: the usual ones, 10, 45 and 90 degrees
    double deep_m;                         // of a stack that is to be sharp from front to back; NAN: 0.16
};

enum pc_status pc_recce_find(struct pc_arena *arena, const struct pc_recce_wish *wish, struct pc_recce *recce,
                             struct pc_err *err) PC_MUST_CHECK;

// What one has when nothing is said of a kit: a camera of 36 x 24 mm with 50 mm, one panel of 60 W.
void pc_recce_usual_kit(struct pc_arena *arena, struct pc_kit *kit);

// Each finding's figures by themselves.

// Straight down, the sensor's longer side across: the picture's width that just leaves body and arm their
// room under the ceiling. Exact close-up distances (image/camera/framing.h).
struct pc_range pc_recce_widest_m(const struct pc_site *site, const struct pc_support *support,
                                  const struct pc_camera *camera, const struct pc_lens *lens);

// Daylight on the hero without the sun's own beam: means of such skies, the model's error included
// (light/sky/daylight.h); a moment may have half of it or twice. Over the hours when the sun stands 10
// degrees or higher; over all its places in the sky where bearing, latitude or date are not known.
struct pc_recce_daylight {
    struct pc_range overcast_lx, clear_lx;
};

// PC_BAD_INPUT: there is no window, or the place cannot be.
enum pc_status pc_recce_daylight_of(const struct pc_site *site, bool blinds_down,
                                    struct pc_recce_daylight *daylight, struct pc_err *err) PC_MUST_CHECK;

// The strongest of the lamps at 90 cm, as a key stands over a plate; 0 without lamps.
struct pc_range pc_recce_key_lx(const struct pc_kit *kit, const struct pc_lamp **lamp);

// How many stops a surface that the key misses lies under one that it meets: log2(1 + key / rest).
struct pc_range pc_recce_floor_ev(struct pc_range key_lx, struct pc_range rest_lx);

// How much of a bowl of clear broth (24 cm, on the middle of the table, 90 cm from the lens) shows the first
// window to a camera that looks towards it and elevation_rad down (shoot/advise/glare.h), with the window as
// large and near, and as small and far, as it may be. And the elevation from which on it is gone.
struct pc_range pc_recce_glare_ratio(const struct pc_site *site, double elevation_rad);
struct pc_range pc_recce_clear_rad(const struct pc_site *site);

// What is sharp of a stack deep_m deep that is as wide on an upright page (image/camera/depth.h, diffraction
// counted), at f/16 or the nearest that the lens has.
struct pc_range pc_recce_depth_m(const struct pc_camera *camera, const struct pc_lens *lens, double deep_m);
double pc_recce_depth_f(const struct pc_lens *lens);

// How high the sun may stand and still reach the middle of the table through the first window, whichever way
// that looks.
struct pc_range pc_recce_highest_sun_rad(const struct pc_site *site);

// Watts on a circuit: what hangs there, and the kit's lamps and flashes if they do.
struct pc_range pc_recce_load_W(const struct pc_circuit *circuit, const struct pc_kit *kit);

#endif
