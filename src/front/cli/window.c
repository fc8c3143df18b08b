// SPDX-License-Identifier: Apache-2.0
// The verb `window`: how much daylight the windows bring to the hero, and of what colour.
#include "base/units.h"
#include "front/cli/options.h"
#include "front/cli/print.h"
#include "front/cli/there.h"
#include "front/cli/verbs.h"
#include "light/kit/caution.h"

struct answer {
    struct pc_there there;
    struct pc_daylight_place place;
    struct pc_daylight light;
};

static int day_of_year(const struct pc_there *there)
{
    int year, month, day;
    double first_s;
    pc_clock_civil(there->at_s + there->offset_s, &year, &month, &day);
    bool good = pc_clock_s_from_civil(year, 1, 1, 0, 0, 0.0, &first_s);
    PC_ASSERT(good);
    return 1 + (int)floor((there->at_s + there->offset_s - first_s) / 86400.0);
}

static enum pc_status take_options(struct pc_cli *cli, struct answer *a, struct pc_daylight_care *care,
                                   struct pc_err *err)
{
    double value;
    pc_args_number(cli->args, "scrim-stops", &a->place.scrim_stops);
    if (pc_args_number(cli->args, "bars-pct", &value)) {
        a->place.pass_ratio = 1.0 - value / 100.0;
        care->pass_ratio = 0.05;
    }
    if (pc_args_number(cli->args, "glass-pct", &value))
        for (int i = 0; i < a->place.opening.opening_count; i++)
            PC_TRY(pc_glass_make(pc_glass_panes(value / 100.0), value / 100.0, &a->place.glass[i], err));
    return PC_OK;
}

static void put_lux(struct pc_json *o, const char *key, const char *tolerance_key, const struct pc_lux *lux)
{
    pc_json_put_number(o, key, lux->lx, 0);
    pc_json_put_number(o, tolerance_key, lux->lx_tolerance, 0);
}

static void print_json(struct pc_cli *cli, const struct answer *a)
{
    const struct pc_daylight *d = &a->light;
    struct pc_json *o = pc_json_object();
    pc_there_put_time(&a->there, o, "at", a->there.at_s);
    pc_json_put_number(o, "least_lx", fmin(d->overcast.lx, d->clear.lx), 0);
    pc_json_put_number(o, "most_lx", fmax(d->overcast.lx, d->clear.lx), 0);
    put_lux(o, "overcast_lx", "overcast_lx_tolerance", &d->overcast);
    put_lux(o, "clear_lx", "clear_lx_tolerance", &d->clear);
    pc_json_put_bool(o, "sun_on_hero", d->sun_on_hero);
    pc_json_put_bool(o, "sun_on_hero_sure", d->sun_on_hero_sure);
    put_lux(o, "direct_lx", "direct_lx_tolerance", &d->direct);
    pc_json_put_number(o, "scrim_stops", a->place.scrim_stops, 3);
    put_lux(o, "scrimmed_lx", "scrimmed_lx_tolerance", &d->scrimmed);
    pc_json_put_number(o, "daylight_factor_pct", d->factor_pct, 2);
    pc_json_put_number(o, "daylight_factor_pct_tolerance", d->factor_pct_tolerance, 2);
    pc_json_put_number(o, "outside_overcast_lx", d->outside_overcast_lx, 0);
    pc_json_put_number(o, "outside_clear_lx", d->outside_clear_lx, 0);
    pc_json_put_number(o, "overcast_K", d->overcast_K, 0);
    pc_json_put_number(o, "overcast_K_tolerance", d->overcast_K_tolerance, 0);
    pc_json_put_number(o, "clear_K", d->clear_K, 0);
    pc_json_put_number(o, "clear_K_tolerance", d->clear_K_tolerance, 0);
    pc_json_put_number(o, "direct_K", d->direct_K, 0);
    pc_json_put_number(o, "direct_K_tolerance", d->direct_K_tolerance, 0);
    pc_cli_put_json(cli, o);
}

