// SPDX-License-Identifier: Apache-2.0
#include "light/parts/answers.h"

#include "base/units.h"
#include "image/colour/colour.h"
#include "image/camera/expose.h"
#include "image/picture/meter.h"

static const double WEIGHED_TOLERANCE_EV =
    0.05; // of any weighed sum of raw frames: lens and sensor are not better
// A camera is no photometer: three filters and a matrix give the luminance of lights of different spectra to
// about this.
static const double SPECTRA_TOLERANCE_EV = 0.1;
static const double CARD_REFLECTANCE_RATIO = 0.18;
static const double SECOND_SHADOW_WITHIN_EV = 1.0; // a weaker one is drowned by the first
static const double LEAST_SECOND_SHADOW_EV = 0.1;  // and one this shallow is not seen
static const double TINT_TOLERANCE_DUV = 0.004;
// The flash that stands for one not yet on the table.
static const struct pc_exposure USUAL_FLASH = {.shutter_s = 1.0 / 200.0, .fnumber = 11.0, .iso = 100.0};
static const double USUAL_FLASH_TOLERANCE_EV = 0.5; // how well such a flash is set, with the lux's own

static struct pc_figure unknown(void)
{
    return (struct pc_figure){.value = NAN, .tolerance = NAN};
}

static double light_se_ratio(const struct pc_reading *reading, int light, int place)
{
    double se = 0.0;
    for (int e = 0; e < reading->light[light].emitter_count; e++)
        se = fmax(se, reading->emitter[reading->light[light].emitter[e]].se_ratio[place]);
    return se;
}

// Standard error of the sum of all light at a place, relative.
static double sum_se_ratio(const struct pc_reading *reading, const struct pc_dials *dials, int place,
                           int without)
{
    double sum = 0.0, var = 0.0;
    for (int light = -1; light < reading->light_count; light++) {
        if (light == without)
            continue;
        double Y = pc_reading_light_Y(reading, dials, light, place);
        double se = light < 0 ? reading->ambient_se_ratio[place] : light_se_ratio(reading, light, place);
        sum += Y;
        var += Y * Y * se * se;
    }
    return sum > 0.0 ? sqrt(var) / sum : 0.0;
}

static double ev_tolerance(double se_ratio)
{
    return hypot(WEIGHED_TOLERANCE_EV, 2.0 * se_ratio / log(2.0));
}

// Of one light against others.
static double lights_tolerance(double se_ratio)
{
    return hypot(SPECTRA_TOLERANCE_EV, ev_tolerance(se_ratio));
}

static double sum_Y(const struct pc_reading *reading, const struct pc_dials *dials, int place)
{
    double xyz[3];
    pc_reading_xyz(reading, dials, place, xyz);
    return xyz[1];
}

static void fill_shares(const struct pc_reading *reading, const struct pc_dials *dials,
                        struct pc_answers *answers)
{
    for (int p = 0; p < reading->place_count; p++) {
        double all = sum_Y(reading, dials, p);
        for (int light = -1; light < reading->light_count; light++) {
            double Y = pc_reading_light_Y(reading, dials, light, p), share = Y / all;
            double se = light < 0 ? reading->ambient_se_ratio[p] : light_se_ratio(reading, light, p);
            double rest_se = sum_se_ratio(reading, dials, p, light);
            // d share = share (1 - share) d ln(light / rest)
            struct pc_figure figure = {.value = share,
                                       .tolerance = share * (1.0 - share) * log(2.0) *
                                                    lights_tolerance(hypot(se, rest_se))};
            if (light < 0)
                answers->ambient_share_ratio[p] = figure;
            else
                answers->light[light].share_ratio[p] = figure;
        }
    }
}

static void fill_key(const struct pc_reading *reading, const struct pc_dials *dials,
                     struct pc_answers *answers)
{
    answers->key = -1;
    double best = 0.0;
    for (int light = 0; light < reading->light_count; light++) {
        double Y = pc_reading_light_Y(reading, dials, light, PC_PLACE_HERO);
        if (Y > best) {
            best = Y;
            answers->key = light;
        }
    }
    answers->key_to_fill_ev = unknown();
    if (answers->key < 0)
        return;
    double rest = sum_Y(reading, dials, PC_PLACE_HERO) - best;
    double se = hypot(light_se_ratio(reading, answers->key, PC_PLACE_HERO),
                      sum_se_ratio(reading, dials, PC_PLACE_HERO, answers->key));
    if (rest > 0.0)
        answers->key_to_fill_ev =
            (struct pc_figure){.value = pc_ev_from_ratio(best / rest), .tolerance = lights_tolerance(se)};
}

