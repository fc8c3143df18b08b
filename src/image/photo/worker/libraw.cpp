// SPDX-License-Identifier: Apache-2.0
// Raw files through LibRaw. C++ because LibRaw's Exif callback hands over a stream that only its methods can
// read.
//
// LibRaw fills in what a file lacks without a word; the presence of each tag that matters is looked up in the
// file.
#include "image/photo/worker/sensor.h"

#include <libraw/libraw.h>

#include <new>
#include <vector>

namespace
{

// Notes what was asked for beyond the end of the file: a decoder that goes on without it makes pixels up.
class watched_stream : public LibRaw_buffer_datastream
{
  public:
    watched_stream(const uint8_t *bytes, size_t count)
        : LibRaw_buffer_datastream(const_cast<uint8_t *>(bytes), count), missing_bytes(0)
    {
    }
    int read(void *to, size_t item, size_t items) override
    {
        INT64 left = size() - tell();
        size_t wanted = item * items, there = left > 0 ? static_cast<size_t>(left) : 0;
        if (wanted > there)
            missing_bytes += wanted - there;
        return LibRaw_buffer_datastream::read(to, item, items);
    }
    int get_char() override
    {
        int c = LibRaw_buffer_datastream::get_char();
        missing_bytes += c < 0;
        return c;
    }
    size_t missing_bytes;
};

struct exif_notes {
    struct pc_facts *facts;
    bool saw_shutter, saw_orientation;
    char when[32], sub[16], offset[16];
};

unsigned get16(const uint8_t *b, bool big)
{
    return big ? static_cast<unsigned>(b[0] << 8 | b[1]) : static_cast<unsigned>(b[1] << 8 | b[0]);
}

uint32_t get32(const uint8_t *b, bool big)
{
    uint32_t first = get16(b, big), second = get16(b + 2, big);
    return big ? first << 16 | second : second << 16 | first;
}

double first_number(const uint8_t *b, int type, bool big)
{
    double a, d;
    switch (type) {
    case 3:
        return get16(b, big);
    case 4:
        return get32(b, big);
    case 5:
        a = get32(b, big);
        d = get32(b + 4, big);
        return d != 0 ? a / d : (double)NAN;
    case 10:
        a = static_cast<int32_t>(get32(b, big));
        d = static_cast<int32_t>(get32(b + 4, big));
        return d != 0 ? a / d : (double)NAN;
    default:
        return NAN;
    }
}

void set_missing(double *fact, double value)
{
    if (std::isnan(*fact))
        *fact = value;
}

void set_text(char *to, size_t size, const char *from)
{
    if (to[0] != '\0')
        return;
    size_t n = strnlen(from, size - 1);
    memcpy(to, from, n);
    to[n] = '\0';
}

void take_tag(exif_notes *notes, int tag, double number, const char *text)
{
    struct pc_facts *facts = notes->facts;
    switch (tag) {
    case 0x829a:
        notes->saw_shutter = true;
        set_missing(&facts->shutter_s, number);
        break;
    case 0x9201:
        notes->saw_shutter = true;
        set_missing(&facts->shutter_apex_s, std::exp2(-number));
        break;
    case 0x829d:
        set_missing(&facts->fnumber, number);
        break;
    case 0x8827:
        set_missing(&facts->iso, number);
        break;
    case 0x920a:
        set_missing(&facts->focal_mm, number);
        break;
    case 0xa405:
        set_missing(&facts->focal_35mm_mm, number);
        break;
    case 0x9209:
        if (number >= 0 && number <= 65535 && facts->flash_fired < 0)
            facts->flash_fired = static_cast<int>(number) & 1;
        break;
    case 0x9003:
        set_text(notes->when, sizeof notes->when, text);
        break;
    case 0x9291:
        set_text(notes->sub, sizeof notes->sub, text);
        break;
    case 0x9010: // OffsetTime stands in until OffsetTimeOriginal comes
        set_text(notes->offset, sizeof notes->offset, text);
        break;
    case 0x9011:
        notes->offset[0] = '\0';
        set_text(notes->offset, sizeof notes->offset, text);
        break;
    case 0xa431:
        set_text(facts->serial, sizeof facts->serial, text);
        break;
    case 0xa434:
        set_text(facts->lens, sizeof facts->lens, text);
        break;
    default:
        break;
    }
}

// Tags of the Exif directory come as they are; those of the file's directories with their number from bit 20
// up.
void on_exif(void *context, int tag, int type, int len, unsigned order, void *stream, INT64)
{
    exif_notes *notes = static_cast<exif_notes *>(context);
    if ((tag & 0xfffff) == 0x0112 && tag >= 0x100000)
        notes->saw_orientation = true;
    if (tag >= 0x10000 || len < 1)
        return;
    LibRaw_abstract_datastream *in = static_cast<LibRaw_abstract_datastream *>(stream);
    INT64 at = in->tell();
    uint8_t bytes[128] = {0};
    size_t size = type == 2 ? static_cast<size_t>(len) : 8;
    if (size > sizeof bytes - 1)
        size = sizeof bytes - 1;
    INT64 left = in->size() - at;
    if (left > 0)
        in->read(bytes, 1, static_cast<INT64>(size) < left ? size : static_cast<size_t>(left));
    in->seek(at, SEEK_SET);
    const char *text = type == 2 ? reinterpret_cast<const char *>(bytes) : "";
    take_tag(notes, tag, first_number(bytes, type, order == 0x4d4d), text);
}

void on_damage(void *, const char *, int)
{
}

// LibRaw's flip: 4 swaps the axes, 2 mirrors the stored rows, 1 the stored columns.
int orientation_from_flip(int flip)
{
    static const int orientations[8] = {1, 2, 4, 3, 5, 8, 6, 7};
    return orientations[flip & 7];
}

class raw_job
{
  public:
    raw_job(const struct pc_job *job_, struct pc_reply *reply_, struct pc_err *err_)
        : job(job_), reply(reply_), err(err_), stream(job_->bytes, job_->count), notes()
    {
        notes.facts = &reply->facts;
    }
    enum pc_status run();

