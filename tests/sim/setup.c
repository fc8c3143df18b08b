// SPDX-License-Identifier: Apache-2.0
// Set-ups, drawn from a seed or told by the demo, and the series that are shot of them.
#include "base/clock.h"
#include "sim_priv.h"

static int pick(uint64_t *state, int count)
{
    return (int)(sim_uniform(state) * count);
}

static void set_lab(double lab[3], double l, double a, double b)
{
    lab[0] = l;
    lab[1] = a;
    lab[2] = b;
}

// ---- seeded ----

static void seed_light(struct sim_setup *s, int i, double clock_h, uint64_t *r)
{
    static const char *const names[] = {"P1",    "P2",     "Key",   "Fill",     "left panel", "Rand",
                                        "strip", "tube 3", "bakre", "overhead", "big one",    "p_four",
                                        "edge",  "K-7",    "Küche", "under"};
    static const double sizes[][2] = {{0.3, 0.3},  {0.18, 0.12}, {0.6, 0.3},  {0.6, 0.6},
                                      {0.9, 0.12}, {0.45, 0.3},  {0.12, 0.12}};
    struct sim_light *l = &s->light[i];
    // five apart, so that no two of up to eight are the same
    snprintf(l->name, sizeof(l->name), "%s", names[(5 * i + (int)(s->seed % 16)) % 16]);
    int size = pick(r, (int)PC_COUNT(sizes));
    l->width_m = sizes[size][0];
    l->tall_m = sizes[size][1];
    l->clock_h = clock_h;
    l->distance_m = sim_between(r, 0.45, 1.2);
    l->height_m = sim_between(r, 0.4, 1.1);
    double area = l->width_m * l->tall_m, far2 = l->distance_m * l->distance_m + l->height_m * l->height_m;
    l->full_lx_at_1m = sim_clamp(sim_between(r, 1800, 6000) * sqrt(area / 0.09), 1000, 9000) * fmin(1, far2);
    l->emitters = sim_uniform(r) < 0.35 ? 2 : 1;
    l->led[0] = l->led[1] = sim_uniform(r) < 0.75;
    l->cct_K[0] = l->emitters == 2 ? sim_between(r, 2700, 3200) : sim_between(r, 3000, 6500);
    l->cct_K[1] = sim_between(r, 5600, 6500);
    l->duv[0] = sim_between(r, -0.004, 0.004);
    l->duv[1] = sim_between(r, -0.004, 0.004);
    l->kelvin_K = sim_between(r, 3600, 5400);
    l->curve = (enum sim_curve)pick(r, 4);
    l->curve_shape = l->curve == SIM_CURVE_POWER ? sim_between(r, 1.3, 2.2)
                     : l->curve == SIM_CURVE_S   ? sim_between(r, 0.4, 1.0)
                                                 : sim_between(r, 0.03, 0.10);
    l->sag_ratio = sim_uniform(r) < 0.6 ? 0.05 : 0;
    l->sag_s = 200;
    l->on_since_s = -sim_between(r, 400, 1800);
}

static void seed_lights(struct sim_setup *s, uint64_t *r)
{
    s->light_count = 1 + pick(r, 6);
    double first = sim_between(r, 0, 12);
    for (int i = 0; i < s->light_count; i++)
        seed_light(s, i, fmod(first + i * 12.0 / s->light_count + sim_between(r, -0.6, 0.6) + 12.0, 12.0), r);
    struct sim_window *w = &s->window;
    *w = (struct sim_window){
        .clock_h = sim_uniform(r) < 0.5 ? sim_between(r, 8, 10.5) : sim_between(r, 1.5, 4),
        .distance_m = sim_between(r, 0.9, 1.9),
        .sill_m = sim_between(r, 0.0, 0.3),
        .width_m = sim_between(r, 0.9, 1.8),
        .tall_m = sim_between(r, 1.0, 1.5),
        .hero_lx = exp2(sim_between(r, 7.6, 9.8)),
        .fill_ratio = sim_between(r, 0.12, 0.3),
        .cct_K = sim_between(r, 5500, 8500),
        .duv = sim_between(r, 0.0, 0.004),
        .drift_ratio = sim_between(r, -0.025, 0.025),
        .cloud_s = 20,
    };
}

