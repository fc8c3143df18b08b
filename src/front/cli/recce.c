// SPDX-License-Identifier: Apache-2.0
// The verb `recce`: what a place can and cannot do, from four numbers or two files.
#include "front/cli/verbs.h"

#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/outlet.h"
#include "front/cli/print.h"
#include "shoot/advise/recce.h"

#define CM             0.01
#define TAPED_M        0.01 // a height or a distance typed here was taped
#define TAPED_WINDOW_M 0.03

static const struct pc_option place_options[] = {
    {.name = "ceiling-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "height of the ceiling over the table",
     .least = 1.5,
     .most = 30,
     .otherwise = "as the place file says, or 2.5 within 0.3"},
    {.name = "table-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "height of the table",
     .least = 0.1,
     .most = 2,
     .otherwise = "as the place file says, or 0.75 within 0.05"},
    {.name = "from-table-m",
     .kind = PC_ARG_NUMBER,
     .metavar = "M",
     .help = "from the middle of the table to the window's wall",
     .least = 0.1,
     .most = 50,
     .otherwise = "as the place file says, or 1.5 within 0.7"},
    {.name = "window-m",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "width and height of the window's glass",
     .least = 0.1,
     .most = 20,
     .otherwise = "as the place file says, or no window"},
};
static const struct pc_option_group place_group = {"Four numbers, where there is no place file",
                                                   place_options, PC_COUNT(place_options)};

static const struct pc_option wanted_options[] = {
    {.name = "wide-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "width of a picture wanted from straight above",
     .least = 1,
     .most = 2000},
    {.name = "surface-stops",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "how far under the hero the darkest surface is to lie, in light",
     .least = 0.1,
     .most = 12,
     .otherwise = "3, as the dark way has it"},
};
static const struct pc_option looks_options[] = {
    {.name = "angle",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "an angle of the looks: how far the camera looks down, 90 is straight down",
     .least = 1,
     .most = 90,
     .repeatable = true,
     .otherwise = "10, 45 and 90: straight on, three-quarter, overhead"},
    {.name = "deep-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "depth of a stack that is to be sharp from front to back",
     .least = 0.5,
     .most = 200,
     .otherwise = "16"},
};
static const struct pc_option_group looks_group = {"The looks", looks_options, PC_COUNT(looks_options)};

static const struct pc_option_group wanted_group = {"What is wanted of it", wanted_options,
                                                    PC_COUNT(wanted_options)};

static const struct pc_option_group *const groups[] = {
    &place_group, &pc_options_site,   &pc_options_kit,  &wanted_group,
    &looks_group, &pc_options_outlet, &pc_options_json, NULL};

static void take(const struct pc_args *args, const char *option, double *value, double *tolerance)
{
    if (pc_args_number(args, option, value))
        *tolerance = TAPED_M;
}

static enum pc_status gather_site(struct pc_cli *cli, struct pc_site *site, struct pc_err *err)
{
    static const char one_window[] = "{\"windows\": [{\"name\": \"the window\"}]}";
    const struct pc_args *args = cli->args;
    pc_site_default(site);
    if (pc_args_has(args, "site"))
        PC_TRY(pc_site_read(cli->arena, pc_args_text(args, "site"), site, err));
    else if (pc_args_has(args, "window-m") || pc_args_has(args, "from-table-m"))
        PC_TRY(pc_site_read_text(cli->arena, one_window, sizeof one_window - 1, "a window", site, err));
    take(args, "ceiling-m", &site->ceiling_m, &site->ceiling_m_tolerance);
    take(args, "table-m", &site->table.height_m, &site->table.height_m_tolerance);
    if (site->table.height_m >= site->ceiling_m)
        return pc_fail(err, PC_MISUSE, "--table-m", "The table is as high as the ceiling; check both.");
    if (site->window_count == 0 && (pc_args_has(args, "window-m") || pc_args_has(args, "from-table-m")))
        return pc_fail(err, PC_MISUSE, "--window-m", "The place file has no window; put it there.");
    if (site->window_count == 0)
        return PC_OK;
    struct pc_window *window = &site->windows[0];
    take(args, "from-table-m", &window->from_table_m, &window->from_table_m_tolerance);
    if (pc_args_pair(args, "window-m", &window->width_m, &window->height_m))
        window->width_m_tolerance = window->height_m_tolerance = TAPED_WINDOW_M;
    return PC_OK;
}

