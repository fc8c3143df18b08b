// SPDX-License-Identifier: Apache-2.0
// The plate clock: what each plate is at, and how long it still looks right. It is reckoned afresh from the
// set of taps and a moment, so neither the order in which taps arrive, nor the same tap twice, nor sleep,
// reload or a clock that was put right can leave it in another state. Times are UTC in milliseconds.
// Pure; safe from any thread.
//
// A plate is at the furthest state that anybody tapped for it, and came to a state at the earliest tap of it.
// A tap made in error is undone in the log and then is not in the set.
#ifndef PC_SHOOT_DAY_PLATE_H
#define PC_SHOOT_DAY_PLATE_H

#include "base/json.h"
#include "light/kit/class.h"

enum pc_plate_state {
    PC_PLATE_STAND_IN, // ready on the set
    PC_PLATE_CALLED,
    PC_PLATE_DOWN,
    PC_PLATE_HAVE_IT,
    PC_PLATE_GONE,
    PC_PLATE_STATE_COUNT
};
extern const char *const pc_plate_state_keys[]; // "stand_in", ... as in the log; ended by NULL

struct pc_tap {
    const char *plate; // id
    enum pc_plate_state state;
    int64_t made_ms; // when the log had it, less how long before that it was made
};

struct pc_plate {
    const char *id, *dish;
    int dish_class; // place in pc_dish_classes, or -1
};

enum { PC_PLATE_NOT_YET = -1 };

struct pc_plate_now {
    const struct pc_plate *plate;        // kept
    int state;                           // or PC_PLATE_NOT_YET: nothing was tapped
    int64_t at_ms[PC_PLATE_STATE_COUNT]; // when it came to each; -1: never tapped
    double life_s, life_tolerance_s;     // NAN: no class
    double left_s;                       // while it is down; below 0 when it is over; NAN otherwise
    int64_t gone_at_ms;                  // when its life ends; -1 unless it is down
    bool alarm;                          // the last fifth, and after
};

struct pc_plate_clock {
    struct pc_plate_now *plates; // as given: the order of the day
    size_t count, taps, strays;  // taps counted, and those of plates that there are not
    int64_t now_ms;
    const char *line_now, *line_next; // for the cook
    const char *caution;              // NULL: none is called for
};

// How long a plate of a class looks right. From three lives on (down to gone, on this job) the table gives
// way to an estimate drawn towards it: means of a normal model, the table as prior (its tolerance two
// standard deviations), the spread pooled with two plates' worth of 7.5 % (15 % is what one test scoop
// leaves). The tolerance holds the next plate 19 times in 20.
void pc_plate_life(int dish_class, const double *lives_s, size_t count, double *life_s, double *tolerance_s);

// plates and their texts are kept.
void pc_plate_clock_find(struct pc_arena *arena, const struct pc_plate *plates, size_t plate_count,
                         const struct pc_tap *taps, size_t tap_count, int64_t now_ms,
                         struct pc_plate_clock *clock);
struct pc_json *pc_clock_json(const struct pc_plate_clock *clock);

// Within plates: the two lines and the caution, from the rest of clock.
void pc_plate_clock_say(struct pc_arena *arena, struct pc_plate_clock *clock);

#endif
