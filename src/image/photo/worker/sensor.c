// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/sensor.h"

static const double SATURATION_MARGIN = 0.01; // of the range; see sensor.h
static const double MOST_DRIFT = 1.0 / 32; // of the range: a border further off its tag's black is not black

double pc_sensor_saturation_dn(double black_dn, double white_dn)
{
    return white_dn - SATURATION_MARGIN * (white_dn - black_dn);
}

static double mean_black(const struct pc_sensor *sensor)
{
    double sum = 0;
    int n = sensor->black_rows * sensor->black_cols;
    for (int i = 0; i < n; i++)
        sum += (double)sensor->black_dn[i];
    return sum / n;
}

// The mean of the middle half: what stray light at a border's edge or a dead column does to the ends is left
// out.
static double middle_mean(const uint32_t *histogram, uint64_t count)
{
    double low = (double)count / 4, high = (double)count * 3 / 4, before = 0, sum = 0;
    for (int v = 0; v < 65536 && before < high; v++) {
        double after = before + histogram[v];
        double from = before > low ? before : low, to = after < high ? after : high;
        if (to > from)
            sum += v * (to - from);
        before = after;
    }
    return sum / (high - low);
}

// Masked photosites at one place of the 2 x 2 pattern (any place when whole is set).
static uint64_t count_masked(const struct pc_sensor *sensor, int place, bool whole, uint32_t *histogram)
{
    memset(histogram, 0, 65536 * sizeof *histogram);
    uint64_t count = 0;
    for (int i = 0; i < 8; i++) {
        int top = sensor->masked[i][0], left = sensor->masked[i][1];
        int bottom = sensor->masked[i][2], right = sensor->masked[i][3];
        if (top < 0 || left < 0 || bottom > sensor->raw_height_px || right > sensor->raw_width_px)
            continue;
        if (right - left >= 12) { // light scatters a little way in under the mask's edge
            left += 2;
            right -= 2;
        }
        for (int y = top; y < bottom; y++) {
            for (int x = left; x < right; x++) {
                int here = ((y - sensor->top_px) & 1) * 2 + ((x - sensor->left_px) & 1);
                if (!whole && here != place)
                    continue;
                histogram[sensor->dn[(size_t)y * sensor->pitch + (size_t)x]]++;
                count++;
            }
        }
    }
    return count;
}

enum { LEAST_MASKED = 256 }; // photosites: their middle mean is then good to a tenth of their noise

static bool measure_black(struct pc_sensor *sensor, uint32_t *histogram)
{
    bool whole = sensor->filter_rows != 2 || sensor->filter_cols != 2;
    int places = whole ? 1 : 4;
    double measured[4], tagged = mean_black(sensor);
    for (int p = 0; p < places; p++) {
        uint64_t count = count_masked(sensor, p, whole, histogram);
        if (count < LEAST_MASKED)
            return false;
        measured[p] = middle_mean(histogram, count);
        double off = fabs(measured[p] - tagged);
        if (sensor->says_black ? off > MOST_DRIFT * (sensor->white_dn - tagged)
                               : measured[p] > sensor->white_dn / 4)
            return false;
    }
    // The tags' finer pattern stays, around the measured mean of each place.
    double sum[4] = {0};
    int n[4] = {0};
    for (int pass = 0; pass < 2; pass++) {
        for (int i = 0; i < sensor->black_rows * sensor->black_cols; i++) {
            int y = i / sensor->black_cols, x = i % sensor->black_cols;
            int p = whole ? 0 : (y & 1) * 2 + (x & 1);
            if (pass == 0) {
                sum[p] += (double)sensor->black_dn[i];
                n[p]++;
            } else {
                sensor->black_dn[i] += (float)(measured[p] - sum[p] / n[p]);
            }
        }
    }
    return true;
}

