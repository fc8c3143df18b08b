// SPDX-License-Identifier: Apache-2.0
// The frames of a check, and ratios of light between them.
#include "base/file.h"
#include "light/parts/parts_priv.h"
#include "light/parts/selfcheck_priv.h"

enum { BLOCK_PX = 8 };
static const double STILL_PX = 0.15; // the registration's own error
static const double DARK_LEVEL =
    1.0 / 128.0; // a frame whose bright tenth lies under this has nothing to lay by
static const double LEAST_LEVEL = 1.0 / 256.0; // of what clips: under it the black level's error shows
// A change of the window is taken as a straight line between two frames; the true course strays from it by a
// quarter.
static const double DRIFT_STRAY_RATIO = 0.25;
static const double LONE_AMBIENT_RATIO =
    0.02; // change of a window seen only once, within the minutes of a check
static const double BLACK_LEVEL =
    0.0002; // of what clips: a black level is known to about a step of a 12-bit file
static const double SAME_DIAL = 0.005, SAME_RATIO = 0.01;

static int compare_samples(const void *a, const void *b)
{
    const struct pc_sample *x = a, *y = b;
    return (x->value > y->value) - (x->value < y->value);
}

static double sorted_median(const struct pc_sample *samples, int count, double all)
{
    double sum = 0.0;
    for (int i = 0; i < count; i++) {
        sum += samples[i].weight;
        if (sum >= 0.5 * all)
            return samples[i].value;
    }
    return samples[count - 1].value;
}

struct pc_figure pc_samples_median(struct pc_sample *samples, int count)
{
    if (count < PC_SAMPLES_LEAST)
        return (struct pc_figure){NAN, NAN};
    double all = 0.0, squares = 0.0;
    for (int i = 0; i < count; i++) {
        all += samples[i].weight;
        squares += samples[i].weight * samples[i].weight;
    }
    qsort(samples, (size_t)count, sizeof *samples, compare_samples);
    double median = sorted_median(samples, count, all);
    for (int i = 0; i < count; i++)
        samples[i].value = fabs(samples[i].value - median);
    qsort(samples, (size_t)count, sizeof *samples, compare_samples);
    // For a normal scatter 1.4826 of the median deviation is its sigma, and a median's error 1.2533 that of a
    // mean.
    double sigma = 1.4826 * sorted_median(samples, count, all);
    return (struct pc_figure){median, 2.0 * 1.2533 * sigma * sqrt(squares) / all};
}

int pc_looks_green(const struct pc_looks *kit)
{
    return kit->channels == 3 ? 1 : 0;
}

static void reduce(const struct pc_picture *picture, struct pc_look *look)
{
    int across = picture->width_px / BLOCK_PX, down = picture->height_px / BLOCK_PX,
        channels = picture->channels;
    for (int j = 0; j < down; j++)
        for (int i = 0; i < across; i++) {
            int block = j * across + i;
            double sum[3] = {0};
            for (int y = j * BLOCK_PX; y < (j + 1) * BLOCK_PX; y++)
                for (int x = i * BLOCK_PX; x < (i + 1) * BLOCK_PX; x++) {
                    size_t p = (size_t)y * (size_t)picture->width_px + (size_t)x;
                    look->clipped[block] |= picture->clipped[p];
                    for (int c = 0; c < channels; c++)
                        sum[c] += (double)picture->px[p * (size_t)channels + (size_t)c];
                }
            for (int c = 0; c < channels; c++)
                look->mean[block * channels + c] = (float)(sum[c] / (BLOCK_PX * BLOCK_PX));
        }
}

// Too dark to show where it looks: nine tenths of its blocks.
static bool is_dark(const struct pc_looks *kit, const struct pc_look *look)
{
    int bright = 0;
    for (int b = 0; b < kit->blocks; b++)
        bright +=
            (double)look->mean[b * kit->channels + pc_looks_green(kit)] > DARK_LEVEL || look->clipped[b] != 0;
    return bright * 10 < kit->blocks;
}

static const char *look_path(const struct pc_looks *kit, int look)
{
    int n = kit->series->frame_count;
    return look < n ? kit->series->frame[look].path : kit->together[look - n].path;
}

