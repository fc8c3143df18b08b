// SPDX-License-Identifier: Apache-2.0
// Frames of a table that never was: a plate under panels, a window and flash, photographed raw, with the
// truth about every light kept. For tests, benches and the demo only; it shares nothing with what it is used
// to judge but the file writers. docs/simulation.md says what it covers and what only real hardware can
// prove.
//
// World: metres; the hero stands at the origin of the table (z = 0, up is +z); the camera is at six o'clock
// (-y), three o'clock is +x. A place of a light is told by clock and tape: its hour as seen from above, the
// horizontal distance from the hero, and the height of its centre over the table; it faces the hero.
// Pictures: full-resolution upright pixels, origin at the top left corner of the top left pixel.
// Light is carried in SIM_BANDS spectral bands, so that cameras see colour as imperfectly as real ones do;
// everything is exactly linear in the level of each emitter until noise, clipping and rounding.
//
// Everything is plain data and deterministic: one set-up and one shot give the same bytes. A scene keeps what
// it has worked out, so one scene must not be used by two threads at once; two scenes may.
#ifndef SIM_H
#define SIM_H

#include "base/err.h"

enum {
    SIM_LIGHTS_MAX = 8,                        // panels and flash heads
    SIM_EMITTERS_MAX = 2 * SIM_LIGHTS_MAX + 1, // two an light at most, and the window
    SIM_SHOTS_MAX = 64,
    SIM_PATCHES = 24,
    SIM_BANDS = 16, // 400 to 700 nm, every 20
};

// ---- lights ----

enum sim_curve {
    SIM_CURVE_STRAIGHT,
    SIM_CURVE_POWER, // dial ^ curve_shape
    SIM_CURVE_S,     // a blend of the straight line and 3 d^2 - 2 d^3, curve_shape 0..1
    SIM_CURVE_DEAD,  // nothing below curve_shape, then straight
};

struct sim_light {
    char name[32];
    bool flash;      // its light comes in one pop and does not grow with the shutter time
    int emitters;    // 1, or 2: a warm and a cool one behind a kelvin setting
    double cct_K[2]; // with two the warmer first
    double duv[2];
    bool led[2];    // spectrum: blue peak and phosphor; else like a glowing body or daylight
    double clock_h; // 0..12
    double distance_m, height_m;
    double width_m, tall_m; // level upper and lower edges
    double full_lx_at_1m;   // on its axis at full dial; flash: lx s of one full pop
    enum sim_curve curve;
    double curve_shape;
    double sag_ratio;   // how much is lost in the end by warming up (0.05: 5 %), never for flash
    double sag_s;       // the time constant of it
    double on_since_s;  // on the clock of the shots: when it was switched on (may be negative)
    double kelvin_K;    // two emitters: as set in a series
    double boost_ratio; // two emitters: 0: as much light at every kelvin; 1: the stronger of the two is
                        // always at full
};

struct sim_window {
    double clock_h, distance_m, sill_m; // sill over the table
    double width_m, tall_m;             // upright pane
    double hero_lx;                     // horizontal at the hero, at time 0, pane and sky fill together
    double fill_ratio;                  // of hero_lx that comes evenly from all round (walls, ceiling)
    double cct_K, duv;
    double drift_ratio; // level at drift_s is 1 + drift_ratio times that at 0, linear in between and beyond
    double drift_s;
    double cloud_ratio;         // a cloud takes this much at its middle (0: none) ...
    double cloud_at_s, cloud_s; // ... and is a Gaussian in time of this standard deviation
};

// ---- the table ----

enum sim_hero {
    SIM_HERO_DOME,
    SIM_HERO_BOWL
}; // a dome on a plate; a dark bowl of liquid with a pale dome in it
enum sim_board { SIM_BOARD_WOOD, SIM_BOARD_PLASTER, SIM_BOARD_LINEN };

// A flat rectangle lying on the table.
struct sim_flat {
    bool there;
    double x_m, y_m;        // centre
    double width_m, deep_m; // before turning
    double turn_deg;
    double z_m; // height of its face
};

struct sim_table {
    enum sim_hero hero;
    double hero_radius_m, hero_tall_m; // of the dome (half an ellipsoid)
    double hero_lab[3];                // D50
    double hero_gloss_ratio;           // how much of a light is mirrored, 0: matt
    double hero_rough_ratio;           // softness of that mirror
    double plate_radius_m, plate_z_m;  // bowl: rim radius and rim height
    double plate_lab[3];
    enum sim_board board;
    double board_ratio;                 // mean reflectance
    double board_contrast_ratio;        // of its texture
    double board_width_m, board_deep_m; // beyond it a plain table top of 30 %
    struct sim_flat card;               // the 18 % grey card
    struct sim_flat hero_card;          // a second one laid over the hero, for the hand-held series only
    struct sim_flat surface_card;       // a third one laid at the surface, for the hand-held series only
    struct sim_flat chart;              // 24 patches, 6 x 4
    struct sim_flat napkin;             // striped
    bool ball;
    double ball_x_m, ball_y_m, ball_radius_m;
    double ball_lab[3];
    double surface_x_m, surface_y_m; // where the surface is read
};

