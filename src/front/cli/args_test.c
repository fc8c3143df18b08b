// SPDX-License-Identifier: Apache-2.0
#include "front/cli/options.h"

#include <setjmp.h>
#include <cmocka.h>

static const struct pc_option several[] = {
    {.name = "together", .kind = PC_ARG_LIGHTS_FRAME, .metavar = "FILE"},
    {.name = "stands", .kind = PC_ARG_NAMED_STAND, .metavar = "NAME=CLOCK,CM,CM"},
    {.name = "page", .kind = PC_ARG_SIZE, .metavar = "WxH", .least = 5, .most = 2000},
    {.name = "at", .kind = PC_ARG_MOMENT, .metavar = "WHEN"},
    {.name = "towards", .kind = PC_ARG_PAIR, .metavar = "V,H"},
    {.name = "lx",
     .kind = PC_ARG_LIGHT_LX,
     .metavar = "NAME=LUX",
     .least = 0,
     .most = 1e7,
     .repeatable = true}};
static const struct pc_option_group several_group = {"Several", several, PC_COUNT(several)};
static const struct pc_option_group *const groups[] = {
    &several_group,    &pc_options_frames, &pc_options_places, &pc_options_setting,
    &pc_options_goals, &pc_options_limits, &pc_options_answer, NULL};
static const struct pc_verb verb = {
    .name = "try", .operands = "DIR", .least_operands = 1, .most_operands = 2, .groups = groups};

struct parsed {
    struct pc_arena *arena;
    struct pc_args *args;
    bool help;
    struct pc_err err;
};

enum { MOST_WORDS = 32 };

// The words of a command line, split at single spaces, behind the three that the verb cannot do without.
static enum pc_status parse(struct parsed *p, const char *line, bool complete)
{
    memset(p, 0, sizeof *p);
    p->arena = pc_arena_create();
    char *argv[MOST_WORDS], *rest = pc_arena_strdup(p->arena, line), *word;
    int argc = 0;
    if (complete) {
        argv[argc++] = (char *)"frames";
        argv[argc++] = (char *)"--hero=10,20";
        argv[argc++] = (char *)"--surface=30,40";
    }
    while ((word = strsep(&rest, " ")) != NULL)
        if (word[0] != '\0')
            argv[argc++] = word;
    return pc_args_parse(p->arena, &verb, argc, argv, &p->args, &p->help, &p->err);
}

static void finish(struct parsed *p)
{
    pc_arena_destroy(p->arena);
}

static void expect_misuse(const char *line, bool complete, const char *place, const char *words)
{
    struct parsed p;
    assert_int_equal(parse(&p, line, complete), PC_MISUSE);
    if (strcmp(p.err.place, place) != 0 || strstr(p.err.text, words) == NULL)
        fail_msg("%s gave “%s: %s”, want “%s: ...%s...”", line, p.err.place, p.err.text, place, words);
    finish(&p);
}

static void near(double got, double want)
{
    if (!(fabs(got - want) <= 1e-12))
        fail_msg("got %.12g, want %.12g", got, want);
}

static void sizes_are_written_with_an_x(void **state)
{
    (void)state;
    struct parsed p;
    double width, height;
    assert_int_equal(parse(&p, "--page 436x286.5", true), PC_OK);
    assert_true(pc_args_pair(p.args, "page", &width, &height));
    near(width, 436);
    near(height, 286.5);
    finish(&p);
    const char *const bad[] = {"--page 436",    "--page x286",  "--page 436x",
                               "--page 436x-3", "--page 436x0", "--page 4x3x2"};
    for (size_t i = 0; i < PC_COUNT(bad); i++)
        expect_misuse(bad[i], true, "--page", "write it as WxH");
    expect_misuse("--page 436x2", true, "--page", "out of range");
}