static enum pc_status make_room(struct pc_looks *kit, struct pc_look *look, struct pc_err *err)
{
    look->mean = calloc((size_t)kit->blocks * (size_t)kit->channels, sizeof *look->mean);
    look->clipped = calloc((size_t)kit->blocks, 1);
    if (look->mean == NULL || look->clipped == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "There is no memory for this many frames.");
    return PC_OK;
}

// Lays a picture over the first and reduces it.
static enum pc_status lay(struct pc_looks *kit, struct pc_picture *picture, int index, struct pc_err *err)
{
    struct pc_look *look = &kit->look[index];
    const struct pc_picture *first = kit->first_picture;
    PC_TRY(make_room(kit, look, err));
    if (picture->width_px != first->width_px || picture->height_px != first->height_px ||
        picture->channels != first->channels)
        return PC_OK;
    reduce(picture, look);
    if (is_dark(kit, look)) {
        look->there = true;
        return PC_OK;
    }
    struct pc_align align;
    enum pc_status status = pc_align_find(kit->ctx, first, picture, &align, NULL);
    if (status == PC_BAD_INPUT)
        return PC_OK;
    if (status != PC_OK)
        return pc_fail(err, status, look_path(kit, index), "It could not be laid over the other frames.");
    look->there = true;
    look->moved_px = pc_parts_largest_move_px(picture, &align);
    if (look->moved_px <= fmax(STILL_PX, align.tolerance_px))
        return PC_OK;
    struct pc_picture laid;
    PC_TRY(pc_align_resample(kit->ctx, picture, &align, &laid, err));
    memset(look->clipped, 0, (size_t)kit->blocks);
    reduce(&laid, look);
    pc_picture_finish(&laid);
    return PC_OK;
}

static enum pc_status read_look(void *arg, int index, struct pc_err *err)
{
    struct pc_looks *kit = arg;
    int all = kit->series->frame_count + kit->together_count;
    if (index == kit->first)
        return PC_OK;
    PC_TRY(pc_ctx_step(kit->ctx, "reading frames", (double)kit->read_count / all, err));
    struct pc_loaded loaded;
    PC_TRY(pc_parts_load(kit->reader, look_path(kit, index), kit->series->linear, &loaded,
                         &kit->look[index].facts, err));
    enum pc_status status = lay(kit, &loaded.picture, index, err);
    pc_picture_finish(&loaded.picture);
    kit->read_count++;
    return status;
}

// A frame with a light on shows more to lay by than a window at dusk.
static int choose_first(const struct pc_series *series)
{
    int first = series->reference;
    for (int i = 0; i < series->frame_count; i++) {
        const struct pc_series_frame *f = &series->frame[i], *b = &series->frame[first];
        if (f->role != PC_ROLE_AMBIENT &&
            (b->role == PC_ROLE_AMBIENT || f->dial_ratio * f->shutter_s > b->dial_ratio * b->shutter_s))
            first = i;
    }
    return first;
}

static void find_times(struct pc_looks *kit)
{
    const struct pc_series *series = kit->series;
    bool timed = true;
    for (int i = 0; i < series->frame_count; i++) {
        kit->look[i].time_s = series->frame[i].time_s;
        timed = timed && !isnan(series->frame[i].facts.time_s);
    }
    for (int i = series->frame_count; i < series->frame_count + kit->together_count; i++)
        kit->look[i].time_s = timed ? kit->look[i].facts.time_s : (double)NAN;
}

enum pc_status pc_looks_read(struct pc_looks *kit, struct pc_err *err)
{
    struct pc_loaded loaded;
    int all = kit->series->frame_count + kit->together_count;
    kit->first = choose_first(kit->series);
    struct pc_look *first = &kit->look[kit->first];
    PC_TRY(pc_parts_load(kit->reader, look_path(kit, kit->first), kit->series->linear, &loaded, &first->facts,
                         err));
    pc_parts_note_sensor(&loaded, pc_file_name(look_path(kit, kit->first)), kit->notes);
    const struct pc_picture *picture = &loaded.picture;
    kit->first_picture = &loaded.picture;
    kit->channels = picture->channels;
    kit->blocks = (picture->width_px / BLOCK_PX) * (picture->height_px / BLOCK_PX);
    enum pc_status status = make_room(kit, first, err);
    if (status == PC_OK) {
        reduce(picture, first);
        first->there = true;
        kit->read_count = 1;
        status = pc_parallel(kit->ctx, all, read_look, kit, err);
    }
    pc_picture_finish(&loaded.picture);
    kit->first_picture = NULL;
    PC_TRY(status);
    for (int i = 0; i < all; i++)
        if (!kit->look[i].there)
            pc_notes_add(kit->notes,
                         "%s shows another view than %s, or is of another size, and is left out; the camera "
                         "must be locked "
                         "off.",
                         pc_file_name(look_path(kit, i)), pc_file_name(look_path(kit, kit->first)));
    find_times(kit);
    return PC_OK;
}