  private:
    enum pc_status fail_unknown_camera();
    enum pc_status fail_code(int code);
    enum pc_status open();
    void take_facts();
    void take_colour();
    enum pc_status check_known();
    enum pc_status unpack();
    enum pc_status settle_by_libraw();
    enum pc_status describe(struct pc_sensor *sensor);
    void describe_filter(struct pc_sensor *sensor);
    void describe_black(struct pc_sensor *sensor);
    enum pc_status demosaic(const struct pc_sensor *sensor, struct pc_canvas *canvas);

    const struct pc_job *job;
    struct pc_reply *reply;
    struct pc_err *err;
    struct pc_ifd_look look;
    watched_stream stream;
    exif_notes notes;
    LibRaw raw;
    std::vector<float> black;
};

enum pc_status raw_job::fail_unknown_camera()
{
    const libraw_iparams_t &id = raw.imgdata.idata;
    struct pc_facts named = {};
    set_text(named.maker, sizeof named.maker, look.maker[0] != '\0' ? look.maker : id.make);
    set_text(named.model, sizeof named.model, look.model[0] != '\0' ? look.model : id.model);
    pc_facts_clean(&named);
    // Some makers put their name before the model's, too.
    bool twice = strncmp(named.model, named.maker, strcspn(named.maker, " ")) == 0;
    char name[136];
    snprintf(name, sizeof name, "\"%s%s%s\"", twice ? "" : named.maker,
             twice || named.maker[0] == '\0' ? "" : " ", named.model);
    bool known = named.maker[0] != '\0' || named.model[0] != '\0';
    return pc_fail(
        err, PC_UNSUPPORTED, NULL,
        "The raw files of %s cannot be read by this program's decoder (LibRaw %s): the camera is newer, or "
        "not supported. Convert it to DNG with the camera maker's software and give that, or give the "
        "camera's own JPEG for framing only.",
        known ? name : "this camera", LibRaw::version());
}

enum pc_status raw_job::fail_code(int code)
{
    switch (code) {
    case LIBRAW_FILE_UNSUPPORTED:
        return fail_unknown_camera();
    case LIBRAW_UNSUFFICIENT_MEMORY:
    case LIBRAW_TOO_BIG:
        return pc_fail(err, PC_NO_MEMORY, NULL, "It needs more memory than a single file is allowed.");
    default:
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "It is a raw file that was cut short or damaged (%s): copy it from the card again.",
                       LibRaw::strerror(code));
    }
}