static void seed_table(struct sim_setup *s, double half_m, bool upright, uint64_t *r)
{
    struct sim_table *t = &s->table;
    double x = upright ? 0.60 : 0.74;
    t->hero = sim_uniform(r) < 0.35 && s->camera.elevation_deg > 35 ? SIM_HERO_BOWL : SIM_HERO_DOME;
    t->hero_radius_m = sim_between(r, 0.035, 0.06);
    t->hero_tall_m = t->hero_radius_m * sim_between(r, 0.5, 1.1);
    set_lab(t->hero_lab, sim_between(r, 45, 82), sim_between(r, -12, 35), sim_between(r, 0, 45));
    t->hero_gloss_ratio = sim_uniform(r) < 0.6 ? sim_between(r, 0.02, 0.12) : 0;
    t->hero_rough_ratio = sim_between(r, 0.02, 0.12);
    t->plate_radius_m = upright ? sim_between(r, 0.10, 0.115) : sim_between(r, 0.11, 0.13);
    t->plate_z_m = sim_between(r, 0.012, 0.03);
    set_lab(t->plate_lab, sim_between(r, 70, 93), sim_between(r, -4, 4), sim_between(r, -6, 10));
    t->board = (enum sim_board)pick(r, 3);
    t->board_ratio = exp2(sim_between(r, -3.6, -0.5));
    t->board_contrast_ratio = sim_between(r, 0.2, 0.5);
    t->board_width_m = sim_between(r, 0.8, 1.4);
    t->board_deep_m = sim_between(r, 0.75, 1.1);
    if (t->hero == SIM_HERO_BOWL) {
        t->hero_radius_m *= 0.8;
        t->hero_gloss_ratio = 0;
        t->plate_z_m = sim_between(r, 0.045, 0.065);
        t->hero_tall_m = fmax(t->hero_tall_m, 0.5 * t->plate_z_m);
        set_lab(t->plate_lab, sim_between(r, 12, 60), 0, 2);
    }
    double cx = -x * half_m, rx = x * half_m;
    t->card = (struct sim_flat){true,  cx,    upright ? -0.175 : sim_between(r, -0.13, -0.05),
                                0.085, 0.055, sim_between(r, -12, 12),
                                0.001};
    t->chart =
        (struct sim_flat){true, rx, upright ? -0.175 : -0.115, 0.12, 0.08, sim_between(r, -5, 5), 0.002};
    t->napkin =
        (struct sim_flat){true, 0.97 * rx, upright ? 0.18 : 0.10, 0.13, 0.13, sim_between(r, -15, 15), 0.006};
    t->ball = sim_uniform(r) < 0.7;
    t->ball_radius_m = sim_between(r, 0.02, 0.032);
    t->ball_x_m = cx;
    t->ball_y_m = upright ? 0.17 : sim_between(r, 0.08, 0.13);
    set_lab(t->ball_lab, sim_between(r, 50, 80), sim_between(r, -10, 30), sim_between(r, 20, 60));
    t->surface_x_m = sim_between(r, -0.02, 0.02);
    t->surface_y_m = -t->plate_radius_m - sim_between(r, 0.038, 0.045);
    double top = (t->hero == SIM_HERO_BOWL ? 0.62 : 1.0) * t->plate_z_m + t->hero_tall_m;
    t->hero_card =
        (struct sim_flat){false, 0, 0, 0.1, 0.07, sim_between(r, -15, 15), fmax(top, t->plate_z_m) + 0.002};
    t->surface_card = (struct sim_flat){
        false, t->surface_x_m, t->surface_y_m - 0.01, 0.085, 0.055, sim_between(r, -10, 10), 0.001};
}

