// SPDX-License-Identifier: Apache-2.0
// The tables as people read them: Markdown, one table for each kind of thing.
#include "base/keys.h"

enum { TABLES_MAX = 32, CELL_BYTES = 256 };

struct written {
    const struct pc_keys *table[TABLES_MAX];
    size_t count;
};

static void note(struct written *all, const struct pc_keys *table)
{
    for (size_t i = 0; i < all->count; i++)
        if (all->table[i] == table)
            return;
    PC_ASSERT(all->count < TABLES_MAX);
    all->table[all->count++] = table;
}

static void value_cell(const struct pc_key *row, char out[CELL_BYTES])
{
    const char *unit = row->unit != NULL ? row->unit : "", *gap = row->unit != NULL ? " " : "";
    size_t used = 0;
    switch (row->kind) {
    case PC_KEY_NUMBER:
    case PC_KEY_WHOLE:
        snprintf(out, CELL_BYTES, "%s%.6g to %.6g%s%s", row->kind == PC_KEY_WHOLE ? "whole, " : "",
                 row->least, row->most, gap, unit);
        break;
    case PC_KEY_PAIR:
        snprintf(out, CELL_BYTES, "[a, b], each %.6g to %.6g%s%s", row->least, row->most, gap, unit);
        break;
    case PC_KEY_YES_NO:
        snprintf(out, CELL_BYTES, "true or false");
        break;
    case PC_KEY_TEXT:
        snprintf(out, CELL_BYTES, "text");
        break;
    case PC_KEY_DATE:
        snprintf(out, CELL_BYTES, "a day, as \"2027-03-18\"");
        break;
    case PC_KEY_ONE_OF:
        for (size_t i = 0; row->names[i] != NULL && used < CELL_BYTES; i++)
            used +=
                (size_t)snprintf(out + used, CELL_BYTES - used, "%s\"%s\"", i > 0 ? ", " : "", row->names[i]);
        break;
    case PC_KEY_PART:
        snprintf(out, CELL_BYTES, "a %s", row->table->noun);
        break;
    case PC_KEY_LIST:
        snprintf(out, CELL_BYTES, "a list, each %s %s, at most %.0f",
                 strchr("aeiou", row->table->noun[0]) != NULL ? "an" : "a", row->table->noun, row->most);
        break;
    }
}

static void within_cell(const struct pc_key *row, char out[CELL_BYTES])
{
    const char *unit = row->unit != NULL ? row->unit : "", *gap = row->unit != NULL ? " " : "";
    out[0] = '\0';
    if (row->offset_within == 0)
        return;
    if (row->within > 0 && row->within_pct > 0)
        snprintf(out, CELL_BYTES, "%.6g%s%s or %.6g %%", row->within, gap, unit, row->within_pct);
    else if (row->within_pct > 0)
        snprintf(out, CELL_BYTES, "%.6g %%", row->within_pct);
    else
        snprintf(out, CELL_BYTES, "%.6g%s%s", row->within, gap, unit);
}

static void otherwise_cell(const struct pc_key *row, char out[CELL_BYTES])
{
    const char *otherwise = row->otherwise != NULL ? row->otherwise : "";
    char within[64] = "";
    if (row->otherwise != NULL && row->otherwise_within > 0)
        snprintf(within, sizeof within, " ± %.6g", row->otherwise_within);
    if (row->or_else != NULL)
        snprintf(out, CELL_BYTES, "%s%s%s%s", otherwise, within, row->otherwise != NULL ? ", " : "",
                 row->or_else);
    else if (row->otherwise != NULL)
        snprintf(out, CELL_BYTES, "%s%s", otherwise, within);
    else
        snprintf(out, CELL_BYTES, "%s",
                 row->kind == PC_KEY_LIST   ? "none"
                 : row->kind == PC_KEY_PART ? "as each of its keys"
                                            : "unknown");
}

static char *append_row(struct pc_arena *arena, const char *text, const struct pc_key *row)
{
    char value[CELL_BYTES], within[CELL_BYTES], otherwise[CELL_BYTES];
    value_cell(row, value);
    within_cell(row, within);
    otherwise_cell(row, otherwise);
    return pc_arena_printf(arena, "%s| `%s` | %s | %s | %s | %s |\n", text, row->key, row->help, value,
                           within, otherwise);
}

char *pc_keys_reference(struct pc_arena *arena, const struct pc_keys *table)
{
    struct written all = {.table = {table}, .count = 1};
    char *text = pc_arena_strdup(arena, "");
    for (size_t t = 0; t < all.count; t++) {
        const struct pc_keys *one = all.table[t];
        text = pc_arena_printf(arena,
                               "%s%s### %c%s\n\n| key | what it is | written as | good to | left out |\n"
                               "|---|---|---|---|---|\n",
                               text, t > 0 ? "\n" : "", one->noun[0] - 'a' + 'A', one->noun + 1);
        for (size_t i = 0; i < one->count; i++) {
            text = append_row(arena, text, &one->rows[i]);
            if (one->rows[i].table != NULL)
                note(&all, one->rows[i].table);
        }
    }
    return text;
}
