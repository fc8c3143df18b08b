// SPDX-License-Identifier: Apache-2.0
#include "image/picture/spread.h"

#include "base/units.h"

double pc_picture_quantile(const struct pc_picture *picture, int channel, double share_ratio)
{
    enum { LOWEST_EV = -16, HIGHEST_EV = 1, BINS_AN_EV = 100, BINS = (HIGHEST_EV - LOWEST_EV) * BINS_AN_EV };
    PC_ASSERT(channel >= 0 && channel < picture->channels && share_ratio >= 0 && share_ratio <= 1);
    size_t pixels = (size_t)picture->width_px * (size_t)picture->height_px, counts[BINS] = {0};
    if (pixels == 0)
        return NAN;
    for (size_t i = 0; i < pixels; i++) {
        double level = (double)picture->px[i * (size_t)picture->channels + (size_t)channel];
        double ev = level > 0 ? pc_ev_from_ratio(level) : LOWEST_EV;
        double bin = (fmin(fmax(ev, LOWEST_EV), HIGHEST_EV) - LOWEST_EV) * BINS_AN_EV;
        counts[bin < BINS ? (size_t)bin : BINS - 1]++;
    }
    double below = share_ratio * (double)pixels;
    size_t seen = 0, bin = 0;
    while (bin < BINS - 1 && (double)(seen + counts[bin]) < below)
        seen += counts[bin++];
    double inside = counts[bin] > 0 ? fmin(fmax((below - (double)seen) / (double)counts[bin], 0), 1) : 0;
    return pc_ratio_from_ev(LOWEST_EV + ((double)bin + inside) / BINS_AN_EV);
}
