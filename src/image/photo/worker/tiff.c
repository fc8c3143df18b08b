// SPDX-License-Identifier: Apache-2.0
// TIFF through libtiff: grey and RGB, 8 and 16 bits and float, in strips or tiles, by pixel or by plane.
#include "image/photo/worker/canvas.h"

#include <tiffio.h>

struct reading {
    const struct pc_job *job;
    struct pc_reply *reply;
    struct pc_err *err;
    uint64_t at; // in the file
    char text[160];
    TIFF *tiff;
    uint32_t width, height;
    uint16_t bits, samples, planar, photometric, sample_format;
    int channels;
    bool is_float, inverted;
    struct pc_canvas canvas;
    uint8_t *band; // decoded rows: band_rows of them, planes one after another
    uint32_t band_rows;
    size_t row_bytes; // of one row of one plane
    float *row, *curve;
    uint8_t *mask;
};

static tmsize_t on_read(thandle_t handle, void *to, tmsize_t n)
{
    struct reading *reading = handle;
    uint64_t left = reading->at < reading->job->count ? reading->job->count - reading->at : 0;
    uint64_t take = (uint64_t)n < left ? (uint64_t)n : left;
    if (take > 0)
        memcpy(to, reading->job->bytes + reading->at, (size_t)take);
    reading->at += take;
    return (tmsize_t)take;
}

static tmsize_t on_write(thandle_t handle, void *from, tmsize_t n)
{
    (void)handle;
    (void)from;
    (void)n;
    return 0;
}

static toff_t on_seek(thandle_t handle, toff_t to, int whence)
{
    struct reading *reading = handle;
    reading->at = whence == SEEK_SET ? to : whence == SEEK_CUR ? reading->at + to : reading->job->count + to;
    return reading->at;
}

static int on_close(thandle_t handle)
{
    (void)handle;
    return 0;
}

static toff_t on_size(thandle_t handle)
{
    return ((struct reading *)handle)->job->count;
}

static int on_map(thandle_t handle, void **base, toff_t *size)
{
    struct reading *reading = handle;
    *base = (void *)(uintptr_t)reading->job->bytes; // libtiff only reads it
    *size = reading->job->count;
    return 1;
}

static void on_unmap(thandle_t handle, void *base, toff_t size)
{
    (void)handle;
    (void)base;
    (void)size;
}

static int on_error(TIFF *tiff, void *user, const char *module, const char *format, va_list args)
{
    (void)tiff;
    (void)module;
    struct reading *reading = user;
    if (reading->text[0] == '\0')
        vsnprintf(reading->text, sizeof reading->text, format, args);
    return 1;
}

static int on_warning(TIFF *tiff, void *user, const char *module, const char *format, va_list args)
{
    (void)tiff;
    (void)user;
    (void)module;
    (void)format;
    (void)args;
    return 1;
}

static enum pc_status damaged(struct reading *reading)
{
    return pc_fail(reading->err, PC_BAD_INPUT, NULL,
                   "It is a TIFF that was cut short or damaged%s%s%s: copy it again.",
                   reading->text[0] != '\0' ? " (" : "", reading->text, reading->text[0] != '\0' ? ")" : "");
}

static enum pc_status no_memory(struct reading *reading)
{
    return pc_fail(reading->err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
}

static enum pc_status read_header(struct reading *reading)
{
    TIFF *tiff = reading->tiff;
    uint16_t orientation = 0;
    if (!TIFFGetField(tiff, TIFFTAG_IMAGEWIDTH, &reading->width) ||
        !TIFFGetField(tiff, TIFFTAG_IMAGELENGTH, &reading->height) ||
        !TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &reading->photometric))
        return damaged(reading);
    PC_TRY(pc_job_check_size(reading->job, reading->width, reading->height, reading->err));
    TIFFGetFieldDefaulted(tiff, TIFFTAG_BITSPERSAMPLE, &reading->bits);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLESPERPIXEL, &reading->samples);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_PLANARCONFIG, &reading->planar);
    TIFFGetFieldDefaulted(tiff, TIFFTAG_SAMPLEFORMAT, &reading->sample_format);
    struct pc_facts *facts = &reading->reply->facts;
    if (facts->orientation == 0 && TIFFGetField(tiff, TIFFTAG_ORIENTATION, &orientation) && orientation <= 8)
        facts->orientation = orientation;
    bool turned = facts->orientation >= 5;
    facts->width_px = (int)(turned ? reading->height : reading->width);
    facts->height_px = (int)(turned ? reading->width : reading->height);
    return PC_OK;
}