// ---- the camera ----

struct sim_camera {
    char maker[32], model[32], serial[32];
    int width_px, height_px; // of the active sensor, as stored; even
    int orientation;         // 1, 3, 6, 8: 6 and 8 are upright pictures from a wide sensor
    int masked_left_px;      // even
    char cfa[5];             // "RGGB", "BGGR", "GRBG", "GBRG"
    double focal_mm, sensor_width_mm;
    double elevation_deg; // 20 to 90 (straight down)
    double distance_m;    // from the hero
    double black_dn, white_dn;
    double black_wander_dn; // standard deviation of the true black level from frame to frame
    double gain_dn_per_e;   // at ISO 100; grows with the true ISO
    double read_noise_e;
    double sensitivity_ev;  // true speed over the standard's (ISO 12232: H_sat = 78 / S)
    double iso_error_ev;    // how far ISO 200 is off twice ISO 100, and so on for each doubling
    double vignette_ratio;  // light lost at the corners
    double flare_ratio;     // of the frame's mean that lies over everything
    int dead_column;        // of the active sensor, -1: none
    double hue_shift_nm[3]; // of the three filters' peaks from the common ones
    bool nominal_shutter;   // ExposureTime holds the rounded name (1/60 for 1/64)
    bool apex;              // the file has ShutterSpeedValue and ApertureValue, true times
    bool lossless;          // compressed files
};

struct sim_setup {
    uint64_t seed; // of noise and textures
    int light_count;
    struct sim_light light[SIM_LIGHTS_MAX];
    struct sim_window window;
    struct sim_table table;
    struct sim_camera camera;
    double start_s;       // camera clock at time 0, seconds since 1970
    double step_s;        // between the frames of a series
    int shutter_thirds;   // of a series: the true time is 2^(thirds / 3) s
    bool shutters_differ; // one-light frames are exposed each for itself
    double fnumber, iso;
};

// ---- a shot ----

// What went wrong while it was taken. All zero: nothing.
struct sim_fault {
    double gain_ratio;    // a filter left on, an aperture that sticks: everything times this; 0 counts as 1
    double tint_ratio[3]; // all light through a coloured sheet, camera colours; 0 counts as 1
    // A lamp that pulses under a shutter that rolls down the sensor: rows times 1 + ratio sin(2 pi bands y).
    double bands, bands_ratio, bands_phase_rad;
    double shake_px[2]; // the picture slid evenly by this while the shutter was open
    // Blur discs grow by so many pixels a metre along the axis from the plane in focus, which lies behind_m
    // behind the hero. 0: all is sharp.
    double blur_px_per_m, behind_m;
    // A highlight or a mirrored window: this much of saturation more within the radius.
    double patch_px[2], patch_radius_px, patch_ratio[3];
};

struct sim_shot {
    char name[48]; // of the file, without its ending
    double time_s;
    int shutter_thirds; // true time 2^(thirds / 3) s
    double fnumber, iso;
    bool lit[SIM_LIGHTS_MAX]; // switched on, or (flash) fired
    double dial_ratio[SIM_LIGHTS_MAX];
    double kelvin_K[SIM_LIGHTS_MAX]; // two emitters only
    int pops[SIM_LIGHTS_MAX];        // flash: pops within the exposure; 0 counts as 1
    double window_ratio;             // blind: 1 open, 0 shut
    double move_m[3];                // camera moved from its place, world axes, and aimed at the hero again
    double turn_deg[3];              // then turned: right, up, clockwise about its axis
    double shift_px[2];  // picture content moves right and down by this (full resolution, upright)
    double napkin_px[2]; // napkin nudged so that its centre moves by this
    bool cards;          // the hand-held series' cards lie at the hero and at the surface
    bool no_card;        // the 18 % card (and chart) taken away
    bool jpeg_too;       // a tone-mapped JPEG is written beside the raw
    struct sim_fault fault;
    uint64_t noise_seed;
};

// ---- set-ups and series ----

