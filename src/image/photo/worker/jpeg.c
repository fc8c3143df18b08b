// SPDX-License-Identifier: Apache-2.0
// JPEG through libjpeg: 8-bit grey and colour, decoded by the sRGB curve whatever profile is embedded, since
// what a camera did to the tones is not undone by a profile either.
#include "image/photo/worker/canvas.h"

#include <setjmp.h>
#include <jpeglib.h>
#include <jerror.h>

struct trouble {
    struct jpeg_error_mgr base;
    jmp_buf back;
    char text[JMSG_LENGTH_MAX];
    bool damaged;
};

static void on_error(j_common_ptr jpeg)
{
    struct trouble *trouble = (struct trouble *)jpeg->err;
    trouble->base.format_message(jpeg, trouble->text);
    longjmp(trouble->back, 1);
}

// libjpeg fills what is missing with grey and only warns; a measured picture may not hold made-up pixels.
// Stray bytes between markers are common in phones' files and harm nothing.
static void on_warning(j_common_ptr jpeg, int level)
{
    struct trouble *trouble = (struct trouble *)jpeg->err;
    int code = trouble->base.msg_code;
    if (level < 0 && code != JWRN_EXTRANEOUS_DATA && code != JWRN_ADOBE_XFORM && code != JWRN_JFIF_MAJOR)
        trouble->damaged = true;
}

static void on_message(j_common_ptr jpeg)
{
    (void)jpeg;
}

struct reading {
    const struct pc_job *job;
    struct pc_reply *reply;
    struct pc_err *err;
    struct jpeg_decompress_struct jpeg;
    struct trouble trouble;
    struct pc_canvas canvas;
    uint8_t *bytes_row;
    float *row;
    uint8_t *mask;
    enum pc_status status;
};

static void read_markers(struct reading *reading)
{
    for (jpeg_saved_marker_ptr m = reading->jpeg.marker_list; m != NULL; m = m->next) {
        if (m->marker == JPEG_APP0 + 1 && m->data_length > 6 && memcmp(m->data, "Exif\0\0", 6) == 0) {
            pc_exif_read(m->data + 6, m->data_length - 6, &reading->reply->facts);
            return;
        }
    }
}

static enum pc_status begin(struct reading *reading)
{
    struct jpeg_decompress_struct *jpeg = &reading->jpeg;
    const struct pc_job *job = reading->job;
    PC_TRY(pc_job_check_size(job, jpeg->image_width, jpeg->image_height, reading->err));
    bool turned = reading->reply->facts.orientation >= 5;
    reading->reply->facts.width_px = (int)(turned ? jpeg->image_height : jpeg->image_width);
    reading->reply->facts.height_px = (int)(turned ? jpeg->image_width : jpeg->image_height);
    if (job->want == PC_JOB_FACTS)
        return PC_OK;
    if (jpeg->num_components != 1 && jpeg->num_components != 3)
        return pc_fail(reading->err, PC_UNSUPPORTED, NULL,
                       "It is a JPEG made for print (%d inks): save it in RGB colour.", jpeg->num_components);
    jpeg->out_color_space = jpeg->num_components == 3 ? JCS_RGB : JCS_GRAYSCALE;
    jpeg_start_decompress(jpeg);
    int ch = jpeg->num_components;
    PC_TRY(pc_canvas_begin(&reading->canvas, job, reading->reply, (int)jpeg->output_width,
                           (int)jpeg->output_height, ch,
                           pc_canvas_bin(job, (int)jpeg->output_width, (int)jpeg->output_height, 2),
                           reading->reply->facts.orientation, reading->err));
    size_t values = (size_t)jpeg->output_width * (size_t)ch;
    reading->bytes_row = malloc(values);
    reading->row = malloc(values * sizeof *reading->row);
    reading->mask = malloc(jpeg->output_width);
    if (reading->bytes_row == NULL || reading->row == NULL || reading->mask == NULL)
        return pc_fail(reading->err, PC_NO_MEMORY, NULL,
                       "It does not fit into the memory allowed for a file.");
    return PC_OK;
}

static void read_rows(struct reading *reading)
{
    struct jpeg_decompress_struct *jpeg = &reading->jpeg;
    float curve[256];
    pc_curve_fill(curve, 256, false);
    int ch = jpeg->num_components, width = (int)jpeg->output_width;
    while (jpeg->output_scanline < jpeg->output_height) {
        int y = (int)jpeg->output_scanline;
        jpeg_read_scanlines(jpeg, &reading->bytes_row, 1);
        for (int x = 0; x < width; x++) {
            unsigned clipped = 0;
            for (int c = 0; c < ch; c++) {
                unsigned v = reading->bytes_row[x * ch + c];
                reading->row[x * ch + c] = curve[v];
                clipped |= (unsigned)(v == 255) << c;
            }
            reading->mask[x] = (uint8_t)clipped;
        }
        pc_canvas_row(&reading->canvas, y, reading->row, reading->mask);
    }
    jpeg_finish_decompress(jpeg);
}

// Everything that may jump back lives in reading, so that no local is lost.
static void run(struct reading *reading)
{
    if (setjmp(reading->trouble.back) != 0) {
        reading->status =
            pc_fail(reading->err, PC_BAD_INPUT, NULL,
                    "It is a damaged JPEG (%s): copy it from the card again.", reading->trouble.text);
        return;
    }
    struct jpeg_decompress_struct *jpeg = &reading->jpeg;
    jpeg_create_decompress(jpeg);
    jpeg->mem->max_memory_to_use = (long)(reading->job->memory_bytes / 2);
    jpeg_save_markers(jpeg, JPEG_APP0 + 1, 0xffff);
    jpeg_mem_src(jpeg, reading->job->bytes, reading->job->count);
    jpeg_read_header(jpeg, TRUE);
    read_markers(reading);
    reading->status = begin(reading);
    if (reading->status != PC_OK || reading->job->want == PC_JOB_FACTS)
        return;
    read_rows(reading);
    if (reading->trouble.damaged)
        reading->status = pc_fail(reading->err, PC_BAD_INPUT, NULL,
                                  "It is a JPEG that was cut short or damaged: copy it from the card again.");
}

enum pc_status pc_decode_jpeg(const struct pc_job *job, struct pc_reply *reply, struct pc_err *err)
{
    struct reading *reading = calloc(1, sizeof *reading);
    if (reading == NULL)
        return pc_fail(err, PC_NO_MEMORY, NULL, "It does not fit into the memory allowed for a file.");
    reply->form = PC_JOB_JPEG;
    reply->tone_mapped = 1;
    reading->job = job;
    reading->reply = reply;
    reading->err = err;
    reading->jpeg.err = jpeg_std_error(&reading->trouble.base);
    reading->trouble.base.error_exit = on_error;
    reading->trouble.base.emit_message = on_warning;
    reading->trouble.base.output_message = on_message;
    run(reading);
    jpeg_destroy_decompress(&reading->jpeg);
    pc_canvas_end(&reading->canvas);
    free(reading->bytes_row);
    free(reading->row);
    free(reading->mask);
    enum pc_status status = reading->status;
    free(reading);
    return status;
}
