// SPDX-License-Identifier: Apache-2.0
// Reading numbers and names that people typed. Bytes are UTF-8; the C locale is never changed.
#ifndef PC_BASE_TEXT_H
#define PC_BASE_TEXT_H

#include "base/err.h"

// The whole of text as a finite decimal number; false for anything else ("1e999", "", "3x", "nan").
bool pc_text_double(const char *text, double *value);

// "X,Y": two finite numbers.
bool pc_text_pair(const char *text, double *x, double *y);

// How many single-letter changes lead from a to b (Levenshtein), for "did you mean"; long words are cut
// at 63.
int pc_text_distance(const char *a, const char *b);

// The nearest of names to word, or NULL when none is within a third of its length plus one.
const char *pc_text_nearest(const char *word, const char *const *names, size_t count);

// A name safe to print on a terminal: control bytes become '?'. Writes at most size bytes with the NUL.
void pc_text_printable(const char *text, char *out, size_t size);

#endif
