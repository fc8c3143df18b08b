// SPDX-License-Identifier: Apache-2.0
#include "image/camera/mains_bands_priv.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "image/camera/mains.h"

enum {
    STRIPS = PC_BANDS_STRIPS,
    POWERS = PC_BANDS_POWERS,
    STEPS_PER_BAND = 4,
    STEPS = (int)((PC_BANDS_MOST - PC_BANDS_LEAST) * STEPS_PER_BAND) + 1,
    REFINEMENTS = 20,
};

static const double NEAR_BANDS = 8.0,
                    OWN_BANDS = 1.5;       // the neighbours in the spectrum that a wave is held against
static const double MOST_SLANT_RAD = 0.15; // over all strips
static const double UNCLEAR_PCT = 1.0;
static const double PLAIN_TEXTURE_RATIO = 0.03;    // cards and painted walls have 0.01
static const double LEAST_BANDS_TOLERANCE = 0.002; // the cubic takes a little of a wave

struct wave {
    double c[STRIPS][2]; // cosine and sine in each strip
    double mean[2];
    double explained; // of the mean's square sum
    double power;     // of the mean
    double scatter;   // mean square error of the mean, by the strips
    double stretch;   // how much worse than a wave that the cubic does not touch
};

// Gram and Schmidt on 1, x, x^2, x^3.
static void make_cubic(struct pc_bands_rows *rows)
{
    for (int p = 0; p < POWERS; p++) {
        double *mine = rows->cubic[p];
        for (int i = 0; i < rows->count; i++)
            mine[i] = pow(rows->at[i], p);
        for (int q = 0; q <= p; q++) { // the last round scales to length 1
            double dot = 0.0;
            for (int i = 0; i < rows->count; i++)
                dot += mine[i] * rows->cubic[q][i];
            for (int i = 0; i < rows->count; i++)
                mine[i] = q == p ? mine[i] / sqrt(dot) : mine[i] - dot * rows->cubic[q][i];
        }
    }
}

static void take_cubic_off(const struct pc_bands_rows *rows, double *y)
{
    for (int p = 0; p < POWERS; p++) {
        double dot = 0.0;
        for (int i = 0; i < rows->count; i++)
            dot += y[i] * rows->cubic[p][i];
        for (int i = 0; i < rows->count; i++)
            y[i] -= dot * rows->cubic[p][i];
    }
}

// bands: over the rows at hand.
static void fit_wave(const struct pc_bands_rows *rows, double bands, struct wave *wave)
{
    double cosine[PC_BANDS_ROWS_MAX], sine[PC_BANDS_ROWS_MAX], cc = 0.0, cs = 0.0, ss = 0.0;
    for (int i = 0; i < rows->count; i++) {
        cosine[i] = cos(PC_PI * bands * rows->at[i]);
        sine[i] = sin(PC_PI * bands * rows->at[i]);
    }
    take_cubic_off(rows, cosine);
    take_cubic_off(rows, sine);
    for (int i = 0; i < rows->count; i++) {
        cc += cosine[i] * cosine[i];
        cs += cosine[i] * sine[i];
        ss += sine[i] * sine[i];
    }
    double det = cc * ss - cs * cs;
    wave->mean[0] = wave->mean[1] = wave->scatter = wave->explained = 0.0;
    for (int s = 0; s < rows->strips; s++) {
        double c = 0.0, d = 0.0;
        for (int i = 0; i < rows->count; i++) {
            c += cosine[i] * rows->y[s][i];
            d += sine[i] * rows->y[s][i];
        }
        wave->c[s][0] = (ss * c - cs * d) / det;
        wave->c[s][1] = (cc * d - cs * c) / det;
        wave->mean[0] += wave->c[s][0] / rows->strips;
        wave->mean[1] += wave->c[s][1] / rows->strips;
    }
    for (int s = 0; s < rows->strips; s++)
        wave->scatter += pow(wave->c[s][0] - wave->mean[0], 2) + pow(wave->c[s][1] - wave->mean[1], 2);
    wave->scatter /= (double)rows->strips * (rows->strips - 1);
    wave->power = wave->mean[0] * wave->mean[0] + wave->mean[1] * wave->mean[1];
    wave->explained = cc * wave->mean[0] * wave->mean[0] + 2.0 * cs * wave->mean[0] * wave->mean[1] +
                      ss * wave->mean[1] * wave->mean[1];
    double least = 0.5 * (cc + ss) - hypot(0.5 * (cc - ss), cs);
    wave->stretch = 0.5 * rows->count / least;
}

// F with 2 and 2 k degrees exceeds x with probability (1 + x / k)^-k.
static double f_threshold(double k)
{
    double trials = PC_BANDS_FALSE_ALARM_FRAMES * (PC_BANDS_MOST - PC_BANDS_LEAST);
    return k * (pow(trials, 1.0 / k) - 1.0);
}

