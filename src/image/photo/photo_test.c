// SPDX-License-Identifier: Apache-2.0
// What is no photograph gets its sentence; what a name tells.
#include "base/file.h"
#include "image/photo/photo_bench.h"

#include <setjmp.h>
#include <sys/stat.h>
#include <unistd.h>
#include <cmocka.h>

static void wrong_files_get_a_sentence(void **state)
{
    (void)state;
    struct pc_err err = {0};
    assert_int_equal(pc_file_write(path_of("notes.txt"), "two plates\n", 11, &err), PC_OK);
    assert_int_equal(pc_file_write(path_of("empty.dng"), "", 0, &err), PC_OK);
    refused("notes.txt", PC_WANT_FACTS, PC_BAD_INPUT, "not a photograph");
    refused("empty.dng", PC_WANT_MEASURE, PC_BAD_INPUT, "empty");
    refused("nowhere.dng", PC_WANT_MEASURE, PC_NOT_FOUND, "no file of this name");
    refused("", PC_WANT_MEASURE, PC_BAD_INPUT, "folder");
    // What a raw of a camera to come may look like: the right box, and nothing known in it.
    static const uint8_t to_come[64] = {0, 0, 0, 24, 'f', 't', 'y', 'p', 'c', 'r', 'x', ' ', 0, 0, 0, 1};
    assert_int_equal(pc_file_write(path_of("to come.cr3"), to_come, sizeof to_come, &err), PC_OK);
    refused("to come.cr3", PC_WANT_FACTS, PC_UNSUPPORTED, "Convert it to DNG");
    assert_int_equal(mkfifo(path_of("pipe"), 0600), 0);
    refused("pipe", PC_WANT_MEASURE, PC_BAD_INPUT, "not a file");
    unlink(path_of("pipe"));
}

static void names_tell_what_to_try(void **state)
{
    (void)state;
    static const char *const raws[] = {"a.dng", "A b.NEF", "/x.y/c.cr3", "d.Raf"};
    static const char *const photos[] = {"a.jpg", "b.JPEG", "c.heic", "d.TIFF", "e.png"};
    static const char *const neither[] = {"a.xmp",     "._a.dng",       ".dng", "dng",
                                          "a.dng.txt", "/d.dng/readme", "b.zip"};
    for (size_t i = 0; i < PC_COUNT(raws); i++)
        assert_true(pc_photo_name_is_raw(raws[i]) && pc_photo_name_is_photo(raws[i]));
    for (size_t i = 0; i < PC_COUNT(photos); i++)
        assert_true(!pc_photo_name_is_raw(photos[i]) && pc_photo_name_is_photo(photos[i]));
    for (size_t i = 0; i < PC_COUNT(neither); i++)
        assert_false(pc_photo_name_is_raw(neither[i]) || pc_photo_name_is_photo(neither[i]));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wrong_files_get_a_sentence),
        cmocka_unit_test(names_tell_what_to_try),
    };
    return cmocka_run_group_tests(tests, photo_bench_open, photo_bench_close);
}
