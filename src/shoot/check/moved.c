// SPDX-License-Identifier: Apache-2.0
// What is not where it was in the last locked frame.
#include "shoot/check/check_priv.h"

static const double CAMERA_RATIO = 0.004; // of the width: what a crop's margin or a composite forgives
static const double GRAVE_RATIO = 3.0;    // of something that moved by nobody knows how far

static void say_where(const struct pc_check *check, double x_px, double y_px, char *out, size_t size)
{
    double x = x_px / check->now->small.full_width_px, y = y_px / check->now->small.full_height_px;
    const char *across = x < 1.0 / 3.0 ? "left" : x > 2.0 / 3.0 ? "right" : "middle";
    const char *down = y < 1.0 / 3.0 ? "upper " : y > 2.0 / 3.0 ? "lower " : "";
    snprintf(out, size, "%s%s", down, across);
}

static bool camera_moved(const struct pc_check *check, struct pc_finding *finding)
{
    double x_px = check->align.shift_x_px, y_px = check->align.shift_y_px, by_px = hypot(x_px, y_px);
    double harm_px = CAMERA_RATIO * check->now->small.full_width_px;
    if (!(by_px > PC_CHECK_SPEAKS_RATIO * harm_px) || !(by_px > check->align.tolerance_px))
        return false;
    finding->value = by_px;
    finding->tolerance = check->align.tolerance_px;
    finding->over_ratio = by_px / harm_px;
    finding->says_what_first = true;
    bool across = fabs(x_px) > fabs(y_px);
    snprintf(finding->what, sizeof finding->what, "The frame has slipped");
    // What the picture shows goes the other way than the camera does.
    snprintf(finding->action, sizeof finding->action, "camera %.0f px %s", by_px,
             across ? (x_px > 0.0 ? "right" : "left") : (y_px > 0.0 ? "down" : "up"));
    return true;
}

bool pc_check_moved(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    // In other light, or smeared, everything looks moved.
    if (!check->registered || pc_check_has(check, PC_CHECK_LIGHT) || pc_check_has(check, PC_CHECK_SHAKE))
        return false;
    if (camera_moved(check, finding))
        return true;
    const struct pc_check_spot *hero = &check->now->spots.at[PC_CHECK_HERO];
    bool unlike = pc_check_has(check, PC_CHECK_FOCUS) || pc_check_has(check, PC_CHECK_DEPTH) ||
                  pc_check_has(check, PC_CHECK_CLIP) || pc_check_has(check, PC_CHECK_WINDOW);
    for (int i = 0; i < check->moved_count; i++) {
        const struct pc_moved *m = &check->moved[i];
        // The plate itself comes and goes.
        if (hypot(m->x_px - hero->x_px, m->y_px - hero->y_px) < hero->radius_px)
            continue;
        // What went soft, or shines, differs from itself, and nobody knows by how much it moved.
        if (unlike && isnan(m->by_px))
            continue;
        double over = isnan(m->by_px) ? GRAVE_RATIO : m->by_px / harm;
        if (over < PC_CHECK_SPEAKS_RATIO || over <= finding->over_ratio)
            continue;
        char where[32], by[32] = "";
        say_where(check, m->x_px, m->y_px, where, sizeof where);
        if (!isnan(m->by_px))
            snprintf(by, sizeof by, " by %.0f px", m->by_px);
        finding->over_ratio = over;
        finding->value = m->by_px;
        finding->tolerance = 1.0;
        finding->x_px = m->x_px;
        finding->y_px = m->y_px;
        finding->says_what_first = true;
        snprintf(finding->what, sizeof finding->what, "Moved%s, %s", by, where);
        snprintf(finding->action, sizeof finding->action, "put it back");
    }
    return finding->over_ratio > 0.0;
}