// How far the phase turns from the first strip to the last, less three times its own error.
static double slant_rad(const struct pc_bands_rows *rows, const struct wave *wave)
{
    double xx = 0.0, turn = 0.0, left = 0.0;
    double x[STRIPS], aside[STRIPS];
    for (int s = 0; s < rows->strips; s++) {
        x[s] = (s + 0.5) / rows->strips - 0.5;
        // The part of the strip's wave that is a quarter turn from the mean's, in units of the mean.
        aside[s] = (wave->mean[0] * wave->c[s][1] - wave->mean[1] * wave->c[s][0]) / wave->power;
        xx += x[s] * x[s];
        turn += x[s] * aside[s];
    }
    turn /= xx;
    for (int s = 0; s < rows->strips; s++)
        left += pow(aside[s] - turn * x[s], 2);
    double error = sqrt(left / (rows->strips - 2) / xx);
    return fabs(turn) - 3.0 * error;
}

struct spectrum {
    double bands[STEPS], power[STEPS], explained[STEPS], scatter[STEPS];
    int count;
};

// Mean power of the neighbours.
static double floor_near(const struct spectrum *spectrum, int at)
{
    double sum = 0.0;
    int count = 0;
    for (int i = 0; i < spectrum->count; i++) {
        double away = fabs(spectrum->bands[i] - spectrum->bands[at]);
        if (away > OWN_BANDS && away < NEAR_BANDS) {
            sum += spectrum->power[i];
            count++;
        }
    }
    return count > 0 ? sum / count : (double)INFINITY;
}

static double neighbours(void)
{
    return NEAR_BANDS - OWN_BANDS; // independent ones, if only half of them are there
}

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

// Of a spectrum, what nine frequencies in ten do not exceed.
static double nearly_most(const double *values, int count)
{
    double sorted[STEPS];
    memcpy(sorted, values, (size_t)count * sizeof sorted[0]);
    qsort(sorted, (size_t)count, sizeof sorted[0], by_size);
    return sorted[count * 9 / 10];
}

// What would have been found.
static double least_pct(const struct spectrum *spectrum, int strips)
{
    double least[STEPS];
    for (int i = 0; i < spectrum->count; i++)
        least[i] = fmax(f_threshold(strips - 1) * spectrum->scatter[i],
                        f_threshold(neighbours()) * floor_near(spectrum, i));
    return fmax(100.0 * sqrt(nearly_most(least, spectrum->count)), PC_BANDS_LEAST_PCT);
}

// Nothing in the frame but light: strips of a pattern differ. One that lies along the rows can pass for
// bands.
static bool is_plain(const struct spectrum *spectrum, int strips)
{
    double scatter = nearly_most(spectrum->scatter, spectrum->count);
    return 100.0 * sqrt(f_threshold(strips - 1) * scatter) <= UNCLEAR_PCT;
}

static bool counts(const struct pc_bands_rows *rows, const struct spectrum *spectrum, int at)
{
    if (spectrum->power[at] < pow(PC_BANDS_LEAST_PCT / 100.0, 2) ||
        spectrum->power[at] < f_threshold(rows->strips - 1) * spectrum->scatter[at] ||
        spectrum->power[at] < f_threshold(neighbours()) * floor_near(spectrum, at))
        return false;
    struct wave wave;
    fit_wave(rows, spectrum->bands[at], &wave);
    return slant_rad(rows, &wave) < MOST_SLANT_RAD;
}

// The strongest wave that counts, or -1.
static int strongest(const struct pc_bands_rows *rows, const struct spectrum *spectrum)
{
    int best = -1;
    for (int i = 0; i < spectrum->count; i++)
        if ((best < 0 || spectrum->explained[i] > spectrum->explained[best]) && counts(rows, spectrum, i))
            best = i;
    return best;
}

// Golden section for the best fit within a step to each side.
static double refine(const struct pc_bands_rows *rows, double bands, struct wave *wave)
{
    const double golden = 0.5 * (sqrt(5.0) - 1.0);
    double low = bands - 1.0 / STEPS_PER_BAND, high = bands + 1.0 / STEPS_PER_BAND;
    for (int n = 0; n < REFINEMENTS; n++) {
        double left = high - golden * (high - low), right = low + golden * (high - low);
        struct wave wave_left, wave_right;
        fit_wave(rows, left, &wave_left);
        fit_wave(rows, right, &wave_right);
        if (wave_left.explained < wave_right.explained)
            low = left;
        else
            high = right;
    }
    fit_wave(rows, 0.5 * (low + high), wave);
    return 0.5 * (low + high);
}

