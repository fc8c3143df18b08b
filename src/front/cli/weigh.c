// SPDX-License-Identifier: Apache-2.0
// The verb `weigh`: what each light does to the hero and the surface, three ways to set them, and the closing
// check.
#include "base/file.h"
#include "front/cli/measured.h"
#include "front/cli/options.h"
#include "front/cli/pictures.h"
#include "front/cli/print.h"
#include "front/cli/record.h"
#include "front/cli/verbs.h"
#include "light/parts/closing.h"

struct weighed {
    struct pc_measured *measured;
    struct pc_answers answers;
    struct pc_way_answer way[PC_COUNT(pc_ways)];
    bool closed;
    struct pc_closing closing;
};

static void put_figure(struct pc_json *object, const char *key, struct pc_figure figure, int decimals)
{
    char tolerance_key[64];
    snprintf(tolerance_key, sizeof tolerance_key, "%s_tolerance", key);
    pc_json_put_number(object, key, figure.value, decimals);
    pc_json_put_number(object, tolerance_key, figure.tolerance, decimals);
}

static struct pc_json *lights_json(const struct weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < reading->light_count; i++) {
        const struct pc_light_answer *light = &w->answers.light[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "name", reading->light[i].name);
        pc_json_put_bool(o, "flash", reading->light[i].flash);
        pc_json_put_number(o, "dial_ratio", w->measured->dials.dial_ratio[i], 3);
        pc_json_put_number(o, "dial_tolerance_pct", reading->light[i].curve.tolerance_pct, 0);
        put_figure(o, "hero_share_ratio", light->share_ratio[PC_PLACE_HERO], 4);
        put_figure(o, "surface_share_ratio", light->share_ratio[PC_PLACE_SURFACE], 4);
        put_figure(o, "mired_from_ambient", light->mired_from_ambient, 1);
        put_figure(o, "tint_duv", light->tint_duv, 4);
        put_figure(o, "greycard_lx", light->lx, 1);
        pc_json_put_number(o, "clipped_pct", 100.0 * light->clipped_ratio, 2);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *places_json(const struct weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_json *array = pc_json_array();
    for (int p = 0; p < reading->place_count; p++) {
        struct pc_json *o = pc_json_object(), *shares = pc_json_object();
        pc_json_put_text(o, "name", reading->place[p].name);
        pc_json_put_number(o, "x_px", reading->place[p].x_px, 1);
        pc_json_put_number(o, "y_px", reading->place[p].y_px, 1);
        put_figure(o, "ambient_share_ratio", w->answers.ambient_share_ratio[p], 4);
        for (int i = 0; i < reading->light_count; i++)
            pc_json_put_number(shares, reading->light[i].name, w->answers.light[i].share_ratio[p].value, 4);
        pc_json_put(o, "light_share_ratios", shares);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *moved_json(const struct pc_parts *parts)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < parts->moved_count; i++) {
        const struct pc_moved *moved = &parts->moved[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_number(o, "x_px", moved->x_px, 0);
        pc_json_put_number(o, "y_px", moved->y_px, 0);
        pc_json_put_number(o, "width_px", moved->width_px, 0);
        pc_json_put_number(o, "height_px", moved->height_px, 0);
        pc_json_put_number(o, "by_px", moved->by_px, 1);
        pc_json_put_text(o, "seen_in",
                         parts->moved_frame[i] >= 0 ? parts->series.frame[parts->moved_frame[i]].name : NULL);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *ways_json(const struct weighed *w)
{
    struct pc_json *array = pc_json_array();
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++) {
        const struct pc_way_answer *way = &w->way[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "name", pc_ways[i].name);
        pc_measured_put_dials(&w->measured->reading, &way->dials, o);
        pc_json_put_number(o, "surface_under_hero_light_stops", way->surface_under_ev, 2);
        pc_json_put_number(o, "key_to_fill_stops", way->key_over_rest_ev, 2);
        pc_json_put_number(o, "exposure_change_ev", way->exposure_ev, 2);
        pc_json_put_bool(o, "reached", way->reached);
        pc_json_put_text(o, "why_not", way->why_not[0] != '\0' ? way->why_not : NULL);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *shadows_json(const struct weighed *w)
{
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < w->answers.shadow_count; i++) {
        const struct pc_shadow *shadow = &w->answers.shadow[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "light", w->measured->reading.light[shadow->light].name);
        pc_json_put_number(o, "x_px", shadow->x_px, 0);
        pc_json_put_number(o, "y_px", shadow->y_px, 0);
        pc_json_put_number(o, "depth_stops", shadow->depth_ev, 2);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *actual_json(const struct weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_json *array = pc_json_array();
    for (int p = 0; p < reading->place_count; p++) {
        const struct pc_closing_place *place = &w->closing.place[p];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "place", reading->place[p].name);
        pc_json_put_number(o, "foretold_ev", place->foretold_ev, 3);
        pc_json_put_number(o, "foretold_ev_tolerance", place->tolerance_ev, 3);
        pc_json_put_number(o, "actual_ev", place->actual_ev, 3);
        pc_json_add(array, o);
    }
    return array;
}

static struct pc_json *closing_json(const struct weighed *w)
{
    const struct pc_closing *closing = &w->closing;
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_json *o = pc_json_object(), *lights = pc_json_array();
    pc_json_put_number(o, "exposure_ev", closing->exposure_ev, 3);
    pc_json_put_number(o, "exposure_ev_tolerance", closing->exposure_tolerance_ev, 3);
    pc_json_put_bool(o, "exposure_blamed", closing->exposure_blamed);
    pc_json_put_number(o, "ambient_ev", closing->ambient_ev, 3);
    pc_json_put_number(o, "ambient_ev_tolerance", closing->ambient_tolerance_ev, 3);
    for (int i = 0; i < reading->light_count; i++) {
        struct pc_json *light = pc_json_object();
        pc_json_put_text(light, "name", reading->light[i].name);
        pc_json_put_number(light, "off_ev", closing->light_ev[i], 3);
        pc_json_put_number(light, "off_ev_tolerance", closing->light_tolerance_ev[i], 3);
        pc_json_add(lights, light);
    }
    pc_json_put(o, "lights", lights);
    pc_json_put_number(o, "median_difference_ev", closing->median_ev, 3);
    pc_json_put_number(o, "nine_tenths_within_ev", closing->worst_tenth_ev, 3);
    return o;
}

static void print_json(struct pc_cli *cli, const struct weighed *w)
{
    const struct pc_measured *m = w->measured;
    const struct pc_answers *a = &w->answers;
    struct pc_json *o = pc_json_object();
    pc_json_put(o, "lights", lights_json(w));
    pc_json_put_number(o, "shutter_s", m->exposure.shutter_s * m->dials.shutter_ratio, 6);
    pc_json_put(o, "places", places_json(w));
    put_figure(o, "ambient_hero_share_ratio", a->ambient_share_ratio[PC_PLACE_HERO], 4);
    put_figure(o, "ambient_surface_share_ratio", a->ambient_share_ratio[PC_PLACE_SURFACE], 4);
    pc_json_put_text(o, "key", a->key >= 0 ? m->reading.light[a->key].name : NULL);
    put_figure(o, "key_to_fill_stops", a->key_to_fill_ev, 3);
    struct pc_figure none = {.value = NAN, .tolerance = NAN};
    put_figure(o, "hero_over_surface_picture_stops", m->hand_held ? none : a->hero_over_surface_picture_ev,
               3);
    put_figure(o, "hero_over_surface_light_stops", a->hero_over_surface_light_ev, 3);
    put_figure(o, "floor_stops", a->floor_ev, 2);
    put_figure(o, "flash_floor_stops", a->flash_floor_ev, 2);
    put_figure(o, "greycard_lx", a->greycard_lx, 1);
    put_figure(o, "ambient_lx", a->ambient_lx, 1);
    pc_json_put_text(o, "second_shadow_light", a->second >= 0 ? m->reading.light[a->second].name : NULL);
    put_figure(o, "second_shadow_stops", a->second_shadow_ev, 2);
    pc_json_put(o, "shadows", shadows_json(w));
    pc_json_put_number(o, "ambient_drift_pct", m->drift_pct, 2);
    pc_json_put_bool(o, "hand_held", m->hand_held);
    pc_json_put(o, "moved", moved_json(&m->parts));
    pc_json_put(o, "ways", ways_json(w));
    if (w->closed) {
        pc_json_put(o, "actual", actual_json(w));
        pc_json_put(o, "closing", closing_json(w));
    }
    pc_json_put(o, "notes", pc_measured_notes_json(m));
    pc_cli_put_json(cli, o);
}

static const char *share_text(struct pc_figure share, char out[PC_FIGURE_BYTES])
{
    char figure[PC_FIGURE_BYTES];
    double tolerance = fmax(100.0 * share.tolerance, 0.1);
    snprintf(out, PC_FIGURE_BYTES, "%s %%", pc_print_figure(figure, 100.0 * share.value, tolerance));
    return out;
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

static void print_shares(struct pc_cli *cli, const struct weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_table *table =
        pc_table_create(cli->arena, "light|>dial|>hero|>surface|colour against the window");
    char text[PC_FIGURE_BYTES], dial[32], colour[128];
    pc_table_cell(table, "window");
    pc_table_cell(table, "%s", "");
    pc_table_cell(table, "%s", share_text(w->answers.ambient_share_ratio[PC_PLACE_HERO], text));
    pc_table_cell(table, "%s", share_text(w->answers.ambient_share_ratio[PC_PLACE_SURFACE], text));
    pc_table_cell(table, "%s", "");
    for (int i = 0; i < reading->light_count; i++) {
        const struct pc_light_answer *light = &w->answers.light[i];
        pc_table_cell(table, "%s%s", reading->light[i].name, reading->light[i].flash ? " (flash)" : "");
        pc_table_cell(table, "%s", pc_measured_dial_text(reading, &w->measured->dials, i, dial));
        pc_table_cell(table, "%s", share_text(light->share_ratio[PC_PLACE_HERO], text));
        pc_table_cell(table, "%s", share_text(light->share_ratio[PC_PLACE_SURFACE], text));
        pc_table_cell(table, "%s", colour_text(light, colour));
    }
    fprintf(cli->out, "Who lights what, of all the light there\n\n");
    pc_table_print(table, cli->out, 2);
    fprintf(cli->out, "\n");
}

static void print_lux(FILE *out, const struct weighed *w)
{
    const struct pc_answers *a = &w->answers;
    char all[PC_FIGURE_BYTES], window[PC_FIGURE_BYTES];
    if (isnan(a->greycard_lx.value))
        return;
    pc_print_sentence(out, "On the grey card %s lx, of which the window gives %s lx.",
                      pc_print_figure(all, a->greycard_lx.value, a->greycard_lx.tolerance),
                      pc_print_figure(window, a->ambient_lx.value, a->ambient_lx.tolerance));
}

static void print_shadow(FILE *out, const struct weighed *w)
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

static void print_findings(FILE *out, const struct weighed *w)
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
static void print_ways(struct pc_cli *cli, const struct weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_table *table =
        pc_table_create(cli->arena, pc_arena_printf(cli->arena, "light|>%s|>%s|>%s", pc_ways[0].name,
                                                    pc_ways[1].name, pc_ways[2].name));
    char dial[32];
    for (int i = 0; i < reading->light_count; i++) {
        pc_table_cell(table, "%s", reading->light[i].name);
        for (size_t k = 0; k < PC_COUNT(pc_ways); k++)
            pc_table_cell(table, "%s", pc_measured_dial_text(reading, &w->way[k].dials, i, dial));
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
    pc_measured_print_trust(reading, cli->out);
}

static void print_verdict(FILE *out, const struct weighed *w)
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

static void print_closing(struct pc_cli *cli, const struct weighed *w)
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

static void print_text(struct pc_cli *cli, const struct weighed *w)
{
    pc_measured_print_notes(w->measured, cli->out);
    if (w->measured->notes.count > 0)
        fprintf(cli->out, "\n");
    print_shares(cli, w);
    print_findings(cli->out, w);
    print_ways(cli, w);
    if (w->closed)
        print_closing(cli, w);
}

static enum pc_status weigh(struct pc_cli *cli, struct weighed *w, struct pc_err *err)
{
    PC_TRY(pc_measured_create(cli, true, &w->measured, err));
    struct pc_measured *m = w->measured;
    const struct pc_parts *parts = m->hand_held ? NULL : &m->parts;
    pc_answers_make(parts, &m->reading, &m->dials, m->greycard, &m->exposure, &w->answers);
    struct pc_want limits;
    PC_TRY(pc_measured_limits(cli, m, &limits, err));
    for (size_t i = 0; i < PC_COUNT(pc_ways); i++)
        PC_TRY(pc_way_solve(&m->reading, &limits, &pc_ways[i], &w->way[i], err));
    const char *actual = m->actual, *out = pc_args_text(cli->args, "out");
    if (actual != NULL && m->hand_held)
        return pc_fail(err, PC_UNSUPPORTED, actual,
                       "A closing frame can only be laid beside a set taken with the camera locked off.");
    if (actual != NULL) {
        PC_TRY(
            pc_closing_check(cli->ctx, m->reader, parts, &m->reading, &m->dials, actual, &w->closing, err));
        w->closed = true;
    }
    if (out != NULL && parts == NULL)
        return pc_fail(err, PC_UNSUPPORTED, out,
                       "A set taken from the hand gives no pictures; leave --out away.");
    if (out != NULL)
        PC_TRY(pc_pictures_write(cli, m, w->way, w->closed ? &w->closing.residual : NULL, out, err));
    // Last, so that a run that failed leaves no line and may be run again.
    return w->closed ? pc_record_add(&m->reading, &m->dials, &w->closing, actual, err) : PC_OK;
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct weighed *w = calloc(1, sizeof *w);
    PC_ASSERT(w != NULL);
    enum pc_status status = weigh(cli, w, err);
    if (status == PC_OK && pc_args_has(cli->args, "json"))
        print_json(cli, w);
    else if (status == PC_OK)
        print_text(cli, w);
    pc_picture_finish(&w->closing.residual);
    pc_measured_destroy(w->measured);
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