enum pc_status pc_sensor_settle_black(struct pc_sensor *sensor, struct pc_reply *reply, struct pc_err *err)
{
    if (sensor->values == 1) {
        uint32_t *histogram = malloc(65536 * sizeof *histogram);
        if (histogram == NULL)
            return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
        reply->black_measured = measure_black(sensor, histogram);
        free(histogram);
    }
    if (!sensor->says_black && !reply->black_measured) {
        // DNG 1.4, BlackLevel: 0 where it is not given. Converters that have taken the black off leave it
        // out.
        for (int i = 0; i < sensor->black_rows * sensor->black_cols; i++)
            if (sensor->black_dn[i] != 0.0f)
                return pc_fail(
                    err, PC_BAD_INPUT, NULL,
                    "It is a DNG that does not say its black level (BlackLevel), and for this camera "
                    "it is not the 0 that this stands for, so that its light cannot be told: convert "
                    "it again from the camera's own file.");
        reply->black_by_default = true;
    }
    reply->black_dn = mean_black(sensor);
    reply->white_dn = sensor->white_dn;
    for (int i = 0; i < sensor->black_rows * sensor->black_cols; i++)
        if (!((double)sensor->black_dn[i] < sensor->white_dn - 1))
            return pc_fail(
                err, PC_BAD_INPUT, NULL,
                "It says that its black (%.0f) is not below its white (%.0f): it is damaged, or was "
                "converted wrongly. Convert it again from the camera's own file.",
                reply->black_dn, reply->white_dn);
    return PC_OK;
}

// One row of 2 x 2 windows; at holds the black of the window's four places, by rows, gain what one number is
// worth.
struct window {
    float black[4], gain[4];
    unsigned saturated;
};

static inline __attribute__((always_inline)) void
bin_windows(int red, const uint16_t *upper, const uint16_t *lower, int n, const struct window *window,
            float *restrict out, uint8_t *restrict mask, int64_t step)
{
    const struct window copy = *window, *w = &copy; // which nothing written can be
    const int blue = 3 - red, one = red == 0 || red == 3 ? 1 : 0, two = 3 - one;
    for (int i = 0; i < n; i++, out += 3 * step, mask += step) {
        unsigned v[4] = {upper[2 * i], upper[2 * i + 1], lower[2 * i], lower[2 * i + 1]};
        out[0] = ((float)v[red] - w->black[red]) * w->gain[red];
        out[1] = 0.5f * (((float)v[one] - w->black[one]) * w->gain[one] +
                         ((float)v[two] - w->black[two]) * w->gain[two]);
        out[2] = ((float)v[blue] - w->black[blue]) * w->gain[blue];
        *mask =
            (uint8_t)((v[red] >= w->saturated) | ((v[one] >= w->saturated) | (v[two] >= w->saturated)) << 1 |
                      (v[blue] >= w->saturated) << 2);
    }
}

// The place of red in the window when it is a plain Bayer one with one black a place, else -1.
static int plain_red(const struct pc_sensor *sensor, int x0, int y0, struct window *w)
{
    if (sensor->filter_rows != 2 || sensor->filter_cols != 2 || sensor->black_rows != 2 ||
        sensor->black_cols != 2)
        return -1;
    int red = -1;
    uint8_t at[4];
    for (int p = 0; p < 4; p++) {
        int y = (y0 + p / 2) & 1, x = (x0 + p % 2) & 1;
        at[p] = sensor->filter[y][x];
        w->black[p] = sensor->black_dn[y * 2 + x];
        w->gain[p] = 1.0f / ((float)sensor->white_dn - w->black[p]);
        if (at[p] == 0)
            red = p;
    }
    if (red < 0 || at[3 - red] != 2 || at[red ^ 1] != 1 || at[red ^ 2] != 1)
        return -1;
    return red;
}

static const uint16_t *row_at(const struct pc_sensor *sensor, int y)
{
    return sensor->dn + (size_t)(y + sensor->top_px) * sensor->pitch +
           (size_t)sensor->left_px * (size_t)sensor->values;
}

