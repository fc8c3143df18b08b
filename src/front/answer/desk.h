// SPDX-License-Identifier: Apache-2.0
// Where a job's questions about its light are answered: asked at any time, by anybody, worked on by one
// thread, the last answer kept. What the answer depends on is read from the job's log each time, so an
// answer is never one to an older question; a newer question about other frames stops the work on the older.
//
// Safe from any thread. Pictures are kept in the job's made/, each there whole or not at all.
#ifndef PC_FRONT_ANSWER_DESK_H
#define PC_FRONT_ANSWER_DESK_H

#include "front/job/job.h"

struct pc_desk;

// Called from the desk's threads, outside its locks; each may be NULL.
struct pc_desk_told {
    void (*work)(void *user, const char *doing, double done_ratio);
    void (*answers)(void *user, const char *kind, const char *state); // kind: "weigh"; state: ready, refused
    void *user;
};

// job is kept and must outlive the desk. threads 0: as many as the machine has.
enum pc_status pc_desk_create(struct pc_job *job, int threads, const struct pc_desk_told *told,
                              struct pc_desk **desk, struct pc_err *err) PC_MUST_CHECK;
void pc_desk_destroy(struct pc_desk *desk); // stops the work; NULL is fine

// The job has changed: begins the work where the change makes any, so that the answer is there when it is
// asked for. Cheap where it makes none.
void pc_desk_changed(struct pc_desk *desk, const char *what);

// {state: ready | working | needs | refused, sentence, doing, done_ratio, answer}; never waits.
struct pc_json *pc_desk_weigh(struct pc_desk *desk);

// The answer to a wish, as `want` gives it, with state; or what pc_desk_weigh says where there is no answer
// yet. json: {goals: [{goal, place, value}], places: [{name, x_ratio, y_ratio}], dials: {light: ratio},
// kelvins_K: {light: K}, caps: {light: ratio}, leasts: {light: ratio}, leave: [light]}; goal by its key in
// want's JSON; all but goals may be left out. Changes are against the dials given, else those captured.
enum pc_status pc_desk_want(struct pc_desk *desk, const struct pc_json *json, struct pc_json **said,
                            struct pc_err *err) PC_MUST_CHECK;

// See part_files.h; with state. before: of the url of a part, up to its number.
struct pc_json *pc_desk_parts(struct pc_desk *desk, const char *before);
// The file of a part, of the answer that of names (the query after its url); PC_NOT_FOUND when there is a
// newer answer, and the parts have to be asked for again.
enum pc_status pc_desk_part_path(struct pc_desk *desk, struct pc_arena *arena, const char *of, int64_t n,
                                 char **path, struct pc_err *err) PC_MUST_CHECK;

// JPEGs, made when first asked for, which takes seconds; see view.h. width_px, side_px 0: the usual.
enum pc_status pc_desk_view(struct pc_desk *desk, struct pc_arena *arena, const char *frame, int64_t width_px,
                            char **path, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_desk_hero(struct pc_desk *desk, struct pc_arena *arena, const char *frame, int64_t side_px,
                            char **path, struct pc_err *err) PC_MUST_CHECK;
// What differs from what was foretold; PC_NOT_FOUND without a closing frame.
enum pc_status pc_desk_residual(struct pc_desk *desk, struct pc_arena *arena, char **path,
                                struct pc_err *err) PC_MUST_CHECK;

#endif
