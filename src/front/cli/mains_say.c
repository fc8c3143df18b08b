// SPDX-License-Identifier: Apache-2.0
// What the verb `mains` prints.
#include "front/cli/mains.h"

#include "front/cli/print.h"
#include "light/kit/caution.h"

static const double FITS_LOW_HZ = 3.0, FITS_HIGH_HZ = 70.0; // that the caution is about

// "64 ± 1 %", or "under 2 %" where it may be nothing.
static const char *share_text(struct pc_cli *cli, double value_pct, double tolerance_pct)
{
    char figure[PC_FIGURE_BYTES];
    if (value_pct <= tolerance_pct || value_pct < 0.05)
        return pc_arena_printf(cli->arena, "under %.2g %%", fmax(value_pct + tolerance_pct, 0.1));
    return pc_arena_printf(cli->arena, "%s %%", pc_print_figure(figure, value_pct, tolerance_pct));
}

static void print_table(struct pc_cli *cli, const struct pc_mains_asked *asked,
                        const struct pc_mains_found *found)
{
    struct pc_table *table = pc_table_create(cli->arena, "|>of the ripple|>of the light|");
    for (size_t i = 0; i < found->count; i++) {
        const struct pc_mains_shutter *shutter = &found->shutter[i];
        double left = shutter->left.left_ratio, tolerance = shutter->left.left_ratio_tolerance;
        char text[24];
        pc_table_cell(table, "%s", pc_expose_shutter_text(text, shutter->marked_s));
        pc_table_cell(table, "%s", share_text(cli, 100 * left, 100 * tolerance));
        pc_table_cell(table, "%s",
                      share_text(cli, asked->modulation_pct * left, asked->modulation_pct * tolerance));
        pc_table_cell(table, "%s", shutter->harmless ? "harmless" : "");
    }
    pc_table_print(table, cli->out, 2);
}

// Marks one after the other up to the longest are a range.
static void print_harmless(struct pc_cli *cli, const struct pc_mains_asked *asked,
                           const struct pc_mains_found *found)
{
    int run = 0;
    while (run < found->harmless_count && found->harmless[run] == &pc_marks_shutter[run])
        run++;
    const char *list = "";
    for (int i = found->harmless_count - 1; i >= run; i--)
        list = pc_arena_printf(cli->arena, "%s%s%s", list, list[0] != '\0' ? ", " : "",
                               found->harmless[i]->text);
    if (run > 0)
        list = pc_arena_printf(cli->arena, "%s%s%s and longer", list, list[0] != '\0' ? ", " : "",
                               found->harmless[run - 1]->text);
    if (found->harmless_count > 0)
        pc_print_sentence(cli->out, "Harmless, that is at most %.2g %% of the light: %s.", asked->most_pct,
                          list);
    else
        pc_print_sentence(cli->out, "No shutter leaves so little as %.2g %% of the light.", asked->most_pct);
}

const char *pc_mains_still_text(struct pc_cli *cli, double ripple_hz)
{
    double rates_hz[PC_MAINS_RATES_MAX];
    int count = pc_mains_still_rates(ripple_hz, rates_hz);
    const char *text = "";
    for (int i = 0; i < count; i++)
        text = pc_arena_printf(cli->arena, "%s%s%.0f", text, i > 0 ? ", " : "", rates_hz[i]);
    return text;
}

bool pc_mains_flickers(const struct pc_mains_clip *clip, double left_pct, double most_pct)
{
    return clip->beat_hz >= FITS_LOW_HZ && clip->beat_hz <= FITS_HIGH_HZ && left_pct > most_pct;
}

static void print_clip(struct pc_cli *cli, const struct pc_mains_asked *asked,
                       const struct pc_mains_found *found)
{
    char text[24];
    const char *still = pc_mains_still_text(cli, asked->pulses_hz);
    double left_pct = asked->modulation_pct * found->clip.left_ratio;
    pc_expose_shutter_text(text, found->clip_s);
    if (found->clip.beat_hz > 0)
        pc_print_sentence(
            cli->out,
            "A clip of %.4g frames a second at %s keeps %.2g %% of the light as ripple, and pulses "
            "%.3g times a second.",
            asked->frames_hz, text, left_pct, found->clip.beat_hz);
    else
        pc_print_sentence(
            cli->out,
            "A clip of %.4g frames a second at %s keeps %.2g %% of the light as ripple, which stands "
            "still: bands, if any, do not move.",
            asked->frames_hz, text, left_pct);
    if (found->clip.beat_hz > 0 && still[0] != '\0')
        pc_print_sentence(cli->out, "Frame rates that stand still under this lamp: %s.", still);
    if (pc_mains_flickers(&found->clip, left_pct, asked->most_pct))
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_FLICKER));
}

