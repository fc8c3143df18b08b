// SPDX-License-Identifier: Apache-2.0
// From parts to the table of readings at places.
#include "base/linalg.h"
#include "base/units.h"
#include "light/parts/blocks.h"
#include "light/parts/fit.h"
#include "light/parts/parts_priv.h"

static const double PLACE_RADIUS_RATIO = 0.01; // of the picture's width
static const double CLIPPED_NOTED_RATIO = 0.02, CLIPPED_REFUSED_RATIO = 0.5;
static const double REFLECT_TOLERANCE_EV = 0.3; // the window is taken to fall alike on all places
static const double SAME_KELVIN_RATIO = 0.02;
static const double FALL_NOTED_RATIO = 0.02;
static const double SHARE_FALL_NOTED_RATIO = 0.03;
// The two emitters of a panel send their light from nearly the same place, and only colour tells them apart.
// A drive less sure than this (95 %) is no measurement.
static const double LEAST_DRIVE_CERTAIN_RATIO = 0.1;
// Less sure than this (95 %) a frame says nothing of what its dial gives.
static const double LEAST_DIAL_CERTAIN_RATIO = 0.03;
// Lenses and dust spread up to this much of a picture's mean light over all of it (veiling glare, ISO 9358):
// a place in a light's shadow seems to get some.
static const double FLARE_RATIO = 0.02;
static const double LEAST_EMITTER_Y =
    1e-7; // under any sensor's noise: keeps ratios finite where a light is not seen

// The parts of one emitter: those of a light with the same kelvin.
struct group {
    int light;
    double kelvin_K;
    int parts[PC_FRAMES_MAX], count;
};

static bool same_kelvin(double a_K, double b_K)
{
    return (isnan(a_K) && isnan(b_K)) || fabs(a_K / b_K - 1.0) < SAME_KELVIN_RATIO;
}

static int gather_groups(const struct pc_parts *parts, int light, struct group *groups)
{
    int n = 0;
    for (int i = 0; i < parts->part_count; i++) {
        const struct pc_part *part = &parts->part[i];
        if (part->light != light)
            continue;
        int g = 0;
        while (g < n && !same_kelvin(groups[g].kelvin_K, part->kelvin_K))
            g++;
        if (g == n)
            groups[n++] = (struct group){.light = light, .kelvin_K = part->kelvin_K};
        groups[g].parts[groups[g].count++] = i;
    }
    return n;
}

// The part a curve and a weighing start from: the brightest that is not clipped more than the rest.
static int best_part(const struct pc_parts *parts, const struct group *group)
{
    int best = group->parts[0];
    for (int k = 1; k < group->count; k++) {
        const struct pc_part *p = &parts->part[group->parts[k]], *b = &parts->part[best];
        if (p->dial_ratio > b->dial_ratio && p->clipped_ratio <= b->clipped_ratio + CLIPPED_NOTED_RATIO)
            best = group->parts[k];
    }
    return best;
}

// A highlight that clips in one light's frame and not in another's would be in the one and not in the other.
void pc_parts_mark_unread(struct pc_parts *parts)
{
    struct group groups[PC_FRAMES_MAX];
    size_t pixels = (size_t)parts->ambient.width_px * (size_t)parts->ambient.height_px;
    memcpy(parts->unread, parts->leave_out, pixels);
    for (int light = 0; light < parts->series.light_count; light++) {
        int n = gather_groups(parts, light, groups), end[2] = {0, 0};
        for (int g = 0; g < n; g++) {
            end[0] = groups[g].kelvin_K < groups[end[0]].kelvin_K ? g : end[0];
            end[1] = groups[g].kelvin_K > groups[end[1]].kelvin_K ? g : end[1];
        }
        for (int e = 0; e < 2 && n > 0; e++) {
            const uint8_t *clipped = parts->part[best_part(parts, &groups[end[e]])].picture.clipped;
            for (size_t i = 0; i < pixels; i++)
                parts->unread[i] |= clipped[i];
        }
    }
}