// The place of red and, the usual way up, the step are constants to the compiler, which can then do many at
// once.
static inline __attribute__((always_inline)) void bin_row(int red, const uint16_t *upper,
                                                          const uint16_t *lower, int n,
                                                          const struct window *w, float *out, uint8_t *mask,
                                                          int64_t step)
{
    if (red == 0)
        bin_windows(0, upper, lower, n, w, out, mask, step);
    else if (red == 1)
        bin_windows(1, upper, lower, n, w, out, mask, step);
    else if (red == 2)
        bin_windows(2, upper, lower, n, w, out, mask, step);
    else
        bin_windows(3, upper, lower, n, w, out, mask, step);
}

static void bin_bayer(const struct pc_sensor *sensor, const struct pc_canvas *canvas, int red,
                      const struct window *w)
{
    const struct pc_upright *up = &canvas->upright;
    for (int by = 0; by < canvas->height_px; by++) {
        const uint16_t *upper = row_at(sensor, canvas->skip_y_px + 2 * by) + canvas->skip_x_px;
        const uint16_t *lower = upper + sensor->pitch;
        int64_t at = up->origin + by * up->step_y;
        float *out = canvas->px + 3 * at;
        uint8_t *mask = canvas->mask + at;
        if (up->step_x == 1)
            bin_row(red, upper, lower, canvas->width_px, w, out, mask, 1);
        else
            bin_row(red, upper, lower, canvas->width_px, w, out, mask, up->step_x);
    }
}

// Rows of photosites added up, so that several windows become one: the sum and the largest of each column,
// for the upper and the lower rows of the windows.
struct columns {
    uint32_t *sum[2];
    uint16_t *most[2];
};

static void add_rows(const uint16_t *rows, size_t pitch, int factor, int width, const struct columns *columns)
{
    for (int k = 0; k < 2 * factor; k++) {
        const uint16_t *row = rows + (size_t)k * pitch;
        uint32_t *sum = columns->sum[k & 1];
        uint16_t *most = columns->most[k & 1];
        for (int x = 0; x < width; x++) {
            sum[x] = (k < 2 ? 0 : sum[x]) + row[x];
            most[x] = k >= 2 && most[x] > row[x] ? most[x] : row[x];
        }
    }
}

static inline __attribute__((always_inline)) void average_windows(int red, const struct columns *columns,
                                                                  int factor, int n, const struct window *w,
                                                                  float *out, uint8_t *mask, int64_t step)
{
    const int blue = 3 - red, one = red == 0 || red == 3 ? 1 : 0, two = 3 - one;
    const float share = 1.0f / (float)(factor * factor);
    for (int i = 0; i < n; i++, out += 3 * step, mask += step) {
        uint32_t sum[4] = {0};
        unsigned most[4] = {0};
        for (int x = i * factor; x < (i + 1) * factor; x++) {
            for (int p = 0; p < 4; p++) {
                unsigned here = columns->most[p >> 1][2 * x + (p & 1)];
                sum[p] += columns->sum[p >> 1][2 * x + (p & 1)];
                most[p] = here > most[p] ? here : most[p];
            }
        }
        float v[4];
        for (int p = 0; p < 4; p++)
            v[p] = ((float)sum[p] * share - w->black[p]) * w->gain[p];
        out[0] = v[red];
        out[1] = 0.5f * (v[one] + v[two]);
        out[2] = v[blue];
        *mask = (uint8_t)((most[red] >= w->saturated) |
                          (most[one] >= w->saturated || most[two] >= w->saturated) << 1 |
                          (most[blue] >= w->saturated) << 2);
    }
}

