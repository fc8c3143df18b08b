// SPDX-License-Identifier: Apache-2.0
// HEIC and HEIF through libheif. The container's rotation is applied by it; Exif's orientation must not be,
// on top.
#include "image/photo/worker/canvas.h"

#include <libheif/heif.h>

void pc_heif_prepare(void)
{
    heif_init(NULL); // loads codecs, which the sandbox would refuse later
}

static enum pc_status fail_heif(struct heif_error error, struct pc_err *err)
{
    if (error.code == heif_error_Unsupported_filetype || error.code == heif_error_Unsupported_feature)
        return pc_fail(
            err, PC_UNSUPPORTED, NULL,
            "It is a HEIF of a kind that cannot be read (%s): set the phone to \"most compatible\", or give "
            "a JPEG of it.",
            error.message);
    if (error.code == heif_error_Memory_allocation_error)
        return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
    return pc_fail(err, PC_BAD_INPUT, NULL, "It is a HEIF that was cut short or damaged (%s): copy it again.",
                   error.message);
}

static void read_exif(struct heif_image_handle *handle, struct pc_facts *facts)
{
    heif_item_id id;
    if (heif_image_handle_get_list_of_metadata_block_IDs(handle, "Exif", &id, 1) == 1) {
        size_t n = heif_image_handle_get_metadata_size(handle, id);
        uint8_t *block = n > 4 && n < (size_t)64 << 20 ? malloc(n) : NULL;
        if (block != NULL && heif_image_handle_get_metadata(handle, id, block).code == heif_error_Ok) {
            // ISO/IEC 23008-12, annex A: four bytes say how far on the TIFF header is.
            size_t skip =
                ((size_t)block[0] << 24 | (size_t)block[1] << 16 | (size_t)block[2] << 8 | block[3]) + 4;
            if (skip < n)
                pc_exif_read(block + skip, n - skip, facts);
        }
        free(block);
    }
    facts->orientation = 1;
}

static enum pc_status put_rows(const struct heif_image *image, bool deep, const struct pc_job *job,
                               struct pc_reply *reply, struct pc_err *err)
{
    int stride, width = heif_image_get_primary_width(image), height = heif_image_get_primary_height(image);
    const enum heif_channel channel = heif_channel_interleaved;
    const uint8_t *plane = heif_image_get_plane_readonly(image, channel, &stride);
    int bits = heif_image_get_bits_per_pixel_range(image, channel), ch = 3;
    if (plane == NULL || bits < 8 || bits > 16 || (bits > 8) != deep)
        return pc_fail(err, PC_UNSUPPORTED, NULL, "It is a HEIF of an unusual depth: give a JPEG of it.");
    PC_TRY(pc_job_check_size(job, width, height, err));
    int count = 1 << bits;
    float *curve = malloc((size_t)count * sizeof *curve);
    float *row = malloc((size_t)width * (size_t)ch * sizeof *row);
    uint8_t *mask = malloc((size_t)width);
    struct pc_canvas canvas = {0};
    enum pc_status status =
        curve == NULL || row == NULL || mask == NULL
            ? pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.")
            : pc_canvas_begin(&canvas, job, reply, width, height, ch, pc_canvas_bin(job, width, height, 2), 1,
                              err);
    if (status == PC_OK)
        pc_curve_fill(curve, count, false);
    for (int y = 0; y < height && status == PC_OK; y++) {
        const uint8_t *in = plane + (size_t)y * (size_t)stride;
        for (int x = 0; x < width; x++) {
            unsigned clipped = 0;
            for (int c = 0; c < ch; c++) {
                size_t i = (size_t)x * (size_t)ch + (size_t)c;
                unsigned v = deep ? (unsigned)in[2 * i + 1] << 8 | in[2 * i] : in[i];
                v = v < (unsigned)count ? v : (unsigned)count - 1;
                row[i] = curve[v];
                clipped |= (unsigned)(v == (unsigned)count - 1) << c;
            }
            mask[x] = (uint8_t)clipped;
        }
        pc_canvas_row(&canvas, y, row, mask);
    }
    pc_canvas_end(&canvas);
    free(curve);
    free(row);
    free(mask);
    return status;
}

static enum pc_status read_image(struct heif_image_handle *handle, const struct pc_job *job,
                                 struct pc_reply *reply, struct pc_err *err)
{
    int width = heif_image_handle_get_width(handle), height = heif_image_handle_get_height(handle);
    PC_TRY(pc_job_check_size(job, width, height, err));
    read_exif(handle, &reply->facts);
    reply->facts.width_px = width;
    reply->facts.height_px = height;
    if (job->want == PC_JOB_FACTS)
        return PC_OK;
    bool deep = heif_image_handle_get_luma_bits_per_pixel(handle) > 8;
    struct heif_image *image = NULL;
    struct heif_error error =
        heif_decode_image(handle, &image, heif_colorspace_RGB,
                          deep ? heif_chroma_interleaved_RRGGBB_LE : heif_chroma_interleaved_RGB, NULL);
    enum pc_status status =
        error.code != heif_error_Ok ? fail_heif(error, err) : put_rows(image, deep, job, reply, err);
    if (image != NULL)
        heif_image_release(image);
    return status;
}

enum pc_status pc_decode_heif(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    reply->form = PC_JOB_HEIF;
    reply->tone_mapped = 1;
    struct heif_context *context = heif_context_alloc();
    if (context == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
    heif_context_set_max_decoding_threads(context, 0); // files are read side by side, not parts of one
    heif_context_set_maximum_image_size_limit(context, 65535);
    struct heif_image_handle *handle = NULL;
    struct heif_error error =
        heif_context_read_from_memory_without_copy(context, job->bytes, job->count, NULL);
    if (error.code == heif_error_Ok)
        error = heif_context_get_primary_image_handle(context, &handle);
    enum pc_status status =
        error.code != heif_error_Ok ? fail_heif(error, err) : read_image(handle, job, reply, err);
    if (handle != NULL)
        heif_image_handle_release(handle);
    heif_context_free(context);
    return status;
}