static void stands_are_told_by_clock_and_tape(void **state)
{
    (void)state;
    struct parsed p;
    assert_int_equal(parse(&p, "--stands A=B=10.5,95,-6", true), PC_OK);
    const struct pc_arg *arg = pc_args_at(p.args, "stands", 0);
    assert_string_equal(arg->name, "A=B");
    near(arg->value[0], 10.5);
    near(arg->value[1], 95);
    near(arg->value[2], -6);
    finish(&p);
    const char *const bad[] = {"--stands P1=10,95",   "--stands =10,95,60",     "--stands P1=13,95,60",
                               "--stands P1=10,0,60", "--stands P1=10,95,60,3", "--stands P1"};
    for (size_t i = 0; i < PC_COUNT(bad); i++)
        expect_misuse(bad[i], true, "--stands", "write it as NAME=CLOCK,CM,CM");
}

static void values_are_read_either_way(void **state)
{
    (void)state;
    struct parsed p;
    assert_int_equal(parse(&p, "--step=5 --hero-ev -0.3 --out there --linear more", true), PC_OK);
    double v, x, y;
    assert_true(pc_args_number(p.args, "step", &v));
    near(v, 5);
    assert_true(pc_args_number(p.args, "hero-ev", &v));
    near(v, -0.3);
    assert_false(pc_args_number(p.args, "second-shadow", &v));
    assert_true(pc_args_pair(p.args, "surface", &x, &y));
    near(x, 30);
    near(y, 40);
    assert_string_equal(pc_args_text(p.args, "out"), "there");
    assert_null(pc_args_text(p.args, "actual"));
    assert_true(pc_args_has(p.args, "linear"));
    assert_false(pc_args_has(p.args, "json"));
    assert_int_equal(pc_args_operand_count(p.args), 2);
    assert_string_equal(pc_args_operand(p.args, 1), "more");
    finish(&p);
}

static void several_lights_and_their_dial_may_be_left_out(void **state)
{
    (void)state;
    static const struct {
        const char *text, *name, *path;
        double dial; // NAN: not given
    } rows[] = {
        {"a.dng", NULL, "a.dng", NAN},
        {"a.dng@60%", NULL, "a.dng", 0.6},
        {"key,fill=a.dng", "key,fill", "a.dng", NAN},
        {"key,fill=b/a=1.dng@5%", "key,fill", "b/a=1.dng", 0.05},
        {"./a=1.dng", NULL, "./a=1.dng", NAN},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct parsed p;
        char line[128];
        snprintf(line, sizeof line, "--together %s", rows[i].text);
        assert_int_equal(parse(&p, line, true), PC_OK);
        const struct pc_arg *arg = pc_args_at(p.args, "together", 0);
        assert_true((arg->name == NULL) == (rows[i].name == NULL));
        if (rows[i].name != NULL)
            assert_string_equal(arg->name, rows[i].name);
        assert_string_equal(arg->path, rows[i].path);
        assert_int_equal(isnan(arg->dial_ratio), isnan(rows[i].dial));
        if (!isnan(rows[i].dial))
            near(arg->dial_ratio, rows[i].dial);
        finish(&p);
    }
    expect_misuse("--together key,fill=", true, "--together", "key,fill=9.dng@60%");
    expect_misuse("--together =a.dng", true, "--together", "key,fill=9.dng@60%");
    expect_misuse("--together a.dng@0%", true, "--together", "key,fill=9.dng@60%");
}

