// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_tie.h"

#include "base/file.h"
#include "tests/monte_carlo.h"

#include <unistd.h>

static void near(double got, double want, double within, const char *what)
{
    if (!(fabs(got - want) <= within))
        fail_msg("%s: got %.9g, want %.9g", what, got, want);
}

static struct pc_facts camera(const char *serial, const char *lens)
{
    struct pc_facts facts;
    pc_facts_clear(&facts);
    snprintf(facts.maker, sizeof facts.maker, "Pot");
    snprintf(facts.model, sizeof facts.model, "One");
    snprintf(facts.serial, sizeof facts.serial, "%s", serial);
    snprintf(facts.lens, sizeof facts.lens, "%s", lens);
    facts.fnumber = 8;
    return facts;
}

static void a_tie_goes_through_its_file(void **state)
{
    (void)state;
    char path[] = "/tmp/platecall-tie-XXXXXX";
    int fd = mkstemp(path);
    assert_true(fd >= 0);
    close(fd);
    struct pc_arena *arena = pc_arena_create();
    struct pc_facts tied = camera("7", "50 mm");
    struct pc_tie made, read;
    struct pc_err err = {0};
    assert_int_equal(pc_tie_make(&tied, 1000, 1200, &made, &err), PC_OK);
    near(made.off_ev, log2(1.2), 1e-12, "off");
    assert_int_equal(pc_tie_write(path, &made, &err), PC_OK);
    if (pc_tie_read(arena, path, &read, &err) != PC_OK)
        fail_msg("%s: %s", err.place, err.text);
    double lx = 500, tolerance_ev;
    assert_int_equal(pc_tie_apply(&read, &tied, "a.dng", &lx, &tolerance_ev, &err), PC_OK);
    near(lx, 600, 0.02, "tied");
    near(tolerance_ev, 0.1, 1e-12, "same lens");
    struct pc_facts other_lens = camera("7", "90 mm"), other = camera("8", "50 mm");
    assert_int_equal(pc_tie_apply(&read, &other_lens, "a.dng", &lx, &tolerance_ev, &err), PC_OK);
    near(tolerance_ev, 0.2, 1e-12, "other lens");
    assert_int_equal(pc_tie_apply(&read, &other, "a.dng", &lx, &tolerance_ev, &err), PC_BAD_INPUT);
    pc_arena_destroy(arena);
    unlink(path);
}

// A ratio that is good to a tolerance.
static double about_one(double tolerance_ratio, uint64_t *random)
{
    return 1 + tolerance_ratio / 1.96 * mc_normal(random);
}

// Cameras whose rating and lens are off as they may be: tied once, the lux lie within the tolerance 19 times
// in 20, and half of it would not do. From frame to frame the shutter is good to 1 %, the blades' area to 3
// %, the card's level to 1 %, filters against the eye to 2.5 %; the meter to 3 %, once.
static void what_is_left_after_a_tie(void **state)
{
    (void)state;
    uint64_t random = 11;
    int within = 0, within_half = 0;
    for (int n = 0; n < MC_DRAWS; n++) {
        struct pc_facts facts = camera("7", "50 mm");
        double rating = exp2(0.3 / 1.96 * mc_normal(&random)), off[2];
        for (int i = 0; i < 2; i++)
            off[i] = about_one(0.01, &random) * about_one(0.03, &random) * about_one(0.01, &random) *
                     about_one(0.025, &random);
        struct pc_tie tie;
        double meter_lx = 1000 * about_one(0.03, &random), lx = 300 * rating * off[1], tolerance_ev;
        assert_int_equal(pc_tie_make(&facts, 1000 * rating * off[0], meter_lx, &tie, NULL), PC_OK);
        assert_int_equal(pc_tie_apply(&tie, &facts, "a", &lx, &tolerance_ev, NULL), PC_OK);
        within += fabs(log2(lx / 300)) <= tolerance_ev;
        within_half += fabs(log2(lx / 300)) <= tolerance_ev / MC_MOST_WIDE;
    }
    print_message("# %.1f %% within, %.1f %% within half\n", 100.0 * within / MC_DRAWS,
                  100.0 * within_half / MC_DRAWS);
    assert_true((double)within >= MC_LEAST_COVERED * MC_DRAWS && (double)within_half < 0.95 * MC_DRAWS);
}

static void what_cannot_be_tied(void **state)
{
    (void)state;
    static const struct {
        const char *text, *says;
    } rows[] = {{"{}", "ties nothing"},
                {"{\"off_ev\": 3}", ""},
                {"{\"of_ev\": 0}", "off_ev"},
                {"{\"off_ev\": \"0.1\"}", ""},
                {"[1]", ""},
                {"{\"off_ev\": 0.1, \"off_ev\": 0.1}", ""}};
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct pc_arena *arena = pc_arena_create();
        struct pc_tie tie;
        struct pc_err err = {0};
        assert_int_equal(pc_tie_read_text(arena, rows[i].text, strlen(rows[i].text), "t.json", &tie, &err),
                         PC_BAD_INPUT);
        if (strstr(err.text, rows[i].says) == NULL)
            fail_msg("%s: %s", rows[i].text, err.text);
        pc_arena_destroy(arena);
    }
    struct pc_facts facts = camera("7", "");
    struct pc_tie tie;
    struct pc_err err = {0};
    assert_int_equal(pc_tie_make(&facts, 100, 1200, &tie, &err), PC_BAD_INPUT);
    assert_int_equal(pc_tie_make(&facts, 0, 1200, &tie, NULL), PC_BAD_INPUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_tie_goes_through_its_file),
        cmocka_unit_test(what_is_left_after_a_tie),
        cmocka_unit_test(what_cannot_be_tied),
    };
    return cmocka_run_group_tests_name("expose_tie", tests, NULL, NULL);
}
