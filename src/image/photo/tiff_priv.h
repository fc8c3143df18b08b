// SPDX-License-Identifier: Apache-2.0
// Plain little-endian TIFF 6.0 being written: pixel bytes first, the directories that point at them last.
// Shared by the TIFF and the DNG writer. Not for use by two threads at once.
#ifndef PC_IMAGE_PHOTO_TIFF_PRIV_H
#define PC_IMAGE_PHOTO_TIFF_PRIV_H

#include "base/file.h"

enum pc_tiff_type {
    PC_TIFF_BYTE = 1,
    PC_TIFF_ASCII = 2,
    PC_TIFF_SHORT = 3,
    PC_TIFF_LONG = 4,
    PC_TIFF_RATIONAL = 5,
    PC_TIFF_UNDEFINED = 7,
    PC_TIFF_SRATIONAL = 10,
};

struct pc_tiff_entry {
    uint16_t tag;
    uint16_t type;
    uint32_t count;
    const void *far;  // borrowed until the directory is written; NULL: the value is in the directory's heap
    uint32_t near_at; // where in the heap
};

// One directory. Zeroed is empty. Tags may be put in any order, each once.
struct pc_tiff_ifd {
    int count;
    uint32_t used_bytes;
    struct pc_tiff_entry entries[48];
    uint8_t heap[2048];
};

void pc_tiff_put(struct pc_tiff_ifd *ifd, uint16_t tag, enum pc_tiff_type type, uint32_t count,
                 const void *values); // copied
void pc_tiff_put_far(struct pc_tiff_ifd *ifd, uint16_t tag, enum pc_tiff_type type, uint32_t count,
                     const void *values); // borrowed until the directory is written
void pc_tiff_put_short(struct pc_tiff_ifd *ifd, uint16_t tag, uint16_t value);
void pc_tiff_put_long(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t value);
void pc_tiff_put_text(struct pc_tiff_ifd *ifd, uint16_t tag, const char *text); // copied; "" puts nothing
// Non-negative values, each as the simplest fraction within 1e-10 of it (1/60 stays 1/60).
void pc_tiff_put_rationals(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t count, const double *values);
// Signed values in millionths, limited to what 32 bits hold.
void pc_tiff_put_millionths(struct pc_tiff_ifd *ifd, uint16_t tag, uint32_t count, const double *values);

// The simplest fraction p/q with p, q < 2^32 within 1e-10 relative of value >= 0, or else the closest
// convergent.
void pc_tiff_fraction(double value, uint32_t pq[2]);

struct pc_tiff_out {
    struct pc_file_writer file;
    uint64_t at_bytes; // length so far
};

// Each of these leaves nothing behind when it fails.
enum pc_status pc_tiff_begin(struct pc_tiff_out *out, const char *path, struct pc_err *err) PC_MUST_CHECK;
enum pc_status pc_tiff_bytes(struct pc_tiff_out *out, const void *bytes, size_t count,
                             struct pc_err *err) PC_MUST_CHECK;
// Writes a directory that another one points at; gives its offset.
enum pc_status pc_tiff_directory(struct pc_tiff_out *out, const struct pc_tiff_ifd *ifd, uint32_t *at_bytes,
                                 struct pc_err *err) PC_MUST_CHECK;
// Writes the first directory and makes the file appear under its name.
enum pc_status pc_tiff_end(struct pc_tiff_out *out, const struct pc_tiff_ifd *ifd,
                           struct pc_err *err) PC_MUST_CHECK;

#endif
