// SPDX-License-Identifier: Apache-2.0
#include "front/cli/lamp_priv.h"

#include "base/units.h"
#include "front/cli/print.h"
#include "light/kit/caution.h"
#include "light/lamp/match.h"
#include "light/lamp/reach.h"
#include "light/lamp/sheet.h"

static const double EDGE_CM = 5, EDGE_WITHIN_M = 0.005; // a rim of a plate, judged by eye
static const double DOOR_WITHIN_M = 0.005, DOOR_DEG = 90, DOOR_WITHIN_DEG = 5; // judged by eye
static const double SCRIM_WITHIN_M = 0.02;
static const double SCRIM_EV = 1.5, SCRIM_WITHIN_EV = 0.7, SCRIM_GIVEN_WITHIN_EV = 0.2;
static const double SCRIM_DIRECT_RATIO = 0.25, SCRIM_DIRECT_WITHIN_RATIO = 0.2,
                    SCRIM_DIRECT_GIVEN_RATIO = 0.1;
static const double WORTH_TELLING_PCT = 1;
static const double SAFE_RIPPLE_HZ = 70; // above it flicker is not seen (caution.h)

struct found {
    const char *path;
    struct pc_lamp_sheet sheet;
    double dial_ratio, kelvin_K; // as asked, or as the sheet was measured
    double at_m, edge_m;
    bool lit; // reach.light is known
    struct pc_reach reach;
    bool has_door, has_cloth;
    struct pc_door door;
    struct pc_cloth cloth;
    double against_K, against_duv;
    struct pc_match match;
    double set_K; // what the kelvin dial should show
    double held_dial_ratio;
};

static double given_or(double given, double otherwise)
{
    return isnan(given) ? otherwise : given;
}

static enum pc_status look_before(const struct pc_cli *cli, struct found *f,
                                  const struct pc_reach_given *given, struct pc_err *err)
{
    const struct pc_lamp_sheet *sheet = &f->sheet;
    double door_cm = lamp_number(cli, "door-cm"), scrim_cm = lamp_number(cli, "scrim-cm"),
           scrim_ev = lamp_number(cli, "scrim-stops"), direct_pct = lamp_number(cli, "scrim-direct-pct");
    const struct pc_door_given door = {
        .width_m = sheet->size_m[0],
        .width_m_tolerance = sheet->size_m_tolerance,
        .blade_m = door_cm / 100,
        .blade_m_tolerance = DOOR_WITHIN_M,
        .open_deg = given_or(lamp_number(cli, "door-deg"), DOOR_DEG),
        .open_deg_tolerance = DOOR_WITHIN_DEG,
        .distance_m = f->at_m,
        .distance_m_tolerance = LAMP_TAPE_M,
    };
    f->has_door = !isnan(door_cm);
    if (f->has_door && !pc_reach_door(&door, &f->door))
        return pc_fail(err, PC_BAD_INPUT, "--door-cm",
                       "A door of %.3g cm reaches to the food at %.2f m; give a shorter one or step back.",
                       door_cm, f->at_m);
    const struct pc_cloth_given cloth = {
        .side_m = scrim_cm / 100,
        .side_m_tolerance = SCRIM_WITHIN_M,
        .before_m = given_or(lamp_number(cli, "scrim-at-m"), f->at_m / 2),
        .before_m_tolerance = LAMP_TAPE_M,
        .loss_ev = given_or(scrim_ev, SCRIM_EV),
        .loss_ev_tolerance = isnan(scrim_ev) ? SCRIM_WITHIN_EV : SCRIM_GIVEN_WITHIN_EV,
        .direct_ratio = given_or(direct_pct / 100, SCRIM_DIRECT_RATIO),
        .direct_ratio_tolerance = isnan(direct_pct) ? SCRIM_DIRECT_WITHIN_RATIO : SCRIM_DIRECT_GIVEN_RATIO,
    };
    f->has_cloth = !isnan(scrim_cm);
    if (f->has_cloth && !pc_reach_cloth(given, &cloth, &f->cloth))
        return pc_fail(
            err, PC_BAD_INPUT, "--scrim-at-m",
            "A scrim %.2f m before the food does not stand between the rim there, %.3g cm high, and the "
            "lamp at %.2f m.",
            cloth.before_m, 100 * f->edge_m, f->at_m);
    return PC_OK;
}

