// SPDX-License-Identifier: Apache-2.0
// What `glare` was asked, from options, place and kit.
#include "front/cli/glare.h"

#include "base/units.h"

#define CM                 0.01
#define AWAY_M             0.9
#define ACROSS_M           0.24
#define TURN_TOLERANCE_DEG 2.0 // of facing a window by eye
#define ANGLE_DEG          30.0
#define CLOCK_H_PER_RAD    (6 / PC_PI)

// One window straight ahead, told on the command line.
static enum pc_status tell_window(struct pc_cli *cli, struct pc_site *site, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    double width_cm, height_cm, sill_cm, wall_cm;
    if (!pc_args_pair(args, "window-cm", &width_cm, &height_cm) ||
        !pc_args_number(args, "sill-cm", &sill_cm) || !pc_args_number(args, "wall-cm", &wall_cm))
        return pc_fail(err, PC_MISUSE, "glare",
                       "It needs the windows: a place file with --site, or one straight ahead with "
                       "--window-cm, --sill-cm "
                       "and --wall-cm.");
    if (pc_args_has(args, "facing") || pc_args_has(args, "looking"))
        return pc_fail(err, PC_MISUSE, "--window-cm",
                       "It is straight ahead; leave --facing and --looking out.");
    site->windows = PC_NEW(cli->arena, struct pc_window);
    site->window_count = 1;
    site->windows[0] = (struct pc_window){.name = "the window",
                                          .width_m = width_cm * CM,
                                          .height_m = height_cm * CM,
                                          .sill_m = sill_cm * CM,
                                          .from_table_m = wall_cm * CM,
                                          .blind = PC_BLIND_NONE};
    double table_cm;
    if (pc_args_number(args, "table-cm", &table_cm)) {
        site->table.height_m = table_cm * CM;
        site->table.height_m_tolerance = PC_GLARE_TOLERANCE_M / 2;
    }
    return PC_OK;
}

static enum pc_status gather_site(struct pc_cli *cli, struct pc_site *site, struct pc_err *err)
{
    static const char *const told[] = {"window-cm", "sill-cm", "wall-cm", "table-cm"};
    if (!pc_args_has(cli->args, "site")) {
        pc_site_default(site);
        return tell_window(cli, site, err);
    }
    for (size_t i = 0; i < PC_COUNT(told); i++)
        if (pc_args_has(cli->args, told[i]))
            return pc_fail(err, PC_MISUSE, "--site",
                           "The place file tells windows and table; leave --%s out.", told[i]);
    return pc_site_read(cli->arena, pc_args_text(cli->args, "site"), site, err);
}

// Windows straight ahead, by name or by where the camera looks.
static enum pc_status gather_looking(struct pc_cli *cli, struct pc_cli_glare_asked *asked,
                                     double *looking_rad, struct pc_err *err)
{
    double deg;
    const struct pc_site *site = asked->site;
    asked->facing = pc_args_text(cli->args, "facing");
    bool looks = pc_args_number(cli->args, "looking", &deg);
    if (looks && asked->facing != NULL)
        return pc_fail(err, PC_MISUSE, "--looking", "Give it or --facing, not both.");
    if (!pc_args_has(cli->args, "site"))
        asked->facing = site->windows[0].name;
    if (!looks && asked->facing == NULL)
        return pc_fail(
            err, PC_MISUSE, "glare",
            "It needs to know where the camera looks: --facing with a window's name, or --looking with a "
            "bearing.");
    *looking_rad = looks ? pc_rad_from_deg(deg) : 0.0;
    asked->scene.turn_rad_tolerance = pc_rad_from_deg(TURN_TOLERANCE_DEG);
    for (size_t i = 0; looks && i < site->window_count; i++)
        asked->scene.turn_rad_tolerance =
            fmax(asked->scene.turn_rad_tolerance, site->windows[i].facing_rad_tolerance);
    if (looks)
        return PC_OK;
    const struct pc_window *window = pc_site_window(site, asked->facing);
    if (window != NULL) {
        *looking_rad = window->facing_rad;
        return PC_OK;
    }
    const char **names = PC_NEW_N(cli->arena, site->window_count + 1, const char *);
    for (size_t i = 0; i < site->window_count; i++)
        names[i] = site->windows[i].name;
    return pc_args_no_such(err, "window", asked->facing, names, site->window_count, "");
}

