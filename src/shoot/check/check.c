// SPDX-License-Identifier: Apache-2.0
#include "shoot/check/check.h"

#include "image/camera/mains.h"
#include "shoot/check/check_priv.h"

// How to add a kind
// 1. Its name in enum pc_check_kind, where it stands in gravity.
// 2. A file of its own with its function, declared in check_priv.h.
// 3. Its row here, with what harms and why.
// 4. A fault for it in tests/checks, and its row in docs/checks.md.
const struct pc_check_rule pc_check_rules[PC_CHECK_KINDS] = {
    [PC_CHECK_SYNC] = {"sync", pc_check_sync, 1.0 / 3.0, "s", PC_TONE_MEND,
                       "EV: the shortest step of a shutter dial; a curtain in the frame cannot be mended"},
    [PC_CHECK_EXPOSURE] = {"exposure", pc_check_exposure, 1.0 / 3.0, "", PC_TONE_MEND,
                           "EV: one click of a wheel; nobody turns less by accident"},
    [PC_CHECK_LIGHT] = {"light", pc_check_light, 1.0 / 3.0, "EV", PC_TONE_MEND,
                        "EV: a ratio of lights is set in thirds; three times what the closing check "
                        "leaves open"},
    [PC_CHECK_SHAKE] = {"shake", pc_check_shake, 4.0, "px", PC_TONE_WAIT,
                        "px of smear: as wide as the blur disc that still counts as sharp (same variance)"},
    [PC_CHECK_FOCUS] = {"focus", pc_check_focus, PC_CHECK_SHARP_PX, "px", PC_TONE_MEND,
                        "px across the blur disc: one and a half of a page's or screen's pixels"},
    [PC_CHECK_CLIP] = {"clip", pc_check_clip, 1.5, "%", PC_TONE_MEND,
                       "per cent of the place in one patch: an eighth of its width across; smaller is a "
                       "highlight"},
    [PC_CHECK_LEVEL] = {"level", pc_check_level, 1.0 / 3.0, "EV", PC_TONE_MEND,
                        "EV: the smallest step by which a hand can put it right"},
    [PC_CHECK_DEPTH] = {"depth", pc_check_depth, PC_CHECK_SHARP_PX, "px", PC_TONE_MEND,
                        "px across the blur disc, as for focus"},
    [PC_CHECK_BANDS] = {"bands", pc_check_bands, PC_MAINS_SEEN_PCT, "%", PC_TONE_MEND,
                        "per cent of modulation: seen on plain ground"},
    [PC_CHECK_MOVED] = {"moved", pc_check_moved, 4.0, "px", PC_TONE_MEND,
                        "px: as small as a nudge is found, and twice what two frames laid together forgive"},
    [PC_CHECK_CAST] = {"cast", pc_check_cast, 10.0, "mired", PC_TONE_MEND,
                       "mired, or 0.005 of Duv: two frames beside each other look different from about "
                       "half of it on"},
    [PC_CHECK_WINDOW] = {"window", pc_check_window, 8.0, "%", PC_TONE_MEND,
                         "per cent of the liquid: a patch of more than a quarter of its width is no "
                         "highlight"},
    [PC_CHECK_CROP] = {"crop", pc_check_crop, 4.0, "px", PC_TONE_MEND,
                       "px of the hero beyond the crop: what registration leaves open, four times over"},
};

bool pc_check_has(const struct pc_check *check, enum pc_check_kind kind)
{
    for (int i = 0; i < check->found_count; i++)
        if (check->found[i].kind == kind)
            return true;
    return false;
}

void pc_check_plan_clear(struct pc_check_plan *plan)
{
    const double unknown = (double)NAN;
    *plan = (struct pc_check_plan){
        .shutter_s = unknown,
        .fnumber = unknown,
        .iso = unknown,
        .sync_s = unknown,
        .mains_hz = unknown,
        .pixel_pitch_m = unknown,
        .magnification_ratio = unknown,
        .sharp_px = unknown,
        .hero_ev = unknown,
        .hero_ev_tolerance = unknown,
    };
}

static void say(struct pc_verdict *verdict)
{
    if (verdict->count == 0) {
        snprintf(verdict->sentence, sizeof verdict->sentence, "Shoot on");
        return;
    }
    const struct pc_finding *f = &verdict->finding[0];
    char *out = verdict->sentence;
    size_t size = sizeof verdict->sentence;
    if (f->action[0] == '\0')
        snprintf(out, size, "%s", f->what);
    else if (f->says_what_first)
        snprintf(out, size, "%s: %s", f->what, f->action);
    else
        snprintf(out, size, "%s: %s", f->action, f->what);
    verdict->tone = pc_check_rules[f->kind].tone;
}

static double harm_of(const struct pc_check *check, enum pc_check_kind kind)
{
    bool sharp = kind == PC_CHECK_FOCUS || kind == PC_CHECK_DEPTH;
    return sharp && check->plan->sharp_px > 0.0 ? check->plan->sharp_px : pc_check_rules[kind].harm;
}

static void look_for_faults(struct pc_check *check, struct pc_verdict *verdict)
{
    check->found = verdict->finding;
    for (int kind = 0; kind < PC_CHECK_KINDS; kind++) {
        const struct pc_check_rule *rule = &pc_check_rules[kind];
        struct pc_finding finding = {
            .kind = (enum pc_check_kind)kind, .unit = rule->unit, .x_px = (double)NAN, .y_px = (double)NAN};
        if (!rule->look(check, harm_of(check, (enum pc_check_kind)kind), &finding))
            continue;
        verdict->finding[verdict->count++] = finding;
        check->found_count = verdict->count;
    }
}

enum pc_status pc_check_frame(struct pc_ctx *ctx, struct pc_photo *photo, const struct pc_check_spots *spots,
                              const struct pc_check_look *locked, const struct pc_check_plan *plan,
                              struct pc_verdict *verdict, struct pc_err *err)
{
    struct pc_check_look now = {0};
    struct pc_check check = {
        .ctx = ctx, .full = &photo->picture, .now = &now, .locked = locked, .plan = plan};
    memset(verdict, 0, sizeof *verdict);
    verdict->full_width_px = photo->picture.full_width_px;
    verdict->full_height_px = photo->picture.full_height_px;
    enum pc_status status = pc_check_look_make(ctx, photo, spots, &now, err);
    if (status == PC_OK)
        status = pc_check_prepare(&check, err);
    if (status == PC_OK) {
        look_for_faults(&check, verdict);
        say(verdict);
    }
    pc_check_prepare_finish(&check);
    pc_check_look_finish(&now);
    return status;
}

const char *pc_check_kind_name(enum pc_check_kind kind)
{
    return pc_check_rules[kind].name;
}

const char *pc_check_tone_name(enum pc_check_tone tone)
{
    static const char *const names[] = {"shoot_on", "mend", "wait"};
    return names[tone];
}

double pc_check_kind_harm(enum pc_check_kind kind)
{
    return pc_check_rules[kind].harm;
}

const char *pc_check_kind_unit(enum pc_check_kind kind)
{
    return pc_check_rules[kind].unit;
}

const char *pc_check_kind_reason(enum pc_check_kind kind)
{
    return pc_check_rules[kind].reason;
}
