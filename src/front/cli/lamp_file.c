// SPDX-License-Identifier: Apache-2.0
#include "front/cli/lamp_priv.h"

#include "base/file.h"
#include "front/cli/print.h"
#include "light/lamp/photometry.h"

static const char *const forms[] = {
    [PC_PHOTOMETRY_LM63_1986] = "LM-63-1986", [PC_PHOTOMETRY_LM63_1991] = "LM-63-1991",
    [PC_PHOTOMETRY_LM63_1995] = "LM-63-1995", [PC_PHOTOMETRY_LM63_2002] = "LM-63-2002",
    [PC_PHOTOMETRY_LM63_2019] = "LM-63-2019", [PC_PHOTOMETRY_EULUMDAT] = "EULUMDAT",
};
static const char *const types[] = {
    [PC_PHOTOMETRY_C] = "C", [PC_PHOTOMETRY_B] = "B", [PC_PHOTOMETRY_A] = "A"};
static const char *const symmetries[] = {
    [PC_PHOTOMETRY_NONE] = "none",   [PC_PHOTOMETRY_AXIAL] = "axial",       [PC_PHOTOMETRY_HALVES] = "halves",
    [PC_PHOTOMETRY_SIDES] = "sides", [PC_PHOTOMETRY_QUARTERS] = "quarters",
};
static const char *const openings[] = {[PC_PHOTOMETRY_POINT] = "point",
                                       [PC_PHOTOMETRY_RECTANGLE] = "rectangle",
                                       [PC_PHOTOMETRY_ROUND] = "round"};

enum { ZONE_DEG = 30 };

static const double FAR_ENOUGH = 5; // times the opening: light falls with distance squared within 1.3 %

struct found {
    const char *path;
    struct pc_photometry photometry;
    bool tilted;
    double tilt_ratio, flux_lm, down_lm; // down_lm: NAN unless type C
    double peak_cd, peak_v_deg, peak_h_deg;
    double at_v_deg, at_h_deg, cd; // NAN: not asked
    double at_m, lx, lx_tolerance;
};

static enum pc_status look_towards(const struct pc_cli *cli, struct found *f, struct pc_err *err)
{
    f->at_v_deg = f->at_h_deg = f->cd = f->lx = f->lx_tolerance = NAN;
    f->at_m = lamp_number(cli, "at-m");
    if (!pc_args_pair(cli->args, "at", &f->at_v_deg, &f->at_h_deg)) {
        if (isnan(f->at_m))
            return PC_OK;
        f->at_v_deg = f->at_h_deg = 0;
    }
    bool is_c = f->photometry.type == PC_PHOTOMETRY_C;
    double least = is_c ? 0 : -90, most = is_c ? 180 : 90, widest = is_c ? 360 : 90;
    if (!(f->at_v_deg >= least && f->at_v_deg <= most) || !(fabs(f->at_h_deg) <= widest))
        return pc_fail(
            err, PC_BAD_INPUT, "--at",
            "%g,%g is no direction of a type %s file; there V goes from %g to %g degrees and H from %g to "
            "%g.",
            f->at_v_deg, f->at_h_deg, types[f->photometry.type], least, most, -widest, widest);
    f->cd = f->tilt_ratio * pc_photometry_cd(&f->photometry, f->at_v_deg, f->at_h_deg);
    if (isnan(f->at_m))
        return PC_OK;
    f->lx = f->tilt_ratio * pc_photometry_lx(&f->photometry, f->at_v_deg, f->at_h_deg, f->at_m, LAMP_TAPE_M,
                                             &f->lx_tolerance);
    f->lx_tolerance *= f->tilt_ratio;
    return PC_OK;
}

