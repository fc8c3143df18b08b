// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_flash.h"

#include "base/tolerance.h"

double pc_flash_ev(const struct pc_flash_head *head, double power_ratio, double effective_f, double iso)
{
    double reached_f = head->full_f / head->distance_m;
    return 2.0 * log2(reached_f / effective_f) + log2(power_ratio) + log2(iso / 100.0);
}

struct given {
    const struct pc_flash_head *head;
    double power_ratio, effective_f, iso;
};

static bool answer(const void *given, const double x[], double y[])
{
    const struct given *g = given;
    struct pc_flash_head head = *g->head;
    head.full_f = x[0];
    head.distance_m = x[1];
    y[0] = pc_flash_ev(&head, g->power_ratio, g->effective_f, g->iso);
    return x[0] > 0 && x[1] > 0;
}

void pc_flash_setting_find(const struct pc_flash_head *head, double wanted_ev, double effective_f, double iso,
                           struct pc_flash_setting *setting)
{
    double down_ev = pc_flash_ev(head, 1.0, effective_f, iso) - wanted_ev,
           lowest_ev = -log2(head->least_power_ratio);
    double steps_ev = round(down_ev / head->step_ev) * head->step_ev;
    double set_ev = fmin(fmax(steps_ev, 0.0), lowest_ev);
    // Half a step is no more than rounding.
    double off_ev = set_ev - down_ev;
    *setting = (struct pc_flash_setting){
        .power_ratio = exp2(-set_ev),
        .beyond_ev = fabs(off_ev) > 0.5 * head->step_ev + 1e-9 ? off_ev : 0.0,
    };
    struct given given = {head, setting->power_ratio, effective_f, iso};
    double x[] = {head->full_f, head->distance_m};
    double x_tolerance[] = {head->full_f_tolerance, head->distance_m_tolerance};
    if (!pc_tolerance(answer, &given, 2, x, x_tolerance, 1, &setting->flash_ev, &setting->flash_ev_tolerance))
        setting->flash_ev = setting->flash_ev_tolerance = NAN;
}

const char *pc_flash_power_text(char out[32], double power_ratio)
{
    double down_ev = -log2(power_ratio), whole_ev = ceil(down_ev - 0.05), up_ev = whole_ev - down_ev;
    if (whole_ev < 0.5 && up_ev < 0.05)
        snprintf(out, 32, "full power");
    else if (up_ev < 0.05)
        snprintf(out, 32, "1/%.0f power", exp2(whole_ev));
    else
        snprintf(out, 32, "1/%.0f power + %.1f EV", exp2(whole_ev), up_ev);
    return out;
}
