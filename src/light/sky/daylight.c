// SPDX-License-Identifier: Apache-2.0
#include "light/sky/daylight.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "image/colour/colour.h"
#include "light/sky/daylight_priv.h"

const double pc_daylight_usual_pass_ratio = 0.85;

// How well such a reckoning meets a measured room, in diffuse light; and the haze of clear days about its
// mean.
static const double MODEL_RATIO = 0.20, HAZE_TOLERANCE = 0.06;
enum { FINE_BANDS = 8, COARSE_BANDS = 3 };

static const double node[] = {-0.8611363115940526, -0.3399810435848563, 0.3399810435848563,
                              0.8611363115940526};
static const double weight[] = {0.3478548451374538, 0.6521451548625461, 0.6521451548625461,
                                0.3478548451374538};
enum { NODES = PC_COUNT(node) };

struct pc_daylight_room pc_daylight_usual_room(void)
{
    return (struct pc_daylight_room){6.0, 4.0, 2.5, 0.60, 0.30, 0.80, 0.20, 0.20};
}

struct pc_daylight_care pc_daylight_usual_care(void)
{
    return (struct pc_daylight_care){.place = pc_sunlight_usual_care(),
                                     .glass_ratio = 0.05,
                                     .pass_ratio = 0.10,
                                     .walls_ratio = 0.10,
                                     .floor_ratio = 0.10,
                                     .ceiling_ratio = 0.10,
                                     .ground_ratio = 0.10,
                                     .skyline_ratio = 0.10,
                                     .scrim_stops = 1.0 / 6.0};
}

static double sky_cd_m2(const struct heaven *h, double azimuth_rad, double elevation_rad)
{
    return h->zenith_cd_m2 *
           pc_sky_luminance_ratio(h->type, azimuth_rad, elevation_rad, h->azimuth_rad, h->elevation_rad);
}

// Of the sun's beam on an upright surface.
static double beam_lx(const struct heaven *h, double facing_rad)
{
    return h->normal_lx * fmax(0.0, cos(h->elevation_rad) * cos(h->azimuth_rad - facing_rad));
}

// What falls on an upright surface from above the horizon, and what of it comes from the part that is not
// hidden.
struct upright {
    double open_lx, clear_lx, hidden_share_sr; // the hidden part as a configuration integral (pi: all)
};

static struct upright falls_on(const struct pc_opening_place *place, const struct heaven *h,
                               double facing_rad)
{
    enum { BANDS = 3, STEPS = 24 };
    struct upright u = {0.0, 0.0, 0.0};
    double band = 0.5 * PC_PI / BANDS;
    for (int i = 0; i < BANDS * NODES; i++) {
        double elevation = band * (i / NODES + 0.5 + 0.5 * node[i % NODES]);
        for (int j = 0; j < STEPS; j++) {
            double aside = PC_PI * ((j + 0.5) / STEPS - 0.5), azimuth = facing_rad + aside;
            double sr =
                0.5 * band * weight[i % NODES] * cos(elevation) * cos(elevation) * cos(aside) * PC_PI / STEPS;
            double lx = sr * sky_cd_m2(h, azimuth, elevation);
            bool hidden = elevation < pc_skyline_rad(place, azimuth);
            u.open_lx += lx;
            u.clear_lx += hidden ? 0.0 : lx;
            u.hidden_share_sr += hidden ? sr : 0.0;
        }
    }
    return u;
}

// What stands before the sky in the direction, as bright as its face towards the table is lit: by half a sky
// and the ground, and by the sun.
static double skyline_cd_m2(const struct pc_daylight_place *place, const struct heaven *h, double half_sky_lx,
                            double level_lx, double azimuth_rad)
{
    double lit_lx = half_sky_lx + beam_lx(h, azimuth_rad + PC_PI) + 0.5 * place->room.ground_ratio * level_lx;
    return place->room.skyline_ratio / PC_PI * lit_lx;
}

