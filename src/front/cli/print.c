// SPDX-License-Identifier: Apache-2.0
#include "front/cli/print.h"

enum { MOST_COLUMNS = 12, GAP = 2 };

// The code point at text and its length in bytes; a stray byte counts as one character.
static uint32_t next_code(const unsigned char *text, size_t *bytes)
{
    size_t n = text[0] >= 0xf0 ? 4 : text[0] >= 0xe0 ? 3 : text[0] >= 0xc0 ? 2 : 1;
    uint32_t code = n == 1 ? text[0] : text[0] & (0xffu >> (n + 1));
    for (size_t i = 1; i < n; i++) {
        if ((text[i] & 0xc0) != 0x80) {
            *bytes = i;
            return 0xfffd;
        }
        code = code << 6 | (text[i] & 0x3f);
    }
    *bytes = n;
    return code;
}

size_t pc_print_width(const char *text)
{
    size_t width = 0, bytes;
    for (const unsigned char *c = (const unsigned char *)text; *c != '\0'; c += bytes) {
        uint32_t code = next_code(c, &bytes);
        // Unicode Standard Annex 11, the blocks that names of dishes are written in.
        bool wide = (code >= 0x1100 && code <= 0x115f) || (code >= 0x2e80 && code <= 0xa4cf) ||
                    (code >= 0xac00 && code <= 0xd7a3) || (code >= 0xf900 && code <= 0xfaff) ||
                    (code >= 0xfe30 && code <= 0xfe6f) || (code >= 0xff00 && code <= 0xff60) ||
                    (code >= 0x1f300 && code <= 0x1faff) || (code >= 0x20000 && code <= 0x3fffd);
        bool combining =
            (code >= 0x300 && code <= 0x36f) || code == 0x200d || (code >= 0xfe00 && code <= 0xfe0f);
        width += combining ? 0 : wide ? 2 : 1;
    }
    return width;
}

void pc_print_wrapped(FILE *out, size_t first, size_t rest, const char *text)
{
    size_t column = first;
    fprintf(out, "%*s", (int)first, "");
    bool begun = false;
    while (*text != '\0') {
        size_t n = strcspn(text, " \n");
        char word[512];
        snprintf(word, sizeof word, "%.*s", (int)n, text);
        size_t width = pc_print_width(word);
        if (begun && column + 1 + width > PC_PRINT_COLUMNS) {
            fprintf(out, "\n%*s", (int)rest, "");
            column = rest;
            begun = false;
        }
        fprintf(out, "%s%.*s", begun ? " " : "", (int)n, text);
        column += width + begun;
        begun = true;
        text += n;
        if (*text == '\n') {
            fprintf(out, "\n%*s", (int)rest, "");
            column = rest;
            begun = false;
        }
        text += *text != '\0';
    }
    fputc('\n', out);
}

void pc_print_sentence(FILE *out, const char *fmt, ...)
{
    char text[2048];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    pc_print_wrapped(out, 0, 2, text);
}

static const char *figure(char out[PC_FIGURE_BYTES], double value, double tolerance, const char *sign)
{
    if (!isfinite(value)) {
        snprintf(out, PC_FIGURE_BYTES, "unknown");
        return out;
    }
    if (!isfinite(tolerance) || tolerance <= 0) {
        snprintf(out, PC_FIGURE_BYTES, "%s%.2f", value >= 0.005 ? sign : "",
                 fabs(value) < 0.005 ? 0.0 : value);
        return out;
    }
    // One significant figure, two where the first is a 1 that is not followed by 0; never more than six
    // decimals.
    int decimals = -(int)floor(log10(tolerance));
    double lead = round(tolerance * pow(10, decimals + 1)); // its first two figures
    if (lead > 10 && lead < 20)
        decimals++;
    if (decimals > 6)
        decimals = 6;
    double unit = pow(10, -decimals);
    double v = round(value / unit) * unit, t = fmax(round(tolerance / unit), 1) * unit;
    int shown = decimals > 0 ? decimals : 0;
    snprintf(out, PC_FIGURE_BYTES, "%s%.*f ± %.*f", v > 0 ? sign : "", shown, fabs(v) < unit / 2 ? 0.0 : v,
             shown, t);
    return out;
}

const char *pc_print_figure(char out[PC_FIGURE_BYTES], double value, double tolerance)
{
    return figure(out, value, tolerance, "");
}

const char *pc_print_change(char out[PC_FIGURE_BYTES], double value, double tolerance)
{
    return figure(out, value, tolerance, "+");
}

