// SPDX-License-Identifier: Apache-2.0
// Inside wanting. A setting is a point: for each dial how much of its full light it gives (amount) and, for
// two-emitter lights, the warm share of its drive. Light adds, so every goal held within a tolerance is a
// handful of linear inequalities in the amounts and the warm amounts (amount x share); want_lp.c says whether
// any setting between the ends of the dials meets them, and want_search.c branches over the steps.
#ifndef PC_LIGHT_PARTS_WANT_PRIV_H
#define PC_LIGHT_PARTS_WANT_PRIV_H

#include "base/arena.h"
#include "light/parts/want.h"
#include "light/parts/warmth_priv.h"

enum {
    PC_WANT_DIALS_MAX = PC_LIGHTS_MAX + 1, // the ambient is the last
    PC_WANT_GOALS_MAX = PC_GOALS_MAX + 1,  // one more for the ways' own
    PC_LP_COLS_MAX = 2 * PC_WANT_DIALS_MAX,
    PC_LP_ROWS_MAX = 2 * PC_WANT_GOALS_MAX + 4 * PC_WANT_DIALS_MAX + 4 * PC_LIGHTS_MAX,
};

#define PC_WANT_EV_PER_MIRED (0.05 / 8)
#define PC_WANT_MET_EV       0.05 // a goal met within this is met
#define PC_WANT_MERIT_OUT    1e6  // and more: out of bounds
#define PC_WANT_MISS_MAX_EV  64.0 // stands for an infinite miss: a place that gets no light at all

struct pc_want_dial {
    int light;       // -1: the ambient
    bool two;        // two emitters
    int level_count; // amounts allowed, ascending; 0: any from least to most
    const double *level, *level_dial;
    double least, most;
    int share_count; // warm shares allowed, ascending; 0: any from share_least to share_most
    const double *share, *share_K;
    bool share_fine; // the shares are a table of what has no steps
    double share_least, share_most;
    double base[PC_PLACES_MAX][3]; // XYZ for amount 1 at warm share 0 (or of the one emitter)
    double warm[PC_PLACES_MAX][3]; // what warm share 1 adds to it
    const struct pc_kelvin
        *kelvin; // where the mixing was measured: amounts count times its drive at the share
    double now_amount, now_share;
};

struct pc_want_problem {
    const struct pc_reading *reading;
    const struct pc_warmth *warmth; // NULL: colour is not known
    int dial_count;
    struct pc_want_dial dial[PC_WANT_DIALS_MAX];
    int goal_count;
    struct pc_goal goal[PC_WANT_GOALS_MAX];
    double now_xyz[PC_PLACES_MAX][3];
    double now_mired[PC_PLACES_MAX];
};

struct pc_want_point {
    double amount[PC_WANT_DIALS_MAX];
    double share[PC_WANT_DIALS_MAX];
};

// want_goal.c

// XYZ at a place, and Y of one dial there.
void pc_want_xyz(const struct pc_want_problem *problem, const struct pc_want_point *point, int place,
                 double xyz[3]);
// The drive of both emitters together at a warm share; 1 for all but a two-emitter light whose mixing was
// measured.
double pc_want_drive(const struct pc_want_dial *dial, double share);
double pc_want_dial_Y(const struct pc_want_dial *dial, const struct pc_want_point *point, int index,
                      int place);
// What a goal comes to, in its own unit, and how far (signed, EV-scaled; one-sided goals never below 0) that
// is.
double pc_want_value(const struct pc_want_problem *problem, const struct pc_want_point *point, int goal);
double pc_want_residual(const struct pc_want_problem *problem, int goal, double value);
// All misses; returns the largest.
double pc_want_misses(const struct pc_want_problem *problem, const struct pc_want_point *point,
                      double miss[PC_WANT_GOALS_MAX]);
// Dials whose Y at a place decides a goal by being the strongest there: the surface for a second shadow, the
// hero for a key; -1 for the other kinds.
int pc_want_leader_place(enum pc_goal_kind kind);

// want_lp.c: rows a.x <= b, columns between low and high.
struct pc_lp {
    int rows, cols;
    double a[PC_LP_ROWS_MAX][PC_LP_COLS_MAX];
    double b[PC_LP_ROWS_MAX];
    double low[PC_LP_COLS_MAX], high[PC_LP_COLS_MAX];
};
// Whether any x meets them all (to 1e-9 of each row's largest term); x starts from a guess and holds the
// answer.
bool pc_lp_feasible(struct pc_lp *lp, double x[PC_LP_COLS_MAX]);

