// SPDX-License-Identifier: Apache-2.0
#include "front/cli/cli.h"

#include "base/text.h"

struct given {
    const struct pc_option *option;
    struct pc_arg arg;
    struct given *next;
};

struct pc_args {
    const struct pc_verb *verb;
    struct given *first, **last;
    const char **operands;
    size_t operand_count;
};

// A value being read: what was typed, and where what is understood goes.
struct reader {
    struct pc_arena *arena;
    struct pc_args *args;
    const struct pc_option *option;
    const char *text;
};

static struct pc_arg *add(const struct reader *r, const char *text)
{
    struct given *given = PC_NEW(r->arena, struct given);
    given->option = r->option;
    given->arg = (struct pc_arg){.text = text, .value = {NAN, NAN, NAN}, .dial_ratio = NAN, .kelvin_K = NAN};
    *r->args->last = given;
    r->args->last = &given->next;
    return &given->arg;
}

static bool within(const struct pc_option *option, double value)
{
    return (option->least == 0 && option->most == 0) || (value >= option->least && value <= option->most);
}

static char *piece(struct pc_arena *arena, const char *from, const char *to)
{
    return pc_arena_printf(arena, "%.*s", (int)(to - from), from);
}

// Splits "NAME=REST" at the given "="; false when either side is empty or there is none.
static bool split(struct pc_arena *arena, const char *text, const char *equals, const char **name,
                  const char **rest)
{
    if (equals == NULL || equals == text || equals[1] == '\0')
        return false;
    *name = piece(arena, text, equals);
    *rest = equals + 1;
    return true;
}

// Takes "@NUMBER" and a unit letter off the end of text; NAN when it does not end so.
static double take_suffix(struct pc_arena *arena, char *text, char unit)
{
    size_t n = strlen(text);
    char *at = strrchr(text, '@');
    double value;
    if (at == NULL || n < 3 || text[n - 1] != unit ||
        !pc_text_double(piece(arena, at + 1, text + n - 1), &value))
        return NAN;
    *at = '\0';
    return value;
}

static bool read_plain(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    arg->name = r->option->kind == PC_ARG_NAME ? r->text : NULL;
    arg->path = r->option->kind == PC_ARG_PATH ? r->text : NULL;
    return r->text[0] != '\0';
}

static bool read_number(const struct reader *r)
{
    return pc_text_double(r->text, &add(r, r->text)->value[0]);
}

// As a camera shows it: 1/200, or seconds.
static bool read_time(const struct reader *r)
{
    double *s = &add(r, r->text)->value[0], above;
    const char *slash = strchr(r->text, '/'), *number, *rest;
    if (slash == NULL)
        return pc_text_double(r->text, s) && *s > 0;
    if (!split(r->arena, r->text, slash, &number, &rest) || !pc_text_double(number, &above) ||
        !pc_text_double(rest, s) || !(*s > 0 && above > 0))
        return false;
    *s = above / *s;
    return true;
}

static bool read_moment(const struct reader *r)
{
    return pc_clock_moment(r->text, &add(r, r->text)->moment);
}

static bool read_point(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    return pc_text_pair(r->text, &arg->value[0], &arg->value[1]) && arg->value[0] >= 0 && arg->value[1] >= 0;
}

// Numbers hold no "=", so a name may: the last one counts.
static bool read_named_number(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest;
    return split(r->arena, r->text, strrchr(r->text, '='), &arg->name, &rest) &&
           pc_text_double(rest, &arg->value[0]);
}

static bool read_named_point(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest;
    return split(r->arena, r->text, strrchr(r->text, '='), &arg->name, &rest) &&
           pc_text_pair(rest, &arg->value[0], &arg->value[1]) && arg->value[0] >= 0 && arg->value[1] >= 0;
}

static bool read_named_range(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest, *dash;
    return split(r->arena, r->text, strrchr(r->text, '='), &arg->name, &rest) &&
           (dash = strchr(rest, '-')) != NULL &&
           pc_text_double(piece(r->arena, rest, dash), &arg->value[0]) &&
           pc_text_double(dash + 1, &arg->value[1]) && arg->value[0] <= arg->value[1];
}

// Paths may hold a "=": the first one counts.
static bool read_named_path(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    return split(r->arena, r->text, strchr(r->text, '='), &arg->name, &arg->path);
}

