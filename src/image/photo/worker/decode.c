// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/decode.h"

#include "image/photo/photo.h"
#include "image/photo/worker/ifd.h"

_Static_assert((int)PC_JOB_FACTS == (int)PC_WANT_FACTS && (int)PC_JOB_MEASURE == (int)PC_WANT_MEASURE &&
                   (int)PC_JOB_PICTURE == (int)PC_WANT_PICTURE,
               "the job's wants are the reader's");
_Static_assert((int)PC_JOB_RAW == (int)PC_FORM_RAW && (int)PC_JOB_JPEG == (int)PC_FORM_JPEG &&
                   (int)PC_JOB_TIFF == (int)PC_FORM_TIFF && (int)PC_JOB_PNG == (int)PC_FORM_PNG &&
                   (int)PC_JOB_HEIF == (int)PC_FORM_HEIF,
               "the job's forms are the reader's");

static bool begins(const struct pc_job *job, size_t at, const char *magic, size_t n)
{
    return job->count >= at + n && memcmp(job->bytes + at, magic, n) == 0;
}

// ISO/IEC 23008-12: the brands of still pictures in an ISO base media file.
static bool is_heif(const struct pc_job *job)
{
    static const char brands[][5] = {"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1", "avif"};
    if (!begins(job, 4, "ftyp", 4))
        return false;
    size_t end = (size_t)job->bytes[2] << 8 | job->bytes[3];
    if (end > job->count)
        end = job->count;
    for (size_t at = 8; at + 4 <= end; at += at == 8 ? 8 : 4)
        for (size_t i = 0; i < PC_COUNT(brands); i++)
            if (memcmp(job->bytes + at, brands[i], 4) == 0)
                return true;
    return false;
}

// Raw files that are not TIFF in structure, or are in a disguised one.
static bool is_raw_by_magic(const struct pc_job *job)
{
    static const struct {
        size_t at;
        const char *magic;
        size_t n;
    } known[] = {
        {4, "ftypcrx ", 8},         // Canon CR3
        {0, "FUJIFILMCCD-RAW", 15}, // Fujifilm
        {6, "HEAPCCDR", 8},         // Canon CRW
        {8, "CR\x02", 3},           // Canon CR2
        {0, "IIRO", 4},             // Olympus
        {0, "IIRS", 4},             // Olympus
        {0, "MMOR", 4},             // Olympus
        {0, "IIU\0", 4},            // Panasonic
        {8, "IIII", 4},             // Phase One
        {8, "MMMM", 4},             // Phase One
        {0, "\0MRM", 4},            // Minolta
        {0, "FOVb", 4},             // Sigma
    };
    for (size_t i = 0; i < PC_COUNT(known); i++)
        if (begins(job, known[i].at, known[i].magic, known[i].n))
            return true;
    return false;
}

enum pc_status pc_job_check_size(const struct pc_job *job, int64_t width_px, int64_t height_px,
                                 struct pc_err *err)
{
    if (width_px < 1 || height_px < 1)
        return pc_fail(err, PC_BAD_INPUT, NULL, "Its header says it is %lld x %lld pixels: it is damaged.",
                       (long long)width_px, (long long)height_px);
    if (width_px > 65535 || height_px > 65535 || width_px * height_px > job->most_pixels)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "Its header says it is %lld x %lld pixels, which is more than the %.0f million pixels allowed "
            "for one file: it is damaged, or not a camera's picture.",
            (long long)width_px, (long long)height_px, (double)job->most_pixels / 1e6);
    return PC_OK;
}

void pc_decode_prepare(void)
{
    pc_heif_prepare();
}

static enum pc_status decode_by_kind(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    if (begins(job, 0, "\xff\xd8\xff", 3))
        return pc_decode_jpeg(job, reply, err);
    if (begins(job, 0, "\x89PNG\r\n\x1a\n", 8))
        return pc_decode_png(job, reply, err);
    if (is_heif(job))
        return pc_decode_heif(job, reply, err);
    if (is_raw_by_magic(job))
        return pc_decode_raw(job, reply, err);
    if (begins(job, 0, "II+\0", 4) || begins(job, 0, "MM\0+", 4))
        return pc_decode_tiff(job, reply, err);
    struct pc_ifd_look look;
    pc_ifd_look(job->bytes, job->count, &look);
    if (look.is_tiff)
        return look.is_dng || look.holds_raw ? pc_decode_raw(job, reply, err)
                                             : pc_decode_tiff(job, reply, err);
    return pc_fail(
        err, PC_BAD_INPUT, NULL,
        "It is not a photograph that can be read: raw, JPEG, TIFF, PNG and HEIF files can. Leave it out.");
}

enum pc_status pc_decode(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    pc_facts_clear(&reply->facts);
    reply->black_dn = NAN;
    reply->white_dn = NAN;
    enum pc_status status = decode_by_kind(job, reply, err);
    pc_facts_clean(&reply->facts);
    return status;
}