static void seed_camera(struct sim_setup *s, bool upright, double *half_m, uint64_t *r)
{
    static const char *const cfas[] = {"RGGB", "BGGR", "GRBG", "GBRG"};
    struct sim_camera *c = &s->camera;
    snprintf(c->maker, sizeof(c->maker), "Maker %c", 'A' + pick(r, 6));
    snprintf(c->model, sizeof(c->model), "Model %d", 1 + pick(r, 90));
    snprintf(c->serial, sizeof(c->serial), "%06d", pick(r, 1000000));
    c->width_px = 1200;
    c->height_px = 800;
    c->orientation = upright ? (sim_uniform(r) < 0.5 ? 6 : 8) : sim_uniform(r) < 0.1 ? 3 : 1;
    c->masked_left_px = sim_uniform(r) < 0.5 ? 16 + 2 * pick(r, 9) : 0;
    snprintf(c->cfa, sizeof(c->cfa), "%s", cfas[pick(r, 4)]);
    bool large = sim_uniform(r) < 0.6;
    c->sensor_width_mm = large ? 36.0 : 23.5;
    c->elevation_deg = sim_uniform(r) < 0.2 ? 90.0 : sim_between(r, 28, 75);
    c->distance_m = sim_between(r, 0.8, 1.15);
    *half_m = upright ? sim_between(r, 0.24, 0.265) : sim_between(r, 0.30, 0.35);
    double wide_m = upright ? 2 * *half_m * 1.5 : 2 * *half_m;
    c->focal_mm = c->sensor_width_mm * c->distance_m / wide_m;
    bool fourteen = sim_uniform(r) < 0.7;
    c->black_dn = fourteen ? 512 + 64 * pick(r, 9) : 128 + 16 * pick(r, 9);
    c->white_dn = fourteen ? 15800 + pick(r, 500) : 4000 + pick(r, 90);
    double full_e = large ? sim_between(r, 50e3, 80e3) : sim_between(r, 25e3, 38e3);
    c->gain_dn_per_e = (c->white_dn - c->black_dn) / full_e;
    c->read_noise_e = sim_between(r, 2, 5);
    c->black_wander_dn =
        c->masked_left_px && sim_uniform(r) < 0.7 ? 0.0015 * (c->white_dn - c->black_dn) : 0.0;
    c->sensitivity_ev = sim_between(r, -0.25, 0.25);
    c->iso_error_ev = sim_between(r, -0.06, 0.06);
    c->vignette_ratio = sim_between(r, 0.1, 0.4);
    c->flare_ratio = sim_between(r, 0.01, 0.02);
    c->dead_column = sim_uniform(r) < 0.3 ? 100 + pick(r, c->width_px - 200) : -1;
    for (int i = 0; i < 3; i++)
        c->hue_shift_nm[i] = sim_between(r, -6, 6);
    c->nominal_shutter = sim_uniform(r) < 0.8;
    c->apex = sim_uniform(r) < 0.7;
    c->lossless = sim_uniform(r) < 0.6;
}

// Draws card, chart, napkin and ball in towards the hero until they lie wholly in the picture.
static void keep_inside(struct sim_setup *s)
{
    struct sim_table *t = &s->table;
    struct sim_flat *flat[] = {&t->card, &t->chart, &t->napkin};
    struct sim_flat around = {
        true, t->ball_x_m, t->ball_y_m, 2 * t->ball_radius_m, 2 * t->ball_radius_m, 0, 2 * t->ball_radius_m};
    struct sim_shot shot;
    struct sim_stage stage;
    sim_shot_init(s, &shot);
    sim_stage_init(&stage, s, &shot);
    double edge = 0.015 * stage.width_px;
    for (int i = 0; i < 4; i++) {
        struct sim_flat *f = i < 3 ? flat[i] : &around;
        for (int tries = 0; tries < 40; tries++) {
            bool inside = true;
            for (int k = 0; k < 4; k++) {
                double x, y;
                inside =
                    inside &&
                    sim_stage_project(&stage, sim_flat_point(f, k & 1 ? 1 : -1, k & 2 ? 1 : -1), &x, &y) &&
                    x > edge && y > edge && x < stage.width_px - edge && y < stage.height_px - edge;
            }
            if (inside)
                break;
            f->x_m *= 0.98;
            f->y_m *= 0.98;
        }
    }
    t->ball_x_m = around.x_m;
    t->ball_y_m = around.y_m;
}

