// SPDX-License-Identifier: Apache-2.0
// A window, panel or card mirrored in flat liquid: a bright patch without any feature, where the liquid was
// dark.
#include "base/units.h"
#include "shoot/check/check_priv.h"

static const double BRIGHT_RATIO = 2.0; // over the liquid's median: a stop, which is seen as a hole
static const double PLAIN_RATIO = 0.06; // from pixel to pixel, beside grain: glass and cloth, not food
static const double WITHOUT_LOCKED_RATIO = 2.0; // some shine is wished for
static const double DARK_SNR = 3.0;             // a liquid without light shows nothing but grain

static int compare_floats(const void *a, const void *b)
{
    float x = *(const float *)a, y = *(const float *)b;
    return (x > y) - (x < y);
}

struct shine {
    double share_pct;
    double x_px, y_px; // middle of it
};

static float level_of(const struct pc_picture *p, int x, int y)
{
    size_t at = (size_t)y * (size_t)p->width_px + (size_t)x;
    return p->px[at * (size_t)p->channels + (p->channels == 3 ? 1u : 0u)];
}

// Nothing there but grain and a slow change.
static bool plain(const struct pc_picture *p, int x, int y)
{
    if (x < 1 || y < 1 || x + 1 >= p->width_px || y + 1 >= p->height_px)
        return false;
    int c = p->channels == 3 ? 1 : 0;
    double level = (double)level_of(p, x, y);
    double most = 4.0 * sqrt(p->noise.offset_var[c] + p->noise.per_signal_var[c] * fmax(level, 0.0)) +
                  PLAIN_RATIO * level;
    return fabs((double)level_of(p, x - 1, y) - level) < most &&
           fabs((double)level_of(p, x + 1, y) - level) < most &&
           fabs((double)level_of(p, x, y - 1) - level) < most &&
           fabs((double)level_of(p, x, y + 1) - level) < most;
}

static bool in_disc(double x, double y, double radius, int px, int py)
{
    return hypot(px + 0.5 - x, py + 0.5 - y) <= radius;
}

// median: of the liquid, found here unless it is given.
static bool find_shine(const struct pc_picture *p, const struct pc_check_spot *spot, double *median,
                       struct shine *shine)
{
    double x = spot->x_px / p->bin, y = spot->y_px / p->bin, radius = spot->radius_px / p->bin;
    int left = (int)fmin(fmax(x - radius, 0.0), p->width_px),
        right = (int)fmin(fmax(x + radius + 1.0, 0.0), p->width_px);
    int top = (int)fmin(fmax(y - radius, 0.0), p->height_px),
        bottom = (int)fmin(fmax(y + radius + 1.0, 0.0), p->height_px);
    if (right - left < 4 || bottom - top < 4)
        return false;
    size_t room = (size_t)(right - left) * (size_t)(bottom - top), count = 0, bright = 0;
    float *level = calloc(room, sizeof *level);
    PC_ASSERT(level != NULL);
    for (int py = top; py < bottom; py++)
        for (int px = left; px < right; px++)
            if (in_disc(x, y, radius, px, py))
                level[count++] = level_of(p, px, py);
    if (count > 0 && isnan(*median)) {
        qsort(level, count, sizeof *level, compare_floats);
        *median = (double)level[count / 2];
    }
    free(level);
    double sum_x = 0.0, sum_y = 0.0;
    for (int py = top; py < bottom; py++)
        for (int px = left; px < right; px++)
            if (in_disc(x, y, radius, px, py) && (double)level_of(p, px, py) > BRIGHT_RATIO * *median &&
                plain(p, px, py)) {
                bright++;
                sum_x += px + 0.5;
                sum_y += py + 0.5;
            }
    if (count == 0)
        return false;
    shine->share_pct = 100.0 * (double)bright / (double)count;
    shine->x_px = bright > 0 ? sum_x / (double)bright * p->bin : (double)NAN;
    shine->y_px = bright > 0 ? sum_y / (double)bright * p->bin : (double)NAN;
    return true;
}

// The nearest way out, where tape and clock say where the windows are.
static void say_way_out(const struct pc_check *check, struct pc_finding *finding)
{
    static const char *const ways[PC_GLARE_WAYS] = {"raise", "lower", "clockwise", "anticlockwise"};
    struct pc_glare glare;
    snprintf(finding->action, sizeof finding->action, "a black card, or the camera round");
    if (check->plan->glare == NULL || pc_glare_find(check->plan->glare, &glare, NULL) != PC_OK || glare.clear)
        return;
    int best = -1;
    for (int w = 0; w < PC_GLARE_WAYS; w++)
        if (glare.edge[w].found && (best < 0 || fabs(glare.edge[w].by_m) < fabs(glare.edge[best].by_m)))
            best = w;
    int worst = 0;
    for (int s = 1; s < check->plan->glare->sources; s++)
        if (glare.source_ratio[s] > glare.source_ratio[worst])
            worst = s;
    snprintf(finding->what, sizeof finding->what, "%.60s in the liquid",
             check->plan->glare->source[worst].name);
    if (best < 0)
        return;
    finding->value = 100.0 * fabs(glare.edge[best].by_m);
    finding->tolerance = 100.0 * PC_GLARE_TOLERANCE_M;
    finding->unit = "cm";
    if (best == PC_GLARE_RAISE || best == PC_GLARE_LOWER)
        snprintf(finding->action, sizeof finding->action, "%s the camera %.0f cm", ways[best],
                 finding->value);
    else
        snprintf(finding->action, sizeof finding->action, "camera %.0f cm %s", finding->value, ways[best]);
}

bool pc_check_window(const struct pc_check *check, double harm, struct pc_finding *finding)
{
    const struct pc_check_spot *liquid = &check->now->spots.at[PC_CHECK_SAUCE];
    const struct pc_picture *now = &check->now->small;
    struct shine shine = {0}, was = {0};
    double median = (double)NAN;
    if (!pc_check_known(check, PC_CHECK_SAUCE) || !find_shine(now, liquid, &median, &shine))
        return false;
    int c = now->channels == 3 ? 1 : 0;
    double grain = sqrt(now->noise.offset_var[c] + now->noise.per_signal_var[c] * fmax(median, 0.0));
    if (!(median > DARK_SNR * grain))
        return false;
    bool same = check->registered && pc_check_same_spot(check, PC_CHECK_SAUCE);
    double median_was = (double)NAN, speaks = PC_CHECK_SPEAKS_RATIO * harm;
    if (same && find_shine(&check->locked->small, liquid, &median_was, &was))
        shine.share_pct -= was.share_pct;
    else
        speaks *= WITHOUT_LOCKED_RATIO;
    if (!(shine.share_pct > speaks))
        return false;
    finding->over_ratio = shine.share_pct / harm;
    finding->value = shine.share_pct;
    finding->tolerance = 0.2 * shine.share_pct;
    finding->x_px = shine.x_px;
    finding->y_px = shine.y_px;
    finding->says_what_first = true;
    snprintf(finding->what, sizeof finding->what, "A window in %.0f %% of the liquid", shine.share_pct);
    say_way_out(check, finding);
    return true;
}
