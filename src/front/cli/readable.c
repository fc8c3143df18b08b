// SPDX-License-Identifier: Apache-2.0
// The verb `readable`: the whole job as text.
#include "front/job/readable.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"

static const struct pc_option answer[] = {
    {.name = "json", .kind = PC_ARG_SWITCH, .help = "the answer for programs, see docs/json.md"},
};
static const struct pc_option_group answer_group = {"The answer", answer, PC_COUNT(answer)};
static const struct pc_option_group *const groups[] = {&answer_group, NULL};

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    const char *folder = pc_args_operand(cli->args, 0);
    struct pc_job *job = NULL;
    PC_TRY(pc_job_open(folder, &job, err));
    int64_t changes = pc_job_rev(job);
    enum pc_status status = pc_job_write_readable(job, err);
    pc_job_close(job);
    PC_TRY(status);
    const char *written = pc_arena_printf(cli->arena, "%s/readable", folder);
    if (pc_args_has(cli->args, "json")) {
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "folder", written);
        pc_json_put_int(o, "changes", changes);
        pc_cli_put_json(cli, o);
    } else {
        pc_print_sentence(cli->out, "%s tells the whole job, %lld changes of it; about.txt there says how.",
                          written, (long long)changes);
    }
    return PC_OK;
}

const struct pc_verb pc_verb_readable = {
    .name = "readable",
    .question = "what is in this job, as plain text?",
    .about = "Writes a job as JSON and as tables (CSV) into its folder readable/: what holds now, and every "
             "change "
             "that was ever made. These can be read in ten years without this program.",
    .hour = PC_HOUR_AFTER,
    .operands = "JOB",
    .least_operands = 1,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
