// SPDX-License-Identifier: Apache-2.0
// How strong everything is in a shot: dials, kelvins, warming up, clouds, shutters and the sensor's speed.
#include "sim_priv.h"

double sim_light_curve(const struct sim_light *light, double dial_ratio)
{
    double d = sim_clamp(dial_ratio, 0, 1), k = light->curve_shape;
    switch (light->curve) {
    case SIM_CURVE_POWER:
        return pow(d, k);
    case SIM_CURVE_S:
        return (1 - k) * d + k * d * d * (3 - 2 * d);
    case SIM_CURVE_DEAD:
        return sim_clamp((d - k) / (1 - k), 0, 1);
    case SIM_CURVE_STRAIGHT:
    default:
        return d;
    }
}

static void uv_from_xyz(const double xyz[3], double uv[2])
{
    double whole = xyz[0] + 15 * xyz[1] + 3 * xyz[2];
    uv[0] = 4 * xyz[0] / whole;
    uv[1] = 6 * xyz[1] / whole;
}

static double locus_distance(const double uv[2], double mired)
{
    double at[2];
    sim_planck_uv(1e6 / mired, at);
    return hypot(uv[0] - at[0], uv[1] - at[1]);
}

void sim_cct_from_xyz(const double xyz[3], double *cct_K, double *duv)
{
    double uv[2], low = 70, high = 900, at[2];
    uv_from_xyz(xyz, uv);
    for (int step = 0; step < 80; step++) {
        double a = low + 0.382 * (high - low), b = low + 0.618 * (high - low);
        if (locus_distance(uv, a) < locus_distance(uv, b))
            high = b;
        else
            low = a;
    }
    *cct_K = 2e6 / (low + high);
    sim_planck_uv(*cct_K, at);
    *duv = copysign(hypot(uv[0] - at[0], uv[1] - at[1]), uv[1] - at[1]);
}

// The warm emitter's share of the light that brings a two-emitter lamp to a kelvin setting.
static double warm_share(const struct sim_setup *setup, int light, double kelvin_K)
{
    double warm[3], cool[3], low = 0, high = 1;
    sim_emitter_xyz(setup, 2 * light, warm);
    sim_emitter_xyz(setup, 2 * light + 1, cool);
    for (int step = 0; step < 50; step++) {
        double f = 0.5 * (low + high), mix[3], cct_K, duv;
        for (int c = 0; c < 3; c++)
            mix[c] = f * warm[c] + (1 - f) * cool[c];
        sim_cct_from_xyz(mix, &cct_K, &duv);
        if (cct_K > kelvin_K)
            low = f;
        else
            high = f;
    }
    double f = 0.5 * (low + high);
    return f < 1e-9 ? 0 : f > 1 - 1e-9 ? 1 : f;
}

void sim_emitter_xyz(const struct sim_setup *setup, int emitter, double xyz[3])
{
    struct sim_bands light = sim_emitter_bands(setup, emitter);
    sim_xyz_from_bands(&light, NULL, xyz);
}

double sim_emitter_level(const struct sim_setup *setup, const struct sim_shot *shot, int emitter)
{
    int i = sim_light_of_emitter(setup, emitter);
    if (i == setup->light_count) {
        const struct sim_window *w = &setup->window;
        double t = shot->time_s, level = 1 + (w->drift_s > 0 ? w->drift_ratio * t / w->drift_s : 0);
        if (w->cloud_ratio > 0)
            level *= 1 - w->cloud_ratio * exp(-0.5 * pow((t - w->cloud_at_s) / w->cloud_s, 2));
        return level * shot->window_ratio;
    }
    const struct sim_light *l = &setup->light[i];
    if (!shot->lit[i] || emitter % 2 >= l->emitters)
        return 0;
    double level = sim_light_curve(l, shot->dial_ratio[i]);
    if (l->emitters == 2) {
        double warm = warm_share(setup, i, shot->kelvin_K[i]);
        level *= emitter % 2 ? 1 - warm : warm;
        level /= 1 - l->boost_ratio * (1 - fmax(warm, 1 - warm));
    }
    if (l->flash)
        return level * (shot->pops[i] > 1 ? shot->pops[i] : 1);
    double on_s = fmax(0, shot->time_s - l->on_since_s);
    return l->sag_ratio > 0 ? level * (1 - l->sag_ratio * (1 - exp(-on_s / l->sag_s))) : level;
}

