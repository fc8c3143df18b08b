// SPDX-License-Identifier: Apache-2.0
#include "image/camera/expose_ways.h"

#include "base/tolerance.h"
#include "base/units.h"
#include "image/camera/depth.h"
#include "image/camera/expose_blur.h"
#include "image/camera/mains.h"

const struct pc_cost_limits pc_cost_limits[PC_COSTS] = {
    [PC_COST_DEPTH] = {0.0, 0.3},
    [PC_COST_SPOT] = {1.0, 1.6},
    [PC_COST_MOTION] = {2.0, 6.0},
    [PC_COST_HAND] = {2.0, 6.0},
    [PC_COST_RIPPLE] = {2.0, 6.0},
    [PC_COST_NOISE] = {1 / PC_NOISE_SNR_EXCELLENT, 1 / PC_NOISE_SNR_ACCEPTABLE},
};

// Mid grey of a right exposure, of saturation: q C rho / (78 pi) with the constants of expose.h and meter.h.
static const double MID_GREY_LEVEL_RATIO = 0.65 * PC_EXPOSE_C_LX * 0.18 / (78.0 * PC_PI);
static const double MISFIT_EV = 1.0 / 6.0 + 1e-6; // half a step of the dials
// Below this the picture of the steady light is too faint beside the flash's to be seen as a smear.
static const double GHOST_EV = -5.0;
static const double RUINS = 3.0;                  // times what may be seen
static const double USUAL_DURATION_S = 1.0 / 800; // of a flash that says nothing: assumed
static const double UNKNOWN_PUPIL_RATIO = 1.0, UNKNOWN_PUPIL_TOLERANCE = 0.3; // as depth.h takes it

static bool uses_flash_alone(const struct pc_way *way)
{
    return way->flash && way->ambient_ev < GHOST_EV;
}

enum {
    LUX,
    MARKED,
    SPEED,
    MAGNIFICATION,
    MODULATION,
    HZ,
    FULL_WELL,
    READ_NOISE,
    HAND,
    STOP, // the aperture's true f-number over its mark's
    COC,
    PUPIL,
    GIVEN
};
enum { AMBIENT = PC_COSTS, ANSWERS };

struct given {
    const struct pc_expose_ask *ask;
    const struct pc_way *way; // dials, power and effective_f are set
    bool flash_alone;
};

static double lacking_ratio(double sharp_m, double wanted_m)
{
    return fmax(0.0, 1.0 - sharp_m / wanted_m);
}

static double noise_of_mid_grey(const struct given *g, double full_well_e, double read_noise_e,
                                double ambient_ev)
{
    const struct pc_expose_ask *ask = g->ask;
    double light = exp2(ambient_ev) + (g->way->flash ? exp2(g->way->power.flash_ev) : 0.0);
    double electrons =
        fmin(MID_GREY_LEVEL_RATIO * light, 1.0) * full_well_e * ask->sensor.base_iso / g->way->iso.value;
    double averaged = fmax(1.0, pow(ask->sensor_px / ask->output_px, 2));
    return 1.0 / (pc_noise_snr(ask->sensor.gain_dn_per_e, read_noise_e, electrons) * sqrt(averaged));
}

static bool answer(const void *given, const double x[], double y[])
{
    const struct given *g = given;
    const struct pc_expose_ask *ask = g->ask;
    const struct pc_way *way = g->way;
    double open_s = way->shutter.value, px_per_m = ask->output_px / ask->sensor_width_m;
    double duration_s = isnan(ask->flash.duration_s) ? USUAL_DURATION_S : ask->flash.duration_s;
    double sees_s = g->flash_alone ? fmin(duration_s, open_s) : open_s;
    y[AMBIENT] = pc_expose_ambient_ev(x[LUX], way->effective_f, open_s, way->iso.value);
    double flash = way->flash ? exp2(way->power.flash_ev) : 0.0;
    double steady_share = exp2(y[AMBIENT]) / (exp2(y[AMBIENT]) + flash);
    y[PC_COST_DEPTH] = ask->depth_m > 0 ? lacking_ratio(way->sharp_m, ask->depth_m) : 0.0;
    y[PC_COST_SPOT] = 2.44 * PC_DEPTH_WAVELENGTH_M / x[COC] *
                      pc_expose_effective_f(x[STOP] * way->f.value, x[MAGNIFICATION], x[PUPIL]);
    y[PC_COST_MOTION] = fabs(pc_blur_moving_m(x[SPEED], x[MAGNIFICATION], sees_s)) * px_per_m;
    y[PC_COST_HAND] =
        ask->hand ? x[HAND] * pc_blur_hand_m(ask->focal_m, x[MAGNIFICATION], sees_s) * px_per_m : 0.0;
    y[PC_COST_RIPPLE] =
        ask->ripple_hz > 0 ? x[MODULATION] * steady_share * pc_mains_left_ratio(x[HZ], x[MARKED]) : 0.0;
    y[PC_COST_NOISE] = noise_of_mid_grey(g, x[FULL_WELL], x[READ_NOISE], y[AMBIENT]);
    return x[LUX] >= 0 && x[FULL_WELL] > 0 && x[MAGNIFICATION] > 0 && x[COC] > 0 && x[PUPIL] > 0;
}