static struct pc_curve group_curve(const struct pc_parts *parts, const struct group *group, const char *name,
                                   struct pc_notes *notes)
{
    double dial[PC_FRAMES_MAX], light[PC_FRAMES_MAX], fell;
    int best = best_part(parts, group);
    int n = 0;
    for (int k = 0; k < group->count; k++) {
        const struct pc_part *part = &parts->part[group->parts[k]];
        double ratio = 1.0, se = 0.0;
        bool sure = group->parts[k] == best ||
                    (pc_parts_light_ratio(parts, &parts->part[best].picture, &part->picture, &ratio, &se) &&
                     2.0 * se < LEAST_DIAL_CERTAIN_RATIO * ratio);
        if (!sure) {
            pc_notes_add(notes,
                         "%s shows too little of %s against the window to tell what it gives at %.0f %%.",
                         parts->series.frame[part->frame].name, name, 100.0 * part->dial_ratio);
            continue;
        }
        dial[n] = part->dial_ratio;
        light[n++] = ratio;
    }
    struct pc_curve curve = pc_fit_curve(dial, light, n, &fell);
    if (fell > FALL_NOTED_RATIO)
        pc_notes_add(
            notes,
            "%s gives %.0f %% less light at a higher dial in one of its frames; check which frame is which.",
            name, 100.0 * fell);
    if (curve.steep_below_ratio > 0.0)
        pc_notes_add(
            notes, "%s hardly gives light at its lowest dial; under %.0f %% its curve may be 7 to 14 %% off.",
            name, 100.0 * curve.steep_below_ratio);
    return curve;
}

static enum pc_status check_place(const struct pc_parts *parts, const struct pc_place *place,
                                  double radius_px, struct pc_err *err)
{
    const struct pc_picture *a = &parts->ambient;
    if (!(place->x_px >= 0 && place->y_px >= 0 && place->x_px < a->full_width_px &&
          place->y_px < a->full_height_px))
        return pc_fail(err, PC_BAD_INPUT, place->name,
                       "%.0f,%.0f lies outside the picture, which is %d x %d pixels.", place->x_px,
                       place->y_px, a->full_width_px, a->full_height_px);
    struct pc_level free_level, level;
    pc_picture_level(a, place->x_px, place->y_px, radius_px, NULL, &free_level);
    pc_picture_level(a, place->x_px, place->y_px, radius_px, parts->leave_out, &level);
    if (free_level.pixels == 0)
        return pc_fail(err, PC_BAD_INPUT, place->name,
                       "%.0f,%.0f is clipped in the window frames; give them less exposure.", place->x_px,
                       place->y_px);
    if (level.pixels * 2 < free_level.pixels)
        return pc_fail(
            err, PC_BAD_INPUT, place->name,
            "Something moved at %.0f,%.0f during the set, so nothing can be read there; choose another place "
            "or take the set again.",
            place->x_px, place->y_px);
    return PC_OK;
}

static void xyz_of(const struct pc_parts *parts, const struct pc_level *level, double xyz[3])
{
    if (parts->has_xyz) {
        pc_linalg_apply3(parts->xyz_from_camera, level->value, xyz);
    } else {
        for (int c = 0; c < 3; c++)
            xyz[c] = pc_parts_Y(parts, level->value);
    }
}

static double relative_se(const struct pc_parts *parts, const struct pc_level *level)
{
    int c = parts->ambient.channels == 3 ? 1 : 0; // luminance is mostly green, and so is its noise
    return level->se[c] / fmax(fabs(level->value[c]), LEAST_EMITTER_Y);
}

static double mean_Y(const struct pc_parts *parts, const struct pc_picture *picture)
{
    double sum[3] = {0.0, 0.0, 0.0};
    size_t n = (size_t)picture->width_px * (size_t)picture->height_px, channels = (size_t)picture->channels;
    for (size_t i = 0; i < n; i++)
        for (size_t c = 0; c < channels; c++)
            sum[c] += (double)picture->px[i * channels + c];
    return fmax(0.0, pc_parts_Y(parts, sum) / (double)n);
}

