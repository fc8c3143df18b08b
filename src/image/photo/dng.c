// SPDX-License-Identifier: Apache-2.0
// DNG 1.4 (Adobe, 2012) and Exif 2.32 (CIPA DC-008): the raw in the first directory, no preview.
#include "image/photo/ljpeg_priv.h"
#include "image/photo/tiff_priv.h"
#include "image/photo/write.h"

static enum pc_status take_bytes(void *to, const uint8_t *bytes, size_t count, struct pc_err *err)
{
    return pc_tiff_bytes(to, bytes, count, err);
}

static void put_time(struct pc_tiff_ifd *ifd, const struct pc_facts *facts)
{
    if (isfinite(facts->time_s)) {
        double us = round((facts->time_s - floor(facts->time_s)) * 1e6);
        time_t whole_s = (time_t)floor(facts->time_s) + (us >= 1e6 ? 1 : 0);
        int64_t part_us = us >= 1e6 ? 0 : (int64_t)us;
        struct tm tm;
        char text[32];
        if (gmtime_r(&whole_s, &tm) != NULL && strftime(text, sizeof text, "%Y:%m:%d %H:%M:%S", &tm) == 19) {
            pc_tiff_put_text(ifd, 36867, text); // DateTimeOriginal
            if (part_us % 1000 == 0)
                snprintf(text, sizeof text, "%03d", (int)(part_us / 1000));
            else
                snprintf(text, sizeof text, "%06d", (int)part_us);
            if (part_us != 0)
                pc_tiff_put_text(ifd, 37521, text); // SubSecTimeOriginal
        }
    }
    if (isfinite(facts->utc_offset_s) && fabs(facts->utc_offset_s) < 86400) {
        int minutes = (int)lround(fabs(facts->utc_offset_s) / 60);
        char text[16];
        snprintf(text, sizeof text, "%c%02d:%02d", facts->utc_offset_s < 0 ? '-' : '+', minutes / 60,
                 minutes % 60);
        pc_tiff_put_text(ifd, 36881, text); // OffsetTimeOriginal
    }
}

static void put_positive(struct pc_tiff_ifd *ifd, uint16_t tag, double value)
{
    if (isfinite(value) && value > 0)
        pc_tiff_put_rationals(ifd, tag, 1, &value);
}

static void put_iso(struct pc_tiff_ifd *ifd, double iso)
{
    if (!(isfinite(iso) && iso >= 0.5 && iso < UINT32_MAX))
        return;
    uint32_t whole = (uint32_t)llround(iso);
    // Exif 2.32, 4.6.5: over 65535 the old tag holds 65535 and the recommended exposure index the true value.
    pc_tiff_put_short(ifd, 34855, (uint16_t)(whole > UINT16_MAX ? UINT16_MAX : whole));
    if (whole >= UINT16_MAX) {
        pc_tiff_put_short(ifd, 34864, 2);
        pc_tiff_put_long(ifd, 34866, whole);
    }
}

static void fill_exif(struct pc_tiff_ifd *ifd, const struct pc_dng *dng)
{
    const struct pc_facts *facts = &dng->facts;
    pc_tiff_put(ifd, 36864, PC_TIFF_UNDEFINED, 4, "0232"); // ExifVersion
    put_positive(ifd, 33434, facts->shutter_s);            // ExposureTime
    put_positive(ifd, 33437, facts->fnumber);
    put_iso(ifd, facts->iso);
    put_time(ifd, facts);
    if (!dng->no_apex && isfinite(facts->shutter_apex_s) && facts->shutter_apex_s > 0) {
        double tv = -log2(facts->shutter_apex_s);
        pc_tiff_put_millionths(ifd, 37377, 1, &tv); // ShutterSpeedValue
    }
    if (!dng->no_apex && isfinite(facts->fnumber) && facts->fnumber >= 1) {
        double av = 2 * log2(facts->fnumber);
        pc_tiff_put_rationals(ifd, 37378, 1, &av); // ApertureValue
    }
    if (facts->flash_fired >= 0)
        pc_tiff_put_short(ifd, 37385, facts->flash_fired > 0 ? 1 : 0);
    put_positive(ifd, 37386, facts->focal_mm);
    if (facts->focal_35mm_mm >= 0.5 && facts->focal_35mm_mm < UINT16_MAX)
        pc_tiff_put_short(ifd, 41989, (uint16_t)lround(facts->focal_35mm_mm));
    pc_tiff_put_text(ifd, 42033, facts->serial); // BodySerialNumber
    pc_tiff_put_text(ifd, 42036, facts->lens);   // LensModel
}

static void put_camera(struct pc_tiff_ifd *ifd, const struct pc_facts *facts)
{
    char unique[sizeof facts->maker + sizeof facts->model + 1];
    bool both = facts->maker[0] != '\0' && facts->model[0] != '\0';
    snprintf(unique, sizeof unique, "%s%s%s", facts->maker, both ? " " : "", facts->model);
    pc_tiff_put_text(ifd, 271, facts->maker);
    pc_tiff_put_text(ifd, 272, facts->model);
    pc_tiff_put_text(ifd, 50708, unique);        // UniqueCameraModel
    pc_tiff_put_text(ifd, 50735, facts->serial); // CameraSerialNumber
    if (facts->orientation >= 1 && facts->orientation <= 8)
        pc_tiff_put_short(ifd, 274, (uint16_t)facts->orientation);
}

