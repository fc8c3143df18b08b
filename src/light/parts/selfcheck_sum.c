// SPDX-License-Identifier: Apache-2.0
// Several lights together against the sum of each alone.
#include "base/file.h"
#include "base/linalg.h"
#include "base/text.h"
#include "base/units.h"
#include "light/parts/selfcheck_priv.h"

static const double LEAST_LEVEL = 1.0 / 128.0; // of what clips, in the frame with all on
static const double SAME_DIAL = 0.005;
static const double REPEAT_EV = 0.01; // as for shutters
static const double GAIN_TOLERANCE_EV = 0.1;
enum { ROWS_MAX = 4000 };

// One sum: the frame less the ambient, and each light alone, all at the reference exposure.
struct sum {
    int look;
    int alone_look[PC_LIGHTS_MAX];
    float *ambient, *alone[PC_LIGHTS_MAX];
    uint8_t *clipped;
    double exposure, weight; // weight: of a light in the frame over alone, of all alike
};

static enum pc_status find_light(const struct pc_looks *kit, const char *name, int *light, struct pc_err *err)
{
    const char *names[PC_LIGHTS_MAX];
    const struct pc_series *series = kit->series;
    for (*light = 0; *light < series->light_count; ++*light) {
        names[*light] = series->light[*light].name;
        if (strcmp(names[*light], name) == 0)
            return PC_OK;
    }
    const char *nearest = pc_text_nearest(name, names, (size_t)series->light_count);
    if (nearest != NULL)
        return pc_fail(err, PC_MISUSE, name, "No frame shows this light alone; did you mean %s?", nearest);
    return pc_fail(err, PC_MISUSE, name, "No frame shows this light alone; name one with --light.");
}

static enum pc_status name_lights(const struct pc_looks *kit, const struct pc_selfcheck_together *said,
                                  struct pc_selfcheck_sum *row, struct pc_err *err)
{
    snprintf(row->frame, sizeof row->frame, "%s", pc_file_name(said->path));
    row->light_count = said->light_count > 0 ? said->light_count : kit->series->light_count;
    for (int k = 0; k < row->light_count; k++) {
        row->light[k] = k;
        if (said->light_count > 0)
            PC_TRY(find_light(kit, said->light[k], &row->light[k], err));
        for (int i = 0; i < k; i++)
            if (row->light[i] == row->light[k])
                return pc_fail(err, PC_MISUSE, said->light[k], "It is named twice for %s.", row->frame);
    }
    return PC_OK;
}

// The frame of a light alone at the dial it has in the frame with all on, nearest to that in time; -1: there
// is none.
static int find_alone(const struct pc_looks *kit, int light, double dial_ratio, int look)
{
    const struct pc_series *series = kit->series;
    double dial = dial_ratio;
    for (int i = 0; i < series->frame_count && isnan(dial_ratio); i++)
        if (series->frame[i].light == light && kit->look[i].there && !(series->frame[i].dial_ratio <= dial))
            dial = series->frame[i].dial_ratio;
    int best = -1;
    for (int i = 0; i < series->frame_count; i++) {
        if (series->frame[i].light != light || !kit->look[i].there ||
            !(fabs(series->frame[i].dial_ratio - dial) < SAME_DIAL))
            continue;
        double gap_s = fabs(kit->look[i].time_s - kit->look[look].time_s);
        // Without times the last one is as near as can be told.
        if (best < 0 || !(gap_s > fabs(kit->look[best].time_s - kit->look[look].time_s)))
            best = i;
    }
    return best;
}

