// SPDX-License-Identifier: Apache-2.0
#include "base/err.h"

#undef pc_fail // err.h wraps it for the analyser

// Of a place too long the end, which tells files apart, from the first whole UTF-8 letter of it.
static void put_place(struct pc_err *err, const char *place)
{
    static const char more[] = "...";
    size_t n = strlen(place), room = sizeof err->place - 1;
    if (n > room) {
        place += n - (room - strlen(more));
        while ((*place & 0xC0) == 0x80)
            place++;
    }
    snprintf(err->place, sizeof err->place, "%s%s", n > room ? more : "", place);
}

enum pc_status pc_fail(struct pc_err *err, enum pc_status status, const char *place, const char *fmt, ...)
{
    if (err == NULL || err->status != PC_OK)
        return status;
    err->status = status;
    put_place(err, place != NULL ? place : "");
    va_list args;
    va_start(args, fmt);
    vsnprintf(err->text, sizeof err->text, fmt, args);
    va_end(args);
    for (char *c = err->text; *c != '\0'; c++)
        if (*c == '\n' || *c == '\r')
            *c = ' ';
    return status;
}

void pc_assert_failed(const char *cond, const char *file, int line)
{
    fprintf(stderr, "platecall: a bug of ours at %s:%d: %s\n", file, line, cond);
    abort();
}
