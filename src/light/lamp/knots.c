// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/knots_priv.h"

static const double LEVEL_SLACK = 1e-12; // rounding is not to leap over a level stretch
enum { TANGENT_POINTS = 5, HALVINGS = 60 };

static double secant(const struct pc_knots *knots, int k)
{
    return (knots->y[k + 1] - knots->y[k]) / (knots->x[k + 1] - knots->x[k]);
}

// Slope at knot i of the polynomial through it and its four nearest (three points, the usual choice, leave a
// dimmer with a dead zone up to twice as far off).
static double tangent_through_neighbours(const struct pc_knots *knots, int i)
{
    const double *x = knots->x, *y = knots->y;
    int first = i, last = i;
    while (last - first + 1 < TANGENT_POINTS && last - first + 1 < knots->count) {
        bool down = last == knots->count - 1 || (first > 0 && x[i] - x[first - 1] < x[last + 1] - x[i]);
        if (down)
            first--;
        else
            last++;
    }
    double slope = 0.0;
    for (int k = first; k <= last; k++) {
        if (k == i)
            continue;
        double weight = 1.0 / (x[k] - x[i]); // of y[k] - y[i] in the derivative of Lagrange's polynomial
        for (int j = first; j <= last; j++)
            if (j != i && j != k)
                weight *= (x[i] - x[j]) / (x[k] - x[j]);
        slope += weight * (y[k] - y[i]);
    }
    return slope;
}

// Fritsch and Carlson 1980: tangents inside the circle of radius 3 (in secants) cannot make a cubic turn
// back.
static void tangents_limit(struct pc_knots *knots)
{
    for (int i = 0; i < knots->count; i++)
        knots->tangent[i] = fmax(knots->tangent[i], 0.0);
    for (int k = 0; k + 1 < knots->count; k++) {
        double rise = secant(knots, k), *left = &knots->tangent[k], *right = &knots->tangent[k + 1];
        double size = hypot(*left, *right);
        if (size > 3.0 * fmax(rise, 0.0)) {
            double scale = 3.0 * fmax(rise, 0.0) / size;
            *left *= scale;
            *right *= scale;
        }
    }
}

void pc_knots_tangents(struct pc_knots *knots)
{
    for (int i = 0; i < knots->count; i++)
        knots->tangent[i] = knots->count == 1 ? 1.0 : tangent_through_neighbours(knots, i);
    tangents_limit(knots);
}

// Height of the cubic from knot k to the next, part 0..1 of the way.
static double cubic_at(const struct pc_knots *knots, int k, double part)
{
    double width = knots->x[k + 1] - knots->x[k], rise = knots->y[k + 1] - knots->y[k];
    double left = width * knots->tangent[k], right = width * knots->tangent[k + 1];
    double bend = 3.0 * rise - 2.0 * left - right, twist = left + right - 2.0 * rise;
    return knots->y[k] + part * (left + part * (bend + part * twist));
}

double pc_knots_at(const struct pc_knots *knots, double x)
{
    int last = knots->count - 1;
    if (x <= knots->x[0])
        return knots->y[0] + (x < knots->x[0] ? (x - knots->x[0]) * knots->tangent[0] : 0.0);
    if (x >= knots->x[last])
        return knots->y[last] + (x - knots->x[last]) * knots->tangent[last];
    int k = 0;
    while (x > knots->x[k + 1])
        k++;
    return cubic_at(knots, k, (x - knots->x[k]) / (knots->x[k + 1] - knots->x[k]));
}

double pc_knots_find(const struct pc_knots *knots, double y)
{
    int last = knots->count - 1;
    if (y < knots->y[0] && knots->tangent[0] > 0.0)
        return knots->x[0] + (y - knots->y[0]) / knots->tangent[0];
    if (y > knots->y[last] && knots->tangent[last] > 0.0)
        return knots->x[last] + (y - knots->y[last]) / knots->tangent[last];
    if (last == 0 || y <= knots->y[0])
        return knots->x[0];
    int k = 0;
    while (k + 2 <= last && y > knots->y[k + 1] + LEVEL_SLACK)
        k++;
    double low = 0.0, high = 1.0;
    for (int i = 0; i < HALVINGS; i++) {
        double middle = 0.5 * (low + high);
        if (cubic_at(knots, k, middle) < y)
            low = middle;
        else
            high = middle;
    }
    return knots->x[k] + high * (knots->x[k + 1] - knots->x[k]);
}