static enum pc_status look_far(const struct pc_cli *cli, struct found *f, double after_s, double asked_dial,
                               double asked_K, struct pc_err *err)
{
    const struct pc_lamp_sheet *sheet = &f->sheet;
    bool flash = sheet->source == PC_LAMP_FLASH;
    double ratio, ratio_within, at_1m = sheet->at_1m_lx, at_1m_within = sheet->at_1m_lx_tolerance;
    PC_TRY(pc_lamp_sheet_light(sheet, asked_dial, asked_K, after_s, &ratio, &ratio_within, err));
    if (flash) { // light goes with the square of the f-number
        at_1m = sheet->f_at_1m * sheet->f_at_1m;
        at_1m_within = 2 * sheet->f_at_1m * sheet->f_at_1m_tolerance;
    }
    f->lit = !isnan(at_1m);
    const struct pc_reach_given given = {
        .round = sheet->round,
        .width_m = sheet->size_m[0],
        .height_m = sheet->size_m[1],
        .size_m_tolerance = sheet->size_m_tolerance,
        .at_1m = f->lit ? at_1m : 1,
        .at_1m_tolerance = f->lit ? at_1m_within : 0,
        .light_ratio = ratio,
        .light_ratio_tolerance = ratio_within,
        .distance_m = f->at_m,
        .distance_m_tolerance = LAMP_TAPE_M,
        .edge_m = f->edge_m,
        .edge_m_tolerance = EDGE_WITHIN_M,
    };
    if (!pc_reach_lamp(&given, &f->reach))
        return pc_fail(
            err, PC_BAD_INPUT, "--at-m",
            "The rim stands %.2f m before the place and the lamp %.2f m, so it throws no shadow; give a "
            "smaller --edge-cm.",
            f->edge_m, f->at_m);
    return look_before(cli, f, &given, err);
}

static void look_beside(struct found *f)
{
    const struct pc_lamp_sheet *sheet = &f->sheet;
    double off_K = sheet->off_K;
    f->match = pc_match_kelvin(f->kelvin_K + off_K, sheet->kelvin_K_tolerance, sheet->kelvin_K[0] + off_K,
                               sheet->kelvin_K[1] + off_K, f->against_K, f->against_K * LAMP_OTHER_PCT / 100);
    f->set_K = f->match.set_K - off_K;
    f->held_dial_ratio = pc_lamp_sheet_dial_for(sheet, f->dial_ratio, f->kelvin_K, f->set_K);
}

static enum pc_status look(const struct pc_cli *cli, struct found *f, struct pc_err *err)
{
    const struct pc_lamp_sheet *sheet = &f->sheet;
    double dial = lamp_number(cli, "dial") / 100, kelvin = lamp_number(cli, "kelvin"),
           after_s = 60 * lamp_number(cli, "after-min"), edge_cm = lamp_number(cli, "edge-cm"), ratio, within;
    f->at_m = lamp_number(cli, "at-m");
    f->edge_m = (isnan(edge_cm) ? EDGE_CM : edge_cm) / 100;
    f->against_K = lamp_number(cli, "against-K");
    f->against_duv = lamp_number(cli, "against-duv");
    f->dial_ratio = isnan(dial) ? sheet->at_1m_dial_ratio : dial;
    f->kelvin_K = isnan(kelvin) ? sheet->at_1m_K : kelvin;
    PC_TRY(pc_lamp_sheet_light(sheet, dial, kelvin, NAN, &ratio, &within, err)); // it can be set so
    if (sheet->kelvin_K[0] + sheet->off_K < 500)
        return pc_fail(err, PC_BAD_INPUT, f->path, "Its \"off_K\" leaves no kelvin at its warm end.");
    if (!isnan(f->at_m))
        PC_TRY(look_far(cli, f, after_s, dial, kelvin, err));
    if (!isnan(f->against_K))
        look_beside(f);
    return PC_OK;
}