static void lights_carry_dial_and_kelvin(void **state)
{
    (void)state;
    static const struct {
        const char *text, *name, *path;
        double dial, kelvin; // NAN: not given
    } rows[] = {
        {"key=a.dng", "key", "a.dng", NAN, NAN},
        {"key=a.dng@60%", "key", "a.dng", 0.6, NAN},
        {"key=a.dng@4300K", "key", "a.dng", NAN, 4300},
        {"key=a.dng@12.5%@4300K", "key", "a.dng", 0.125, 4300},
        {"key=a.dng@4300K@100%", "key", "a.dng", 1, 4300},
        {"Schlüssel=tuna@noon=1.dng", "Schlüssel", "tuna@noon=1.dng", NAN, NAN},
        {"key=tuna@5.dng@5%", "key", "tuna@5.dng", 0.05, NAN},
    };
    for (size_t i = 0; i < PC_COUNT(rows); i++) {
        struct parsed p;
        char line[128];
        snprintf(line, sizeof line, "--light %s", rows[i].text);
        assert_int_equal(parse(&p, line, true), PC_OK);
        const struct pc_arg *arg = pc_args_at(p.args, "light", 0);
        assert_string_equal(arg->name, rows[i].name);
        assert_string_equal(arg->path, rows[i].path);
        assert_int_equal(isnan(arg->dial_ratio), isnan(rows[i].dial));
        assert_int_equal(isnan(arg->kelvin_K), isnan(rows[i].kelvin));
        if (!isnan(rows[i].dial))
            near(arg->dial_ratio, rows[i].dial);
        if (!isnan(rows[i].kelvin))
            near(arg->kelvin_K, rows[i].kelvin);
        finish(&p);
    }
}

static void names_may_repeat_and_hold_anything(void **state)
{
    (void)state;
    struct parsed p;
    assert_int_equal(
        parse(&p,
              "--dials a=0.5,b=1@5600K --dials c=d=0 --cap key=60 --cap a=b=70 --kelvin key=3200-5600 "
              "--place rim=1.5,2 --leave fill --leave kicker",
              true),
        PC_OK);
    assert_int_equal(pc_args_count(p.args, "dials"), 3);
    assert_string_equal(pc_args_at(p.args, "dials", 1)->name, "b");
    near(pc_args_at(p.args, "dials", 1)->value[0], 1);
    near(pc_args_at(p.args, "dials", 1)->kelvin_K, 5600);
    assert_string_equal(pc_args_at(p.args, "dials", 2)->name, "c=d");
    near(pc_args_at(p.args, "dials", 2)->value[0], 0);
    assert_string_equal(pc_args_at(p.args, "cap", 1)->name, "a=b");
    near(pc_args_at(p.args, "kelvin", 0)->value[0], 3200);
    near(pc_args_at(p.args, "kelvin", 0)->value[1], 5600);
    near(pc_args_at(p.args, "place", 0)->value[0], 1.5);
    assert_string_equal(pc_args_at(p.args, "leave", 1)->name, "kicker");
    finish(&p);
}

static void two_dashes_end_the_options(void **state)
{
    (void)state;
    struct parsed p;
    assert_int_equal(parse(&p, "-- --json", true), PC_OK);
    assert_string_equal(pc_args_operand(p.args, 1), "--json");
    assert_false(pc_args_has(p.args, "json"));
    finish(&p);
    assert_int_equal(parse(&p, "--nonsense --help", false), PC_OK);
    assert_true(p.help);
    finish(&p);
    assert_int_equal(parse(&p, "-- --help", true), PC_OK);
    assert_false(p.help);
    finish(&p);
}

static void misuse_is_named(void **state)
{
    (void)state;
    expect_misuse("--hreo 1,2", true, "", "did you mean --hero?");
    expect_misuse("--xyzzy", true, "", "--help lists them all");
    expect_misuse("--out", true, "--out", "value is missing");
    expect_misuse("--out --json", true, "--out", "value is missing");
    expect_misuse("--hero 1,2", true, "--hero", "given twice");
    expect_misuse("--json=yes", true, "--json", "takes no value");
    expect_misuse("-v", true, "-v", "two dashes");
    expect_misuse("", false, "try", "platecall try DIR");
    expect_misuse("frames --hero 1,2", false, "try", "--surface X,Y");
    expect_misuse("a b", true, "b", "one more than");
}

