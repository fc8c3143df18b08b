// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/recce.h"

#include "shoot/advise/recce_priv.h"

struct pc_recce_finding *recce_add(struct recce_work *work, const char *key, enum pc_verdict verdict)
{
    PC_ASSERT(work->recce->count < PC_RECCE_FINDINGS_MAX);
    struct pc_recce_finding *finding = &work->recce->finding[work->recce->count++];
    *finding = (struct pc_recce_finding){
        .key = key, .verdict = verdict, .range = {(double)NAN, (double)NAN}, .caution = -1};
    return finding;
}

static double outwards(double value, bool up)
{
    if (!(value > 0))
        return value;
    double step = pow(10, floor(log10(value)) - 1);
    return up ? ceil(value / step - 1e-9) * step : floor(value / step + 1e-9) * step;
}

const char *recce_range(struct pc_arena *arena, struct pc_range range)
{
    double low = outwards(range.low, false), high = outwards(range.high, true);
    int decimals = high < 10 ? 1 : 0;
    const char *from = pc_arena_printf(arena, "%.*f", decimals, low);
    const char *to = pc_arena_printf(arena, "%.*f", decimals, high);
    return strcmp(from, to) == 0 ? from : pc_arena_printf(arena, "%s to %s", from, to);
}

const char *recce_about(struct pc_arena *arena, double value, bool up)
{
    double rounded = outwards(value, up);
    return pc_arena_printf(arena, "%.*f", rounded < 10 ? 1 : 0, rounded);
}

const char *recce_join(struct pc_arena *arena, const char *const *names, size_t count)
{
    const char *text = count > 0 ? names[0] : "nothing";
    for (size_t i = 1; i < count; i++)
        text = pc_arena_printf(arena, "%s%s%s", text, i + 1 < count ? ", " : " and ", names[i]);
    return text;
}

struct pc_range recce_around(double value, double tolerance, double least)
{
    double within = isnan(tolerance) ? 0 : tolerance;
    return (struct pc_range){fmax(value - within, least), fmax(value + within, least)};
}

void pc_recce_usual_kit(struct pc_arena *arena, struct pc_kit *kit)
{
    static const char text[] = "{\"cameras\": [{\"name\": \"a camera of 36 x 24 mm\", \"lenses\": "
                               "[{\"name\": \"50 mm\", \"focal_mm\": 50}]}],"
                               " \"lamps\": [{\"name\": \"a panel of 60 W\", \"power_W\": 60}]}";
    enum pc_status status = pc_kit_read_text(arena, text, sizeof text - 1, "the usual kit", kit, NULL);
    PC_ASSERT(status == PC_OK);
}

enum pc_status pc_recce_find(struct pc_arena *arena, const struct pc_recce_wish *wish, struct pc_recce *recce,
                             struct pc_err *err)
{
    *recce = (struct pc_recce){0};
    struct recce_work work = {
        .arena = arena, .wish = wish, .recce = recce, .has_window = wish->site->window_count > 0};
    for (size_t i = 0; i < wish->site->window_count; i++)
        work.has_blind = work.has_blind || wish->site->windows[i].blind != PC_BLIND_NONE;
    PC_TRY(recce_overhead(&work, err));
    recce_depth(&work);
    PC_TRY(recce_daylight(&work, err));
    recce_surface(&work);
    recce_flash(&work);
    recce_colour(&work);
    PC_TRY(recce_sun(&work, err));
    recce_glare(&work);
    recce_pendants(&work);
    recce_circuit(&work);
    recce_arm(&work);
    return PC_OK;
}