void sim_setup_seeded(struct sim_setup *setup, uint64_t seed)
{
    uint64_t r = sim_hash(seed, 0x7ab1e, 1);
    double half_m;
    memset(setup, 0, sizeof(*setup));
    setup->seed = seed;
    bool upright = sim_uniform(&r) < 0.25;
    seed_camera(setup, upright, &half_m, &r);
    seed_table(setup, half_m, upright, &r);
    seed_lights(setup, &r);
    keep_inside(setup);
    setup->start_s = 1.8e9 + floor(sim_between(&r, 0, 3e6)) + 0.01 * pick(&r, 100);
    setup->step_s = sim_between(&r, 4, 25);
    setup->window.drift_s = setup->step_s * (setup->light_count + 1);
    setup->fnumber = (double[]){4.0, 5.6, 8.0, 11.0}[pick(&r, 4)];
    setup->iso = (double[]){100, 100, 200, 400}[pick(&r, 4)];
    setup->shutters_differ = sim_uniform(&r) < 0.3;
    sim_setup_expose(setup, 0.4);
    sim_lay_surface_card(setup);
}

// ---- the demo ----

static void demo_panel(struct sim_light *l, const char *name, double clock_h, double distance_m,
                       double height_m, double width_m, double tall_m, double full_lx, double warm_K,
                       double cool_K)
{
    *l = (struct sim_light){.emitters = 2,
                            .cct_K = {warm_K, cool_K},
                            .duv = {0.0005, 0.001},
                            .led = {true, true},
                            .clock_h = clock_h,
                            .distance_m = distance_m,
                            .height_m = height_m,
                            .width_m = width_m,
                            .tall_m = tall_m,
                            .full_lx_at_1m = full_lx,
                            .sag_ratio = 0.05,
                            .sag_s = 200,
                            .on_since_s = -1500,
                            .kelvin_K = 5300};
    snprintf(l->name, sizeof(l->name), "%s", name);
}

