// SPDX-License-Identifier: Apache-2.0
#include "front/cli/print.h"

#include <setjmp.h>
#include <cmocka.h>

static char *printed(void (*print)(FILE *out, const void *what), const void *what)
{
    char *text = NULL;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    print(out, what);
    fclose(out);
    return text;
}

static void figures_have_the_digits_of_their_tolerance(void **state)
{
    (void)state;
    static const struct {
        double value, tolerance;
        const char *text;
    } rows[] = {
        {2.6183, 0.05, "2.62 ± 0.05"}, {2.6183, 0.15, "2.62 ± 0.15"}, {2.6183, 0.3, "2.6 ± 0.3"},
        {-0.004, 0.1, "0.0 ± 0.1"},    {-1.27, 0.1, "-1.3 ± 0.1"},    {812.4, 170, "810 ± 170"},
        {812.4, 30, "810 ± 30"},       {812.4, 2, "812 ± 2"},         {12345, 2500, "12000 ± 3000"},
        {0.5, 0.0949, "0.50 ± 0.09"},  {5300, 150, "5300 ± 150"},     {7.5, 9.7, "8 ± 10"},
        {3.14159, NAN, "3.14"},        {-0.001, 0, "0.00"},           {NAN, 0.1, "unknown"},
    };
    char figure[PC_FIGURE_BYTES];
    for (size_t i = 0; i < PC_COUNT(rows); i++)
        assert_string_equal(pc_print_figure(figure, rows[i].value, rows[i].tolerance), rows[i].text);
    assert_string_equal(pc_print_change(figure, 0.31, 0.05), "+0.31 ± 0.05");
    assert_string_equal(pc_print_change(figure, -0.31, 0.05), "-0.31 ± 0.05");
    assert_string_equal(pc_print_change(figure, 0.001, 0.05), "0.00 ± 0.05");
}

static void width_counts_what_a_terminal_shows(void **state)
{
    (void)state;
    assert_int_equal(pc_print_width("crust"), 5);
    assert_int_equal(pc_print_width("crème brûlée"), 12);
    assert_int_equal(pc_print_width("cre\xcc\x80me"), 5); // the grave accent as a combining mark
    assert_int_equal(pc_print_width("天ぷら"), 6);
    assert_int_equal(pc_print_width("br\xff"), 3);
    assert_int_equal(pc_print_width("cut \xe2\x82"), 5); // a character that the end of the text cuts short
}

static void print_table(FILE *out, const void *what)
{
    pc_table_print(what, out, 2);
}

static void columns_line_up(void **state)
{
    (void)state;
    struct pc_arena *arena = pc_arena_create();
    struct pc_table *table = pc_table_create(arena, "|>hero|note");
    static const char *const cells[] = {"天ぷら", "0.5", "", "fill", "12.25", "weak"};
    for (size_t i = 0; i < PC_COUNT(cells); i++)
        pc_table_cell(table, "%s", cells[i]);
    char *text = printed(print_table, table);
    assert_string_equal(text, "           hero  note\n"
                              "  天ぷら    0.5\n"
                              "  fill    12.25  weak\n");
    free(text);
    pc_arena_destroy(arena);
}

static void shares_stay_between_none_and_all(void **state)
{
    (void)state;
    static const struct {
        double ratio, tolerance;
        const char *want;
    } rows[] = {
        {0.67, 0.14, "67 ± 14 %"},
        {0, 0.6, "none to 60 %"},
        {0.02, 0.08, "none to 10 %"},
        {1, 0, "100 %"},
        {0, 0, "0 %"},
        {0.0042, 0.0015, "0.42 ± 0.15 %"},
        {0.9, 0.2, "70 % to all"},
        {0.5, 0.7, "none to all"},
        {1, 0.3, "70 % to all"},
        {0.3, 0, "30.0 ± 0.1 %"},
        {0.001, 0.006, "none to 0.7 %"},
        {0.714, NAN, "71.40 %"},
        {NAN, 0.1, "unknown"},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        char out[PC_FIGURE_BYTES];
        assert_string_equal(pc_print_share(out, rows[i].ratio, rows[i].tolerance), rows[i].want);
    }
}

static void print_wrapped(FILE *out, const void *what)
{
    pc_print_wrapped(out, 0, 2, what);
}

static void sentences_break_between_words(void **state)
{
    (void)state;
    char words[400] = "";
    for (int i = 0; i < 30; i++)
        snprintf(words + strlen(words), sizeof words - strlen(words), "%sbrûlée%d", i > 0 ? " " : "", i);
    char *text = printed(print_wrapped, words), *rest = text, *line;
    size_t lines = 0;
    while ((line = strsep(&rest, "\n")) != NULL && *line != '\0') {
        assert_true(pc_print_width(line) <= PC_PRINT_COLUMNS);
        assert_true(line[strlen(line) - 1] != ' ');
        assert_int_equal(strncmp(line, "  ", 2) == 0, lines > 0);
        lines++;
    }
    assert_true(lines > 2);
    free(text);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(figures_have_the_digits_of_their_tolerance),
        cmocka_unit_test(width_counts_what_a_terminal_shows),
        cmocka_unit_test(shares_stay_between_none_and_all),
        cmocka_unit_test(columns_line_up),
        cmocka_unit_test(sentences_break_between_words),
    };
    return cmocka_run_group_tests_name("print", tests, NULL, NULL);
}