static enum pc_status read_part(const struct pc_parts *parts, int index, const struct pc_reading *reading,
                                double radius_px, double per_full, struct pc_reading_emitter *emitter,
                                struct pc_notes *notes, struct pc_err *err)
{
    const struct pc_part *part = &parts->part[index];
    const char *frame = parts->series.frame[part->frame].name;
    const double flare = FLARE_RATIO * mean_Y(parts, &part->picture);
    for (int p = 0; p < reading->place_count; p++) {
        const struct pc_place *place = &reading->place[p];
        struct pc_level level;
        pc_picture_level(&part->picture, place->x_px, place->y_px, radius_px, parts->leave_out, &level);
        double clipped_ratio = level.clipped_ratio;
        pc_picture_level(&part->picture, place->x_px, place->y_px, radius_px, parts->unread, &level);
        if (level.pixels == 0 || clipped_ratio > CLIPPED_REFUSED_RATIO)
            return pc_fail(err, PC_BAD_INPUT, frame,
                           "The %s is clipped in this frame, so its light cannot be measured there; take the "
                           "frame again "
                           "with less exposure.",
                           place->name);
        if (clipped_ratio > CLIPPED_NOTED_RATIO)
            pc_notes_add(notes, "%.0f %% of the %s is clipped in %s; the rest of it was measured.",
                         100.0 * clipped_ratio, place->name, frame);
        double xyz[3];
        xyz_of(parts, &level, xyz);
        for (int c = 0; c < 3; c++)
            emitter->xyz[p][c] = fmax(xyz[c], LEAST_EMITTER_Y) * per_full;
        double Y = fmax(xyz[1], LEAST_EMITTER_Y);
        double whole = 0.5 * part->tolerance_ev * log(2.0), glare = 0.5 * flare / Y;
        double drift = 0.5 * part->ambient_tolerance_ratio * reading->ambient_xyz[p][1] / Y;
        emitter->se_ratio[p] =
            sqrt(pow(relative_se(parts, &level), 2) + whole * whole + drift * drift + glare * glare);
    }
    return PC_OK;
}

static enum pc_status read_ambient(const struct pc_parts *parts, double radius_px, struct pc_reading *reading,
                                   struct pc_err *err)
{
    for (int p = 0; p < reading->place_count; p++) {
        PC_TRY(check_place(parts, &reading->place[p], radius_px, err));
        struct pc_level level;
        pc_picture_level(&parts->ambient, reading->place[p].x_px, reading->place[p].y_px, radius_px,
                         parts->unread, &level);
        xyz_of(parts, &level, reading->ambient_xyz[p]);
        for (int c = 0; c < 3; c++)
            reading->ambient_xyz[p][c] = fmax(reading->ambient_xyz[p][c], LEAST_EMITTER_Y);
        reading->ambient_se_ratio[p] = relative_se(parts, &level);
    }
    for (int p = 0; p < reading->place_count; p++)
        reading->reflect_ev[p] =
            pc_ev_from_ratio(reading->ambient_xyz[p][1] / reading->ambient_xyz[PC_PLACE_SURFACE][1]);
    reading->reflect_tolerance_ev = REFLECT_TOLERANCE_EV;
    return PC_OK;
}

// How a frame between the two ends drives each emitter; false when that cannot be told.
static bool read_mix(const struct pc_parts *parts, const struct group *group,
                     const struct pc_reading_light *light, const struct pc_blocks *ends,
                     struct pc_fit_mix *mix)
{
    const struct pc_part *part = &parts->part[best_part(parts, group)];
    struct pc_blocks sum = *ends;
    if (!pc_blocks_explain(parts, &part->picture, &sum))
        return false;
    double full = pc_curve_light(&light->curve, part->dial_ratio), sure = 0.0;
    for (int e = 0; e < 2; e++)
        sure = fmax(sure, 2.0 * sqrt(sum.variance[e]));
    *mix = (struct pc_fit_mix){.mired = pc_mired_from_K(group->kelvin_K),
                               .warm_ratio = sum.weight[0] / full,
                               .cool_ratio = sum.weight[1] / full};
    return sure < LEAST_DRIVE_CERTAIN_RATIO * (sum.weight[0] + sum.weight[1]);
}

// The kelvin curve of a light with two emitters from its frames between them; ends are the parts of the two.
static void read_kelvin(const struct pc_parts *parts, const struct group *groups, int count,
                        const int ends[2], const struct pc_blocks *sum, struct pc_reading_light *light,
                        struct pc_notes *notes)
{
    struct pc_fit_mix mixes[PC_FRAMES_MAX];
    int n = 0;
    for (int g = 0; g < count; g++) {
        if (g == ends[0] || g == ends[1])
            continue;
        if (read_mix(parts, &groups[g], light, sum, &mixes[n]))
            n++;
        else
            pc_notes_add(notes,
                         "%s at %.0f K cannot be told apart into its warm and its cool light, so that frame "
                         "says nothing "
                         "about how the two mix.",
                         light->name, groups[g].kelvin_K);
    }
    double fell;
    light->kelvin = pc_fit_kelvin(pc_mired_from_K(groups[ends[1]].kelvin_K),
                                  pc_mired_from_K(groups[ends[0]].kelvin_K), mixes, n, &fell);
    if (fell > SHARE_FALL_NOTED_RATIO)
        pc_notes_add(
            notes,
            "%s is cooler in a frame that was set warmer; check which frame was taken at which kelvin.",
            light->name);
    if (light->kelvin.points > 0)
        pc_notes_add(notes, "How %s mixes warm and cool was measured at %d kelvin%s between the two.",
                     light->name, light->kelvin.points - 2, light->kelvin.points == 3 ? "" : "s");
}