static bool read_light_frame(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest;
    if (!split(r->arena, r->text, strchr(r->text, '='), &arg->name, &rest))
        return false;
    char *path = pc_arena_strdup(r->arena, rest);
    arg->kelvin_K = take_suffix(r->arena, path, 'K');
    arg->dial_ratio = take_suffix(r->arena, path, '%') / 100;
    if (isnan(arg->kelvin_K))
        arg->kelvin_K = take_suffix(r->arena, path, 'K'); // the two the other way round
    arg->path = path;
    return path[0] != '\0' && !(arg->dial_ratio <= 0 || arg->dial_ratio > 1) &&
           !(arg->kelvin_K < 1000 || arg->kelvin_K > 40000);
}

// Names hold no "/", so a path with a "=" in it can be written as ./a=b.dng.
static bool read_lights_frame(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest = r->text, *equals = strchr(r->text, '='), *slash = strchr(r->text, '/');
    if (equals != NULL && (slash == NULL || equals < slash) &&
        !split(r->arena, r->text, equals, &arg->name, &rest))
        return false;
    char *path = pc_arena_strdup(r->arena, rest);
    arg->dial_ratio = take_suffix(r->arena, path, '%') / 100;
    arg->path = path;
    return path[0] != '\0' && !(arg->dial_ratio <= 0 || arg->dial_ratio > 1);
}

static bool read_dials(const struct reader *r)
{
    for (const char *from = r->text; from != NULL;) {
        const char *comma = strchr(from, ',');
        const char *text = comma != NULL ? piece(r->arena, from, comma) : from, *rest;
        struct pc_arg *arg = add(r, text);
        if (!split(r->arena, text, strrchr(text, '='), &arg->name, &rest))
            return false;
        char *number = pc_arena_strdup(r->arena, rest);
        arg->kelvin_K = take_suffix(r->arena, number, 'K');
        if (!pc_text_double(number, &arg->value[0]) || !(arg->value[0] >= 0 && arg->value[0] <= 1) ||
            arg->kelvin_K < 1000 || arg->kelvin_K > 40000)
            return false;
        from = comma != NULL ? comma + 1 : NULL;
    }
    return true;
}

// By clock and tape: half past ten is 10.5. The camera is at six.
static bool read_named_stand(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest, *first, *second;
    if (!split(r->arena, r->text, strrchr(r->text, '='), &arg->name, &rest) ||
        (first = strchr(rest, ',')) == NULL || (second = strchr(first + 1, ',')) == NULL)
        return false;
    return pc_text_double(piece(r->arena, rest, first), &arg->value[0]) && arg->value[0] >= 0 &&
           arg->value[0] <= 12 && pc_text_double(piece(r->arena, first + 1, second), &arg->value[1]) &&
           arg->value[1] > 0 && pc_text_double(second + 1, &arg->value[2]);
}

// Width x height, as paper and pixels are written.
static bool read_size(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *times = strchr(r->text, 'x'), *width, *height;
    return split(r->arena, r->text, times, &width, &height) && pc_text_double(width, &arg->value[0]) &&
           pc_text_double(height, &arg->value[1]) && arg->value[0] > 0 && arg->value[1] > 0;
}

static bool read_pair(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    return pc_text_pair(r->text, &arg->value[0], &arg->value[1]);
}

static bool read_light_lx(const struct reader *r)
{
    struct pc_arg *arg = add(r, r->text);
    const char *rest;
    if (!split(r->arena, r->text, strrchr(r->text, '='), &arg->name, &rest))
        return false;
    char *number = pc_arena_strdup(r->arena, rest);
    arg->kelvin_K = take_suffix(r->arena, number, 'K');
    return pc_text_double(number, &arg->value[0]) && !(arg->kelvin_K < 1000 || arg->kelvin_K > 40000);
}

