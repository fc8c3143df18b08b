// SPDX-License-Identifier: Apache-2.0
// What a spectrum does to colours, and what comes of several lights on one place.
#include "front/cli/lamp_priv.h"

#include "base/file.h"
#include "front/cli/print.h"
#include "light/lamp/food.h"
#include "light/lamp/match.h"

enum { SPECTRUM_BYTES_MAX = 1 << 20 };

static struct pc_json *foods_json(const struct pc_food_change change[PC_FOODS])
{
    struct pc_json *foods = pc_json_array();
    for (int i = 0; i < PC_FOODS; i++) {
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "food", pc_foods[i].name);
        lamp_put_figure(o, "change_de2000", change[i].de2000, change[i].de2000_tolerance, 2);
        pc_json_put_number(o, "lightness_change", change[i].lightness, 2);
        pc_json_put_number(o, "chroma_change", change[i].chroma, 2);
        pc_json_put_number(o, "hue_change_deg", change[i].hue_deg, 2);
        pc_json_add(foods, o);
    }
    return foods;
}

static void put_rendering_json(struct pc_json *o, const struct pc_rendering *r,
                               const struct pc_food_change change[PC_FOODS])
{
    lamp_put_figure(o, "cct_K", r->cct_K, r->cct_K_tolerance, 0);
    lamp_put_figure(o, "tint_duv", r->duv, r->duv_tolerance, 5);
    lamp_put_figure(o, "ra", r->ra, r->ra_tolerance, 2);
    lamp_put_figure(o, "r9", r->r[8], r->r9_tolerance, 2);
    struct pc_json *all = pc_json_array();
    for (int i = 0; i < PC_SPECTRUM_TEST_COLOURS; i++)
        pc_json_add_number(all, r->r[i], 2);
    pc_json_put(o, "r", all);
    pc_json_put_bool(o, "near_white", r->near_white);
    pc_json_put(o, "foods", foods_json(change));
}

// "duller", "more colourful", "yellower"...: the largest part of a change, in words.
static const char *change_word(const struct pc_food_change *c, double chroma)
{
    double turned = 2 * chroma * sin(fabs(c->hue_deg) * 0.5 * 3.14159265358979323846 / 180);
    if (fabs(c->chroma) >= turned)
        return c->chroma < 0 ? "duller" : "more colourful";
    return c->hue_deg > 0 ? "turned towards yellow or green" : "turned towards yellow or red";
}

static void print_foods(const struct pc_cli *cli, const struct pc_food_change change[PC_FOODS])
{
    char figure[PC_FIGURE_BYTES];
    struct pc_table *table = pc_table_create(cli->arena, "|>dE00|");
    for (int i = 0; i < PC_FOODS; i++) {
        double chroma = hypot(pc_foods[i].lab[1], pc_foods[i].lab[2]);
        pc_table_cell(table, "%s", pc_foods[i].name);
        pc_table_cell(table, "%s",
                      pc_print_figure(figure, change[i].de2000, fmax(change[i].de2000_tolerance, 0.1)));
        pc_table_cell(table, "%s",
                      change[i].de2000 < 0.5 ? "as it should be" : change_word(&change[i], chroma));
    }
    fputs("Food under it, against daylight or tungsten of the same kelvin:\n", cli->out);
    pc_table_print(table, cli->out, 2);
    pc_print_sentence(
        cli->out,
        "These foods are made, not measured: the smoothest reflectance of a typical colour. About 1 is "
        "just seen side by side.");
}

enum pc_status lamp_put_rendering(struct pc_cli *cli, const char *name, const struct pc_spectrum *light,
                                  struct pc_json *o, struct pc_err *err)
{
    struct pc_rendering r;
    struct pc_food_change change[PC_FOODS];
    char K[PC_FIGURE_BYTES], tint[PC_FIGURE_BYTES], ra[PC_FIGURE_BYTES], r9[PC_FIGURE_BYTES];
    if (!pc_spectrum_rendering(light, LAMP_WAVELENGTH_NM, LAMP_TILT_PCT, &r) ||
        !pc_food_changes(light, LAMP_WAVELENGTH_NM, LAMP_TILT_PCT, change))
        return pc_fail(
            err, PC_BAD_INPUT, name,
            "Its light is too far from white, or from 1000 to 25000 K, to have a kelvin, so colour "
            "rendering means nothing for it.");
    if (o != NULL) {
        put_rendering_json(o, &r, change);
        return PC_OK;
    }
    pc_print_sentence(cli->out, "%s: %s K, tint %s Duv; colour rendering Ra %s, R9 (strong red) %s.", name,
                      pc_print_figure(K, r.cct_K, r.cct_K_tolerance),
                      pc_print_change(tint, r.duv, fmax(r.duv_tolerance, 1e-4)),
                      pc_print_figure(ra, r.ra, fmax(r.ra_tolerance, 1)),
                      pc_print_figure(r9, r.r[8], fmax(r.r9_tolerance, 1)));
    if (!r.near_white)
        pc_print_sentence(cli->out,
                          "It is further from white than colour rendering is made for (CIE 13.3), so Ra "
                          "and R9 are hints.");
    print_foods(cli, change);
    return PC_OK;
}

