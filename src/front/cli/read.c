// SPDX-License-Identifier: Apache-2.0
// The verb `read`: what one frame says of itself, and how the light in it lies on the sensor.
#include "front/cli/verbs.h"

#include <sys/stat.h>

#include "base/clock.h"
#include "base/file.h"
#include "front/answer/frame_read.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "image/picture/spread.h"

static const char *const share_names[] = {"darkest 1 %", "middle", "brightest 1 %"};

// The channel that light is read in: green, or the only one.
static int light_channel(const struct pc_picture *picture)
{
    return picture->channels == 3 ? 1 : 0;
}

static void shutter_text(double s, char *out, size_t size)
{
    if (s < 0.3)
        snprintf(out, size, "1/%.*f s", 1 / s < 9.95 && fabs(1 / s - round(1 / s)) > 0.05 ? 1 : 0, 1 / s);
    else
        snprintf(out, size, "%.3g s", s);
}

static void print_exposure(struct pc_table *table, const struct pc_facts *facts)
{
    char shown[32] = "shutter not said", truly[48] = "", fnumber[32] = "f-number not said",
         iso[32] = "ISO not said";
    if (!isnan(facts->shutter_s))
        shutter_text(facts->shutter_s, shown, sizeof shown);
    if (!isnan(facts->shutter_apex_s)) {
        char apex[32];
        shutter_text(facts->shutter_apex_s, apex, sizeof apex);
        if (isnan(facts->shutter_s))
            memcpy(shown, apex, sizeof apex);
        else if (strcmp(apex, shown) != 0)
            snprintf(truly, sizeof truly, " (in truth %s)", apex);
    }
    if (!isnan(facts->fnumber))
        snprintf(fnumber, sizeof fnumber, "f/%.3g", facts->fnumber);
    if (!isnan(facts->iso))
        snprintf(iso, sizeof iso, "ISO %.0f", facts->iso);
    pc_table_cell(table, "Exposure");
    pc_table_cell(table, "%s%s, %s, %s", shown, truly, fnumber, iso);
}

static void print_time(struct pc_table *table, const struct pc_facts *facts)
{
    pc_table_cell(table, "Taken");
    if (isnan(facts->time_s)) {
        pc_table_cell(table, "not said");
        return;
    }
    char hms[9], offset[48] = "by the camera's own clock";
    pc_clock_hms(facts->time_s, hms);
    if (!isnan(facts->utc_offset_s))
        snprintf(offset, sizeof offset, "UTC%+03d:%02d", (int)(facts->utc_offset_s / 3600),
                 abs((int)facts->utc_offset_s / 60 % 60));
    pc_table_cell(table, "%s %s", hms, offset);
}

static void print_facts(const struct pc_cli *cli, const struct pc_frame_read *found)
{
    const struct pc_facts *facts = &found->photo.facts;
    const struct pc_picture *picture = &found->photo.picture;
    struct pc_table *table = pc_table_create(cli->arena, "|");
    pc_table_cell(table, "Frame");
    pc_table_cell(table, "%s, %d x %d pixels upright", pc_frame_form_names[found->photo.form],
                  picture->full_width_px, picture->full_height_px);
    pc_table_cell(table, "Camera");
    bool named = facts->maker[0] != '\0' || facts->model[0] != '\0';
    pc_table_cell(table, "%s%s%s%s%s", named ? facts->maker : "not said",
                  named && facts->maker[0] != '\0' ? " " : "", facts->model,
                  facts->serial[0] != '\0' ? ", number " : "", facts->serial);
    pc_table_cell(table, "Lens");
    char focal[64] = "", small[64] = "";
    if (!isnan(facts->focal_mm))
        snprintf(focal, sizeof focal, ", at %.3g mm", facts->focal_mm);
    if (!isnan(facts->focal_35mm_mm))
        snprintf(small, sizeof small, " (as %.0f mm on 24 x 36)", facts->focal_35mm_mm);
    pc_table_cell(table, "%s%s%s", facts->lens[0] != '\0' ? facts->lens : "not said", focal, small);
    print_time(table, facts);
    print_exposure(table, facts);
    pc_table_cell(table, "Flash");
    pc_table_cell(table, "%s",
                  facts->flash_fired < 0    ? "not said"
                  : facts->flash_fired == 1 ? "fired"
                                            : "did not fire");
    if (!isnan(found->photo.black_dn)) {
        pc_table_cell(table, "Sensor");
        pc_table_cell(table, "black at %.1f (%s), clips at %.0f", found->photo.black_dn,
                      found->photo.black_measured     ? "read from its masked edge"
                      : found->photo.black_by_default ? "the file states none: the DNG specification's"
                                                      : "as the file says",
                      found->photo.white_dn);
    }
    pc_table_print(table, cli->out, 2);
}

static void print_levels(const struct pc_cli *cli, const struct pc_frame_read *found)
{
    const struct pc_picture *picture = &found->photo.picture;
    bool colour = picture->channels == 3;
    struct pc_table *table =
        pc_table_create(cli->arena, colour ? "|>red|>green|>blue|>clipped there" : "|>grey|>clipped there");
    char figure[PC_FIGURE_BYTES];
    for (size_t i = 0; i < found->spots; i++) {
        const struct pc_level *level = &found->spot[i].level;
        pc_table_cell(table, "%s", found->spot[i].name);
        for (int c = 0; c < picture->channels; c++)
            pc_table_cell(table, "%s",
                          pc_print_figure(figure, pc_frame_under_clipping_ev(level->value[c]),
                                          fmax(pc_frame_tolerance_ev(level->value[c], level->se[c]), 0.01)));
        pc_table_cell(table, "%.1f %%", 100 * level->clipped_ratio);
    }
    for (size_t i = 0; i < PC_COUNT(pc_frame_shares); i++) {
        pc_table_cell(table, "%s", share_names[i]);
        for (int c = 0; c < picture->channels; c++)
            pc_table_cell(table, "%.2f",
                          pc_frame_under_clipping_ev(pc_picture_quantile(picture, c, pc_frame_shares[i])));
        pc_table_cell(table, "%s", "");
    }
    fputs("\nLevels in stops from what clips (0), in the camera's own colours\n", cli->out);
    pc_table_print(table, cli->out, 2);
    fputc('\n', cli->out);
}

