// SPDX-License-Identifier: Apache-2.0
#include "base/keys.h"

#include "base/json_where.h"

#include <setjmp.h>
#include <cmocka.h>

struct spoon {
    const char *name;
    double length_m, length_m_tolerance;
    int bowls;
};

struct drawer {
    double wide_m, wide_m_tolerance, deep_m, size_m[2], size_m_tolerance;
    bool locked;
    int wood;
    struct pc_date made;
    struct spoon best, *spoons;
    size_t spoon_count;
};

static const char *check_spoon(const void *object)
{
    const struct spoon *spoon = object;
    return spoon->bowls == 3 ? "No spoon has three bowls." : NULL;
}

static const struct pc_key spoon_rows[] = {
    {.key = "name", .kind = PC_KEY_TEXT, .offset = offsetof(struct spoon, name), .help = "called"},
    {.key = "length_cm",
     .kind = PC_KEY_NUMBER,
     .offset = offsetof(struct spoon, length_m),
     .offset_within = offsetof(struct spoon, length_m_tolerance),
     .unit = "cm",
     .si_per_unit = 0.01,
     .least = 1,
     .most = 60,
     .within = 0.5,
     .within_pct = 10,
     .otherwise = "20",
     .otherwise_within = 8,
     .help = "how long"},
    {.key = "bowls",
     .kind = PC_KEY_WHOLE,
     .offset = offsetof(struct spoon, bowls),
     .least = 0,
     .most = 4,
     .otherwise = "1",
     .help = "how many"},
};
static const struct pc_keys spoon_keys = {"spoon", sizeof(struct spoon), spoon_rows, PC_COUNT(spoon_rows),
                                          "name",  check_spoon};

static const char *const woods[] = {"beech", "oak", "walnut", NULL};

static const struct pc_key drawer_rows[] = {
    {.key = "wide_m",
     .kind = PC_KEY_NUMBER,
     .offset = offsetof(struct drawer, wide_m),
     .offset_within = offsetof(struct drawer, wide_m_tolerance),
     .unit = "m",
     .least = 0.1,
     .most = 2,
     .within = 0.03,
     .help = "how wide"},
    {.key = "deep_m",
     .kind = PC_KEY_NUMBER,
     .offset = offsetof(struct drawer, deep_m),
     .unit = "m",
     .least = 0,
     .most = 2,
     .otherwise = "0.5",
     .help = "how deep"},
    {.key = "size_m",
     .kind = PC_KEY_PAIR,
     .offset = offsetof(struct drawer, size_m),
     .offset_within = offsetof(struct drawer, size_m_tolerance),
     .unit = "m",
     .least = 0,
     .most = 9,
     .within = 0.01,
     .otherwise = "[1, 0.5]",
     .otherwise_within = 0.2,
     .help = "of its front"},
    {.key = "locked",
     .kind = PC_KEY_YES_NO,
     .offset = offsetof(struct drawer, locked),
     .otherwise = "true",
     .help = "is it"},
    {.key = "wood",
     .kind = PC_KEY_ONE_OF,
     .offset = offsetof(struct drawer, wood),
     .names = woods,
     .otherwise = "oak",
     .help = "made of"},
    {.key = "made", .kind = PC_KEY_DATE, .offset = offsetof(struct drawer, made), .help = "when"},
    {.key = "best",
     .kind = PC_KEY_PART,
     .offset = offsetof(struct drawer, best),
     .table = &spoon_keys,
     .help = "the best spoon"},
    {.key = "spoons",
     .kind = PC_KEY_LIST,
     .offset = offsetof(struct drawer, spoons),
     .offset_count = offsetof(struct drawer, spoon_count),
     .most = 3,
     .table = &spoon_keys,
     .help = "all others"},
};
static const struct pc_keys drawer_keys = {
    "drawer", sizeof(struct drawer), drawer_rows, PC_COUNT(drawer_rows), NULL, NULL};