const char *pc_print_share(char out[PC_FIGURE_BYTES], double ratio, double tolerance_ratio)
{
    const double one_pct = 0.01, tenth_pct = 0.001;
    double low = ratio - tolerance_ratio, high = ratio + tolerance_ratio;
    char text[PC_FIGURE_BYTES];
    if (isnan(ratio))
        snprintf(out, PC_FIGURE_BYTES, "unknown");
    else if (!(tolerance_ratio >= one_pct / 2) && (ratio < tenth_pct / 2 || ratio > 1 - tenth_pct / 2))
        snprintf(out, PC_FIGURE_BYTES, "%.0f %%", 100 * ratio);
    else if (low <= 0 && high >= 1)
        snprintf(out, PC_FIGURE_BYTES, "none to all");
    else if (low <= 0 && high > 0)
        snprintf(out, PC_FIGURE_BYTES, "none to %.*f %%", high < one_pct ? 1 : 0,
                 high < one_pct ? ceil(1000 * high) / 10 : ceil(100 * high));
    else if (high >= 1)
        snprintf(out, PC_FIGURE_BYTES, "%.0f %% to all", floor(100 * low));
    else
        snprintf(out, PC_FIGURE_BYTES, "%.48s %%",
                 pc_print_figure(text, 100 * ratio,
                                 isnan(tolerance_ratio) ? tolerance_ratio
                                                        : 100 * fmax(tolerance_ratio, tenth_pct)));
    return out;
}

struct pc_table {
    struct pc_arena *arena;
    size_t columns, cells, room;
    char *heading[MOST_COLUMNS];
    bool right[MOST_COLUMNS];
    const char **cell; // row-major
};

struct pc_table *pc_table_create(struct pc_arena *arena, const char *columns)
{
    struct pc_table *table = PC_NEW(arena, struct pc_table);
    table->arena = arena;
    for (const char *from = columns; from != NULL;) {
        PC_ASSERT(table->columns < MOST_COLUMNS);
        const char *bar = strchr(from, '|');
        bool right = *from == '>';
        size_t n = bar != NULL ? (size_t)(bar - from) : strlen(from);
        table->right[table->columns] = right;
        table->heading[table->columns++] = pc_arena_printf(arena, "%.*s", (int)(n - right), from + right);
        from = bar != NULL ? bar + 1 : NULL;
    }
    table->room = table->columns * 8;
    table->cell = PC_NEW_N(arena, table->room, const char *);
    return table;
}

void pc_table_cell(struct pc_table *table, const char *fmt, ...)
{
    char text[512];
    va_list args;
    va_start(args, fmt);
    vsnprintf(text, sizeof text, fmt, args);
    va_end(args);
    if (table->cells == table->room) {
        const char **more = PC_NEW_N(table->arena, table->room * 2, const char *);
        memcpy(more, table->cell, table->cells * sizeof *more);
        table->cell = more;
        table->room *= 2;
    }
    table->cell[table->cells++] = pc_arena_strdup(table->arena, text);
}

static void print_row(const struct pc_table *table, FILE *out, size_t indent, const size_t *widths,
                      const char *const *cells)
{
    size_t last = table->columns; // no spaces after the last text of a row
    while (last > 0 && cells[last - 1][0] == '\0')
        last--;
    fprintf(out, "%*s", (int)(last > 0 ? indent : 0), "");
    for (size_t c = 0; c < last; c++) {
        int pad = (int)(widths[c] - pc_print_width(cells[c]));
        bool right = table->right[c];
        fprintf(out, "%*s%s", right ? pad : 0, "", cells[c]);
        if (c + 1 < last)
            fprintf(out, "%*s", (right ? 0 : pad) + GAP, "");
    }
    fputc('\n', out);
}

void pc_table_print(const struct pc_table *table, FILE *out, size_t indent)
{
    PC_ASSERT(table->cells % table->columns == 0);
    size_t widths[MOST_COLUMNS] = {0};
    bool headed = false;
    for (size_t c = 0; c < table->columns; c++) {
        widths[c] = pc_print_width(table->heading[c]);
        headed = headed || widths[c] > 0;
    }
    for (size_t i = 0; i < table->cells; i++) {
        size_t width = pc_print_width(table->cell[i]), *column = &widths[i % table->columns];
        *column = width > *column ? width : *column;
    }
    if (headed)
        print_row(table, out, indent, widths, (const char *const *)table->heading);
    for (size_t i = 0; i < table->cells; i += table->columns)
        print_row(table, out, indent, widths, table->cell + i);
}