static void bad_values_are_refused(void **state)
{
    (void)state;
    static const char *const bad[] = {
        "--place rim",
        "--place =1,2",
        "--place rim=1",
        "--place rim=-1,2",
        "--place rim=nan,1",
        "--step x",
        "--step 51",
        "--step=-1",
        "--cap key=101",
        "--cap key",
        "--least key=-1",
        "--kelvin key=5600-3200",
        "--kelvin key=5600",
        "--kelvin key=500-3000",
        "--light key",
        "--light =a.dng",
        "--light key=@50%",
        "--light key=a.dng@0%",
        "--light key=a.dng@120%",
        "--light key=a.dng@99K",
        "--flash key=",
        "--dials key",
        "--dials key=1.5",
        "--dials key=0.5,",
        "--dials key=0.5@9K",
        "--warmer rim=1e999",
        "--hero-ev 11",
        "--out=",
        "--second-shadow -0.1",
        "--change rim=0x10",
    };
    for (size_t i = 0; i < PC_COUNT(bad); i++) {
        struct parsed p;
        if (parse(&p, bad[i], true) != PC_MISUSE)
            fail_msg("%s was taken", bad[i]);
        assert_true(p.err.place[0] == '-' && p.err.text[strlen(p.err.text) - 1] == '.');
        finish(&p);
    }
}

static void moments(void **state)
{
    (void)state;
    struct parsed p;
    assert_int_equal(parse(&p, "--at 2027-03-18T14:00+01:00", true), PC_OK);
    near(pc_args_at(p.args, "at", 0)->moment.of_day_s, 50400.0);
    near(pc_args_at(p.args, "at", 0)->moment.offset_s, 3600.0);
    finish(&p);
    expect_misuse("--at yesterday", true, "--at", "for instance --at 2027-03-18T14:00+01:00");
    expect_misuse("--at 2027-02-30", true, "--at", "cannot be understood");
}

static void pairs_and_lights_by_lux(void **state)
{
    (void)state;
    struct parsed p;
    double v, h;
    assert_int_equal(parse(&p, "--towards -20,-30.5 --lx key=3500@5300K --lx a=b=7", true), PC_OK);
    assert_true(pc_args_pair(p.args, "towards", &v, &h));
    near(v, -20);
    near(h, -30.5);
    near(pc_args_at(p.args, "lx", 0)->value[0], 3500);
    near(pc_args_at(p.args, "lx", 0)->kelvin_K, 5300);
    assert_string_equal(pc_args_at(p.args, "lx", 1)->name, "a=b");
    near(pc_args_at(p.args, "lx", 1)->value[0], 7);
    assert_true(isnan(pc_args_at(p.args, "lx", 1)->kelvin_K));
    finish(&p);
    expect_misuse("--towards 20", true, "--towards", "for instance --towards 45,-30");
    expect_misuse("--lx 3500", true, "--lx", "key=3500@5300K");
    expect_misuse("--lx key=@5300K", true, "--lx", "key=3500@5300K");
    expect_misuse("--lx key=5@900K", true, "--lx", "key=3500@5300K");
    expect_misuse("--lx key=-1", true, "--lx", "-1 is out of range");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sizes_are_written_with_an_x),
        cmocka_unit_test(stands_are_told_by_clock_and_tape),
        cmocka_unit_test(values_are_read_either_way),
        cmocka_unit_test(several_lights_and_their_dial_may_be_left_out),
        cmocka_unit_test(lights_carry_dial_and_kelvin),
        cmocka_unit_test(names_may_repeat_and_hold_anything),
        cmocka_unit_test(two_dashes_end_the_options),
        cmocka_unit_test(misuse_is_named),
        cmocka_unit_test(bad_values_are_refused),
        cmocka_unit_test(moments),
        cmocka_unit_test(pairs_and_lights_by_lux),
    };
    return cmocka_run_group_tests_name("args", tests, NULL, NULL);
}