static enum pc_status gather(struct pc_cli *cli, struct pc_recce_wish *wish, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    struct pc_site *site = PC_NEW(cli->arena, struct pc_site);
    *wish = (struct pc_recce_wish){.kit = kit, .site = site, .wide_m = NAN, .surface_ev = NAN, .deep_m = NAN};
    if (pc_args_has(args, "kit"))
        PC_TRY(pc_kit_read(cli->arena, pc_args_text(args, "kit"), kit, err));
    else
        pc_recce_usual_kit(cli->arena, kit);
    PC_TRY(gather_site(cli, site, err));
    PC_TRY(pc_cli_outlet(cli, &wish->outlet, err));
    if (pc_args_number(args, "wide-cm", &wish->wide_m))
        wish->wide_m *= CM;
    pc_args_number(args, "surface-stops", &wish->surface_ev);
    if (pc_args_number(args, "deep-cm", &wish->deep_m))
        wish->deep_m *= CM;
    wish->angle_count = pc_args_count(args, "angle");
    if (wish->angle_count > PC_RECCE_ANGLES_MAX)
        return pc_fail(err, PC_MISUSE, "--angle", "It can be told of %d angles at once.",
                       PC_RECCE_ANGLES_MAX);
    for (size_t i = 0; i < wish->angle_count; i++)
        wish->angle_rad[i] = pc_rad_from_deg(pc_args_at(args, "angle", i)->value[0]);
    if (wish->outlet != NULL && isnan(wish->wide_m))
        return pc_fail(err, PC_MISUSE, "--outlet",
                       "Say with --wide-cm how wide the picture on the table is to be.");
    return PC_OK;
}

static const char *const verdicts[] = {
    [PC_VERDICT_CAN] = "can", [PC_VERDICT_PERHAPS] = "perhaps", [PC_VERDICT_CANNOT] = "cannot"};

static void print(struct pc_cli *cli, const struct pc_recce_wish *wish, const struct pc_recce *recce)
{
    const char *paragraph = "";
    for (size_t i = 0; i < recce->count; i++)
        paragraph =
            pc_arena_printf(cli->arena, "%s%s%s", paragraph, i > 0 ? " " : "", recce->finding[i].sentence);
    fprintf(cli->out, "What %s allows\n\n", wish->site->name != NULL ? wish->site->name : "this place");
    pc_print_wrapped(cli->out, 0, 0, paragraph);
    bool told[PC_CAUTION_COUNT] = {false};
    for (size_t i = 0; i < recce->count; i++) {
        int caution = recce->finding[i].caution;
        if (caution < 0 || told[caution])
            continue;
        fputc('\n', cli->out);
        pc_print_sentence(cli->out, "%s", pc_caution_text((enum pc_caution)caution));
        told[caution] = true;
    }
}

static struct pc_json *reaches_json(const struct pc_recce *recce)
{
    struct pc_json *a = pc_json_array();
    for (size_t i = 0; i < recce->reach_count; i++) {
        const struct pc_recce_reach *reach = &recce->reach[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "camera", reach->camera->name);
        pc_json_put_text(o, "lens", reach->lens->name);
        pc_json_put_text(o, "support", reach->support->name);
        pc_json_put_number(o, "support_m", reach->support->height_m, 3);
        pc_json_put_number(o, "widest_low_m", reach->width_m.low, 3);
        pc_json_put_number(o, "widest_high_m", reach->width_m.high, 3);
        pc_json_add(a, o);
    }
    return a;
}

static struct pc_json *recce_json(const struct pc_recce_wish *wish, const struct pc_recce *recce)
{
    struct pc_json *o = pc_json_object(), *a = pc_json_array();
    pc_json_put_text(o, "place", wish->site->name);
    for (size_t i = 0; i < recce->count; i++) {
        const struct pc_recce_finding *finding = &recce->finding[i];
        struct pc_json *f = pc_json_object();
        pc_json_put_text(f, "finding", finding->key);
        pc_json_put_text(f, "verdict", verdicts[finding->verdict]);
        pc_json_put_number(f, "low", finding->range.low, 3);
        pc_json_put_number(f, "high", finding->range.high, 3);
        pc_json_put_text(f, "unit", finding->unit);
        pc_json_put_text(f, "limit", finding->limit);
        pc_json_put_text(f, "sentence", finding->sentence);
        pc_json_put_text(f, "caution",
                         finding->caution < 0 ? NULL : pc_caution_key((enum pc_caution)finding->caution));
        pc_json_add(a, f);
    }
    pc_json_put(o, "findings", a);
    pc_json_put(o, "straight_down", reaches_json(recce));
    return o;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_recce_wish wish;
    struct pc_recce *recce = PC_NEW(cli->arena, struct pc_recce);
    PC_TRY(gather(cli, &wish, err));
    PC_TRY(pc_recce_find(cli->arena, &wish, recce, err));
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, recce_json(&wish, recce));
    else
        print(cli, &wish, recce);
    return PC_OK;
}

const struct pc_verb pc_verb_recce = {
    .name = "recce",
    .question = "what does this place allow?",
    .about =
        "Tells what a place can and cannot do for a kit: how wide a picture straight down the ceiling "
        "lets be, how much "
        "light the window brings, how dark a surface can get, what the sun does on that day, what a soup "
        "mirrors and how much of a stack is sharp at the looks' angles, what the circuit carries. "
        "Each is a range, and the limit has a name.\n"
        "Four numbers will do, asked for over the telephone: the ceiling, the table's height, how far "
        "the window is and "
        "how large. Whatever kit and place file say besides makes the ranges narrower.",
    .hour = PC_HOUR_RECCE,
    .operands = "",
    .groups = groups,
    .run = run,
};
