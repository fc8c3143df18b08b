// SPDX-License-Identifier: Apache-2.0
// The verb `glare`: what does the soup show?
#include "front/cli/glare.h"

#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"
#include "light/kit/class.h"

#define CM 0.01

struct found {
    struct pc_glare glare;
    struct pc_mirrored mirrored;
    double best_deg; // elevation at which a polariser takes all; NAN for metal
};

static const char cannot_tell[] = "On what is lumpy, skinned, foaming or rippled every lump is a mirror that "
                                  "leans its own way, so what it shows cannot "
                                  "be told beforehand: look through the camera with a stand-in on the table.";

// Flat or not: what it is, or what is said of it.
static enum pc_status is_lumpy(struct pc_cli *cli, bool *lumpy, struct pc_err *err)
{
    const char *dish = pc_args_text(cli->args, "dish");
    *lumpy = pc_args_has(cli->args, "lumpy");
    for (size_t i = 0; dish != NULL && i < pc_dish_class_count; i++)
        if (strcmp(pc_dish_classes[i].name, dish) == 0) {
            *lumpy |= !pc_dish_classes[i].flat_gloss;
            return PC_OK;
        }
    return dish == NULL
               ? PC_OK
               : pc_args_no_such(err, "kind of dish", dish, pc_dish_class_names, pc_dish_class_count, "");
}

static void say_shares(struct pc_cli *cli, const struct pc_cli_glare_asked *asked, const struct found *found)
{
    const struct pc_glare *glare = &found->glare;
    char a[PC_FIGURE_BYTES];
    double deg = pc_deg_from_rad(asked->scene.elevation_rad);
    if (glare->clear)
        pc_print_sentence(cli->out, "At %.0f degrees the %s shows no window%s%s.", deg, asked->gloss->name,
                          asked->scene.sources > (int)asked->site->window_count ? ", panel or card" : "",
                          glare->share_ratio_tolerance > 0
                              ? pc_arena_printf(cli->arena, ", though as measured up to %.0f %% of it might",
                                                fmin(100, ceil(100 * glare->share_ratio_tolerance)))
                              : "");
    int showing = 0;
    for (int i = 0; i < asked->scene.sources; i++)
        if (glare->source_ratio[i] > 0 && ++showing > 0)
            pc_print_sentence(cli->out, "At %.0f degrees %s covers %s of the %s.", deg,
                              asked->scene.source[i].name,
                              pc_print_share(a, glare->source_ratio[i], glare->source_ratio_tolerance[i]),
                              asked->gloss->name);
    if (showing > 1)
        pc_print_sentence(cli->out, "Together %s.",
                          pc_print_share(a, glare->share_ratio, glare->share_ratio_tolerance));
}

static const char *blinds(struct pc_cli *cli, const struct pc_cli_glare_asked *asked,
                          const struct pc_glare *glare)
{
    const char *list = "";
    for (size_t i = 0; i < asked->site->window_count; i++)
        if (glare->source_ratio[i] > 0 && asked->site->windows[i].blind != PC_BLIND_NONE)
            list = pc_arena_printf(cli->arena, "%s%s%s", list, list[0] != '\0' ? " and " : "",
                                   asked->site->windows[i].name);
    return list;
}

// "55.9 ± 1.8 degrees (58 to be sure)".
static const char *edge_text(struct pc_cli *cli, const struct pc_glare_edge *edge, enum pc_glare_way way,
                             bool clear)
{
    double deg = fabs(pc_deg_from_rad(edge->to_rad)), tolerance = pc_deg_from_rad(edge->to_rad_tolerance);
    char a[PC_FIGURE_BYTES];
    if (!isfinite(tolerance))
        return pc_arena_printf(cli->arena, "about %.0f degrees", deg);
    double sure = way == PC_GLARE_LOWER ? floor(deg - tolerance) : ceil(deg + tolerance);
    bool there = !clear && sure > 0 && (sure < 90 || way >= PC_GLARE_CLOCKWISE);
    return pc_arena_printf(cli->arena, "%s degrees%s", pc_print_figure(a, deg, tolerance),
                           there ? pc_arena_printf(cli->arena, " (%.0f to be sure)", sure) : "");
}

