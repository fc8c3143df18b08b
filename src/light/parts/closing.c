// SPDX-License-Identifier: Apache-2.0
#include "light/parts/closing.h"

#include "base/units.h"
#include "light/parts/blocks.h"

static const double LEAST_SNR = 20.0; // of a pixel that is compared
static const double FAINT_RATIO =
    0.03;                             // of all light in the picture: no verdict on a light fainter than that
static const double NOTICED_EV = 0.1; // a third of the smallest step a dial or an eye cares for
static const double PLACE_TOLERANCE_EV = 0.05;
static const double PLACE_RADIUS_RATIO = 0.01;
static const double SAME_DIAL_RATIO = 1e-3, SAME_MIRED = 1.0;

// The frame's own sum, emitters first and the ambient last, beside what the dials foretell of it.
struct expected {
    struct pc_blocks sum;
    double foretold[PC_BLOCKS_TERMS_MAX];
};

static double term_ev(const struct expected *fit, int k)
{
    return pc_ev_from_ratio(fmax(fit->sum.weight[k], 1e-6 * fit->foretold[k]) / fit->foretold[k]);
}

static double term_tolerance_ev(const struct expected *fit, int k)
{
    return hypot(2.0 * sqrt(fit->sum.variance[k]) / fmax(fit->sum.weight[k], 0.05 * fit->foretold[k]) /
                     log(2.0),
                 PLACE_TOLERANCE_EV);
}

// What the dial itself leaves open: nothing where it stands as captured, else its curve; and a kelvin between
// those of the frames, where the mixing was measured.
static double dial_tolerance_ev(const struct pc_reading *reading, const struct pc_dials *set, int light)
{
    bool moved = fabs(set->dial_ratio[light] - reading->light[light].dial_ratio) > SAME_DIAL_RATIO;
    double dial_ev = moved ? log2(1.0 + 0.01 * reading->light[light].curve.tolerance_pct) : 0.0;
    const struct pc_kelvin *kelvin = &reading->light[light].kelvin;
    bool between = kelvin->points > 0;
    for (int k = 0; k < kelvin->points; k++)
        between = between && !(fabs(pc_mired_from_K(set->kelvin_K[light]) - kelvin->mired[k]) < SAME_MIRED);
    return between ? hypot(dial_ev, kelvin->tolerance_ev) : dial_ev;
}

// The factor that everything shares: the mean of the terms' offsets, each counted by how well it is known; no
// light is believed to have changed by itself while one factor explains them all.
static void judge(const struct pc_reading *reading, const struct pc_dials *set, const struct expected *fit,
                  struct pc_closing *closing)
{
    double all = 0.0, sum = 0.0, weights = 0.0;
    for (int k = 0; k < fit->sum.terms; k++)
        all += fit->foretold[k] * fit->sum.mean[k];
    bool clear[PC_BLOCKS_TERMS_MAX];
    int count = 0;
    for (int k = 0; k < fit->sum.terms; k++) {
        clear[k] = fit->foretold[k] > 0.0 && fit->foretold[k] * fit->sum.mean[k] > FAINT_RATIO * all;
        if (!clear[k])
            continue;
        double w = 1.0 / pow(term_tolerance_ev(fit, k), 2);
        sum += w * term_ev(fit, k);
        weights += w;
        count++;
    }
    double common = count > 0 ? sum / weights : 0.0, off = 0.0;
    for (int k = 0; k < fit->sum.terms; k++)
        if (clear[k])
            off = fmax(off, (fabs(term_ev(fit, k) - common) - term_tolerance_ev(fit, k)));
    bool alike = count >= 2 && off <= 0.0;
    closing->exposure_ev = alike ? common : 0.0;
    closing->exposure_tolerance_ev = count > 0 ? fmax(PLACE_TOLERANCE_EV, sqrt(1.0 / weights)) : (double)NAN;
    closing->exposure_blamed = alike && fabs(common) > NOTICED_EV;
    double taken_off = closing->exposure_blamed ? common : 0.0;
    int ambient = fit->sum.terms - 1;
    closing->ambient_ev = clear[ambient] ? term_ev(fit, ambient) - taken_off : (double)NAN;
    closing->ambient_tolerance_ev = clear[ambient] ? term_tolerance_ev(fit, ambient) : (double)NAN;
    for (int light = 0; light < reading->light_count; light++) {
        double found = 0.0, foretold = 0.0, variance = 0.0;
        for (int k = 0; k < reading->light[light].emitter_count; k++) {
            int e = reading->light[light].emitter[k];
            found += fit->sum.weight[e] * fit->sum.mean[e];
            foretold += fit->foretold[e] * fit->sum.mean[e];
            variance += fit->sum.variance[e] * fit->sum.mean[e] * fit->sum.mean[e];
        }
        bool told = foretold > FAINT_RATIO * all;
        closing->light_ev[light] =
            told ? pc_ev_from_ratio(fmax(found, 1e-6 * foretold) / foretold) - taken_off : (double)NAN;
        closing->light_tolerance_ev[light] =
            told ? hypot(2.0 * sqrt(variance) / fmax(found, 0.05 * foretold) / log(2.0),
                         hypot(PLACE_TOLERANCE_EV, dial_tolerance_ev(reading, set, light)))
                 : (double)NAN;
    }
}

