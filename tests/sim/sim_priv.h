// SPDX-License-Identifier: Apache-2.0
// What the files of the picture maker share among themselves.
#ifndef SIM_PRIV_H
#define SIM_PRIV_H

#include "sim.h"

#define SIM_PI 3.14159265358979323846

// ---- numbers ----

struct sim_vec {
    double x, y, z;
};

static inline struct sim_vec sim_vec(double x, double y, double z)
{
    return (struct sim_vec){x, y, z};
}

static inline struct sim_vec sim_add(struct sim_vec a, struct sim_vec b)
{
    return sim_vec(a.x + b.x, a.y + b.y, a.z + b.z);
}

static inline struct sim_vec sim_sub(struct sim_vec a, struct sim_vec b)
{
    return sim_vec(a.x - b.x, a.y - b.y, a.z - b.z);
}

static inline struct sim_vec sim_mul(struct sim_vec a, double s)
{
    return sim_vec(a.x * s, a.y * s, a.z * s);
}

static inline double sim_dot(struct sim_vec a, struct sim_vec b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static inline struct sim_vec sim_cross(struct sim_vec a, struct sim_vec b)
{
    return sim_vec(a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x);
}

static inline double sim_length(struct sim_vec a)
{
    return sqrt(sim_dot(a, a));
}

static inline struct sim_vec sim_unit(struct sim_vec a)
{
    return sim_mul(a, 1.0 / sim_length(a));
}

static inline double sim_clamp(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

// splitmix64 (Steele, Lea, Flood, OOPSLA 2014): a stream, and as a hash of up to three numbers.
static inline uint64_t sim_next(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static inline uint64_t sim_hash(uint64_t a, uint64_t b, uint64_t c)
{
    uint64_t s = a;
    s = sim_next(&s) ^ b;
    s = sim_next(&s) ^ c;
    return sim_next(&s);
}

static inline double sim_uniform(uint64_t *state)
{
    return (double)(sim_next(state) >> 11) * 0x1p-53;
}

static inline double sim_between(uint64_t *state, double low, double high)
{
    return low + (high - low) * sim_uniform(state);
}

double sim_normal(uint64_t *state);
// a x = b, 3 x 3, by elimination with pivoting; false when it cannot.
bool sim_solve3(const double a[3][3], const double b[3], double x[3]);

// ---- colour (spectrum.c) ----

struct sim_bands {
    double v[SIM_BANDS];
};

double sim_band_nm(int band);
// X, Y, Z of a spectrum (times a reflectance where that is not NULL); an equal-energy light of 1 has Y = 1.
void sim_xyz_from_bands(const struct sim_bands *light, const struct sim_bands *reflect, double xyz[3]);
// A light of this colour with Y = 1: warm-white or cold-white LED, or a glowing body or daylight.
struct sim_bands sim_light_bands(double cct_K, double duv, bool led);
// The same by chromaticity.
struct sim_bands sim_light_bands_xy(const double xy[2], double shape_K, bool led);
// A smooth reflectance whose colour under CIE D50 comes as near as can be to this Lab.
struct sim_bands sim_reflect_from_lab(const double lab[3]);
struct sim_bands sim_reflect_flat(double ratio);
void sim_lab_from_xyz(const double xyz[3], const double white[3], double lab[3]);
// The camera's filters; green of a D65 white with Y = 1 is 1.
void sim_filter_bands(const double hue_shift_nm[3], struct sim_bands filter[3]);
void sim_planck_uv(double T_K, double uv[2]);
extern const double sim_chart_lab[SIM_PATCHES][3];

// ---- area sources (area.c) ----

// A one-sided Lambertian rectangle: centre, half edges, the way it shines.
struct sim_panel {
    struct sim_vec centre, half_u, half_v, normal;
    double radius_m;
    double luminance; // cd/m2 at full
};

struct sim_panel sim_panel_at(struct sim_vec centre, struct sim_vec aim, double width_m, double tall_m);
// Illuminance at p facing n from a polygon of luminance 1, horizon clipped (Lambert's formula).
double sim_polygon_lx(const struct sim_vec *corner, int count, struct sim_vec p, struct sim_vec n);
double sim_panel_lx(const struct sim_panel *panel, struct sim_vec p, struct sim_vec n);

enum sim_blocker_kind { SIM_BLOCK_ELLIPSOID, SIM_BLOCK_DISC, SIM_BLOCK_HOLE, SIM_BLOCK_RECT };

struct sim_blocker {
    enum sim_blocker_kind kind;
    int thing;             // which thing it belongs to
    struct sim_vec centre; // discs and rectangles are level
    double radius_m,
        tall_m;      // ellipsoid: across and up; disc: radius, and how deep it is hollow below (a bowl)
    double hollow_m; // disc: radius of that hollow
    double half_u_m, half_v_m, cos_turn, sin_turn; // rectangle
    double bound_m;                                // of a sphere around it
};

// The share of the panel's light at p (facing n) that gets past the blockers, from `lines` lines across the
// panel, each solved exactly; offset 0..1 shifts the lines. Blockers of thing `self` are left out.
double sim_panel_visible(const struct sim_panel *panel, const struct sim_blocker *blocker, int count,
                         int self, struct sim_vec p, struct sim_vec n, int lines, double offset);

// ---- the table (table.c) ----

enum sim_material {
    SIM_M_BOARD_A,
    SIM_M_BOARD_B,
    SIM_M_TOP,
    SIM_M_CARD,
    SIM_M_PLATE_A,
    SIM_M_PLATE_B,
    SIM_M_HERO_A,
    SIM_M_HERO_B,
    SIM_M_NAPKIN_A,
    SIM_M_NAPKIN_B,
    SIM_M_BALL_A,
    SIM_M_BALL_B,
    SIM_M_LIQUID,
    SIM_M_FRAME,
    SIM_M_MIRROR, // reflectance pi: turns a luminance into itself
    SIM_M_PATCH,  // and the 23 after it
    SIM_MATERIALS = SIM_M_PATCH + SIM_PATCHES,
};

enum sim_thing {
    SIM_T_TOP,
    SIM_T_BOARD,
    SIM_T_CARD,
    SIM_T_HERO_CARD,
    SIM_T_SURFACE_CARD,
    SIM_T_CHART,
    SIM_T_NAPKIN,
    SIM_T_PLATE,  // the plate, or the bowl's rim
    SIM_T_SIDE,   // of the bowl, outside
    SIM_T_LIQUID, // and the bowl's inner wall
    SIM_T_DOME,
    SIM_T_BALL,
    SIM_T_NONE,
};

struct sim_hit {
    enum sim_thing thing;
    struct sim_vec p, n;
    uint8_t a, b;                    // materials
    float mix;                       // of b
    float mirror_ratio, rough_ratio; // how much of the light from the mirror's direction is sent on; 0: matt
};

enum { SIM_BLOCKERS_MAX = 10 };

// The table as it stands in one shot, and the camera that looks at it.
struct sim_stage {
    const struct sim_setup *setup;
    struct sim_flat flat[SIM_T_NAPKIN + 1]; // by thing
    double liquid_z_m, inner_radius_m;      // bowl
    double dome_z_m;                        // where the dome stands
    struct sim_vec eye, right, up, forward;
    double focal_px, centre_x_px, centre_y_px;
    int width_px, height_px; // upright
    double footprint_m;      // of a full-resolution pixel at the hero
    struct sim_blocker blocker[SIM_BLOCKERS_MAX];
    int blockers;
};

void sim_stage_init(struct sim_stage *stage, const struct sim_setup *setup, const struct sim_shot *shot);
void sim_stage_hit(const struct sim_stage *stage, double x_px, double y_px, struct sim_hit *hit);
bool sim_stage_project(const struct sim_stage *stage, struct sim_vec p, double *x_px, double *y_px);
struct sim_vec sim_stage_ray(const struct sim_stage *stage, double x_px, double y_px);
// A point of a flat thing, u and v from -1 to 1 across it.
struct sim_vec sim_flat_point(const struct sim_flat *flat, double u, double v);
// Materials of a hit from where it lies on its thing (m).
void sim_texture(const struct sim_setup *setup, double pixel_m, struct sim_hit *hit, double u, double v);
// What a mirror at a hit, seen along `ray`, shows of a panel: 0..1 of its luminance.
double sim_panel_mirrored(const struct sim_panel *panel, struct sim_vec p, struct sim_vec n,
                          struct sim_vec ray, double rough_ratio);

// ---- scene and views (scene.c) ----

// What a camera sees of one stage: materials at full resolution (or every second pixel of large sensors) and
// the light of each lamp on a coarser grid.
struct sim_view {
    struct sim_shot key; // of its geometry only
    uint64_t used;
    struct sim_stage stage;
    int map_step, map_w, map_h;
    uint8_t *thing, *a, *b, *mix;
    int grid_step, grid_w, grid_h;
    struct sim_hit *grid;
    uint8_t *grid_thing;
    float *lx[SIM_LIGHTS_MAX + 1];     // per light at full; the last one is the window
    float *mirror[SIM_LIGHTS_MAX + 1]; // cd/m2 mirrored; NULL where nothing mirrors
    // Mean over the picture of vignetted light by material, for flare.
    double mean[SIM_LIGHTS_MAX + 1][SIM_MATERIALS];
};

enum { SIM_VIEWS = 3 };

struct sim_scene {
    struct sim_setup setup;
    struct sim_bands emitter[SIM_EMITTERS_MAX];
    struct sim_bands material[SIM_MATERIALS];
    struct sim_bands filter[3];
    double camera_from_xyz[3][3], neutral_ratio[3];
    struct sim_panel panel[SIM_LIGHTS_MAX + 1];
    double fill_lx[SIM_LIGHTS_MAX + 1]; // even light of each, one bounce or the room's
    // per lux: what a material sends to the camera (cd/m2, seen by the filters or as XYZ)
    double camera_colour[SIM_EMITTERS_MAX][SIM_MATERIALS][3];
    double xyz_colour[SIM_EMITTERS_MAX][SIM_MATERIALS][3];
    float normals[65536]; // quantiles of the normal law
    struct sim_view view[SIM_VIEWS];
    uint64_t clock;
};

// The view of a shot with the fields of all lights that are lit in it (and the window). NULL: no memory.
struct sim_view *sim_scene_view(struct sim_scene *scene, const struct sim_shot *shot);
// Panels (the window last) and the even light that each adds everywhere.
void sim_panels_make(const struct sim_setup *setup, struct sim_panel *panel, double *fill_lx);
struct sim_bands sim_emitter_bands(const struct sim_setup *setup, int emitter);
int sim_light_of_emitter(const struct sim_setup *setup, int emitter); // light_count: the window
// The lens's fall-off at a pixel: 1 in the middle.
double sim_vignette(const struct sim_view *view, double x_px, double y_px);
// Light of one lamp (at full) at a map point, between grid points of the same thing.
struct sim_blend {
    int at[4];
    float weight[4];
};
void sim_view_blend(const struct sim_view *view, int thing, double x_px, double y_px,
                    struct sim_blend *blend);
// Signal (1.0 = saturation) per cd/m2 of continuous light, or per cd s/m2 of flash.
double sim_signal_per_level(const struct sim_setup *setup, const struct sim_shot *shot, bool flash);
bool sim_light_used(const struct sim_setup *setup, const struct sim_shot *shot, int light);

// ---- the hand-held series (cards.c) ----

// Lays the surface card as someone with an eye for light would: beside the hero, clear of other things and of
// shadow edges, as near the surface's own place as can be.
void sim_lay_surface_card(struct sim_setup *setup);

// ---- faults (fault.c) ----

// Whether a shot's picture has to be whole before its faults can be drawn.
bool sim_fault_needs_all(const struct sim_fault *fault);
// Defocus, shake, the patch: on the upright picture (width x height x 3) as the lens would draw it sharp.
enum pc_status sim_fault_draw(const struct sim_view *view, const struct sim_shot *shot, float *rgb,
                              struct pc_err *err);
// What a site's signal is multiplied by.
double sim_fault_gain(const struct sim_setup *setup, const struct sim_fault *fault, int channel, int sy);

// ---- frames (frame.c) ----

// The noiseless signal of every site of the active sensor, as stored (width x height); the caller's.
enum pc_status sim_signal(struct sim_scene *scene, const struct sim_shot *shot, float *signal,
                          struct pc_err *err);
// Upright pixel of a sensor site.
void sim_sensor_from_upright(const struct sim_camera *camera, int ux, int uy, int *sx, int *sy);
void sim_upright_from_sensor(const struct sim_camera *camera, int sx, int sy, int *ux, int *uy);
int sim_site_channel(const struct sim_camera *camera, int sx, int sy);

#endif