static enum pc_status average_bayer(const struct pc_sensor *sensor, const struct pc_canvas *canvas, int red,
                                    const struct window *w, struct pc_err *err)
{
    const struct pc_upright *up = &canvas->upright;
    int factor = canvas->bin / 2, width = canvas->width_px * canvas->bin;
    size_t count = (size_t)width;
    uint32_t *sums = malloc(2 * count * sizeof *sums);
    uint16_t *mosts = malloc(2 * count * sizeof *mosts);
    bool had = sums != NULL && mosts != NULL;
    struct columns columns = {{sums, had ? sums + count : NULL}, {mosts, had ? mosts + count : NULL}};
    for (int by = 0; had && by < canvas->height_px; by++) {
        const uint16_t *rows = row_at(sensor, canvas->skip_y_px + canvas->bin * by) + canvas->skip_x_px;
        int64_t at = up->origin + by * up->step_y;
        add_rows(rows, sensor->pitch, factor, width, &columns);
        float *out = canvas->px + 3 * at;
        uint8_t *mask = canvas->mask + at;
        if (factor == 2) // the usual ones, said so that the compiler can unroll them
            average_windows(red, &columns, 2, canvas->width_px, w, out, mask, up->step_x);
        else if (factor == 3)
            average_windows(red, &columns, 3, canvas->width_px, w, out, mask, up->step_x);
        else
            average_windows(red, &columns, factor, canvas->width_px, w, out, mask, up->step_x);
    }
    free(sums);
    free(mosts);
    return had ? PC_OK
               : pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
}

static float black_at(const struct pc_sensor *sensor, int y, int x)
{
    return sensor->black_dn[y % sensor->black_rows * sensor->black_cols + x % sensor->black_cols];
}

// Any pattern in which each bin holds each colour.
static enum pc_status bin_mosaic(const struct pc_sensor *sensor, const struct pc_canvas *canvas,
                                 unsigned saturated, struct pc_err *err)
{
    const struct pc_upright *up = &canvas->upright;
    int bin = canvas->bin;
    for (int by = 0; by < canvas->height_px; by++) {
        int64_t at = up->origin + by * up->step_y;
        for (int bx = 0; bx < canvas->width_px; bx++, at += up->step_x) {
            float sum[3] = {0}, n[3] = {0};
            unsigned mask = 0;
            for (int i = 0; i < bin * bin; i++) {
                int y = canvas->skip_y_px + by * bin + i / bin, x = canvas->skip_x_px + bx * bin + i % bin;
                int c = sensor->filter[y % sensor->filter_rows][x % sensor->filter_cols];
                unsigned v = row_at(sensor, y)[x];
                float black = black_at(sensor, y, x);
                sum[c] += ((float)v - black) / ((float)sensor->white_dn - black);
                n[c] += 1;
                mask |= (unsigned)(v >= saturated) << c;
            }
            if (n[0] == 0 || n[1] == 0 || n[2] == 0)
                return pc_fail(
                    err, PC_UNSUPPORTED, NULL,
                    "Its sensor's filter pattern cannot be measured without interpolation: give a linear "
                    "TIFF of it with --linear.");
            for (int c = 0; c < 3; c++)
                canvas->px[3 * at + c] = sum[c] / n[c];
            canvas->mask[at] = (uint8_t)mask;
        }
    }
    return PC_OK;
}

// One value per colour at each pixel, or a sensor without filters.
static enum pc_status put_full(const struct pc_sensor *sensor, struct pc_canvas *canvas, unsigned saturated,
                               struct pc_err *err)
{
    int ch = sensor->channels;
    float *row = malloc((size_t)sensor->width_px * (size_t)ch * sizeof *row);
    uint8_t *mask = malloc((size_t)sensor->width_px);
    for (int y = 0; y < sensor->height_px && row != NULL && mask != NULL; y++) {
        const uint16_t *in = row_at(sensor, y);
        for (int x = 0; x < sensor->width_px; x++, in += sensor->values) {
            float black = black_at(sensor, y, x);
            float gain = 1.0f / ((float)sensor->white_dn - black);
            unsigned clipped = 0;
            for (int c = 0; c < ch; c++) {
                row[x * ch + c] = ((float)in[c] - black) * gain;
                clipped |= (unsigned)(in[c] >= saturated) << c;
            }
            mask[x] = (uint8_t)clipped;
        }
        pc_canvas_row(canvas, y, row, mask);
    }
    bool had = row != NULL && mask != NULL;
    free(row);
    free(mask);
    return had ? PC_OK
               : pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
}

static unsigned saturation_of(const struct pc_sensor *sensor)
{
    double dn = ceil(pc_sensor_saturation_dn(mean_black(sensor), sensor->white_dn));
    return dn >= 65535 ? 65535u : dn > 1 ? (unsigned)dn : 1u;
}

