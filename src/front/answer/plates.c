// SPDX-License-Identifier: Apache-2.0
#include "front/answer/plates.h"

static int place_in(const char *const *names, const char *name)
{
    for (int i = 0; name != NULL && names[i] != NULL; i++)
        if (strcmp(names[i], name) == 0)
            return i;
    return -1;
}

static const char *text_of(const struct pc_json *plate, const struct pc_json *shot, const char *key)
{
    const char *text = plate != NULL ? pc_json_text(pc_json_get(plate, key)) : NULL;
    return text != NULL || shot == NULL ? text : pc_json_text(pc_json_get(shot, key));
}

static size_t gather_plates(struct pc_arena *arena, const struct pc_json *now, const struct pc_json *shots,
                            struct pc_plate **plates)
{
    size_t count = 0, n = 0;
    void *at = NULL;
    const char *id;
    const struct pc_json *body;
    while (now != NULL && pc_json_next(now, &at, &id, &body))
        count++;
    *plates = PC_NEW_N(arena, count, struct pc_plate);
    at = NULL;
    while (now != NULL && pc_json_next(now, &at, &id, &body)) {
        const char *shot_id = pc_json_text(pc_json_get(body, "shot"));
        const struct pc_json *shot = shots != NULL && shot_id != NULL ? pc_json_get(shots, shot_id) : NULL;
        const char *dish = text_of(body, shot, "dish");
        (*plates)[n++] = (struct pc_plate){
            .id = pc_arena_strdup(arena, id),
            .dish = pc_arena_strdup(arena, dish != NULL ? dish : id),
            .dish_class = place_in(pc_dish_class_names, text_of(body, shot, "dish_class")),
        };
    }
    return count;
}

static size_t gather_taps(struct pc_arena *arena, const struct pc_json *told, struct pc_tap **taps)
{
    size_t count = pc_json_count(told), n = 0;
    *taps = PC_NEW_N(arena, count, struct pc_tap);
    for (size_t i = 0; i < count; i++) {
        const struct pc_json *tap = pc_json_at(told, i);
        const char *plate = pc_json_text(pc_json_get(tap, "plate"));
        int state = place_in(pc_plate_state_keys, pc_json_text(pc_json_get(tap, "state")));
        double made_ms;
        if (plate == NULL || state < 0 || !pc_json_number(pc_json_get(tap, "at_ms"), &made_ms))
            continue;
        (*taps)[n++] =
            (struct pc_tap){pc_arena_strdup(arena, plate), (enum pc_plate_state)state, (int64_t)made_ms};
    }
    return n;
}

enum pc_status pc_plates_clock(struct pc_job *job, struct pc_arena *arena, int64_t now_ms,
                               struct pc_plate_clock *clock, struct pc_err *err)
{
    struct pc_json *now = NULL, *shots = NULL, *told = NULL;
    enum pc_status status = pc_job_now(job, "plate", &now, err);
    if (status == PC_OK)
        status = pc_job_now(job, "shot", &shots, err);
    if (status == PC_OK)
        status = pc_job_taps(job, &told, err);
    if (status == PC_OK) {
        struct pc_plate *plates;
        struct pc_tap *taps;
        size_t plate_count = gather_plates(arena, now, shots, &plates);
        size_t tap_count = gather_taps(arena, told, &taps);
        pc_plate_clock_find(arena, plates, plate_count, taps, tap_count, now_ms, clock);
    }
    pc_json_destroy(now);
    pc_json_destroy(shots);
    pc_json_destroy(told);
    return status;
}