static double foretold(const struct sum *sum, int light_count, int k)
{
    double all = (double)sum->ambient[k];
    for (int i = 0; i < light_count && sum->alone[i] != NULL; i++)
        all += (double)sum->alone[i][k];
    return all;
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static bool usable(const struct pc_looks *kit, const struct sum *sum, int light_count, int k, double *was,
                   double *is)
{
    *is = (double)kit->look[sum->look].mean[k] / sum->exposure;
    *was = foretold(sum, light_count, k);
    return sum->clipped[k / kit->channels] == 0 && *is * sum->exposure > LEAST_LEVEL && *was > 0.0;
}

static void compare(const struct pc_looks *kit, const struct sum *sum, struct pc_selfcheck_sum *row)
{
    int n = kit->blocks * kit->channels, count = 0;
    struct pc_sample *samples = calloc((size_t)n, sizeof *samples);
    double *sizes = calloc((size_t)n, sizeof *sizes), was, is;
    PC_ASSERT(samples != NULL && sizes != NULL);
    for (int k = 0; k < n; k++)
        if (usable(kit, sum, row->light_count, k, &was, &is)) {
            sizes[count] = fabs(pc_ev_from_ratio(is / was));
            samples[count++] = (struct pc_sample){pc_ev_from_ratio(is / was), was};
        }
    row->off_ev = pc_samples_median(samples, count);
    qsort(sizes, (size_t)count, sizeof *sizes, compare_doubles);
    row->spread_ev = count > 0 ? sizes[(count - 1) * 19 / 20] : (double)NAN;
    free(samples);
    free(sizes);
}

// Least squares over the blocks, each counted relative to its level: which light differs from what it is
// alone.
static void apportion(const struct pc_looks *kit, const struct sum *sum, struct pc_selfcheck_sum *row)
{
    int n = kit->blocks * kit->channels, lights = row->light_count, rows = 0, step = n / ROWS_MAX + 1;
    double *a = calloc((size_t)ROWS_MAX * (size_t)(lights + 1), sizeof *a), was, is;
    PC_ASSERT(a != NULL);
    double *b = a + (size_t)ROWS_MAX * (size_t)lights;
    double normal[PC_LIGHTS_MAX * PC_LIGHTS_MAX] = {0}, x[PC_LIGHTS_MAX], square = 0.0;
    for (int k = 0; k < n && rows < ROWS_MAX; k += step) {
        if (!usable(kit, sum, lights, k, &was, &is))
            continue;
        for (int i = 0; i < lights; i++)
            a[rows * lights + i] = (double)sum->alone[i][k] / was;
        b[rows++] = (is - (double)sum->ambient[k]) / was;
    }
    bool solved = rows > 20 * lights && pc_linalg_least_squares(rows, lights, a, b, x);
    for (int r = 0; r < rows && solved; r++) {
        double residual = b[r];
        for (int i = 0; i < lights; i++) {
            residual -= x[i] * a[r * lights + i];
            for (int j = 0; j < lights; j++)
                normal[i * lights + j] += a[r * lights + i] * a[r * lights + j];
        }
        square += residual * residual;
    }
    for (int i = 0; i < lights; i++) {
        double unit[PC_LIGHTS_MAX] = {0}, column[PC_LIGHTS_MAX];
        unit[i] = 1.0;
        row->light_ev[i] = (struct pc_figure){NAN, NAN};
        if (!solved || !(x[i] > 0.0) || !pc_linalg_least_squares(lights, lights, normal, unit, column))
            continue;
        double se = sqrt(square / (rows - lights) * fmax(column[i], 0.0));
        row->light_ev[i] =
            (struct pc_figure){pc_ev_from_ratio(x[i]), hypot(2.0 * se / x[i] / log(2.0), REPEAT_EV)};
    }
    free(a);
}

static void measure(struct pc_looks *kit, int look, struct sum *sum, struct pc_selfcheck_sum *row)
{
    size_t n = (size_t)kit->blocks * (size_t)kit->channels;
    uint8_t *clipped = calloc(2 * (size_t)kit->blocks, 1);
    float *memory = calloc(n * (size_t)(row->light_count + 1), sizeof *memory);
    PC_ASSERT(clipped != NULL && memory != NULL);
    sum->look = look;
    sum->exposure = pc_looks_exposure(kit, look);
    sum->ambient = memory;
    sum->clipped = clipped;
    pc_looks_ambient(kit, kit->look[look].time_s, sum->ambient, clipped);
    for (int b = 0; b < kit->blocks; b++)
        clipped[b] |= kit->look[look].clipped[b];
    double tolerance = REPEAT_EV;
    for (int i = 0; i < row->light_count; i++) {
        uint8_t *marks = clipped + kit->blocks;
        sum->alone[i] = memory + n * (size_t)(i + 1);
        pc_looks_alone(kit, sum->alone_look[i], sum->alone[i], marks);
        for (int b = 0; b < kit->blocks; b++)
            clipped[b] |= marks[b];
        double gain = pc_series_gain(kit->series, sum->alone_look[i]) /
                      pc_series_gain_of(kit->series, &kit->look[look].facts);
        tolerance = fmax(tolerance, fabs(gain - 1.0) > 0.01 ? GAIN_TOLERANCE_EV : 0.0);
        tolerance = fmax(tolerance, kit->series->frame[sum->alone_look[i]].shutter_tolerance_ev);
    }
    compare(kit, sum, row);
    apportion(kit, sum, row);
    row->off_ev.tolerance = hypot(row->off_ev.tolerance, tolerance);
    free(clipped);
    free(memory);
}

// The light that differs most from what it is alone, beyond doubt; -1: none.
static int odd_light(const struct pc_selfcheck_sum *row)
{
    int odd = -1;
    for (int i = 0; i < row->light_count; i++) {
        const struct pc_figure *ev = &row->light_ev[i];
        if (fabs(ev->value) > pc_selfcheck_needed_ev + ev->tolerance &&
            (odd < 0 || fabs(ev->value) > fabs(row->light_ev[odd].value)))
            odd = i;
    }
    return odd;
}

static void judge(struct pc_looks *kit, const struct pc_selfcheck_sum *row)
{
    int odd = odd_light(row);
    if (row->off_ev.tolerance > pc_selfcheck_needed_ev) {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_NOT_TESTED,
            "%s was taken at another ISO, aperture or shutter than the lights alone, and that costs too "
            "much to tell; "
            "keep all three, and choose them for the frame with all on.",
            row->frame);
    } else if (row->good) {
        pc_selfcheck_judge(kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_GOOD, "%s", "");
    } else if (odd >= 0) {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_OFF,
            "%s gives %.0f %% %s with the others than alone: let it warm up, keep lights off one "
            "battery or dimmer "
            "pack, and check that its dial was the same.",
            pc_looks_light_name(kit, row->light[odd]),
            100.0 * fabs(pc_ratio_from_ev(row->light_ev[odd].value) - 1.0),
            row->light_ev[odd].value > 0.0 ? "more" : "less");
    } else {
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_OFF,
            "Everything in %s differs alike, so look at its exposure, or at whether the raw value "
            "follows the light.",
            row->frame);
    }
}

