// SPDX-License-Identifier: Apache-2.0
#include "base/json_where.h"

struct scan {
    const char *text;
    size_t count, at;
};

static char here(const struct scan *s)
{
    return s->at < s->count ? s->text[s->at] : '\0';
}

static void skip_space(struct scan *s)
{
    while (s->at < s->count && strchr(" \t\r\n", s->text[s->at]) != NULL && s->text[s->at] != '\0')
        s->at++;
}

static void skip_text(struct scan *s)
{
    for (s->at++; s->at < s->count && s->text[s->at] != '"'; s->at++)
        s->at += s->text[s->at] == '\\';
    s->at++;
}

// A whole value, however deep, without recursion.
static void skip_value(struct scan *s)
{
    size_t open = 0;
    do {
        skip_space(s);
        char c = here(s);
        if (c == '"') {
            skip_text(s);
        } else if (c == '{' || c == '[') {
            open++;
            s->at++;
        } else if (c == '}' || c == ']') {
            open--;
            s->at++;
        } else if (c == ',' || c == ':') {
            s->at++;
        } else {
            while (s->at < s->count && strchr(" \t\r\n,]}", s->text[s->at]) == NULL)
                s->at++;
        }
    } while (open > 0 && s->at < s->count);
}

static void line_and_column(const char *text, size_t at, int *line, int *column)
{
    *line = *column = 1;
    for (size_t i = 0; i < at; i++) {
        if (text[i] == '\n') {
            ++*line;
            *column = 1;
        } else if (((unsigned char)text[i] & 0xc0) != 0x80) {
            ++*column;
        }
    }
}

// From an opening bracket to the n-th member; *key is where its key stands, or where it stands itself.
static bool go_to_member(struct scan *s, size_t n, size_t *key)
{
    bool object = here(s) == '{';
    if (!object && here(s) != '[')
        return false;
    s->at++;
    for (size_t i = 0;; i++) {
        skip_space(s);
        if (s->at >= s->count || here(s) == '}' || here(s) == ']')
            return false;
        *key = s->at;
        if (object) {
            skip_text(s);
            skip_space(s);
            s->at++; // the colon
            skip_space(s);
        }
        if (i == n)
            return true;
        skip_value(s);
        skip_space(s);
        if (here(s) != ',')
            return false;
        s->at++;
    }
}

bool pc_json_where(const char *text, size_t count, const size_t *step, size_t steps,
                   struct pc_json_spot *spot)
{
    struct scan s = {.text = text, .count = count};
    skip_space(&s);
    size_t key = s.at;
    for (size_t i = 0; i < steps; i++)
        if (!go_to_member(&s, step[i], &key))
            return false;
    line_and_column(text, s.at, &spot->line, &spot->column);
    line_and_column(text, key, &spot->key_line, &spot->key_column);
    return true;
}
