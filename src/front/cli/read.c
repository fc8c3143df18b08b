// SPDX-License-Identifier: Apache-2.0
// The verb `read`: what one frame says of itself, and how the light in it lies on the sensor.
#include "front/cli/verbs.h"

#include <sys/stat.h>

#include "base/clock.h"
#include "base/file.h"
#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "image/camera/expose_tie.h"
#include "image/photo/photo.h"
#include "image/picture/meter.h"
#include "image/picture/spread.h"

#define CARD_REFLECTANCE_RATIO 0.18
#define MID_GREY_RATIO         0.18 // of what clips
#define DISC_OF_FRAME          200 // places are read over a disc whose radius is this part of the frame's longer side

enum { MOST_PLACES = 64 };

struct spot {
    const char *name;
    double x_px, y_px;
    struct pc_level level;
};

// What was found, before it is put in words or keys.
struct found {
    const char *path;
    struct pc_photo photo;
    struct spot spot[MOST_PLACES];
    size_t spots;
    double card_lx, card_lx_tolerance; // NAN: no card
    bool noise_from_frame;
};

static const double shares[] = {0.01, 0.5, 0.99};
static const char *const share_names[] = {"darkest 1 %", "middle", "brightest 1 %"};
static const char *const forms[] = {
    [PC_FORM_RAW] = "raw", [PC_FORM_JPEG] = "JPEG", [PC_FORM_TIFF] = "TIFF",
    [PC_FORM_PNG] = "PNG", [PC_FORM_HEIF] = "HEIF",
};

static const char tone_mapped_text[] =
    "The camera or a program has bent the tones of this picture, so no light level, lux or cast can be read "
    "from it; "
    "it serves for framing, crops and movement. Read the raw file of the same frame instead";

static enum pc_status refuse_tone_mapped(const struct pc_cli *cli, const struct found *found,
                                         struct pc_err *err)
{
    if (!found->photo.tone_mapped ||
        (!pc_args_has(cli->args, "place") && !pc_args_has(cli->args, "greycard")))
        return PC_OK;
    bool may_be_linear = found->photo.form == PC_FORM_TIFF || found->photo.form == PC_FORM_PNG;
    return pc_fail(err, PC_UNSUPPORTED, found->path, "%s%s.", tone_mapped_text,
                   may_be_linear ? ", or say --linear if you know that it holds linear light" : "");
}

static enum pc_status read_spot(struct found *found, const char *name, const struct pc_arg *arg,
                                struct pc_err *err)
{
    const struct pc_picture *picture = &found->photo.picture;
    int width_px = picture->full_width_px, height_px = picture->full_height_px;
    if (arg->value[0] >= width_px || arg->value[1] >= height_px)
        return pc_fail(err, PC_MISUSE, name,
                       "%s lies outside the frame, which is %d x %d pixels when upright.", arg->text,
                       width_px, height_px);
    if (found->spots == MOST_PLACES)
        return pc_fail(err, PC_MISUSE, name, "More than %d places cannot be read at once.", MOST_PLACES);
    struct spot *spot = &found->spot[found->spots++];
    *spot = (struct spot){.name = name, .x_px = arg->value[0], .y_px = arg->value[1]};
    double radius_px = (width_px > height_px ? width_px : height_px) / (double)DISC_OF_FRAME;
    pc_picture_level(picture, spot->x_px, spot->y_px, radius_px, NULL, &spot->level);
    return PC_OK;
}

// The channel that light is read in: green, or the only one.
static int light_channel(const struct pc_picture *picture)
{
    return picture->channels == 3 ? 1 : 0;
}

static enum pc_status meter_card(struct found *found, const struct spot *card, struct pc_err *err)
{
    PC_TRY(
        pc_card_lx(&found->photo, &card->level, CARD_REFLECTANCE_RATIO, found->path, &found->card_lx, err));
    found->card_lx_tolerance = found->card_lx * (pc_ratio_from_ev(pc_meter_tolerance_ev) - 1);
    return PC_OK;
}

static bool noise_known(const struct pc_noise *noise)
{
    return noise->offset_var[0] > 0 || noise->per_signal_var[0] > 0;
}

