// SPDX-License-Identifier: Apache-2.0
// The verb `selfcheck`: does this camera do what weighing takes for granted, and do these lights.
#include "front/cli/selfcheck.h"

#include <sys/stat.h>

#include "base/file.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/verbs.h"

// A frame may be named inside the folder, or as it stands.
static const char *find_frame(struct pc_cli *cli, const char *folder, const char *path)
{
    struct stat st;
    if (folder == NULL)
        return path;
    const char *inside = pc_arena_printf(cli->arena, "%s/%s", folder, path);
    return stat(inside, &st) != 0 && stat(path, &st) == 0 ? path : inside;
}

static enum pc_status find_folder(struct pc_cli *cli, const char **folder, struct pc_err *err)
{
    struct stat st;
    *folder = pc_args_operand_count(cli->args) > 0 ? pc_args_operand(cli->args, 0) : NULL;
    if (*folder == NULL)
        return PC_OK;
    if (stat(*folder, &st) != 0)
        return pc_fail(err, PC_NOT_FOUND, *folder, "There is no such folder.");
    if (!S_ISDIR(st.st_mode))
        return pc_fail(err, PC_MISUSE, *folder,
                       "Name the folder, and the frames in it with --light, --ambient and --together.");
    return PC_OK;
}

static bool is_together(const struct pc_selfcheck_together *together, int count, const char *path)
{
    for (int i = 0; i < count; i++)
        if (strcmp(together[i].path, path) == 0)
            return true;
    return false;
}

// Splits "key,fill"; names in the arena.
static enum pc_status split_names(struct pc_cli *cli, const char *names,
                                  struct pc_selfcheck_together *together, struct pc_err *err)
{
    for (char *name = pc_arena_strdup(cli->arena, names); name != NULL;) {
        char *comma = strchr(name, ',');
        if (comma != NULL)
            *comma++ = '\0';
        if (together->light_count == PC_LIGHTS_MAX)
            return pc_fail(err, PC_MISUSE, "--together", "There are more than %d lights.", PC_LIGHTS_MAX);
        together->light[together->light_count++] = name;
        name = comma;
    }
    if (together->light_count < 2)
        return pc_fail(err, PC_MISUSE, "--together", "Name at least two lights, or none for all of them.");
    return PC_OK;
}

static enum pc_status gather_together(struct pc_cli *cli, const char *folder,
                                      struct pc_selfcheck_together *together, int *count, struct pc_err *err)
{
    size_t n = pc_args_count(cli->args, "together");
    if (n > PC_SELFCHECK_TOGETHER_MAX)
        return pc_fail(err, PC_MISUSE, "--together", "It can be given %d times at most.",
                       PC_SELFCHECK_TOGETHER_MAX);
    for (size_t i = 0; i < n; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "together", i);
        together[i] = (struct pc_selfcheck_together){.path = find_frame(cli, folder, arg->path),
                                                     .dial_ratio = arg->dial_ratio};
        if (arg->name != NULL)
            PC_TRY(split_names(cli, arg->name, &together[i], err));
    }
    *count = (int)n;
    return PC_OK;
}

