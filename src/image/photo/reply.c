// SPDX-License-Identifier: Apache-2.0
#include "image/photo/reply.h"

#include "base/linalg.h"
#include "base/text.h"

static bool is_flag(int32_t value)
{
    return value == 0 || value == 1;
}

static bool sizes_are_sound(const struct pc_reply *r, enum pc_photo_want want, int64_t most_pixels,
                            uint64_t shared_bytes)
{
    if (want == PC_WANT_FACTS)
        return r->width_px == 0 && r->height_px == 0 && r->channels == 0;
    if ((r->channels != 1 && r->channels != 3) || r->bin < 1 || r->bin > PC_BIN_MOST)
        return false;
    if (r->full_width_px < 1 || r->full_width_px > 65535 || r->full_height_px < 1 ||
        r->full_height_px > 65535)
        return false;
    if ((int64_t)r->full_width_px * r->full_height_px > most_pixels)
        return false;
    if (r->width_px < 1 || r->height_px < 1 || r->width_px != r->full_width_px / r->bin ||
        r->height_px != r->full_height_px / r->bin)
        return false;
    return pc_pixels_bytes((uint64_t)r->width_px, (uint64_t)r->height_px, (uint64_t)r->channels) <=
           shared_bytes;
}

static bool is_sound(const struct pc_reply *r, enum pc_photo_want want, int64_t most_pixels,
                     uint64_t shared_bytes)
{
    if (r->magic != PC_WORKER_MAGIC || r->form < PC_FORM_RAW || r->form > PC_FORM_HEIF ||
        !is_flag(r->tone_mapped) || !is_flag(r->black_measured) || !is_flag(r->black_by_default) ||
        !is_flag(r->has_camera_from_xyz) || !is_flag(r->has_neutral))
        return false;
    if (r->form == PC_FORM_RAW && want != PC_WANT_FACTS &&
        !(r->black_dn > -1e6 && r->white_dn > r->black_dn && r->white_dn < 1e6))
        return false;
    return sizes_are_sound(r, want, most_pixels, shared_bytes);
}

// False when a value is no number. Bits beyond the channels are dropped from the mask. One pass over memory
// that the worker may still be writing to: what is checked is what was copied.
static bool copy_pixels(const struct pc_lease *lease, struct pc_picture *picture)
{
    const struct pc_reply *r = &lease->reply;
    size_t pixels = (size_t)picture->width_px * (size_t)picture->height_px;
    size_t values = pixels * (size_t)picture->channels;
    const uint8_t *from = lease->pixels;
    uint32_t bad = 0;
    enum { CHUNK = 16384 }; // floats: small enough to be looked at while in cache
    for (size_t i = 0; i < values; i += CHUNK) {
        size_t n = values - i < CHUNK ? values - i : CHUNK;
        memcpy(picture->px + i, from + i * sizeof(float), n * sizeof(float));
        const uint32_t *bits = (const uint32_t *)(const void *)(picture->px + i);
        for (size_t k = 0; k < n; k++)
            bad |= (bits[k] & 0x7f800000u) == 0x7f800000u; // infinite or no number (IEEE 754)
    }
    uint64_t mask_at =
        pc_pixels_mask_at((uint64_t)r->width_px, (uint64_t)r->height_px, (uint64_t)r->channels);
    uint8_t allowed = picture->channels == 1 ? 1 : 7;
    for (size_t i = 0; i < pixels; i++)
        picture->clipped[i] = from[mask_at + i] & allowed;
    return bad == 0;
}

static void take_colour(const struct pc_reply *r, struct pc_photo *photo)
{
    double inverse[3][3];
    bool finite = true;
    for (int i = 0; i < 9; i++)
        finite = finite && isfinite(r->camera_from_xyz[i / 3][i % 3]) &&
                 fabs(r->camera_from_xyz[i / 3][i % 3]) < 1e3;
    if (r->has_camera_from_xyz && finite && pc_linalg_invert3(r->camera_from_xyz, inverse)) {
        photo->has_xyz_from_camera = true;
        memcpy(photo->xyz_from_camera, inverse, sizeof inverse);
    }
    bool positive = true;
    for (int c = 0; c < 3; c++)
        positive = positive && r->neutral_ratio[c] > 1e-3 && r->neutral_ratio[c] < 1e3;
    if (r->has_neutral && positive) {
        photo->has_neutral = true;
        memcpy(photo->neutral_ratio, r->neutral_ratio, sizeof photo->neutral_ratio);
    }
}

static enum pc_status fail_lie(const char *place, bool *lied, struct pc_err *err)
{
    *lied = true;
    return pc_fail(
        err, PC_CRASHED, place,
        "Its decoder gave an impossible answer: the file is probably damaged, or made to do harm. Leave it "
        "out; the other files are not affected.");
}

static enum pc_status take_error(const struct pc_reply *r, const char *place, bool *lied, struct pc_err *err)
{
    if (r->status != PC_BAD_INPUT && r->status != PC_UNSUPPORTED && r->status != PC_NO_MEMORY)
        return fail_lie(place, lied, err);
    char raw[sizeof r->text], text[sizeof r->text];
    memcpy(raw, r->text, sizeof raw);
    raw[sizeof raw - 1] = '\0';
    pc_text_printable(raw, text, sizeof text);
    return pc_fail(err, (enum pc_status)r->status, place, "%s",
                   text[0] != '\0' ? text : "It cannot be read.");
}

enum pc_status pc_reply_take(struct pc_ctx *ctx, const struct pc_lease *lease, enum pc_photo_want want,
                             int64_t most_pixels, const char *place, struct pc_photo *photo, bool *lied,
                             struct pc_err *err)
{
    const struct pc_reply *r = &lease->reply;
    if (r->magic == PC_WORKER_MAGIC && r->status != PC_OK)
        return take_error(r, place, lied, err);
    if (!is_sound(r, want, most_pixels, lease->pixels_bytes))
        return fail_lie(place, lied, err);
    photo->form = (enum pc_photo_form)r->form;
    photo->tone_mapped = r->tone_mapped == 1;
    photo->facts = r->facts;
    pc_facts_clean(&photo->facts);
    photo->black_dn = photo->form == PC_FORM_RAW && want != PC_WANT_FACTS ? r->black_dn : (double)NAN;
    photo->white_dn = photo->form == PC_FORM_RAW && want != PC_WANT_FACTS ? r->white_dn : (double)NAN;
    photo->black_measured = r->black_measured == 1;
    photo->black_by_default = r->black_by_default == 1;
    take_colour(r, photo);
    if (want == PC_WANT_FACTS)
        return PC_OK;
    struct pc_picture *picture = &photo->picture;
    struct pc_err why = {0};
    if (pc_picture_init(ctx, picture, r->width_px, r->height_px, r->channels, &why) != PC_OK)
        return pc_fail(err, why.status, place, "%s", why.text);
    picture->bin = r->bin;
    picture->full_width_px = r->full_width_px;
    picture->full_height_px = r->full_height_px;
    picture->space = photo->tone_mapped ? PC_SPACE_DISPLAY : PC_SPACE_CAMERA;
    return copy_pixels(lease, picture) ? PC_OK : fail_lie(place, lied, err);
}