static void judge_missing(struct pc_looks *kit, const char *frame, int light)
{
    if (light >= 0)
        pc_selfcheck_judge(kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_NOT_TESTED,
                           "No frame shows %s alone at the dial it has in %s.",
                           pc_looks_light_name(kit, light), frame);
    else
        pc_selfcheck_judge(
            kit, PC_SELFCHECK_SUPERPOSITION, PC_SELFCHECK_NOT_TESTED,
            "Photograph two lights alone and then both on at the same dials, at one exposure at which "
            "the frame with "
            "both does not clip (--together).");
}

enum pc_status pc_selfcheck_sums(struct pc_looks *kit, struct pc_err *err)
{
    struct pc_selfcheck *check = kit->check;
    bool good = true;
    judge_missing(kit, NULL, -1);
    for (int t = 0; t < kit->together_count; t++) {
        struct pc_selfcheck_sum *row = &check->sum[check->sum_count];
        struct sum sum = {0};
        int look = kit->series->frame_count + t, missing = -1;
        PC_TRY(name_lights(kit, &kit->together[t], row, err));
        if (!kit->look[look].there || row->light_count < 2)
            continue;
        for (int k = 0; k < row->light_count; k++) {
            sum.alone_look[k] = find_alone(kit, row->light[k], kit->together[t].dial_ratio, look);
            missing = sum.alone_look[k] < 0 ? row->light[k] : missing;
        }
        if (missing >= 0) {
            judge_missing(kit, row->frame, missing);
            continue;
        }
        measure(kit, look, &sum, row);
        if (isnan(row->off_ev.value))
            continue;
        row->good = fabs(row->off_ev.value) <= pc_selfcheck_needed_ev && odd_light(row) < 0;
        check->sum_count++;
        if (good) // the first that is off is the one to mend first
            judge(kit, row);
        good = good && row->good;
    }
    return PC_OK;
}
