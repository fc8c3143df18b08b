// SPDX-License-Identifier: Apache-2.0
// How things fail: a status that must be looked at, and a sentence fit to show the user.
//
// The one who finds the error writes it; callers pass it on. The first error stays.
// An err may be NULL where the caller does not want the words. No function here allocates.
#ifndef PC_BASE_ERR_H
#define PC_BASE_ERR_H

// What the sources use of the C library, before banned.h shuts the door on the rest of it.
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "base/banned.h"

#ifdef __cplusplus
extern "C" {
#endif

enum pc_status {
    PC_OK = 0,
    PC_BAD_INPUT,   // a file, a number or a picture is not what it has to be
    PC_NOT_FOUND,   // a file, a frame, a light or a thing in a picture is not there
    PC_UNSUPPORTED, // understood, and not something this build can do
    PC_IO,          // the system refused a read or a write
    PC_NO_MEMORY,   // over the memory budget
    PC_TIMEOUT,     // over the time allowed for one file
    PC_CRASHED,     // a decoder died on a file
    PC_CANCELLED,   // the user said stop
    PC_MISUSE,      // the command line or the call is wrong
};

struct pc_err {
    enum pc_status status;
    char place[192]; // file, option or key, e.g. "plate 3.dng" or "lamps[2].power_lm"
    char text[640];  // what is wrong, and what to do next; a sentence without a newline
};

#define PC_MUST_CHECK   __attribute__((warn_unused_result))
#define PC_PRINTF(f, a) __attribute__((format(printf, f, a)))

// Writes the error into err unless one is there already, and gives back status. place may be NULL.
enum pc_status pc_fail(struct pc_err *err, enum pc_status status, const char *place, const char *fmt, ...)
    PC_PRINTF(4, 5);
// The same for a line of a text file, counted from 1: the place is "FILE:LINE", the status PC_BAD_INPUT.
enum pc_status pc_fail_line(struct pc_err *err, const char *file, int line, const char *fmt, ...)
    PC_PRINTF(4, 5);

#ifdef __clang_analyzer__
// The analyser does not look into err.c, and would think that a failure may come back as PC_OK.
#define pc_fail(err, status, ...)    (pc_fail((err), (status), __VA_ARGS__), (status))
#define pc_fail_line(err, file, ...) (pc_fail_line((err), (file), __VA_ARGS__), PC_BAD_INPUT)
#endif

// Our own bugs only, never input: prints file, line and condition, then aborts. Always compiled in.
#define PC_ASSERT(cond) ((cond) ? (void)0 : pc_assert_failed(#cond, __FILE__, __LINE__))
__attribute__((noreturn)) void pc_assert_failed(const char *cond, const char *file, int line);

#define PC_TRY(expr)                                                                                         \
    do {                                                                                                     \
        enum pc_status pc_try_status_ = (expr);                                                              \
        if (pc_try_status_ != PC_OK)                                                                         \
            return pc_try_status_;                                                                           \
    } while (0)

#define PC_COUNT(array) (sizeof(array) / sizeof((array)[0]))

#ifdef __cplusplus
}
#endif

#endif
