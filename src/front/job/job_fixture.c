// SPDX-License-Identifier: Apache-2.0
#include "front/job/job_fixture.h"

#include <ftw.h>
#include <unistd.h>

#include "base/file.h"

int job_begin(void **state)
{
    struct fixture *f = calloc(1, sizeof *f);
    snprintf(f->parent, sizeof f->parent, "/tmp/pc-job-XXXXXX");
    assert_non_null(mkdtemp(f->parent));
    snprintf(f->folder, sizeof f->folder, "%s/larder", f->parent);
    assert_int_equal(pc_job_create(f->folder, &f->job, NULL), PC_OK);
    f->arena = pc_arena_create();
    *state = f;
    return 0;
}

static int remove_one(const char *path, const struct stat *info, int kind, struct FTW *at)
{
    (void)info;
    (void)kind;
    (void)at;
    return remove(path);
}

int job_end(void **state)
{
    struct fixture *f = *state;
    pc_job_close(f->job);
    pc_arena_destroy(f->arena);
    assert_int_equal(nftw(f->parent, remove_one, 8, FTW_DEPTH | FTW_PHYS), 0);
    free(f);
    return 0;
}

void job_reopen(struct fixture *f)
{
    pc_job_close(f->job);
    assert_int_equal(pc_job_open(f->folder, &f->job, NULL), PC_OK);
}

enum pc_status job_say_as(struct fixture *f, enum pc_job_role role, const char *who, const char *what,
                          const char *subject, const char *body, const char *key, int64_t *rev,
                          struct pc_err *err)
{
    struct pc_json *json = NULL;
    assert_int_equal(pc_json_parse(body, strlen(body), "body", &json, NULL), PC_OK);
    enum pc_status status = pc_job_append(
        f->job,
        &(struct pc_job_wish){
            .who = who, .role = role, .what = what, .subject = subject, .body = json, .key = key},
        rev, err);
    pc_json_destroy(json);
    return status;
}

int64_t job_say(struct fixture *f, const char *what, const char *subject, const char *body)
{
    int64_t rev = 0;
    struct pc_err err = {0};
    if (job_say_as(f, PC_JOB_PHOTOGRAPHER, "laptop", what, subject, body, NULL, &rev, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    return rev;
}

const char *job_now(struct fixture *f, const char *what, const char *subject, const char *member)
{
    struct pc_json *json = NULL;
    assert_int_equal(pc_job_now_of(f->job, what, subject, &json, NULL), PC_OK);
    if (json == NULL)
        return NULL;
    const struct pc_json *value = pc_json_get(json, member);
    char *text = value == NULL ? NULL : pc_json_print(f->arena, value, true);
    pc_json_destroy(json);
    return text;
}

void job_write_frame(struct fixture *f, const char *name, const char *bytes, char path[160])
{
    snprintf(path, 160, "%s/%s", f->parent, name);
    assert_int_equal(pc_file_write(path, bytes, strlen(bytes), NULL), PC_OK);
}

void job_take(struct fixture *f, const char *path, const char *name, bool wanted_fresh, char id[24])
{
    bool fresh = false;
    struct pc_err err = {0};
    if (pc_job_take_in(f->job, &(struct pc_job_arrival){path, name, "upload", "phone"}, id, &fresh, &err) !=
        PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    assert_int_equal(fresh, wanted_fresh);
}
