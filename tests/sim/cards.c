// SPDX-License-Identifier: Apache-2.0
// The hand-held series: where its surface card lies, and how the camera wanders.
#include "sim_priv.h"

// How far the light of any frame of the series goes apart over a card a little larger than this one.
static double uneven_ev(const struct sim_setup *setup, const struct sim_stage *stage,
                        const struct sim_panel *panel, const double *fill_lx)
{
    enum { GRID = 3 };
    const double LARGER = 1.25;
    double lx[SIM_LIGHTS_MAX + 1][GRID * GRID], worst = 0;
    const struct sim_flat *card = &stage->flat[SIM_T_SURFACE_CARD];
    for (int l = 0; l <= setup->light_count; l++)
        for (int i = 0; i < GRID * GRID; i++) {
            struct sim_vec up = sim_vec(0, 0, 1),
                           p = sim_flat_point(card, LARGER * (i % GRID - 1), LARGER * (i / GRID - 1));
            double seen = sim_panel_visible(&panel[l], stage->blocker, stage->blockers, SIM_T_SURFACE_CARD, p,
                                            up, 16, 0.5);
            lx[l][i] = seen * sim_panel_lx(&panel[l], p, up) + fill_lx[l];
        }
    const double *window = lx[setup->light_count];
    for (int l = 0; l <= setup->light_count; l++) {
        double least = INFINITY, most = 0;
        for (int i = 0; i < GRID * GRID; i++) {
            double all = window[i] + (l < setup->light_count ? lx[l][i] : 0);
            least = fmin(least, all);
            most = fmax(most, all);
        }
        worst = fmax(worst, log2(most / least));
    }
    return worst;
}

static bool is_free(const struct sim_table *t, const struct sim_flat *card)
{
    const struct sim_flat *other[] = {&t->chart, &t->napkin};
    double reach = hypot(card->width_m, card->deep_m) / 2;
    if (hypot(card->x_m, card->y_m) < t->plate_radius_m + reach)
        return false;
    for (int i = 0; i < 2; i++)
        if (other[i]->there && hypot(card->x_m - other[i]->x_m, card->y_m - other[i]->y_m) <
                                   reach + hypot(other[i]->width_m, other[i]->deep_m) / 2)
            return false;
    return !t->ball || hypot(card->x_m - t->ball_x_m, card->y_m - t->ball_y_m) > reach + t->ball_radius_m;
}

static bool in_picture(const struct sim_stage *stage, const struct sim_flat *card, double margin_ratio)
{
    double edge = margin_ratio * stage->width_px;
    for (int i = 0; i < 4; i++) {
        double x, y;
        if (!sim_stage_project(stage, sim_flat_point(card, i & 1 ? 1 : -1, i & 2 ? 1 : -1), &x, &y) ||
            x < edge || y < edge || x > stage->width_px - edge || y > stage->height_px - edge)
            return false;
    }
    return true;
}

void sim_lay_surface_card(struct sim_setup *setup)
{
    const double EVEN_EV = 0.25;
    struct sim_flat *card = &setup->table.surface_card, best = *card;
    struct sim_panel panel[SIM_LIGHTS_MAX + 1];
    double fill_lx[SIM_LIGHTS_MAX + 1], least = INFINITY;
    struct sim_shot shot;
    sim_shot_init(setup, &shot);
    shot.cards = true;
    sim_panels_make(setup, panel, fill_lx);
    double front_m = hypot(card->x_m, card->y_m);
    // in front of the hero first, then to its sides and farther off, never behind it
    for (int out = 0; out < 9 && least >= EVEN_EV; out++)
        for (int way = 0; way < 17 && least >= EVEN_EV; way++) {
            double turn = (way + 1) / 2 * (way % 2 ? 1 : -1) * SIM_PI / 13, away = front_m + 0.02 * out;
            struct sim_stage stage;
            card->x_m = away * sin(turn);
            card->y_m = -away * cos(turn);
            if (!is_free(&setup->table, card))
                continue;
            sim_stage_init(&stage, setup, &shot);
            if (!in_picture(&stage, card, 0.05))
                continue;
            double uneven = uneven_ev(setup, &stage, panel, fill_lx);
            if (uneven < least) {
                least = uneven;
                best = *card;
            }
        }
    *card = best;
}

// Whether both cards lie wholly in the picture, a little away from its edges.
static bool cards_seen(const struct sim_setup *setup, const struct sim_shot *shot)
{
    struct sim_stage stage;
    sim_stage_init(&stage, setup, shot);
    return in_picture(&stage, &stage.flat[SIM_T_HERO_CARD], 0.02) &&
           in_picture(&stage, &stage.flat[SIM_T_SURFACE_CARD], 0.02);
}

int sim_series_hand(const struct sim_setup *setup, double dial_ratio, double most_m, double most_deg,
                    struct sim_shot shots[SIM_SHOTS_MAX])
{
    int n = sim_series_job(setup, dial_ratio, shots);
    uint64_t r = sim_hash(setup->seed, 0x4a4d, 3);
    for (int i = 0; i < n; i++) {
        shots[i].cards = true;
        // smaller and smaller wanderings until both cards are in the picture
        for (double reach = 1; reach > 0.01; reach *= 0.9) {
            struct sim_vec way = sim_vec(sim_normal(&r), sim_normal(&r), sim_normal(&r));
            way = sim_mul(sim_unit(way), reach * most_m * sim_between(&r, 0.3, 1.0));
            shots[i].move_m[0] = way.x;
            shots[i].move_m[1] = way.y;
            shots[i].move_m[2] = way.z;
            for (int k = 0; k < 3; k++)
                shots[i].turn_deg[k] = reach * most_deg * sim_between(&r, -1, 1) * (k == 2 ? 1.0 : 0.4);
            if (cards_seen(setup, &shots[i]))
                break;
        }
    }
    return n;
}
