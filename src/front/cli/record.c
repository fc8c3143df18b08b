// SPDX-License-Identifier: Apache-2.0
#include "front/cli/record.h"

#include "base/file.h"
#include "base/json.h"

enum { MOST_BYTES = 32 << 20 };

static enum pc_status record_path(struct pc_arena *arena, char **folder, char **path, struct pc_err *err)
{
    const char *state = getenv("XDG_STATE_HOME"), *home = getenv("HOME");
    if (state != NULL && state[0] == '/')
        *folder = pc_arena_printf(arena, "%s/platecall", state);
    else if (home != NULL && home[0] == '/')
        *folder = pc_arena_printf(arena, "%s/.local/state/platecall", home);
    else
        return pc_fail(
            err, PC_IO, "HOME",
            "It is not set, so there is nowhere to keep what was foretold; set HOME or XDG_STATE_HOME.");
    *path = pc_arena_printf(arena, "%s/foretold.jsonl", *folder);
    return PC_OK;
}

static struct pc_json *line_json(const struct pc_reading *reading, const struct pc_dials *dials,
                                 const struct pc_closing *closing, const char *frame)
{
    struct pc_json *o = pc_json_object(), *places = pc_json_array(), *set = pc_json_object();
    pc_json_put_int(o, "at_s", (int64_t)time(NULL));
    pc_json_put_text(o, "frame", pc_file_name(frame));
    for (int i = 0; i < reading->light_count; i++)
        pc_json_put_number(set, reading->light[i].name, dials->dial_ratio[i], 3);
    pc_json_put(o, "dials", set);
    for (int p = 0; p < reading->place_count; p++) {
        struct pc_json *place = pc_json_object();
        pc_json_put_text(place, "place", reading->place[p].name);
        pc_json_put_number(place, "foretold_ev", closing->place[p].foretold_ev, 3);
        pc_json_put_number(place, "actual_ev", closing->place[p].actual_ev, 3);
        pc_json_put_number(place, "tolerance_ev", closing->place[p].tolerance_ev, 3);
        pc_json_add(places, place);
    }
    pc_json_put(o, "places", places);
    return o;
}

enum pc_status pc_record_add(const struct pc_reading *reading, const struct pc_dials *dials,
                             const struct pc_closing *closing, const char *frame, struct pc_err *err)
{
    struct pc_arena *arena = pc_arena_create();
    PC_ASSERT(arena != NULL);
    char *folder, *path;
    enum pc_status status = record_path(arena, &folder, &path, err);
    if (status == PC_OK)
        status = pc_file_make_folder(folder, err);
    if (status == PC_OK) {
        struct pc_json *line = line_json(reading, dials, closing, frame);
        status = pc_file_append_line(path, pc_json_print(arena, line, true), err);
        pc_json_destroy(line);
    }
    pc_arena_destroy(arena);
    return status;
}

static int compare_doubles(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

struct tally {
    double *miss_ev;
    size_t room, count, within;
};

static void tally_line(struct tally *tally, const struct pc_json *line)
{
    const struct pc_json *places = pc_json_get(line, "places");
    for (size_t i = 0; i < pc_json_count(places) && tally->count < tally->room; i++) {
        const struct pc_json *place = pc_json_at(places, i);
        double foretold, actual, tolerance;
        if (!pc_json_number(pc_json_get(place, "foretold_ev"), &foretold) ||
            !pc_json_number(pc_json_get(place, "actual_ev"), &actual) ||
            !pc_json_number(pc_json_get(place, "tolerance_ev"), &tolerance))
            continue;
        double miss = fabs(actual - foretold);
        tally->miss_ev[tally->count++] = miss;
        tally->within += miss <= tolerance;
    }
}

enum pc_status pc_record_read(struct pc_arena *arena, struct pc_record_summary *summary, struct pc_err *err)
{
    memset(summary, 0, sizeof *summary);
    char *folder, *path, *bytes;
    size_t count;
    PC_TRY(record_path(arena, &folder, &path, err));
    summary->path = path;
    struct pc_err inner = {0};
    enum pc_status status = pc_file_read(arena, path, MOST_BYTES, &bytes, &count, &inner);
    if (status == PC_NOT_FOUND)
        return PC_OK;
    if (status != PC_OK)
        return pc_fail(err, status, inner.place, "%s", inner.text);
    struct tally tally = {.room = count / 16 + 1}; // a place takes more bytes than that
    tally.miss_ev = calloc(tally.room, sizeof *tally.miss_ev);
    PC_ASSERT(tally.miss_ev != NULL);
    int number = 0;
    for (char *line = bytes; *line != '\0' && status == PC_OK;) {
        size_t n = strcspn(line, "\n");
        struct pc_json *json;
        number++;
        status = pc_json_parse(line, n, path, &json, &inner);
        if (status != PC_OK) {
            pc_fail(err, status, path, "Line %d is not a closing check; mend or remove that line.", number);
            break;
        }
        tally_line(&tally, json);
        pc_json_destroy(json);
        summary->checks++;
        line += n + (line[n] == '\n');
    }
    qsort(tally.miss_ev, tally.count, sizeof *tally.miss_ev, compare_doubles);
    if (tally.count > 0) {
        summary->places = (int)tally.count;
        summary->median_ev = tally.miss_ev[tally.count / 2];
        summary->worst_tenth_ev = tally.miss_ev[(tally.count - 1) * 9 / 10];
        summary->within_tolerance_ratio = (double)tally.within / (double)tally.count;
    }
    free(tally.miss_ev);
    return status;
}
