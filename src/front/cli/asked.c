// SPDX-License-Identifier: Apache-2.0
#include "front/cli/asked.h"

#include <sys/stat.h>

#include "base/file.h"
#include "front/cli/print.h"

struct frames {
    const char **paths;
    size_t count;
    const char *folder;
};

static bool is_folder(const char *path)
{
    struct stat st;
    return stat(path, &st) == 0 && S_ISDIR(st.st_mode);
}

static enum pc_status list_frames(struct pc_cli *cli, struct frames *frames, struct pc_err *err)
{
    size_t n = pc_args_operand_count(cli->args);
    if (n == 1 && is_folder(pc_args_operand(cli->args, 0))) {
        char **paths;
        frames->folder = pc_args_operand(cli->args, 0);
        PC_TRY(pc_file_list(cli->arena, frames->folder, &paths, &frames->count, err));
        frames->paths = PC_NEW_N(cli->arena, frames->count + 1, const char *);
        for (size_t i = 0; i < frames->count; i++)
            frames->paths[i] = paths[i];
        return PC_OK;
    }
    frames->paths = PC_NEW_N(cli->arena, n + 1, const char *);
    frames->count = n;
    for (size_t i = 0; i < n; i++) {
        frames->paths[i] = pc_args_operand(cli->args, i);
        struct stat st;
        if (stat(frames->paths[i], &st) != 0)
            return pc_fail(err, PC_NOT_FOUND, frames->paths[i], "There is no file or folder of this name.");
        if (is_folder(frames->paths[i]))
            return pc_fail(err, PC_MISUSE, frames->paths[i], "Name one folder, or frames one by one.");
    }
    return PC_OK;
}

// A frame named by an option may be given as it stands or as a name inside the folder.
static const char *find_frame(struct pc_cli *cli, const struct frames *frames, const char *path)
{
    struct stat st;
    if (frames->folder == NULL || stat(path, &st) == 0)
        for (size_t i = 0; i < frames->count; i++) {
            struct stat other;
            if (strcmp(frames->paths[i], path) == 0 ||
                (stat(path, &st) == 0 && stat(frames->paths[i], &other) == 0 && st.st_ino == other.st_ino &&
                 st.st_dev == other.st_dev))
                return frames->paths[i];
        }
    if (frames->folder == NULL)
        return path;
    const char *inside = pc_arena_printf(cli->arena, "%s/%s", frames->folder, path);
    for (size_t i = 0; i < frames->count; i++)
        if (strcmp(pc_file_name(frames->paths[i]), path) == 0)
            return frames->paths[i];
    return stat(path, &st) == 0 ? path : inside;
}

static int gather_said(struct pc_cli *cli, const struct frames *frames, const struct pc_said **all)
{
    const struct pc_args *args = cli->args;
    size_t most =
        pc_args_count(args, "ambient") + pc_args_count(args, "light") + pc_args_count(args, "flash");
    struct pc_said *said = PC_NEW_N(cli->arena, most + 1, struct pc_said);
    int n = 0;
    *all = said;
    for (size_t i = 0; i < pc_args_count(args, "ambient"); i++)
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, pc_args_at(args, "ambient", i)->path),
                                     .role = PC_ROLE_AMBIENT,
                                     .dial_ratio = NAN,
                                     .kelvin_K = NAN};
    for (size_t i = 0; i < pc_args_count(args, "light"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "light", i);
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, arg->path),
                                     .role = PC_ROLE_LIGHT,
                                     .light = arg->name,
                                     .dial_ratio = arg->dial_ratio,
                                     .kelvin_K = arg->kelvin_K};
    }
    for (size_t i = 0; i < pc_args_count(args, "flash"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "flash", i);
        said[n++] = (struct pc_said){.path = find_frame(cli, frames, arg->path),
                                     .role = PC_ROLE_FLASH,
                                     .light = arg->name,
                                     .dial_ratio = NAN,
                                     .kelvin_K = NAN};
    }
    return n;
}

static enum pc_status gather_places(struct pc_cli *cli, struct pc_asked *asked, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    double x, y;
    PC_ASSERT(pc_args_pair(args, "hero", &x, &y));
    PC_TRY(pc_asked_add_place(asked, "hero", x, y, err));
    PC_ASSERT(pc_args_pair(args, "surface", &x, &y));
    PC_TRY(pc_asked_add_place(asked, "surface", x, y, err));
    for (size_t i = 0; i < pc_args_count(args, "place"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "place", i);
        PC_TRY(pc_asked_add_place(asked, arg->name, arg->value[0], arg->value[1], err));
    }
    if (pc_args_pair(args, "greycard", &x, &y)) {
        asked->greycard = asked->place_count;
        PC_TRY(pc_asked_add_place(asked, "grey card", x, y, err));
    }
    return PC_OK;
}