static void put_reach_json(struct pc_json *o, const struct found *f)
{
    const struct pc_reach *r = &f->reach;
    bool flash = f->sheet.source == PC_LAMP_FLASH;
    pc_json_put_number(o, "at_m", f->at_m, 3);
    lamp_put_figure(o, "light_lx", f->lit && !flash ? r->light : (double)NAN, r->light_tolerance, 1);
    lamp_put_figure(o, "flash_fnumber", f->lit && flash ? r->fnumber : (double)NAN, r->fnumber_tolerance, 2);
    lamp_put_figure(o, "wide_deg", r->wide_deg, r->wide_deg_tolerance, 2);
    lamp_put_figure(o, "high_deg", r->high_deg, r->high_deg_tolerance, 2);
    pc_json_put_number(o, "edge_m", f->edge_m, 4);
    lamp_put_figure(o, "penumbra_m", r->penumbra_m, r->penumbra_m_tolerance, 5);
    pc_json_put_number(o, "point_over_pct", r->point_over_pct, 2);
    if (f->has_door) {
        lamp_put_figure(o, "door_full_m", f->door.full_m, f->door.full_m_tolerance, 4);
        lamp_put_figure(o, "door_half_m", f->door.half_m, f->door.half_m_tolerance, 4);
        lamp_put_figure(o, "door_dark_m", f->door.dark_m, f->door.dark_m_tolerance, 4);
    }
    if (f->has_cloth) {
        bool known = f->lit && !flash;
        lamp_put_figure(o, "scrim_light_lx", known ? f->cloth.light : (double)NAN, f->cloth.light_tolerance,
                        1);
        lamp_put_figure(o, "scrim_lost_stops", f->cloth.lost_ev, f->cloth.lost_ev_tolerance, 3);
        lamp_put_figure(o, "scrim_wide_deg", f->cloth.wide_deg, f->cloth.wide_deg_tolerance, 2);
        lamp_put_figure(o, "scrim_penumbra_m", f->cloth.penumbra_m, f->cloth.penumbra_m_tolerance, 5);
    }
}

static void put_match_json(struct pc_json *o, const struct found *f)
{
    const struct pc_match *m = &f->match;
    pc_json_put_number(o, "against_K", f->against_K, 0);
    lamp_put_figure(o, "apart_mired", m->apart_mired, m->apart_mired_tolerance, 1);
    pc_json_put_number(o, "set_K", f->set_K, 0);
    pc_json_put_bool(o, "at_limit", m->at_limit);
    lamp_put_figure(o, "left_mired", m->left_mired, m->left_mired_tolerance, 1);
    lamp_put_figure(o, "left_duv", f->sheet.duv - (isnan(f->against_duv) ? 0 : f->against_duv),
                    hypot(f->sheet.duv_tolerance, LAMP_OTHER_DUV), 5);
    pc_json_put_number(o, "same_light_dial_ratio", f->held_dial_ratio > 1 ? (double)NAN : f->held_dial_ratio,
                       4);
}

static void print_reach(const struct pc_cli *cli, const struct found *f)
{
    const struct pc_reach *r = &f->reach;
    const struct pc_lamp_sheet *sheet = &f->sheet;
    char a[PC_FIGURE_BYTES], b[PC_FIGURE_BYTES];
    if (!f->lit)
        pc_print_sentence(cli->out, "%s: its sheet does not say how much light it gives at 1 m; add \"%s\".",
                          sheet->name, sheet->source == PC_LAMP_FLASH ? "f_at_1m" : "at_1m_lx");
    else if (sheet->source == PC_LAMP_FLASH)
        pc_print_sentence(cli->out, "%s at %.0f %% wants f/%s at %.2f m, ISO 100.", sheet->name,
                          100 * f->dial_ratio, pc_print_figure(a, r->fnumber, r->fnumber_tolerance), f->at_m);
    else
        pc_print_sentence(cli->out, "%s at %.0f %% and %.0f K gives %s lx at %.2f m, straight before it.",
                          sheet->name, 100 * f->dial_ratio, f->kelvin_K,
                          pc_print_figure(a, r->light, r->light_tolerance), f->at_m);
    if (f->lit && r->point_over_pct >= WORTH_TELLING_PCT)
        pc_print_sentence(
            cli->out,
            "From this close it counts as an area: reckoned as a point from its light at 1 m it would come "
            "out %.0f %% too bright.",
            r->point_over_pct);
    bool square = sheet->round || fabs(r->wide_deg - r->high_deg) < 1e-9;
    pc_print_sentence(
        cli->out, "It looks %s degrees wide%s%s%s.", pc_print_figure(a, r->wide_deg, r->wide_deg_tolerance),
        square ? " and as high" : " and ",
        square ? "" : pc_print_figure(b, r->high_deg, r->high_deg_tolerance), square ? "" : " high");
    pc_print_sentence(cli->out, "The shadow of a rim %.3g cm before the place has a soft edge of %s mm.",
                      100 * f->edge_m,
                      pc_print_figure(a, 1000 * r->penumbra_m, 1000 * r->penumbra_m_tolerance));
}