static enum pc_status look(const struct pc_cli *cli, struct found *f, struct pc_err *err)
{
    const struct pc_photometry *p = &f->photometry;
    double tilted_deg = lamp_number(cli, "tilted-deg");
    f->tilted = !isnan(tilted_deg);
    f->tilt_ratio = isnan(tilted_deg) ? 1 : pc_photometry_tilt_ratio(p, tilted_deg);
    if (!isnan(tilted_deg) && p->tilt_count == 0)
        return pc_fail(err, PC_BAD_INPUT, "--tilted-deg",
                       "The file says nothing about tilting, so its lamp does not mind; leave it out.");
    if (isnan(f->tilt_ratio))
        return pc_fail(err, PC_BAD_INPUT, "--tilted-deg",
                       "The file has factors for tilting from %g to %g degrees only.", p->tilt_deg[0],
                       p->tilt_deg[p->tilt_count - 1]);
    f->flux_lm = f->tilt_ratio * pc_photometry_flux_lm(p);
    f->down_lm = p->type == PC_PHOTOMETRY_C ? f->tilt_ratio * pc_photometry_zone_lm(p, 0, 90) : (double)NAN;
    f->peak_cd = f->tilt_ratio * pc_photometry_peak_cd(p, &f->peak_v_deg, &f->peak_h_deg);
    return look_towards(cli, f, err);
}

static struct pc_json *zones_json(const struct found *f)
{
    struct pc_json *zones = pc_json_array();
    for (int v = 0; f->photometry.type == PC_PHOTOMETRY_C && v < 180; v += ZONE_DEG) {
        struct pc_json *zone = pc_json_object();
        pc_json_put_int(zone, "from_v_deg", v);
        pc_json_put_int(zone, "to_v_deg", v + ZONE_DEG);
        pc_json_put_number(zone, "flux_lm",
                           f->tilt_ratio * pc_photometry_zone_lm(&f->photometry, v, v + ZONE_DEG), 2);
        pc_json_add(zones, zone);
    }
    return zones;
}

static struct pc_json *found_json(const struct found *f)
{
    const struct pc_photometry *p = &f->photometry;
    struct pc_json *o = pc_json_object(), *notes = pc_json_array();
    pc_json_put_text(o, "file", f->path);
    pc_json_put_text(o, "form", forms[p->form]);
    pc_json_put_text(o, "photometric_type", types[p->type]);
    pc_json_put_text(o, "symmetry", symmetries[p->symmetry]);
    if (!isnan(f->cd)) {
        pc_json_put_number(o, "at_v_deg", f->at_v_deg, 4);
        pc_json_put_number(o, "at_h_deg", f->at_h_deg, 4);
        pc_json_put_number(o, "intensity_cd", f->cd, 4);
    }
    if (!isnan(f->at_m)) {
        pc_json_put_number(o, "at_m", f->at_m, 3);
        lamp_put_figure(o, "light_lx", f->lx, f->lx_tolerance, 2);
    }
    pc_json_put_number(o, "flux_lm", f->flux_lm, 2);
    pc_json_put_number(o, "downwards_lm", f->down_lm, 2);
    pc_json_put_number(o, "claimed_lm", p->claimed_lm, 2);
    pc_json_put_number(o, "claimed_downwards_pct", p->claimed_down_pct, 1);
    pc_json_put_number(o, "lamps_lm", p->lamps_lm, 2);
    pc_json_put(o, "zones", zones_json(f));
    pc_json_put_number(o, "peak_cd", f->peak_cd, 4);
    pc_json_put_number(o, "peak_v_deg", f->peak_v_deg, 4);
    pc_json_put_number(o, "peak_h_deg", f->peak_h_deg, 4);
    pc_json_put_text(o, "opening", openings[p->opening]);
    pc_json_put_number(o, "width_m", p->width_m, 4);
    pc_json_put_number(o, "length_m", p->length_m, 4);
    pc_json_put_number(o, "height_m", p->height_m, 4);
    pc_json_put_number(o, "power_W", p->watts, 1);
    for (size_t i = 0; i < p->notes; i++)
        pc_json_add_text(notes, p->note[i]);
    pc_json_put(o, "notes", notes);
    return o;
}

