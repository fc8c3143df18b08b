// SPDX-License-Identifier: Apache-2.0
#include "light/parts/selfcheck_priv.h"

const double pc_selfcheck_needed_ev = 0.05, pc_selfcheck_needed_pct = 3.0;

void pc_selfcheck_judge(struct pc_looks *kit, enum pc_selfcheck_test test, enum pc_selfcheck_verdict verdict,
                        const char *fmt, ...)
{
    struct pc_selfcheck_judged *judged = &kit->check->judged[test];
    va_list args;
    judged->verdict = verdict;
    va_start(args, fmt);
    vsnprintf(judged->advice, sizeof judged->advice, fmt, args);
    va_end(args);
}

static enum pc_status run(struct pc_looks *kit, struct pc_err *err)
{
    PC_TRY(pc_looks_read(kit, err));
    pc_selfcheck_shutters(kit);
    pc_selfcheck_changes(kit);
    pc_selfcheck_dials(kit);
    PC_TRY(pc_selfcheck_sums(kit, err));
    PC_TRY(pc_selfcheck_noise(kit, err));
    for (int i = 0; i < PC_SELFCHECK_TESTS; i++)
        if (kit->check->judged[i].verdict != PC_SELFCHECK_NOT_TESTED)
            return PC_OK;
    return pc_fail(err, PC_BAD_INPUT, NULL,
                   "Nothing can be told from %s: photograph one light at two shutters, at several dials, or "
                   "twice, and the "
                   "window first and last.",
                   kit->series->frame_count == 1 ? "one frame" : "these frames");
}

enum pc_status pc_selfcheck_run(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_series *series, const struct pc_selfcheck_together *together,
                                int together_count, struct pc_selfcheck *check, struct pc_notes *notes,
                                struct pc_err *err)
{
    PC_ASSERT(series->frame_count > 0 && together_count <= PC_SELFCHECK_TOGETHER_MAX);
    memset(check, 0, sizeof *check);
    check->series = *series;
    struct pc_looks *kit = calloc(1, sizeof *kit);
    PC_ASSERT(kit != NULL);
    *kit = (struct pc_looks){.ctx = ctx,
                             .reader = reader,
                             .check = check,
                             .series = &check->series,
                             .together = together,
                             .together_count = together_count,
                             .notes = notes};
    enum pc_status status = run(kit, err);
    pc_looks_finish(kit);
    free(kit);
    return status;
}