static void gather_cards(struct pc_cli *cli, struct pc_asked *asked)
{
    size_t n = pc_args_count(cli->args, "card");
    struct pc_asked_card *cards = PC_NEW_N(cli->arena, n + 1, struct pc_asked_card);
    for (size_t i = 0; i < n; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "card", i);
        cards[i] = (struct pc_asked_card){arg->name, arg->value[0], arg->value[1]};
    }
    asked->card = cards;
    asked->card_count = (int)n;
}

static void gather_dials(struct pc_cli *cli, struct pc_asked *asked)
{
    size_t n = pc_args_count(cli->args, "dials");
    struct pc_asked_dial *dials = PC_NEW_N(cli->arena, n + 1, struct pc_asked_dial);
    for (size_t i = 0; i < n; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "dials", i);
        dials[i] = (struct pc_asked_dial){arg->name, arg->value[0], arg->kelvin_K};
    }
    asked->dial = dials;
    asked->dial_count = (int)n;
    pc_args_number(cli->args, "shutter", &asked->shutter_s);
}

static void gather_limits(struct pc_cli *cli, struct pc_asked *asked)
{
    static const struct {
        const char *option;
        enum pc_asked_limit_kind kind;
        double unit;
    } kinds[] = {{"cap", PC_LIMIT_CAP, 0.01},
                 {"least", PC_LIMIT_LEAST, 0.01},
                 {"kelvin", PC_LIMIT_KELVIN, 1.0},
                 {"leave", PC_LIMIT_LEAVE, 1.0}};
    size_t most = 0;
    for (size_t k = 0; k < PC_COUNT(kinds); k++)
        most += pc_args_count(cli->args, kinds[k].option);
    struct pc_asked_limit *limits = PC_NEW_N(cli->arena, most + 1, struct pc_asked_limit);
    int n = 0;
    for (size_t k = 0; k < PC_COUNT(kinds); k++)
        for (size_t i = 0; i < pc_args_count(cli->args, kinds[k].option); i++) {
            const struct pc_arg *arg = pc_args_at(cli->args, kinds[k].option, i);
            limits[n++] = (struct pc_asked_limit){
                kinds[k].kind, arg->name, {kinds[k].unit * arg->value[0], kinds[k].unit * arg->value[1]}};
        }
    asked->limit = limits;
    asked->limit_count = n;
    double step_pct;
    if (pc_args_number(cli->args, "step", &step_pct))
        asked->step_ratio = 0.01 * step_pct;
}

enum pc_status pc_cli_asked(struct pc_cli *cli, bool with_setting, struct pc_asked *asked, struct pc_err *err)
{
    struct frames frames = {0};
    pc_asked_init(asked);
    asked->prefix = "--";
    PC_TRY(gather_places(cli, asked, err));
    PC_TRY(list_frames(cli, &frames, err));
    const char *actual = with_setting ? pc_args_text(cli->args, "actual") : NULL;
    asked->paths = frames.paths;
    asked->path_count = (int)frames.count;
    asked->folder = frames.folder;
    asked->actual = actual != NULL ? find_frame(cli, &frames, actual) : NULL;
    asked->said_count = gather_said(cli, &frames, &asked->said);
    asked->linear = pc_args_has(cli->args, "linear");
    gather_cards(cli, asked);
    gather_limits(cli, asked);
    if (with_setting)
        gather_dials(cli, asked);
    return PC_OK;
}

void pc_cli_print_notes(const struct pc_measured *measured, FILE *out)
{
    for (int i = 0; i < measured->notes.count; i++)
        pc_print_sentence(out, "%s", measured->notes.text[i]);
}

const char *pc_cli_dial_text(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                             char out[32])
{
    double pct = 100.0 * dials->dial_ratio[light];
    int decimals = pct > 0.0 && pct < 9.95 ? 1 : 0;
    if (reading->light[light].emitter_count == 2 && pct > 0.0)
        snprintf(out, 32, "%.*f %% at %.0f K", decimals, pct, 50.0 * round(dials->kelvin_K[light] / 50.0));
    else
        snprintf(out, 32, "%.*f %%", decimals, pct);
    return out;
}

void pc_cli_print_trust(const struct pc_reading *reading, FILE *out)
{
    double best = INFINITY, worst = 0.0;
    for (int i = 0; i < reading->light_count; i++) {
        best = fmin(best, reading->light[i].curve.tolerance_pct);
        worst = fmax(worst, reading->light[i].curve.tolerance_pct);
    }
    if (worst >= pc_curve_straight().tolerance_pct)
        pc_print_sentence(
            out,
            "Dials are taken as straight lines%s, good to %.0f %% of the light; frames of a light at four "
            "or more dials (--light) bring that to 3 %%.",
            best < worst ? " where a light was taken at one dial only" : "", worst);
    else
        pc_print_sentence(
            out, "Dials follow the curves measured in the frames, good to %.0f %% of the light.", worst);
}
