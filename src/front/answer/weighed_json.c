// SPDX-License-Identifier: Apache-2.0
#include "front/answer/weighed.h"

static void put_figure(struct pc_json *object, const char *key, struct pc_figure figure, int decimals)
{
    char tolerance_key[64];
    snprintf(tolerance_key, sizeof tolerance_key, "%s_tolerance", key);
    pc_json_put_number(object, key, figure.value, decimals);
    pc_json_put_number(object, tolerance_key, figure.tolerance, decimals);
}

static struct pc_json *lights_json(const struct pc_weighed *w)
{
    const struct pc_reading *reading = &w->measured->reading;
    struct pc_json *array = pc_json_array();
    for (int i = 0; i < reading->light_count; i++) {
        const struct pc_light_answer *light = &w->answers.light[i];
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "name", reading->light[i].name);
        pc_json_put_bool(o, "flash", reading->light[i].flash);
        pc_json_put_number(o, "dial_ratio", w->dials.dial_ratio[i], 3);
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

static struct pc_json *places_json(const struct pc_weighed *w)
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

static struct pc_json *ways_json(const struct pc_weighed *w)
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

static struct pc_json *shadows_json(const struct pc_weighed *w)
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

static struct pc_json *actual_json(const struct pc_weighed *w)
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

static struct pc_json *closing_json(const struct pc_weighed *w)
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

struct pc_json *pc_weighed_json(const struct pc_weighed *w)
{
    const struct pc_measured *m = w->measured;
    const struct pc_answers *a = &w->answers;
    struct pc_json *o = pc_json_object();
    pc_json_put(o, "lights", lights_json(w));
    pc_json_put_number(o, "shutter_s", m->exposure.shutter_s * w->dials.shutter_ratio, 6);
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
    return o;
}
