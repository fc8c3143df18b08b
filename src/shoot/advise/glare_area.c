// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/glare_area.h"

static double signed_area(const struct pc_polygon *p)
{
    double twice = 0.0;
    for (int i = 0; i < p->count; i++) {
        int k = (i + 1) % p->count;
        twice += p->x[i] * p->y[k] - p->x[k] * p->y[i];
    }
    return twice / 2;
}

double pc_polygon_area(const struct pc_polygon *polygon)
{
    return fabs(signed_area(polygon));
}

// Of the triangle that the middle makes with a side, what lies in the disc; negative when it turns clockwise.
static double side_in_disc(double ax, double ay, double bx, double by, double radius)
{
    double dx = bx - ax, dy = by - ay, length2 = dx * dx + dy * dy, r2 = radius * radius;
    if (!(length2 > 0))
        return 0.0;
    // Where the side's line crosses the circle, as parts of the side.
    double along = -(ax * dx + ay * dy) / length2, cross = ax * dy - ay * dx;
    double half2 = (r2 - cross * cross / length2) / length2, half = half2 > 0 ? sqrt(half2) : 0.0;
    double from = fmin(fmax(along - half, 0.0), 1.0), to = fmin(fmax(along + half, 0.0), 1.0);
    double fx = ax + from * dx, fy = ay + from * dy, tx = ax + to * dx, ty = ay + to * dy;
    double sectors =
        atan2(ax * fy - ay * fx, ax * fx + ay * fy) + atan2(tx * by - ty * bx, tx * bx + ty * by);
    return (fx * ty - fy * tx) / 2 + r2 * sectors / 2;
}

double pc_polygon_area_in_disc(const struct pc_polygon *polygon, double radius)
{
    double area = 0.0;
    for (int i = 0; i < polygon->count; i++) {
        int k = (i + 1) % polygon->count;
        area += side_in_disc(polygon->x[i], polygon->y[i], polygon->x[k], polygon->y[k], radius);
    }
    return fabs(area);
}

void pc_polygon_overlap(const struct pc_polygon *a, const struct pc_polygon *b, struct pc_polygon *overlap)
{
    double turn = signed_area(b) < 0 ? -1.0 : 1.0;
    struct pc_polygon now = *a;
    for (int i = 0; i < b->count && now.count > 0; i++) {
        int k = (i + 1) % b->count;
        double dx = turn * (b->x[k] - b->x[i]), dy = turn * (b->y[k] - b->y[i]);
        struct pc_polygon cut = {0};
        for (int j = 0; j < now.count; j++) {
            int l = (j + 1) % now.count;
            double here = dx * (now.y[j] - b->y[i]) - dy * (now.x[j] - b->x[i]);
            double next = dx * (now.y[l] - b->y[i]) - dy * (now.x[l] - b->x[i]);
            PC_ASSERT(cut.count + 2 <= PC_POLYGON_CORNERS_MAX);
            if (here >= 0) {
                cut.x[cut.count] = now.x[j];
                cut.y[cut.count++] = now.y[j];
            }
            if ((here >= 0) != (next >= 0)) {
                double t = here / (here - next);
                cut.x[cut.count] = now.x[j] + t * (now.x[l] - now.x[j]);
                cut.y[cut.count++] = now.y[j] + t * (now.y[l] - now.y[j]);
            }
        }
        now = cut;
    }
    if (now.count < 3 || b->count < 3)
        now.count = 0;
    *overlap = now;
}