// How each kind is read, and what a good one looks like.
static const struct kind {
    bool (*read)(const struct reader *r);
    const char *example;
} kinds[] = {
    [PC_ARG_NAME] = {read_plain, "window"},
    [PC_ARG_PATH] = {read_plain, "frames"},
    [PC_ARG_NUMBER] = {read_number, "1.5"},
    [PC_ARG_TIME] = {read_time, "1/200"},
    [PC_ARG_MOMENT] = {read_moment, "2027-03-18T14:00+01:00"},
    [PC_ARG_POINT] = {read_point, "2010,1340"},
    [PC_ARG_NAMED_NUMBER] = {read_named_number, "rim=1"},
    [PC_ARG_NAMED_POINT] = {read_named_point, "rim=2010,1340"},
    [PC_ARG_NAMED_RANGE] = {read_named_range, "key=3200-5600"},
    [PC_ARG_NAMED_PATH] = {read_named_path, "key=3.dng"},
    [PC_ARG_LIGHT_FRAME] = {read_light_frame, "key=3.dng@60%@4300K"},
    [PC_ARG_LIGHTS_FRAME] = {read_lights_frame, "key,fill=9.dng@60%"},
    [PC_ARG_DIALS] = {read_dials, "key=0.6,fill=0.25"},
    [PC_ARG_NAMED_STAND] = {read_named_stand, "P1=10,95,60"},
    [PC_ARG_SIZE] = {read_size, "436x286"},
    [PC_ARG_PAIR] = {read_pair, "45,-30"},
    [PC_ARG_LIGHT_LX] = {read_light_lx, "key=3500@5300K"},
};

static enum pc_status read_value(const struct reader *r, const char *place, struct pc_err *err)
{
    struct given **before = r->args->last;
    const struct pc_option *option = r->option;
    if (!kinds[option->kind].read(r))
        return pc_fail(err, PC_MISUSE, place,
                       "“%s” cannot be understood; write it as %s, for instance --%s %s.", r->text,
                       option->metavar, option->name, kinds[option->kind].example);
    for (const struct given *given = *before; given != NULL; given = given->next)
        for (size_t i = 0; i < PC_COUNT(given->arg.value); i++)
            if (option->kind != PC_ARG_POINT && option->kind != PC_ARG_NAMED_POINT &&
                !isnan(given->arg.value[i]) && !within(option, given->arg.value[i]))
                return pc_fail(err, PC_MISUSE, place, "%g is out of range; it may be from %g to %g.",
                               given->arg.value[i], option->least, option->most);
    return PC_OK;
}

enum pc_status pc_args_no_such(struct pc_err *err, const char *what, const char *word,
                               const char *const *names, size_t count, const char *prefix)
{
    const char *nearest = pc_text_nearest(word, names, count);
    if (nearest != NULL)
        return pc_fail(err, PC_MISUSE, NULL, "There is no %s %s%s; did you mean %s%s?", what, prefix, word,
                       prefix, nearest);
    return pc_fail(err, PC_MISUSE, NULL, "There is no %s %s%s; --help lists them all.", what, prefix, word);
}

static const struct pc_option *find_option(const struct pc_verb *verb, const char *name)
{
    for (size_t g = 0; verb->groups[g] != NULL; g++)
        for (size_t i = 0; i < verb->groups[g]->count; i++)
            if (strcmp(verb->groups[g]->options[i].name, name) == 0)
                return &verb->groups[g]->options[i];
    return NULL;
}

static enum pc_status no_such_option(struct pc_arena *arena, const struct pc_verb *verb, const char *name,
                                     struct pc_err *err)
{
    size_t count = 1;
    for (size_t g = 0; verb->groups[g] != NULL; g++)
        count += verb->groups[g]->count;
    const char **names = PC_NEW_N(arena, count, const char *);
    size_t n = 0;
    names[n++] = "help";
    for (size_t g = 0; verb->groups[g] != NULL; g++)
        for (size_t i = 0; i < verb->groups[g]->count; i++)
            names[n++] = verb->groups[g]->options[i].name;
    return pc_args_no_such(err, "option", name, names, n, "--");
}

static bool given_already(const struct pc_args *args, const struct pc_option *option)
{
    for (const struct given *given = args->first; given != NULL; given = given->next)
        if (given->option == option)
            return true;
    return false;
}

// Reads the option at argv[*i], and its value; *i is left on the last word read.
static enum pc_status read_option(struct pc_arena *arena, struct pc_args *args, int argc, char *const *argv,
                                  int *i, struct pc_err *err)
{
    const char *word = argv[*i] + 2, *equals = strchr(word, '=');
    const char *name = equals != NULL ? piece(arena, word, equals) : word;
    const char *place = pc_arena_printf(arena, "--%s", name);
    const struct pc_option *option = find_option(args->verb, name);
    if (option == NULL)
        return no_such_option(arena, args->verb, name, err);
    if (!option->repeatable && given_already(args, option))
        return pc_fail(err, PC_MISUSE, place, "It was given twice; give it once.");
    struct reader r = {arena, args, option, equals != NULL ? equals + 1 : NULL};
    if (option->kind == PC_ARG_SWITCH) {
        if (r.text != NULL)
            return pc_fail(err, PC_MISUSE, place, "It takes no value.");
        add(&r, "");
        return PC_OK;
    }
    if (r.text == NULL) {
        if (*i + 1 >= argc || strncmp(argv[*i + 1], "--", 2) == 0)
            return pc_fail(err, PC_MISUSE, place, "Its value is missing: write --%s %s.", name,
                           option->metavar);
        r.text = argv[++*i];
    }
    return read_value(&r, place, err);
}