static enum pc_status read_light(const struct pc_parts *parts, int light, double radius_px,
                                 struct pc_reading *reading, struct pc_notes *notes, struct pc_err *err)
{
    struct group groups[PC_FRAMES_MAX];
    int n = gather_groups(parts, light, groups), warm = 0, cool = 0;
    struct pc_reading_light *out = &reading->light[light];
    snprintf(out->name, sizeof out->name, "%s", parts->series.light[light].name);
    out->flash = parts->series.light[light].flash;
    out->curve = pc_curve_straight();
    for (int g = 0; g < n; g++) {
        if (n > 1 && isnan(groups[g].kelvin_K))
            return pc_fail(err, PC_MISUSE, out->name,
                           "Some of its frames were given a kelvin and some not; give all of them one.");
        warm = groups[g].kelvin_K < groups[warm].kelvin_K ? g : warm;
        cool = groups[g].kelvin_K > groups[cool].kelvin_K ? g : cool;
        struct pc_curve curve = group_curve(parts, &groups[g], out->name, notes);
        if (curve.points > out->curve.points)
            out->curve = curve;
    }
    out->emitter_count = n > 1 ? 2 : 1;
    int chosen[2] = {warm, cool};
    struct pc_blocks sum = {.terms = 2};
    for (int e = 0; e < out->emitter_count; e++) {
        if (reading->emitter_count == PC_EMITTERS_MAX)
            return pc_fail(err, PC_BAD_INPUT, out->name, "There are more than %d emitters.", PC_EMITTERS_MAX);
        out->emitter[e] = reading->emitter_count++;
        struct pc_reading_emitter *emitter = &reading->emitter[out->emitter[e]];
        emitter->light = light;
        emitter->cct_K = groups[chosen[e]].kelvin_K;
        int part = best_part(parts, &groups[chosen[e]]);
        double full = pc_curve_light(&out->curve, parts->part[part].dial_ratio);
        PC_TRY(read_part(parts, part, reading, radius_px, 1.0 / full, emitter, notes, err));
        out->dial_ratio = parts->part[part].dial_ratio;
        sum.picture[e] = &parts->part[part].picture;
        sum.unit[e] = 1.0 / full;
    }
    if (n > 2)
        read_kelvin(parts, groups, n, chosen, &sum, out, notes);
    // A two-emitter light is taken up again half way between its ends.
    out->kelvin_K = out->emitter_count == 2 ? pc_K_from_mired(0.5 * (pc_mired_from_K(groups[warm].kelvin_K) +
                                                                     pc_mired_from_K(groups[cool].kelvin_K)))
                                            : (double)NAN;
    return PC_OK;
}

void pc_parts_basis(const struct pc_parts *parts, const struct pc_reading *reading, struct pc_basis *basis)
{
    struct group groups[PC_FRAMES_MAX];
    for (int e = 0; e < reading->emitter_count; e++) {
        const struct pc_reading_light *light = &reading->light[reading->emitter[e].light];
        int n = gather_groups(parts, reading->emitter[e].light, groups);
        int g = 0;
        while (g < n && light->emitter_count == 2 &&
               !same_kelvin(groups[g].kelvin_K, reading->emitter[e].cct_K))
            g++;
        PC_ASSERT(g < n);
        basis->part[e] = best_part(parts, &groups[g]);
        basis->per_full[e] = 1.0 / pc_curve_light(&light->curve, parts->part[basis->part[e]].dial_ratio);
    }
}

enum pc_status pc_parts_read(const struct pc_parts *parts, const struct pc_place *places, int place_count,
                             double radius_px, struct pc_reading *reading, struct pc_notes *notes,
                             struct pc_err *err)
{
    PC_ASSERT(place_count >= 2 && place_count <= PC_PLACES_MAX);
    memset(reading, 0, sizeof *reading);
    if (!(radius_px > 0.0))
        radius_px = PLACE_RADIUS_RATIO * parts->ambient.full_width_px;
    reading->place_count = place_count;
    memcpy(reading->place, places, sizeof *places * (size_t)place_count);
    reading->has_colour = parts->has_xyz;
    PC_TRY(read_ambient(parts, radius_px, reading, err));
    reading->light_count = parts->series.light_count;
    for (int light = 0; light < reading->light_count; light++)
        PC_TRY(read_light(parts, light, radius_px, reading, notes, err));
    return PC_OK;
}
