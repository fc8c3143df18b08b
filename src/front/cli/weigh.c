// SPDX-License-Identifier: Apache-2.0
// The verb `weigh`: what each light does to the hero and the surface, three ways to set them, and the closing
// check.
#include "front/answer/pictures.h"
#include "front/answer/weighed.h"
#include "front/cli/asked.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/record.h"
#include "front/cli/verbs.h"

static const char *share_text(char out[PC_FIGURE_BYTES], const struct pc_figure *share)
{
    return pc_print_share(out, share->value, share->tolerance);
}

static const char *colour_text(const struct pc_light_answer *light, char out[128])
{
    const double mired = light->mired_from_ambient.value, tolerance = light->mired_from_ambient.tolerance;
    if (isnan(mired))
        return "colour not known";
    int n = fabs(mired) < tolerance ? snprintf(out, 128, "as warm as the window ± %.0f mired", tolerance)
                                    : snprintf(out, 128, "%.0f ± %.0f mired %s", fabs(mired), tolerance,
                                               mired > 0.0 ? "warmer" : "cooler");
    double duv = light->tint_duv.value;
    if (fabs(duv) > light->tint_duv.tolerance)
        snprintf(out + n, 128 - (size_t)n, ", %s by %.3f Duv", duv > 0.0 ? "greener" : "pinker", fabs(duv));
    return out;
}

static void print_shares(struct pc_cli *cli, const struct pc_weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_table *table =
        pc_table_create(cli->arena, "light|>dial|>hero|>surface|colour against the window");
    char text[PC_FIGURE_BYTES], dial[32], colour[128];
    pc_table_cell(table, "window");
    pc_table_cell(table, "%s", "");
    pc_table_cell(table, "%s", share_text(text, &w->answers.ambient_share_ratio[PC_PLACE_HERO]));
    pc_table_cell(table, "%s", share_text(text, &w->answers.ambient_share_ratio[PC_PLACE_SURFACE]));
    pc_table_cell(table, "%s", "");
    for (int i = 0; i < reading->light_count; i++) {
        const struct pc_light_answer *light = &w->answers.light[i];
        pc_table_cell(table, "%s%s", reading->light[i].name, reading->light[i].flash ? " (flash)" : "");
        pc_table_cell(table, "%s", pc_cli_dial_text(reading, &w->dials, i, dial));
        pc_table_cell(table, "%s", share_text(text, &light->share_ratio[PC_PLACE_HERO]));
        pc_table_cell(table, "%s", share_text(text, &light->share_ratio[PC_PLACE_SURFACE]));
        pc_table_cell(table, "%s", colour_text(light, colour));
    }
    fprintf(cli->out, "Who lights what, of all the light there\n\n");
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
}

static void print_lux(FILE *out, const struct pc_weighed *w)
{
    const struct pc_answers *a = &w->answers;
    char all[PC_FIGURE_BYTES], window[PC_FIGURE_BYTES];
    if (isnan(a->greycard_lx.value))
        return;
    pc_print_sentence(out, "On the grey card %s lx, of which the window gives %s lx.",
                      pc_print_figure(all, a->greycard_lx.value, a->greycard_lx.tolerance),
                      pc_print_figure(window, a->ambient_lx.value, a->ambient_lx.tolerance));
}

static void print_shadow(FILE *out, const struct pc_weighed *w)
{
    const struct pc_answers *a = &w->answers;
    const struct pc_reading *reading = &w->measured->reading;
    char depth[PC_FIGURE_BYTES];
    if (a->second < 0) {
        pc_print_sentence(out, "There is no second shadow worth the name.");
        return;
    }
    pc_print_sentence(out, "A second shadow falls on the surface, %s stops deep, from %s.",
                      pc_print_figure(depth, a->second_shadow_ev.value, a->second_shadow_ev.tolerance),
                      reading->light[a->second].name);
    for (int i = 0; i < a->shadow_count; i++)
        pc_print_sentence(out, "  %s: the hero's shadow lies about %.0f,%.0f, %.1f stops deep.",
                          reading->light[a->shadow[i].light].name, a->shadow[i].x_px, a->shadow[i].y_px,
                          a->shadow[i].depth_ev);
}

