// SPDX-License-Identifier: Apache-2.0
// PNG through libpng: grey and colour, 8 and 16 bits. Transparency is left aside.
#include "image/photo/worker/canvas.h"

#include <png.h>

struct reading {
    const struct pc_job *job;
    struct pc_reply *reply;
    struct pc_err *err;
    png_structp png;
    png_infop info;
    size_t at; // in the file
    char text[128];
    bool cut_short;
    struct pc_canvas canvas;
    int width, height, channels, bits;
    size_t row_bytes;
    uint8_t *rows; // one row, or the whole picture when interlaced
    float *row, *curve;
    uint8_t *mask;
    enum pc_status status;
};

static void on_error(png_structp png, png_const_charp text)
{
    struct reading *reading = png_get_error_ptr(png);
    snprintf(reading->text, sizeof reading->text, "%s", text);
    png_longjmp(png, 1);
}

static void on_warning(png_structp png, png_const_charp text)
{
    (void)png;
    (void)text;
}

static void on_read(png_structp png, png_bytep to, size_t n)
{
    struct reading *reading = png_get_io_ptr(png);
    if (n > reading->job->count - reading->at) {
        reading->cut_short = true;
        png_error(png, "end of file");
    }
    memcpy(to, reading->job->bytes + reading->at, n);
    reading->at += n;
}

static enum pc_status no_memory(struct reading *reading)
{
    return pc_fail(reading->err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
}

// Width, height and the form that rows will come in.
static enum pc_status begin(struct reading *reading)
{
    png_structp png = reading->png;
    PC_TRY(pc_job_check_size(reading->job, png_get_image_width(png, reading->info),
                             png_get_image_height(png, reading->info), reading->err));
    reading->width = (int)png_get_image_width(png, reading->info);
    reading->height = (int)png_get_image_height(png, reading->info);
    png_set_expand(png); // palettes and less than 8 bits
    png_set_strip_alpha(png);
    png_set_interlace_handling(png);
    png_read_update_info(png, reading->info);
    reading->channels = png_get_channels(png, reading->info);
    reading->bits = png_get_bit_depth(png, reading->info);
    reading->row_bytes = png_get_rowbytes(png, reading->info);
    if ((reading->channels != 1 && reading->channels != 3) || (reading->bits != 8 && reading->bits != 16) ||
        reading->row_bytes != (size_t)reading->width * (size_t)reading->channels * (size_t)reading->bits / 8)
        return pc_fail(reading->err, PC_UNSUPPORTED, NULL,
                       "It is a PNG of an unusual kind: save it in RGB colour.");
    return PC_OK;
}

// Looked up beforehand, since it may stand after the pixels, which are to be turned by it.
static void read_eXIf(struct reading *reading)
{
    const uint8_t *b = reading->job->bytes;
    size_t count = reading->job->count;
    for (size_t at = 8; count >= 12 && at <= count - 12;) {
        size_t n = (size_t)b[at] << 24 | (size_t)b[at + 1] << 16 | (size_t)b[at + 2] << 8 | b[at + 3];
        if (n > count - 12 - at)
            return;
        if (memcmp(b + at + 4, "eXIf", 4) == 0) {
            pc_exif_read(b + at + 8, n, &reading->reply->facts);
            return;
        }
        at += n + 12;
    }
}

static void put_row(struct reading *reading, int y, const uint8_t *in)
{
    int ch = reading->channels;
    for (int x = 0; x < reading->width; x++) {
        unsigned clipped = 0;
        for (int c = 0; c < ch; c++) {
            size_t i = (size_t)x * (size_t)ch + (size_t)c;
            unsigned v = reading->bits == 8 ? in[i] : (unsigned)in[2 * i] << 8 | in[2 * i + 1];
            reading->row[i] = reading->curve[v];
            clipped |= (unsigned)(v == (reading->bits == 8 ? 255u : 65535u)) << c;
        }
        reading->mask[x] = (uint8_t)clipped;
    }
    pc_canvas_row(&reading->canvas, y, reading->row, reading->mask);
}

static enum pc_status read_pixels(struct reading *reading)
{
    bool interlaced = png_get_interlace_type(reading->png, reading->info) != PNG_INTERLACE_NONE;
    size_t values = (size_t)reading->width * (size_t)reading->channels;
    int count = reading->bits == 8 ? 256 : 65536;
    reading->rows = calloc(interlaced ? (size_t)reading->height : 1, reading->row_bytes);
    reading->row = malloc(values * sizeof *reading->row);
    reading->mask = malloc((size_t)reading->width);
    reading->curve = malloc((size_t)count * sizeof *reading->curve);
    if (reading->rows == NULL || reading->row == NULL || reading->mask == NULL || reading->curve == NULL)
        return no_memory(reading);
    pc_curve_fill(reading->curve, count, reading->job->linear);
    if (interlaced) {
        // Each pass fills in more of every row.
        for (int pass = 0; pass < 7; pass++)
            for (int y = 0; y < reading->height; y++)
                png_read_row(reading->png, reading->rows + (size_t)y * reading->row_bytes, NULL);
    }
    png_bytep row = reading->rows;
    PC_TRY(pc_canvas_begin(&reading->canvas, reading->job, reading->reply, reading->width, reading->height,
                           reading->channels, pc_canvas_bin(reading->job, reading->width, reading->height, 2),
                           reading->reply->facts.orientation, reading->err));
    for (int y = 0; y < reading->height; y++) {
        if (interlaced)
            row = reading->rows + (size_t)y * reading->row_bytes;
        else
            png_read_row(reading->png, row, NULL);
        put_row(reading, y, row);
    }
    png_read_end(reading->png, NULL);
    return PC_OK;
}

static void run(struct reading *reading)
{
    if (setjmp(png_jmpbuf(reading->png)) != 0) {
        reading->status =
            reading->cut_short
                ? pc_fail(reading->err, PC_BAD_INPUT, NULL, "It is a PNG that was cut short: copy it again.")
                : pc_fail(reading->err, PC_BAD_INPUT, NULL, "It is a damaged PNG (%s): copy it again.",
                          reading->text);
        return;
    }
    png_set_read_fn(reading->png, reading, on_read);
    png_set_user_limits(reading->png, 65535, 65535);
    png_set_chunk_malloc_max(reading->png, reading->job->memory_bytes / 4);
    png_read_info(reading->png, reading->info);
    read_eXIf(reading);
    reading->status = begin(reading);
    if (reading->status != PC_OK)
        return;
    struct pc_facts *facts = &reading->reply->facts;
    bool turned = facts->orientation >= 5;
    facts->width_px = turned ? reading->height : reading->width;
    facts->height_px = turned ? reading->width : reading->height;
    if (reading->job->want != PC_JOB_FACTS)
        reading->status = read_pixels(reading);
}

enum pc_status pc_decode_png(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    reply->form = PC_JOB_PNG;
    reply->tone_mapped = !job->linear;
    struct reading *reading = calloc(1, sizeof *reading);
    if (reading == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
    reading->job = job;
    reading->reply = reply;
    reading->err = err;
    reading->png = png_create_read_struct(PNG_LIBPNG_VER_STRING, reading, on_error, on_warning);
    reading->info = reading->png != NULL ? png_create_info_struct(reading->png) : NULL;
    if (reading->info != NULL)
        run(reading);
    else
        reading->status = no_memory(reading);
    png_destroy_read_struct(&reading->png, &reading->info, NULL);
    pc_canvas_end(&reading->canvas);
    free(reading->rows);
    free(reading->row);
    free(reading->mask);
    free(reading->curve);
    enum pc_status status = reading->status;
    free(reading);
    return status;
}