static double level_lx(const struct heaven *h, double horizontal_sr)
{
    return h->zenith_cd_m2 * horizontal_sr + h->normal_lx * fmax(0.0, sin(h->elevation_rad));
}

// The mean of the room's reflectances, all of it and its lower and upper half; the glass returns 0.15.
static void mean_reflectances(const struct pc_daylight_place *place, double *area_m2, double *mean,
                              double *lower, double *upper)
{
    const struct pc_daylight_room *r = &place->room;
    double flat = r->length_m * r->width_m, walls = 2.0 * (r->length_m + r->width_m) * r->ceiling_m,
           glass = 0.0;
    for (int i = 0; i < place->opening.opening_count; i++)
        glass += place->opening.opening[i].width_m * place->opening.opening[i].height_m;
    double opaque = fmax(0.0, walls - glass);
    *area_m2 = 2.0 * flat + walls;
    *mean = (flat * (r->floor_ratio + r->ceiling_ratio) + opaque * r->walls_ratio + glass * 0.15) / *area_m2;
    *lower = (flat * r->floor_ratio + 0.5 * walls * r->walls_ratio) / (flat + 0.5 * walls);
    *upper = (flat * r->ceiling_ratio + 0.5 * walls * r->walls_ratio) / (flat + 0.5 * walls);
}

static bool sun_is_clear(const struct pc_opening_place *place, const struct heaven *h)
{
    return h->normal_lx > 0.0 && h->elevation_rad > pc_skyline_rad(place, h->azimuth_rad);
}

// Light thrown back: what enters from above lands below the window's middle, what comes from the ground above
// it.
static double thrown_back_lx(const struct pc_daylight_place *place, const struct heaven *h,
                             const struct upright falls[], double outside_lx)
{
    double area_m2, mean, lower, upper, flux_lm = 0.0;
    mean_reflectances(place, &area_m2, &mean, &lower, &upper);
    for (int i = 0; i < place->opening.opening_count; i++) {
        const struct pc_opening *o = &place->opening.opening[i];
        double diffuse = pc_glass_diffuse_ratio(&place->glass[i]) * place->pass_ratio;
        double hidden_cd_m2 = skyline_cd_m2(place, h, falls[i].open_lx, outside_lx, o->facing_rad);
        double from_above_lx = falls[i].clear_lx + hidden_cd_m2 * falls[i].hidden_share_sr;
        double from_below_lx = 0.5 * place->room.ground_ratio * outside_lx;
        double lm = diffuse * (from_above_lx * lower + from_below_lx * upper);
        if (sun_is_clear(&place->opening, h)) {
            double lx = beam_lx(h, o->facing_rad);
            if (lx > 0.0)
                lm += lower * place->pass_ratio * lx *
                      pc_glass_ratio(&place->glass[i], acos(fmin(1.0, lx / h->normal_lx)));
        }
        flux_lm += lm * o->width_m * o->height_m;
    }
    return flux_lm / (area_m2 * (1.0 - mean));
}

// What is seen through a small piece of an opening, the piece and its light as from the point.
static void see_piece(const struct pc_daylight_place *place, const struct heaven *h, int i,
                      const double to_m[3], double piece_m2, const struct upright *falls, double outside_lx,
                      const double point_m[3], struct brought *brought)
{
    const struct pc_opening *o = &place->opening.opening[i];
    double distance2 = to_m[0] * to_m[0] + to_m[1] * to_m[1] + to_m[2] * to_m[2], distance = sqrt(distance2);
    double direction[3] = {to_m[0] / distance, to_m[1] / distance, to_m[2] / distance};
    double square = direction[0] * sin(o->facing_rad) + direction[1] * cos(o->facing_rad);
    if (direction[2] <= 0.0 || square <= 0.0 ||
        pc_opening_seen_through(&place->opening, point_m, direction) != i)
        return;
    double azimuth = atan2(direction[0], direction[1]), elevation = asin(fmin(1.0, direction[2]));
    double part = piece_m2 * square / distance2 * direction[2] * place->pass_ratio *
                  pc_glass_ratio(&place->glass[i], acos(fmin(1.0, square)));
    if (elevation > pc_skyline_rad(&place->opening, azimuth))
        brought->sky_lx += part * sky_cd_m2(h, azimuth, elevation);
    else
        brought->skyline_lx += part * skyline_cd_m2(place, h, falls->open_lx, outside_lx, azimuth);
}