static enum pc_status look(const struct pc_cli *cli, struct found *found, struct pc_err *err)
{
    const struct pc_args *args = cli->args;
    PC_TRY(refuse_tone_mapped(cli, found, err));
    if (found->photo.tone_mapped)
        return PC_OK;
    for (size_t i = 0; i < pc_args_count(args, "place"); i++) {
        const struct pc_arg *arg = pc_args_at(args, "place", i);
        PC_TRY(read_spot(found, arg->name, arg, err));
    }
    if (pc_args_has(args, "greycard")) {
        PC_TRY(read_spot(found, "grey card", pc_args_at(args, "greycard", 0), err));
        PC_TRY(meter_card(found, &found->spot[found->spots - 1], err));
    }
    if (!noise_known(&found->photo.picture.noise)) {
        pc_picture_noise_from_one(&found->photo.picture);
        found->noise_from_frame = true;
    }
    return PC_OK;
}

static double under_clipping_ev(double level)
{
    return level > 0 ? pc_ev_from_ratio(level) : (double)NAN;
}

static double tolerance_ev(double level, double se)
{
    return level > 0 ? se / level / log(2.0) : (double)NAN;
}

static double snr_at_mid_grey(const struct pc_noise *noise, int channel)
{
    double var = noise->offset_var[channel] + noise->per_signal_var[channel] * MID_GREY_RATIO;
    return var > 0 ? MID_GREY_RATIO / sqrt(var) : (double)NAN;
}

static void put_text_or_null(struct pc_json *object, const char *key, const char *text)
{
    pc_json_put_text(object, key, text[0] != '\0' ? text : NULL);
}

static struct pc_json *facts_json(const struct pc_facts *facts)
{
    struct pc_json *o = pc_json_object();
    put_text_or_null(o, "maker", facts->maker);
    put_text_or_null(o, "model", facts->model);
    put_text_or_null(o, "serial", facts->serial);
    put_text_or_null(o, "lens", facts->lens);
    pc_json_put_number(o, "shutter_s", facts->shutter_s, 9);
    pc_json_put_number(o, "shutter_apex_s", facts->shutter_apex_s, 9);
    pc_json_put_number(o, "fnumber", facts->fnumber, 3);
    pc_json_put_number(o, "iso", facts->iso, 0);
    pc_json_put_number(o, "focal_mm", facts->focal_mm, 2);
    pc_json_put_number(o, "focal_35mm_mm", facts->focal_35mm_mm, 0);
    pc_json_put_number(o, "time_s", facts->time_s, 3);
    pc_json_put_number(o, "utc_offset_s", facts->utc_offset_s, 0);
    if (facts->orientation > 0)
        pc_json_put_int(o, "orientation", facts->orientation);
    else
        pc_json_put_text(o, "orientation", NULL);
    if (facts->flash_fired >= 0)
        pc_json_put_bool(o, "flash_fired", facts->flash_fired == 1);
    else
        pc_json_put_text(o, "flash_fired", NULL);
    return o;
}

static struct pc_json *numbers_json(int count, const double *values, int decimals)
{
    struct pc_json *a = pc_json_array();
    for (int c = 0; c < count; c++)
        pc_json_add_number(a, values[c], decimals);
    return a;
}

static struct pc_json *spots_json(const struct found *found)
{
    int channels = found->photo.picture.channels;
    struct pc_json *a = pc_json_array();
    for (size_t i = 0; i < found->spots; i++) {
        const struct spot *spot = &found->spot[i];
        double ev[3], ev_tolerance[3];
        for (int c = 0; c < channels; c++) {
            ev[c] = under_clipping_ev(spot->level.value[c]);
            ev_tolerance[c] = tolerance_ev(spot->level.value[c], spot->level.se[c]);
        }
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "place", spot->name);
        pc_json_put_number(o, "x_px", spot->x_px, 1);
        pc_json_put_number(o, "y_px", spot->y_px, 1);
        pc_json_put(o, "level_ev", numbers_json(channels, ev, 3));
        pc_json_put(o, "level_ev_tolerance", numbers_json(channels, ev_tolerance, 3));
        pc_json_put_number(o, "clipped_pct", 100 * spot->level.clipped_ratio, 2);
        pc_json_add(a, o);
    }
    return a;
}

static void put_levels_json(struct pc_json *o, const struct found *found)
{
    const struct pc_picture *picture = &found->photo.picture;
    struct pc_json *spread = pc_json_array();
    for (size_t i = 0; i < PC_COUNT(shares); i++) {
        double ev[3];
        for (int c = 0; c < picture->channels; c++)
            ev[c] = under_clipping_ev(pc_picture_quantile(picture, c, shares[i]));
        struct pc_json *row = pc_json_object();
        pc_json_put_number(row, "share_below_pct", 100 * shares[i], 0);
        pc_json_put(row, "level_ev", numbers_json(picture->channels, ev, 2));
        pc_json_add(spread, row);
    }
    pc_json_put(o, "spread", spread);
    pc_json_put(o, "places", spots_json(found));
    double snr[3];
    for (int c = 0; c < picture->channels; c++)
        snr[c] = snr_at_mid_grey(&picture->noise, c);
    pc_json_put(o, "mid_grey_snr_ratio", numbers_json(picture->channels, snr, 1));
    pc_json_put_number(o, "greycard_lx", found->card_lx, 1);
    pc_json_put_number(o, "greycard_lx_tolerance", found->card_lx_tolerance, 1);
}

