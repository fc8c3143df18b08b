// SPDX-License-Identifier: Apache-2.0
#include "front/answer/shot_section.h"

#include <unistd.h>

#include "base/units.h"
#include "light/kit/site.h"
#include "shoot/advise/section.h"

// A dinner plate seen from the chair beside it.
static const double PLATE_WIDTH_M = 0.27, PLATE_HIGH_M = 0.03, CAMERA_AWAY_M = 0.9, TABLE_DEEP_M = 0.8;
static const double STACK_M = 0.08; // higher than that, food is drawn as a stack
static const double MM_A_M = 1000.0;

static double number_of(const struct pc_json *object, const char *key)
{
    double value;
    return pc_json_number(pc_json_get(object, key), &value) ? value : (double)NAN;
}

static enum pc_status read_site(struct pc_job *job, struct pc_arena *arena, struct pc_site *site, bool *told,
                                struct pc_err *err)
{
    const char *path = pc_arena_printf(arena, "%s/site.json", pc_job_folder(job));
    pc_site_default(site);
    *told = access(path, F_OK) == 0;
    return *told ? pc_site_read(arena, path, site, err) : PC_OK;
}

static void fill(const struct pc_json *body, const struct pc_site *site, struct pc_section *s)
{
    double angle_rad = pc_rad_from_deg(number_of(body, "angle_deg"));
    double high_m = number_of(body, "tallest_mm") / MM_A_M;
    double deep_m = isnan(site->table.size_m[1]) ? TABLE_DEEP_M : site->table.size_m[1];
    pc_section_default(s);
    s->ceiling_m = site->ceiling_m;
    s->table_m = site->table.height_m;
    s->table_near_m = deep_m / 2;
    s->table_far_m = -deep_m / 2;
    s->hero_width_m = PLATE_WIDTH_M;
    s->hero_top_m = s->table_m + (high_m > 0.0 ? high_m : PLATE_HIGH_M);
    s->hero = high_m >= STACK_M ? PC_HERO_STACK : PC_HERO_PLATE;
    if (s->hero == PC_HERO_STACK)
        s->hero_width_m = fmin(PLATE_WIDTH_M, 1.2 * high_m);
    s->camera_x_m = CAMERA_AWAY_M * cos(angle_rad);
    s->camera_m = (s->table_m + s->hero_top_m) / 2 + CAMERA_AWAY_M * sin(angle_rad); // it aims at the middle
}

static const char *title_of(bool site_told)
{
    return site_told ? "Not measured, drawn as usual: the plate, how far the camera is."
                     : "Not measured, drawn as usual: the plate, the table, how far the camera is.";
}

enum pc_status pc_shot_section(struct pc_job *job, struct pc_arena *arena, const char *shot,
                               const char **bytes, size_t *count, struct pc_err *err)
{
    struct pc_json *body;
    struct pc_section section;
    struct pc_site *site = PC_NEW(arena, struct pc_site);
    bool site_told;
    PC_TRY(pc_job_now_of(job, "shot", shot, &body, err));
    enum pc_status status =
        body == NULL ? pc_fail(err, PC_NOT_FOUND, "shot", "This job has no shot of that name.")
        : isnan(number_of(body, "angle_deg"))
            ? pc_fail(err, PC_NOT_FOUND, "angle_deg", "Say how far down the camera looks in this shot.")
            : PC_OK;
    if (status == PC_OK)
        status = read_site(job, arena, site, &site_told, err);
    if (status == PC_OK) {
        fill(body, site, &section);
        section.title = title_of(site_told);
        status = pc_section_svg(&section, arena, bytes, count, err);
    }
    pc_json_destroy(body);
    return status;
}
