// SPDX-License-Identifier: Apache-2.0
#include "front/job/diary.h"

#include <dirent.h>
#include <errno.h>
#include <unistd.h>

#include "front/job/job_priv.h"

enum { NAME_MOST = 80, TRIES = 1000 };

bool pc_diary_is_name(const char *name)
{
    size_t n = strlen(name);
    if (n == 0 || n > NAME_MOST)
        return false;
    for (size_t i = 0; i < n; i++) {
        char c = name[i];
        if (!((c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') || c == '-' ||
              c == '_'))
            return false;
    }
    return true;
}

static const char *member(struct pc_arena *arena, const struct pc_json *body, const char *name)
{
    const char *text = body == NULL ? NULL : pc_json_text(pc_json_get(body, name));
    return text == NULL ? NULL : pc_arena_strdup(arena, text);
}

static enum pc_status told_body(void *user, const struct pc_db_row *row, struct pc_err *err)
{
    const char *text = pc_db_text(row, 0);
    return pc_json_parse(text, strlen(text), "job.db", user, err);
}

static enum pc_status read_line(struct pc_arena *arena, struct pc_db *db, struct pc_diary_line *line,
                                struct pc_err *err)
{
    struct pc_json *body = NULL;
    PC_TRY(pc_db_run(db, "SELECT body FROM now WHERE what = 'job' AND subject = ''", NULL, 0, told_body,
                     &body, err));
    line->title = member(arena, body, "title");
    line->client = member(arena, body, "client");
    line->date = member(arena, body, "date");
    line->place = member(arena, body, "place");
    pc_json_destroy(body);
    PC_TRY(pc_db_number(db, "SELECT count(*) FROM frame", NULL, 0, 0, &line->frames, err));
    PC_TRY(pc_db_number(db, "SELECT count(*) FROM now WHERE what = 'plate'", NULL, 0, 0, &line->plates, err));
    return pc_db_number(db, "SELECT at_ms FROM change ORDER BY rev DESC LIMIT 1", NULL, 0, 0, &line->last_ms,
                        err);
}

// Only looked at, unless it is of an older version and has to be brought up to date first.
static enum pc_status look_into(struct pc_arena *arena, const char *path, struct pc_diary_line *line,
                                struct pc_err *err)
{
    const char *record = pc_arena_printf(arena, "%s/job.db", path);
    struct pc_db *db = NULL;
    bool old = false;
    PC_TRY(pc_db_open_to_read(record, &db, err));
    enum pc_status status = pc_job_schema_check(db, record, &old, err);
    if (status == PC_OK && !old)
        status = read_line(arena, db, line, err);
    pc_db_close(db);
    if (status != PC_OK || !old)
        return status;
    struct pc_job *job = NULL;
    PC_TRY(pc_job_open(path, &job, err));
    status = read_line(arena, job->db, line, err);
    pc_job_close(job);
    return status;
}

static void look(struct pc_arena *arena, const char *path, struct pc_diary_line *line)
{
    struct pc_err err = {0};
    enum pc_status status = look_into(arena, path, line, &err);
    if (status != PC_OK)
        line->trouble = pc_arena_strdup(arena, err.text);
}

static int by_date(const void *a, const void *b)
{
    const struct pc_diary_line *x = a, *y = b;
    if ((x->date == NULL) != (y->date == NULL))
        return x->date == NULL ? 1 : -1;
    int order = x->date == NULL ? 0 : strcmp(x->date, y->date);
    return order != 0 ? order : strcmp(x->folder, y->folder);
}

enum pc_status pc_diary_read(struct pc_arena *arena, const char *folder, struct pc_diary_line **lines,
                             size_t *count, struct pc_err *err)
{
    DIR *dir = opendir(folder);
    if (dir == NULL)
        return pc_fail(err, errno == ENOENT ? PC_NOT_FOUND : PC_IO, folder, "The folder cannot be read (%s).",
                       strerror(errno));
    size_t room = 64, n = 0;
    struct pc_diary_line *all = PC_NEW_N(arena, room, struct pc_diary_line);
    const struct dirent *entry = NULL;
    while ((entry = readdir(dir)) != NULL) {
        if (!pc_diary_is_name(entry->d_name))
            continue;
        const char *path = pc_arena_printf(arena, "%s/%s", folder, entry->d_name);
        if (access(pc_arena_printf(arena, "%s/job.db", path), F_OK) != 0)
            continue;
        if (n == room) {
            struct pc_diary_line *more = PC_NEW_N(arena, 2 * room, struct pc_diary_line);
            memcpy(more, all, n * sizeof *more);
            all = more;
            room *= 2;
        }
        all[n].folder = pc_arena_strdup(arena, entry->d_name);
        look(arena, path, &all[n]);
        n++;
    }
    closedir(dir);
    qsort(all, n, sizeof *all, by_date);
    *lines = all;
    *count = n;
    return PC_OK;
}

struct pc_json *pc_diary_json(const struct pc_diary_line *lines, size_t count)
{
    struct pc_json *all = pc_json_array();
    for (size_t i = 0; i < count; i++) {
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "job", lines[i].folder);
        pc_json_put_text(o, "title", lines[i].title);
        pc_json_put_text(o, "client", lines[i].client);
        pc_json_put_text(o, "date", lines[i].date);
        pc_json_put_text(o, "place", lines[i].place);
        pc_json_put_int(o, "frames", lines[i].frames);
        pc_json_put_int(o, "plates", lines[i].plates);
        pc_json_put_int(o, "last_ms", lines[i].last_ms);
        pc_json_put_text(o, "trouble", lines[i].trouble);
        pc_json_add(all, o);
    }
    return all;
}

enum pc_status pc_diary_name(struct pc_arena *arena, const char *folder, const char *title, char **name,
                             struct pc_err *err)
{
    char stem[NAME_MOST - 8] = "";
    size_t n = 0;
    for (const char *c = title; *c != '\0' && n + 1 < sizeof stem; c++) {
        char lower = *c >= 'A' && *c <= 'Z' ? (char)(*c - 'A' + 'a') : *c;
        if ((lower >= 'a' && lower <= 'z') || (lower >= '0' && lower <= '9'))
            stem[n++] = lower;
        else if (n > 0 && stem[n - 1] != '-')
            stem[n++] = '-';
    }
    while (n > 0 && stem[n - 1] == '-')
        n--;
    stem[n] = '\0';
    for (int i = 1; i <= TRIES; i++) {
        *name = i == 1 ? pc_arena_printf(arena, "%s", n > 0 ? stem : "job")
                       : pc_arena_printf(arena, "%s-%d", n > 0 ? stem : "job", i);
        if (access(pc_arena_printf(arena, "%s/%s", folder, *name), F_OK) != 0)
            return PC_OK;
    }
    return pc_fail(err, PC_MISUSE, title, "There are %d jobs of this name already.", TRIES);
}