static void say_diffuse(struct pc_cli *cli, const struct answer *a)
{
    const struct pc_daylight *d = &a->light;
    char hm[16], date[48], grey[PC_FIGURE_BYTES], blue[PC_FIGURE_BYTES], factor[PC_FIGURE_BYTES];
    char grey_K[PC_FIGURE_BYTES], blue_K[PC_FIGURE_BYTES];
    pc_print_sentence(
        cli->out,
        "At %s on %s the windows give the hero %s lx under an overcast sky and %s lx under a clear one, the "
        "sun's own beam not counted.",
        pc_there_hm(&a->there, a->there.at_s, hm), pc_there_date(&a->there, a->there.at_s, date),
        pc_print_figure(grey, d->overcast.lx, d->overcast.lx_tolerance),
        pc_print_figure(blue, d->clear.lx, d->clear.lx_tolerance));
    pc_print_sentence(cli->out, "These are means of such skies: a moment may have half of it or twice.");
    pc_print_sentence(cli->out, "Of what an overcast sky gives outdoors, %s %% arrives.",
                      pc_print_figure(factor, d->factor_pct, d->factor_pct_tolerance));
    pc_print_sentence(cli->out, "Its colour is %s K overcast and %s K clear.",
                      pc_print_figure(grey_K, d->overcast_K, d->overcast_K_tolerance),
                      pc_print_figure(blue_K, d->clear_K, d->clear_K_tolerance));
}

static void say_direct(struct pc_cli *cli, const struct answer *a)
{
    const struct pc_daylight *d = &a->light;
    char lx[PC_FIGURE_BYTES], scrimmed[PC_FIGURE_BYTES], K[PC_FIGURE_BYTES];
    if (!d->sun_on_hero) {
        pc_print_sentence(
            cli->out, d->sun_on_hero_sure
                          ? "The sun itself does not reach the hero's centre then."
                          : "The sun itself should not reach the hero's centre then, but is near it: within "
                            "what is known of the place it may.");
        return;
    }
    pc_print_sentence(cli->out,
                      "A clear sky's sun adds %s lx through the glass, and turns the whole to %s K.",
                      pc_print_figure(lx, d->direct.lx, d->direct.lx_tolerance),
                      pc_print_figure(K, d->direct_K, d->direct_K_tolerance));
    if (!d->sun_on_hero_sure)
        pc_print_sentence(
            cli->out, "It is about to come or go: within what is known of the place it may not be there.");
    if (a->place.scrim_stops > 0.0)
        pc_print_sentence(cli->out, "Behind a scrim of %.2f stops %s lx of it are left.",
                          a->place.scrim_stops,
                          pc_print_figure(scrimmed, d->scrimmed.lx, d->scrimmed.lx_tolerance));
    pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_SUN));
}

static enum pc_status run(struct pc_cli *cli, struct pc_err *err)
{
    struct answer *a = PC_NEW(cli->arena, struct answer);
    struct pc_daylight_care care;
    PC_TRY(pc_there_read(cli, &a->there, err));
    if (!a->there.has_time)
        return pc_fail(err, PC_MISUSE, "--at", "Say at what time, as --at 2027-03-18T14:00:00+01:00.");
    if (!a->there.has_windows)
        return pc_fail(err, PC_MISUSE, NULL,
                       "Say by which window, with a place file as --site FILE, or with --facing and what is "
                       "known of it.");
    PC_TRY(pc_site_daylight(&a->there.site, &a->place, &care, err));
    PC_TRY(take_options(cli, a, &care, err));
    struct pc_sun sun = pc_sun_at(&a->there.station, a->there.at_s);
    PC_TRY(pc_daylight_at(&a->place, &care, &sun, day_of_year(&a->there), &a->light, err));
    if (pc_args_has(cli->args, "json")) {
        print_json(cli, a);
        return PC_OK;
    }
    say_diffuse(cli, a);
    say_direct(cli, a);
    return PC_OK;
}

static const struct pc_option before[] = {
    {.name = "scrim-stops",
     .kind = PC_ARG_NUMBER,
     .metavar = "STOPS",
     .help = "a scrim between window and hero",
     .least = 0,
     .most = 10,
     .otherwise = "none"},
    {.name = "glass-pct",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "light that the glass lets through square on, of all windows",
     .least = 1,
     .most = 100,
     .otherwise = "as the place file says"},
    {.name = "bars-pct",
     .kind = PC_ARG_NUMBER,
     .metavar = "PCT",
     .help = "of the sky's light, what bars, sash and dirt hold back",
     .least = 0,
     .most = 95,
     .otherwise = "15"},
};
static const struct pc_option_group before_group = {"In the window", before, PC_COUNT(before)};

static const struct pc_option_group *const groups[] = {
    &pc_options_there, &before_group, &pc_options_window, &pc_options_json, NULL,
};

const struct pc_verb pc_verb_window = {
    .name = "window",
    .question = "how much daylight do the windows give?",
    .about =
        "Tells the daylight on the hero as a range between an overcast and a clear sky, with its colour, and "
        "the "
        "sun itself through the glass and behind a scrim, at a place and a time. Blinds are taken as up.",
    .hour = PC_HOUR_RECCE,
    .operands = "",
    .groups = groups,
    .run = run,
};