// What the samples mean, or that we cannot tell.
static enum pc_status settle_kind(struct reading *reading)
{
    uint16_t compression = COMPRESSION_NONE;
    TIFFGetField(reading->tiff, TIFFTAG_COMPRESSION, &compression);
    if (reading->photometric == PHOTOMETRIC_YCBCR && compression == COMPRESSION_JPEG) {
        TIFFSetField(reading->tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
        reading->photometric = PHOTOMETRIC_RGB;
    }
    bool grey =
        reading->photometric == PHOTOMETRIC_MINISBLACK || reading->photometric == PHOTOMETRIC_MINISWHITE;
    bool rgb = reading->photometric == PHOTOMETRIC_RGB && reading->samples >= 3;
    bool whole = (reading->bits == 8 || reading->bits == 16) && reading->sample_format == SAMPLEFORMAT_UINT;
    reading->inverted = reading->photometric == PHOTOMETRIC_MINISWHITE;
    if ((!grey && !rgb) || reading->samples < 1 || reading->samples > 8 || (!whole && !reading->is_float))
        return pc_fail(
            reading->err, PC_UNSUPPORTED, NULL,
            "It is a TIFF of a kind that cannot be read (%u bits, %u channels): save it as RGB or grey with "
            "8 or 16 bits or 32-bit float.",
            (unsigned)reading->bits, (unsigned)reading->samples);
    reading->channels = rgb ? 3 : 1;
    return PC_OK;
}

static enum pc_status get_memory(struct reading *reading)
{
    TIFF *tiff = reading->tiff;
    uint32_t rows = 0;
    if (TIFFIsTiled(tiff))
        TIFFGetField(tiff, TIFFTAG_TILELENGTH, &rows);
    else
        TIFFGetFieldDefaulted(tiff, TIFFTAG_ROWSPERSTRIP, &rows);
    if (rows == 0)
        return damaged(reading);
    reading->band_rows = rows < reading->height ? rows : reading->height;
    bool by_plane = reading->planar == PLANARCONFIG_SEPARATE;
    size_t sample_bytes = reading->bits / 8u;
    reading->row_bytes = (size_t)reading->width * sample_bytes * (by_plane ? 1u : reading->samples);
    size_t planes = by_plane ? (size_t)reading->channels : 1;
    size_t count = reading->bits == 16 ? 65536 : 256;
    reading->band = malloc(reading->row_bytes * planes * reading->band_rows);
    reading->row = malloc((size_t)reading->width * (size_t)reading->channels * sizeof *reading->row);
    reading->mask = malloc(reading->width);
    reading->curve = malloc(count * sizeof *reading->curve);
    if (reading->band == NULL || reading->row == NULL || reading->mask == NULL || reading->curve == NULL)
        return no_memory(reading);
    pc_curve_fill(reading->curve, (int)count, reading->job->linear);
    return PC_OK;
}

static bool read_strip(struct reading *reading, uint32_t y, uint32_t rows, uint16_t plane, uint8_t *to)
{
    tmsize_t wanted = (tmsize_t)(reading->row_bytes * rows);
    uint32_t strip = TIFFComputeStrip(reading->tiff, y, plane);
    return TIFFReadEncodedStrip(reading->tiff, strip, to, wanted) == wanted;
}

static bool read_tiles(struct reading *reading, uint32_t y, uint32_t rows, uint16_t plane, uint8_t *to)
{
    uint32_t tile_width = 0, tile_rows = 0;
    TIFFGetField(reading->tiff, TIFFTAG_TILEWIDTH, &tile_width);
    TIFFGetField(reading->tiff, TIFFTAG_TILELENGTH, &tile_rows);
    tmsize_t bytes = TIFFTileSize(reading->tiff), line = TIFFTileRowSize(reading->tiff);
    if (tile_width == 0 || tile_rows < rows || bytes <= 0 || line <= 0 || line > bytes / (tmsize_t)rows ||
        (size_t)bytes > reading->job->memory_bytes / 4)
        return false;
    uint8_t *tile = malloc((size_t)bytes);
    size_t pixel_bytes = reading->row_bytes / reading->width;
    bool good = tile != NULL;
    for (uint32_t x = 0; good && x < reading->width; x += tile_width) {
        uint32_t columns = reading->width - x < tile_width ? reading->width - x : tile_width;
        good =
            TIFFReadTile(reading->tiff, tile, x, y, 0, plane) >= 0 && columns * pixel_bytes <= (size_t)line;
        for (uint32_t r = 0; good && r < rows; r++)
            memcpy(to + r * reading->row_bytes + x * pixel_bytes, tile + (size_t)r * (size_t)line,
                   columns * pixel_bytes);
        if (x > UINT32_MAX - tile_width)
            break;
    }
    free(tile);
    return good;
}

// Values that are no number count as clipped, so that nothing is read from them.
static unsigned put_value(struct reading *reading, const uint8_t *in, size_t i, float *out)
{
    if (reading->is_float) {
        float v;
        memcpy(&v, in + i * sizeof v, sizeof v);
        *out = isfinite(v) ? v : 0.0f;
        return !isfinite(v) || v >= 1.0f;
    }
    uint16_t v = in[i];
    unsigned most = 255;
    if (reading->bits == 16) {
        memcpy(&v, in + 2 * i, sizeof v); // libtiff gives samples in this machine's byte order
        most = 65535;
    }
    unsigned shown = reading->inverted ? most - v : v;
    *out = reading->curve[shown];
    return shown == most;
}

static void put_row(struct reading *reading, uint32_t y, const uint8_t *in, size_t plane_bytes)
{
    bool by_plane = reading->planar == PLANARCONFIG_SEPARATE;
    int ch = reading->channels;
    for (uint32_t x = 0; x < reading->width; x++) {
        unsigned clipped = 0;
        for (int c = 0; c < ch; c++) {
            const uint8_t *from = by_plane ? in + (size_t)c * plane_bytes : in;
            size_t i = by_plane ? x : (size_t)x * reading->samples + (size_t)c;
            clipped |= put_value(reading, from, i, &reading->row[x * (size_t)ch + (size_t)c]) << c;
        }
        reading->mask[x] = (uint8_t)clipped;
    }
    pc_canvas_row(&reading->canvas, (int)y, reading->row, reading->mask);
}

static enum pc_status read_pixels(struct reading *reading)
{
    PC_TRY(settle_kind(reading));
    PC_TRY(get_memory(reading));
    PC_TRY(pc_canvas_begin(&reading->canvas, reading->job, reading->reply, (int)reading->width,
                           (int)reading->height, reading->channels,
                           pc_canvas_bin(reading->job, (int)reading->width, (int)reading->height, 2),
                           reading->reply->facts.orientation, reading->err));
    bool tiled = TIFFIsTiled(reading->tiff) != 0;
    int planes = reading->planar == PLANARCONFIG_SEPARATE ? reading->channels : 1;
    size_t plane_bytes = reading->row_bytes * reading->band_rows;
    for (uint32_t y = 0; y < reading->height; y += reading->band_rows) {
        uint32_t rows = reading->height - y < reading->band_rows ? reading->height - y : reading->band_rows;
        for (int p = 0; p < planes; p++) {
            uint8_t *to = reading->band + (size_t)p * plane_bytes;
            if (!(tiled ? read_tiles(reading, y, rows, (uint16_t)p, to)
                        : read_strip(reading, y, rows, (uint16_t)p, to)))
                return damaged(reading);
        }
        for (uint32_t r = 0; r < rows; r++)
            put_row(reading, y + r, reading->band + r * reading->row_bytes, plane_bytes);
    }
    return PC_OK;
}

enum pc_status pc_decode_tiff(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    reply->form = PC_JOB_TIFF;
    reply->tone_mapped = 1;
    struct reading reading = {.job = job, .reply = reply, .err = err};
    pc_exif_read(job->bytes, job->count, &reply->facts);
    TIFFOpenOptions *options = TIFFOpenOptionsAlloc();
    if (options == NULL)
        return no_memory(&reading);
    TIFFOpenOptionsSetErrorHandlerExtR(options, on_error, &reading);
    TIFFOpenOptionsSetWarningHandlerExtR(options, on_warning, &reading);
    TIFFOpenOptionsSetMaxSingleMemAlloc(options, (tmsize_t)(job->memory_bytes / 2));
    reading.tiff = TIFFClientOpenExt("picture", "r", &reading, on_read, on_write, on_seek, on_close, on_size,
                                     on_map, on_unmap, options);
    TIFFOpenOptionsFree(options);
    if (reading.tiff == NULL)
        return damaged(&reading);
    enum pc_status status = read_header(&reading);
    reading.is_float = reading.bits == 32 && reading.sample_format == SAMPLEFORMAT_IEEEFP;
    reply->tone_mapped = !reading.is_float && !job->linear;
    if (status == PC_OK && (job->want != PC_JOB_FACTS))
        status = read_pixels(&reading);
    TIFFClose(reading.tiff);
    pc_canvas_end(&reading.canvas);
    free(reading.band);
    free(reading.row);
    free(reading.curve);
    free(reading.mask);
    return status;
}