static enum pc_status gather_surface(struct pc_cli *cli, struct pc_cli_glare_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_glare_scene *scene = &asked->scene;
    double above_cm = 0.0, across_cm = ACROSS_M / CM, tilt_deg = 0.0, clock_h = 6.0, sheet_cm[2];
    bool sheet = pc_args_pair(args, "sheet-cm", &sheet_cm[0], &sheet_cm[1]);
    pc_args_number(args, "above-cm", &above_cm);
    pc_args_number(args, "tilt", &tilt_deg);
    pc_args_number(args, "faces", &clock_h);
    if (pc_args_number(args, "across-cm", &across_cm) && sheet)
        return pc_fail(err, PC_MISUSE, "--sheet-cm", "Give it or --across-cm, not both.");
    scene->radius_m = sheet ? (double)NAN : across_cm * CM / 2;
    scene->across_m = sheet ? sheet_cm[0] * CM : (double)NAN;
    scene->along_m = sheet ? sheet_cm[1] * CM : (double)NAN;
    scene->height_m = asked->table_m + above_cm * CM;
    scene->height_m_tolerance = asked->site->table.height_m_tolerance;
    scene->tilt_rad = pc_rad_from_deg(tilt_deg);
    scene->facing_rad = clock_h / CLOCK_H_PER_RAD;
    const char *name = pc_args_has(args, "gloss") ? pc_args_text(args, "gloss") : pc_glosses[0].name;
    asked->gloss = pc_gloss_find(name);
    if (asked->gloss != NULL)
        return PC_OK;
    const char **names = PC_NEW_N(cli->arena, (size_t)pc_gloss_count, const char *);
    for (int i = 0; i < pc_gloss_count; i++)
        names[i] = pc_glosses[i].name;
    return pc_args_no_such(err, "glossy surface", name, names, (size_t)pc_gloss_count, "");
}

enum pc_status pc_cli_glare_gather(struct pc_cli *cli, struct pc_cli_glare_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    struct pc_site *site = PC_NEW(cli->arena, struct pc_site);
    struct pc_kit *kit = PC_NEW(cli->arena, struct pc_kit);
    double looking_rad, away_cm = AWAY_M / CM, deg = ANGLE_DEG;
    *asked = (struct pc_cli_glare_asked){.site = site, .kit = kit};
    PC_TRY(gather_site(cli, site, err));
    if (pc_args_has(args, "kit"))
        PC_TRY(pc_kit_read(cli->arena, pc_args_text(args, "kit"), kit, err));
    else if (pc_args_has(args, "stands"))
        return pc_fail(err, PC_MISUSE, "--stands",
                       "How large it is stands in the kit file; name that with --kit.");
    asked->table_m = site->table.height_m;
    PC_TRY(gather_looking(cli, asked, &looking_rad, err));
    PC_TRY(gather_surface(cli, asked, err));
    pc_args_number(args, "away-cm", &away_cm);
    pc_args_number(args, "angle", &deg);
    struct pc_glare_scene *scene = &asked->scene;
    scene->distance_m = away_cm * CM;
    scene->distance_m_tolerance = PC_GLARE_TOLERANCE_M;
    scene->elevation_rad = pc_rad_from_deg(deg);
    scene->elevation_rad_tolerance = PC_GLARE_ANGLE_TOLERANCE_RAD;
    scene->source_m_tolerance = PC_GLARE_TOLERANCE_M;
    PC_TRY(pc_glare_add_windows(scene, site, looking_rad, err));
    for (size_t i = 0; i < pc_args_count(args, "stands"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "stands", i);
        PC_TRY(pc_glare_add_stand(cli->arena, scene, kit, arg->name, arg->value[0], arg->value[1] * CM,
                                  arg->value[2] * CM, asked->table_m, err));
    }
    return PC_OK;
}