// Frames that were named; all of the folder where none was.
static enum pc_status gather_frames(struct pc_cli *cli, const char *folder,
                                    const struct pc_selfcheck_together *together, int together_count,
                                    struct pc_series_wish *wish, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    size_t ambient = pc_args_count(args, "ambient"), lights = pc_args_count(args, "light"), count = 0;
    struct pc_said *said = PC_NEW_N(cli->arena, ambient + lights + 1, struct pc_said);
    const char **paths = PC_NEW_N(cli->arena, ambient + lights + 1, const char *);
    for (size_t i = 0; i < ambient + lights; i++) {
        const struct pc_arg *arg =
            i < ambient ? pc_args_at(args, "ambient", i) : pc_args_at(args, "light", i - ambient);
        paths[count] = find_frame(cli, folder, arg->path);
        said[count] = (struct pc_said){.path = paths[count],
                                       .role = i < ambient ? PC_ROLE_AMBIENT : PC_ROLE_LIGHT,
                                       .light = i < ambient ? NULL : arg->name,
                                       .dial_ratio = i < ambient ? (double)NAN : arg->dial_ratio,
                                       .kelvin_K = i < ambient ? (double)NAN : arg->kelvin_K};
        for (size_t k = 0; k < count; k++)
            if (strcmp(paths[k], paths[count]) == 0)
                return pc_fail(err, PC_MISUSE, arg->path,
                               "This frame was named twice; each shows one thing.");
        if (is_together(together, together_count, paths[count]))
            return pc_fail(err, PC_MISUSE, arg->path, "This frame was named twice; each shows one thing.");
        count++;
    }
    if (count == 0 && folder != NULL) {
        char **listed;
        size_t n;
        PC_TRY(pc_file_list(cli->arena, folder, &listed, &n, err));
        paths = PC_NEW_N(cli->arena, n + 1, const char *);
        for (size_t i = 0; i < n; i++)
            if (!is_together(together, together_count, listed[i]))
                paths[count++] = listed[i];
        wish->said_count = 0;
    } else {
        wish->said_count = (int)count;
    }
    wish->said = said;
    wish->paths = paths;
    wish->path_count = (int)count;
    return PC_OK;
}

static enum pc_status run_check(struct pc_cli *cli, const char *folder, struct pc_selfchecked *found,
                                struct pc_err *err)
{
    struct pc_selfcheck_together together[PC_SELFCHECK_TOGETHER_MAX];
    struct pc_series_wish wish = {
        .folder = folder, .linear = pc_args_has(cli->args, "linear"), .partial = true};
    struct pc_photo_reader *reader;
    int count = 0;
    PC_TRY(gather_together(cli, folder, together, &count, err));
    PC_TRY(gather_frames(cli, folder, together, count, &wish, err));
    if (wish.path_count == 0 && folder == NULL)
        return pc_fail(
            err, PC_MISUSE, "selfcheck",
            "It needs the frames of a series: a folder, and what its frames show with --light, --ambient and "
            "--together (docs/selfcheck.md), or --record alone.");
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status = pc_series_make(reader, cli->arena, &wish, &found->series, &found->notes, err);
    if (status == PC_OK)
        status = pc_selfcheck_run(cli->ctx, reader, &found->series, together, count, &found->check,
                                  &found->notes, err);
    pc_photo_reader_destroy(reader);
    found->has_check = status == PC_OK;
    return status;
}

// "Dial of key: good.", then the finding.
static void print_finding(FILE *out, const struct pc_selfchecked *found, enum pc_selfcheck_test test,
                          const char *what, const char *finding)
{
    pc_print_sentence(out, "%s: %s. %s", what, pc_selfcheck_verdicts[found->check.judged[test].verdict],
                      finding);
}

// The advice of a test, and all of it where there was nothing to find.
static void print_advice(FILE *out, const struct pc_selfchecked *found, enum pc_selfcheck_test test,
                         const char *what, bool told)
{
    const struct pc_selfcheck_judged *judged = &found->check.judged[test];
    if (!told)
        print_finding(out, found, test, what, judged->advice);
    else if (judged->advice[0] != '\0')
        pc_print_sentence(out, "  %s", judged->advice);
}

static const char *shutter_text(const struct pc_facts *facts, char out[24])
{
    double s = isnan(facts->shutter_s) ? facts->shutter_apex_s : facts->shutter_s;
    if (s < 0.3)
        snprintf(out, 24, "1/%.0f s", 1.0 / s);
    else
        snprintf(out, 24, "%.2g s", s);
    return out;
}

