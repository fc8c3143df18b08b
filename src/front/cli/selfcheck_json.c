// SPDX-License-Identifier: Apache-2.0
#include "front/cli/selfcheck.h"

const char *const pc_selfcheck_verdicts[] = {
    [PC_SELFCHECK_NOT_TESTED] = "not tested", [PC_SELFCHECK_GOOD] = "good", [PC_SELFCHECK_OFF] = "off"};

static const char *const times_words[] = {[PC_SELFCHECK_TIMES_ALIKE] = NULL,
                                          [PC_SELFCHECK_TIMES_THIRDS] = "thirds",
                                          [PC_SELFCHECK_TIMES_NAMED] = "named",
                                          [PC_SELFCHECK_TIMES_NEITHER] = "neither"};

static void put_figure(struct pc_json *object, const char *key, struct pc_figure figure, int decimals)
{
    char tolerance_key[64];
    snprintf(tolerance_key, sizeof tolerance_key, "%s_tolerance", key);
    pc_json_put_number(object, key, figure.value, decimals);
    pc_json_put_number(object, tolerance_key, figure.tolerance, decimals);
}

static struct pc_json *judged(const struct pc_selfcheck *check, enum pc_selfcheck_test test)
{
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "verdict", pc_selfcheck_verdicts[check->judged[test].verdict]);
    pc_json_put_text(o, "advice", check->judged[test].advice[0] != '\0' ? check->judged[test].advice : NULL);
    return o;
}

static const char *frame_name(const struct pc_selfcheck *check, int frame)
{
    return frame >= 0 ? check->series.frame[frame].name : NULL;
}

static struct pc_json *linearity(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_LINEARITY);
    const struct pc_selfcheck_shutters none = {.bend_ev = {NAN, NAN}, .low_ev = NAN, .high_ev = NAN};
    const struct pc_selfcheck_shutters *row = check->bent >= 0 ? &check->shutter[check->bent] : &none;
    put_figure(o, "bend_ev", row->bend_ev, 4);
    pc_json_put_number(o, "from_level_ev", row->low_ev, 2);
    pc_json_put_number(o, "to_level_ev", row->high_ev, 2);
    return o;
}

static struct pc_json *shutters(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_SHUTTER), *rows = pc_json_array();
    pc_json_put_text(o, "kept_times", check->shutter_count > 0 ? times_words[check->times] : NULL);
    for (int i = 0; i < check->shutter_count; i++) {
        const struct pc_selfcheck_shutters *row = &check->shutter[i];
        struct pc_json *r = pc_json_object();
        pc_json_put_text(r, "longer_file", frame_name(check, row->longer));
        pc_json_put_text(r, "shorter_file", frame_name(check, row->shorter));
        put_figure(r, "measured_stops", row->measured_ev, 4);
        pc_json_put_number(r, "named_stops", row->named_ev, 4);
        pc_json_put_number(r, "thirds_stops", row->thirds_ev, 4);
        pc_json_add(rows, r);
    }
    pc_json_put(o, "pairs", rows);
    return o;
}

static struct pc_json *sums(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_SUPERPOSITION), *rows = pc_json_array();
    for (int i = 0; i < check->sum_count; i++) {
        const struct pc_selfcheck_sum *row = &check->sum[i];
        struct pc_json *r = pc_json_object(), *lights = pc_json_array();
        pc_json_put_text(r, "file", row->frame);
        put_figure(r, "off_ev", row->off_ev, 4);
        pc_json_put_number(r, "spread_ev", row->spread_ev, 4);
        for (int k = 0; k < row->light_count; k++) {
            struct pc_json *light = pc_json_object();
            pc_json_put_text(light, "name", check->series.light[row->light[k]].name);
            put_figure(light, "off_ev", row->light_ev[k], 4);
            pc_json_add(lights, light);
        }
        pc_json_put(r, "lights", lights);
        pc_json_add(rows, r);
    }
    pc_json_put(o, "frames", rows);
    return o;
}

static struct pc_json *dials(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_DIAL), *rows = pc_json_array();
    for (int i = 0; i < check->dial_count; i++) {
        const struct pc_selfcheck_dial *row = &check->dial[i];
        struct pc_json *r = pc_json_object(), *points = pc_json_array();
        pc_json_put_text(r, "name", check->series.light[row->light].name);
        pc_json_put_number(r, "kelvin_K", row->kelvin_K, 0);
        for (int k = 0; k < row->curve.points; k++) {
            struct pc_json *point = pc_json_object();
            pc_json_put_number(point, "dial_ratio", row->curve.dial_ratio[k], 3);
            pc_json_put_number(point, "light_ratio",
                               row->curve.light_ratio[k] / row->curve.light_ratio[row->curve.points - 1], 5);
            pc_json_add(points, point);
        }
        pc_json_put(r, "curve", points);
        pc_json_put_number(r, "bend_pct", row->bend_pct, 1);
        pc_json_put_number(r, "bend_at_dial_ratio", row->bend_at_ratio, 3);
        pc_json_put_number(r, "held_out_pct", row->held_out_pct, 1);
        pc_json_put_number(r, "held_out_at_dial_ratio", row->held_out_at_ratio, 3);
        pc_json_put_number(r, "between_pct", row->between_pct, 1);
        pc_json_put_number(r, "fell_pct", row->fell_pct, 1);
        pc_json_put_number(r, "steep_below_dial_ratio",
                           row->curve.steep_below_ratio > 0.0 ? row->curve.steep_below_ratio : (double)NAN,
                           3);
        pc_json_add(rows, r);
    }
    pc_json_put(o, "lights", rows);
    return o;
}