static void fill_hero_over_surface(const struct pc_reading *reading, const struct pc_dials *dials,
                                   struct pc_answers *answers)
{
    double ratio = sum_Y(reading, dials, PC_PLACE_HERO) / sum_Y(reading, dials, PC_PLACE_SURFACE);
    double se = hypot(sum_se_ratio(reading, dials, PC_PLACE_HERO, -2),
                      sum_se_ratio(reading, dials, PC_PLACE_SURFACE, -2));
    struct pc_figure picture = {.value = pc_ev_from_ratio(ratio), .tolerance = ev_tolerance(se)};
    answers->hero_over_surface_picture_ev = picture;
    answers->hero_over_surface_light_ev =
        (struct pc_figure){.value = picture.value - reading->reflect_ev[PC_PLACE_HERO],
                           .tolerance = hypot(picture.tolerance, reading->reflect_tolerance_ev)};
}

static double flash_as_key_Y(const struct pc_reading *reading, int *flash)
{
    double best = 0.0;
    *flash = -1;
    for (int light = 0; light < reading->light_count; light++) {
        if (!reading->light[light].flash)
            continue;
        double Y = reading->emitter[reading->light[light].emitter[0]].xyz[PC_PLACE_HERO][1];
        if (Y > best) {
            best = Y;
            *flash = light;
        }
    }
    return best;
}

// The hero under key and ambient against the surface under the ambient alone (the key flagged off it), in
// light.
static struct pc_figure floor_of(const struct pc_reading *reading, double key_Y, double ambient_ratio)
{
    double hero = key_Y + reading->ambient_xyz[PC_PLACE_HERO][1] * ambient_ratio;
    double surface = reading->ambient_xyz[PC_PLACE_SURFACE][1] * ambient_ratio;
    return (struct pc_figure){.value = pc_ev_from_ratio(hero / surface) - reading->reflect_ev[PC_PLACE_HERO],
                              .tolerance = hypot(SPECTRA_TOLERANCE_EV, reading->reflect_tolerance_ev)};
}

static void fill_floor(const struct pc_reading *reading, const struct pc_dials *dials,
                       const struct pc_exposure *exposure, struct pc_answers *answers)
{
    answers->floor_ev = answers->flash_floor_ev = unknown();
    if (answers->key >= 0) {
        struct pc_dials full = *dials;
        full.dial_ratio[answers->key] = 1.0;
        full.shutter_ratio = 1.0;
        double key_Y = pc_reading_light_Y(reading, &full, answers->key, PC_PLACE_HERO);
        answers->floor_ev = floor_of(reading, key_Y, 1.0);
    }
    int flash;
    double flash_Y = flash_as_key_Y(reading, &flash);
    bool exposed = exposure != NULL && !isnan(exposure->shutter_s);
    if (flash >= 0 && exposed) {
        double sync_ratio = fmin(1.0, USUAL_FLASH.shutter_s / exposure->shutter_s);
        answers->flash_floor_ev = floor_of(reading, flash_Y, sync_ratio);
        answers->flash_measured = true;
    } else if (!isnan(answers->ambient_lx.value)) {
        double fnumber = pc_expose_f_meant(USUAL_FLASH.fnumber);
        double flash_lx_s = PC_EXPOSE_C_LX * fnumber * fnumber / USUAL_FLASH.iso;
        double ambient_lx_s = answers->ambient_lx.value * pc_expose_shutter_meant_s(USUAL_FLASH.shutter_s);
        answers->flash_floor_ev =
            (struct pc_figure){.value = pc_ev_from_ratio(1.0 + flash_lx_s / ambient_lx_s),
                               .tolerance = hypot(USUAL_FLASH_TOLERANCE_EV, pc_meter_tolerance_ev)};
    }
}

static struct pc_figure lux_of(double Y, const struct pc_exposure *exposure)
{
    if (exposure == NULL || isnan(exposure->shutter_s) || isnan(exposure->fnumber) || isnan(exposure->iso))
        return unknown();
    double lx = pc_meter_lx(Y, exposure->shutter_s, exposure->fnumber, exposure->iso, CARD_REFLECTANCE_RATIO);
    return (struct pc_figure){.value = lx, .tolerance = pc_meter_lx_tolerance(lx, pc_meter_tolerance_ev)};
}