enum pc_status raw_job::open()
{
    raw.set_exifparser_handler(on_exif, &notes);
    raw.set_dataerror_handler(on_damage, NULL);
    libraw_output_params_t &params = raw.imgdata.params;
    params.max_raw_memory_mb = static_cast<unsigned>(job->memory_bytes >> 20);
    int code = raw.open_datastream(&stream);
    if (code != LIBRAW_SUCCESS)
        return fail_code(code);
    const libraw_image_sizes_t &sizes = raw.imgdata.sizes;
    PC_TRY(pc_job_check_size(job, sizes.raw_width, sizes.raw_height, err));
    return pc_job_check_size(job, sizes.width, sizes.height, err);
}

void raw_job::take_facts()
{
    struct pc_facts *facts = &reply->facts;
    const libraw_data_t &data = raw.imgdata;
    pc_facts_set_time(facts, notes.when, notes.sub, notes.offset);
    // LibRaw's own reading, for files that keep these elsewhere than in Exif. Its shutter is only to be had
    // where no tag was seen, since it makes one second of a zero.
    if (!notes.saw_shutter)
        facts->shutter_s = data.other.shutter;
    if (!(facts->iso > 0 && facts->iso < 65535)) // 65535: too large for Exif's SHORT
        facts->iso = data.other.iso_speed;
    set_missing(&facts->fnumber, data.other.aperture);
    set_missing(&facts->focal_mm, data.other.focal_len);
    set_missing(&facts->focal_35mm_mm, data.lens.FocalLengthIn35mmFormat);
    if (data.other.timestamp > 0)
        set_missing(&facts->time_s, static_cast<double>(data.other.timestamp));
    set_text(facts->serial, sizeof facts->serial, data.shootinginfo.BodySerial);
    set_text(facts->lens, sizeof facts->lens, data.lens.Lens);
    set_text(facts->lens, sizeof facts->lens, data.lens.makernotes.Lens);
    set_text(facts->maker, sizeof facts->maker, look.maker);
    set_text(facts->maker, sizeof facts->maker, data.idata.make);
    set_text(facts->model, sizeof facts->model, look.model);
    set_text(facts->model, sizeof facts->model, data.idata.model);
    bool turned = (data.sizes.flip & 4) != 0;
    if (notes.saw_orientation || data.sizes.flip != 0)
        facts->orientation = orientation_from_flip(data.sizes.flip);
    facts->width_px = turned ? data.sizes.height : data.sizes.width;
    facts->height_px = turned ? data.sizes.width : data.sizes.height;
}

void raw_job::take_colour()
{
    const libraw_colordata_t &color = raw.imgdata.color;
    if (look.is_dng) { // the file's own tags, which LibRaw does not always keep
        reply->has_camera_from_xyz = look.has_matrix;
        memcpy(reply->camera_from_xyz, look.camera_from_xyz, sizeof reply->camera_from_xyz);
        reply->has_neutral = look.has_neutral;
        for (int c = 0; c < 3 && look.has_neutral; c++)
            reply->neutral_ratio[c] = look.neutral[c] / look.neutral[1];
        return;
    }
    for (int c = 0; c < 3; c++) {
        for (int k = 0; k < 3; k++) {
            reply->camera_from_xyz[c][k] = static_cast<double>(color.cam_xyz[c][k]);
            reply->has_camera_from_xyz |= color.cam_xyz[c][k] != 0.0f;
        }
    }
    if (color.cam_mul[0] > 0 && color.cam_mul[1] > 0 && color.cam_mul[2] > 0) {
        reply->has_neutral = 1;
        for (int c = 0; c < 3; c++)
            reply->neutral_ratio[c] = static_cast<double>(color.cam_mul[1] / color.cam_mul[c]);
    }
}