double sim_shutter_s(const struct sim_shot *shot)
{
    return exp2(shot->shutter_thirds / 3.0);
}

double sim_shutter_nominal_s(const struct sim_shot *shot)
{
    static const double under[] = {1,    1.25, 1.6,  2,    2.5,  3,    4,    5,    6,    8,
                                   10,   13,   15,   20,   25,   30,   40,   50,   60,   80,
                                   100,  125,  160,  200,  250,  320,  400,  500,  640,  800,
                                   1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000};
    static const double over[] = {1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30};
    int k = shot->shutter_thirds;
    if (k <= 0 && -k < (int)PC_COUNT(under))
        return 1.0 / under[-k];
    if (k > 0 && k < (int)PC_COUNT(over))
        return over[k];
    return sim_shutter_s(shot);
}

// True speed over ISO 100's.
static double true_gain(const struct sim_setup *setup, double iso)
{
    double doublings = log2(iso / 100.0);
    return exp2(doublings + setup->camera.iso_error_ev * doublings);
}

double sim_signal_per_level(const struct sim_setup *setup, const struct sim_shot *shot, bool flash)
{
    // ISO 2720's focal plane: H = 0.65 L t / N^2; ISO 12232: saturation at H = 78 / S
    double speed = 100.0 * true_gain(setup, shot->iso) * exp2(setup->camera.sensitivity_ev);
    double t = flash ? 1.0 : sim_shutter_s(shot);
    return 0.65 * t / (shot->fnumber * shot->fnumber) * speed / 78.0;
}

double sim_noise_at(const struct sim_setup *setup, double iso, double level)
{
    const struct sim_camera *c = &setup->camera;
    double gain = c->gain_dn_per_e * true_gain(setup, iso), range = c->white_dn - c->black_dn;
    double read = gain * c->read_noise_e;
    return sqrt(gain * fmax(0, level) * range + read * read + 1.0 / 12.0) / range;
}

int sim_shot_expose(const struct sim_setup *setup, const struct sim_shot *shot, double headroom_ev)
{
    struct sim_panel panel[SIM_LIGHTS_MAX + 1];
    double fill_lx[SIM_LIGHTS_MAX + 1], level[SIM_LIGHTS_MAX + 1], most = 0;
    int lights = setup->light_count;
    sim_panels_make(setup, panel, fill_lx);
    for (int l = 0; l <= lights; l++) {
        level[l] = sim_emitter_level(setup, shot, 2 * l);
        if (l < lights)
            level[l] += sim_emitter_level(setup, shot, 2 * l + 1);
        // a flash exposes the same at every shutter
        if (l < lights && setup->light[l].flash)
            level[l] = 0;
    }
    struct sim_vec hero = sim_vec(0, 0, 0.05),
                   surface = sim_vec(setup->table.surface_x_m, setup->table.surface_y_m, 0);
    for (int way = -2; way <= lights; way++) {
        struct sim_vec p = way == -2 ? surface : hero, n = sim_vec(0, 0, 1);
        if (way >= 0)
            n = sim_unit(sim_sub(panel[way].centre, hero));
        double lx = 0;
        for (int l = 0; l <= lights; l++)
            lx += level[l] * (sim_panel_lx(&panel[l], p, n) + fill_lx[l]);
        most = fmax(most, lx);
    }
    struct sim_shot one = *shot;
    one.shutter_thirds = 0;
    double signal = sim_signal_per_level(setup, &one, false) * 0.9 * most / SIM_PI;
    if (signal <= 0)
        return setup->shutter_thirds;
    return (int)sim_clamp(floor(-3.0 * (log2(signal) + headroom_ev)), -39, 15);
}