// A sane set-up of its own for every seed: one to six lights, names, sizes, places, curves, textures, angle,
// camera, sensor pattern, orientation and faults all differ. Ambient drift 0 to 2.5 %, no cloud, no flash,
// 1200 x 800 pixels: change fields afterwards for anything else.
void sim_setup_seeded(struct sim_setup *setup, uint64_t seed);
// The demo: S1, beetroot broth in a black bowl on tarred oak, P1, P2, P3 and window W1.
void sim_setup_demo(struct sim_setup *setup);
// Changes the sensor's size (kept even) and nothing the picture shows.
void sim_setup_resize(struct sim_setup *setup, int width_px, int height_px);
// Turns a light into a flash whose full pop equals what the light gave in the series' shutter time.
void sim_setup_make_flash(struct sim_setup *setup, int light);
// Sets setup->shutter_thirds anew: the longest with which no one-light frame of the series comes nearer to
// saturation than headroom_ev. Call it after changing lights, window, aperture or ISO.
void sim_setup_expose(struct sim_setup *setup, double headroom_ev);

// A shot with everything of the set-up's series, the window only, at time 0.
void sim_shot_init(const struct sim_setup *setup, struct sim_shot *shot);
// The shutter (thirds) at which the brighter of a white dome at the hero and a white card at the surface (90
// %) lies headroom_ev below saturation.
int sim_shot_expose(const struct sim_setup *setup, const struct sim_shot *shot, double headroom_ev);

// Makes a shot the index-th of a series (from 0): its name ("003 P2"), its time, its noise.
void sim_shot_number(const struct sim_setup *setup, struct sim_shot *shot, int index, const char *what);

// The series of the job: window only, one frame a light (at dial, 1: full; flash fired), window only. The
// shots stand step_s apart and are named so that names sort in time order. Returns the count (light_count +
// 2).
int sim_series_job(const struct sim_setup *setup, double dial_ratio, struct sim_shot shots[SIM_SHOTS_MAX]);
// The same with two frames for each light of two emitters, "NAME-warm" and "NAME-cool", each emitter alone.
int sim_series_emitters(const struct sim_setup *setup, double dial_ratio,
                        struct sim_shot shots[SIM_SHOTS_MAX]);
// The job's series from the hand: cards at hero and surface, the camera moved by up to most_m and turned by
// up to most_deg (but still on the hero).
int sim_series_hand(const struct sim_setup *setup, double dial_ratio, double most_m, double most_deg,
                    struct sim_shot shots[SIM_SHOTS_MAX]);
// All lights on at new dials drawn from seed (and new kelvins where new_kelvins), after the series; exposed
// anew where no light is a flash. fired.
void sim_shot_held_out(const struct sim_setup *setup, uint64_t seed, bool new_kelvins, struct sim_shot *shot);
// One light at a given dial and kelvin.
void sim_shot_one_light(const struct sim_setup *setup, int light, double dial_ratio, double kelvin_K,
                        struct sim_shot *shot);
// From shots[first] on the napkin lies where it was nudged to.
void sim_series_nudge(struct sim_shot *shots, int count, int first, double dx_px, double dy_px);

// ---- pictures ----

struct sim_scene;

// setup is copied.
enum pc_status sim_scene_create(const struct sim_setup *setup, struct sim_scene **scene_out,
                                struct pc_err *err) PC_MUST_CHECK;
void sim_scene_destroy(struct sim_scene *scene);                        // NULL is fine
const struct sim_setup *sim_scene_setup(const struct sim_scene *scene); // borrowed

// The size of the picture after its orientation was applied, full resolution.
void sim_upright_size(const struct sim_setup *setup, int *width_px, int *height_px);

// Writes folder/NAME.dng (and NAME.jpg); name is the shot's.
enum pc_status sim_shoot(struct sim_scene *scene, const struct sim_shot *shot, const char *folder,
                         struct pc_err *err) PC_MUST_CHECK;
// Every shot and folder/truth.json (keys in docs/simulation.md). The folder is made.
enum pc_status sim_shoot_series(struct sim_scene *scene, const struct sim_shot *shots, int count,
                                const char *folder, struct pc_err *err) PC_MUST_CHECK;

// The frame's raw numbers as they go into the file, active area only, sensor orientation: width x height of
// the camera. mosaic is the caller's.
enum pc_status sim_mosaic(struct sim_scene *scene, const struct sim_shot *shot, uint16_t *mosaic,
                          struct pc_err *err) PC_MUST_CHECK;

// The same frame without noise, black, clipping and rounding, 2 x 2 binned and upright: (width/2) x
// (height/2) x 3, camera colours, 1.0 = saturation less black. With vignetting and flare, as the sensor gets
// them. rgb is the caller's.
enum pc_status sim_render(struct sim_scene *scene, const struct sim_shot *shot, float *rgb,
                          struct pc_err *err) PC_MUST_CHECK;