void pc_looks_finish(struct pc_looks *kit)
{
    for (int i = 0; i < PC_LOOKS_MAX; i++) {
        free(kit->look[i].mean);
        free(kit->look[i].clipped);
    }
}

double pc_looks_exposure(const struct pc_looks *kit, int look)
{
    const struct pc_series *series = kit->series;
    if (look < series->frame_count)
        return pc_series_exposure(series, look);
    const struct pc_facts *facts = &kit->look[look].facts;
    return pc_shutter_like(series, facts) / series->frame[series->reference].shutter_s *
           pc_series_gain_of(series, facts);
}

static bool is_ambient(const struct pc_looks *kit, int i)
{
    return kit->series->frame[i].role == PC_ROLE_AMBIENT && kit->look[i].there;
}

// The ambient frames before and after a time (one twice at the ends), and how far between them it lies.
static bool bracket(const struct pc_looks *kit, double time_s, int *before, int *after, double *between)
{
    *before = *after = -1;
    for (int i = 0; i < kit->series->frame_count; i++) {
        if (!is_ambient(kit, i))
            continue;
        if (isnan(time_s) || kit->look[i].time_s <= time_s || *before < 0)
            *before = i;
        if (*after < 0 && kit->look[i].time_s >= time_s)
            *after = i;
    }
    if (*before < 0)
        return false;
    *after = *after < 0 ? *before : *after;
    double from_s = kit->look[*before].time_s, to_s = kit->look[*after].time_s;
    *between = to_s > from_s ? fmin(1.0, fmax(0.0, (time_s - from_s) / (to_s - from_s))) : 0.0;
    return true;
}

bool pc_looks_ambient(const struct pc_looks *kit, double time_s, float *ambient, uint8_t *clipped)
{
    int before, after, n = kit->blocks * kit->channels;
    double between;
    memset(ambient, 0, (size_t)n * sizeof *ambient);
    if (!bracket(kit, time_s, &before, &after, &between))
        return false;
    const struct pc_look *a = &kit->look[before], *b = &kit->look[after];
    const float wa = (float)((1.0 - between) / pc_looks_exposure(kit, before));
    const float wb = (float)(between / pc_looks_exposure(kit, after));
    for (int k = 0; k < n; k++)
        ambient[k] = wa * a->mean[k] + wb * b->mean[k];
    for (int k = 0; k < kit->blocks; k++)
        clipped[k] |= a->clipped[k] | b->clipped[k];
    return true;
}

void pc_looks_alone(const struct pc_looks *kit, int look, float *alone, uint8_t *clipped)
{
    const struct pc_look *l = &kit->look[look];
    const float scale = (float)(1.0 / pc_looks_exposure(kit, look));
    memset(clipped, 0, (size_t)kit->blocks);
    pc_looks_ambient(kit, l->time_s, alone, clipped);
    for (int k = 0; k < kit->blocks * kit->channels; k++)
        alone[k] = scale * l->mean[k] - alone[k];
    for (int k = 0; k < kit->blocks; k++)
        clipped[k] |= l->clipped[k];
}

// How far the ambient may have strayed from the straight line between its frames around a time, relative.
static double ambient_stray(const struct pc_looks *kit, double time_s)
{
    int before, after;
    double between;
    if (!bracket(kit, time_s, &before, &after, &between))
        return 0.0;
    struct pc_figure change =
        before == after ? (struct pc_figure){NAN, NAN} : pc_looks_ratio(kit, before, after);
    return isnan(change.value) ? LONE_AMBIENT_RATIO : DRIFT_STRAY_RATIO * fabs(change.value - 1.0);
}

