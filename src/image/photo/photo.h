// SPDX-License-Identifier: Apache-2.0
// Photographs in. Every decode runs in a worker process that has no network and no files but the one it was
// handed, so that a hostile or broken file costs one error and nothing else. Originals are opened read-only.
#ifndef PC_IMAGE_PHOTO_PHOTO_H
#define PC_IMAGE_PHOTO_PHOTO_H

#include "image/photo/facts.h"
#include "image/picture/picture.h"

enum pc_photo_form {
    PC_FORM_RAW,
    PC_FORM_JPEG,
    PC_FORM_TIFF,
    PC_FORM_PNG,
    PC_FORM_HEIF,
};

enum pc_photo_want {
    PC_WANT_FACTS,   // no pixels
    PC_WANT_MEASURE, // raw: camera colour without demosaicing, binned 2 x 2 (3 x 3 on a 6 x 6 filter);
                     // others: as PC_WANT_PICTURE, binned 2 x 2
    PC_WANT_PICTURE, // full resolution: raw demosaiced to linear camera colour; others decoded to linear
                     // light
};

struct pc_photo {
    enum pc_photo_form form;
    bool tone_mapped; // not a linear record of light: no lux, share or cast may be read from it
    struct pc_facts facts;
    // Upright (orientation applied); empty after PC_WANT_FACTS. In a raw a pixel is marked clipped in a
    // channel when a photosite that goes into it reaches 99 % of the way from black to white; in the others
    // at the last code value.
    struct pc_picture picture;
    double black_dn, white_dn; // raw only, else NAN; black is the mean over the channels
    bool black_measured;       // from masked pixels of this very frame rather than from a tag
    bool black_by_default;     // a DNG that states none: the 0 that the specification gives it then
    bool has_xyz_from_camera;
    double xyz_from_camera[3]
                          [3]; // linear camera colour to XYZ, as the file's own matrix has it (D65 where two)
    bool has_neutral;
    double neutral_ratio[3]; // camera colour of a grey under the light the camera was set for, green = 1
};
void pc_photo_finish(struct pc_photo *photo); // zeroed or NULL is fine

struct pc_photo_limits {
    double time_s;       // for one file; 0: 60
    size_t memory_bytes; // address space of one worker; 0: 4 GiB
    int64_t pixels;      // most pixels in one file; 0: 200 million
};

struct pc_photo_reader;

// ctx is kept. limits may be NULL. Workers (one per context thread at most) start when first needed and are
// reused. The worker program is $PLATECALL_DECODER, or platecall-decode beside this program, or in
// ../libexec/platecall from it, or where the build tree has it.
enum pc_status pc_photo_reader_create(struct pc_ctx *ctx, const struct pc_photo_limits *limits,
                                      struct pc_photo_reader **reader, struct pc_err *err) PC_MUST_CHECK;
void pc_photo_reader_destroy(struct pc_photo_reader *reader); // ends the workers; NULL is fine

// A DNG that leaves out its bits per sample, filter pattern or white level gives facts, but its pixels are
// refused: the defaults would be guesses. One that leaves out its black level is read as the specification
// has it, and says so; where the decoder knows of another black for that camera it is refused. Without colour
// matrix or neutral, has_* are false.
//
// Reads one file; safe from several threads at once. linear: the caller declares that a TIFF or PNG holds
// linear light (ignored for the rest). Errors name the file and what to do: PC_NOT_FOUND, PC_IO, PC_BAD_INPUT
// (not a photograph, cut short, too large), PC_UNSUPPORTED (a camera newer than the decoder: says what to
// send instead), PC_TIMEOUT, PC_CRASHED, PC_NO_MEMORY. On failure *photo is zeroed.
enum pc_status pc_photo_read(struct pc_photo_reader *reader, const char *path, enum pc_photo_want want,
                             bool linear, struct pc_photo *photo, struct pc_err *err) PC_MUST_CHECK;

// As pc_photo_read for measuring, averaged down further by the whole factor that brings the picture nearest
// to about_pixels (0: not at all): what is not needed later takes neither time nor memory here. A pixel is
// clipped where any that went into it was.
enum pc_status pc_photo_measure(struct pc_photo_reader *reader, const char *path, int64_t about_pixels,
                                bool linear, struct pc_photo *photo, struct pc_err *err) PC_MUST_CHECK;

// True when the name ends like a photograph's; false for text, sidecars, archives and the rest.
bool pc_photo_name_is_photo(const char *path);
// True when the name ends like a raw file's.
bool pc_photo_name_is_raw(const char *path);

#endif
