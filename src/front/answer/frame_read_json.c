// SPDX-License-Identifier: Apache-2.0
#include "front/answer/frame_read.h"

#include "image/picture/spread.h"

static void put_text_or_null(struct pc_json *object, const char *key, const char *text)
{
    pc_json_put_text(object, key, text[0] != '\0' ? text : NULL);
}

static struct pc_json *facts_json(const struct pc_facts *facts)
{
    struct pc_json *o = pc_json_object();
    put_text_or_null(o, "maker", facts->maker);
    put_text_or_null(o, "model", facts->model);
    put_text_or_null(o, "serial", facts->serial);
    put_text_or_null(o, "lens", facts->lens);
    pc_json_put_number(o, "shutter_s", facts->shutter_s, 9);
    pc_json_put_number(o, "shutter_apex_s", facts->shutter_apex_s, 9);
    pc_json_put_number(o, "fnumber", facts->fnumber, 3);
    pc_json_put_number(o, "iso", facts->iso, 0);
    pc_json_put_number(o, "focal_mm", facts->focal_mm, 2);
    pc_json_put_number(o, "focal_35mm_mm", facts->focal_35mm_mm, 0);
    pc_json_put_number(o, "time_s", facts->time_s, 3);
    pc_json_put_number(o, "utc_offset_s", facts->utc_offset_s, 0);
    if (facts->orientation > 0)
        pc_json_put_int(o, "orientation", facts->orientation);
    else
        pc_json_put_text(o, "orientation", NULL);
    if (facts->flash_fired >= 0)
        pc_json_put_bool(o, "flash_fired", facts->flash_fired == 1);
    else
        pc_json_put_text(o, "flash_fired", NULL);
    return o;
}

static struct pc_json *numbers_json(int count, const double *values, int decimals)
{
    struct pc_json *a = pc_json_array();
    for (int c = 0; c < count; c++)
        pc_json_add_number(a, values[c], decimals);
    return a;
}

static struct pc_json *spots_json(const struct pc_frame_read *read)
{
    int channels = read->photo.picture.channels;
    struct pc_json *a = pc_json_array();
    for (size_t i = 0; i < read->spots; i++) {
        const struct pc_frame_spot *spot = &read->spot[i];
        double ev[3], ev_tolerance[3];
        for (int c = 0; c < channels; c++) {
            ev[c] = pc_frame_under_clipping_ev(spot->level.value[c]);
            ev_tolerance[c] = pc_frame_tolerance_ev(spot->level.value[c], spot->level.se[c]);
        }
        struct pc_json *o = pc_json_object();
        pc_json_put_text(o, "place", spot->name);
        pc_json_put_number(o, "x_px", spot->x_px, 1);
        pc_json_put_number(o, "y_px", spot->y_px, 1);
        pc_json_put(o, "level_ev", numbers_json(channels, ev, 3));
        pc_json_put(o, "level_ev_tolerance", numbers_json(channels, ev_tolerance, 3));
        pc_json_put_number(o, "clipped_pct", 100 * spot->level.clipped_ratio, 2);
        pc_json_add(a, o);
    }
    return a;
}

static void put_levels_json(struct pc_json *o, const struct pc_frame_read *read)
{
    const struct pc_picture *picture = &read->photo.picture;
    struct pc_json *spread = pc_json_array();
    for (size_t i = 0; i < PC_COUNT(pc_frame_shares); i++) {
        double ev[3];
        for (int c = 0; c < picture->channels; c++)
            ev[c] = pc_frame_under_clipping_ev(pc_picture_quantile(picture, c, pc_frame_shares[i]));
        struct pc_json *row = pc_json_object();
        pc_json_put_number(row, "share_below_pct", 100 * pc_frame_shares[i], 0);
        pc_json_put(row, "level_ev", numbers_json(picture->channels, ev, 2));
        pc_json_add(spread, row);
    }
    pc_json_put(o, "spread", spread);
    pc_json_put(o, "places", spots_json(read));
    double snr[3];
    for (int c = 0; c < picture->channels; c++)
        snr[c] = pc_frame_snr_at_mid_grey(&picture->noise, c);
    pc_json_put(o, "mid_grey_snr_ratio", numbers_json(picture->channels, snr, 1));
    pc_json_put_number(o, "greycard_lx", read->card_lx, 1);
    pc_json_put_number(o, "greycard_lx_tolerance", read->card_lx_tolerance, 1);
}

struct pc_json *pc_frame_read_json(const struct pc_frame_read *read)
{
    const struct pc_photo *photo = &read->photo;
    struct pc_json *o = pc_json_object();
    pc_json_put_text(o, "file", read->path);
    pc_json_put_text(o, "form", pc_frame_form_names[photo->form]);
    pc_json_put_int(o, "width_px", photo->picture.full_width_px);
    pc_json_put_int(o, "height_px", photo->picture.full_height_px);
    pc_json_put(o, "facts", facts_json(&photo->facts));
    pc_json_put_number(o, "black_dn", photo->black_dn, 2);
    pc_json_put_text(o, "black_from",
                     isnan(photo->black_dn)    ? NULL
                     : photo->black_measured   ? "mask"
                     : photo->black_by_default ? "specification"
                                               : "file");
    pc_json_put_number(o, "white_dn", photo->white_dn, 0);
    pc_json_put_number(o, "clipped_pct", 100 * pc_picture_clipped_ratio(&photo->picture), 3);
    pc_json_put_bool(o, "tone_mapped", photo->tone_mapped);
    if (!photo->tone_mapped)
        put_levels_json(o, read);
    return o;
}
