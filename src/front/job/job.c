// SPDX-License-Identifier: Apache-2.0
// The folder of a job: made, opened, closed.
#include "front/job/job.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include "base/digest.h"
#include "base/file.h"
#include "front/job/job_priv.h"

static const char *const folders[] = {"frames", "made", "readable", "inbox"};

static enum pc_status begin(const char *folder, bool make, struct pc_job **out, struct pc_err *err)
{
    *out = NULL;
    struct pc_job *job = calloc(1, sizeof *job);
    PC_ASSERT(job != NULL);
    char path[sizeof job->folder + 16];
    enum pc_status status = PC_OK;
    if (strlen(folder) >= sizeof job->folder)
        status = pc_fail(err, PC_BAD_INPUT, NULL, "The path of the job is longer than %zu bytes.",
                         sizeof job->folder - 1);
    snprintf(job->folder, sizeof job->folder, "%s", folder);
    for (size_t n = strlen(job->folder); n > 1 && job->folder[n - 1] == '/'; n--)
        job->folder[n - 1] = '\0';
    snprintf(path, sizeof path, "%s/job.db", job->folder);
    if (status == PC_OK)
        status = pc_db_open(path, make, &job->db, err);
    if (status == PC_OK)
        status = pc_job_schema(job->db, path, make, err);
    for (size_t i = 0; status == PC_OK && i < PC_COUNT(folders); i++) {
        snprintf(path, sizeof path, "%s/%s", job->folder, folders[i]);
        status = pc_file_make_folder(path, err);
    }
    if (status == PC_OK && make)
        status = pc_file_sync_folder(path, err);
    if (status != PC_OK) {
        pc_db_close(job->db);
        free(job);
        return status;
    }
    PC_ASSERT(pthread_mutex_init(&job->lock, NULL) == 0);
    *out = job;
    return PC_OK;
}

// A folder that was to become a job and did not: its own files, and nothing else.
static void remove_begun(const char *folder)
{
    static const char *const files[] = {"job.db", "job.db-wal", "job.db-shm"};
    char path[sizeof((struct pc_job *)NULL)->folder + 16];
    for (size_t i = 0; i < PC_COUNT(files); i++) {
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    for (size_t i = 0; i < PC_COUNT(folders); i++) {
        snprintf(path, sizeof path, "%s/%s", folder, folders[i]);
        rmdir(path);
    }
    rmdir(folder);
}

static enum pc_status fail_folder(struct pc_err *err, const char *folder, int code)
{
    if (code == EEXIST)
        return pc_fail(err, PC_MISUSE, folder, "It is there already: give the job another name.");
    if (code == ENOSPC || code == EDQUOT)
        return pc_fail(err, PC_IO, folder, "The disk is full: free some space and make the job again.");
    return pc_fail(err, PC_IO, folder, "The folder cannot be made (%s).", strerror(code));
}

// Made under another name, so that a job is there whole or not at all.
static enum pc_status make_whole(const char *folder, struct pc_err *err)
{
    struct stat info;
    unsigned char random[4];
    char part[sizeof((struct pc_job *)NULL)->folder];
    if (lstat(folder, &info) == 0)
        return fail_folder(err, folder, EEXIST);
    pc_random_bytes(random, sizeof random);
    if ((size_t)snprintf(part, sizeof part, "%s.part-%02x%02x%02x%02x", folder, random[0], random[1],
                         random[2], random[3]) >= sizeof part)
        return pc_fail(err, PC_BAD_INPUT, NULL, "The path of the job is longer than %zu bytes.",
                       sizeof part - 1);
    if (mkdir(part, 0755) != 0)
        return fail_folder(err, folder, errno);
    struct pc_job *job = NULL;
    enum pc_status status = begin(part, true, &job, err);
    pc_job_close(job);
    int code = status == PC_OK ? pc_file_move_new(part, folder) : 0;
    if (code != 0)
        status = fail_folder(err, folder, code);
    if (status != PC_OK) {
        remove_begun(part);
        return status;
    }
    return pc_file_sync_folder(folder, err);
}

enum pc_status pc_job_create(const char *folder, struct pc_job **job, struct pc_err *err)
{
    char path[sizeof(*job)->folder];
    *job = NULL;
    snprintf(path, sizeof path, "%s", folder);
    for (size_t n = strlen(path); n > 1 && path[n - 1] == '/'; n--)
        path[n - 1] = '\0';
    PC_TRY(make_whole(path, err));
    return begin(path, false, job, err);
}

// What a run that ended in the middle of an arrival left. A day is more than an arrival takes.
static void sweep_inbox(const struct pc_job *job)
{
    enum { DAY_S = 86400 };
    char inbox[sizeof job->folder + 16];
    snprintf(inbox, sizeof inbox, "%s/inbox", job->folder);
    DIR *dir = opendir(inbox);
    const struct dirent *entry = NULL;
    while (dir != NULL && (entry = readdir(dir)) != NULL) {
        struct stat info;
        if (strncmp(entry->d_name, PC_JOB_ARRIVING, strlen(PC_JOB_ARRIVING)) == 0 &&
            fstatat(dirfd(dir), entry->d_name, &info, AT_SYMLINK_NOFOLLOW) == 0 && S_ISREG(info.st_mode) &&
            time(NULL) - info.st_mtime > DAY_S)
            unlinkat(dirfd(dir), entry->d_name, 0);
    }
    if (dir != NULL)
        closedir(dir);
}

enum pc_status pc_job_open(const char *folder, struct pc_job **job, struct pc_err *err)
{
    PC_TRY(begin(folder, false, job, err));
    sweep_inbox(*job);
    return PC_OK;
}

void pc_job_close(struct pc_job *job)
{
    if (job == NULL)
        return;
    pc_db_close(job->db);
    pthread_mutex_destroy(&job->lock);
    free(job);
}

const char *pc_job_folder(const struct pc_job *job)
{
    return job->folder;
}