static void see_through(const struct pc_daylight_place *place, const struct heaven *h, int i, int bands,
                        const struct upright *falls, double outside_lx, struct brought *brought)
{
    const struct pc_opening *o = &place->opening.opening[i];
    double point_m[3], out[2] = {sin(o->facing_rad), cos(o->facing_rad)};
    pc_opening_hero(&place->opening.table, point_m);
    // Only what stands above the table lights it.
    double low_m = fmax(o->sill_m, point_m[2]), high_m = o->sill_m + o->height_m;
    double wide = o->width_m / bands, tall = (high_m - low_m) / bands;
    for (int a = 0; a < bands * NODES; a++)
        for (int b = 0; b < bands * NODES; b++) {
            double u = o->aside_m - 0.5 * o->width_m + wide * (a / NODES + 0.5 + 0.5 * node[a % NODES]);
            double z = low_m + tall * (b / NODES + 0.5 + 0.5 * node[b % NODES]);
            double to_m[3] = {o->away_m * out[0] + u * out[1] - point_m[0],
                              o->away_m * out[1] - u * out[0] - point_m[1], z - point_m[2]};
            see_piece(place, h, i, to_m, 0.25 * wide * tall * weight[a % NODES] * weight[b % NODES], falls,
                      outside_lx, point_m, brought);
        }
}

static struct brought brought_with(const struct pc_daylight_place *place, const struct heaven *h, int bands,
                                   double horizontal_sr)
{
    struct brought brought = {0.0, 0.0, 0.0};
    struct upright falls[PC_OPENINGS_MAX];
    double outside_lx = level_lx(h, horizontal_sr);
    for (int i = 0; i < place->opening.opening_count; i++) {
        falls[i] = falls_on(&place->opening, h, place->opening.opening[i].facing_rad);
        see_through(place, h, i, bands, &falls[i], outside_lx, &brought);
    }
    brought.room_lx = thrown_back_lx(place, h, falls, outside_lx);
    return brought;
}

struct brought pc_daylight_brought(const struct pc_daylight_place *place, const struct heaven *heaven,
                                   int bands)
{
    return brought_with(place, heaven, bands,
                        pc_sky_horizontal_sr(heaven->type, heaven->azimuth_rad, heaven->elevation_rad));
}

static struct heaven heaven_of(int type, const struct pc_sun *sun, double sky_lx, double horizontal_sr,
                               double normal_lx)
{
    return (struct heaven){.type = type,
                           .zenith_cd_m2 = sky_lx / horizontal_sr,
                           .normal_lx = normal_lx,
                           .azimuth_rad = sun->azimuth_rad,
                           .elevation_rad = sun->elevation_rad};
}

static double sum_lx(const struct brought *b)
{
    return b->sky_lx + b->skyline_lx + b->room_lx;
}

// The beam that reaches the hero by the opening, on a level surface.
static double direct_lx(const struct pc_daylight_place *place, const struct pc_sun *sun, double normal_lx,
                        int opening)
{
    double square =
        cos(sun->elevation_rad) * cos(sun->azimuth_rad - place->opening.opening[opening].facing_rad);
    return normal_lx * sin(sun->elevation_rad) *
           pc_glass_ratio(&place->glass[opening], acos(fmax(0.0, square)));
}

