// SPDX-License-Identifier: Apache-2.0
// make-job FOLDER [FRAME...]: makes the job there unless it is there, then writes changes and takes the
// frames in, and says each one on stdout as soon as the store has acknowledged it: "change REV" or "frame ID
// NAME". What a test kills, and what it then asks for.
#include <unistd.h>

#include "base/file.h"
#include "front/job/job.h"

static void said(const char *line)
{
    if (write(STDOUT_FILENO, line, strlen(line)) < 0)
        exit(3);
}

static enum pc_status change(struct pc_job *job, const char *what, const char *subject, const char *text,
                             struct pc_err *err)
{
    struct pc_json *body = NULL;
    PC_TRY(pc_json_parse(text, strlen(text), "body", &body, err));
    int64_t rev = 0;
    enum pc_status status = pc_job_append(
        job,
        &(struct pc_job_wish){
            .who = "laptop", .role = PC_JOB_PHOTOGRAPHER, .what = what, .subject = subject, .body = body},
        &rev, err);
    pc_json_destroy(body);
    PC_TRY(status);
    char line[64];
    snprintf(line, sizeof line, "change %lld\n", (long long)rev);
    said(line);
    return PC_OK;
}

static enum pc_status fill(struct pc_job *job, int frames, char *const *frame, struct pc_err *err)
{
    PC_TRY(change(
        job, "job", NULL,
        "{\"title\": \"Harbour kitchen\", \"client\": \"Tidehouse Orrevik\", \"date\": \"2027-03-18\"}",
        err));
    PC_TRY(change(job, "shot", "S1", "{\"dish\": \"=1+1, smoked \\\"beetroot\\\" broth\", \"angle_deg\": 30}",
                  err));
    PC_TRY(change(job, "plate", "S1 first", "{\"shot\": \"S1\"}", err));
    PC_TRY(change(job, "tap", "S1 first", "{\"state\": \"down\", \"ago_ms\": 2000}", err));
    for (int i = 0; i < frames; i++) {
        char id[24], line[256];
        bool fresh = false;
        PC_TRY(pc_job_take_in(
            job,
            &(struct pc_job_arrival){
                .path = frame[i], .name = pc_file_name(frame[i]), .from = "folder", .device = "laptop"},
            id, &fresh, err));
        snprintf(line, sizeof line, "frame %s %s\n", id, pc_file_name(frame[i]));
        said(line);
        PC_TRY(change(job, "role", id, "{\"role\": \"take\", \"shot\": \"S1\"}", err));
    }
    return PC_OK;
}

int main(int argc, char **argv)
{
    if (argc < 2 || argv[1][0] == '-') {
        fprintf(stderr, "make-job FOLDER [FRAME...]\n");
        return 2;
    }
    struct pc_err err = {0};
    struct pc_job *job = NULL;
    char record[4096];
    snprintf(record, sizeof record, "%s/job.db", argv[1]);
    enum pc_status status =
        access(record, F_OK) == 0 ? pc_job_open(argv[1], &job, &err) : pc_job_create(argv[1], &job, &err);
    if (status == PC_OK)
        status = fill(job, argc - 2, argv + 2, &err);
    pc_job_close(job);
    if (status != PC_OK)
        fprintf(stderr, "make-job: %s: %s\n", err.place, err.text);
    return status == PC_OK ? 0 : 1;
}
