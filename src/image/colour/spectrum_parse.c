// SPDX-License-Identifier: Apache-2.0
#include "base/text.h"
#include "image/colour/spectrum.h"

enum { MOST_ROWS = 4001, NUMBER_BYTES = 40 }; // 0.1 nm from 380 to 780 nm

static const double LONGEST_STEP_NM = 10.0;
static const double MOST_BELOW_RATIO = 0.01;
static const char separators[] = ",; \t";

struct rows {
    int count;
    double nm[MOST_ROWS], value[MOST_ROWS];
    int line[MOST_ROWS];
    double most;
};

// The next number of a line and what follows it; false when there is none.
static bool take_number(const char **at, const char *end, double *value)
{
    char word[NUMBER_BYTES];
    size_t n = 0;
    while (*at + n < end && (*at)[n] != '\0' && strchr(separators, (*at)[n]) == NULL)
        n++;
    if (n == 0 || n >= sizeof word)
        return false;
    memcpy(word, *at, n);
    word[n] = '\0';
    *at += n;
    while (*at < end && **at != '\0' && strchr(separators, **at) != NULL)
        (*at)++;
    return pc_text_double(word, value);
}

static enum pc_status row_check(const struct rows *rows, const char *place, int line, double nm, double value,
                                struct pc_err *err)
{
    if (rows->count == MOST_ROWS)
        return pc_fail_line(err, place, line, "More than %d rows; export the spectrum in steps of 1 nm.",
                            MOST_ROWS);
    if (!(nm >= 100 && nm <= 5000 && fabs(value) < 1e15))
        return pc_fail_line(err, place, line,
                            "%g and %g are not a wavelength in nanometres and its power; write “450, 0.87”.",
                            nm, value);
    double before = rows->count > 0 ? rows->nm[rows->count - 1] : 0;
    if (rows->count > 0 && !(nm > before))
        return pc_fail_line(err, place, line, "%g nm comes after %g nm; wavelengths must rise.", nm, before);
    if (rows->count > 0 && nm - before > LONGEST_STEP_NM && nm > PC_SPECTRUM_FIRST_NM &&
        before < PC_SPECTRUM_LAST_NM)
        return pc_fail_line(
            err, place, line,
            "There is nothing between %g and %g nm; steps of at most 10 nm are needed, 5 nm or less "
            "for light with lines.",
            before, nm);
    return PC_OK;
}

static enum pc_status rows_read(struct rows *rows, const char *text, size_t count, const char *place,
                                struct pc_err *err)
{
    const char *end = text + count, *at = text;
    bool heading = false;
    if (count >= 3 && memcmp(text, "\xef\xbb\xbf", 3) == 0)
        at += 3;
    for (int line = 1; at < end; line++) {
        const char *newline = memchr(at, '\n', (size_t)(end - at));
        const char *stop = newline != NULL ? newline : end, *next = newline != NULL ? newline + 1 : end;
        while (stop > at && (stop[-1] == '\r' || stop[-1] == ' ' || stop[-1] == '\t'))
            stop--;
        while (at < stop && (*at == ' ' || *at == '\t'))
            at++;
        double nm, value;
        bool blank = at == stop || *at == '#';
        if (!blank && !(take_number(&at, stop, &nm) && take_number(&at, stop, &value) && at == stop)) {
            if (rows->count > 0 || heading)
                return pc_fail_line(
                    err, place, line,
                    "This is not two numbers, a wavelength in nanometres and its power; write “450, 0.87”.");
            heading = true;
        } else if (!blank) {
            PC_TRY(row_check(rows, place, line, nm, value, err));
            rows->line[rows->count] = line;
            rows->nm[rows->count] = nm;
            rows->value[rows->count++] = value;
        }
        at = next;
    }
    return PC_OK;
}

static enum pc_status rows_check(struct rows *rows, const char *place, struct pc_err *err)
{
    if (rows->count < 2)
        return pc_fail(err, PC_BAD_INPUT, place,
                       "It holds no spectrum; write a wavelength in nanometres and its power on each line.");
    double first = rows->nm[0], last = rows->nm[rows->count - 1];
    if (first > PC_SPECTRUM_FIRST_NM || last < PC_SPECTRUM_LAST_NM)
        return pc_fail(err, PC_BAD_INPUT, place,
                       "It reaches from %g to %g nm; colour needs 380 to 780 nm, so export the whole range.",
                       first, last);
    for (int i = 0; i < rows->count; i++)
        if (rows->nm[i] >= PC_SPECTRUM_FIRST_NM && rows->nm[i] <= PC_SPECTRUM_LAST_NM)
            rows->most = fmax(rows->most, rows->value[i]);
    if (!(rows->most > 0))
        return pc_fail(err, PC_BAD_INPUT, place, "There is no light in it between 380 and 780 nm.");
    for (int i = 0; i < rows->count; i++) {
        if (rows->value[i] < -MOST_BELOW_RATIO * rows->most)
            return pc_fail_line(
                err, place, rows->line[i],
                "%g at %g nm is less than no light; take the spectrum again with its dark reading.",
                rows->value[i], rows->nm[i]);
        rows->value[i] = fmax(rows->value[i], 0.0);
    }
    return PC_OK;
}

static double row_at(const struct rows *rows, int *hint, double nm)
{
    int k = *hint;
    while (k < rows->count - 2 && rows->nm[k + 1] < nm)
        k++;
    *hint = k;
    double t = fmin(fmax((nm - rows->nm[k]) / (rows->nm[k + 1] - rows->nm[k]), 0.0), 1.0);
    return rows->value[k] + t * (rows->value[k + 1] - rows->value[k]);
}

// Whether the rows about a band stand closer than its own step.
static bool finer(const struct rows *rows, double nm)
{
    double first = 0, last = 0;
    int inside = 0;
    for (int i = 0; i < rows->count; i++)
        if (fabs(rows->nm[i] - nm) <= PC_SPECTRUM_STEP_NM + 1e-6) {
            first = inside++ == 0 ? rows->nm[i] : first;
            last = rows->nm[i];
        }
    return inside > 2 && (last - first) / (inside - 1) < PC_SPECTRUM_STEP_NM - 0.01;
}

static struct pc_spectrum bands_from_rows(const struct rows *rows)
{
    enum { PIECES = 100 }; // of 0.1 nm: the closest that rows may stand on the average
    struct pc_spectrum out;
    for (int i = 0; i < PC_SPECTRUM_BANDS; i++) {
        double nm = PC_SPECTRUM_FIRST_NM + PC_SPECTRUM_STEP_NM * i, sum = 0, weights = 0;
        int hint = 0;
        if (!finer(rows, nm)) {
            out.value[i] = row_at(rows, &hint, nm);
            continue;
        }
        for (int p = 0; p < PIECES; p++) {
            double off = PC_SPECTRUM_STEP_NM * (2.0 * (p + 0.5) / PIECES - 1.0);
            double weight = 1.0 - fabs(off) / PC_SPECTRUM_STEP_NM;
            sum += weight * row_at(rows, &hint, nm + off);
            weights += weight;
        }
        out.value[i] = sum / weights;
    }
    return out;
}

enum pc_status pc_spectrum_parse(const char *text, size_t count, const char *place,
                                 struct pc_spectrum *spectrum, struct pc_err *err)
{
    struct rows *rows = calloc(1, sizeof *rows);
    PC_ASSERT(rows != NULL);
    enum pc_status status = rows_read(rows, text, count, place, err);
    if (status == PC_OK)
        status = rows_check(rows, place, err);
    if (status == PC_OK)
        *spectrum = bands_from_rows(rows);
    free(rows);
    return status;
}