// What LibRaw would have to guess, and does.
enum pc_status raw_job::check_known()
{
    const libraw_iparams_t &id = raw.imgdata.idata;
    if (!look.is_dng)
        return id.colors == 3 && !reply->has_camera_from_xyz ? fail_code(LIBRAW_FILE_UNSUPPORTED) : PC_OK;
    const char *lacks = NULL;
    if (!look.has_bits)
        lacks = "bits per sample (BitsPerSample)";
    else if (!look.is_linear_raw && !look.has_cfa_pattern)
        lacks = "colour filter pattern (CFAPattern)";
    else if (!look.has_white)
        lacks = "white level (WhiteLevel)";
    if (lacks == NULL)
        return PC_OK;
    return pc_fail(
        err, PC_BAD_INPUT, NULL,
        "It is a DNG that does not say its %s, so that its light cannot be told: convert it again from "
        "the camera's own file.",
        lacks);
}

enum pc_status raw_job::unpack()
{
    // LibRaw overwrites a DNG's black with its own reading of the masked area; sensor.c measures better, and
    // needs the tag's to hold it against. Other makers' black may only come of unpacking.
    const libraw_colordata_t &color = raw.imgdata.color;
    unsigned tagged_black = color.black, tagged_cblack[LIBRAW_CBLACK_SIZE];
    memcpy(tagged_cblack, color.cblack, sizeof tagged_cblack);
    // Only what is asked for from here on counts: directories may point beyond the end without harm.
    stream.missing_bytes = 0;
    int code = raw.unpack();
    if (code != LIBRAW_SUCCESS)
        return fail_code(code);
    // Readers of other makers' formats fetch whole blocks, the last of which may be short in a good file.
    size_t allowed = look.is_dng ? 0 : 32768;
    if (raw.error_count() > 0 || stream.missing_bytes > allowed)
        return fail_code(LIBRAW_IO_ERROR);
    if (look.is_dng) {
        raw.imgdata.color.black = tagged_black;
        memcpy(raw.imgdata.color.cblack, tagged_cblack, sizeof tagged_cblack);
    }
    return raw.imgdata.rawdata.ph1_cblack != NULL ? settle_by_libraw() : PC_OK;
}

// Phase One's black differs by row and column and comes in tables: LibRaw applies them, and the result goes
// back to where the rest is read from.
enum pc_status raw_job::settle_by_libraw()
{
    int code = raw.raw2image();
    if (code == LIBRAW_SUCCESS)
        code = raw.subtract_black();
    libraw_data_t &data = raw.imgdata;
    if (code != LIBRAW_SUCCESS || data.image == NULL || data.rawdata.raw_image == NULL)
        return fail_code(code != LIBRAW_SUCCESS ? code : LIBRAW_FILE_UNSUPPORTED);
    size_t pitch = data.sizes.raw_pitch / 2;
    for (size_t y = 0; y < data.sizes.height; y++) {
        ushort *row = data.rawdata.raw_image + (y + data.sizes.top_margin) * pitch + data.sizes.left_margin;
        for (int x = 0; x < data.sizes.width; x++)
            row[x] = data.image[y * data.sizes.iwidth + x][raw.COLOR(static_cast<int>(y), x)];
    }
    data.color.black = 0;
    memset(data.color.cblack, 0, sizeof data.color.cblack);
    memset(data.sizes.mask, 0, sizeof data.sizes.mask);
    raw.free_image();
    return PC_OK;
}

int lowest_multiple(int a, int b)
{
    int m = a;
    while (m % b != 0)
        m += a;
    return m;
}