// The opening by which the sun's middle is seen from the hero, or -1.
static int sun_opening(const struct pc_daylight_place *place, const struct pc_sun *sun)
{
    double point_m[3], direction[3];
    pc_opening_hero(&place->opening.table, point_m);
    pc_direction(sun->azimuth_rad, sun->elevation_rad, direction);
    if (sun->elevation_rad <= pc_skyline_rad(&place->opening, sun->azimuth_rad))
        return -1;
    return pc_opening_seen_through(&place->opening, point_m, direction);
}

static double within(double value, double low, double high)
{
    return fmax(low, fmin(high, value));
}

static void move_place(const struct pc_daylight_place *from, const double x[], struct pc_daylight_place *to)
{
    *to = *from;
    pc_sunlight_put_off(&from->opening, x, &to->opening);
    to->pass_ratio = within(from->pass_ratio + x[IN_PASS], 0.0, 1.0);
    struct pc_daylight_room *room = &to->room;
    room->walls_ratio = within(room->walls_ratio + x[IN_WALLS], 0.0, 0.95);
    room->floor_ratio = within(room->floor_ratio + x[IN_FLOOR], 0.0, 0.95);
    room->ceiling_ratio = within(room->ceiling_ratio + x[IN_CEILING], 0.0, 0.95);
    room->ground_ratio = within(room->ground_ratio + x[IN_GROUND], 0.0, 1.0);
    room->skyline_ratio = within(room->skyline_ratio + x[IN_OUTSIDE], 0.0, 1.0);
    to->scrim_stops = fmax(0.0, from->scrim_stops + x[IN_SCRIM]);
}

bool pc_daylight_answer(const void *given, const double x[], double y[])
{
    const struct daylight_given *g = given;
    const struct pc_sun *sun = g->sun;
    struct pc_daylight_place place;
    move_place(g->place, x, &place);
    struct pc_sky_light overcast = pc_sky_light_at(PC_SKY_IS_OVERCAST, sun->elevation_rad, g->day_of_year);
    struct pc_sky_light clear = pc_sky_light_at(PC_SKY_IS_CLEAR, sun->elevation_rad, g->day_of_year);
    double normal_lx = clear.normal_lx * exp(-x[IN_HAZE] * pc_sky_air_mass(sun->elevation_rad));
    struct heaven grey = heaven_of(PC_SKY_OVERCAST, sun, overcast.sky_lx, g->outside_sr[0], 0.0);
    struct heaven blue = heaven_of(PC_SKY_CLEAR, sun, clear.sky_lx, g->outside_sr[1], normal_lx);
    struct brought from_grey = brought_with(&place, &grey, g->bands, g->outside_sr[0]);
    struct brought from_blue = brought_with(&place, &blue, g->bands, g->outside_sr[1]);
    double through = (1.0 + x[IN_GLASS]) * (1.0 + x[IN_MODEL]);
    y[OUT_OVERCAST] = sum_lx(&from_grey) * through;
    y[OUT_CLEAR] = sum_lx(&from_blue) * through;
    y[OUT_FACTOR] = 100.0 * y[OUT_OVERCAST] / overcast.sky_lx;
    int opening = sun_opening(g->place, sun);
    y[OUT_DIRECT] = opening < 0 ? 0.0 : direct_lx(&place, sun, normal_lx, opening) * (1.0 + x[IN_GLASS]);
    y[OUT_SCRIMMED] = y[OUT_DIRECT] * exp2(-place.scrim_stops);
    return true;
}

void pc_daylight_care_ins(const struct pc_daylight_care *care, double tolerance[IN_COUNT])
{
    pc_sunlight_care_offs(&care->place, tolerance);
    tolerance[IN_GLASS] = care->glass_ratio;
    tolerance[IN_PASS] = care->pass_ratio;
    tolerance[IN_WALLS] = care->walls_ratio;
    tolerance[IN_FLOOR] = care->floor_ratio;
    tolerance[IN_CEILING] = care->ceiling_ratio;
    tolerance[IN_GROUND] = care->ground_ratio;
    tolerance[IN_OUTSIDE] = care->skyline_ratio;
    tolerance[IN_SCRIM] = care->scrim_stops;
    tolerance[IN_MODEL] = MODEL_RATIO;
    tolerance[IN_HAZE] = HAZE_TOLERANCE;
}