static void say_way(struct pc_cli *cli, const struct pc_glare_edge *edge, enum pc_glare_way way, bool clear)
{
    const char *to = edge_text(cli, edge, way, clear),
               *then = clear ? "it would begin to show" : "it is gone";
    double cm = fabs(edge->by_m) / CM;
    switch (way) {
    case PC_GLARE_RAISE:
        pc_print_sentence(cli->out, "Raise the camera to %s, %.0f cm higher and as far off, and %s.", to, cm,
                          then);
        break;
    case PC_GLARE_LOWER:
        pc_print_sentence(cli->out, "Lower the camera to %s, %.0f cm lower and as far off, and %s.", to, cm,
                          then);
        break;
    case PC_GLARE_CLOCKWISE:
        pc_print_sentence(
            cli->out,
            "Go round the hero clockwise by %s, %.0f cm, or turn the set as far the other way, and %s.", to,
            cm, then);
        break;
    default:
        pc_print_sentence(cli->out, "Go round it anticlockwise by %s, %.0f cm, and %s.", to, cm, then);
    }
}

static void say_ways(struct pc_cli *cli, const struct pc_cli_glare_asked *asked, const struct pc_glare *glare)
{
    bool any = false;
    for (enum pc_glare_way way = 0; way < PC_GLARE_WAYS; way++)
        if (glare->edge[way].found) {
            any = true;
            say_way(cli, &glare->edge[way], way, glare->clear);
        }
    if (glare->clear)
        return;
    const char *blind = blinds(cli, asked, glare);
    if (blind[0] != '\0')
        pc_print_sentence(cli->out, "Or let down the blind of %s, and light it otherwise.", blind);
    else if (!any)
        pc_print_sentence(
            cli->out, "No height and no side is clear from this distance: take away or flag what it shows.");
}

static void say_mirrored(struct pc_cli *cli, const struct pc_cli_glare_asked *asked,
                         const struct found *found)
{
    const struct pc_mirrored *mirrored = &found->mirrored;
    char a[PC_FIGURE_BYTES], b[PC_FIGURE_BYTES];
    pc_print_share(a, mirrored->plain_ratio, mirrored->plain_ratio_tolerance);
    pc_print_share(b, mirrored->filtered_ratio, mirrored->filtered_ratio_tolerance);
    if (asked->gloss->absorption > 0) {
        pc_print_sentence(cli->out,
                          "It mirrors %s of what it shows at this angle, and %s through a polariser: metal "
                          "hardly cares for one. Flag it, or turn it away.",
                          a, b);
        return;
    }
    pc_print_sentence(
        cli->out,
        "It mirrors %s of what it shows at this angle, and through a polariser turned against that "
        "%s, beside food seen through the same filter.",
        a, b);
    if (asked->scene.tilt_rad == 0)
        pc_print_sentence(cli->out, "A polariser does most at %.0f degrees.", found->best_deg);
    if (asked->kit->polariser_count > 0)
        pc_print_sentence(cli->out, "The kit's %s costs %.1f stops.", asked->kit->polarisers[0].name,
                          asked->kit->polarisers[0].loss_ev);
}

static struct pc_json *edge_json(const struct pc_glare_edge *edge, bool round)
{
    struct pc_json *o = pc_json_object();
    pc_json_put_bool(o, "found", edge->found);
    pc_json_put_number(o, round ? "turn_deg" : "angle_deg", pc_deg_from_rad(edge->to_rad), 2);
    pc_json_put_number(o, round ? "turn_deg_tolerance" : "angle_deg_tolerance",
                       pc_deg_from_rad(edge->to_rad_tolerance), 2);
    pc_json_put_number(o, "by_cm", edge->by_m / CM, 1);
    return o;
}

