// SPDX-License-Identifier: Apache-2.0
// Why a setting is offered, in words.
#include "image/camera/expose_ways.h"

static void depth_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    if (way->cost[PC_COST_DEPTH] > 0)
        snprintf(out, 128, "%s%.*f of the %.3g mm wanted are sharp", praise ? "" : "only ",
                 way->sharp_m < 0.01 ? 1 : 0, 1e3 * way->sharp_m, 1e3 * ask->depth_m);
    else
        snprintf(out, 128, "all of the %.3g mm wanted are sharp", 1e3 * ask->depth_m);
}

static void spot_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    (void)ask, (void)praise;
    static const char *const words[] = {"diffraction does not show", "diffraction softens the finest detail",
                                        "diffraction blurs the picture",
                                        "diffraction blurs the picture badly"};
    snprintf(out, 128, "%s", words[way->grade[PC_COST_SPOT]]);
}

static void pixels_text(double pixels, bool praise, const char *what, char out[128])
{
    if (pixels < 1)
        snprintf(out, 128, "%s less than a pixel", what);
    else
        snprintf(out, 128, "%s %s%.0f pixel%s", what, praise ? "no more than " : "", pixels,
                 pixels < 1.5 ? "" : "s");
}

static void motion_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    char what[64];
    snprintf(what, sizeof what, "%s smeared over", ask->moving != NULL ? ask->moving : "what moves is");
    pixels_text(way->cost[PC_COST_MOTION], praise, what, out);
}

static void hand_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    (void)ask;
    pixels_text(way->cost[PC_COST_HAND], praise, "holding the camera smears all of it over", out);
}

static void ripple_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    (void)ask, (void)praise;
    double pct = way->cost[PC_COST_RIPPLE];
    if (pct < 0.5)
        snprintf(out, 128, "no mains ripple is left");
    else
        snprintf(out, 128, "%.*f %% of mains ripple is left", pct < 1.95 ? 1 : 0, pct);
}

static void noise_text(const struct pc_expose_ask *ask, const struct pc_way *way, bool praise, char out[128])
{
    (void)ask, (void)praise;
    static const char *const words[] = {"it is clean", "grain shows when looked for", "it is noisy",
                                        "it is very noisy"};
    snprintf(out, 128, "%s (mid grey %.*f times its noise)", words[way->grade[PC_COST_NOISE]],
             way->cost[PC_COST_NOISE] > 0.1 ? 1 : 0, 1.0 / way->cost[PC_COST_NOISE]);
}

static void (*const texts[PC_COSTS])(const struct pc_expose_ask *, const struct pc_way *, bool, char[128]) = {
    [PC_COST_DEPTH] = depth_text, [PC_COST_SPOT] = spot_text,     [PC_COST_MOTION] = motion_text,
    [PC_COST_HAND] = hand_text,   [PC_COST_RIPPLE] = ripple_text, [PC_COST_NOISE] = noise_text,
};

void pc_way_cost_text(const struct pc_expose_ask *ask, const struct pc_way *way, enum pc_cost cost,
                      char out[128])
{
    texts[cost](ask, way, false, out);
}

static bool asked_for(const struct pc_expose_ask *ask, enum pc_cost cost)
{
    return cost == PC_COST_DEPTH    ? ask->depth_m > 0
           : cost == PC_COST_MOTION ? ask->speed_m_s > 0
           : cost == PC_COST_HAND   ? ask->hand
           : cost == PC_COST_RIPPLE ? ask->ripple_hz > 0
                                    : true;
}

// The costs at which the other ways are worse, or at which they are better, as "a, b, and c". Gives back how
// many there are.
static int list_against_others(const struct pc_expose_ask *ask, const struct pc_ways *ways, int i,
                               bool speaks_for, char out[400])
{
    char text[PC_COSTS][128];
    int count = 0;
    for (int c = 0; c < PC_COSTS; c++) {
        enum pc_grade least = PC_GRADE_RUINS, most = PC_GRADE_FINE;
        for (int k = 0; k < ways->count; k++) {
            least = ways->way[k].grade[c] < least ? ways->way[k].grade[c] : least;
            most = ways->way[k].grade[c] > most ? ways->way[k].grade[c] : most;
        }
        enum pc_grade own = ways->way[i].grade[c];
        bool best = own == least && own<most, worse = own> least;
        bool always = own > PC_GRADE_FINE && least == most; // all of them pay it
        if (asked_for(ask, (enum pc_cost)c) && (speaks_for ? best : worse || always))
            texts[c](ask, &ways->way[i], speaks_for, text[count++]);
    }
    out[0] = '\0';
    for (int n = 0; n < count; n++) {
        size_t used = strlen(out);
        snprintf(out + used, 400 - used, "%s%s", n == 0 ? "" : n == count - 1 ? ", and " : ", ", text[n]);
    }
    return count;
}

void pc_way_reason(const struct pc_expose_ask *ask, const struct pc_ways *ways, int i,
                   char out[PC_WAY_REASON_BYTES])
{
    char gains[400], costs[400];
    int gained = list_against_others(ask, ways, i, true, gains);
    int paid = list_against_others(ask, ways, i, false, costs);
    if (gained == 0)
        snprintf(gains, sizeof gains, "%s",
                 ways->count > 1 ? "a middle way"
                 : paid > 0      ? "nothing does better"
                                 : "all as it should be");
    snprintf(out, PC_WAY_REASON_BYTES, "%s%s%s", gains, paid > 0 ? ". The price: " : "", costs);
}