static void print_lamp(struct pc_cli *cli, const struct pc_mains_asked *asked,
                       const struct pc_mains_found *found)
{
    const struct pc_bands_lamp *lamp = &found->lamp;
    char figure[PC_FIGURE_BYTES];
    if (isnan(asked->readout_s))
        pc_print_sentence(
            cli->out,
            "If the lamp pulses %.0f times a second, this sensor reads out in %s ms; with --readout "
            "the frames tell which lamp it is.",
            asked->pulses_hz,
            pc_print_figure(figure, 1e3 * found->readout_s, 1e3 * found->readout_s_tolerance));
    else if (!isnan(found->lamp_mains_hz))
        pc_print_sentence(cli->out, "The lamp pulses at %s Hz: it hangs on mains of %.0f Hz.",
                          pc_print_figure(figure, lamp->hz, lamp->hz_tolerance), found->lamp_mains_hz);
    else
        pc_print_sentence(cli->out,
                          "The lamp pulses at %s Hz, which is not the mains: a dimmer or a drive of its own.",
                          pc_print_figure(figure, lamp->hz, lamp->hz_tolerance));
    pc_print_sentence(cli->out, "Its light goes up and down by %.2g %%, and may do so by %.2g to %.2g %%%s.",
                      lamp->modulation_pct, lamp->modulation_low_pct, lamp->modulation_high_pct,
                      lamp->modulation_high_pct > 2 * lamp->modulation_low_pct
                          ? ": two frames at short shutters do not tell it any better"
                          : "");
    struct pc_table *table = pc_table_create(cli->arena, "|>bands left|>at most");
    double hz = !isnan(found->lamp_mains_hz) ? 2 * found->lamp_mains_hz
                : isnan(asked->readout_s)    ? asked->pulses_hz
                                             : lamp->hz;
    for (size_t i = 0; i < found->count; i++) {
        struct pc_mains_left left;
        char text[24];
        pc_mains_left_find(hz,
                           isnan(asked->readout_s) || !isnan(found->lamp_mains_hz)
                               ? PC_MAINS_TOLERANCE_RATIO * hz
                               : lamp->hz_tolerance,
                           found->shutter[i].marked_s, &left);
        pc_table_cell(table, "%s", pc_expose_shutter_text(text, found->shutter[i].marked_s));
        pc_table_cell(table, "%.1f %%", left.left_ratio * lamp->modulation_pct);
        pc_table_cell(table, "%.1f %%",
                      fmin(1.0, left.left_ratio + left.left_ratio_tolerance) * lamp->modulation_high_pct);
    }
    pc_table_print(table, cli->out, 2);
}

static void print_bands(struct pc_cli *cli, const struct pc_mains_asked *asked,
                        const struct pc_mains_found *found)
{
    const struct pc_bands *bands = &found->bands;
    char figure[PC_FIGURE_BYTES], deep[PC_FIGURE_BYTES];
    switch (bands->verdict) {
    case PC_BANDS_FOUND:
        pc_print_sentence(cli->out,
                          "There are %s bands from the sensor's first row to its last, %s %% deep%s.",
                          pc_print_figure(figure, bands->bands, bands->bands_tolerance),
                          pc_print_figure(deep, bands->depth_pct, bands->depth_pct_tolerance),
                          found->frames == 2 ? " in the ratio of the two" : "");
        print_lamp(cli, asked, found);
        break;
    case PC_BANDS_NONE:
        pc_print_sentence(cli->out, "There are no bands deeper than %.2g %%.", bands->least_pct);
        break;
    case PC_BANDS_FEW:
        pc_print_sentence(
            cli->out,
            "There are no bands deeper than %.2g %%, but a slow change of %.2g %% from the sensor's "
            "first row to its last. That may be light that falls off or moved, or less than %.1f "
            "bands: the two cannot be told apart. The electronic shutter reads more slowly and "
            "shows more bands.",
            bands->least_pct, bands->slow_pct, PC_BANDS_LEAST);
        break;
    case PC_BANDS_UNCLEAR:
        pc_print_sentence(
            cli->out,
            "It cannot be told: the pattern in the picture hides bands of up to %.2g %%. Take two "
            "frames of the same scene without touching the camera, or fill the frame with a card.",
            bands->least_pct);
        break;
    }
}