static void print_findings(const struct pc_cli *cli, const struct pc_frame_read *found)
{
    const struct pc_picture *picture = &found->photo.picture;
    double clipped_pct = 100 * pc_picture_clipped_ratio(picture);
    if (clipped_pct > 0)
        pc_print_sentence(cli->out, "%.2g %% of the frame is clipped in at least one colour.", clipped_pct);
    else
        pc_print_sentence(cli->out, "Nothing in the frame is clipped.");
    double snr = pc_frame_snr_at_mid_grey(&picture->noise, light_channel(picture));
    if (isnan(snr))
        pc_print_sentence(cli->out, "How noisy it is cannot be told from this frame: it has no plain areas.");
    else
        pc_print_sentence(
            cli->out, "At mid grey the light is %.0f times its noise over %d x %d pixels%s.", snr,
            picture->bin, picture->bin,
            found->noise_from_frame ? ", as the plain areas of this frame show it (within a quarter)" : "");
    if (!isnan(found->card_lx)) {
        char figure[PC_FIGURE_BYTES];
        pc_print_sentence(
            cli->out,
            "The grey card stands in %s lx (0.3 EV, the spare that sensors are rated with), if it "
            "reflects 18 %%.",
            pc_print_figure(figure, found->card_lx, found->card_lx_tolerance));
    }
}

static void print_found(const struct pc_cli *cli, const struct pc_frame_read *found)
{
    fprintf(cli->out, "%s\n", pc_file_name(found->path));
    print_facts(cli, found);
    if (found->photo.tone_mapped) {
        fputc('\n', cli->out);
        pc_print_sentence(cli->out, "%s.", pc_frame_tone_mapped_text);
        return;
    }
    print_levels(cli, found);
    print_findings(cli, found);
}

static enum pc_status check_is_file(const char *path, struct pc_err *err)
{
    struct stat st;
    if (stat(path, &st) == 0 && S_ISDIR(st.st_mode))
        return pc_fail(err, PC_MISUSE, path, "This is a folder; name one frame in it.");
    return PC_OK;
}

static enum pc_status add_spot(struct pc_frame_read *read, const char *name, const struct pc_arg *arg,
                               struct pc_err *err)
{
    if (read->spots == PC_FRAME_SPOTS_MAX)
        return pc_fail(err, PC_MISUSE, name, "More than %d places cannot be read at once.",
                       PC_FRAME_SPOTS_MAX);
    read->spot[read->spots++] =
        (struct pc_frame_spot){.name = name, .text = arg->text, .x_px = arg->value[0], .y_px = arg->value[1]};
    return PC_OK;
}

static enum pc_status gather(const struct pc_cli *cli, struct pc_frame_read *read, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    read->path = pc_args_operand(args, 0);
    read->greycard = -1;
    PC_TRY(check_is_file(read->path, err));
    for (size_t i = 0; i < pc_args_count(args, "place"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "place", i);
        PC_TRY(add_spot(read, arg->name, arg, err));
    }
    if (!pc_args_has(args, "greycard"))
        return PC_OK;
    read->greycard = (int)read->spots;
    return add_spot(read, "grey card", pc_args_at(args, "greycard", 0), err);
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_frame_read *read = PC_NEW(cli->arena, struct pc_frame_read);
    PC_TRY(gather(cli, read, err));
    enum pc_status status = pc_frame_read(cli->ctx, read, pc_args_has(cli->args, "linear"), err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_frame_read_json(read));
    else if (status == PC_OK)
        print_found(cli, read);
    pc_frame_read_finish(read);
    return status;
}

static const struct pc_option where[] = {
    {.name = "place",
     .kind = PC_ARG_NAMED_POINT,
     .metavar = "NAME=X,Y",
     .help = "a place to read, in full-resolution pixels of the upright frame",
     .repeatable = true},
    {.name = "greycard",
     .kind = PC_ARG_POINT,
     .metavar = "X,Y",
     .help = "where a grey card of 18 % lies: gives its lux"},
    {.name = "linear",
     .kind = PC_ARG_SWITCH,
     .help = "this TIFF or PNG holds linear light and may be measured like a raw file"},
};
static const struct pc_option_group where_group = {"Where to look", where, PC_COUNT(where)};
static const struct pc_option_group *const groups[] = {&where_group, &pc_options_json, NULL};

const struct pc_verb pc_verb_read = {
    .name = "read",
    .question = "what does this one frame say?",
    .about = "Tells what the camera wrote into the frame, how far its levels lie under clipping, over the "
             "whole frame "
             "and at places you name, how much of it is clipped, and how noisy it is. A picture whose tones "
             "were bent "
             "by a camera or a program is told for what it is: no light can be read from it.",
    .hour = PC_HOUR_PLATE,
    .operands = "FILE",
    .least_operands = 1,
    .most_operands = 1,
    .groups = groups,
    .run = run,
};
