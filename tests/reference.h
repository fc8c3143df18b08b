// SPDX-License-Identifier: Apache-2.0
// Looks whether a page in docs/ says of a table of keys what the table says. For cmocka tests.
#ifndef PC_TESTS_REFERENCE_H
#define PC_TESTS_REFERENCE_H

#include "base/file.h"
#include "base/keys.h"

#include <setjmp.h>
#include <cmocka.h>

// The reference stands between two marks that name the table's noun. Fails, and leaves the page as it should
// be in the build folder, when it is out of date.
static inline void reference_is_up_to_date(struct pc_arena *arena, const char *page_name,
                                           const struct pc_keys *table)
{
    char *path = pc_arena_printf(arena, "%s/docs/%s", getenv("PC_SOURCE_ROOT"), page_name), *page;
    size_t count;
    assert_int_equal(pc_file_read(arena, path, 1 << 20, &page, &count, NULL), PC_OK);
    char *begin_mark =
        pc_arena_printf(arena, "<!-- keys of a %s: made from its table in src -->\n", table->noun);
    char *begin = strstr(page, begin_mark), *end = begin;
    if (begin != NULL)
        end = strstr(begin += strlen(begin_mark), "<!-- end of keys -->\n");
    if (begin == NULL || end == NULL)
        fail_msg("%s lacks the marks of a %s", path, table->noun);
    char *fresh = pc_arena_printf(arena, "%.*s\n%s\n%s", (int)(begin - page), page,
                                  pc_keys_reference(arena, table), end);
    if (strcmp(fresh, page) == 0)
        return;
    char *there = pc_arena_printf(arena, "%s/%s-%s", getenv("PC_BUILD_ROOT"), table->noun, page_name);
    assert_int_equal(pc_file_write(there, fresh, strlen(fresh), NULL), PC_OK);
    fail_msg("%s is out of date; \"%s\" is as it should be: look at it and put it there", path, there);
}

#endif
