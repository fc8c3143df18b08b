// SPDX-License-Identifier: Apache-2.0
// Exif 2.32 through libexif.
#include "image/photo/worker/decode.h"

#include <libexif/exif-data.h>

enum { OFFSET_TIME_ORIGINAL = 0x9011, OFFSET_TIME = 0x9010, BODY_SERIAL = 0xa431, LENS_MODEL = 0xa434 };

// Tags that are newer than libexif's names are kept by number.
static const ExifEntry *find(const ExifData *data, ExifIfd ifd, unsigned tag)
{
    return exif_content_get_entry(data->ifd[ifd], (ExifTag)tag);
}

static double number_of(const ExifData *data, ExifIfd ifd, unsigned tag)
{
    const ExifEntry *entry = find(data, ifd, tag);
    if (entry == NULL || entry->components < 1 || entry->data == NULL ||
        entry->size < exif_format_get_size(entry->format))
        return NAN;
    ExifByteOrder order = exif_data_get_byte_order((ExifData *)data);
    switch (entry->format) {
    case EXIF_FORMAT_SHORT:
        return exif_get_short(entry->data, order);
    case EXIF_FORMAT_LONG:
        return exif_get_long(entry->data, order);
    case EXIF_FORMAT_RATIONAL: {
        ExifRational r = exif_get_rational(entry->data, order);
        return r.denominator != 0 ? (double)r.numerator / (double)r.denominator : (double)NAN;
    }
    case EXIF_FORMAT_SRATIONAL: {
        ExifSRational r = exif_get_srational(entry->data, order);
        return r.denominator != 0 ? (double)r.numerator / (double)r.denominator : (double)NAN;
    }
    default:
        return NAN;
    }
}

static bool text_of(const ExifData *data, ExifIfd ifd, unsigned tag, char *out, size_t size)
{
    const ExifEntry *entry = find(data, ifd, tag);
    if (entry == NULL || entry->data == NULL || entry->size == 0 || entry->format != EXIF_FORMAT_ASCII)
        return false;
    size_t n = entry->size < size - 1 ? entry->size : size - 1;
    memcpy(out, entry->data, n);
    out[n] = '\0';
    return true;
}

static void set_number(const ExifData *data, ExifIfd ifd, unsigned tag, double *out)
{
    double v = number_of(data, ifd, tag);
    if (isfinite(v))
        *out = v;
}

static void read_facts(const ExifData *data, struct pc_facts *facts)
{
    set_number(data, EXIF_IFD_EXIF, EXIF_TAG_EXPOSURE_TIME, &facts->shutter_s);
    double tv = number_of(data, EXIF_IFD_EXIF, EXIF_TAG_SHUTTER_SPEED_VALUE);
    if (isfinite(tv))
        facts->shutter_apex_s = exp2(-tv);
    set_number(data, EXIF_IFD_EXIF, EXIF_TAG_FNUMBER, &facts->fnumber);
    set_number(data, EXIF_IFD_EXIF, EXIF_TAG_ISO_SPEED_RATINGS, &facts->iso);
    set_number(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH, &facts->focal_mm);
    set_number(data, EXIF_IFD_EXIF, EXIF_TAG_FOCAL_LENGTH_IN_35MM_FILM, &facts->focal_35mm_mm);
    double flash = number_of(data, EXIF_IFD_EXIF, EXIF_TAG_FLASH);
    if (flash >= 0 && flash <= 65535)
        facts->flash_fired = (int)flash & 1;
    double orientation = number_of(data, EXIF_IFD_0, EXIF_TAG_ORIENTATION);
    if (orientation >= 1 && orientation <= 8)
        facts->orientation = (int)orientation;
    text_of(data, EXIF_IFD_0, EXIF_TAG_MAKE, facts->maker, sizeof facts->maker);
    text_of(data, EXIF_IFD_0, EXIF_TAG_MODEL, facts->model, sizeof facts->model);
    text_of(data, EXIF_IFD_EXIF, BODY_SERIAL, facts->serial, sizeof facts->serial);
    text_of(data, EXIF_IFD_EXIF, LENS_MODEL, facts->lens, sizeof facts->lens);
    char when[32] = "", sub[16] = "", offset[16] = "";
    text_of(data, EXIF_IFD_EXIF, EXIF_TAG_DATE_TIME_ORIGINAL, when, sizeof when);
    text_of(data, EXIF_IFD_EXIF, EXIF_TAG_SUB_SEC_TIME_ORIGINAL, sub, sizeof sub);
    if (!text_of(data, EXIF_IFD_EXIF, OFFSET_TIME_ORIGINAL, offset, sizeof offset))
        text_of(data, EXIF_IFD_EXIF, OFFSET_TIME, offset, sizeof offset);
    pc_facts_set_time(facts, when, sub, offset);
}

void pc_exif_read(const uint8_t *tiff, size_t count, struct pc_facts *facts)
{
    static const char prefix[6] = {'E', 'x', 'i', 'f', 0, 0};
    if (count < 8 || count > UINT32_MAX - sizeof prefix)
        return;
    uint8_t *block = malloc(count + sizeof prefix);
    if (block == NULL)
        return;
    memcpy(block, prefix, sizeof prefix);
    memcpy(block + sizeof prefix, tiff, count);
    ExifData *data = exif_data_new();
    if (data != NULL) {
        // As it is in the file: nothing added, nothing mended.
        exif_data_unset_option(data, EXIF_DATA_OPTION_FOLLOW_SPECIFICATION);
        exif_data_set_option(data, EXIF_DATA_OPTION_DONT_CHANGE_MAKER_NOTE);
        exif_data_load_data(data, block, (unsigned)(count + sizeof prefix));
        read_facts(data, facts);
        exif_data_unref(data);
    }
    free(block);
}