void sim_setup_demo(struct sim_setup *s)
{
    memset(s, 0, sizeof(*s));
    s->seed = 20270318;
    s->light_count = 3;
    // 2900 lx at 1 m at half dial, so 5800 at full; P2 is old: 88 % of it, and 200 K warm at 5300 K (7.4
    // mired).
    demo_panel(&s->light[0], "P1", 10.5, 0.72, 0.54, 0.30, 0.30, 5800, 2700, 6500);
    demo_panel(&s->light[1], "P2", 3.2, 0.80, 0.50, 0.30, 0.30, 0.88 * 5800, 2647, 6202);
    demo_panel(&s->light[2], "P3", 1.2, 0.70, 0.35, 0.18, 0.12, 1900, 3000, 5800);
    s->light[1].curve = SIM_CURVE_S;
    s->light[1].curve_shape = 0.6;
    s->light[2].curve = SIM_CURVE_POWER;
    s->light[2].curve_shape = 1.4;
    // W1 at nine o'clock of the table; overcast. Table top 0.76 m, sill 0.85 m.
    s->window = (struct sim_window){.clock_h = 9,
                                    .distance_m = 1.25,
                                    .sill_m = 0.09,
                                    .width_m = 1.80,
                                    .tall_m = 1.30,
                                    .hero_lx = 750,
                                    .fill_ratio = 0.15,
                                    .cct_K = 7500,
                                    .duv = 0.003,
                                    .drift_ratio = 0.02,
                                    .drift_s = 48,
                                    .cloud_s = 20};
    struct sim_table *t = &s->table;
    t->hero = SIM_HERO_BOWL;
    t->hero_radius_m = 0.035;
    t->hero_tall_m = 0.026;
    set_lab(t->hero_lab, 90, -1, 7);
    t->plate_radius_m = 0.12;
    t->plate_z_m = 0.045;
    set_lab(t->plate_lab, 14, 0, 0);
    t->board = SIM_BOARD_WOOD;
    t->board_ratio = 0.06;
    t->board_contrast_ratio = 0.4;
    t->board_width_m = 0.80;
    t->board_deep_m = 0.60;
    t->card = (struct sim_flat){true, -0.23, -0.10, 0.085, 0.055, 6, 0.001};
    t->chart = (struct sim_flat){false, 0.23, -0.1, 0.12, 0.08, 0, 0.002};
    t->napkin = (struct sim_flat){true, 0.245, 0.06, 0.13, 0.15, -9, 0.006};
    t->surface_x_m = 0.0;
    t->surface_y_m = -0.165;
    t->hero_card = (struct sim_flat){false, 0, 0, 0.1, 0.07, 5, 0.06};
    t->surface_card = (struct sim_flat){false, 0, -0.175, 0.085, 0.055, -4, 0.001};
    struct sim_camera *c = &s->camera;
    *c = (struct sim_camera){.width_px = 1536,
                             .height_px = 1024,
                             .orientation = 1,
                             .masked_left_px = 16,
                             .focal_mm = 50,
                             .sensor_width_mm = 36,
                             .elevation_deg = 30,
                             .distance_m = 0.9,
                             .black_dn = 512,
                             .white_dn = 16000,
                             .black_wander_dn = 1.5,
                             .gain_dn_per_e = 0.2,
                             .read_noise_e = 3,
                             .sensitivity_ev = 0.1,
                             .iso_error_ev = 0.03,
                             .vignette_ratio = 0.25,
                             .flare_ratio = 0.012,
                             .dead_column = -1,
                             .hue_shift_nm = {2, -1, 3},
                             .nominal_shutter = true,
                             .apex = true,
                             .lossless = true};
    snprintf(c->maker, sizeof(c->maker), "Camera");
    snprintf(c->model, sizeof(c->model), "C1");
    snprintf(c->serial, sizeof(c->serial), "000001");
    snprintf(c->cfa, sizeof(c->cfa), "RGGB");
    bool known = pc_clock_s_from_civil(2027, 3, 18, 9, 42, 7.25, &s->start_s);
    PC_ASSERT(known);
    s->step_s = 12;
    s->fnumber = 8;
    s->iso = 100;
    sim_setup_expose(s, 0.3);
}

void sim_setup_resize(struct sim_setup *setup, int width_px, int height_px)
{
    setup->camera.width_px = width_px & ~1;
    setup->camera.height_px = height_px & ~1;
    if (setup->camera.dead_column >= setup->camera.width_px)
        setup->camera.dead_column = setup->camera.width_px / 2;
}

void sim_setup_make_flash(struct sim_setup *setup, int light)
{
    struct sim_light *l = &setup->light[light];
    l->flash = true;
    l->emitters = 1;
    l->led[0] = false;
    l->cct_K[0] = 5500;
    l->duv[0] = 0.001;
    l->sag_ratio = 0;
    l->full_lx_at_1m *= exp2(setup->shutter_thirds / 3.0);
}

void sim_setup_expose(struct sim_setup *setup, double headroom_ev)
{
    struct sim_shot shot;
    sim_shot_init(setup, &shot);
    setup->shutter_thirds = sim_shot_expose(setup, &shot, headroom_ev);
    for (int i = 0; i < setup->light_count; i++) {
        sim_shot_one_light(setup, i, 1.0, setup->light[i].kelvin_K, &shot);
        int thirds = sim_shot_expose(setup, &shot, headroom_ev);
        if (thirds < setup->shutter_thirds)
            setup->shutter_thirds = thirds;
    }
}

// ---- series ----

