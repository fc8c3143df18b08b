// SPDX-License-Identifier: Apache-2.0
// An outlet's crop, fixed on the locked frame, that does not hold the hero any more.
#include "shoot/check/check_priv.h"

// By how much the hero sticks out of a crop, px.
static double out_px(const struct pc_check_crop *crop, const struct pc_check_spot *hero, double width_px,
                     double height_px)
{
    double left = crop->left_ratio * width_px - (hero->x_px - hero->radius_px);
    double right = hero->x_px + hero->radius_px - crop->right_ratio * width_px;
    double top = crop->top_ratio * height_px - (hero->y_px - hero->radius_px);
    double bottom = hero->y_px + hero->radius_px - crop->bottom_ratio * height_px;
    return fmax(0.0, fmax(fmax(left, right), fmax(top, bottom)));
}

// Where the hero of the locked frame is now, the camera having slipped; a hero touched anew is where it is.
static struct pc_check_spot hero_now(const struct pc_check *check)
{
    struct pc_check_spot hero = check->now->spots.at[PC_CHECK_HERO];
    if (!check->registered || !pc_check_same_spot(check, PC_CHECK_HERO))
        return hero;
    const struct pc_align *a = &check->align;
    double cx = 0.5 * check->now->small.full_width_px, cy = 0.5 * check->now->small.full_height_px;
    double x = hero.x_px - cx, y = hero.y_px - cy;
    hero.x_px = cx + a->scale_ratio * (cos(a->rotation_rad) * x - sin(a->rotation_rad) * y) + a->shift_x_px;
    hero.y_px = cy + a->scale_ratio * (sin(a->rotation_rad) * x + cos(a->rotation_rad) * y) + a->shift_y_px;
    hero.radius_px *= a->scale_ratio;
    return hero;
}

bool pc_check_crop(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    if (!pc_check_known(check, PC_CHECK_HERO))
        return false;
    double width_px = check->now->small.full_width_px, height_px = check->now->small.full_height_px;
    struct pc_check_spot hero = hero_now(check);
    for (int i = 0; i < check->plan->crops; i++) {
        const struct pc_check_crop *crop = &check->plan->crop[i];
        double by_px = out_px(crop, &hero, width_px, height_px);
        if (by_px < PC_CHECK_SPEAKS_RATIO * harm || by_px / harm <= finding->over_ratio)
            continue;
        finding->over_ratio = by_px / harm;
        finding->value = by_px;
        finding->tolerance = fmax(1.0, check->registered ? check->align.tolerance_px : 0.0);
        finding->x_px = hero.x_px;
        finding->y_px = hero.y_px;
        finding->says_what_first = true;
        snprintf(finding->what, sizeof finding->what, "Hero %.0f px out of %.40s", by_px, crop->outlet);
        snprintf(finding->action, sizeof finding->action, "plate back to its marks");
    }
    return finding->over_ratio > 0.0;
}
