// SPDX-License-Identifier: Apache-2.0
#include "light/parts/reading.h"

#include "base/units.h"
#include "image/colour/colour.h"
#include "light/parts/reading_priv.h"
#include "light/parts/warmth_priv.h"

void pc_reading_dials_now(const struct pc_reading *reading, struct pc_dials *dials)
{
    *dials = (struct pc_dials){.shutter_ratio = 1};
    for (int i = 0; i < reading->light_count; i++) {
        dials->dial_ratio[i] = reading->light[i].dial_ratio;
        dials->kelvin_K[i] = reading->light[i].kelvin_K;
    }
}

void pc_reading_ends(const struct pc_reading *reading, int light, double *warm_K, double *cool_K)
{
    const struct pc_reading_light *l = &reading->light[light];
    *warm_K = reading->emitter[l->emitter[0]].cct_K;
    *cool_K = reading->emitter[l->emitter[1]].cct_K;
}

// How much brighter the warm emitter is than the cool one at full drive: the geometric mean over the places,
// so that no place's own colour decides alone.
static double warm_over_cool(const struct pc_reading *reading, const struct pc_reading_light *l)
{
    double sum = 0;
    int n = 0;
    for (int p = 0; p < reading->place_count; p++) {
        double warm = reading->emitter[l->emitter[0]].xyz[p][1],
               cool = reading->emitter[l->emitter[1]].xyz[p][1];
        if (warm > 0 && cool > 0) {
            sum += log(warm / cool);
            n++;
        }
    }
    return n ? exp(sum / n) : 1;
}

static void xyz_on_locus(double cct_K, double xyz[3])
{
    double uv[2];
    pc_colour_uv_from_cct(cct_K, 0, uv);
    // Y = 1: from u = 4 X / D and v = 6 Y / D.
    double d = 6 / uv[1];
    xyz[0] = uv[0] * d / 4;
    xyz[1] = 1;
    xyz[2] = (d - xyz[0] - 15) / 3;
}

double pc_reading_warm_share(const struct pc_reading *reading, int light, double K)
{
    double warm_K, cool_K;
    pc_reading_ends(reading, light, &warm_K, &cool_K);
    double warm_mired = pc_mired_from_K(warm_K), cool_mired = pc_mired_from_K(cool_K);
    double mired = isnan(K) ? (warm_mired + cool_mired) / 2 : pc_mired_from_K(K);
    if (reading->light[light].kelvin.points > 0)
        return pc_kelvin_share(&reading->light[light].kelvin, mired);
    if (mired >= warm_mired)
        return 1;
    if (mired <= cool_mired)
        return 0;
    if (!reading->has_colour)
        return (mired - cool_mired) / (warm_mired - cool_mired);
    // Where the chord between the two crosses the line of all lights of this CCT.
    double plane[3], warm[3], cool[3];
    pc_warmth_plane(pc_K_from_mired(mired), plane);
    xyz_on_locus(warm_K, warm);
    xyz_on_locus(cool_K, cool);
    double on_warm = 0, on_cool = 0;
    for (int k = 0; k < 3; k++) {
        on_warm += plane[k] * warm[k];
        on_cool += plane[k] * cool[k];
    }
    double of_light = on_cool / (on_cool - on_warm); // warm share of the luminance
    double ratio = warm_over_cool(reading, &reading->light[light]);
    return fmin(fmax(of_light / (of_light + (1 - of_light) * ratio), 0), 1);
}

double pc_reading_drive(const struct pc_reading *reading, int light, double warm_share_ratio)
{
    const struct pc_kelvin *kelvin = &reading->light[light].kelvin;
    return kelvin->points > 0 ? pc_kelvin_drive(kelvin, warm_share_ratio) : 1;
}

