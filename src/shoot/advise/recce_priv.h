// SPDX-License-Identifier: Apache-2.0
// What the parts of the recce share.
#ifndef PC_SHOOT_ADVISE_RECCE_PRIV_H
#define PC_SHOOT_ADVISE_RECCE_PRIV_H

#include "shoot/advise/recce.h"

struct recce_work {
    struct pc_arena *arena;
    const struct pc_recce_wish *wish;
    struct pc_recce *recce;
    bool has_window;
    struct pc_recce_daylight open, blinded; // where there is a window
    bool has_blind;
};

// The next finding, its caution -1 and its range unknown.
struct pc_recce_finding *recce_add(struct recce_work *work, const char *key, enum pc_verdict verdict);

// "550 to 1300", two significant figures, rounded outwards; one figure where both ends are the same.
const char *recce_range(struct pc_arena *arena, struct pc_range range);
// The same of one figure, rounded down or up.
const char *recce_about(struct pc_arena *arena, double value, bool up);
// "P1", "P1 and P2", "P1, P2 and P3".
const char *recce_join(struct pc_arena *arena, const char *const *names, size_t count);

// value less and more by tolerance, not under least. A tolerance that is not known counts as none.
struct pc_range recce_around(double value, double tolerance, double least);

// From the dimmer to the brighter of the two skies.
struct pc_range recce_either_lx(const struct pc_recce_daylight *daylight);
// "160 to 1100 lx under an overcast sky and 300 to 8000 under a clear one".
const char *recce_both_skies(struct recce_work *work, struct pc_range overcast, struct pc_range clear,
                             const char *unit);

enum pc_status recce_overhead(struct recce_work *work, struct pc_err *err);
enum pc_status recce_daylight(struct recce_work *work, struct pc_err *err);
void recce_surface(struct recce_work *work);
void recce_flash(struct recce_work *work);
void recce_glare(struct recce_work *work);
void recce_depth(struct recce_work *work);
void recce_colour(struct recce_work *work);
enum pc_status recce_sun(struct recce_work *work, struct pc_err *err);
void recce_circuit(struct recce_work *work);
void recce_arm(struct recce_work *work);
void recce_pendants(struct recce_work *work);

#endif
