// SPDX-License-Identifier: Apache-2.0
#include "base/err.h"

#undef pc_fail // err.h wraps them for the analyser
#undef pc_fail_line

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

static void put_text(struct pc_err *err, const char *fmt, va_list args) PC_PRINTF(2, 0);
static void put_text(struct pc_err *err, const char *fmt, va_list args)
{
    vsnprintf(err->text, sizeof err->text, fmt, args);
    for (char *c = err->text; *c != '\0'; c++)
        if (*c == '\n' || *c == '\r')
            *c = ' ';
}

enum pc_status pc_fail(struct pc_err *err, enum pc_status status, const char *place, const char *fmt, ...)
{
    if (err == NULL || err->status != PC_OK)
        return status;
    err->status = status;
    put_place(err, place != NULL ? place : "");
    va_list args;
    va_start(args, fmt);
    put_text(err, fmt, args);
    va_end(args);
    return status;
}

enum pc_status pc_fail_line(struct pc_err *err, const char *file, int line, const char *fmt, ...)
{
    if (err == NULL || err->status != PC_OK)
        return PC_BAD_INPUT;
    err->status = PC_BAD_INPUT;
    char number[16];
    snprintf(number, sizeof number, ":%d", line);
    size_t room = sizeof err->place - strlen(number);
    put_place(err, file);
    if (strlen(err->place) >= room) // the end of a long name tells files apart, so its beginning goes
        memmove(err->place, err->place + (strlen(err->place) + 1 - room), room);
    strncat(err->place, number, sizeof err->place - strlen(err->place) - 1);
    va_list args;
    va_start(args, fmt);
    put_text(err, fmt, args);
    va_end(args);
    return PC_BAD_INPUT;
}

void pc_assert_failed(const char *cond, const char *file, int line)
{
    fprintf(stderr, "platecall: a bug of ours at %s:%d: %s\n", file, line, cond);
    abort();
}