static void print_findings(FILE *out, const struct pc_weighed *w)
{
    const struct pc_answers *a = &w->answers;
    const struct pc_reading *reading = &w->measured->reading;
    char x[PC_FIGURE_BYTES], y[PC_FIGURE_BYTES];
    if (a->key >= 0)
        pc_print_sentence(out, "%s is the key: %s stops over everything else at the hero.",
                          reading->light[a->key].name,
                          pc_print_figure(x, a->key_to_fill_ev.value, a->key_to_fill_ev.tolerance));
    if (w->measured->hand_held)
        pc_print_sentence(
            out, "The hero gets %s stops more light than the surface.",
            pc_print_change(x, a->hero_over_surface_light_ev.value, a->hero_over_surface_light_ev.tolerance));
    else
        pc_print_sentence(
            out, "The hero is %s stops over the surface in the picture, %s in light.",
            pc_print_change(x, a->hero_over_surface_picture_ev.value,
                            a->hero_over_surface_picture_ev.tolerance),
            pc_print_change(y, a->hero_over_surface_light_ev.value, a->hero_over_surface_light_ev.tolerance));
    if (a->key >= 0)
        pc_print_sentence(
            out, "The darkest surface you can get with %s at full is %s stops of light below the hero.",
            reading->light[a->key].name, pc_print_figure(x, a->floor_ev.value, a->floor_ev.tolerance));
    if (!isnan(a->flash_floor_ev.value))
        pc_print_sentence(out,
                          a->flash_measured ? "The flash at 1/200 s would give %s."
                                            : "Flash (f/11, 1/200 s, ISO 100) would give %s.",
                          pc_print_figure(x, a->flash_floor_ev.value, a->flash_floor_ev.tolerance));
    print_lux(out, w);
    print_shadow(out, w);
    for (int i = 0; i < reading->light_count; i++)
        if (a->light[i].clipped_ratio > 0.001)
            pc_print_sentence(out, "%.1f %% of the picture is clipped with %s alone; nothing is read there.",
                              100.0 * a->light[i].clipped_ratio, reading->light[i].name);
}

// A figure that rounds to nothing has no sign.
static double no_minus_zero(double stops)
{
    return fabs(stops) < 0.05 ? 0.0 : stops;
}

// Lights down, ways across: it stays narrow however many lights there are.
static void print_ways(struct pc_cli *cli, const struct pc_weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_table *table =
        pc_table_create(cli->arena, pc_arena_printf(cli->arena, "light|>%s|>%s|>%s", pc_ways[0].name,
                                                    pc_ways[1].name, pc_ways[2].name));
    char dial[32];
    for (int i = 0; i < reading->light_count; i++) {
        pc_table_cell(table, "%s", reading->light[i].name);
        for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
            pc_table_cell(table, "%s", pc_cli_dial_text(reading, &w->way[k].dials, i, dial));
    }
    pc_table_cell(table, "surface under the hero, in light");
    for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
        pc_table_cell(table, "%.1f stops", no_minus_zero(w->way[k].surface_under_ev));
    pc_table_cell(table, "key over everything else");
    for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
        pc_table_cell(table, "%.1f stops", no_minus_zero(w->way[k].key_over_rest_ev));
    pc_table_cell(table, "exposure, against the window frames");
    for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
        pc_table_cell(table, "%+.1f EV", w->way[k].exposure_ev);
    fprintf(cli->out, "\nThree ways to set them\n\n");
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
    for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
        if (w->way[k].why_not[0] != '\0')
            pc_print_sentence(cli->out, "%s is not reached: %s", pc_ways[k].name, w->way[k].why_not);
    pc_cli_print_trust(reading, cli->out);
}

static void print_verdict(FILE *out, const struct pc_weighed *w)
{
    const struct pc_closing *c = &w->closing;
    const struct pc_reading *reading = &w->measured->reading;
    char x[PC_FIGURE_BYTES];
    int said = 0;
    if (c->exposure_blamed) {
        pc_print_sentence(
            out,
            "Everything in this frame is %s EV off together: its shutter, aperture or ISO is not what the "
            "file says, or a filter was on. No lamp is at fault.",
            pc_print_change(x, c->exposure_ev, c->exposure_tolerance_ev));
        said++;
    }
    for (int i = 0; i < reading->light_count; i++)
        if (fabs(c->light_ev[i]) > fmax(0.1, c->light_tolerance_ev[i])) {
            pc_print_sentence(out, "%s is %s EV from what its dial foretold.", reading->light[i].name,
                              pc_print_change(x, c->light_ev[i], c->light_tolerance_ev[i]));
            said++;
        }
    if (fabs(c->ambient_ev) > fmax(0.1, c->ambient_tolerance_ev)) {
        pc_print_sentence(out, "The window is %s EV from the last window frame.",
                          pc_print_change(x, c->ambient_ev, c->ambient_tolerance_ev));
        said++;
    }
    if (said == 0)
        pc_print_sentence(out,
                          "The frame is as foretold: half of it within %.2f EV, nine tenths within %.2f EV.",
                          c->median_ev, c->worst_tenth_ev);
}

