// SPDX-License-Identifier: Apache-2.0
// The heart: a set of parts, each a linear picture made by one light (or one emitter of it) alone, on one
// pixel grid. Light adds up, so any setting of the dials is a weighted sum of them.
//
// Made from a series of photographs here, or from a model elsewhere; nothing below can tell which.
#ifndef PC_LIGHT_PARTS_PARTS_H
#define PC_LIGHT_PARTS_PARTS_H

#include "image/align/align.h"
#include "light/parts/series.h"

struct pc_part {
    int light;
    int frame;         // of the series
    double dial_ratio; // at capture
    double kelvin_K;   // at capture, NAN where nobody said
    double time_s;
    double tolerance_ev;            // of its level as a whole: shutter time, ISO, aperture
    double ambient_tolerance_ratio; // of the ambient that was taken off
    struct pc_picture
        picture;          // at the reference exposure (a flash: one pop at the reference aperture and ISO)
    double clipped_ratio; // of its frame
};

enum { PC_PARTS_MOVED_MAX = 16 };

struct pc_parts {
    struct pc_series series;
    int part_count;
    struct pc_part
        part[PC_FRAMES_MAX]; // in time order; several of one light where it was taken at several dials
    // The ambient at the reference exposure, at its level in the last ambient frame.
    struct pc_picture ambient;
    double ambient_clipped_ratio;
    // Change of the ambient's level between two ambient frames one after the other, the largest there was,
    // signed.
    double drift_pct;
    int drift_from, drift_to; // frames; -1 with one ambient frame
    uint8_t *leave_out;       // height x width bytes: where something moved and nothing may be read
    uint8_t *unread; // the same, and where a part that is read clipped: all are read on the same pixels
    struct pc_buffer leave_out_buffer, unread_buffer;
    int moved_count;
    struct pc_moved moved[PC_PARTS_MOVED_MAX];
    int moved_frame[PC_PARTS_MOVED_MAX]; // the first frame that shows it moved, as far as can be told; else
                                         // -1
    double registered_px;                // 95 %, the worst of the frames, full-resolution pixels
    double largest_shift_px;             // of a frame against the reference
    bool has_xyz;
    double xyz_from_camera[3][3]; // a neutral that reaches the sensor's saturation has Y = 1
    double neutral_ratio[3];      // camera colour of a grey under the light the camera was set for, green = 1
    bool has_neutral;
    double reference_shutter_s, reference_fnumber, reference_iso; // NAN where no frame says
};

// Reads, registers, normalises and subtracts. Frames over about 1.5 megapixels are averaged down to that, so
// that eight of 45 megapixels fit in a gigabyte. The series is copied; its arena must outlive the parts.
// PC_BAD_INPUT: the ambient changed by more than 15 % (both frames named), a frame shows another view.
// *hand_held (may be NULL) is set when the only trouble is that frames cannot be laid over each other.
enum pc_status pc_parts_make(struct pc_ctx *ctx, struct pc_photo_reader *reader,
                             const struct pc_series *series, struct pc_parts *parts, struct pc_notes *notes,
                             bool *hand_held, struct pc_err *err) PC_MUST_CHECK;
void pc_parts_finish(struct pc_parts *parts); // zeroed or NULL is fine

// One more frame laid on the parts' grid at the reference exposure: a closing frame.
struct pc_laid {
    struct pc_picture picture; // the caller's to finish
    struct pc_facts facts;
    double shutter_ratio; // its shutter time over the reference's, by what it says; 1 where no frame says any
    double gain_ratio;    // the same of ISO and aperture; its sensor values were divided by both
    double clipped_ratio;
};
enum pc_status pc_parts_lay(struct pc_ctx *ctx, struct pc_photo_reader *reader, const struct pc_parts *parts,
                            const char *path, struct pc_laid *laid, struct pc_err *err) PC_MUST_CHECK;

// The same of a frame that was read already and averaged down to the parts' grid. picture is taken, whatever
// comes back.
enum pc_status pc_parts_lay_picture(struct pc_ctx *ctx, const struct pc_parts *parts,
                                    struct pc_picture *picture, const struct pc_facts *facts,
                                    const char *name, struct pc_laid *laid, struct pc_err *err) PC_MUST_CHECK;

// Luminance (Y) of a camera colour by the parts' matrix; the green channel where there is none.
double pc_parts_Y(const struct pc_parts *parts, const double camera[3]);

// Fills the table of readings: radius_px of the discs at the places, 0: 1 % of the picture's width. Parts of
// one light at several dials give its curve; two with kelvins give its two emitters. PC_BAD_INPUT when a
// place lies outside the picture, where something moved, or is clipped in a part.
enum pc_status pc_parts_read(const struct pc_parts *parts, const struct pc_place *places, int place_count,
                             double radius_px, struct pc_reading *reading, struct pc_notes *notes,
                             struct pc_err *err) PC_MUST_CHECK;

// Which part stands for each emitter of a reading made by pc_parts_read, and its weight for one unit of that
// emitter at full dial (an emitter's light at full dial = weight * part).
struct pc_basis {
    int part[PC_EMITTERS_MAX];
    double per_full[PC_EMITTERS_MAX];
};
void pc_parts_basis(const struct pc_parts *parts, const struct pc_reading *reading, struct pc_basis *basis);

// Weighed picture: weights by emitter (of full dial) and of the ambient. out is initialised here, camera
// colour at the reference exposure; clipped where any part that goes in was clipped. Threads share the rows.
enum pc_status pc_parts_weigh(struct pc_ctx *ctx, const struct pc_parts *parts,
                              const struct pc_reading *reading, const double *weights, double ambient_weight,
                              struct pc_picture *out, struct pc_err *err) PC_MUST_CHECK;
// The kernel alone, on count floats: out = sum of weight[k] * in[k].
void pc_weigh_floats(int part_count, const float *const *in, const float *weight, float *out, size_t count);

#endif
