// SPDX-License-Identifier: Apache-2.0
// Which frame shows what: the series of the job put in order and checked, before a pixel is measured.
//
// By default time decides: the first and the last frame show the ambient only (the window), each between them
// one light and the ambient. What the photographer says of a frame goes before that.
#ifndef PC_LIGHT_PARTS_SERIES_H
#define PC_LIGHT_PARTS_SERIES_H

#include "base/arena.h"
#include "image/photo/photo.h"
#include "light/parts/reading.h"

enum { PC_FRAMES_MAX = 64, PC_NOTES_MAX = 48 };

// Sentences for the person: what was understood, corrected, left out, and what it costs.
struct pc_notes {
    struct pc_arena *arena; // kept
    const char *text[PC_NOTES_MAX];
    int count;
};
void pc_notes_add(struct pc_notes *notes, const char *fmt, ...) PC_PRINTF(2, 3); // beyond the last: dropped

enum pc_role {
    PC_ROLE_BY_TIME, // only in what was said: not said
    PC_ROLE_AMBIENT,
    PC_ROLE_LIGHT,
    PC_ROLE_FLASH,
};

// What the photographer said of one frame.
struct pc_said {
    const char *path; // as in the list of frames, borrowed
    enum pc_role role;
    const char *light; // its name, borrowed; NULL for ambient
    double dial_ratio; // NAN: not said
    double kelvin_K;   // NAN: not said
};

struct pc_series_frame {
    const char *path; // in the arena
    const char *name; // the part after the last slash
    enum pc_role role;
    int light;         // into light[], -1 for ambient
    double dial_ratio; // 1 where nobody said
    double kelvin_K;   // NAN where nobody said
    struct pc_facts facts;
    double time_s;               // from the facts, or the place in the list when a frame has no time
    double shutter_s;            // the true time as far as it is known; 1 when no frame says any
    double shutter_tolerance_ev; // against the reference frame's
};

struct pc_series {
    int frame_count;
    struct pc_series_frame frame[PC_FRAMES_MAX]; // in time order
    int light_count;
    struct {
        char name[48];
        bool flash;
        bool dials_said; // at least one frame's dial was given
    } light[PC_LIGHTS_MAX];
    int reference; // the first ambient frame
    bool has_exposure, has_aperture, has_iso;
    bool linear; // TIFF and PNG are declared to hold linear light
};

struct pc_series_wish {
    const char *const *paths; // the frames, at least those to be used; other files are passed over
    int path_count;
    const char *folder; // named in errors; NULL when the frames were listed
    const char *actual; // a closing frame that may lie among them and is not part of the series; NULL
    const struct pc_said *said;
    int said_count;
    bool linear;
    bool partial; // no set to weigh: ambient frames or lights may be missing, and the first frame is then the
                  // reference
};

// Orders and checks. Tone-mapped files, mixed cameras or sizes, missing ambient or lights are refused by name
// with what to do. The arena holds the strings.
enum pc_status pc_series_make(struct pc_photo_reader *reader, struct pc_arena *arena,
                              const struct pc_series_wish *wish, struct pc_series *series,
                              struct pc_notes *notes, struct pc_err *err) PC_MUST_CHECK;

// Frames count as the same gain when aperture and ISO are those of the reference; this is the ratio of the
// light a frame's sensor value stands for, shutter aside: (ISO / ISO_ref) (N_ref / N)^2. 1 where unknown.
double pc_series_gain(const struct pc_series *series, int frame);
// The same for a frame outside the series.
double pc_series_gain_of(const struct pc_series *series, const struct pc_facts *facts);

// The exposure of a frame over the reference's: true shutter times and gain.
double pc_series_exposure(const struct pc_series *series, int frame);

// The ambient frames before and after a frame (the nearest one twice where there is but one side), and how
// far between them in time it lies, 0..1.
void pc_series_bracket(const struct pc_series *series, int frame, int *before, int *after,
                       double *between_ratio);

// A change of the ambient between two frames beyond which it cannot be taken off, and the refusal naming
// both.
extern const double pc_drift_refused_pct;
enum pc_status pc_series_refuse_drift(const struct pc_series *series, int a, int b, double pct,
                                      struct pc_err *err);

// True shutter times from what files say. Cameras count in thirds of a stop (2^(k/3) s) and write rounded
// names: 1/60 is 1/64, 0.09 EV. Sets shutter_s and shutter_tolerance_ev of every frame: a time that is no
// rounded name, or an APEX value that differs from the name, is believed; else thirds are assumed and the
// difference is carried.
void pc_shutter_resolve(struct pc_series *series);
// The same decided by light: measured is how much more light an ambient frame a holds than b, drift taken
// off. True when it tells the two readings apart; the series is then free of that tolerance.
bool pc_shutter_decide(struct pc_series *series, int a, int b, double measured_ratio);

// The true time of a frame outside the series, read as the series' own were.
double pc_shutter_like(const struct pc_series *series, const struct pc_facts *facts);

// The nearest time in whole thirds of a stop of 1 s.
double pc_shutter_third_s(double shutter_s);

#endif