static void print_before(const struct pc_cli *cli, const struct found *f)
{
    char a[PC_FIGURE_BYTES], b[PC_FIGURE_BYTES];
    const struct pc_door *door = &f->door;
    const struct pc_cloth *cloth = &f->cloth;
    if (f->has_door && isinf(door->full_m))
        pc_print_sentence(cli->out, "The door is folded back and takes nothing away.");
    else if (f->has_door)
        pc_print_sentence(cli->out,
                          "On the door's side its light is whole to %s cm from the axis and gone from %s cm.",
                          pc_print_figure(a, 100 * door->full_m, 100 * door->full_m_tolerance),
                          pc_print_figure(b, 100 * door->dark_m, 100 * door->dark_m_tolerance));
    if (!f->has_cloth)
        return;
    if (f->lit && f->sheet.source != PC_LAMP_FLASH)
        pc_print_sentence(cli->out, "Behind the scrim %s lx are left, %s stops less.",
                          pc_print_figure(a, cloth->light, cloth->light_tolerance),
                          pc_print_figure(b, cloth->lost_ev, cloth->lost_ev_tolerance));
    else
        pc_print_sentence(cli->out, "The scrim takes %s stops.",
                          pc_print_figure(b, cloth->lost_ev, cloth->lost_ev_tolerance));
    pc_print_sentence(cli->out,
                      "The patch it lights on the scrim looks %s degrees wide; the soft edge of what that "
                      "strews is %s mm, with a "
                      "fainter, sharper one of what goes straight through.",
                      pc_print_figure(a, cloth->wide_deg, cloth->wide_deg_tolerance),
                      pc_print_figure(b, 1000 * cloth->penumbra_m, 1000 * cloth->penumbra_m_tolerance));
}

static void print_match(const struct pc_cli *cli, const struct found *f)
{
    const struct pc_match *m = &f->match;
    const struct pc_lamp_sheet *sheet = &f->sheet;
    char a[PC_FIGURE_BYTES];
    const char *side = m->apart_mired >= 0 ? "warmer" : "cooler";
    if (fabs(m->apart_mired) <= m->apart_mired_tolerance)
        pc_print_sentence(cli->out,
                          "%s at %.0f K and the other light's %.0f K are the same, within %.0f mired.",
                          sheet->name, f->kelvin_K, f->against_K, m->apart_mired_tolerance);
    else
        pc_print_sentence(cli->out, "%s at %.0f K is %s mired %s than the other light's %.0f K.", sheet->name,
                          f->kelvin_K, pc_print_figure(a, fabs(m->apart_mired), m->apart_mired_tolerance),
                          side, f->against_K);
    bool one_colour = sheet->kelvin_K[1] - sheet->kelvin_K[0] < 1;
    const char *left_side = m->left_mired >= 0 ? "warmer" : "cooler";
    const char *left = pc_print_figure(a, fabs(m->left_mired), m->left_mired_tolerance);
    if (one_colour)
        pc_print_sentence(cli->out, "It has one colour only; a gel of that many mired brings them together.");
    else if (m->at_limit && fabs(f->set_K - f->kelvin_K) < 1)
        pc_print_sentence(cli->out, "It is at its limit there; a gel takes the rest.");
    else if (m->at_limit)
        pc_print_sentence(
            cli->out, "%s it to %.0f K, its limit: %s mired are left, and it stays %s; a gel takes the rest.",
            f->set_K > f->kelvin_K ? "Raise" : "Lower", f->set_K, left, left_side);
    else if (fabs(f->set_K - f->kelvin_K) >= 1)
        pc_print_sentence(cli->out, "Set it to %.0f K.", f->set_K);
    if (f->held_dial_ratio > 1)
        pc_print_sentence(cli->out, "There it cannot give as much light: it falls short by %.0f %%.",
                          100 * (1 - 1 / f->held_dial_ratio));
    else if (fabs(f->held_dial_ratio - f->dial_ratio) >= 0.005)
        pc_print_sentence(cli->out, "For as much light as before, turn its dial from %.0f to %.0f %%.",
                          100 * f->dial_ratio, 100 * f->held_dial_ratio);
    double tint = sheet->duv - (isnan(f->against_duv) ? 0 : f->against_duv),
           within = hypot(sheet->duv_tolerance, LAMP_OTHER_DUV);
    if (fabs(tint) > within)
        pc_print_sentence(cli->out, "The tint left is %s Duv, %s; no kelvin dial takes it out.",
                          pc_print_change(a, tint, within), tint > 0 ? "greener" : "pinker");
}