// Mean power of the neighbours once the wave itself is taken off, whose skirts would pass for noise. Spoils
// rows.
static double floor_without(struct pc_bands_rows *rows, double bands, const struct wave *wave)
{
    double sum = 0.0;
    int count = 0;
    for (int i = 0; i < rows->count; i++) {
        double phase = PC_PI * bands * rows->at[i];
        for (int s = 0; s < rows->strips; s++)
            rows->y[s][i] -= wave->mean[0] * cos(phase) + wave->mean[1] * sin(phase);
    }
    for (double away = -NEAR_BANDS; away <= NEAR_BANDS; away += 0.5) {
        struct wave near;
        if (fabs(away) < OWN_BANDS || bands + away < PC_BANDS_LEAST || bands + away > rows->count / 4.0)
            continue;
        fit_wave(rows, bands + away, &near);
        sum += near.power / near.stretch;
        count++;
    }
    return count > 0 ? sum / count : (double)INFINITY;
}

// Errors of a wave's frequency and size in noise (Rife and Boorstyn, IEEE Trans. Inf. Theory 20:591, 1974:
// for a real wave var(A) = 2 s^2 / n and var(turns) = 6 s^2 / (pi^2 A^2 n)), the noise read off the spectrum,
// in which the power of noise alone is 4 s^2 / n, or off the strips.
static void measure(struct pc_bands_rows *rows, const struct spectrum *spectrum, int at, bool one_frame,
                    struct pc_bands *bands)
{
    struct wave wave;
    double found = refine(rows, spectrum->bands[at], &wave);
    double noise = fmax(floor_without(rows, found, &wave), wave.scatter) * wave.stretch;
    // Rows that were averaged have taken some of it (Dirichlet's kernel).
    double step = PC_PI * found / rows->share / rows->rows_all;
    double kept = sin(rows->rows_each * step) / (rows->rows_each * sin(step));
    double deep = sqrt(wave.power) / kept;
    // The wave of a logarithm is deeper than that of the light: ln(1 + m sin) has 2 (1 - sqrt(1 - m^2)) / m.
    double depth = one_frame ? deep / (1.0 + 0.25 * deep * deep) : deep;
    if (found < PC_BANDS_LEAST) {
        bands->verdict = PC_BANDS_FEW;
        return;
    }
    bands->verdict = PC_BANDS_FOUND;
    bands->bands = found / rows->share;
    bands->bands_tolerance =
        (1.96 * sqrt(1.5 * noise) / (PC_PI * deep) + LEAST_BANDS_TOLERANCE) / rows->share;
    bands->depth_pct = 100.0 * depth;
    bands->depth_pct_tolerance = 100.0 * 1.96 * sqrt(0.5 * noise) / kept;
}

// Half the way between the brightest and the darkest of the cubic, all strips together.
static double slow_change_pct(const struct pc_bands_rows *rows)
{
    double high = -(double)INFINITY, low = (double)INFINITY, dot[POWERS] = {0};
    for (int p = 1; p < POWERS; p++)
        for (int s = 0; s < rows->strips; s++)
            for (int i = 0; i < rows->count; i++)
                dot[p] += rows->y[s][i] * rows->cubic[p][i] / rows->strips;
    for (int i = 0; i < rows->count; i++) {
        double y = 0.0;
        for (int p = 1; p < POWERS; p++)
            y += dot[p] * rows->cubic[p][i];
        high = fmax(high, y);
        low = fmin(low, y);
    }
    return 100.0 * 0.5 * (high - low);
}

static void look(struct pc_bands_rows *rows, bool one_frame, bool patterned, struct pc_bands *bands)
{
    make_cubic(rows);
    bands->slow_pct = slow_change_pct(rows);
    for (int s = 0; s < rows->strips; s++)
        take_cubic_off(rows, rows->y[s]);
    struct spectrum spectrum = {.count = STEPS};
    for (int i = 0; i < STEPS; i++) {
        struct wave wave;
        spectrum.bands[i] = PC_BANDS_LEAST + (double)i / STEPS_PER_BAND;
        if (spectrum.bands[i] > rows->count / 4.0) {
            spectrum.count = i;
            break;
        }
        fit_wave(rows, spectrum.bands[i], &wave);
        spectrum.power[i] = wave.power;
        spectrum.explained[i] = wave.explained;
        spectrum.scatter[i] = wave.scatter;
    }
    bands->least_pct = least_pct(&spectrum, rows->strips);
    bool may_tell = !one_frame || (!patterned && is_plain(&spectrum, rows->strips));
    int at = may_tell ? strongest(rows, &spectrum) : -1;
    if (at >= 0)
        measure(rows, &spectrum, at, one_frame, bands);
    else
        bands->verdict = !may_tell || bands->least_pct > UNCLEAR_PCT ? PC_BANDS_UNCLEAR
                         : bands->slow_pct >= PC_BANDS_LEAST_PCT     ? PC_BANDS_FEW
                                                                     : PC_BANDS_NONE;
}

