// SPDX-License-Identifier: Apache-2.0
// The verb `jobs`: the diary of the jobs that lie in a folder.
#include "base/text.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"
#include "front/job/diary.h"

static const struct pc_option answer[] = {
    {.name = "json", .kind = PC_ARG_SWITCH, .help = "the answer for programs, see docs/json.md"},
};
static const struct pc_option_group answer_group = {"The answer", answer, PC_COUNT(answer)};
static const struct pc_option_group *const groups[] = {&answer_group, NULL};

static const char *shown(struct pc_arena *arena, const char *text, const char *otherwise)
{
    if (text == NULL)
        return otherwise;
    size_t size = strlen(text) + 1;
    char *out = PC_NEW_N(arena, size, char);
    pc_text_printable(text, out, size);
    return out;
}

static void print(struct pc_cli *cli, const struct pc_diary_line *lines, size_t count)
{
    if (count == 0) {
        pc_print_sentence(cli->out, "There is no job in this folder yet.");
        return;
    }
    struct pc_table *table = pc_table_create(cli->arena, "date|folder|title|client|>frames|>plates");
    for (size_t i = 0; i < count; i++) {
        pc_table_cell(table, "%s", shown(cli->arena, lines[i].date, "no date"));
        pc_table_cell(table, "%s", lines[i].folder);
        pc_table_cell(table, "%s", shown(cli->arena, lines[i].title, ""));
        pc_table_cell(table, "%s", shown(cli->arena, lines[i].client, ""));
        pc_table_cell(table, "%lld", (long long)lines[i].frames);
        pc_table_cell(table, "%lld", (long long)lines[i].plates);
    }
    pc_table_print(table, cli->out, 0);
    for (size_t i = 0; i < count; i++)
        if (lines[i].trouble != NULL)
            pc_print_sentence(cli->out, "%s: %s", lines[i].folder, lines[i].trouble);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_diary_line *lines = NULL;
    size_t count = 0;
    PC_TRY(pc_diary_read(cli->arena, pc_args_operand(cli->args, 0), &lines, &count, err));
    if (pc_args_has(cli->args, "json")) {
        struct pc_json *o = pc_json_object();
        pc_json_put(o, "jobs", pc_diary_json(lines, count));
        pc_cli_put_json(cli, o);
    } else {
        print(cli, lines, count);
    }
    return PC_OK;
}

const struct pc_verb pc_verb_jobs = {
    .name = "jobs",
    .question = "which jobs are there?",
    .about = "Lists the jobs that lie side by side in a folder, by their date, a line for each: what it is "
             "called, "
             "for whom, and how many frames and plates it holds. One that cannot be opened is named with the "
             "reason.",
    .hour = PC_HOUR_AFTER,
    .operands = "DIR",
    .least_operands = 1,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
