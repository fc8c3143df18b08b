// SPDX-License-Identifier: Apache-2.0
#include "shoot/advise/glare_set.h"

#include "base/text.h"
#include "base/units.h"

#define LEAST_RIM_M 0.02 // of what holds a liquid that is level with the table

static struct pc_glare_source *next_source(struct pc_glare_scene *scene, struct pc_err *err)
{
    if (scene->sources < PC_GLARE_SOURCES_MAX)
        return &scene->source[scene->sources++];
    pc_fail(err, PC_BAD_INPUT, "sources",
            "More than %d windows, panels and cards cannot be looked at at once.", PC_GLARE_SOURCES_MAX);
    return NULL;
}

enum pc_status pc_glare_add_windows(struct pc_glare_scene *scene, const struct pc_site *site,
                                    double looking_rad, struct pc_err *err)
{
    for (size_t i = 0; i < site->window_count; i++) {
        const struct pc_window *window = &site->windows[i];
        struct pc_glare_source *source = next_source(scene, err);
        if (source == NULL)
            return PC_BAD_INPUT;
        // What is seen of the glass is seen through the opening in the wall.
        *source = pc_glare_window(window->name, window->facing_rad - looking_rad, window->from_table_m,
                                  window->right_m, window->width_m, window->height_m, window->sill_m);
        scene->source_m_tolerance =
            fmax(scene->source_m_tolerance, fmax(window->from_table_m_tolerance,
                                                 fmax(window->right_m_tolerance, window->sill_m_tolerance)));
    }
    return PC_OK;
}

static bool find_size(const struct pc_kit *kit, const char *name, const double **size_m)
{
    *size_m = NULL;
    for (size_t i = 0; i < kit->lamp_count; i++)
        if (strcmp(kit->lamps[i].name, name) == 0)
            *size_m = kit->lamps[i].size_m;
    for (size_t i = 0; i < kit->flash_count; i++)
        if (strcmp(kit->flashes[i].name, name) == 0)
            *size_m = kit->flashes[i].size_m;
    for (size_t i = 0; i < kit->scrim_count; i++)
        if (strcmp(kit->scrims[i].name, name) == 0)
            *size_m = kit->scrims[i].size_m;
    for (size_t i = 0; i < kit->card_count; i++)
        if (strcmp(kit->cards[i].name, name) == 0)
            *size_m = kit->cards[i].size_m;
    return *size_m != NULL;
}

static enum pc_status no_such(struct pc_arena *arena, const struct pc_kit *kit, const char *name,
                              struct pc_err *err)
{
    size_t count = 0;
    const char **names = PC_NEW_N(
        arena, kit->lamp_count + kit->flash_count + kit->scrim_count + kit->card_count + 1, const char *);
    for (size_t i = 0; i < kit->lamp_count; i++)
        names[count++] = kit->lamps[i].name;
    for (size_t i = 0; i < kit->flash_count; i++)
        names[count++] = kit->flashes[i].name;
    for (size_t i = 0; i < kit->scrim_count; i++)
        names[count++] = kit->scrims[i].name;
    for (size_t i = 0; i < kit->card_count; i++)
        names[count++] = kit->cards[i].name;
    const char *nearest = pc_text_nearest(name, names, count);
    if (nearest != NULL)
        return pc_fail(err, PC_NOT_FOUND, name,
                       "The kit has no lamp, flash, scrim or card of that name; did you mean %s?", nearest);
    return pc_fail(err, PC_NOT_FOUND, name, "The kit has no lamp, flash, scrim or card of that name.");
}

enum pc_status pc_glare_add_stand(struct pc_arena *arena, struct pc_glare_scene *scene,
                                  const struct pc_kit *kit, const char *name, double clock_h, double away_m,
                                  double above_m, double table_m, struct pc_err *err)
{
    const double *size_m;
    if (!find_size(kit, name, &size_m))
        return no_such(arena, kit, name, err);
    if (!(away_m > 0))
        return pc_fail(err, PC_BAD_INPUT, name, "It must stand some way off the hero.");
    struct pc_glare_source *source = next_source(scene, err);
    if (source == NULL)
        return PC_BAD_INPUT;
    *source = pc_glare_panel(name, pc_rad_from_deg(clock_h * 30), away_m, table_m + above_m, size_m[0],
                             size_m[1], scene->height_m);
    return PC_OK;
}

void pc_glare_section(const struct pc_glare_scene *scene, const struct pc_glare *glare,
                      const struct pc_site *site, const struct pc_window *ahead, struct pc_section *section)
{
    pc_section_default(section);
    section->ceiling_m = site->ceiling_m;
    section->table_m = site->table.height_m;
    section->table_near_m = site->table.size_m[1] / 2;
    section->table_far_m = -site->table.size_m[1] / 2;
    section->hero = PC_HERO_BOWL;
    section->hero_width_m = isnan(scene->radius_m) ? scene->along_m : 2 * scene->radius_m;
    section->hero_top_m = fmax(scene->height_m, site->table.height_m + LEAST_RIM_M);
    section->liquid_m = scene->height_m;
    section->camera_x_m = scene->distance_m * cos(scene->elevation_rad);
    section->camera_m = scene->height_m + scene->distance_m * sin(scene->elevation_rad);
    if (ahead == NULL)
        return;
    section->window_x_m = -ahead->from_table_m;
    section->sill_m = ahead->sill_m;
    section->head_m = ahead->sill_m + ahead->height_m;
    if (!glare->clear)
        section->mirror_x_m = 0.0;
}