static struct pc_json *found_json(const struct found *found)
{
    const struct pc_photo *photo = &found->photo;
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "file", found->path);
    pc_json_put_text(o, "form", forms[photo->form]);
    pc_json_put_int(o, "width_px", photo->picture.full_width_px);
    pc_json_put_int(o, "height_px", photo->picture.full_height_px);
    pc_json_put(o, "facts", facts_json(&photo->facts));
    pc_json_put_number(o, "black_dn", photo->black_dn, 2);
    pc_json_put_text(o, "black_from",
                     isnan(photo->black_dn)    ? NULL
                     : photo->black_measured   ? "mask"
                     : photo->black_by_default ? "specification"
                                               : "file");
    pc_json_put_number(o, "white_dn", photo->white_dn, 0);
    pc_json_put_number(o, "clipped_pct", 100 * pc_picture_clipped_ratio(&photo->picture), 3);
    pc_json_put_bool(o, "tone_mapped", photo->tone_mapped);
    if (!photo->tone_mapped)
        put_levels_json(o, found);
    return o;
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

static void print_facts(const struct pc_cli *cli, const struct found *found)
{
    const struct pc_facts *facts = &found->photo.facts;
    const struct pc_picture *picture = &found->photo.picture;
    struct pc_table *table = pc_table_create(cli->arena, "|");
    pc_table_cell(table, "Frame");
    pc_table_cell(table, "%s, %d x %d pixels upright", forms[found->photo.form], picture->full_width_px,
                  picture->full_height_px);
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

static void print_levels(const struct pc_cli *cli, const struct found *found)
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
                          pc_print_figure(figure, under_clipping_ev(level->value[c]),
                                          fmax(tolerance_ev(level->value[c], level->se[c]), 0.01)));
        pc_table_cell(table, "%.1f %%", 100 * level->clipped_ratio);
    }
    for (size_t i = 0; i < PC_COUNT(shares); i++) {
        pc_table_cell(table, "%s", share_names[i]);
        for (int c = 0; c < picture->channels; c++)
            pc_table_cell(table, "%.2f", under_clipping_ev(pc_picture_quantile(picture, c, shares[i])));
        pc_table_cell(table, "%s", "");
    }
    fputs("\nLevels in stops from what clips (0), in the camera's own colours\n", cli->out);
    pc_table_print(table, cli->out, 2);
    fputc('\n', cli->out);
}

static void print_findings(const struct pc_cli *cli, const struct found *found)
{
    const struct pc_picture *picture = &found->photo.picture;
    double clipped_pct = 100 * pc_picture_clipped_ratio(picture);
    if (clipped_pct > 0)
        pc_print_sentence(cli->out, "%.2g %% of the frame is clipped in at least one colour.", clipped_pct);
    else
        pc_print_sentence(cli->out, "Nothing in the frame is clipped.");
    double snr = snr_at_mid_grey(&picture->noise, light_channel(picture));
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

static void print_found(const struct pc_cli *cli, const struct found *found)
{
    fprintf(cli->out, "%s\n", pc_file_name(found->path));
    print_facts(cli, found);
    if (found->photo.tone_mapped) {
        fputc('\n', cli->out);
        pc_print_sentence(cli->out, "%s.", tone_mapped_text);
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

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct found *found = PC_NEW(cli->arena, struct found);
    found->path = pc_args_operand(cli->args, 0);
    found->card_lx = found->card_lx_tolerance = NAN;
    PC_TRY(check_is_file(found->path, err));
    struct pc_photo_reader *reader;
    PC_TRY(pc_photo_reader_create(cli->ctx, NULL, &reader, err));
    enum pc_status status = pc_ctx_step(cli->ctx, "reading the frame", 0, err);
    if (status == PC_OK)
        status = pc_photo_read(reader, found->path, PC_WANT_MEASURE, pc_args_has(cli->args, "linear"),
                               &found->photo, err);
    pc_photo_reader_destroy(reader);
    if (status == PC_OK)
        status = look(cli, found, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, found_json(found));
    else if (status == PC_OK)
        print_found(cli, found);
    pc_photo_finish(&found->photo);
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
