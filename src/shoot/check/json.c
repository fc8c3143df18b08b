// SPDX-License-Identifier: Apache-2.0
#include "shoot/check/check_priv.h"

static void put_finding(const struct pc_verdict *verdict, const struct pc_finding *f, struct pc_json *json)
{
    bool some = f != NULL;
    double x_px = some ? f->x_px : (double)NAN, y_px = some ? f->y_px : (double)NAN;
    pc_json_put_number(json, "value", some ? f->value : (double)NAN, 3);
    pc_json_put_number(json, "tolerance", some ? f->tolerance : (double)NAN, 3);
    pc_json_put_text(json, "unit", some ? f->unit : NULL);
    pc_json_put_text(json, "action", some && f->action[0] != '\0' ? f->action : NULL);
    pc_json_put_number(json, "x_ratio", x_px / verdict->full_width_px, 4);
    pc_json_put_number(json, "y_ratio", y_px / verdict->full_height_px, 4);
}

struct pc_json *pc_check_json(const struct pc_verdict *verdict)
{
    struct pc_json *json = pc_json_object(), *others = pc_json_array();
    const struct pc_finding *first = verdict->count > 0 ? &verdict->finding[0] : NULL;
    pc_json_put_text(json, "kind", first != NULL ? pc_check_kind_name(first->kind) : NULL);
    pc_json_put_text(json, "tone", pc_check_tone_name(verdict->tone));
    pc_json_put_text(json, "sentence", verdict->sentence);
    put_finding(verdict, first, json);
    for (int i = 1; i < verdict->count; i++) {
        struct pc_json *other = pc_json_object();
        pc_json_put_text(other, "kind", pc_check_kind_name(verdict->finding[i].kind));
        pc_json_put_text(other, "tone", pc_check_tone_name(pc_check_rules[verdict->finding[i].kind].tone));
        pc_json_put_text(other, "what", verdict->finding[i].what);
        put_finding(verdict, &verdict->finding[i], other);
        pc_json_add(others, other);
    }
    pc_json_put(json, "others", others);
    return json;
}