struct daylight_given pc_daylight_given(const struct pc_daylight_place *place, const struct pc_sun *sun,
                                        int day_of_year, int bands)
{
    return (struct daylight_given){
        place,
        sun,
        day_of_year,
        bands,
        {pc_sky_horizontal_sr(PC_SKY_OVERCAST, sun->azimuth_rad, sun->elevation_rad),
         pc_sky_horizontal_sr(PC_SKY_CLEAR, sun->azimuth_rad, sun->elevation_rad)}};
}

static void add_light(struct pc_sky_colour colour, double lx, double xyz[3])
{
    double uv[2];
    pc_colour_uv_from_cct(colour.cct_K, colour.duv, uv);
    // x, y of CIE 1931 from u, v of CIE 1960 (CIE 15).
    double base = 2.0 * uv[0] - 8.0 * uv[1] + 4.0, one[3];
    double xy[2] = {3.0 * uv[0] / base, 2.0 * uv[1] / base};
    pc_colour_xyz_from_xy(xy, lx, one);
    for (int k = 0; k < 3; k++)
        xyz[k] += one[k];
}

// The CCT of sky and sun together; NAN where that means nothing.
static double mixed_K(struct pc_sky_colour sky, double sky_lx, struct pc_sky_colour sun, double sun_lx)
{
    double xyz[3] = {0.0, 0.0, 0.0}, uv[2], cct_K = (double)NAN, duv;
    add_light(sky, sky_lx, xyz);
    add_light(sun, sun_lx, xyz);
    return pc_colour_uv_from_xyz(xyz, uv) && pc_colour_cct_from_uv(uv, &cct_K, &duv) ? cct_K : (double)NAN;
}

bool pc_daylight_colours(const void *given, const double x[], double y[])
{
    const struct mixed *m = given;
    struct pc_sky_colour sky = pc_sky_colour_of_clear(m->sun_elevation_rad);
    struct pc_sky_colour sun = pc_sky_colour_of_sun(m->sun_elevation_rad);
    sky.cct_K *= 1.0 + x[MIX_SKY];
    sun.cct_K *= 1.0 + x[MIX_SUN];
    double sun_lx = m->sun_lx * (1.0 + x[MIX_SHARE]);
    y[MIX_CLEAR_K] = mixed_K(sky, m->sky_lx, sun, sun_lx);
    y[MIX_DIRECT_K] = mixed_K(sky, m->sky_lx, sun, sun_lx + m->direct_lx);
    return true;
}

const double pc_daylight_mix_care[MIX_COUNT] = {[MIX_SKY] = 0.05, [MIX_SUN] = 0.05, [MIX_SHARE] = 1.0 / 3.0};

