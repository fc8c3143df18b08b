// SPDX-License-Identifier: Apache-2.0
#include "front/job/readable.h"

#include "base/clock.h"
#include "base/file.h"
#include "front/job/job_priv.h"

static const char about[] =
    "This folder tells the whole job without the program that wrote it.\n"
    "\n"
    "job.json      what holds now: the job, its shots, outlets, frames, plates, dials\n"
    "changes.json  every change that was ever made, in order: who, when, what, of what\n"
    "*.csv         one table for each kind of thing, a line for each; times are UTC (RFC 3339)\n"
    "\n"
    "The frames themselves lie in ../frames, as the cameras wrote them; sha256 in frame.csv proves it.\n"
    "Everything here is written anew from job.db; edit nothing here.\n";

static enum pc_status put(struct pc_file_writer *writer, const char *text, struct pc_err *err)
{
    return pc_file_put(writer, text, strlen(text), err);
}

static enum pc_status put_cell(struct pc_file_writer *writer, const char *text, bool last, struct pc_err *err)
{
    // A spreadsheet runs what begins so; a number may.
    bool formula = strchr("=+-@\t\r", text[0]) != NULL && text[0] != '\0';
    PC_TRY(put(writer, formula ? "\"'" : "\"", err));
    for (const char *c = text; *c != '\0'; c++)
        PC_TRY(pc_file_put(writer, *c == '"' ? "\"\"" : c, *c == '"' ? 2 : 1, err));
    return put(writer, last ? "\"\r\n" : "\",", err);
}

static enum pc_status put_value(struct pc_file_writer *writer, struct pc_arena *arena,
                                const struct pc_json *value, struct pc_err *err)
{
    if (value == NULL)
        return put(writer, ",", err);
    if (pc_json_text(value) != NULL)
        return put_cell(writer, pc_json_text(value), false, err);
    const char *text = pc_json_print(arena, value, true);
    if (pc_json_kind(value) == PC_JSON_NUMBER || pc_json_kind(value) == PC_JSON_BOOL) {
        PC_TRY(put(writer, text, err));
        return put(writer, ",", err);
    }
    return put_cell(writer, text, false, err);
}

static enum pc_status put_row(struct pc_file_writer *writer, struct pc_arena *arena,
                              const struct pc_kind *kind, const char *subject, const struct pc_json *body,
                              struct pc_err *err)
{
    PC_TRY(put_cell(writer, subject, false, err));
    for (const struct pc_member *member = kind->members; member->name != NULL; member++)
        PC_TRY(put_value(writer, arena, pc_json_get(body, member->name), err));
    double rev = 0.0, at_ms = 0.0;
    (void)pc_json_number(pc_json_get(body, "rev"), &rev);
    (void)pc_json_number(pc_json_get(body, "at_ms"), &at_ms);
    char line[64], at[32];
    pc_clock_rfc3339(floor(at_ms / 1000.0), 0.0, at);
    snprintf(line, sizeof line, "%.0f,%s\r\n", rev, at);
    return put(writer, line, err);
}

static enum pc_status put_head(struct pc_file_writer *writer, const struct pc_kind *kind, struct pc_err *err)
{
    PC_TRY(put(writer, kind->what, err));
    for (const struct pc_member *member = kind->members; member->name != NULL; member++) {
        PC_TRY(put(writer, ",", err));
        PC_TRY(put(writer, member->name, err));
    }
    return put(writer, ",rev,at\r\n", err);
}

static enum pc_status put_table(struct pc_file_writer *writer, struct pc_arena *arena,
                                const struct pc_kind *kind, const struct pc_json *now, struct pc_err *err)
{
    PC_TRY(put_head(writer, kind, err));
    void *at = NULL;
    const char *subject = NULL;
    const struct pc_json *body = NULL;
    while (pc_json_next(now, &at, &subject, &body))
        PC_TRY(put_row(writer, arena, kind, subject, body, err));
    return PC_OK;
}

