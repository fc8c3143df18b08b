// SPDX-License-Identifier: Apache-2.0
#include "light/kit/site.h"

enum pc_status pc_site_read(struct pc_arena *arena, const char *path, struct pc_site *site,
                            struct pc_err *err)
{
    PC_TRY(pc_keys_read_file(arena, &pc_site_keys, path, site, err));
    return PC_OK;
}

enum pc_status pc_site_read_text(struct pc_arena *arena, const char *text, size_t count, const char *place,
                                 struct pc_site *site, struct pc_err *err)
{
    return pc_keys_read(arena, &pc_site_keys, text, count, place, site, err);
}

void pc_site_default(struct pc_site *site)
{
    pc_keys_default(&pc_site_keys, site);
}

const struct pc_window *pc_site_window(const struct pc_site *site, const char *name)
{
    for (size_t i = 0; i < site->window_count; i++)
        if (strcmp(site->windows[i].name, name) == 0)
            return &site->windows[i];
    return NULL;
}