static void print_camera(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    static const char *const kept[] = {
        [PC_SELFCHECK_TIMES_ALIKE] = "Light and time go together",
        [PC_SELFCHECK_TIMES_THIRDS] = "The camera keeps thirds of a stop and rounds their names",
        [PC_SELFCHECK_TIMES_NAMED] = "The camera keeps the times that it names",
        [PC_SELFCHECK_TIMES_NEITHER] = "The light follows neither the named times nor thirds of a stop",
    };
    const struct pc_selfcheck *check = &found->check;
    char figure[PC_FIGURE_BYTES], longer[24], shorter[24];
    bool bent = check->bent >= 0;
    if (bent) {
        const struct pc_selfcheck_shutters *row = &check->shutter[check->bent];
        print_finding(cli->out, found, PC_SELFCHECK_LINEARITY, "Raw values",
                      pc_arena_printf(
                          cli->arena,
                          "Between %.1f and %.1f stops under clipping they follow the light to within %s EV.",
                          -row->low_ev, -row->high_ev,
                          pc_print_figure(figure, row->bend_ev.value, row->bend_ev.tolerance)));
    }
    print_advice(cli->out, found, PC_SELFCHECK_LINEARITY, "Raw values", bent);
    for (int i = 0; i < check->shutter_count; i++) {
        const struct pc_selfcheck_shutters *row = &check->shutter[i];
        const char *text =
            pc_arena_printf(cli->arena, "From %s to %s there are %s stops (by name %.2f, by thirds %.2f).",
                            shutter_text(&check->series.frame[row->longer].facts, longer),
                            shutter_text(&check->series.frame[row->shorter].facts, shorter),
                            pc_print_figure(figure, row->measured_ev.value, row->measured_ev.tolerance),
                            row->named_ev, row->thirds_ev);
        if (i == 0)
            print_finding(cli->out, found, PC_SELFCHECK_SHUTTER, "Shutter times",
                          pc_arena_printf(cli->arena, "%s. %s", kept[check->times], text));
        else
            pc_print_sentence(cli->out, "  %s", text);
    }
    print_advice(cli->out, found, PC_SELFCHECK_SHUTTER, "Shutter times", check->shutter_count > 0);
}

static void print_sums(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    const struct pc_selfcheck *check = &found->check;
    char figure[PC_FIGURE_BYTES];
    for (int i = 0; i < check->sum_count; i++) {
        const struct pc_selfcheck_sum *row = &check->sum[i];
        const char *names = "";
        for (int k = 0; k < row->light_count; k++)
            names = pc_arena_printf(cli->arena, "%s%s%s", names,
                                    k == 0                     ? ""
                                    : k + 1 < row->light_count ? ", "
                                                               : " and ",
                                    check->series.light[row->light[k]].name);
        pc_print_sentence(
            cli->out, "Lights together: %s. %s is %s EV from the sum of %s; 95 %% of it lies within %.2f EV.",
            pc_selfcheck_verdicts[row->good ? PC_SELFCHECK_GOOD : PC_SELFCHECK_OFF], row->frame,
            pc_print_change(figure, row->off_ev.value, row->off_ev.tolerance), names, row->spread_ev);
    }
    print_advice(cli->out, found, PC_SELFCHECK_SUPERPOSITION, "Lights together", check->sum_count > 0);
}

