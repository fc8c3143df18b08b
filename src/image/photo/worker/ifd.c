// SPDX-License-Identifier: Apache-2.0
#include "image/photo/worker/ifd.h"

enum {
    MOST_DIRECTORIES =
        48, // enough for any camera's previews; bounds a file whose directories point in circles
    TAG_NEW_SUBFILE_TYPE = 254,
    TAG_BITS = 258,
    TAG_COMPRESSION = 259,
    TAG_PHOTOMETRIC = 262,
    TAG_MAKE = 271,
    TAG_MODEL = 272,
    TAG_SUB_IFDS = 330,
    TAG_CFA_PATTERN = 33422,
    TAG_DNG_VERSION = 50706,
    TAG_BLACK_LEVEL = 50714,
    TAG_WHITE_LEVEL = 50717,
    TAG_COLOR_MATRIX_1 = 50721,
    TAG_COLOR_MATRIX_2 = 50722,
    TAG_CALIBRATION_1 = 50723,
    TAG_CALIBRATION_2 = 50724,
    TAG_ANALOG_BALANCE = 50727,
    TAG_AS_SHOT_NEUTRAL = 50728,
    TAG_ILLUMINANT_1 = 50778,
    TAG_ILLUMINANT_2 = 50779,
    PHOTOMETRIC_CFA = 32803,
    PHOTOMETRIC_LINEAR_RAW = 34892,
    ILLUMINANT_D65 = 21,
};

struct walk {
    const uint8_t *bytes;
    size_t count;
    bool big_endian;
    struct pc_ifd_look *look;
    uint32_t queue[MOST_DIRECTORIES];
    int queued;
    bool has_colour[2], has_calibration[2];
    double colour[2][9], calibration[2][9], balance[3];
    unsigned illuminant[2];
};

// What one directory says.
struct directory {
    bool bits, cfa, black, white;
    unsigned subfile, compression, photometric;
};

struct entry {
    unsigned tag, type;
    uint32_t items;
    size_t at; // of the values
};

static unsigned get16(const struct walk *walk, size_t at)
{
    const uint8_t *b = walk->bytes + at;
    return walk->big_endian ? (unsigned)b[0] << 8 | b[1] : (unsigned)b[1] << 8 | b[0];
}

static uint32_t get32(const struct walk *walk, size_t at)
{
    uint32_t first = get16(walk, at), second = get16(walk, at + 2);
    return walk->big_endian ? first << 16 | second : second << 16 | first;
}

static unsigned type_bytes(unsigned type)
{
    static const uint8_t bytes[] = {0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8, 4};
    return type < sizeof bytes ? bytes[type] : 0;
}

static bool read_entry(const struct walk *walk, size_t at, struct entry *entry)
{
    entry->tag = get16(walk, at);
    entry->type = get16(walk, at + 2);
    entry->items = get32(walk, at + 4);
    uint64_t bytes = (uint64_t)type_bytes(entry->type) * entry->items;
    entry->at = bytes <= 4 ? at + 8 : get32(walk, at + 8);
    return bytes > 0 && bytes <= walk->count && entry->at <= walk->count - bytes;
}

static double value(const struct walk *walk, const struct entry *entry, unsigned i)
{
    if (i >= entry->items)
        return NAN;
    size_t at = entry->at + (size_t)i * type_bytes(entry->type);
    switch (entry->type) {
    case 1:
    case 7:
        return walk->bytes[at];
    case 3:
        return get16(walk, at);
    case 4:
    case 13:
        return get32(walk, at);
    case 5:
        return get32(walk, at + 4) != 0 ? (double)get32(walk, at) / (double)get32(walk, at + 4) : (double)NAN;
    case 8:
        return (int16_t)get16(walk, at);
    case 9:
        return (int32_t)get32(walk, at);
    case 10:
        return get32(walk, at + 4) != 0
                   ? (double)(int32_t)get32(walk, at) / (double)(int32_t)get32(walk, at + 4)
                   : (double)NAN;
    default:
        return NAN;
    }
}

static unsigned whole(const struct walk *walk, const struct entry *entry)
{
    double v = value(walk, entry, 0);
    return v >= 0 && v <= 65535 ? (unsigned)v : 0;
}

static bool read_values(const struct walk *walk, const struct entry *entry, double *out, unsigned n)
{
    bool good = entry->items == n;
    for (unsigned i = 0; good && i < n; i++) {
        out[i] = value(walk, entry, i);
        good = isfinite(out[i]);
    }
    return good;
}

static void read_text(const struct walk *walk, const struct entry *entry, char *out, size_t size)
{
    if (entry->type != 2 || out[0] != '\0')
        return;
    size_t n = entry->items < size - 1 ? entry->items : size - 1;
    memcpy(out, walk->bytes + entry->at, n);
    out[n] = '\0';
}

static void enqueue(struct walk *walk, double at)
{
    if (walk->queued < MOST_DIRECTORIES && at >= 8 && at <= UINT32_MAX)
        walk->queue[walk->queued++] = (uint32_t)at;
}

