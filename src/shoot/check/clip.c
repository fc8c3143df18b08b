// SPDX-License-Identifier: Apache-2.0
// A clipped patch on hero, sauce or rim, per channel of the sensor. A lone highlight is what makes food look
// wet; a patch is a hole in it.
#include "base/units.h"
#include "shoot/check/check_priv.h"

static const double BLIND_EV = 0.5; // how far over a patch is that clips in every channel: nobody can tell
static const double MOST_EV = 2.0;
enum { LEAST_PIXELS = 6 }; // of the picture as read

struct patch {
    int pixels;
    double x, y;       // sums
    double clipped[3]; // how many pixels clip in each channel
    double inside[3];  // sum of levels
    double beside[3];  // the same just outside, where nothing clips
    int beside_pixels;
};

struct disc {
    const struct pc_picture *picture;
    int left, top, width, height;
    double x, y, radius;
    uint8_t *seen;
    int *stack;
};

static size_t pixel_of(const struct disc *d, int x, int y)
{
    return (size_t)(d->top + y) * (size_t)d->picture->width_px + (size_t)(d->left + x);
}

static bool inside(const struct disc *d, int x, int y)
{
    return x >= 0 && y >= 0 && x < d->width && y < d->height &&
           hypot(d->left + x + 0.5 - d->x, d->top + y + 0.5 - d->y) <= d->radius;
}

static void take(const struct disc *d, int x, int y, struct patch *patch)
{
    size_t at = pixel_of(d, x, y);
    const float *px = d->picture->px + at * (size_t)d->picture->channels;
    uint8_t clipped = d->picture->clipped[at];
    patch->pixels++;
    patch->x += d->left + x + 0.5;
    patch->y += d->top + y + 0.5;
    for (int c = 0; c < d->picture->channels; c++) {
        patch->clipped[c] += clipped >> c & 1;
        patch->inside[c] += (double)px[c];
    }
}

// All that clips and hangs together with a pixel.
static void grow(struct disc *d, int x, int y, struct patch *patch)
{
    int count = 0;
    d->stack[count++] = y * d->width + x;
    d->seen[y * d->width + x] = 1;
    while (count > 0) {
        int at = d->stack[--count], px = at % d->width, py = at / d->width;
        take(d, px, py, patch);
        for (int k = 0; k < 8; k++) {
            static const int step[8][2] = {{1, 0}, {-1, 0},  {0, 1},  {0, -1},
                                           {1, 1}, {-1, -1}, {1, -1}, {-1, 1}};
            int nx = px + step[k][0], ny = py + step[k][1];
            if (!inside(d, nx, ny) || d->seen[ny * d->width + nx] != 0)
                continue;
            d->seen[ny * d->width + nx] = 1;
            size_t pixel = pixel_of(d, nx, ny);
            if (d->picture->clipped[pixel] != 0) {
                d->stack[count++] = ny * d->width + nx;
                continue;
            }
            const float *beside = d->picture->px + pixel * (size_t)d->picture->channels;
            patch->beside_pixels++;
            for (int c = 0; c < d->picture->channels; c++)
                patch->beside[c] += (double)beside[c];
        }
    }
}

// From a channel that does not clip: the colour beside the patch says how bright the others would be.
static double over_ev(const struct patch *patch, int channels)
{
    double brighter = 0.0, over = 0.0;
    for (int c = 0; c < channels; c++)
        if (patch->clipped[c] < 0.2 * patch->pixels && patch->beside[c] > 0.0)
            brighter =
                fmax(brighter, patch->inside[c] / patch->pixels * patch->beside_pixels / patch->beside[c]);
    if (!(brighter > 0.0))
        return BLIND_EV;
    for (int c = 0; c < channels; c++)
        if (patch->clipped[c] >= 0.2 * patch->pixels)
            over = fmax(over, pc_ev_from_ratio(patch->beside[c] / patch->beside_pixels * brighter));
    return over;
}

static bool largest(const struct pc_picture *picture, const struct pc_check_spot *spot, struct patch *patch,
                    double *share_pct)
{
    struct disc d = {.picture = picture,
                     .x = spot->x_px / picture->bin,
                     .y = spot->y_px / picture->bin,
                     .radius = spot->radius_px / picture->bin};
    d.left = (int)fmin(fmax(d.x - d.radius, 0.0), picture->width_px);
    d.top = (int)fmin(fmax(d.y - d.radius, 0.0), picture->height_px);
    d.width = (int)fmin(fmax(ceil(d.x + d.radius), 0.0), picture->width_px) - d.left;
    d.height = (int)fmin(fmax(ceil(d.y + d.radius), 0.0), picture->height_px) - d.top;
    memset(patch, 0, sizeof *patch);
    if (d.width < 1 || d.height < 1)
        return false;
    size_t room = (size_t)d.width * (size_t)d.height;
    d.seen = calloc(room, 1);
    d.stack = calloc(room, sizeof *d.stack);
    PC_ASSERT(d.seen != NULL && d.stack != NULL);
    int all = 0;
    for (int y = 0; y < d.height; y++)
        for (int x = 0; x < d.width; x++) {
            if (!inside(&d, x, y))
                continue;
            all++;
            if (picture->clipped[pixel_of(&d, x, y)] == 0 || d.seen[y * d.width + x] != 0)
                continue;
            struct patch one = {0};
            grow(&d, x, y, &one);
            if (one.pixels > patch->pixels)
                *patch = one;
        }
    free(d.seen);
    free(d.stack);
    *share_pct = all > 0 ? 100.0 * patch->pixels / all : 0.0;
    return patch->pixels >= LEAST_PIXELS;
}

double pc_check_clipped_pct(const struct pc_picture *picture, const struct pc_check_spot *spot)
{
    struct patch patch;
    double share_pct = 0.0;
    return largest(picture, spot, &patch, &share_pct) ? share_pct : 0.0;
}

bool pc_check_clip(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    static const enum pc_check_place places[] = {PC_CHECK_HERO, PC_CHECK_SAUCE, PC_CHECK_RIM};
    for (size_t i = 0; i < PC_COUNT(places); i++) {
        struct patch patch;
        double share_pct;
        const struct pc_check_spot *spot = &check->now->spots.at[places[i]];
        if (!pc_check_known(check, places[i]) || !largest(check->full, spot, &patch, &share_pct))
            continue;
        // A patch that the locked frame had as well was accepted with it.
        if (pc_check_same_spot(check, places[i]))
            share_pct -= check->locked->clipped_pct[places[i]];
        if (share_pct < PC_CHECK_SPEAKS_RATIO * harm || share_pct / harm <= finding->over_ratio)
            continue;
        char stops[24];
        double down_ev = fmin(ceil(3.0 * fmax(over_ev(&patch, check->full->channels), 0.01)) / 3.0, MOST_EV);
        pc_check_stops(down_ev, stops, sizeof stops);
        finding->over_ratio = share_pct / harm;
        finding->value = -down_ev;
        finding->tolerance = 1.0 / 3.0;
        finding->unit = "EV";
        finding->x_px = patch.x / patch.pixels * check->full->bin;
        finding->y_px = patch.y / patch.pixels * check->full->bin;
        snprintf(finding->what, sizeof finding->what, "%s clips", pc_check_place_name(places[i]));
        snprintf(finding->action, sizeof finding->action, "Down %s", stops);
    }
    return finding->over_ratio > 0.0;
}