void pc_mains_print(struct pc_cli *cli, const struct pc_mains_asked *asked,
                    const struct pc_mains_found *found)
{
    if (found->frames > 0) {
        print_bands(cli, asked, found);
        return;
    }
    if (asked->on_mains)
        pc_print_sentence(cli->out,
                          "Lamps on mains of %.4g Hz pulse %.4g times a second. Of a ripple of %.3g %%, "
                          "shutters leave:",
                          asked->mains_hz, asked->pulses_hz, asked->modulation_pct);
    else if (isnan(asked->duty_ratio))
        pc_print_sentence(cli->out, "Of a ripple of %.3g %%, %.4g times a second, shutters leave:",
                          asked->modulation_pct, asked->pulses_hz);
    else
        pc_print_sentence(
            cli->out,
            "Of a lamp that is switched %.4g times a second, on for %.3g %% of the time, shutters leave:",
            asked->pulses_hz, 100 * asked->duty_ratio);
    print_table(cli, asked, found);
    print_harmless(cli, asked, found);
    if (!isnan(asked->frames_hz))
        print_clip(cli, asked, found);
}

static void put_figure(struct pc_json *o, const char *key, double value, double tolerance, int decimals)
{
    char name[64];
    snprintf(name, sizeof name, "%s_tolerance", key);
    pc_json_put_number(o, key, value, decimals);
    pc_json_put_number(o, name, tolerance, decimals);
}

static struct pc_json *bands_json(const struct pc_mains_found *found)
{
    static const char *const verdicts[] = {"found", "none", "few", "unclear"};
    const struct pc_bands *bands = &found->bands;
    bool there = bands->verdict == PC_BANDS_FOUND;
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "verdict", verdicts[bands->verdict]);
    put_figure(o, "bands", bands->bands, bands->bands_tolerance, 3);
    put_figure(o, "depth_pct", bands->depth_pct, bands->depth_pct_tolerance, 3);
    pc_json_put_number(o, "slow_pct", bands->slow_pct, 2);
    pc_json_put_number(o, "least_pct", bands->least_pct, 2);
    put_figure(o, "lamp_hz", there ? found->lamp.hz : (double)NAN,
               there ? found->lamp.hz_tolerance : (double)NAN, 2);
    pc_json_put_number(o, "lamp_mains_hz", there ? found->lamp_mains_hz : (double)NAN, 0);
    pc_json_put_number(o, "modulation_pct", there ? found->lamp.modulation_pct : (double)NAN, 2);
    pc_json_put_number(o, "modulation_low_pct", there ? found->lamp.modulation_low_pct : (double)NAN, 2);
    pc_json_put_number(o, "modulation_high_pct", there ? found->lamp.modulation_high_pct : (double)NAN, 2);
    put_figure(o, "readout_s", there ? found->readout_s : (double)NAN,
               there ? found->readout_s_tolerance : (double)NAN, 6);
    return o;
}

struct pc_json *pc_mains_json(const struct pc_mains_asked *asked, const struct pc_mains_found *found)
{
    struct pc_json *o = pc_json_object(), *shutters = pc_json_array(), *harmless = pc_json_array();
    pc_json_put_number(o, "pulses_hz", asked->pulses_hz, 2);
    pc_json_put_number(o, "ripple_pct", asked->modulation_pct, 2);
    for (size_t i = 0; i < found->count; i++) {
        const struct pc_mains_shutter *shutter = &found->shutter[i];
        struct pc_json *row = pc_json_object();
        pc_json_put_number(row, "shutter_s", shutter->marked_s, 9);
        put_figure(row, "left_ratio", shutter->left.left_ratio, shutter->left.left_ratio_tolerance, 4);
        pc_json_put_bool(row, "harmless", shutter->harmless);
        pc_json_add(shutters, row);
    }
    for (int i = 0; i < found->harmless_count; i++)
        pc_json_add_number(harmless, found->harmless[i]->marked, 9);
    pc_json_put(o, "shutters", shutters);
    pc_json_put(o, "harmless_s", harmless);
    if (!isnan(asked->frames_hz)) {
        struct pc_json *clip = pc_json_object();
        pc_json_put_number(clip, "frames_hz", asked->frames_hz, 3);
        pc_json_put_number(clip, "shutter_s", found->clip_s, 9);
        pc_json_put_number(clip, "clip_left_ratio", found->clip.left_ratio, 4);
        pc_json_put_number(clip, "beat_hz", found->clip.beat_hz, 3);
        pc_json_put(o, "clip", clip);
    }
    if (found->frames > 0)
        pc_json_put(o, "measured", bands_json(found));
    return o;
}