static void take_colour(struct walk *walk, const struct entry *entry)
{
    struct pc_ifd_look *look = walk->look;
    switch (entry->tag) {
    case TAG_DNG_VERSION:
        look->is_dng = true;
        break;
    case TAG_COLOR_MATRIX_1:
    case TAG_COLOR_MATRIX_2: {
        int i = entry->tag == TAG_COLOR_MATRIX_2;
        walk->has_colour[i] = walk->has_colour[i] || read_values(walk, entry, walk->colour[i], 9);
        break;
    }
    case TAG_CALIBRATION_1:
    case TAG_CALIBRATION_2: {
        int i = entry->tag == TAG_CALIBRATION_2;
        walk->has_calibration[i] =
            walk->has_calibration[i] || read_values(walk, entry, walk->calibration[i], 9);
        break;
    }
    case TAG_ILLUMINANT_1:
    case TAG_ILLUMINANT_2:
        walk->illuminant[entry->tag == TAG_ILLUMINANT_2] = whole(walk, entry);
        break;
    case TAG_ANALOG_BALANCE:
        if (!read_values(walk, entry, walk->balance, 3))
            walk->balance[0] = walk->balance[1] = walk->balance[2] = 1;
        break;
    case TAG_AS_SHOT_NEUTRAL:
        look->has_neutral = read_values(walk, entry, look->neutral, 3) && look->neutral[0] > 0 &&
                            look->neutral[1] > 0 && look->neutral[2] > 0;
        break;
    default:
        break;
    }
}

static void take_entry(struct walk *walk, struct directory *dir, const struct entry *entry)
{
    switch (entry->tag) {
    case TAG_NEW_SUBFILE_TYPE:
        dir->subfile = whole(walk, entry);
        break;
    case TAG_BITS:
        dir->bits = true;
        break;
    case TAG_COMPRESSION:
        dir->compression = whole(walk, entry);
        break;
    case TAG_PHOTOMETRIC:
        dir->photometric = whole(walk, entry);
        break;
    case TAG_CFA_PATTERN:
        dir->cfa = true;
        break;
    case TAG_BLACK_LEVEL:
        dir->black = true;
        break;
    case TAG_WHITE_LEVEL:
        dir->white = true;
        break;
    case TAG_MAKE:
        read_text(walk, entry, walk->look->maker, sizeof walk->look->maker);
        break;
    case TAG_MODEL:
        read_text(walk, entry, walk->look->model, sizeof walk->look->model);
        break;
    case TAG_SUB_IFDS:
        for (unsigned i = 0; i < entry->items && i < MOST_DIRECTORIES; i++)
            enqueue(walk, value(walk, entry, i));
        break;
    default:
        take_colour(walk, entry);
        break;
    }
}

// Compressions that only cameras' sensor data has: Nikon, Sony, Pentax, Samsung, Kodak.
static bool is_raw_compression(unsigned compression)
{
    static const unsigned known[] = {34713, 32767, 65535, 32769, 32770, 32772, 65000};
    for (size_t i = 0; i < PC_COUNT(known); i++)
        if (compression == known[i])
            return true;
    return false;
}

static void take_directory(struct walk *walk, size_t at, bool first)
{
    if (at > walk->count - 2)
        return;
    unsigned entries = get16(walk, at);
    if ((walk->count - at - 2) / 12 < entries)
        entries = (unsigned)((walk->count - at - 2) / 12);
    struct directory dir = {0};
    for (unsigned i = 0; i < entries; i++) {
        struct entry entry;
        if (read_entry(walk, at + 2 + (size_t)i * 12, &entry))
            take_entry(walk, &dir, &entry);
    }
    size_t next = at + 2 + (size_t)entries * 12;
    if (next <= walk->count - 4)
        enqueue(walk, get32(walk, next));

    struct pc_ifd_look *look = walk->look;
    bool sensor = dir.photometric == PHOTOMETRIC_CFA || dir.photometric == PHOTOMETRIC_LINEAR_RAW;
    // A file whose first picture is only a preview keeps its sensor data further in.
    look->holds_raw |= sensor || is_raw_compression(dir.compression) || (first && (dir.subfile & 1) != 0);
    if (sensor && (dir.subfile & 1) == 0) {
        look->has_bits |= dir.bits;
        look->has_cfa_pattern |= dir.cfa;
        look->has_black |= dir.black;
        look->has_white |= dir.white;
        look->is_linear_raw |= dir.photometric == PHOTOMETRIC_LINEAR_RAW;
    }
}

// DNG 1.4, "Mapping Camera Color Space to CIE XYZ Space": camera from XYZ = AnalogBalance CameraCalibration
// ColorMatrix. The matrix for D65 where the file has it, else the second, which by custom is the cooler
// light.
static void settle_matrix(struct walk *walk)
{
    int i = walk->has_colour[0] && (walk->illuminant[0] == ILLUMINANT_D65 || !walk->has_colour[1]) ? 0 : 1;
    if (!walk->has_colour[i])
        return;
    static const double unit[9] = {1, 0, 0, 0, 1, 0, 0, 0, 1};
    const double *calibration = walk->has_calibration[i] ? walk->calibration[i] : unit;
    for (int row = 0; row < 3; row++) {
        for (int col = 0; col < 3; col++) {
            double sum = 0;
            for (int k = 0; k < 3; k++)
                sum += calibration[row * 3 + k] * walk->colour[i][k * 3 + col];
            walk->look->camera_from_xyz[row][col] = walk->balance[row] * sum;
        }
    }
    walk->look->has_matrix = true;
}

void pc_ifd_look(const uint8_t *bytes, size_t count, struct pc_ifd_look *look)
{
    memset(look, 0, sizeof *look);
    if (count < 16 || !((bytes[0] == 'I' && bytes[1] == 'I') || (bytes[0] == 'M' && bytes[1] == 'M')))
        return;
    struct walk walk = {.bytes = bytes, .count = count, .big_endian = bytes[0] == 'M', .look = look};
    walk.balance[0] = walk.balance[1] = walk.balance[2] = 1;
    look->is_tiff = get16(&walk, 2) == 42;
    enqueue(&walk, get32(&walk, 4));
    for (int i = 0; i < walk.queued; i++)
        take_directory(&walk, walk.queue[i], i == 0);
    settle_matrix(&walk);
}