static void print_dials(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    const struct pc_selfcheck *check = &found->check;
    for (int i = 0; i < check->dial_count; i++) {
        const struct pc_selfcheck_dial *row = &check->dial[i];
        const char *name = check->series.light[row->light].name;
        struct pc_table *table = pc_table_create(cli->arena, ">dial|>light");
        if (fabs(row->bend_pct) <= pc_selfcheck_needed_pct)
            pc_print_sentence(
                cli->out, "Dial of %s: %s. From %.0f to %.0f %% its light is a straight line within %.1f %%.",
                name, pc_selfcheck_verdicts[row->good ? PC_SELFCHECK_GOOD : PC_SELFCHECK_OFF],
                100.0 * row->lowest_ratio, 100.0 * row->highest_ratio, fmax(0.1, fabs(row->bend_pct)));
        else
            pc_print_sentence(cli->out,
                              "Dial of %s: %s. Read from %.0f to %.0f %%; at %.0f %% it gives %.0f %% %s "
                              "light than a straight line says.",
                              name, pc_selfcheck_verdicts[row->good ? PC_SELFCHECK_GOOD : PC_SELFCHECK_OFF],
                              100.0 * row->lowest_ratio, 100.0 * row->highest_ratio,
                              100.0 * row->bend_at_ratio, fabs(row->bend_pct),
                              row->bend_pct > 0.0 ? "more" : "less");
        pc_print_sentence(cli->out,
                          "  A dial left out is foretold within %.1f %% by the others, so that the curve "
                          "through all %d is good "
                          "to about %.1f %% between them.",
                          fmax(0.1, fabs(row->held_out_pct)), row->dials, fmax(0.1, row->between_pct));
        for (int k = 0; k < row->curve.points; k++) {
            pc_table_cell(table, "%.0f %%", 100.0 * row->curve.dial_ratio[k]);
            pc_table_cell(table, "%.1f %%",
                          100.0 * row->curve.light_ratio[k] / row->curve.light_ratio[row->curve.points - 1]);
        }
        pc_table_print(table, cli->out, 4);
    }
    print_advice(cli->out, found, PC_SELFCHECK_DIAL, "Dials", check->dial_count > 0);
}

static const char *after_text(double after_s, char out[32])
{
    if (isnan(after_s))
        return "from the first to the last frame";
    if (after_s < 90.0)
        snprintf(out, 32, "in %.0f seconds", after_s);
    else
        snprintf(out, 32, "in %.0f minutes", after_s / 60.0);
    return out;
}

static void print_changes(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    const struct pc_selfcheck *check = &found->check;
    char figure[PC_FIGURE_BYTES], after[32];
    if (check->drift.from >= 0)
        print_finding(
            cli->out, found, PC_SELFCHECK_DRIFT, "Window",
            pc_arena_printf(cli->arena, "It changed by %s %% %s.",
                            pc_print_change(figure, check->drift.pct.value, check->drift.pct.tolerance),
                            after_text(check->drift.after_s, after)));
    print_advice(cli->out, found, PC_SELFCHECK_DRIFT, "Window", check->drift.from >= 0);
    for (int i = 0; i < check->sag_count; i++) {
        const struct pc_selfcheck_change *sag = &check->sag[i];
        pc_print_sentence(cli->out, "Warming up of %s: %s. At %.0f %% its light changed by %s %% %s.",
                          check->series.light[sag->light].name,
                          pc_selfcheck_verdicts[sag->good ? PC_SELFCHECK_GOOD : PC_SELFCHECK_OFF],
                          100.0 * check->series.frame[sag->from].dial_ratio,
                          pc_print_change(figure, sag->pct.value, sag->pct.tolerance),
                          after_text(sag->after_s, after));
    }
    print_advice(cli->out, found, PC_SELFCHECK_SAG, "Warming up", check->sag_count > 0);
}

static void print_noise(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    const struct pc_selfcheck *check = &found->check;
    const struct pc_selfcheck_noise *noise = &check->noise;
    if (noise->frame >= 0) {
        const char *electrons = "";
        if (noise->has_electrons)
            electrons = pc_arena_printf(
                cli->arena,
                " One sensor pixel clips at %.0f electrons, has %.3g numbers to each, and a read noise "
                "of about %.0f.",
                noise->saturation_e, noise->gain_dn_per_e, fmax(1.0, noise->read_noise_e));
        print_finding(
            cli->out, found, PC_SELFCHECK_NOISE, "Noise",
            pc_arena_printf(
                cli->arena,
                "At ISO %.0f mid grey has %.0f times its noise; %.1f stops under clipping that falls to "
                "20, and darker pixels are left out of judgements.%s",
                check->series.frame[noise->frame].facts.iso,
                noise->mid_grey_snr_ratio[noise->channels == 3 ? 1 : 0], -noise->weighable_ev, electrons));
    }
    print_advice(cli->out, found, PC_SELFCHECK_NOISE, "Noise", noise->frame >= 0);
}