static bool lacking(const void *given, const double x[], double y[])
{
    y[0] = lacking_ratio(x[0], *(const double *)given);
    return true;
}

static void grade(struct pc_way *way)
{
    for (int c = 0; c < PC_COSTS; c++)
        way->grade[c] = way->cost[c] <= pc_cost_limits[c].fine + 1e-9    ? PC_GRADE_FINE
                        : way->cost[c] <= pc_cost_limits[c].seen + 1e-9  ? PC_GRADE_SEEN
                        : way->cost[c] <= RUINS * pc_cost_limits[c].seen ? PC_GRADE_SPOILS
                                                                         : PC_GRADE_RUINS;
}

static bool weigh(const struct pc_expose_ask *ask, bool with_tolerance, struct pc_way *way)
{
    const struct pc_sensor *sensor = &ask->sensor;
    struct given given = {ask, way, uses_flash_alone(way)};
    double marked_s = way->shutter.marked;
    double x[GIVEN] = {ask->ambient_lx,
                       marked_s,
                       ask->speed_m_s,
                       ask->magnification_ratio,
                       ask->modulation_pct,
                       ask->ripple_hz,
                       sensor->full_well_e,
                       sensor->read_noise_e,
                       1.0,
                       1.0,
                       ask->coc_m,
                       isnan(ask->pupil_ratio) ? UNKNOWN_PUPIL_RATIO : ask->pupil_ratio};
    double x_tolerance[GIVEN] = {ask->ambient_lx_tolerance,
                                 fabs(way->shutter.value - marked_s),
                                 ask->speed_m_s_tolerance,
                                 ask->magnification_ratio_tolerance,
                                 ask->modulation_pct_tolerance,
                                 PC_MAINS_TOLERANCE_RATIO * ask->ripple_hz,
                                 sensor->full_well_e_tolerance,
                                 sensor->read_noise_e_tolerance,
                                 PC_BLUR_HAND_TOLERANCE_RATIO,
                                 PC_DEPTH_F_NUMBER_TOLERANCE_RATIO,
                                 PC_DEPTH_COC_TOLERANCE_RATIO * ask->coc_m,
                                 isnan(ask->pupil_ratio) ? UNKNOWN_PUPIL_TOLERANCE : 0.0};
    double y[ANSWERS], tolerance[ANSWERS] = {0};
    if (with_tolerance ? !pc_tolerance(answer, &given, GIVEN, x, x_tolerance, ANSWERS, y, tolerance)
                       : !answer(&given, x, y))
        return false;
    // From all of it sharp to less is an edge: what lies beyond counts as nothing.
    if (with_tolerance && ask->depth_m > 0)
        pc_tolerance_drawn(lacking, &ask->depth_m, 1, &way->sharp_m, &way->sharp_m_tolerance, 1,
                           &y[PC_COST_DEPTH], &tolerance[PC_COST_DEPTH]);
    memcpy(way->cost, y, sizeof way->cost);
    memcpy(way->cost_tolerance, tolerance, sizeof way->cost_tolerance);
    way->ambient_ev = y[AMBIENT];
    way->ambient_ev_tolerance = tolerance[AMBIENT];
    grade(way);
    return true;
}

// Sets the power so that steady light and flash together are right.
static bool set_flash(const struct pc_expose_ask *ask, struct pc_way *way)
{
    double steady = exp2(way->ambient_ev);
    if (!ask->has_flash || steady > 0.5 || way->shutter.value < ask->flash.sync_s * 0.98 ||
        way->ambient_ev > -ask->ambient_under_ev) // false when it does not matter (NAN)
        return false;
    pc_flash_setting_find(&ask->flash, log2(1.0 - steady), way->effective_f, way->iso.value, &way->power);
    return way->power.beyond_ev == 0.0;
}