// The black of each place in the filter's pattern, from the tags. LibRaw keeps it as a sum of three whole
// numbers; for DNG also with its fraction.
void raw_job::describe_black(struct pc_sensor *sensor)
{
    const libraw_colordata_t &color = raw.imgdata.color;
    const libraw_dng_levels_t &levels = color.dng_levels;
    int rows = static_cast<int>(color.cblack[4]), cols = static_cast<int>(color.cblack[5]);
    bool pattern = rows > 0 && cols > 0 && rows <= 64 && cols <= 64 && rows * cols <= LIBRAW_CBLACK_SIZE - 6;
    sensor->black_rows = pattern ? lowest_multiple(sensor->filter_rows, rows) : sensor->filter_rows;
    sensor->black_cols = pattern ? lowest_multiple(sensor->filter_cols, cols) : sensor->filter_cols;
    black.resize(static_cast<size_t>(sensor->black_rows) * static_cast<size_t>(sensor->black_cols));
    bool fractions =
        look.is_dng && levels.dng_cblack[4] == color.cblack[4] && levels.dng_cblack[5] == color.cblack[5];
    size_t i = 0;
    for (int y = 0; y < sensor->black_rows; y++) {
        for (int x = 0; x < sensor->black_cols; x++) {
            int c = raw.imgdata.idata.filters != 0 ? raw.COLOR(y, x) : 0;
            int at = pattern ? 6 + y % rows * cols + x % cols : -1;
            double whole = color.black + color.cblack[c] + (at >= 0 ? color.cblack[at] : 0u);
            double exact = static_cast<double>(levels.dng_fblack + levels.dng_fcblack[c] +
                                               (at >= 0 ? levels.dng_fcblack[at] : 0.0f));
            bool same = fractions && std::fabs(exact - whole) <= 1.5;
            black[i++] = static_cast<float>(same ? exact : whole);
        }
    }
    sensor->black_dn = black.data();
}

void raw_job::describe_filter(struct pc_sensor *sensor)
{
    unsigned filters = raw.imgdata.idata.filters;
    int period = filters == 9 ? 6 : filters == 0 ? 1 : filters < 1000 ? 16 : 8;
    // Eight rows are what LibRaw's pattern can hold; nearly all repeat after two.
    bool two = period == 8;
    for (int y = 0; y < period; y++) {
        for (int x = 0; x < period; x++) {
            int c = filters != 0 ? raw.COLOR(y, x) : 0;
            sensor->filter[y][x] = static_cast<uint8_t>(c == 3 ? 1 : c);
            two = two && raw.COLOR(y, x) == raw.COLOR(y & 1, x & 1);
        }
    }
    sensor->filter_rows = sensor->filter_cols = two ? 2 : period;
}

enum pc_status raw_job::describe(struct pc_sensor *sensor)
{
    const libraw_data_t &data = raw.imgdata;
    const libraw_image_sizes_t &sizes = data.sizes;
    memset(sensor, 0, sizeof *sensor);
    if (raw.is_fuji_rotated())
        return pc_fail(
            err, PC_UNSUPPORTED, NULL,
            "Its sensor lies diagonally, which cannot be measured: give a linear TIFF of it with --linear.");
    for (int c = 0; c < data.idata.colors && data.idata.colors > 1; c++) {
        if (data.idata.cdesc[c] != "RGB"[c < 3 ? c : 0])
            return pc_fail(
                err, PC_UNSUPPORTED, NULL,
                "Its sensor's filters are not red, green and blue (%.4s), which cannot be measured: give "
                "a linear TIFF of it with --linear.",
                data.idata.cdesc);
    }
    sensor->width_px = sizes.width;
    sensor->height_px = sizes.height;
    sensor->left_px = sizes.left_margin;
    sensor->top_px = sizes.top_margin;
    sensor->raw_width_px = sizes.raw_width;
    sensor->raw_height_px = sizes.raw_height;
    sensor->orientation = orientation_from_flip(sizes.flip);
    sensor->white_dn = data.color.maximum;
    // Where every pixel has its colours a converter has taken the black off already, and leaves the tag out.
    sensor->says_black = !look.is_dng || look.has_black || look.is_linear_raw;
    int values = 1;
    if (data.rawdata.raw_image != NULL) {
        sensor->dn = data.rawdata.raw_image;
    } else if (data.rawdata.color3_image != NULL) {
        sensor->dn = data.rawdata.color3_image[0];
        values = 3;
    } else if (data.rawdata.color4_image != NULL) {
        sensor->dn = data.rawdata.color4_image[0];
        values = 4;
    }
    sensor->values = values;
    sensor->pitch = sizes.raw_pitch / sizeof(ushort);
    if (sensor->left_px + sensor->width_px > sensor->raw_width_px ||
        sensor->top_px + sensor->height_px > sensor->raw_height_px ||
        sensor->pitch < static_cast<size_t>(sensor->raw_width_px) * static_cast<size_t>(values))
        return fail_code(LIBRAW_DATA_ERROR);
    if (sensor->dn == NULL || (data.idata.filters == 0) != (values > 1 || data.idata.colors == 1))
        return fail_code(LIBRAW_FILE_UNSUPPORTED);
    sensor->channels = values == 1 && data.idata.filters == 0 ? 1 : 3;
    describe_filter(sensor);
    for (int i = 0; i < 8; i++)
        for (int k = 0; k < 4; k++)
            sensor->masked[i][k] = sizes.mask[i][k];
    describe_black(sensor);
    return PC_OK;
}