void sim_shot_init(const struct sim_setup *setup, struct sim_shot *shot)
{
    memset(shot, 0, sizeof(*shot));
    snprintf(shot->name, sizeof(shot->name), "frame");
    shot->shutter_thirds = setup->shutter_thirds;
    shot->fnumber = setup->fnumber;
    shot->iso = setup->iso;
    shot->window_ratio = 1;
    for (int i = 0; i < setup->light_count; i++)
        shot->kelvin_K[i] = setup->light[i].kelvin_K;
}

void sim_shot_one_light(const struct sim_setup *setup, int light, double dial_ratio, double kelvin_K,
                        struct sim_shot *shot)
{
    sim_shot_init(setup, shot);
    shot->lit[light] = true;
    shot->dial_ratio[light] = dial_ratio;
    shot->kelvin_K[light] = kelvin_K;
}

void sim_shot_number(const struct sim_setup *setup, struct sim_shot *shot, int index, const char *what)
{
    snprintf(shot->name, sizeof(shot->name), "%03u %s", (unsigned)(index + 1) % 1000u, what);
    shot->time_s = index * setup->step_s;
    shot->noise_seed = (uint64_t)index + 1;
}

static int series(const struct sim_setup *setup, double dial_ratio, bool each_emitter, struct sim_shot *shots)
{
    int n = 0;
    sim_shot_init(setup, &shots[n]);
    sim_shot_number(setup, &shots[n], n, "window");
    n++;
    for (int i = 0; i < setup->light_count; i++) {
        const struct sim_light *l = &setup->light[i];
        bool each = each_emitter && l->emitters == 2;
        for (int e = 0; e < (each ? 2 : 1); e++, n++) {
            char what[40];
            snprintf(what, sizeof(what), "%s%s", l->name, !each ? "" : e ? "-cool" : "-warm");
            sim_shot_one_light(setup, i, dial_ratio, each ? l->cct_K[e] : l->kelvin_K, &shots[n]);
            sim_shot_number(setup, &shots[n], n, what);
            if (setup->shutters_differ && !l->flash)
                shots[n].shutter_thirds = sim_shot_expose(setup, &shots[n], 0.4);
        }
    }
    sim_shot_init(setup, &shots[n]);
    sim_shot_number(setup, &shots[n], n, "window");
    return n + 1;
}

int sim_series_job(const struct sim_setup *setup, double dial_ratio, struct sim_shot shots[SIM_SHOTS_MAX])
{
    return series(setup, dial_ratio, false, shots);
}

int sim_series_emitters(const struct sim_setup *setup, double dial_ratio,
                        struct sim_shot shots[SIM_SHOTS_MAX])
{
    return series(setup, dial_ratio, true, shots);
}

void sim_shot_held_out(const struct sim_setup *setup, uint64_t seed, bool new_kelvins, struct sim_shot *shot)
{
    uint64_t r = sim_hash(seed, setup->seed, 0x4e1d);
    bool flash = false;
    sim_shot_init(setup, shot);
    sim_shot_number(setup, shot, setup->light_count + 2, "all");
    shot->noise_seed = sim_hash(seed, 17, 0);
    for (int i = 0; i < setup->light_count; i++) {
        const struct sim_light *l = &setup->light[i];
        shot->lit[i] = true;
        shot->dial_ratio[i] = sim_between(&r, 0.25, 1.0);
        if (new_kelvins && l->emitters == 2)
            shot->kelvin_K[i] = 1e6 / sim_between(&r, 1e6 / l->cct_K[1] + 5, 1e6 / l->cct_K[0] - 5);
        flash = flash || l->flash;
    }
    if (!flash)
        shot->shutter_thirds = sim_shot_expose(setup, shot, 0.4);
}

void sim_series_nudge(struct sim_shot *shots, int count, int first, double dx_px, double dy_px)
{
    for (int i = first; i < count; i++) {
        shots[i].napkin_px[0] = dx_px;
        shots[i].napkin_px[1] = dy_px;
    }
}