struct pc_figure pc_looks_ratio(const struct pc_looks *kit, int a, int b)
{
    int n = kit->blocks * kit->channels, count = 0, g = pc_looks_green(kit);
    bool lit = !is_ambient(kit, a);
    float *alone = calloc(2 * (size_t)n, sizeof *alone), *other = alone + n;
    uint8_t *clipped = calloc(2 * (size_t)kit->blocks, 1), *other_clipped = clipped + kit->blocks;
    struct pc_sample *samples = calloc((size_t)kit->blocks, sizeof *samples);
    PC_ASSERT(alone != NULL && clipped != NULL && samples != NULL);
    double ea = pc_looks_exposure(kit, a), eb = pc_looks_exposure(kit, b), under = 0.0, over = 0.0,
           raw_a = 0.0, raw_b = 0.0;
    if (lit) {
        pc_looks_alone(kit, a, alone, clipped);
        pc_looks_alone(kit, b, other, other_clipped);
    }
    for (int k = 0; k < kit->blocks; k++) {
        double va = (double)kit->look[a].mean[k * kit->channels + g],
               vb = (double)kit->look[b].mean[k * kit->channels + g];
        double la = lit ? (double)alone[k * kit->channels + g] : va / ea,
               lb = lit ? (double)other[k * kit->channels + g] : vb / eb;
        bool out = lit ? (clipped[k] | other_clipped[k]) != 0
                       : (kit->look[a].clipped[k] | kit->look[b].clipped[k]) != 0;
        if (out || !(la * ea > LEAST_LEVEL) || !(lb > 0.0) || !(vb > LEAST_LEVEL))
            continue;
        samples[count++] = (struct pc_sample){lb / la, la};
        under += vb / eb - lb;
        over += lb;
        raw_a += va;
        raw_b += vb;
    }
    struct pc_figure ratio = pc_samples_median(samples, count);
    const struct pc_series_frame *fa = &kit->series->frame[a], *fb = &kit->series->frame[b];
    if (!pc_looks_same_shutter(kit, a, b))
        ratio.tolerance =
            hypot(ratio.tolerance,
                  ratio.value * log(2.0) * fmax(fa->shutter_tolerance_ev, fb->shutter_tolerance_ev));
    if (!isnan(ratio.value))
        ratio.tolerance =
            hypot(ratio.tolerance, ratio.value * BLACK_LEVEL * hypot(count / raw_a, count / raw_b));
    if (lit && !isnan(ratio.value) && over > 0.0) {
        double stray = fmax(ambient_stray(kit, kit->look[a].time_s), ambient_stray(kit, kit->look[b].time_s));
        ratio.tolerance = hypot(ratio.tolerance, ratio.value * stray * under / over);
    }
    free(alone);
    free(clipped);
    free(samples);
    return ratio;
}

bool pc_looks_same_setting(const struct pc_looks *kit, int a, int b)
{
    const struct pc_series_frame *x = &kit->series->frame[a], *y = &kit->series->frame[b];
    if (x->role != y->role || x->light != y->light || !kit->look[a].there || !kit->look[b].there ||
        fabs(pc_series_gain(kit->series, a) / pc_series_gain(kit->series, b) - 1.0) > SAME_RATIO)
        return false;
    if (x->role == PC_ROLE_AMBIENT)
        return true;
    bool same_kelvin =
        (isnan(x->kelvin_K) && isnan(y->kelvin_K)) || fabs(x->kelvin_K / y->kelvin_K - 1.0) < SAME_RATIO;
    return x->role == PC_ROLE_LIGHT && same_kelvin && fabs(x->dial_ratio - y->dial_ratio) < SAME_DIAL;
}

bool pc_looks_same_shutter(const struct pc_looks *kit, int a, int b)
{
    return fabs(kit->series->frame[a].shutter_s / kit->series->frame[b].shutter_s - 1.0) < SAME_RATIO;
}

const char *pc_looks_light_name(const struct pc_looks *kit, int light)
{
    return light < 0 ? "the window" : kit->series->light[light].name;
}
