// SPDX-License-Identifier: Apache-2.0
#include "front/answer/weighed.h"

enum pc_status pc_weighed_make(struct pc_ctx *ctx, const struct pc_measured *measured,
                               const struct pc_asked *asked, struct pc_weighed *weighed, struct pc_err *err)
{
    const struct pc_parts *parts = measured->hand_held ? NULL : &measured->parts;
    const struct pc_reading *reading = &measured->reading;
    weighed->measured = measured;
    PC_TRY(pc_measured_dials(measured, asked, &weighed->dials, err));
    pc_answers_make(parts, reading, &weighed->dials, measured->greycard, &measured->exposure,
                    &weighed->answers);
    struct pc_want limits;
    PC_TRY(pc_measured_limits(reading, asked, &limits, err));
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++)
        PC_TRY(pc_way_solve(reading, &limits, &pc_ways[i], &weighed->way[i], err));
    if (asked->actual == NULL)
        return PC_OK;
    if (parts == NULL)
        return pc_fail(err, PC_UNSUPPORTED, asked->actual,
                       "A closing frame can only be laid beside a set taken with the camera locked off.");
    PC_TRY(pc_closing_check(ctx, measured->reader, parts, reading, &weighed->dials, asked->actual,
                            &weighed->closing, err));
    weighed->closed = true;
    return PC_OK;
}

void pc_weighed_finish(struct pc_weighed *weighed)
{
    pc_picture_finish(&weighed->closing.residual);
}