static struct pc_json *found_json(const struct pc_cli_glare_asked *asked, const struct found *found)
{
    static const char *const ways[PC_GLARE_WAYS] = {"raise", "lower", "clockwise", "anticlockwise"};
    const struct pc_glare *glare = &found->glare;
    struct pc_json *o = pc_json_object(), *shows = pc_json_array(), *edges = pc_json_object();
    pc_json_put_bool(o, "can_tell", true);
    pc_json_put_text(o, "gloss", asked->gloss->name);
    pc_json_put_number(o, "angle_deg", pc_deg_from_rad(asked->scene.elevation_rad), 2);
    pc_json_put_number(o, "share_ratio", glare->share_ratio, 4);
    pc_json_put_number(o, "share_ratio_tolerance", glare->share_ratio_tolerance, 4);
    pc_json_put_bool(o, "clear", glare->clear);
    for (int i = 0; i < asked->scene.sources; i++) {
        struct pc_json *one = pc_json_object();
        pc_json_put_text(one, "name", asked->scene.source[i].name);
        pc_json_put_number(one, "share_ratio", glare->source_ratio[i], 4);
        pc_json_put_number(one, "share_ratio_tolerance", glare->source_ratio_tolerance[i], 4);
        pc_json_add(shows, one);
    }
    pc_json_put(o, "shows", shows);
    for (int way = 0; way < PC_GLARE_WAYS; way++)
        pc_json_put(edges, ways[way], edge_json(&glare->edge[way], way >= PC_GLARE_CLOCKWISE));
    pc_json_put(o, "edges", edges);
    pc_json_put_number(o, "incidence_deg", pc_deg_from_rad(glare->incidence_rad), 2);
    pc_json_put_number(o, "reflectance_pct", 100 * found->mirrored.plain_ratio, 3);
    pc_json_put_number(o, "reflectance_pct_tolerance", 100 * found->mirrored.plain_ratio_tolerance, 3);
    pc_json_put_number(o, "polarised_reflectance_pct", 100 * found->mirrored.filtered_ratio, 3);
    pc_json_put_number(o, "polarised_reflectance_pct_tolerance",
                       100 * found->mirrored.filtered_ratio_tolerance, 3);
    pc_json_put_number(o, "polariser_best_angle_deg", found->best_deg, 1);
    return o;
}

static const struct pc_option surface_options[] = {
    {.name = "gloss",
     .kind = PC_ARG_NAME,
     .metavar = "KIND",
     .help = "what is glossy: broth, wine, sauce, syrup, oil, glass, glaze or steel",
     .otherwise = "broth"},
    {.name = "dish",
     .kind = PC_ARG_NAME,
     .metavar = "CLASS",
     .help = "the class of dish: tells whether it lies flat"},
    {.name = "lumpy", .kind = PC_ARG_SWITCH, .help = "it is lumpy, skinned, foaming or rippled"},
    {.name = "across-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "a round one: how wide",
     .least = 0.1,
     .most = 500,
     .otherwise = "24"},
    {.name = "sheet-cm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "a flat sheet: level side, and the side up its slope",
     .least = 0.1,
     .most = 500},
    {.name = "above-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "its middle above the table",
     .least = 0,
     .most = 200,
     .otherwise = "0"},
    {.name = "tilt",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how far it leans: 0 lies, 90 stands",
     .least = 0,
     .most = 90,
     .otherwise = "0"},
    {.name = "faces",
     .kind = PC_ARG_NUMBER,
     .metavar = "CLOCK",
     .help = "where a leaning one faces, by the clock, the camera at six",
     .least = 0,
     .most = 12,
     .otherwise = "6"},
};
static const struct pc_option camera_options[] = {
    {.name = "facing",
     .kind = PC_ARG_NAME,
     .metavar = "WINDOW",
     .help = "the window that the camera looks towards"},
    {.name = "looking",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "or the bearing it looks to, from north, clockwise",
     .least = 0,
     .most = 360},
    {.name = "angle",
     .kind = PC_ARG_NUMBER,
     .metavar = "DEG",
     .help = "how far the camera looks down: 90 is straight down",
     .least = 1,
     .most = 90,
     .otherwise = "30"},
    {.name = "away-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "from the lens to the middle of the surface",
     .least = 5,
     .most = 2000,
     .otherwise = "90"},
};
static const struct pc_option stand_options[] = {
    {.name = "stands",
     .kind = PC_ARG_NAMED_STAND,
     .metavar = "NAME=CLOCK,CM,CM",
     .help = "a lamp, flash, scrim or card of the kit, by the clock (camera at six), along the floor from "
             "the hero, and above the "
             "table to its middle; it faces the hero",
     .repeatable = true},
};
static const struct pc_option site_options[] = {
    {.name = "site",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "the place file (docs/kit.md): its windows and its table, the hero in the middle of that"},
    {.name = "window-cm",
     .kind = PC_ARG_SIZE,
     .metavar = "WxH",
     .help = "without one: a window straight ahead",
     .least = 5,
     .most = 3000},
    {.name = "sill-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "its sill above the floor",
     .least = 0,
     .most = 1000},
    {.name = "wall-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "from the hero to its wall",
     .least = 5,
     .most = 5000},
    {.name = "table-cm",
     .kind = PC_ARG_NUMBER,
     .metavar = "CM",
     .help = "height of the table",
     .least = 2,
     .most = 300,
     .otherwise = "75"},
};
static const struct pc_option_group surface_group = {"The surface", surface_options,
                                                     PC_COUNT(surface_options)};
