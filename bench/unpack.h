// SPDX-License-Identifier: Apache-2.0
// LibRaw alone: what the answers are measured against.
#ifndef BENCH_UNPACK_H
#define BENCH_UNPACK_H

#include <stdbool.h>

#ifdef __cplusplus
extern "C" {
#endif

// Opens and unpacks every file, each thread taking the next one with a decoder of its own. False when one
// fails.
bool bench_unpack(const char *const *paths, int count, int threads);

#ifdef __cplusplus
}
#endif

#endif
