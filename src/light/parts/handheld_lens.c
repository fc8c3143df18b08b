// SPDX-License-Identifier: Apache-2.0
// What the lens takes off towards the corners, from two frames of the ambient alone: the same table in the
// same light, seen at other places of the picture.
#include "light/parts/handheld_priv.h"

#include "base/linalg.h"

enum { ROUNDS = 12 };

static const double TUKEY = 4.685;
static const double LEAST_SCATTER = 0.004; // of a level: no two look more alike
// A lens's fall-off has another shape than a thin one's, and shine goes with the camera.
static const double SHAPE_SE = 0.05;

double hand_thin_loss(const struct pc_picture *picture, double focal_35mm_mm, double x_px, double y_px)
{
    const double USUAL_FOCAL_MM = 50.0, HALF_DIAGONAL_MM = 21.63; // of 36 x 24 mm
    double half_px = 0.5 * hypot(picture->full_width_px, picture->full_height_px);
    double r = hypot(x_px - 0.5 * picture->full_width_px, y_px - 0.5 * picture->full_height_px) / half_px;
    double tangent = r * HALF_DIAGONAL_MM / (focal_35mm_mm > 0.0 ? focal_35mm_mm : USUAL_FOCAL_MM);
    return 2.0 * log(1.0 + tangent * tangent);
}

static double median_of(double *values, int count)
{
    for (int i = 1; i < count; i++) {
        double value = values[i];
        int at = i;
        for (; at > 0 && values[at - 1] > value; at--)
            values[at] = values[at - 1];
        values[at] = value;
    }
    return values[count / 2];
}

bool hand_lens_from(const struct pc_picture *picture, double focal_35mm_mm, const struct pc_shared *shared,
                    double *loss_ratio, double *se)
{
    enum { LEAST_AREAS = 24 };
    int n = shared->count;
    if (n < LEAST_AREAS)
        return false;
    double a[PC_SHARED_AREAS_MAX * 2], b[PC_SHARED_AREAS_MAX], thin[PC_SHARED_AREAS_MAX],
        off[PC_SHARED_AREAS_MAX], sorted[PC_SHARED_AREAS_MAX], x[2], scatter = INFINITY;
    for (int i = 0; i < n; i++) {
        const struct pc_shared_area *area = &shared->area[i];
        thin[i] = hand_thin_loss(picture, focal_35mm_mm, area->a_px[0], area->a_px[1]) -
                  hand_thin_loss(picture, focal_35mm_mm, area->b_px[0], area->b_px[1]);
        off[i] = 0.0;
    }
    for (int round = 0; round < ROUNDS; round++) {
        for (int i = 0; i < n; i++) {
            double r = off[i] / (TUKEY * scatter), w = r < 1.0 ? 1.0 - r * r : 0.0;
            a[2 * i] = w;
            a[2 * i + 1] = w * thin[i];
            b[i] = w * shared->area[i].log_ratio;
        }
        if (!pc_linalg_least_squares(n, 2, a, b, x))
            return false;
        for (int i = 0; i < n; i++)
            sorted[i] = off[i] = fabs(shared->area[i].log_ratio - x[0] - x[1] * thin[i]);
        scatter = fmax(1.4826 * median_of(sorted, n), LEAST_SCATTER);
    }
    double weight = 0.0, sum = 0.0, square = 0.0;
    for (int i = 0; i < n; i++) {
        double r = off[i] / (TUKEY * scatter), w = r < 1.0 ? (1.0 - r * r) * (1.0 - r * r) : 0.0;
        weight += w;
        sum += w * thin[i];
        square += w * thin[i] * thin[i];
    }
    double spread = square - sum * sum / weight;
    if (!(spread > 0.0))
        return false;
    *loss_ratio = x[1];
    *se = hypot(scatter / sqrt(spread), SHAPE_SE);
    return true;
}
