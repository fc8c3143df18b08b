// SPDX-License-Identifier: Apache-2.0
// What `weigh` answers: who lights what, three ways to set the lights, and the closing check.
#ifndef PC_FRONT_ANSWER_WEIGHED_H
#define PC_FRONT_ANSWER_WEIGHED_H

#include "front/answer/measured.h"
#include "light/parts/closing.h"

struct pc_weighed {
    const struct pc_measured *measured; // borrowed
    struct pc_dials dials;              // that all of this is for
    struct pc_answers answers;
    struct pc_way_answer way[PC_COUNT(pc_ways)];
    bool closed; // there was a closing frame
    struct pc_closing closing;
};

// weighed is zeroed before; finished by the caller, whatever comes back.
enum pc_status pc_weighed_make(struct pc_ctx *ctx, const struct pc_measured *measured,
                               const struct pc_asked *asked, struct pc_weighed *weighed,
                               struct pc_err *err) PC_MUST_CHECK;
void pc_weighed_finish(struct pc_weighed *weighed);

// docs/json.md has the keys.
struct pc_json *pc_weighed_json(const struct pc_weighed *weighed);

#endif
