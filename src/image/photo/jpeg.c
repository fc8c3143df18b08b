// SPDX-License-Identifier: Apache-2.0
#include "image/photo/write.h"

#include "base/file.h"

#include <jpeglib.h>
#include <setjmp.h>

// libjpeg's managers stand first, so that its callbacks find the rest behind them.
struct error_manager {
    struct jpeg_error_mgr base;
    struct jpeg_out *out;
};

struct jpeg_out {
    struct jpeg_destination_mgr destination;
    struct error_manager errors;
    struct jpeg_compress_struct cinfo;
    struct pc_file_writer file;
    struct pc_err *err;
    enum pc_status status; // what stopped it
    jmp_buf back;
    JOCTET chunk[1 << 16];
};

__attribute__((noreturn)) static void on_error(j_common_ptr cinfo)
{
    struct jpeg_out *out = ((struct error_manager *)cinfo->err)->out;
    if (out->status == PC_OK) {
        char text[JMSG_LENGTH_MAX];
        cinfo->err->format_message(cinfo, text);
        out->status =
            pc_fail(out->err, PC_BAD_INPUT, out->file.path,
                    "The picture cannot be written as a JPEG (%s); this file was not changed.", text);
    }
    longjmp(out->back, 1);
}

static void on_message(j_common_ptr cinfo)
{
    (void)cinfo;
}

static void put_chunk(j_compress_ptr cinfo, size_t count)
{
    struct jpeg_out *out = (struct jpeg_out *)cinfo->dest;
    out->status = pc_file_put(&out->file, out->chunk, count, out->err);
    if (out->status != PC_OK)
        longjmp(out->back, 1);
    out->destination.next_output_byte = out->chunk;
    out->destination.free_in_buffer = sizeof out->chunk;
}

static void on_begin(j_compress_ptr cinfo)
{
    cinfo->dest->next_output_byte = ((struct jpeg_out *)cinfo->dest)->chunk;
    cinfo->dest->free_in_buffer = sizeof((struct jpeg_out *)0)->chunk;
}

static boolean on_full(j_compress_ptr cinfo)
{
    put_chunk(cinfo, sizeof((struct jpeg_out *)0)->chunk); // whole, whatever the counters say (libjpeg.txt)
    return TRUE;
}

static void on_end(j_compress_ptr cinfo)
{
    put_chunk(cinfo, sizeof((struct jpeg_out *)0)->chunk - cinfo->dest->free_in_buffer);
}

static bool write_picture(struct jpeg_out *out, int width_px, int height_px, int channels, const uint8_t *px,
                          int quality, const struct pc_icc *icc)
{
    struct jpeg_compress_struct *cinfo = &out->cinfo;
    if (setjmp(out->back) != 0)
        return false;
    jpeg_create_compress(cinfo);
    cinfo->dest = &out->destination;
    cinfo->image_width = (JDIMENSION)width_px;
    cinfo->image_height = (JDIMENSION)height_px;
    cinfo->input_components = channels;
    cinfo->in_color_space = channels == 3 ? JCS_RGB : JCS_GRAYSCALE;
    jpeg_set_defaults(cinfo);
    jpeg_set_quality(cinfo, quality, TRUE);
    for (int c = 0; c < channels; c++) // colour as sharp as light: 4:4:4
        cinfo->comp_info[c].h_samp_factor = cinfo->comp_info[c].v_samp_factor = 1;
    jpeg_start_compress(cinfo, TRUE);
    if (icc != NULL)
        jpeg_write_icc_profile(cinfo, icc->bytes, (unsigned)icc->count);
    while (cinfo->next_scanline < cinfo->image_height) {
        JSAMPROW row =
            (JSAMPROW)(uintptr_t)(px + (size_t)cinfo->next_scanline * (size_t)width_px * (size_t)channels);
        jpeg_write_scanlines(cinfo, &row, 1);
    }
    jpeg_finish_compress(cinfo);
    return true;
}

enum pc_status pc_write_jpeg(const char *path, int width_px, int height_px, int channels, const uint8_t *px,
                             int quality, const struct pc_icc *icc, struct pc_err *err)
{
    PC_ASSERT(width_px > 0 && height_px > 0 && (channels == 1 || channels == 3) && quality >= 1 &&
              quality <= 100);
    if (width_px > JPEG_MAX_DIMENSION || height_px > JPEG_MAX_DIMENSION)
        return pc_fail(
            err, PC_BAD_INPUT, path,
            "A JPEG holds at most %ld pixels on a side and this picture has %d x %d: write a TIFF instead.",
            JPEG_MAX_DIMENSION, width_px, height_px);
    struct jpeg_out *out = calloc(1, sizeof *out);
    if (out == NULL)
        return pc_fail(err, PC_NO_MEMORY, path,
                       "There is not enough memory to write it; this file was not changed.");
    out->err = err;
    enum pc_status status = pc_file_create(&out->file, path, err);
    if (status == PC_OK) {
        out->cinfo.err = jpeg_std_error(&out->errors.base);
        out->errors.base.error_exit = on_error;
        out->errors.base.output_message = on_message;
        out->errors.out = out;
        out->destination.init_destination = on_begin;
        out->destination.empty_output_buffer = on_full;
        out->destination.term_destination = on_end;
        bool written = write_picture(out, width_px, height_px, channels, px, quality, icc);
        jpeg_destroy_compress(&out->cinfo);
        if (written) {
            status = pc_file_commit(&out->file, err);
        } else {
            pc_file_abandon(&out->file);
            status = out->status;
        }
    }
    free(out);
    return status;
}