static void print_record(FILE *out, const struct pc_record_summary *record)
{
    if (record->places == 0)
        pc_print_sentence(out,
                          "No closing check has been kept yet in %s; weigh --actual keeps one each time.",
                          record->path);
    else
        pc_print_sentence(out,
                          "Foretold against actual, %d closing check%s at %d places: half within %.2f EV, "
                          "nine tenths within "
                          "%.2f EV, %.0f %% within the tolerance that was stated (%s).",
                          record->checks, record->checks == 1 ? "" : "s", record->places, record->median_ev,
                          record->worst_tenth_ev, 100.0 * record->within_tolerance_ratio, record->path);
}

static void print_text(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    for (int i = 0; i < found->notes.count && found->has_check; i++)
        pc_print_sentence(cli->out, "%s", found->notes.text[i]);
    if (found->has_check) {
        print_camera(cli, found);
        print_sums(cli, found);
        print_dials(cli, found);
        print_changes(cli, found);
        print_noise(cli, found);
    }
    if (found->has_record)
        print_record(cli->out, &found->record);
}

static enum pc_status check(struct pc_cli *cli, struct pc_selfchecked *found, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    const char *folder;
    found->notes.arena = cli->arena;
    found->has_record = pc_args_has(args, "record");
    PC_TRY(find_folder(cli, &folder, err));
    bool frames = folder != NULL || pc_args_count(args, "light") + pc_args_count(args, "ambient") > 0 ||
                  pc_args_has(args, "together");
    if (found->has_record)
        PC_TRY(pc_record_read(cli->arena, &found->record, err));
    return frames || !found->has_record ? run_check(cli, folder, found, err) : PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_selfchecked *found = calloc(1, sizeof *found);
    PC_ASSERT(found != NULL);
    enum pc_status status = check(cli, found, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        pc_selfcheck_put_json(cli, found);
    else if (status == PC_OK)
        print_text(cli, found);
    free(found);
    return status;
}

static const struct pc_option series_options[] = {
    {.name = "light",
     .kind = PC_ARG_LIGHT_FRAME,
     .metavar = "NAME=FILE[@DIAL%][@KELVINK]",
     .help = "a frame of this one light and the dial it was taken at; the same again at other shutters, "
             "other dials, and "
             "at the end",
     .repeatable = true},
    {.name = "ambient",
     .kind = PC_ARG_PATH,
     .metavar = "FILE",
     .help = "a frame with every light off; best the first and the last",
     .repeatable = true},
    {.name = "together",
     .kind = PC_ARG_LIGHTS_FRAME,
     .metavar = "[NAME,NAME=]FILE[@DIAL%]",
     .help = "a frame with several lights on, each at a dial it was also taken alone at",
     .repeatable = true,
     .otherwise = "all lights, at the highest dial of each"},
    {.name = "linear",
     .kind = PC_ARG_SWITCH,
     .help = "the TIFF and PNG files hold linear light and may be measured like raw files"},
    {.name = "record",
     .kind = PC_ARG_SWITCH,
     .help = "what all closing checks so far came to: foretold against actual"},
};
static const struct pc_option_group series_group = {"The series", series_options, PC_COUNT(series_options)};
static const struct pc_option_group *const groups[] = {&series_group, &pc_options_json, NULL};

const struct pc_verb pc_verb_selfcheck = {
    .name = "selfcheck",
    .question = "do this camera and these lights do what weighing takes for granted?",
    .about = "Takes raw frames of a series that docs/selfcheck.md describes in numbered steps (ten minutes, "
             "camera locked off): "
             "one light at two shutters, at several dials, two lights alone and together, and the window "
             "first and last. "
             "Says of each thing how far off it is, whether that is within what weighing needs (0.05 EV, 3 "
             "%), and what to "
             "do: raw values against light, shutter times, lights together, the dial's curve, the window's "
             "change, a light's "
             "warming up, noise.\n"
             "What the frames given cannot tell is named as not tested. Frames are named inside DIR, or as "
             "they stand.",
    .hour = PC_HOUR_KIT,
    .operands = "[DIR]",
    .least_operands = 0,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