static void put_change(const struct pc_selfcheck *check, const struct pc_selfcheck_change *change,
                       struct pc_json *o)
{
    bool there = change->from >= 0;
    pc_json_put_text(o, "from_file", there ? frame_name(check, change->from) : NULL);
    pc_json_put_text(o, "to_file", there ? frame_name(check, change->to) : NULL);
    put_figure(o, "change_pct", change->pct, 2);
    pc_json_put_number(o, "after_s", change->after_s, 0);
}

static struct pc_json *drift(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_DRIFT);
    put_change(check, &check->drift, o);
    return o;
}

static struct pc_json *sags(const struct pc_selfcheck *check)
{
    struct pc_json *o = judged(check, PC_SELFCHECK_SAG), *rows = pc_json_array();
    for (int i = 0; i < check->sag_count; i++) {
        struct pc_json *r = pc_json_object();
        pc_json_put_text(r, "name", check->series.light[check->sag[i].light].name);
        pc_json_put_number(r, "dial_ratio", check->series.frame[check->sag[i].from].dial_ratio, 3);
        put_change(check, &check->sag[i], r);
        pc_json_add(rows, r);
    }
    pc_json_put(o, "lights", rows);
    return o;
}

static struct pc_json *noise(const struct pc_selfcheck *check)
{
    const struct pc_selfcheck_noise *n = &check->noise;
    struct pc_json *o = judged(check, PC_SELFCHECK_NOISE), *snr = pc_json_array();
    bool told = n->frame >= 0, electrons = told && n->has_electrons;
    pc_json_put_text(o, "from_file", frame_name(check, n->frame));
    pc_json_put_text(o, "to_file", frame_name(check, n->again));
    pc_json_put_number(o, "gain_dn_per_e", electrons ? n->gain_dn_per_e : (double)NAN, 4);
    pc_json_put_number(o, "read_noise_e", electrons ? n->read_noise_e : (double)NAN, 1);
    pc_json_put_number(o, "saturation_e", electrons ? n->saturation_e : (double)NAN, 0);
    for (int c = 0; told && c < n->channels; c++)
        pc_json_add_number(snr, n->mid_grey_snr_ratio[c], 1);
    pc_json_put(o, "mid_grey_snr_ratio", snr);
    pc_json_put_number(o, "weighable_level_ev", told ? n->weighable_ev : (double)NAN, 2);
    return o;
}

static struct pc_json *record(const struct pc_record_summary *summary)
{
    struct pc_json *o = pc_json_object();
    bool some = summary->places > 0;
    pc_json_put_text(o, "file", summary->path);
    pc_json_put_int(o, "checks", summary->checks);
    pc_json_put_int(o, "places", summary->places);
    pc_json_put_number(o, "median_ev", some ? summary->median_ev : (double)NAN, 3);
    pc_json_put_number(o, "worst_tenth_ev", some ? summary->worst_tenth_ev : (double)NAN, 3);
    pc_json_put_number(o, "within_tolerance_pct",
                       some ? 100.0 * summary->within_tolerance_ratio : (double)NAN, 1);
    return o;
}

void pc_selfcheck_put_json(struct pc_cli *cli, const struct pc_selfchecked *found)
{
    struct pc_json *o = pc_json_object(), *notes = pc_json_array();
    const struct pc_selfcheck *check = &found->check;
    if (found->has_check) {
        const struct pc_facts *facts = &check->series.frame[check->series.reference].facts;
        pc_json_put_text(o, "maker", facts->maker[0] != '\0' ? facts->maker : NULL);
        pc_json_put_text(o, "model", facts->model[0] != '\0' ? facts->model : NULL);
        pc_json_put_number(o, "iso", facts->iso, 0);
        pc_json_put(o, "linearity", linearity(check));
        pc_json_put(o, "shutters", shutters(check));
        pc_json_put(o, "superposition", sums(check));
        pc_json_put(o, "dials", dials(check));
        pc_json_put(o, "drift", drift(check));
        pc_json_put(o, "sag", sags(check));
        pc_json_put(o, "noise", noise(check));
        for (int i = 0; i < found->notes.count; i++)
            pc_json_add_text(notes, found->notes.text[i]);
    }
    pc_json_put(o, "notes", notes);
    if (found->has_record)
        pc_json_put(o, "record", record(&found->record));
    pc_cli_put_json(cli, o);
}