enum pc_status raw_job::demosaic(const struct pc_sensor *sensor, struct pc_canvas *canvas)
{
    // The levels are settled in place beforehand, so that LibRaw interpolates and does nothing else.
    PC_TRY(pc_sensor_settle(sensor, canvas, err));
    libraw_output_params_t &params = raw.imgdata.params;
    params.user_black = 0;
    for (int i = 0; i < 4; i++)
        params.user_cblack[i] = 0;
    params.user_sat = 65535;
    params.adjust_maximum_thr = 0;
    params.no_auto_scale = 1;
    params.no_auto_bright = 1;
    params.output_color = 0;
    params.use_camera_wb = 0;
    params.use_auto_wb = 0;
    params.use_fuji_rotate = 0;
    // Patterned pixel grouping: it looks at one colour's gradients at a time. The finer ways weigh colours
    // against each other as if white were already balanced, which here it is not, and take three times as
    // long.
    params.user_qual = 2;
    params.highlight = 1;
    params.gamm[0] = params.gamm[1] = 1;
    int code = raw.dcraw_process();
    if (code != LIBRAW_SUCCESS)
        return fail_code(code);
    const libraw_data_t &data = raw.imgdata;
    if (data.image == NULL || data.sizes.iwidth != sensor->width_px ||
        data.sizes.iheight != sensor->height_px)
        return fail_code(LIBRAW_FILE_UNSUPPORTED);
    pc_sensor_put_interpolated(sensor, canvas, data.image[0]);
    return PC_OK;
}

enum pc_status raw_job::run()
{
    pc_ifd_look(job->bytes, job->count, &look);
    PC_TRY(open());
    take_facts();
    take_colour();
    if (job->want == PC_JOB_FACTS)
        return PC_OK;
    PC_TRY(check_known());
    PC_TRY(unpack());
    struct pc_sensor sensor;
    PC_TRY(describe(&sensor));
    PC_TRY(pc_sensor_settle_black(&sensor, reply, err));
    bool mosaic = sensor.values == 1 && sensor.channels == 3;
    if (job->want == PC_JOB_MEASURE || !mosaic)
        return pc_sensor_bin(&sensor, job, reply, err);
    struct pc_canvas canvas;
    PC_TRY(pc_canvas_begin(&canvas, job, reply, sensor.width_px, sensor.height_px, 3, 1, sensor.orientation,
                           err));
    enum pc_status status = demosaic(&sensor, &canvas);
    pc_canvas_end(&canvas);
    return status;
}

} // namespace

enum pc_status pc_decode_raw(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    reply->form = PC_JOB_RAW;
    try {
        // On the heap: LibRaw's object holds some hundred kilobytes.
        raw_job *reading = new raw_job(job, reply, err);
        enum pc_status status = PC_CRASHED;
        try {
            status = reading->run();
        } catch (...) {
            delete reading;
            throw;
        }
        delete reading;
        return status;
    } catch (const std::bad_alloc &) {
        return pc_fail(err, PC_NO_MEMORY, NULL, "It needs more memory than a single file is allowed.");
    } catch (...) {
        return pc_fail(err, PC_BAD_INPUT, NULL,
                       "It is a raw file that was cut short or damaged: copy it from the card again.");
    }
}
