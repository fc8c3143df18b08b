// SPDX-License-Identifier: Apache-2.0
#include "front/answer/asked.h"

#include "base/text.h"
#include "light/parts/answers.h"

static const double USUAL_STEP_RATIO = 0.01; // as panels show their dials

void pc_asked_init(struct pc_asked *asked)
{
    *asked = (struct pc_asked){
        .greycard = PC_NO_PLACE, .shutter_s = NAN, .step_ratio = USUAL_STEP_RATIO, .prefix = ""};
}

enum pc_status pc_asked_fail(const struct pc_asked *asked, struct pc_err *err, enum pc_status status,
                             const char *what, const char *fmt, ...)
{
    char place[64], text[sizeof err->text];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    snprintf(place, sizeof place, "%s%s", asked->prefix, what);
    return pc_fail(err, status, place, "%s", text);
}

enum pc_status pc_asked_no_such(const struct pc_asked *asked, const char *what, const char *kind,
                                const char *word, const char *const *names, int count, struct pc_err *err)
{
    const char *nearest = pc_text_nearest(word, names, (size_t)count);
    if (nearest != NULL)
        return pc_asked_fail(asked, err, PC_MISUSE, what, "There is no %s %s; did you mean %s?", kind, word,
                             nearest);
    char known[512] = "";
    for (int i = 0; i < count; i++) {
        size_t n = strlen(known);
        snprintf(known + n, sizeof known - n, "%s%s", i > 0 ? ", " : "", names[i]);
    }
    return pc_asked_fail(asked, err, PC_MISUSE, what, "There is no %s %s; there is: %s.", kind, word, known);
}

enum pc_status pc_asked_add_place(struct pc_asked *asked, const char *name, double x, double y,
                                  struct pc_err *err)
{
    if (asked->place_count == PC_PLACES_MAX)
        return pc_asked_fail(asked, err, PC_MISUSE, "place", "There are more than %d places.", PC_PLACES_MAX);
    for (int i = 0; i < asked->place_count; i++)
        if (strcmp(asked->place[i].name, name) == 0)
            return pc_asked_fail(asked, err, PC_MISUSE, "place", "The place \"%s\" is given twice.", name);
    struct pc_place *place = &asked->place[asked->place_count++];
    snprintf(place->name, sizeof place->name, "%s", name);
    place->x_px = x;
    place->y_px = y;
    return PC_OK;
}