static void put_layout(struct pc_tiff_ifd *ifd, const struct pc_dng *dng, uint32_t pixel_bytes)
{
    uint32_t width = (uint32_t)dng->width_px, height = (uint32_t)dng->height_px;
    uint32_t left = (uint32_t)dng->masked_left_px;
    uint8_t cfa[4];
    for (int i = 0; i < 4; i++)
        cfa[i] = dng->cfa[i] == 'R' ? 0 : dng->cfa[i] == 'G' ? 1 : 2;
    pc_tiff_put_long(ifd, 254, 0); // NewSubFileType: the picture itself
    pc_tiff_put_long(ifd, 256, width);
    pc_tiff_put_long(ifd, 257, height);
    pc_tiff_put_short(ifd, 258, 16);
    pc_tiff_put_short(ifd, 259, dng->lossless ? 7 : 1);
    pc_tiff_put_short(ifd, 262, 32803); // PhotometricInterpretation: colour filter array
    pc_tiff_put_long(ifd, 273, 8);      // the one strip follows the header
    pc_tiff_put_short(ifd, 277, 1);
    pc_tiff_put_long(ifd, 278, height);
    pc_tiff_put_long(ifd, 279, pixel_bytes);
    pc_tiff_put_short(ifd, 284, 1);
    pc_tiff_put(ifd, 33421, PC_TIFF_SHORT, 2, (const uint16_t[]){2, 2}); // CFARepeatPatternDim
    pc_tiff_put(ifd, 33422, PC_TIFF_BYTE, 4, cfa);
    pc_tiff_put(ifd, 50710, PC_TIFF_BYTE, 3, (const uint8_t[]){0, 1, 2}); // CFAPlaneColor
    pc_tiff_put_short(ifd, 50711, 1);                                     // CFALayout: rectangular
    if (left > 0) {
        // Both are top, left, bottom, right.
        pc_tiff_put(ifd, 50829, PC_TIFF_LONG, 4, (const uint32_t[]){0, left, height, width}); // ActiveArea
        pc_tiff_put(ifd, 50830, PC_TIFF_LONG, 4, (const uint32_t[]){0, 0, height, left});     // MaskedAreas
    }
}

static void put_colour(struct pc_tiff_ifd *ifd, const struct pc_dng *dng)
{
    pc_tiff_put(ifd, 50706, PC_TIFF_BYTE, 4, (const uint8_t[]){1, 4, 0, 0}); // DNGVersion
    pc_tiff_put(ifd, 50707, PC_TIFF_BYTE, 4, (const uint8_t[]){1, 1, 0, 0}); // DNGBackwardVersion
    pc_tiff_put(ifd, 50713, PC_TIFF_SHORT, 2, (const uint16_t[]){2, 2});     // BlackLevelRepeatDim
    pc_tiff_put_rationals(ifd, 50714, 4, dng->black_dn);
    pc_tiff_put_long(ifd, 50717, (uint32_t)lround(dng->white_dn));
    pc_tiff_put_millionths(ifd, 50721, 9, &dng->camera_from_xyz[0][0]); // ColorMatrix1
    pc_tiff_put_rationals(ifd, 50728, 3, dng->neutral_ratio);           // AsShotNeutral
    pc_tiff_put_short(ifd, 50778, 21);                                  // CalibrationIlluminant1: D65
}

static bool is_sound(const struct pc_dng *dng)
{
    bool sound = dng->width_px > 0 && dng->width_px <= 65534 && dng->height_px > 0 &&
                 dng->height_px <= 65535 && dng->masked_left_px >= 0 && dng->masked_left_px % 2 == 0 &&
                 dng->masked_left_px < dng->width_px && strlen(dng->cfa) == 4 &&
                 strspn(dng->cfa, "RGB") == 4 && dng->white_dn >= 1 && dng->white_dn <= UINT16_MAX;
    for (int i = 0; i < 4; i++)
        sound = sound && dng->black_dn[i] >= 0 && dng->black_dn[i] <= UINT16_MAX;
    for (int i = 0; i < 3; i++)
        sound = sound && isfinite(dng->neutral_ratio[i]) && dng->neutral_ratio[i] > 0;
    for (int i = 0; i < 9; i++)
        sound = sound && isfinite(dng->camera_from_xyz[i / 3][i % 3]);
    return sound;
}

enum pc_status pc_write_dng(const char *path, const struct pc_dng *dng, struct pc_err *err)
{
    PC_ASSERT(is_sound(dng));
    struct pc_tiff_out out;
    PC_TRY(pc_tiff_begin(&out, path, err));
    if (dng->lossless) {
        struct pc_ljpeg_sink sink = {take_bytes, &out};
        enum pc_status status = pc_ljpeg_encode(&sink, dng->width_px, dng->height_px, dng->px, err);
        if (status != PC_OK) {
            pc_file_abandon(&out.file);
            return status;
        }
    } else {
        size_t count = (size_t)dng->width_px * (size_t)dng->height_px * sizeof *dng->px;
        PC_TRY(pc_tiff_bytes(&out, dng->px, count, err));
    }
    struct pc_tiff_ifd ifd = {0}, exif = {0};
    put_layout(&ifd, dng, (uint32_t)(out.at_bytes - 8));
    put_colour(&ifd, dng);
    put_camera(&ifd, &dng->facts);
    fill_exif(&exif, dng);
    uint32_t exif_at_bytes;
    PC_TRY(pc_tiff_directory(&out, &exif, &exif_at_bytes, err));
    pc_tiff_put_long(&ifd, 34665, exif_at_bytes);
    return pc_tiff_end(&out, &ifd, err);
}
