// SPDX-License-Identifier: Apache-2.0
#include "base/text.h"

enum { LONGEST_WORD = 63 };

bool pc_text_double(const char *text, double *value)
{
    if (text == NULL || *text == '\0' || strspn(text, "0123456789+-.eE") != strlen(text))
        return false;
    char *end;
    double v = strtod(text, &end);
    if (*end != '\0' || !isfinite(v))
        return false;
    *value = v;
    return true;
}

bool pc_text_pair(const char *text, double *x, double *y)
{
    const char *comma = text != NULL ? strchr(text, ',') : NULL;
    char first[64];
    if (comma == NULL || (size_t)(comma - text) >= sizeof first)
        return false;
    memcpy(first, text, (size_t)(comma - text));
    first[comma - text] = '\0';
    return pc_text_double(first, x) && pc_text_double(comma + 1, y);
}

int pc_text_distance(const char *a, const char *b)
{
    int na = (int)strnlen(a, LONGEST_WORD), nb = (int)strnlen(b, LONGEST_WORD);
    int row[LONGEST_WORD + 1];
    for (int j = 0; j <= nb; j++)
        row[j] = j;
    for (int i = 1; i <= na; i++) {
        int diagonal = row[0];
        row[0] = i;
        for (int j = 1; j <= nb; j++) {
            int change = diagonal + (a[i - 1] != b[j - 1]);
            diagonal = row[j];
            int insert = row[j - 1] + 1, remove = row[j] + 1;
            row[j] = change < insert ? change : insert;
            if (remove < row[j])
                row[j] = remove;
        }
    }
    return row[nb];
}

const char *pc_text_nearest(const char *word, const char *const *names, size_t count)
{
    const char *nearest = NULL;
    int best = (int)strnlen(word, LONGEST_WORD) / 3 + 2;
    for (size_t i = 0; i < count; i++) {
        int distance = pc_text_distance(word, names[i]);
        if (distance < best) {
            best = distance;
            nearest = names[i];
        }
    }
    return nearest;
}

void pc_text_printable(const char *text, char *out, size_t size)
{
    size_t n = 0;
    for (; text[n] != '\0' && n + 1 < size; n++)
        out[n] = (unsigned char)text[n] < 0x20 || text[n] == 0x7f ? '?' : text[n];
    if (size > 0)
        out[n] = '\0';
}
