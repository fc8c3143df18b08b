// SPDX-License-Identifier: Apache-2.0
// For tests that read photographs: a reader and a folder for a group of tests, and small mosaics to write
// into it. What goes wrong fails the test that runs.
#ifndef PC_IMAGE_PHOTO_PHOTO_BENCH_H
#define PC_IMAGE_PHOTO_PHOTO_BENCH_H

#include "image/photo/write.h"

// Before and after a group of tests; the second removes the folder and fails when memory is still held.
int photo_bench_open(void **state);
int photo_bench_open_with(int threads, const struct pc_photo_limits *limits);
int photo_bench_close(void **state);

// A name in the folder; the next call overwrites it.
const char *path_of(const char *name);

void near(double got, double want, double within);

enum pc_status read_photo(const char *name, enum pc_photo_want want, bool linear, struct pc_photo *photo,
                          struct pc_err *err);
// The same, or the test fails.
struct pc_photo read_good(const char *name, enum pc_photo_want want, bool linear);

// As read_good for a file of fuzz/corpus, as a picture.
struct pc_photo read_kept(const char *name);

// The file cannot be read, with this status, and a sentence that has these words in it.
void refused(const char *name, enum pc_photo_want want, enum pc_status status, const char *words);

float px(const struct pc_photo *photo, int x, int y, int c);

enum { W = 48, H = 32 };

// W x H photosites, blacks 500 to 530 by place, white 16000, stored upright.
struct pc_dng plain_dng(const uint16_t *dn);
void write_dng(const char *name, const struct pc_dng *dng);

double srgb_light(double v);

// Exif 2.32, 0x0112: for each orientation, where in the upright picture the stored corner pixels (first of
// the first row, last of the first row) lie: 0 top left, 1 top right, 2 bottom right, 3 bottom left.
static const int first_corner[9] = {0, 0, 1, 2, 3, 0, 1, 2, 3}, last_corner[9] = {0, 1, 0, 3, 2, 3, 2, 1, 0};

#endif