static enum pc_status check_whole(const struct pc_args *args, struct pc_err *err)
{
    const struct pc_verb *verb = args->verb;
    if (args->operand_count < verb->least_operands)
        return pc_fail(err, PC_MISUSE, verb->name, "It needs to be told what to look at: platecall %s %s.",
                       verb->name, verb->operands);
    if (args->operand_count > verb->most_operands)
        return pc_fail(err, PC_MISUSE, args->operands[verb->most_operands],
                       "This is one more than %s can take: platecall %s %s.", verb->name, verb->name,
                       verb->operands);
    for (size_t g = 0; verb->groups[g] != NULL; g++)
        for (size_t i = 0; i < verb->groups[g]->count; i++) {
            const struct pc_option *option = &verb->groups[g]->options[i];
            if (option->required && !given_already(args, option))
                return pc_fail(err, PC_MISUSE, verb->name, "It cannot do without --%s %s: %s.", option->name,
                               option->metavar, option->help);
        }
    return PC_OK;
}

enum pc_status pc_args_parse(struct pc_arena *arena, const struct pc_verb *verb, int argc, char *const *argv,
                             struct pc_args **args, bool *help, struct pc_err *err)
{
    struct pc_args *a = PC_NEW(arena, struct pc_args);
    a->verb = verb;
    a->last = &a->first;
    a->operands = PC_NEW_N(arena, (size_t)argc + 1, const char *);
    *args = a;
    *help = false;
    bool options_ended = false;
    for (int i = 0; i < argc && !options_ended; i++) {
        options_ended = strcmp(argv[i], "--") == 0;
        *help = *help || strcmp(argv[i], "--help") == 0;
    }
    if (*help)
        return PC_OK;
    options_ended = false;
    for (int i = 0; i < argc; i++) {
        const char *word = argv[i];
        if (options_ended || word[0] != '-')
            a->operands[a->operand_count++] = word;
        else if (strcmp(word, "--") == 0)
            options_ended = true;
        else if (word[1] == '-')
            PC_TRY(read_option(arena, a, argc, argv, &i, err));
        else
            return pc_fail(err, PC_MISUSE, word,
                           "Options are whole words with two dashes; a file of this name is written ./%s.",
                           word);
    }
    return check_whole(a, err);
}

static const struct given *nth(const struct pc_args *args, const char *option, size_t i)
{
    const struct pc_option *row = find_option(args->verb, option);
    PC_ASSERT(row != NULL);
    for (const struct given *given = args->first; given != NULL; given = given->next)
        if (given->option == row && i-- == 0)
            return given;
    return NULL;
}

bool pc_args_has(const struct pc_args *args, const char *option)
{
    return nth(args, option, 0) != NULL;
}

size_t pc_args_count(const struct pc_args *args, const char *option)
{
    size_t n = 0;
    while (nth(args, option, n) != NULL)
        n++;
    return n;
}

const struct pc_arg *pc_args_at(const struct pc_args *args, const char *option, size_t i)
{
    const struct given *given = nth(args, option, i);
    PC_ASSERT(given != NULL);
    return &given->arg;
}

const char *pc_args_text(const struct pc_args *args, const char *option)
{
    const struct given *given = nth(args, option, 0);
    return given != NULL ? given->arg.text : NULL;
}

bool pc_args_number(const struct pc_args *args, const char *option, double *value)
{
    const struct given *given = nth(args, option, 0);
    if (given == NULL)
        return false;
    *value = given->arg.value[0];
    return true;
}

bool pc_args_pair(const struct pc_args *args, const char *option, double *x, double *y)
{
    const struct given *given = nth(args, option, 0);
    if (given == NULL)
        return false;
    *x = given->arg.value[0];
    *y = given->arg.value[1];
    return true;
}

size_t pc_args_operand_count(const struct pc_args *args)
{
    return args->operand_count;
}

const char *pc_args_operand(const struct pc_args *args, size_t i)
{
    PC_ASSERT(i < args->operand_count);
    return args->operands[i];
}