static void put_gel(struct pc_cli *cli, const struct pc_gel *gel, double to_K, struct pc_json *o)
{
    if (o != NULL) {
        lamp_put_figure(o, "gel_mired", gel->mired, gel->mired_tolerance, 1);
        lamp_put_figure(o, "gel_loss_stops", gel->loss_ev, gel->loss_ev_tolerance, 3);
        lamp_put_figure(o, "left_duv", gel->left_duv, gel->left_duv_tolerance, 5);
        return;
    }
    char mired[PC_FIGURE_BYTES], loss[PC_FIGURE_BYTES], tint[PC_FIGURE_BYTES];
    pc_print_sentence(
        cli->out,
        "To %.0f K it wants a gel of %s mired, which takes %s stops of light; the tint left is %s Duv "
        "(%s), as a perfect gel would leave it.",
        to_K, pc_print_change(mired, gel->mired, gel->mired_tolerance),
        pc_print_figure(loss, gel->loss_ev, fmax(gel->loss_ev_tolerance, 0.01)),
        pc_print_change(tint, gel->left_duv, gel->left_duv_tolerance),
        fabs(gel->left_duv) <= gel->left_duv_tolerance ? "none that can be told"
        : gel->left_duv > 0                            ? "greener"
                                                       : "pinker");
}

enum pc_status lamp_about_spectrum(struct pc_cli *cli, const char *path, struct pc_err *err)
{
    char *text;
    size_t count;
    struct pc_spectrum light;
    double against_K = lamp_number(cli, "against-K"), against_duv = lamp_number(cli, "against-duv");
    PC_TRY(pc_file_read(cli->arena, path, SPECTRUM_BYTES_MAX, &text, &count, err));
    PC_TRY(pc_spectrum_parse(text, count, path, &light, err));
    struct pc_gel gel = {0};
    if (!isnan(against_K) && !pc_gel_towards(&light, LAMP_WAVELENGTH_NM, LAMP_TILT_PCT, against_K,
                                             against_K * LAMP_OTHER_PCT / 100,
                                             isnan(against_duv) ? 0 : against_duv, LAMP_OTHER_DUV, &gel))
        return pc_fail(err, PC_BAD_INPUT, path, "No gel takes this light to %.0f K.", against_K);
    struct pc_json *o = pc_args_has(cli->args, "json") ? pc_json_object() : NULL;
    if (o != NULL)
        pc_json_put_text(o, "file", path);
    enum pc_status status = lamp_put_rendering(cli, pc_file_name(path), &light, o, err);
    if (status != PC_OK) {
        pc_json_destroy(o);
        return status;
    }
    if (!isnan(against_K))
        put_gel(cli, &gel, against_K, o);
    if (o != NULL)
        pc_cli_put_json(cli, o);
    return PC_OK;
}

static struct pc_json *place_json(const struct pc_cli *cli, int count, const struct pc_mix_light lights[],
                                  const struct pc_mix *mix, int second)
{
    struct pc_json *o = pc_json_object(), *rows = pc_json_array();
    lamp_put_figure(o, "light_lx", mix->lx, mix->lx_tolerance, 1);
    lamp_put_figure(o, "cct_K", mix->cct_K, mix->cct_K_tolerance, 0);
    lamp_put_figure(o, "tint_duv", mix->duv, mix->duv_tolerance, 5);
    pc_json_put_text(o, "second_shadow_light",
                     second >= 0 ? pc_args_at(cli->args, "lx", (size_t)second)->name : NULL);
    for (int i = 0; i < count; i++) {
        struct pc_json *row = pc_json_object();
        pc_json_put_text(row, "name", pc_args_at(cli->args, "lx", (size_t)i)->name);
        lamp_put_figure(row, "light_lx", lights[i].lx, lights[i].lx_tolerance, 1);
        lamp_put_figure(row, "share_ratio", mix->share_ratio[i], mix->share_ratio_tolerance[i], 4);
        lamp_put_figure(row, "shadow_stops", mix->shadow_ev[i], mix->shadow_ev_tolerance[i], 3);
        pc_json_add(rows, row);
    }
    pc_json_put(o, "lights", rows);
    return o;
}