static void fill_lux(const struct pc_reading *reading, const struct pc_dials *dials, int card,
                     const struct pc_exposure *exposure, struct pc_answers *answers)
{
    answers->ambient_lx = answers->greycard_lx = unknown();
    for (int light = 0; light < reading->light_count; light++)
        answers->light[light].lx = unknown();
    if (card == PC_NO_PLACE)
        return;
    double steady = reading->ambient_xyz[card][1];
    answers->ambient_lx = lux_of(steady, exposure);
    for (int light = 0; light < reading->light_count; light++) {
        if (reading->light[light].flash)
            continue; // a flash gives lux seconds, not lux
        double Y = pc_reading_light_Y(reading, dials, light, card) / dials->shutter_ratio;
        answers->light[light].lx = lux_of(Y, exposure);
        steady += Y;
    }
    answers->greycard_lx = lux_of(steady, exposure);
}

static bool mired_of(const double white_xyz[3], double *mired, double *duv)
{
    double uv[2], cct_K;
    if (!(white_xyz[1] > 0.0) || !pc_colour_uv_from_xyz(white_xyz, uv) ||
        !pc_colour_cct_from_uv(uv, &cct_K, duv))
        return false;
    *mired = pc_mired_from_K(cct_K);
    return true;
}

static void fill_colour(const struct pc_reading *reading, const struct pc_dials *dials,
                        struct pc_answers *answers)
{
    double ambient_mired, ambient_duv, weights[PC_EMITTERS_MAX], ambient_weight;
    bool known = reading->has_colour && mired_of(reading->ambient_white_xyz, &ambient_mired, &ambient_duv);
    pc_reading_weights(reading, dials, weights, &ambient_weight);
    for (int light = 0; light < reading->light_count; light++) {
        answers->light[light].mired_from_ambient = answers->light[light].tint_duv = unknown();
        if (!known)
            continue;
        // Whites are of any scale; an emitter's luminance at the hero says how much of each there is.
        double white[3] = {0.0, 0.0, 0.0}, mired, duv;
        for (int k = 0; k < reading->light[light].emitter_count; k++) {
            int e = reading->light[light].emitter[k];
            double Y =
                weights[e] * reading->emitter[e].xyz[PC_PLACE_HERO][1] / reading->emitter[e].white_xyz[1];
            for (int c = 0; c < 3; c++)
                white[c] += Y * reading->emitter[e].white_xyz[c];
        }
        if (!mired_of(white, &mired, &duv))
            continue;
        answers->light[light].mired_from_ambient =
            (struct pc_figure){.value = mired - ambient_mired, .tolerance = reading->white_tolerance_mired};
        answers->light[light].tint_duv =
            (struct pc_figure){.value = duv - ambient_duv, .tolerance = TINT_TOLERANCE_DUV};
    }
}

static void fill_second_shadow(const struct pc_parts *parts, const struct pc_reading *reading,
                               const struct pc_dials *dials, struct pc_answers *answers)
{
    double apart_ev = NAN;
    int second = -1;
    double depth_ev = pc_reading_second_shadow_ev(reading, dials, &second, &apart_ev);
    answers->shadow_count = parts != NULL ? pc_parts_shadows(parts, reading, dials, answers->shadow) : 0;
    answers->second = -1;
    answers->second_shadow_ev = unknown();
    if (second < 0 || !(apart_ev <= SECOND_SHADOW_WITHIN_EV) || depth_ev < LEAST_SECOND_SHADOW_EV)
        return;
    answers->second = second;
    answers->second_shadow_ev = (struct pc_figure){
        .value = depth_ev, .tolerance = ev_tolerance(sum_se_ratio(reading, dials, PC_PLACE_SURFACE, -2))};
}

void pc_answers_make(const struct pc_parts *parts, const struct pc_reading *reading,
                     const struct pc_dials *dials, int greycard, const struct pc_exposure *exposure,
                     struct pc_answers *answers)
{
    memset(answers, 0, sizeof *answers);
    struct pc_exposure own;
    if (parts != NULL) {
        own =
            (struct pc_exposure){parts->reference_shutter_s, parts->reference_fnumber, parts->reference_iso};
        exposure = &own;
    }
    fill_shares(reading, dials, answers);
    fill_key(reading, dials, answers);
    fill_hero_over_surface(reading, dials, answers);
    fill_lux(reading, dials, greycard, exposure, answers);
    fill_floor(reading, dials, exposure, answers);
    fill_colour(reading, dials, answers);
    fill_second_shadow(parts, reading, dials, answers);
    for (int light = 0; light < reading->light_count; light++)
        answers->light[light].clipped_ratio = NAN;
    for (int i = 0; parts != NULL && i < parts->part_count; i++) {
        double *clipped = &answers->light[parts->part[i].light].clipped_ratio;
        *clipped =
            isnan(*clipped) ? parts->part[i].clipped_ratio : fmax(*clipped, parts->part[i].clipped_ratio);
    }
}