static bool set_dials(const struct pc_expose_ask *ask, const struct pc_mark *f, const struct pc_mark *shutter,
                      const struct pc_mark *iso, bool flash, struct pc_way *way)
{
    double pupil_ratio = isnan(ask->pupil_ratio) ? UNKNOWN_PUPIL_RATIO : ask->pupil_ratio;
    if (ask->frames_hz > 0 && shutter->marked * ask->frames_hz > 1.001)
        return false;
    *way = (struct pc_way){.f = *f, .shutter = *shutter, .iso = *iso, .flash = flash};
    way->effective_f = pc_expose_effective_f(f->value, ask->magnification_ratio, pupil_ratio);
    way->ambient_ev = pc_expose_ambient_ev(ask->ambient_lx, way->effective_f, shutter->value, iso->value);
    way->sharp_m = way->sharp_m_tolerance = 0.0;
    return flash ? set_flash(ask, way) : ask->ambient_lx > 0;
}

static bool find_depth(const struct pc_expose_ask *ask, double f_number, double *sharp_m, double *tolerance_m)
{
    *sharp_m = *tolerance_m = 0.0;
    if (!(ask->depth_m > 0))
        return true;
    struct pc_depth_setup setup = {
        .focal_m = ask->focal_m,
        .f_number = f_number,
        .coc_m = ask->coc_m,
        .magnification_ratio = ask->magnification_ratio,
        .pupil_ratio = ask->pupil_ratio,
        .f_number_tolerance = PC_DEPTH_F_NUMBER_TOLERANCE_RATIO * f_number,
        .coc_m_tolerance = PC_DEPTH_COC_TOLERANCE_RATIO * ask->coc_m,
        .magnification_ratio_tolerance = ask->magnification_ratio_tolerance,
    };
    struct pc_depth depth;
    if (pc_depth_find(&setup, &depth, NULL) != PC_OK)
        return false;
    *sharp_m = fmin(depth.sharp_total_m, 1e3);
    *tolerance_m = isfinite(depth.sharp_total_m_tolerance) ? depth.sharp_total_m_tolerance : *sharp_m;
    return true;
}

bool pc_way_judge(const struct pc_expose_ask *ask, const struct pc_mark *f, const struct pc_mark *shutter,
                  const struct pc_mark *iso, bool flash, struct pc_way *way)
{
    return set_dials(ask, f, shutter, iso, flash, way) &&
           find_depth(ask, f->value, &way->sharp_m, &way->sharp_m_tolerance) && weigh(ask, true, way);
}

// The marks from least to most, or the one number that a dial stands at.
struct dial {
    const struct pc_mark *marks[PC_MARKS_SHUTTER];
    struct pc_mark own;
    int count;
};

static void read_dial(const struct pc_mark *marks, int count, double least, double most, struct dial *dial)
{
    dial->count = 0;
    for (int i = 0; i < count; i++)
        if (marks[i].marked >= least * 0.995 && marks[i].marked <= most * 1.005)
            dial->marks[dial->count++] = &marks[i];
    if (dial->count == 0 && least >= most) {
        dial->own = (struct pc_mark){"", least, least};
        dial->marks[dial->count++] = &dial->own;
    }
}

// Settings that expose right, with what they cost.
struct tried {
    struct pc_way *way;
    int count, room;
};

static void try_one(const struct pc_expose_ask *ask, const struct pc_way *dials, double sharp_m,
                    double sharp_m_tolerance, struct tried *tried)
{
    struct pc_way way = *dials;
    way.sharp_m = sharp_m;
    way.sharp_m_tolerance = sharp_m_tolerance;
    if ((!way.flash && fabs(way.ambient_ev) > MISFIT_EV) || !weigh(ask, false, &way))
        return;
    if (tried->count == tried->room) {
        tried->room = tried->room > 0 ? 2 * tried->room : 256;
        tried->way = realloc(tried->way, (size_t)tried->room * sizeof *tried->way);
        PC_ASSERT(tried->way != NULL);
    }
    tried->way[tried->count++] = way;
}