enum pc_status pc_sensor_bin(const struct pc_sensor *sensor, const struct pc_job *job, struct pc_reply *reply,
                             struct pc_err *err)
{
    bool mosaic = sensor->values == 1 && sensor->channels == 3;
    int least = mosaic && sensor->filter_rows == 6 ? 3 : 2;
    int bin = mosaic && job->want == PC_JOB_PICTURE
                  ? least
                  : pc_canvas_bin(job, sensor->width_px, sensor->height_px, least);
    struct pc_canvas canvas;
    PC_TRY(pc_canvas_begin(&canvas, job, reply, sensor->width_px, sensor->height_px, sensor->channels, bin,
                           sensor->orientation, err));
    enum pc_status status = PC_OK;
    struct window w = {.saturated = saturation_of(sensor)};
    int red = mosaic ? plain_red(sensor, canvas.skip_x_px, canvas.skip_y_px, &w) : -1;
    if (red >= 0 && bin > 2)
        status = average_bayer(sensor, &canvas, red, &w, err);
    else if (red >= 0)
        bin_bayer(sensor, &canvas, red, &w);
    else if (mosaic)
        status = bin_mosaic(sensor, &canvas, w.saturated, err);
    else
        status = put_full(sensor, &canvas, w.saturated, err);
    pc_canvas_end(&canvas);
    return status;
}

// A saturated photosite spoils its own colour at its neighbours, whose missing colours are made from it.
static void spread(const struct pc_sensor *sensor, uint8_t *sites, int y, int x)
{
    int reach = sensor->filter_rows == 6 ? 2 : 1;
    int c = sensor->filter[y % sensor->filter_rows][x % sensor->filter_cols];
    for (int v = y - reach; v <= y + reach; v++)
        for (int u = x - reach; u <= x + reach; u++)
            if (v >= 0 && u >= 0 && v < sensor->height_px && u < sensor->width_px)
                sites[(size_t)v * (size_t)sensor->width_px + (size_t)u] |= (uint8_t)(1u << c);
}

enum pc_status pc_sensor_settle(const struct pc_sensor *sensor, struct pc_canvas *canvas, struct pc_err *err)
{
    unsigned saturated = saturation_of(sensor);
    size_t sites_count = (size_t)sensor->width_px * (size_t)sensor->height_px;
    uint8_t *sites = calloc(sites_count, 1);
    if (sites == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
    for (int y = 0; y < sensor->height_px; y++) {
        uint16_t *row = (uint16_t *)row_at(sensor, y);
        for (int x = 0; x < sensor->width_px; x++) {
            float black = black_at(sensor, y, x);
            float gain = (65535.0f - PC_SETTLED_BLACK) / ((float)sensor->white_dn - black);
            if (row[x] >= saturated)
                spread(sensor, sites, y, x);
            float settled = PC_SETTLED_BLACK + ((float)row[x] - black) * gain + 0.5f;
            row[x] = settled <= 0 ? 0 : settled >= 65535 ? 65535 : (uint16_t)settled;
        }
    }
    const struct pc_upright *up = &canvas->upright;
    for (int y = 0; y < sensor->height_px; y++)
        for (int x = 0; x < sensor->width_px; x++)
            canvas->mask[up->origin + x * up->step_x + y * up->step_y] =
                sites[(size_t)y * (size_t)sensor->width_px + (size_t)x];
    free(sites);
    return PC_OK;
}

void pc_sensor_put_interpolated(const struct pc_sensor *sensor, struct pc_canvas *canvas,
                                const uint16_t *four)
{
    const struct pc_upright *up = &canvas->upright;
    const float share = 1.0f / (65535.0f - PC_SETTLED_BLACK);
    for (int y = 0; y < sensor->height_px; y++) {
        int64_t at = up->origin + y * up->step_y;
        for (int x = 0; x < sensor->width_px; x++, four += 4, at += up->step_x)
            for (int c = 0; c < 3; c++)
                canvas->px[3 * at + c] = ((float)four[c] - PC_SETTLED_BLACK) * share;
    }
}
