// SPDX-License-Identifier: Apache-2.0
// What the files of a desk share.
#ifndef PC_FRONT_ANSWER_DESK_PRIV_H
#define PC_FRONT_ANSWER_DESK_PRIV_H

#include <pthread.h>

#include "front/answer/desk.h"
#include "front/answer/from_job.h"
#include "front/answer/weighed.h"

enum { PC_DESK_KEY_LETTERS = 16 }; // of a key, in names of files

// Frames measured. Held by the desk and by each answer from them.
struct pc_desk_set {
    int holders;
    char key[PC_DIGEST_HEX_BYTES];
    struct pc_arena *arena;
    struct pc_measured *measured;
};

// One whole answer. Held by the desk and by whoever looks at it.
struct pc_desk_answer {
    int holders;
    struct pc_desk_set *set;
    struct pc_job_asked *asked;
    struct pc_weighed weighed;
    const char *sentence; // in asked's arena: what could not be heeded; NULL: nothing
};

enum pc_desk_state { PC_DESK_READY, PC_DESK_WORKING, PC_DESK_NEEDS, PC_DESK_REFUSED };

struct pc_desk {
    struct pc_job *job;
    struct pc_desk_told told;
    pthread_t thread;
    bool running;
    struct pc_ctx ctx;    // of the measuring
    pthread_mutex_t lock; // guards what follows
    pthread_cond_t asked_for;
    bool over;
    struct pc_job_asked *next;         // to be worked on; NULL: nothing
    char now_key[PC_DIGEST_HEX_BYTES]; // being worked on; "": nothing
    char now_set_key[PC_DIGEST_HEX_BYTES];
    char doing[96];
    double done_ratio, told_s;
    struct pc_desk_set *set;
    struct pc_desk_answer *answer;
    char refused_key[PC_DIGEST_HEX_BYTES]; // the last question that was refused, and why
    char refused_text[900];
    double refused_until_s; // then it may be tried again: the disk may have room by now

    pthread_mutex_t view_lock; // one picture at a time: each takes the memory of a whole frame
    struct pc_ctx view_ctx;
    struct pc_photo_reader *view_reader; // NULL: not needed yet
};

// What holds now. With PC_DESK_READY *answer is held for the caller, who lets it go; sentence (of 900 bytes)
// is what to say, "" where there is nothing.
enum pc_desk_state pc_desk_now(struct pc_desk *desk, struct pc_desk_answer **answer, char sentence[900]);
void pc_desk_let_go(struct pc_desk *desk, struct pc_desk_answer *answer); // NULL is fine
// {state, sentence, doing, done_ratio} of anything but a ready answer.
struct pc_json *pc_desk_state_json(struct pc_desk *desk, enum pc_desk_state state, const char *sentence);

// made/ of the job; NAME-KEY with the first letters of the key.
const char *pc_desk_made(const struct pc_desk *desk, struct pc_arena *arena);
// Removes what begins with prefix in made/, but for what begins with keep.
void pc_desk_prune(const struct pc_desk *desk, const char *prefix, const char *keep);

#endif