static void print_claim(FILE *out, const struct found *f)
{
    const struct pc_photometry *p = &f->photometry;
    if (!isnan(p->claimed_lm)) {
        double over_pct = p->claimed_lm > 0 ? 100 * (f->flux_lm / p->claimed_lm - 1) : (double)INFINITY;
        pc_print_sentence(out, "The file claims %.0f lm; its own angles come to %s%.1f %% %s.", p->claimed_lm,
                          fabs(over_pct) < 0.05 ? "within " : "", fmax(fabs(over_pct), 0.1),
                          fabs(over_pct) < 0.05 ? "of that"
                          : over_pct > 0        ? "more"
                                                : "less");
    }
    if (!isnan(p->claimed_down_pct) && f->flux_lm > 0)
        pc_print_sentence(out, "Downwards go %.0f %% of it, where the file claims %.0f %%.",
                          100 * f->down_lm / f->flux_lm, p->claimed_down_pct);
    if (isnan(p->lamps_lm) && isnan(p->claimed_lm))
        pc_print_sentence(
            out, "The file claims no figure of its own to lay beside this: it was measured as a whole.");
    else if (!isnan(p->lamps_lm) && p->lamps_lm > 0)
        pc_print_sentence(out, "Its bare lamps are said to give %.0f lm, so %.0f %% of that leaves it%s.",
                          p->lamps_lm, 100 * f->flux_lm / p->lamps_lm,
                          f->flux_lm > p->lamps_lm ? ", which cannot be: one of the two is wrong" : "");
}

static void print_direction(FILE *out, const struct found *f)
{
    char figure[PC_FIGURE_BYTES];
    const struct pc_photometry *p = &f->photometry;
    pc_print_sentence(out, "Towards %g, %g degrees go %.5g cd.", f->at_v_deg, f->at_h_deg, f->cd);
    if (isnan(f->at_m))
        return;
    pc_print_sentence(
        out,
        "That makes %s lx at %.2f m, facing it; the tolerance is the tape's, not that of this lamp "
        "against the one on file.",
        pc_print_figure(figure, f->lx, f->lx_tolerance), f->at_m);
    double size_m = fmax(p->width_m, p->length_m);
    if (f->at_m < FAR_ENOUGH * size_m)
        pc_print_sentence(
            out,
            "It is %.2f m across, so from closer than %.1f m the light is less than this: such files "
            "hold for far away.",
            size_m, FAR_ENOUGH * size_m);
}

static void print_found(const struct pc_cli *cli, const struct found *f)
{
    const struct pc_photometry *p = &f->photometry;
    if (!isnan(f->cd)) {
        print_direction(cli->out, f);
    } else {
        pc_print_sentence(cli->out,
                          "%s: %s, type %s; %.0f lm in all, with light drawn straight between its angles.",
                          pc_file_name(f->path), forms[p->form], types[p->type], f->flux_lm);
        print_claim(cli->out, f);
        pc_print_sentence(cli->out, "Most of it goes towards %g, %g degrees, %.5g cd.", f->peak_v_deg,
                          f->peak_h_deg, f->peak_cd);
    }
    if (p->tilt_count > 0 && f->tilted)
        pc_print_sentence(cli->out, "Tilted like this its lamp gives %.3g of what it does level.",
                          f->tilt_ratio);
    else if (p->tilt_count > 0)
        pc_print_sentence(cli->out, "Its lamp gives more or less when tilted; --tilted-deg tells how much.");
    for (size_t i = 0; i < p->notes; i++)
        pc_print_sentence(cli->out, "%s", p->note[i]);
}

enum pc_status lamp_about_file(struct pc_cli *cli, const char *path, struct pc_err *err)
{
    struct found f = {.path = path};
    PC_TRY(pc_photometry_read_file(cli->arena, path, &f.photometry, err));
    PC_TRY(look(cli, &f, err));
    if (pc_args_has(cli->args, "json"))
        pc_cli_put_json(cli, found_json(&f));
    else
        print_found(cli, &f);
    return PC_OK;
}
