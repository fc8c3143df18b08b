// SPDX-License-Identifier: Apache-2.0
// A job is a folder: job.db, frames/ (never written after intake), made/, readable/, inbox/.
//
// Every edit is one row of an append-only log of changes. What holds now is the log folded: for each kind and
// subject the bodies of its changes laid over each other, member by member, in the order of their numbers,
// those that were undone left out. So undo, who did what, and two phones tapping at once are one mechanism.
//
// A pc_job may be used by any thread: calls take turns. Several processes may hold one job open.
#ifndef PC_FRONT_JOB_JOB_H
#define PC_FRONT_JOB_JOB_H

#include "base/arena.h"
#include "base/json.h"

struct pc_job;

enum pc_job_role { PC_JOB_PROGRAM, PC_JOB_PHOTOGRAPHER, PC_JOB_COOK, PC_JOB_CLIENT };
extern const char *const pc_job_role_names[4]; // "program", "photographer", "cook", "client"

// Makes folder (which must not be there yet) with an empty job in it.
enum pc_status pc_job_create(const char *folder, struct pc_job **job, struct pc_err *err) PC_MUST_CHECK;
// Opens one; an older schema is brought up to date, a newer one is refused and left alone.
enum pc_status pc_job_open(const char *folder, struct pc_job **job, struct pc_err *err) PC_MUST_CHECK;
// Closes without writing readable/ (see readable.h). NULL is fine.
void pc_job_close(struct pc_job *job);
const char *pc_job_folder(const struct pc_job *job);

struct pc_job_change {
    int64_t rev;   // 1, 2, 3 ... without gaps
    int64_t at_ms; // UTC, milliseconds since 1970
    const char *who;
    enum pc_job_role role;
    const char *what;
    const char *subject; // "" for the job itself
    const char *body;    // a JSON object on one line
    const char *key;     // NULL: none
    int64_t undoes;      // 0: nothing
};

// What somebody wants changed. The body is checked against its kind, and the role against who may.
struct pc_job_wish {
    const char *who; // a device's name, at most 60 bytes
    enum pc_job_role role;
    const char *what;
    const char *subject;        // NULL: ""
    const struct pc_json *body; // an object; NULL: {}
    const char *key;            // made by the device; the same key again is the same change; NULL: none
    int64_t at_ms;              // 0: now
};
// *rev gets the number of the change (of the first one with this key). Durable when it returns PC_OK.
enum pc_status pc_job_append(struct pc_job *job, const struct pc_job_wish *wish, int64_t *rev,
                             struct pc_err *err) PC_MUST_CHECK;

int64_t pc_job_rev(struct pc_job *job); // the last change's number, 0: none
// Changes after rev, at most most of them, in arena.
enum pc_status pc_job_since(struct pc_job *job, struct pc_arena *arena, int64_t rev, size_t most,
                            struct pc_job_change **changes, size_t *count, struct pc_err *err) PC_MUST_CHECK;
struct pc_json *pc_job_change_json(const struct pc_job_change *change);

// Called after each append of this process, with the change, from the appending thread, outside all locks.
void pc_job_on_change(struct pc_job *job, void (*told)(void *user, const struct pc_job_change *change),
                      void *user);

// What holds now for one kind: an object of subject -> body, with the members "rev" and "at_ms" (of the last
// change that counts) added to each. Subjects in the order in which they first came up. Owned by the caller.
enum pc_status pc_job_now(struct pc_job *job, const char *what, struct pc_json **now,
                          struct pc_err *err) PC_MUST_CHECK;
// One subject of it, NULL when nothing was ever said of it.
enum pc_status pc_job_now_of(struct pc_job *job, const char *what, const char *subject, struct pc_json **now,
                             struct pc_err *err) PC_MUST_CHECK;
// The taps that hold, in the order of their moments: [{rev, plate, state, at_ms, who}]; at_ms is when the tap
// was made, not when it arrived. Owned by the caller.
enum pc_status pc_job_taps(struct pc_job *job, struct pc_json **taps, struct pc_err *err) PC_MUST_CHECK;

// Everything a screen needs: {rev, now_ms, job, shots, outlets, frames, touches, dials, locked, plates,
// choices, verdicts}; shots, outlets, frames, plates, choices, verdicts are arrays whose items have "id".
// What a client may not see is left out for PC_JOB_CLIENT. Owned by the caller.
enum pc_status pc_job_state_json(struct pc_job *job, enum pc_job_role role, struct pc_json **state,
                                 struct pc_err *err) PC_MUST_CHECK;

// A frame that came in.
struct pc_job_arrival {
    const char *path;   // of a complete file, read only; it stays
    const char *name;   // as the camera named it; only its last part counts
    const char *from;   // upload, folder, ftp, usb
    const char *device; // who sent it
};
// Copies the file into frames/ under a name that is not taken, hashing on the way, and records it: only then
// is it a frame. The same bytes again are the same frame (*fresh false). id is "f" and a number.
enum pc_status pc_job_take_in(struct pc_job *job, const struct pc_job_arrival *arrival, char id[24],
                              bool *fresh, struct pc_err *err) PC_MUST_CHECK;
// The path of a frame in frames/, in arena.
enum pc_status pc_job_frame_path(struct pc_job *job, struct pc_arena *arena, const char *id, char **path,
                                 struct pc_err *err) PC_MUST_CHECK;

#endif