static int compare_floats(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

static double picture_Y(const struct pc_parts *parts, const struct pc_picture *p, size_t i)
{
    double camera[3] = {0.0, 0.0, 0.0};
    for (int c = 0; c < p->channels; c++)
        camera[c] = (double)p->px[i * (size_t)p->channels + (size_t)c];
    return pc_parts_Y(parts, camera);
}

static enum pc_status make_residual(struct pc_ctx *ctx, const struct pc_parts *parts,
                                    const struct pc_picture *foretold, const struct pc_picture *actual,
                                    struct pc_closing *closing, struct pc_err *err)
{
    PC_TRY(pc_picture_init(ctx, &closing->residual, actual->width_px, actual->height_px, 1, err));
    struct pc_picture *out = &closing->residual;
    out->bin = actual->bin;
    out->full_width_px = actual->full_width_px;
    out->full_height_px = actual->full_height_px;
    size_t n = (size_t)actual->width_px * (size_t)actual->height_px, used = 0;
    float *sizes = calloc(n + 1, sizeof *sizes);
    PC_ASSERT(sizes != NULL);
    int g = actual->channels == 3 ? 1 : 0;
    for (size_t i = 0; i < n; i++) {
        double is = picture_Y(parts, actual, i), was = picture_Y(parts, foretold, i);
        double sd = sqrt(actual->noise.offset_var[g] + actual->noise.per_signal_var[g] * fmax(is, 0.0));
        bool usable = actual->clipped[i] == 0 && foretold->clipped[i] == 0 && parts->leave_out[i] == 0 &&
                      was > LEAST_SNR * sd && is > 0.0;
        out->px[i] = usable ? (float)pc_ev_from_ratio(is / was) : NAN;
        if (usable)
            sizes[used++] = fabsf(out->px[i]);
    }
    qsort(sizes, used, sizeof *sizes, compare_floats);
    closing->median_ev = used > 0 ? (double)sizes[used / 2] : (double)NAN;
    closing->worst_tenth_ev = used > 0 ? (double)sizes[(used - 1) * 9 / 10] : (double)NAN;
    free(sizes);
    return PC_OK;
}

// unread: the parts' own and what clipped in the closing frame.
static void fill_places(const struct pc_parts *parts, const struct pc_reading *reading,
                        const struct pc_dials *set, const struct pc_picture *foretold,
                        const struct pc_laid *laid, const uint8_t *unread, struct pc_closing *closing)
{
    double radius_px = PLACE_RADIUS_RATIO * laid->picture.full_width_px;
    double dials_ev = 0.0, exposure = laid->gain_ratio * laid->shutter_ratio;
    for (int light = 0; light < reading->light_count; light++)
        dials_ev = fmax(dials_ev, dial_tolerance_ev(reading, set, light));
    for (int p = 0; p < reading->place_count; p++) {
        double xyz[3];
        struct pc_level level;
        const struct pc_place *at = &reading->place[p];
        pc_reading_xyz(reading, set, p, xyz);
        // What was foretold of the pixels that clip in neither.
        struct pc_level whole, rest;
        pc_picture_level(foretold, at->x_px, at->y_px, radius_px, parts->unread, &whole);
        pc_picture_level(foretold, at->x_px, at->y_px, radius_px, unread, &rest);
        pc_picture_level(&laid->picture, at->x_px, at->y_px, radius_px, unread, &level);
        bool some = rest.pixels > 0 && rest.pixels < whole.pixels;
        double of_whole = some ? pc_parts_Y(parts, rest.value) / pc_parts_Y(parts, whole.value) : 1.0;
        struct pc_closing_place *place = &closing->place[p];
        place->foretold_ev = pc_ev_from_ratio(xyz[1] * laid->gain_ratio * of_whole);
        double Y = level.pixels > 0 ? pc_parts_Y(parts, level.value) : (double)NAN;
        place->actual_ev = Y > 0.0 ? pc_ev_from_ratio(Y * exposure) : (double)NAN;
        place->tolerance_ev = hypot(PLACE_TOLERANCE_EV, dials_ev);
    }
}

static enum pc_status compare_places(struct pc_ctx *ctx, const struct pc_parts *parts,
                                     const struct pc_reading *reading, const struct pc_dials *set,
                                     const struct pc_picture *foretold, const struct pc_laid *laid,
                                     struct pc_closing *closing, struct pc_err *err)
{
    struct pc_buffer buffer;
    size_t width = (size_t)foretold->width_px, height = (size_t)foretold->height_px;
    PC_TRY(pc_buffer_init(ctx, &buffer, width, height, 1, err));
    uint8_t *unread = buffer.data;
    for (size_t i = 0; i < width * height; i++)
        unread[i] = parts->unread[i] | laid->picture.clipped[i];
    fill_places(parts, reading, set, foretold, laid, unread, closing);
    pc_buffer_finish(&buffer);
    return PC_OK;
}

static void find_parts(const struct pc_parts *parts, const struct pc_reading *reading, struct expected *fit)
{
    struct pc_basis basis;
    pc_parts_basis(parts, reading, &basis);
    for (int e = 0; e < reading->emitter_count; e++) {
        fit->sum.picture[e] = &parts->part[basis.part[e]].picture;
        fit->sum.unit[e] = basis.per_full[e];
    }
    fit->sum.picture[reading->emitter_count] = &parts->ambient;
    fit->sum.unit[reading->emitter_count] = 1.0;
    fit->sum.terms = reading->emitter_count + 1;
}

// What the dials give in a frame of this shutter, at the reference exposure: a flash counts for less the
// longer the shutter that the frame was divided by.
static void set_foretold(const struct pc_reading *reading, const struct pc_dials *dials, double shutter_ratio,
                         struct pc_dials *set, struct expected *fit)
{
    *set = *dials;
    set->shutter_ratio = shutter_ratio;
    pc_reading_weights(reading, set, fit->foretold, &fit->foretold[fit->sum.terms - 1]);
    for (int k = 0; k < fit->sum.terms; k++)
        fit->foretold[k] /= shutter_ratio;
}

enum pc_status pc_closing_of_laid(struct pc_ctx *ctx, const struct pc_parts *parts,
                                  const struct pc_reading *reading, const struct pc_dials *dials,
                                  const struct pc_laid *laid, const char *name, struct pc_closing *closing,
                                  struct pc_err *err)
{
    memset(closing, 0, sizeof *closing);
    struct pc_picture foretold;
    struct expected fit = {0};
    struct pc_dials set;
    find_parts(parts, reading, &fit);
    set_foretold(reading, dials, laid->shutter_ratio, &set, &fit);
    enum pc_status status =
        pc_parts_weigh(ctx, parts, reading, fit.foretold, fit.foretold[fit.sum.terms - 1], &foretold, err);
    if (status == PC_OK) {
        status = make_residual(ctx, parts, &foretold, &laid->picture, closing, err);
        if (status == PC_OK)
            status = compare_places(ctx, parts, reading, &set, &foretold, laid, closing, err);
        pc_picture_finish(&foretold);
    }
    if (status == PC_OK) {
        if (pc_blocks_explain(parts, &laid->picture, &fit.sum))
            judge(reading, &set, &fit, closing);
        else
            status = pc_fail(
                err, PC_BAD_INPUT, name,
                "Too little of this frame can be compared with the set: it is too dark, clipped, or shows "
                "something else.");
    }
    if (status != PC_OK)
        pc_picture_finish(&closing->residual);
    return status;
}

enum pc_status pc_closing_check(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                                const struct pc_parts *parts, const struct pc_reading *reading,
                                const struct pc_dials *dials, const char *path, struct pc_closing *closing,
                                struct pc_err *err)
{
    memset(closing, 0, sizeof *closing);
    struct pc_laid laid;
    PC_TRY(pc_parts_lay(ctx, reader, parts, path, &laid, err));
    enum pc_status status = pc_closing_of_laid(ctx, parts, reading, dials, &laid, path, closing, err);
    pc_picture_finish(&laid.picture);
    return status;
}