// One standard deviation of the noise of one full-resolution pixel at a level (1.0 = saturation) at an ISO.
double sim_noise_at(const struct sim_setup *setup, double iso, double level);

// ---- the truth ----

// Named places, full-resolution upright pixels of a shot (the camera may have moved).
enum sim_place {
    SIM_PLACE_HERO,    // on top of the dome, clear of its mirror image of the lights where it can be
    SIM_PLACE_SURFACE, // on the board
    SIM_PLACE_CARD,    // middle of the grey card
    SIM_PLACE_HERO_CARD,
    SIM_PLACE_SURFACE_CARD,
    SIM_PLACE_NAPKIN,
    SIM_PLACE_PLATE,
    SIM_PLACE_COUNT,
};
// False when it is not in the picture (or not on the table).
bool sim_place_px(struct sim_scene *scene, const struct sim_shot *shot, enum sim_place place, double *x_px,
                  double *y_px);
// How far a pixel's thing lies behind the hero, along the camera's axis.
double sim_behind_m(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px);
// Centre of a chart patch (1..24 in the usual order less 1), and the radius inside of it.
bool sim_patch_px(struct sim_scene *scene, const struct sim_shot *shot, int patch, double *x_px, double *y_px,
                  double *radius_px);
// The four corners of a card, full-resolution upright pixels, clockwise from its upper left.
bool sim_card_px(struct sim_scene *scene, const struct sim_shot *shot, enum sim_place card,
                 double corner_px[4][2]);

// Where on board or plate a light is seen least in the shadow of what stands in the middle, and how much of
// it is seen there (as visible_ratio below). False when there is no such shadow in the picture (a light from
// straight above, or wholly hidden from the camera).
bool sim_shadow_px(struct sim_scene *scene, const struct sim_shot *shot, int light, double *x_px,
                   double *y_px, double *visible_ratio);

// What is true at a pixel of a shot. Emitters: light i has 2 i (its only or warm one) and 2 i + 1, the window
// is 2 * light_count.
struct sim_truth {
    double xyz[3]; // of the light sent to the camera, Y in cd/m2 (flash: cd s/m2 over the true
                   // shutter time), no vignetting, no flare
    double emitter_xyz[SIM_EMITTERS_MAX][3]; // what each emitter adds to it
    double
        emitter_lx[SIM_EMITTERS_MAX]; // what falls there from it, on the face that is seen (flash as above)
    double visible_ratio[SIM_EMITTERS_MAX]; // how much of its face is seen from there: 0 in its full shadow
    double lx;                              // all together
    double reflect_ratio;                   // Y reflectance under an equal-energy light
    double camera_rgb[3];                   // as sim_render would have it at this one point, 1.0 = saturation
};
enum pc_status sim_truth_at(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px,
                            struct sim_truth *truth, struct pc_err *err) PC_MUST_CHECK;
// The mean over a disc.
enum pc_status sim_truth_disc(struct sim_scene *scene, const struct sim_shot *shot, double x_px, double y_px,
                              double radius_px, struct sim_truth *truth, struct pc_err *err) PC_MUST_CHECK;

// Light (0..1 of full) at a dial: the true curve.
double sim_light_curve(const struct sim_light *light, double dial_ratio);
// The true level of an emitter in a shot, relative to the emitter alone at full and cold: curve, kelvin, sag,
// pops; the window: its drift, cloud and blind.
double sim_emitter_level(const struct sim_setup *setup, const struct sim_shot *shot, int emitter);
// Correlated colour temperature (nearest in CIE 1960 uv) and Duv of an XYZ in this world.
void sim_cct_from_xyz(const double xyz[3], double *cct_K, double *duv);
// XYZ of an emitter, Y = 1.
void sim_emitter_xyz(const struct sim_setup *setup, int emitter, double xyz[3]);
double sim_shutter_s(const struct sim_shot *shot);         // true
double sim_shutter_nominal_s(const struct sim_shot *shot); // as named on the camera
// XYZ of a chart patch under CIE D50 as this world has it, Y = 1 for white, and its Lab.
void sim_patch_xyz(const struct sim_scene *scene, int patch, double xyz[3]);
void sim_patch_lab(const struct sim_scene *scene, int patch, double lab[3]);
// Linear camera colour (green of a D65 neutral = 1) from XYZ, as written into the file, and its as-shot
// neutral.
void sim_camera_matrix(const struct sim_scene *scene, double camera_from_xyz[3][3], double neutral_ratio[3]);

#endif