static enum pc_status put_taps(struct pc_file_writer *writer, const struct pc_json *taps, struct pc_err *err)
{
    PC_TRY(put(writer, "plate,state,made,who,rev\r\n", err));
    for (size_t i = 0; i < pc_json_count(taps); i++) {
        const struct pc_json *tap = pc_json_at(taps, i);
        double at_ms = 0.0, rev = 0.0;
        (void)pc_json_number(pc_json_get(tap, "at_ms"), &at_ms);
        (void)pc_json_number(pc_json_get(tap, "rev"), &rev);
        char at[32], line[64];
        pc_clock_rfc3339(floor(at_ms / 1000.0), 0.0, at);
        PC_TRY(put_cell(writer, pc_json_text(pc_json_get(tap, "plate")), false, err));
        PC_TRY(put_cell(writer, pc_json_text(pc_json_get(tap, "state")), false, err));
        PC_TRY(put(writer, at, err));
        PC_TRY(put(writer, ",", err));
        PC_TRY(put_cell(writer, pc_json_text(pc_json_get(tap, "who")), false, err));
        snprintf(line, sizeof line, "%.0f\r\n", rev);
        PC_TRY(put(writer, line, err));
    }
    return PC_OK;
}

static enum pc_status write_table(struct pc_job *job, struct pc_arena *arena, const struct pc_kind *kind,
                                  struct pc_err *err)
{
    bool taps = strcmp(kind->what, "tap") == 0;
    if (kind->every && !taps) // undo: in changes.json
        return PC_OK;
    struct pc_json *now = NULL;
    PC_TRY(taps ? pc_job_taps(job, &now, err) : pc_job_now(job, kind->what, &now, err));
    struct pc_file_writer writer;
    enum pc_status status =
        pc_file_create(&writer, pc_arena_printf(arena, "%s/readable/%s.csv", job->folder, kind->what), err);
    if (status == PC_OK)
        status = taps ? put_taps(&writer, now, err) : put_table(&writer, arena, kind, now, err);
    if (status == PC_OK)
        status = pc_file_commit(&writer, err);
    else
        pc_file_abandon(&writer);
    pc_json_destroy(now);
    return status;
}

// A page of the log at a time, so that a long job needs little memory.
static enum pc_status put_changes(struct pc_job *job, struct pc_file_writer *writer, struct pc_err *err)
{
    enum { PAGE = 500 };
    int64_t rev = 0;
    size_t count = PAGE;
    PC_TRY(put(writer, "[", err));
    while (count == PAGE) {
        struct pc_arena *arena = pc_arena_create();
        PC_ASSERT(arena != NULL);
        struct pc_job_change *changes = NULL;
        enum pc_status status = pc_job_since(job, arena, rev, PAGE, &changes, &count, err);
        for (size_t i = 0; status == PC_OK && i < count; i++) {
            struct pc_json *json = pc_job_change_json(&changes[i]);
            status = put(writer, changes[i].rev == 1 ? "\n" : ",\n", err);
            if (status == PC_OK)
                status = put(writer, pc_json_print(arena, json, true), err);
            pc_json_destroy(json);
            rev = changes[i].rev;
        }
        pc_arena_destroy(arena);
        PC_TRY(status);
    }
    return put(writer, "\n]\n", err);
}

static enum pc_status write_changes(struct pc_job *job, const char *path, struct pc_err *err)
{
    struct pc_file_writer writer;
    PC_TRY(pc_file_create(&writer, path, err));
    enum pc_status status = put_changes(job, &writer, err);
    if (status == PC_OK)
        return pc_file_commit(&writer, err);
    pc_file_abandon(&writer);
    return status;
}

static enum pc_status write_all(struct pc_job *job, struct pc_arena *arena, struct pc_err *err)
{
    for (size_t i = 0; i < pc_kinds_count; i++)
        PC_TRY(write_table(job, arena, &pc_kinds[i], err));
    PC_TRY(write_changes(job, pc_arena_printf(arena, "%s/readable/changes.json", job->folder), err));
    struct pc_json *state = NULL;
    PC_TRY(pc_job_state_json(job, PC_JOB_PHOTOGRAPHER, &state, err));
    pc_json_remove(state, "now_ms"); // the same job gives the same bytes
    const char *text = pc_arena_printf(arena, "%s\n", pc_json_print(arena, state, false));
    pc_json_destroy(state);
    PC_TRY(
        pc_file_write(pc_arena_printf(arena, "%s/readable/job.json", job->folder), text, strlen(text), err));
    return pc_file_write(pc_arena_printf(arena, "%s/readable/about.txt", job->folder), about, strlen(about),
                         err);
}

enum pc_status pc_job_write_readable(struct pc_job *job, struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    enum pc_status status = write_all(job, arena, err);
    pc_arena_destroy(arena);
    return status;
}