// want_rows.c: a part of the space of settings, and what goals say in it.
struct pc_want_box {
    short low[PC_WANT_DIALS_MAX], high[PC_WANT_DIALS_MAX];             // indices of levels
    short share_low[PC_WANT_DIALS_MAX], share_high[PC_WANT_DIALS_MAX]; // indices of shares
    // Which dial leads, for the second shadow and for the key; -1: not settled.
    signed char shadow_leader, key_leader;
};
// How far amount over drive, as a light's mixing has it, bends from a straight line between the ends of the
// box's shares: a range of offsets, 0 and 0 where it does not, and then the rows are exact.
void pc_want_box_bend(const struct pc_want_dial *dial, int share_low, int share_high, double *under,
                      double *over);
void pc_want_box_all(const struct pc_want_problem *problem, struct pc_want_box *box);
// A setting of the box, steps aside, with every goal's miss at most its tolerance; false when there is none.
bool pc_want_box_meets(const struct pc_want_problem *problem, const struct pc_want_box *box,
                       const double tolerance_ev[PC_WANT_GOALS_MAX], struct pc_lp *lp,
                       struct pc_want_point *point);

// want_search.c
// The index of the value nearest to x.
int pc_want_nearest(const double *sorted, int count, double x);
struct pc_want_search {
    const struct pc_want_problem *problem;
    int only;                       // -1: the worst miss of all counts; else this goal's, the others held
    double hold[PC_WANT_GOALS_MAX]; // misses allowed to the others
    int node_cap;
    double least_gain; // a better score by less than this is not looked for
    int aims;          // halvings towards the bound at each node; they pay where there are no steps
    double enough;     // when no score can be below this, the search is of no use and ends; 0: always of use
    struct pc_want_point best;
    double score; // of best; PC_WANT_MISS_MAX_EV * 2 and more: the others' holds are broken
    double bound; // below this no setting can score, least_gain aside
    int nodes;
    struct pc_lp *lp;
};
// Starts from search->best (any point). The node cap makes the time bounded; it is not met by six lights in
// practice.
void pc_want_search_run(struct pc_want_search *search);
double pc_want_search_score(const struct pc_want_search *search, const struct pc_want_point *point);
void pc_want_round(const struct pc_want_problem *problem, struct pc_want_point *point);

// want_polish.c
// Bounded least squares from a point, steps aside (Levenberg and Marquardt, projected).
void pc_want_least_squares(const struct pc_want_problem *problem, struct pc_want_point *point);
// Among settings whose worst miss is at most worst_ev: less sum of squared misses, then less change. By moves
// of one dial and exchanges between two.
void pc_want_polish(const struct pc_want_problem *problem, double worst_ev, struct pc_want_point *point);
double pc_want_merit(const struct pc_want_problem *problem, const struct pc_want_point *point,
                     double worst_ev);

// want.c
enum {
    PC_RELAX_NONE,
    PC_RELAX_MOST,
    PC_RELAX_LEAST,
    PC_RELAX_FIXED,
    PC_RELAX_STEP,
    PC_RELAX_KELVIN,
    PC_RELAX_AMBIENT_LESS,
    PC_RELAX_AMBIENT_MORE
};
struct pc_want_relax {
    int what;
    int light;
};
void pc_want_problem_init(struct pc_arena *arena, const struct pc_reading *reading,
                          const struct pc_want *want, const struct pc_warmth *warmth,
                          struct pc_want_problem *problem);
// The same problem with one limit lifted.
void pc_want_problem_relax(struct pc_arena *arena, const struct pc_want *want,
                           const struct pc_want_problem *problem, struct pc_want_relax relax,
                           struct pc_want_problem *relaxed);
enum pc_status pc_want_check(const struct pc_reading *reading, const struct pc_want *want,
                             struct pc_err *err);
void pc_want_solve_problem(struct pc_arena *arena, const struct pc_want_problem *problem,
                           struct pc_want_point *best);
void pc_want_dials_from_point(const struct pc_want_problem *problem, const struct pc_want *want,
                              const struct pc_want_point *point, struct pc_dials *dials);
// A search over a problem, from the settings as captured; lp is kept.
void pc_want_search_init(struct pc_lp *lp, const struct pc_want_problem *problem,
                         struct pc_want_search *search);

// want_binding.c
// Which limit stands between a point and a goal, the other goals getting no worse; *light -1 where it is no
// light's.
enum pc_binding pc_want_binding(struct pc_arena *arena, const struct pc_reading *reading,
                                const struct pc_want *want, const struct pc_want_problem *problem,
                                const struct pc_want_point *point, int goal, int *light);
// The sentence, without reference to an answer.
void pc_want_binding_words(const struct pc_reading *reading, const struct pc_want *want,
                           enum pc_binding binding, int light, char *out, size_t size);

#endif
