// SPDX-License-Identifier: Apache-2.0
// Answers for a person: sentences, figures with their tolerance, aligned columns. UTF-8, 88 columns, no
// colours.
#ifndef PC_FRONT_CLI_PRINT_H
#define PC_FRONT_CLI_PRINT_H

#include "base/arena.h"

enum { PC_PRINT_COLUMNS = 88, PC_FIGURE_BYTES = 64 };

// Columns that text takes on a terminal: combining marks none, East Asian wide characters two.
size_t pc_print_width(const char *text);

// A paragraph, broken at spaces; the first line is indented by first, the others by rest. Ends with a
// newline.
void pc_print_wrapped(FILE *out, size_t first, size_t rest, const char *text);

// One finding as one sentence, continued lines indented by two.
void pc_print_sentence(FILE *out, const char *fmt, ...) PC_PRINTF(2, 3);

// "2.62 ± 0.05": the tolerance with one significant figure (two from 0.11 to 0.19), the value with no
// more decimals than that. No tolerance (NAN or 0): the value with two decimals. Not finite: "unknown". Gives
// back out, so that it can stand among printf's arguments.
const char *pc_print_figure(char out[PC_FIGURE_BYTES], double value, double tolerance);
// The same with the sign of a positive value written, for differences.
const char *pc_print_change(char out[PC_FIGURE_BYTES], double value, double tolerance);
// A share of a whole, from none to all of it: "67 ± 14 %"; "none to 60 %" and "80 % to all" where the
// tolerance reaches past an end, "none to all" past both.
const char *pc_print_share(char out[PC_FIGURE_BYTES], double ratio, double tolerance_ratio);

// Aligned columns. columns: headings split by "|"; one that begins with ">" is aligned to the right.
struct pc_table;
struct pc_table *pc_table_create(struct pc_arena *arena, const char *columns);
// The next cell, row by row.
void pc_table_cell(struct pc_table *table, const char *fmt, ...) PC_PRINTF(2, 3);
// Every row must be whole. Headings that are all empty are not printed.
void pc_table_print(const struct pc_table *table, FILE *out, size_t indent);

#endif
