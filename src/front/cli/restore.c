// SPDX-License-Identifier: Apache-2.0
// The verb `restore`: a job made again from its backup copy.
#include "front/job/backup.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"

static const struct pc_option options[] = {
    {.name = "to",
     .kind = PC_ARG_PATH,
     .metavar = "DIR",
     .help = "the folder to make; it must not be there",
     .required = true},
    {.name = "json", .kind = PC_ARG_SWITCH, .help = "the answer for programs, see docs/json.md"},
};
static const struct pc_option_group group = {"The answer", options, PC_COUNT(options)};
static const struct pc_option_group *const groups[] = {&group, NULL};

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    const char *from = pc_args_operand(cli->args, 0), *to = pc_args_text(cli->args, "to");
    struct pc_job_backed backed;
    PC_TRY(pc_job_restore(cli->ctx, from, to, &backed, err));
    if (pc_args_has(cli->args, "json")) {
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "folder", to);
        pc_json_put_int(o, "frames", backed.frames);
        pc_json_put_int(o, "bytes", backed.bytes);
        pc_cli_put_json(cli, o);
    } else {
        pc_print_sentence(
            cli->out, "The job is in %s again: %lld frames, each byte for byte what came from the camera.",
            to, (long long)backed.frames);
    }
    return PC_OK;
}

const struct pc_verb pc_verb_restore = {
    .name = "restore",
    .question = "is the copy whole, and may I have the job back?",
    .about =
        "Makes a job's folder again from its copy on another disk. The record is checked, and every frame is "
        "copied and read back against the SHA-256 it had when it came from the camera: a frame that differs "
        "stops it, by name, and nothing half-done is left. The copy is only read, and no job is ever "
        "restored "
        "over another.",
    .hour = PC_HOUR_AFTER,
    .operands = "COPY",
    .least_operands = 1,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
