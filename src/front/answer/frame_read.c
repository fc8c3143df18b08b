// SPDX-License-Identifier: Apache-2.0
#include "front/answer/frame_read.h"

#include "base/units.h"
#include "image/camera/expose_tie.h"
#include "image/picture/meter.h"

#define CARD_REFLECTANCE_RATIO 0.18
#define MID_GREY_RATIO         0.18 // of what clips
#define DISC_OF_FRAME          200 // places are read over a disc whose radius is this part of the frame's longer side

const double pc_frame_shares[PC_FRAME_SHARES] = {0.01, 0.5, 0.99};
const char *const pc_frame_form_names[5] = {
    [PC_FORM_RAW] = "raw", [PC_FORM_JPEG] = "JPEG", [PC_FORM_TIFF] = "TIFF",
    [PC_FORM_PNG] = "PNG", [PC_FORM_HEIF] = "HEIF",
};

const char pc_frame_tone_mapped_text[] =
    "The camera or a program has bent the tones of this picture, so no light level, lux or cast can be read "
    "from it; "
    "it serves for framing, crops and movement. Read the raw file of the same frame instead";

static enum pc_status refuse_tone_mapped(const struct pc_frame_read *read, struct pc_err *err)
{
    if (!read->photo.tone_mapped || read->spots == 0)
        return PC_OK;
    bool may_be_linear = read->photo.form == PC_FORM_TIFF || read->photo.form == PC_FORM_PNG;
    return pc_fail(err, PC_UNSUPPORTED, read->path, "%s%s.", pc_frame_tone_mapped_text,
                   may_be_linear ? ", or say --linear if you know that it holds linear light" : "");
}

static enum pc_status read_spot(const struct pc_picture *picture, struct pc_frame_spot *spot,
                                struct pc_err *err)
{
    int width_px = picture->full_width_px, height_px = picture->full_height_px;
    if (spot->x_px >= width_px || spot->y_px >= height_px)
        return pc_fail(err, PC_MISUSE, spot->name,
                       "%s lies outside the frame, which is %d x %d pixels when upright.", spot->text,
                       width_px, height_px);
    double radius_px = (width_px > height_px ? width_px : height_px) / (double)DISC_OF_FRAME;
    pc_picture_level(picture, spot->x_px, spot->y_px, radius_px, NULL, &spot->level);
    return PC_OK;
}

static enum pc_status meter_card(struct pc_frame_read *read, const struct pc_frame_spot *card,
                                 struct pc_err *err)
{
    PC_TRY(pc_card_lx(&read->photo, &card->level, CARD_REFLECTANCE_RATIO, read->path, &read->card_lx, err));
    read->card_lx_tolerance = pc_meter_lx_tolerance(read->card_lx, pc_meter_tolerance_ev);
    return PC_OK;
}

static bool noise_known(const struct pc_noise *noise)
{
    return noise->offset_var[0] > 0 || noise->per_signal_var[0] > 0;
}

static enum pc_status look(struct pc_frame_read *read, struct pc_err *err)
{
    PC_TRY(refuse_tone_mapped(read, err));
    if (read->photo.tone_mapped)
        return PC_OK;
    for (size_t i = 0; i < read->spots; i++)
        PC_TRY(read_spot(&read->photo.picture, &read->spot[i], err));
    if (read->greycard >= 0)
        PC_TRY(meter_card(read, &read->spot[read->greycard], err));
    if (!noise_known(&read->photo.picture.noise)) {
        pc_picture_noise_from_one(&read->photo.picture);
        read->noise_from_frame = true;
    }
    return PC_OK;
}

enum pc_status pc_frame_read(struct pc_ctx *ctx, struct pc_frame_read *read, bool linear, struct pc_err *err)
{
    struct pc_photo_reader *reader;
    read->card_lx = read->card_lx_tolerance = NAN;
    PC_TRY(pc_photo_reader_create(ctx, NULL, &reader, err));
    enum pc_status status = pc_ctx_step(ctx, "reading the frame", 0, err);
    if (status == PC_OK)
        status = pc_photo_read(reader, read->path, PC_WANT_MEASURE, linear, &read->photo, err);
    pc_photo_reader_destroy(reader);
    return status == PC_OK ? look(read, err) : status;
}

void pc_frame_read_finish(struct pc_frame_read *read)
{
    pc_photo_finish(&read->photo);
}

double pc_frame_under_clipping_ev(double level)
{
    return level > 0 ? pc_ev_from_ratio(level) : (double)NAN;
}

double pc_frame_tolerance_ev(double level, double se)
{
    return level > 0 ? se / level / log(2.0) : (double)NAN;
}

double pc_frame_snr_at_mid_grey(const struct pc_noise *noise, int channel)
{
    double var = noise->offset_var[channel] + noise->per_signal_var[channel] * MID_GREY_RATIO;
    return var > 0 ? MID_GREY_RATIO / sqrt(var) : (double)NAN;
}