static int clamp(double value, int most)
{
    return value < 0 ? 0 : value > most ? most : (int)value;
}

enum pc_status pc_bands_find(const struct pc_picture *a, const struct pc_picture *b, int orientation,
                             const struct pc_bands_area *area, struct pc_bands *bands, struct pc_err *err)
{
    if (b != NULL &&
        (a->width_px != b->width_px || a->height_px != b->height_px || a->channels != b->channels))
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "The two frames differ in size; take both from one place with one camera.");
    struct pc_bands_source source = {a, b, orientation < 5, a->channels == 3 ? 1 : 0};
    struct pc_bands_area whole = {0, 0, a->full_width_px, a->full_height_px};
    if (area == NULL)
        area = &whole;
    double bin = a->bin > 0 ? a->bin : 1;
    int x0 = clamp(ceil(area->x0_px / bin), a->width_px), x1 = clamp(area->x1_px / bin, a->width_px);
    int y0 = clamp(ceil(area->y0_px / bin), a->height_px), y1 = clamp(area->y1_px / bin, a->height_px);
    struct pc_bands_cell all =
        source.upright_rows ? (struct pc_bands_cell){y0, y1, x0, x1} : (struct pc_bands_cell){x0, x1, y0, y1};
    double sensor_rows = source.upright_rows ? a->full_height_px / bin : a->full_width_px / bin;
    struct pc_bands_rows *rows = calloc(1, sizeof *rows);
    PC_ASSERT(rows != NULL);
    *bands =
        (struct pc_bands){.bands = NAN, .bands_tolerance = NAN, .depth_pct = NAN, .depth_pct_tolerance = NAN};
    bool readable = pc_bands_rows_read(&source, &all, sensor_rows, rows);
    if (readable)
        look(rows, b == NULL, b == NULL && pc_bands_texture_ratio(&source, &all) > PLAIN_TEXTURE_RATIO,
             bands);
    free(rows);
    if (!readable)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "Too little of it can be read for bands: it is too small, too dark or clipped. Take it "
            "again so that the card or the scene fills the frame, at mid grey.");
    return PC_OK;
}

static bool hz_answer(const void *given, const double x[], double y[])
{
    (void)given;
    y[0] = x[0] / x[1];
    return x[1] > 0;
}

// What the two shutters leave.
struct leaves {
    double a, b;
};

// How much of the lamp's modulation shows in the ratio of two waves that lie so many half turns apart.
static double ratio_share(const struct leaves *left, double half_turns)
{
    double a = left->a, b = left->b;
    return sqrt(fmax(0.0, a * a + b * b - 2.0 * a * b * cos(PC_PI * half_turns)));
}

void pc_bands_lamp_find(const struct pc_bands *bands, double readout_s, double readout_s_tolerance,
                        double known_hz, const double shutter_s[2], int frames, struct pc_bands_lamp *lamp)
{
    *lamp = (struct pc_bands_lamp){NAN, NAN, NAN, NAN, NAN};
    double x[] = {bands->bands, readout_s}, x_tolerance[] = {bands->bands_tolerance, readout_s_tolerance};
    if (!isnan(readout_s) && isfinite(bands->bands) &&
        !pc_tolerance(hz_answer, NULL, 2, x, x_tolerance, 1, &lamp->hz, &lamp->hz_tolerance))
        return;
    double hz = isnan(known_hz) ? lamp->hz : known_hz;
    if (isnan(hz) || isnan(bands->depth_pct))
        return;
    double hz_tolerance = isnan(known_hz) ? lamp->hz_tolerance : PC_MAINS_TOLERANCE_RATIO * known_hz;
    struct pc_mains_left left[2] = {{0}, {0}};
    for (int i = 0; i < frames; i++)
        pc_mains_left_find(hz, hz_tolerance, shutter_s[i], &left[i]);
    struct leaves middle = {left[0].left_ratio, left[1].left_ratio};
    struct leaves most = {left[0].left_ratio + left[0].left_ratio_tolerance,
                          left[1].left_ratio + left[1].left_ratio_tolerance};
    struct leaves least = {fmax(0.0, left[0].left_ratio - left[0].left_ratio_tolerance),
                           fmax(0.0, left[1].left_ratio - left[1].left_ratio_tolerance)};
    // Of a phase that nobody knows, the middle and the ends of 19 cases in 20.
    lamp->modulation_pct = fmin(100.0, bands->depth_pct / ratio_share(&middle, 0.5));
    lamp->modulation_low_pct = (bands->depth_pct - bands->depth_pct_tolerance) / ratio_share(&most, 0.975);
    lamp->modulation_high_pct =
        fmin(100.0, (bands->depth_pct + bands->depth_pct_tolerance) / ratio_share(&least, 0.025));
}