double pc_reading_kelvin(const struct pc_reading *reading, int light, double warm_share_ratio)
{
    double warm_K, cool_K;
    pc_reading_ends(reading, light, &warm_K, &cool_K);
    if (warm_share_ratio >= 1)
        return warm_K;
    if (warm_share_ratio <= 0)
        return cool_K;
    if (reading->light[light].kelvin.points > 0)
        return pc_K_from_mired(pc_kelvin_mired(&reading->light[light].kelvin, warm_share_ratio));
    double lo = warm_K, hi = cool_K;
    while (hi - lo > 0.01) {
        double mid = (lo + hi) / 2;
        if (pc_reading_warm_share(reading, light, mid) > warm_share_ratio)
            lo = mid;
        else
            hi = mid;
    }
    return (lo + hi) / 2;
}

void pc_reading_weights(const struct pc_reading *reading, const struct pc_dials *dials, double *weights,
                        double *ambient_weight)
{
    *ambient_weight = dials->shutter_ratio;
    for (int i = 0; i < reading->light_count; i++) {
        const struct pc_reading_light *l = &reading->light[i];
        double given = pc_curve_light(&l->curve, dials->dial_ratio[i]);
        if (!l->flash)
            given *= dials->shutter_ratio;
        if (l->emitter_count == 2) {
            double share = pc_reading_warm_share(reading, i, dials->kelvin_K[i]);
            given *= pc_reading_drive(reading, i, share);
            weights[l->emitter[0]] = given * share;
            weights[l->emitter[1]] = given * (1 - share);
        } else {
            weights[l->emitter[0]] = given;
        }
    }
}

void pc_reading_xyz(const struct pc_reading *reading, const struct pc_dials *dials, int place, double xyz[3])
{
    double weights[PC_EMITTERS_MAX], ambient;
    pc_reading_weights(reading, dials, weights, &ambient);
    for (int k = 0; k < 3; k++) {
        xyz[k] = ambient * reading->ambient_xyz[place][k];
        for (int e = 0; e < reading->emitter_count; e++)
            xyz[k] += weights[e] * reading->emitter[e].xyz[place][k];
    }
}

// Y of the ambient, then of each light.
static void lights_Y(const struct pc_reading *reading, const struct pc_dials *dials, int place,
                     double Y[1 + PC_LIGHTS_MAX])
{
    double weights[PC_EMITTERS_MAX], ambient;
    pc_reading_weights(reading, dials, weights, &ambient);
    Y[0] = ambient * reading->ambient_xyz[place][1];
    for (int i = 0; i < reading->light_count; i++) {
        Y[1 + i] = 0;
        for (int k = 0; k < reading->light[i].emitter_count; k++) {
            int e = reading->light[i].emitter[k];
            Y[1 + i] += weights[e] * reading->emitter[e].xyz[place][1];
        }
    }
}

double pc_reading_light_Y(const struct pc_reading *reading, const struct pc_dials *dials, int light,
                          int place)
{
    double Y[1 + PC_LIGHTS_MAX];
    lights_Y(reading, dials, place, Y);
    return Y[1 + light];
}

double pc_reading_second_shadow_ev(const struct pc_reading *reading, const struct pc_dials *dials,
                                   int *second, double *apart_ev)
{
    double Y[1 + PC_LIGHTS_MAX];
    lights_Y(reading, dials, PC_PLACE_SURFACE, Y);
    int first = -1, next = -1;
    double all = Y[0];
    for (int i = 0; i < reading->light_count; i++) {
        all += Y[1 + i];
        if (Y[1 + i] <= 0)
            continue;
        if (first < 0 || Y[1 + i] > Y[1 + first]) {
            next = first;
            first = i;
        } else if (next < 0 || Y[1 + i] > Y[1 + next]) {
            next = i;
        }
    }
    if (second)
        *second = next;
    if (apart_ev)
        *apart_ev = next < 0 ? (double)NAN : pc_ev_from_ratio(Y[1 + first] / Y[1 + next]);
    return next < 0 ? 0 : pc_ev_from_ratio(all / (all - Y[1 + next]));
}