static void print_place(const struct pc_cli *cli, int count, const struct pc_mix *mix, int second)
{
    char a[PC_FIGURE_BYTES], b[PC_FIGURE_BYTES];
    struct pc_table *table = pc_table_create(cli->arena, "|>share of the light|>its shadow, stops");
    for (int i = 0; i < count; i++) {
        pc_table_cell(table, "%s", pc_args_at(cli->args, "lx", (size_t)i)->name);
        pc_table_cell(table, "%s", pc_print_share(a, mix->share_ratio[i], mix->share_ratio_tolerance[i]));
        pc_table_cell(table, "%s",
                      isinf(mix->shadow_ev[i])
                          ? "black"
                          : pc_print_figure(b, mix->shadow_ev[i], mix->shadow_ev_tolerance[i]));
    }
    pc_table_print(table, cli->out, 2);
    pc_print_sentence(cli->out, "Together they give %s lx, with each known to %.0f %%.",
                      pc_print_figure(a, mix->lx, mix->lx_tolerance), LAMP_METER_PCT);
    if (second >= 0)
        pc_print_sentence(cli->out, "The second shadow is that of %s, %s stops deep.",
                          pc_args_at(cli->args, "lx", (size_t)second)->name,
                          pc_print_figure(b, mix->shadow_ev[second], mix->shadow_ev_tolerance[second]));
    if (!isnan(mix->cct_K))
        pc_print_sentence(
            cli->out,
            "Mixed, they are %s K, tint %s Duv; in a light's shadow only the others' colour is left.",
            pc_print_figure(a, mix->cct_K, mix->cct_K_tolerance),
            pc_print_change(b, mix->duv, mix->duv_tolerance));
}

// The second strongest; -1 where there is none. Of equals the later.
static int second_of(int count, const struct pc_mix *mix)
{
    int first = 0, second = -1;
    for (int i = 1; i < count; i++)
        if (mix->share_ratio[i] > mix->share_ratio[first]) {
            second = first;
            first = i;
        } else if (second < 0 || mix->share_ratio[i] > mix->share_ratio[second]) {
            second = i;
        }
    return second >= 0 && mix->share_ratio[second] > 0 ? second : -1;
}

enum pc_status lamp_about_place(struct pc_cli *cli, struct pc_err *err)
{
    struct pc_mix_light lights[PC_MIX_MAX];
    struct pc_mix mix;
    size_t count = pc_args_count(cli->args, "lx");
    if (count > PC_MIX_MAX)
        return pc_fail(err, PC_MISUSE, "--lx",
                       "More than %d lights cannot be weighed at once; add the weakest up.", PC_MIX_MAX);
    for (size_t i = 0; i < count; i++) {
        const struct pc_arg *arg = pc_args_at(cli->args, "lx", i);
        double lx = arg->value[0], K = arg->kelvin_K;
        lights[i] = (struct pc_mix_light){
            lx, lx * LAMP_METER_PCT / 100, K, K * LAMP_OTHER_PCT / 100, 0, LAMP_OTHER_DUV};
        for (size_t j = 0; j < i; j++)
            if (strcmp(pc_args_at(cli->args, "lx", j)->name, arg->name) == 0)
                return pc_fail(err, PC_MISUSE, "--lx", "%s is there twice; add its two lights up.",
                               arg->name);
    }
    if (!pc_mix_lights((int)count, lights, &mix))
        return pc_fail(err, PC_BAD_INPUT, "--lx", "None of them gives any light there.");
    int second = second_of((int)count, &mix);
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, place_json(cli, (int)count, lights, &mix, second));
    else
        print_place(cli, (int)count, &mix, second);
    return PC_OK;
}