static void print_habits(const struct pc_cli *cli, const struct pc_lamp_sheet *sheet)
{
    double sag_pct = 100 * (pc_lamp_sheet_sag_ratio(sheet) - 1);
    if (fabs(sag_pct) >= WORTH_TELLING_PCT)
        pc_print_sentence(
            cli->out,
            "Over the first ten minutes its light %s by %.1f %%; switch it on that long before measuring.",
            sag_pct < 0 ? "falls" : "rises", fabs(sag_pct));
    if (sheet->ripple_hz > 0 && sheet->ripple_ratio > 0)
        pc_print_sentence(cli->out, "Its light ripples by %.0f %% at %.0f Hz.", 100 * sheet->ripple_ratio,
                          sheet->ripple_hz);
    if (sheet->ripple_hz > 0 && sheet->ripple_ratio > 0 && sheet->ripple_hz <= SAFE_RIPPLE_HZ)
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_FLICKER));
    if (sheet->source == PC_LAMP_TUNGSTEN)
        pc_print_sentence(cli->out, "%s", pc_caution_text(PC_CAUTION_HOT_LAMP));
}

enum pc_status lamp_about_sheet(struct pc_cli *cli, const char *path, struct pc_err *err)
{
    struct found f = {.path = path};
    struct pc_spectrum light;
    PC_TRY(pc_lamp_sheet_read(cli->arena, path, &f.sheet, err));
    PC_TRY(look(cli, &f, err));
    bool far = !isnan(f.at_m), beside = !isnan(f.against_K), colour = !far && !beside;
    if (colour && f.sheet.spectrum == NULL && f.sheet.source != PC_LAMP_TUNGSTEN)
        return pc_fail(
            err, PC_NOT_FOUND, path,
            "It names no measured spectrum, so what the lamp does to colours cannot be told; ask with "
            "--at-m for its light, with --against-K for its colour beside another.");
    if (colour)
        PC_TRY(pc_lamp_sheet_spectrum(cli->arena, path, &f.sheet, f.kelvin_K + f.sheet.off_K, &light, err));
    struct pc_json *o = pc_args_has(cli->args, "json") ? pc_json_object() : NULL;
    if (o != NULL) {
        pc_json_put_text(o, "lamp", f.sheet.name);
        pc_json_put_number(o, "dial_ratio", f.dial_ratio, 4);
        pc_json_put_number(o, "kelvin_K", f.kelvin_K, 0);
        pc_json_put_number(o, "sag_ratio", pc_lamp_sheet_sag_ratio(&f.sheet), 4);
        pc_json_put_number(o, "ripple_Hz", f.sheet.ripple_hz, 1);
        pc_json_put_number(o, "ripple_ratio", f.sheet.ripple_ratio, 4);
    }
    enum pc_status status = colour ? lamp_put_rendering(cli, f.sheet.name, &light, o, err) : PC_OK;
    if (status != PC_OK) {
        pc_json_destroy(o);
        return status;
    }
    if (o != NULL) {
        if (far)
            put_reach_json(o, &f);
        if (beside)
            put_match_json(o, &f);
        pc_cli_put_json(cli, o);
        return PC_OK;
    }
    if (far)
        print_reach(cli, &f);
    if (far)
        print_before(cli, &f);
    if (beside)
        print_match(cli, &f);
    print_habits(cli, &f.sheet);
    return PC_OK;
}