// Of what the clear day brings without the beam, the sun's part is what is left when the sky gives nothing.
// It is known to a third, as the room and the ground are; the colours to 5 %.
static void tell_colours(const struct daylight_given *g, struct pc_daylight *d)
{
    struct pc_sky_light clear = pc_sky_light_at(PC_SKY_IS_CLEAR, g->sun->elevation_rad, g->day_of_year);
    struct heaven sun_only = heaven_of(PC_SKY_CLEAR, g->sun, 0.0, 1.0, clear.normal_lx);
    struct brought by_sun = brought_with(g->place, &sun_only, g->bands, 0.0);
    double sun_lx = fmin(sum_lx(&by_sun), d->clear.lx), x[MIX_COUNT] = {0.0}, y[MIX_K_COUNT],
           tolerance[MIX_K_COUNT];
    struct mixed mixed = {g->sun->elevation_rad, d->clear.lx - sun_lx, sun_lx, d->direct.lx};
    bool answered = pc_tolerance(pc_daylight_colours, &mixed, MIX_COUNT, x, pc_daylight_mix_care, MIX_K_COUNT,
                                 y, tolerance);
    PC_ASSERT(answered);
    d->overcast_K = pc_sky_colour_of_overcast().cct_K;
    d->overcast_K_tolerance = pc_sky_overcast_spread_K;
    d->clear_K = y[MIX_CLEAR_K];
    d->clear_K_tolerance = tolerance[MIX_CLEAR_K];
    d->direct_K = d->sun_on_hero ? y[MIX_DIRECT_K] : (double)NAN;
    d->direct_K_tolerance = d->sun_on_hero ? tolerance[MIX_DIRECT_K] : (double)NAN;
}

// Whether sun_on_hero is the same with each figure of the place moved by its tolerance, both ways.
static bool is_sure(const struct pc_daylight_place *place, const struct pc_daylight_care *care,
                    const struct pc_sun *sun)
{
    double off[OFF_COUNT];
    bool here = sun_opening(place, sun) >= 0, sure = true;
    pc_sunlight_care_offs(&care->place, off);
    for (int i = 0; i < 2 * OFF_COUNT; i++) {
        double x[OFF_COUNT] = {0.0};
        struct pc_daylight_place other = *place;
        x[i / 2] = i % 2 ? -off[i / 2] : off[i / 2];
        pc_sunlight_put_off(&place->opening, x, &other.opening);
        sure = sure && (sun_opening(&other, sun) >= 0) == here;
    }
    return sure;
}

enum pc_status pc_daylight_at(const struct pc_daylight_place *place, const struct pc_daylight_care *care,
                              const struct pc_sun *sun, int day_of_year, struct pc_daylight *d,
                              struct pc_err *err)
{
    if (sun->elevation_rad <= 0.0)
        return pc_fail(
            err, PC_BAD_INPUT, NULL,
            "The sun is down at that time; by twilight the window gives a light that cannot be told.");
    double x[IN_COUNT] = {0.0}, care_of[IN_COUNT], y[OUT_COUNT], tolerance[OUT_COUNT], fine[OUT_COUNT];
    struct daylight_given given = pc_daylight_given(place, sun, day_of_year, COARSE_BANDS);
    pc_daylight_care_ins(care, care_of);
    bool answered = pc_tolerance(pc_daylight_answer, &given, IN_COUNT, x, care_of, OUT_COUNT, y, tolerance);
    PC_ASSERT(answered);
    given.bands = FINE_BANDS;
    pc_daylight_answer(&given, x, fine);
    struct pc_sky_light clear = pc_sky_light_at(PC_SKY_IS_CLEAR, sun->elevation_rad, day_of_year);
    *d = (struct pc_daylight){
        .outside_overcast_lx = pc_sky_light_at(PC_SKY_IS_OVERCAST, sun->elevation_rad, day_of_year).sky_lx,
        .outside_clear_lx = clear.sky_lx + clear.normal_lx * sin(sun->elevation_rad),
        .factor_pct = fine[OUT_FACTOR],
        .factor_pct_tolerance = tolerance[OUT_FACTOR],
        .overcast = {fine[OUT_OVERCAST], tolerance[OUT_OVERCAST]},
        .clear = {fine[OUT_CLEAR], tolerance[OUT_CLEAR]},
        .sun_on_hero = sun_opening(place, sun) >= 0,
        .sun_on_hero_sure = is_sure(place, care, sun),
        .direct = {fine[OUT_DIRECT], tolerance[OUT_DIRECT]},
        .scrimmed = {fine[OUT_SCRIMMED], tolerance[OUT_SCRIMMED]},
    };
    tell_colours(&given, d);
    return PC_OK;
}