static const struct pc_option_group camera_group = {"The camera", camera_options, PC_COUNT(camera_options)};
static const struct pc_option_group stand_group = {"What stands around", stand_options,
                                                   PC_COUNT(stand_options)};
static const struct pc_option_group site_group = {"The place", site_options, PC_COUNT(site_options)};
static const struct pc_option_group *const groups[] = {&surface_group,   &camera_group, &site_group,
                                                       &pc_options_kit,  &stand_group,  &pc_options_section,
                                                       &pc_options_json, NULL};

static enum pc_status say_cannot_tell(struct pc_cli *cli)
{
    if (pc_args_has(cli->args, "json")) {
        struct pc_json *o = pc_json_object();
        pc_json_put_bool(o, "can_tell", false);
        pc_json_put_text(o, "why_not", cannot_tell);
        pc_cli_put_json(cli, o);
    } else {
        pc_print_sentence(cli->out, "%s", cannot_tell);
    }
    return PC_OK;
}

static enum pc_status draw(struct pc_cli *cli, const struct pc_cli_glare_asked *asked,
                           const struct pc_glare *glare, struct pc_err *err)
{
    struct pc_section section;
    if (asked->scene.tilt_rad > 0)
        return pc_fail(err, PC_MISUSE, "--section",
                       "Only a surface that lies flat can be drawn; leave --section out.");
    pc_glare_section(&asked->scene, glare, asked->site,
                     asked->facing != NULL ? pc_site_window(asked->site, asked->facing) : NULL, &section);
    section.title = pc_arena_printf(
        cli->arena, "%s%s%s at %.0f degrees", asked->gloss->name, asked->facing != NULL ? " facing " : "",
        asked->facing != NULL ? asked->facing : "", pc_deg_from_rad(asked->scene.elevation_rad));
    return pc_section_save(&section, pc_args_text(cli->args, "section"), err);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_cli_glare_asked asked;
    struct found found;
    bool lumpy;
    PC_TRY(is_lumpy(cli, &lumpy, err));
    PC_TRY(pc_cli_glare_gather(cli, &asked, err));
    if (lumpy)
        return say_cannot_tell(cli);
    PC_TRY(pc_glare_find(&asked.scene, &found.glare, err));
    found.mirrored =
        pc_fresnel_mirrored(asked.gloss, found.glare.incidence_rad, asked.scene.elevation_rad_tolerance);
    found.best_deg = asked.gloss->absorption > 0
                         ? (double)NAN
                         : 90 - pc_deg_from_rad(pc_fresnel_best_incidence_rad(asked.gloss));
    if (pc_args_has(cli->args, "section"))
        PC_TRY(draw(cli, &asked, &found.glare, err));
    if (pc_args_has(cli->args, "json")) {
        pc_cli_put_json(cli, found_json(&asked, &found));
        return PC_OK;
    }
    say_shares(cli, &asked, &found);
    say_ways(cli, &asked, &found.glare);
    if (!found.glare.clear)
        say_mirrored(cli, &asked, &found);
    return PC_OK;
}

const struct pc_verb pc_verb_glare = {
    .name = "glare",
    .question = "what does the soup show?",
    .about =
        "Tells how much of a flat glossy surface mirrors which window, panel or card to the camera, how far "
        "the camera "
        "has to rise, sink or go round to be rid of it, and how strong the reflection is with and without a "
        "polariser.\n"
        "Only of what lies or stands flat: broth, glaze, glass, a tray. Windows are taken to be known to 2 "
        "cm.",
    .hour = PC_HOUR_SETUP,
    .operands = "",
    .groups = groups,
    .run = run,
};