static int make_arena(void **state)
{
    *state = pc_arena_create();
    return *state == NULL;
}

static int destroy_arena(void **state)
{
    pc_arena_destroy(*state);
    return 0;
}

static void near(double value, double wanted)
{
    if (!(fabs(value - wanted) <= 1e-12))
        fail_msg("%.15g, wanted %.15g", value, wanted);
}

static void nothing_written_is_all_defaults(void **state)
{
    struct drawer drawer;
    assert_int_equal(pc_keys_read(*state, &drawer_keys, "{}", 2, "d", &drawer, NULL), PC_OK);
    assert_true(isnan(drawer.wide_m) && isnan(drawer.wide_m_tolerance));
    near(drawer.deep_m, 0.5);
    near(drawer.size_m[1], 0.5);
    near(drawer.size_m_tolerance, 0.2);
    assert_true(drawer.locked);
    assert_int_equal(drawer.wood, 1);
    assert_int_equal(drawer.made.year, 0);
    near(drawer.best.length_m, 0.2);
    near(drawer.best.length_m_tolerance, 0.08);
    assert_null(drawer.best.name);
    assert_int_equal(drawer.spoon_count, 0);
    struct drawer plain;
    pc_keys_default(&drawer_keys, &plain);
    near(plain.best.length_m, 0.2);
}