static void try_all(const struct pc_expose_ask *ask, struct tried *tried)
{
    struct dial f, shutter, iso;
    read_dial(pc_marks_f, PC_MARKS_F, ask->widest_f, ask->narrowest_f, &f);
    read_dial(pc_marks_shutter, PC_MARKS_SHUTTER, ask->shortest_s, ask->longest_s, &shutter);
    read_dial(pc_marks_iso, PC_MARKS_ISO, ask->least_iso, ask->most_iso, &iso);
    for (int i = 0; i < f.count; i++) {
        double sharp_m, sharp_m_tolerance;
        if (!find_depth(ask, f.marks[i]->value, &sharp_m, &sharp_m_tolerance))
            continue;
        for (int j = 0; j < shutter.count; j++)
            for (int k = 0; k < iso.count; k++)
                for (int flash = isnan(ask->ambient_under_ev) ? 0 : 1; flash < 2; flash++) {
                    struct pc_way dials;
                    if (set_dials(ask, f.marks[i], shutter.marks[j], iso.marks[k], flash == 1, &dials))
                        try_one(ask, &dials, sharp_m, sharp_m_tolerance, tried);
                }
    }
}

static int spoilt(const struct pc_way *way)
{
    int count = 0;
    for (int c = 0; c < PC_COSTS; c++)
        count += way->grade[c] >= PC_GRADE_SPOILS;
    return count;
}

static int sum_of_grades(const struct pc_way *way)
{
    int sum = 0;
    for (int c = 0; c < PC_COSTS; c++)
        sum += (int)way->grade[c];
    return sum;
}

// Grows with every cost, so that what has the least of it is as good in all costs as nothing else.
static double sum_of_costs(const struct pc_way *way)
{
    double sum = 0.0;
    for (int c = 0; c < PC_COSTS; c++)
        sum += way->cost[c] / pc_cost_limits[c].seen;
    return sum;
}

// Zero: the same class; 1: a's grades are as good everywhere and better somewhere; -1: the other way round;
// 2: neither.
static int compare_grades(const struct pc_way *a, const struct pc_way *b)
{
    bool a_better = false, b_better = false;
    for (int c = 0; c < PC_COSTS; c++) {
        a_better = a_better || a->grade[c] < b->grade[c];
        b_better = b_better || b->grade[c] < a->grade[c];
    }
    return a_better && b_better ? 2 : a_better ? 1 : b_better ? -1 : 0;
}

// Takes a setting into the ways: out goes what it beats.
static void take(struct pc_ways *ways, const struct pc_way *way)
{
    for (int i = 0; i < ways->count; i++) {
        int compared = compare_grades(way, &ways->way[i]);
        if (compared == -1 || (compared == 0 && sum_of_costs(way) >= sum_of_costs(&ways->way[i])))
            return;
        if (compared == 0 || compared == 1)
            ways->way[i--] = ways->way[--ways->count];
    }
    PC_ASSERT(ways->count < PC_WAYS_MAX);
    ways->way[ways->count++] = *way;
}

static int best_first(const void *a, const void *b)
{
    const struct pc_way *x = a, *y = b;
    int by_spoilt = spoilt(x) - spoilt(y), by_grades = sum_of_grades(x) - sum_of_grades(y);
    double by_costs = sum_of_costs(x) - sum_of_costs(y);
    return by_spoilt != 0 ? by_spoilt : by_grades != 0 ? by_grades : (by_costs > 0) - (by_costs < 0);
}

enum pc_status pc_ways_find(const struct pc_expose_ask *ask, struct pc_ways *ways, struct pc_err *err)
{
    struct tried tried = {0};
    try_all(ask, &tried);
    ways->count = 0;
    ways->tried = tried.count;
    for (int i = 0; i < tried.count; i++)
        take(ways, &tried.way[i]);
    free(tried.way);
    if (ways->count == 0 && !isnan(ask->ambient_under_ev))
        return pc_fail(
            err, PC_NOT_FOUND, NULL,
            "No setting of these dials puts %.6g lx %.3g stops under this flash; bring it nearer, or "
            "let less of the steady light in.",
            ask->ambient_lx, ask->ambient_under_ev);
    if (ways->count == 0)
        return pc_fail(err, PC_NOT_FOUND, NULL,
                       "No setting of these dials exposes %.6g lx right; give them more room, or more light.",
                       ask->ambient_lx);
    qsort(ways->way, (size_t)ways->count, sizeof ways->way[0], best_first);
    for (int i = 0; i < ways->count; i++)
        weigh(ask, true, &ways->way[i]);
    return PC_OK;
}