static void print_closing(struct pc_cli *cli, const struct pc_weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_table *table = pc_table_create(cli->arena, "place|>foretold|>actual|>difference");
    char x[PC_FIGURE_BYTES];
    for (int p = 0; p < reading->place_count; p++) {
        const struct pc_closing_place *place = &w->closing.place[p];
        pc_table_cell(table, "%s", reading->place[p].name);
        pc_table_cell(table, "%s EV", pc_print_figure(x, place->foretold_ev, place->tolerance_ev));
        pc_table_cell(table, "%.2f EV", place->actual_ev);
        pc_table_cell(table, "%+.2f EV", place->actual_ev - place->foretold_ev);
    }
    fprintf(cli->out, "\nForetold and actual, against what clips the sensor\n\n");
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
    print_verdict(cli->out, w);
}

static void print_text(struct pc_cli *cli, const struct pc_weighed *w)
{
    pc_cli_print_notes(w->measured, cli->out);
    if (w->measured->notes.count > 0)
        fprintf(cli->out, "\n");
    print_shares(cli, w);
    print_findings(cli->out, w);
    print_ways(cli, w);
    if (w->closed)
        print_closing(cli, w);
}

static enum pc_status weigh(struct pc_cli *cli, struct pc_measured **measured, struct pc_weighed *w,
                            struct pc_err *err)
{
    struct pc_asked asked;
    PC_TRY(pc_cli_asked(cli, true, &asked, err));
    PC_TRY(pc_measured_create(cli->ctx, cli->arena, &asked, measured, err));
    PC_TRY(pc_weighed_make(cli->ctx, *measured, &asked, w, err));
    const char *out = pc_args_text(cli->args, "out");
    if (out != NULL && w->measured->hand_held)
        return pc_fail(err, PC_UNSUPPORTED, out,
                       "A set taken from the hand gives no pictures; leave --out away.");
    if (out != NULL)
        PC_TRY(pc_pictures_write(cli->ctx, cli->arena, w, asked.actual, out, err));
    // Last, so that a run that failed leaves no line and may be run again.
    return w->closed ? pc_record_add(&w->measured->reading, &w->dials, &w->closing, asked.actual, err)
                     : PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_measured *measured = NULL;
    struct pc_weighed *w = calloc(1, sizeof *w);
    PC_ASSERT(w != NULL);
    enum pc_status status = weigh(cli, &measured, w, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, pc_weighed_json(w));
    else if (status == PC_OK)
        print_text(cli, w);
    pc_weighed_finish(w);
    pc_measured_destroy(measured);
    free(w);
    return status;
}

static const struct pc_option_group *const groups[] = {
    &pc_options_places, &pc_options_frames, &pc_options_setting, &pc_options_limits, &pc_options_answer, NULL,
};

const struct pc_verb pc_verb_weigh = {
    .name = "weigh",
    .question = "what does each light do, and how could they be set?",
    .about = "Takes raw frames from a camera locked off at one aperture: one with the window only, one for "
             "each light, and "
             "one more with the window only. Says what each light gives the hero and the surface, how far "
             "down the surface "
             "can go, how each light's colour stands to the window's, and dial numbers for three ways: airy, "
             "middle, "
             "dark.\n"
             "With --dials it foretells a setting instead of the one the frames were taken at; with --actual "
             "it lays a "
             "frame taken at that setting beside what was foretold, and names what differs. When the camera "
             "was not locked "
             "off, a grey card at the hero and another at the surface in every frame do instead, without "
             "pictures.",
    .hour = PC_HOUR_SETUP,
    .operands = "DIR | FILE...",
    .least_operands = 1,
    .most_operands = PC_FRAMES_MAX,
    .groups = groups,
    .run = run,
};