static void each_kind_is_read(void **state)
{
    static const char text[] = "{\"wide_m_tolerance\": 0.2, \"wide_m\": 1.5, \"deep_m\": null, \"size_m\": "
                               "[2, 0.25], \"locked\": false,\n"
                               " \"wood\": \"walnut\", \"made\": \"2024-02-29\", \"best\": {\"length_cm\": "
                               "18, \"name\": \"a\\u00e9\"},\n"
                               " \"spoons\": [{}, {\"name\": \"ladle\", \"length_cm\": 3}, {\"bowls\": 2, "
                               "\"length_cm_tolerance\": 1}]}";
    struct drawer drawer;
    struct pc_err err = {0};
    if (pc_keys_read(*state, &drawer_keys, text, sizeof text - 1, "d", &drawer, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    near(drawer.wide_m, 1.5);
    near(drawer.wide_m_tolerance, 0.2);
    near(drawer.deep_m, 0.5);
    near(drawer.size_m[0], 2);
    near(drawer.size_m_tolerance, 0.01);
    assert_false(drawer.locked);
    assert_int_equal(drawer.wood, 2);
    assert_int_equal(drawer.made.day, 29);
    near(drawer.best.length_m, 0.18);
    near(drawer.best.length_m_tolerance, 0.018); // 10 % is more than half a centimetre
    assert_string_equal(drawer.best.name, "a\xc3\xa9");
    assert_int_equal(drawer.spoon_count, 3);
    assert_string_equal(drawer.spoons[0].name, "spoon 1");
    assert_string_equal(drawer.spoons[1].name, "ladle");
    near(drawer.spoons[1].length_m_tolerance, 0.005);
    assert_int_equal(drawer.spoons[2].bowls, 2);
    near(drawer.spoons[2].length_m_tolerance, 0.01);
}

// Each refusal, with the place and the words it must come with. Lines and columns counted by hand.
static const struct refused {
    const char *text, *place, *words;
} refusals[] = {
    {"{\n  \"wdie_m\": 1}", "d:2:3", "A drawer has no \"wdie_m\"; did you mean \"wide_m\"?"},
    {"{\n\"best\": {\"length_mm\":\n 3}}", "d:2:10",
     "A spoon has no \"length_mm\"; did you mean \"length_cm\"?"},
    {"{\"xyzzyxyzzy\": 1}", "d:1:2", "A drawer has no \"xyzzyxyzzy\"; take it out, or see the list of keys."},
    {"{\"wide_m\": \"1\"}", "d:1:12", "\"wide_m\" must be a number in m."},
    {"{\"wide_m\":\n\t3.5}", "d:2:2", "\"wide_m\" is 3.5; it must lie between 0.1 and 2 m."},
    {"{\"best\": {\"bowls\": 1.5}}", "d:1:20", "\"bowls\" must be a whole number."},
    {"{\"best\": {\"bowls\": 3}}", "d:1:10", "No spoon has three bowls."},
    {"{\"locked\": 0}", "d:1:12", "\"locked\" must be true or false."},
    {"{\"size_m\": [1]}", "d:1:12", "\"size_m\" must be two numbers between brackets, as [1, 2], in m."},
    {"{\"size_m\": [1, 10]}", "d:1:12", "\"size_m\" is 10; it must lie between 0 and 9 m."},
    {"{\"wood\": \"walnutt\"}", "d:1:10",
     "\"wood\" cannot be \"walnutt\"; did you mean \"walnut\"? There are: beech, oak, walnut."},
    {"{\"wood\": \"xxxxxxxxx\"}", "d:1:10",
     "\"wood\" cannot be \"xxxxxxxxx\"; there are: beech, oak, walnut."},
    {"{\"made\": \"2023-02-29\"}", "d:1:10", "\"made\" must be a day that exists, as \"2027-03-18\"."},
    {"{\"made\": \"2023-2-9\"}", "d:1:10", "\"made\" must be a day that exists, as \"2027-03-18\"."},
    {"{\"best\": [1]}", "d:1:10", "A spoon is written between braces, as {\"key\": value}."},
    {"[]", "d:1:1", "A drawer is written between braces, as {\"key\": value}."},
    {"{\"spoons\": {}}", "d:1:12", "\"spoons\" must be a list between brackets, as [{...}, {...}]."},
    {"{\"spoons\": [{}, {}, {}, {}]}", "d:1:12", "\"spoons\" has 4 entries; at most 3 are read."},
    {"{\"spoons\": [{}, {\"bowls\": 9}]}", "d:1:27", "\"bowls\" is 9; it must lie between 0 and 4."},
    {"{\"spoons\": [{\"name\": \"a\"},\n {\"name\": \"a\"}]}", "d:2:2",
     "Two here are called \"a\"; give each spoon a name of its own."},
    {"{\"spoons\": [{\"name\": \"\"}]}", "d:1:22", "\"name\" must have from 1 to 200 characters."},
    {"{\"spoons\": [{\"name\": \"a\\nb\"}]}", "d:1:22",
     "\"name\" has control characters in it; write it in one plain line."},
    {"{\"wide_m_tolerance\": 0.1}", "d:1:2",
     "\"wide_m_tolerance\" says how well \"wide_m\" is known, and that is not given."},
    {"{\"wide_m\": 1, \"wide_m_tolerance\": -1}", "d:1:35",
     "\"wide_m_tolerance\" is -1; it must lie between 0 and 1.9 m."},
    {"{\"deep_m_tolerance\": 1}", "d:1:2",
     "A drawer has no \"deep_m_tolerance\"; did you mean \"wide_m_tolerance\"?"},
    {"{\"wide_m\": 1,\n \"wide_m\": 2}", "d:2:9", "The key that ends here is written twice; take one out."},
    // Before the fault: a key with an escape, brackets in text, and characters of several bytes.
    {"{\"wo\\u006fd\": \"oak\", \"best\": {\"name\": \"\xc3\xa9]}\\\"{\"}, \"no\": 1}", "d:1:50",
     "A drawer has no \"no\"; take it out, or see the list of keys."},
};

static void what_is_wrong_is_told_where_it_stands(void **state)
{
    int wrong = 0;
    for (size_t i = 0; i < PC_COUNT(refusals); i++) {
        const struct refused *r = &refusals[i];
        struct drawer drawer;
        struct pc_err err = {0};
        enum pc_status status =
            pc_keys_read(*state, &drawer_keys, r->text, strlen(r->text), "d", &drawer, &err);
        if (status == PC_BAD_INPUT && strcmp(err.place, r->place) == 0 && strcmp(err.text, r->words) == 0)
            continue;
        print_error("%s\n  gave %s: %s\n  not  %s: %s\n", r->text, err.place, err.text, r->place, r->words);
        wrong++;
    }
    assert_int_equal(wrong, 0);
}

static void a_file_too_large_is_refused(void **state)
{
    static char text[PC_KEYS_BYTES_MAX + 2];
    struct drawer drawer;
    struct pc_err err = {0};
    memset(text, ' ', sizeof text);
    memcpy(text, "{}", 2);
    assert_int_equal(pc_keys_read(*state, &drawer_keys, text, sizeof text - 1, "d", &drawer, &err),
                     PC_BAD_INPUT);
    assert_string_equal(err.place, "d");
    assert_int_equal(pc_keys_read(*state, &drawer_keys, text, sizeof text - 2, "d", &drawer, NULL), PC_OK);
}

static void places_are_found_again(void **state)
{
    (void)state;
    static const char text[] = " {\"a\": [1, {\"b\": \"x,]\"}, []],\n \"\xc3\xa9\": {}, \"c\": -1e3}";
    const struct {
        size_t step[3], steps;
        int line, column, key_line, key_column;
    } expected[] = {
        {{0}, 0, 1, 2, 1, 2},         {{0}, 1, 1, 8, 1, 3},      {{0, 1}, 2, 1, 12, 1, 12},
        {{0, 1, 0}, 3, 1, 18, 1, 13}, {{0, 2}, 2, 1, 26, 1, 26}, {{1}, 1, 2, 7, 2, 2},
        {{2}, 1, 2, 16, 2, 11},
    };
    struct pc_json_spot spot;
    for (size_t i = 0; i < PC_COUNT(expected); i++) {
        assert_true(pc_json_where(text, sizeof text - 1, expected[i].step, expected[i].steps, &spot));
        assert_int_equal(spot.line, expected[i].line);
        assert_int_equal(spot.column, expected[i].column);
        assert_int_equal(spot.key_line, expected[i].key_line);
        assert_int_equal(spot.key_column, expected[i].key_column);
    }
    const size_t beyond[] = {3}, into_a_number[] = {2, 0}, into_nothing[] = {0, 2, 0};
    assert_false(pc_json_where(text, sizeof text - 1, beyond, 1, &spot));
    assert_false(pc_json_where(text, sizeof text - 1, into_a_number, 2, &spot));
    assert_false(pc_json_where(text, sizeof text - 1, into_nothing, 3, &spot));
}

static void the_reference_tells_every_key(void **state)
{
    const char *text = pc_keys_reference(*state, &drawer_keys);
    assert_non_null(strstr(text, "### Drawer"));
    assert_non_null(strstr(text, "| `wide_m` | how wide | 0.1 to 2 m | 0.03 m | unknown |\n"));
    assert_non_null(strstr(text, "| `wood` | made of | \"beech\", \"oak\", \"walnut\" |  | oak |\n"));
    assert_non_null(strstr(text, "| `spoons` | all others | a list, each a spoon, at most 3 |  | none |\n"));
    const char *spoon = strstr(text, "### Spoon");
    assert_non_null(spoon);
    assert_null(strstr(spoon + 1, "### Spoon"));
    assert_non_null(strstr(spoon, "| `length_cm` | how long | 1 to 60 cm | 0.5 cm or 10 % | 20 ± 8 |\n"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_written_is_all_defaults),
        cmocka_unit_test(each_kind_is_read),
        cmocka_unit_test(what_is_wrong_is_told_where_it_stands),
        cmocka_unit_test(a_file_too_large_is_refused),
        cmocka_unit_test(places_are_found_again),
        cmocka_unit_test(the_reference_tells_every_key),
    };
    return cmocka_run_group_tests(tests, make_arena, destroy_arena);
}
