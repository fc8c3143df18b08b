// SPDX-License-Identifier: Apache-2.0
// Build-time generator: reads spectral tables from CGATS files (5 nm) and writes the bands from 380 to 780 nm
// as C tables.
//
//   gen-spectra CIE1931-2deg-XYZ.cmf CIE-1986-daylight-SPD.cmf CIE-TCS.sp OUTPUT.c
#include "image/colour/spectrum_priv.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { MOST_BANDS = 200, MOST_SETS = 15 };

struct table {
    const char *path;
    int sets; // as wanted
    double first_nm, last_nm, count, sets_told;
    double value[MOST_SETS][MOST_BANDS];
};

static void key_number(const char *line, const char *key, double *value)
{
    size_t n = strlen(key);
    if (strncmp(line, key, n) == 0 && (line[n] == ' ' || line[n] == '\t'))
        *value = strtod(line + n + strspn(line + n, " \t\""), NULL);
}

// A row of numbers, after a name when there is one.
static bool row_read(const char *line, int bands, double *row)
{
    line += strspn(line, " \t");
    if ((*line >= 'A' && *line <= 'Z') || *line == '"')
        line += strcspn(line, " \t");
    for (int i = 0; i < bands; i++) {
        char *end;
        row[i] = strtod(line, &end);
        if (end == line || !isfinite(row[i]))
            return false;
        line = end;
    }
    return line[strspn(line, " \t\r\n")] == '\0';
}

// What is wrong, or NULL.
static const char *table_read(struct table *table)
{
    static char line[65536];
    FILE *file = fopen(table->path, "r");
    if (file == NULL)
        return "cannot be opened: install the package colord-data";
    bool data = false;
    int rows = 0;
    const char *wrong = NULL;
    while (wrong == NULL && fgets(line, sizeof line, file) != NULL) {
        if (strncmp(line, "END_DATA", 8) == 0 && line[8] != '_') {
            break;
        } else if (data) {
            int bands = (int)((table->last_nm - table->first_nm) / PC_SPECTRUM_STEP_NM) + 1;
            if (bands < 1 || bands > MOST_BANDS || fabs(table->count - bands) > 0)
                wrong = "does not run in 5 nm steps";
            else if (rows == table->sets || !row_read(line, bands, table->value[rows++]))
                wrong = "has a row that is not of its length";
        } else if (strncmp(line, "BEGIN_DATA", 10) == 0 && line[10] != '_') {
            data = true;
        } else {
            key_number(line, "SPECTRAL_START_NM", &table->first_nm);
            key_number(line, "SPECTRAL_END_NM", &table->last_nm);
            key_number(line, "SPECTRAL_BANDS", &table->count);
            key_number(line, "NUMBER_OF_SETS", &table->sets_told);
        }
    }
    fclose(file);
    if (wrong == NULL && (rows != table->sets || fabs(table->sets_told - rows) > 0))
        wrong = "does not hold as many sets as were looked for";
    if (wrong == NULL && (table->first_nm > PC_SPECTRUM_FIRST_NM || table->last_nm < PC_SPECTRUM_LAST_NM))
        wrong = "does not run from 380 to 780 nm";
    return wrong;
}

static void table_write(FILE *out, const struct table *table, const char *name, const char *count)
{
    int skip = (int)(PC_SPECTRUM_FIRST_NM - table->first_nm) / PC_SPECTRUM_STEP_NM;
    fprintf(out, "\nconst double %s[%s][PC_SPECTRUM_BANDS] = {\n", name, count);
    for (int s = 0; s < table->sets; s++) {
        fputs("    {", out);
        for (int i = 0; i < PC_SPECTRUM_BANDS; i++)
            fprintf(out, "%.17g, ", table->value[s][skip + i]);
        fputs("},\n", out);
    }
    fputs("};\n", out);
}

int main(int argc, char **argv)
{
    static struct table cmf = {.sets = 3}, daylight = {.sets = 3}, test_colours = {.sets = 15};
    struct table *const tables[] = {&cmf, &daylight, &test_colours};
    if (argc != 5) {
        fputs("gen-spectra: give three tables and the file to write\n", stderr);
        return 2;
    }
    for (int i = 0; i < 3; i++) {
        tables[i]->path = argv[1 + i];
        const char *wrong = table_read(tables[i]);
        if (wrong != NULL) {
            fprintf(stderr, "gen-spectra: %s %s\n", argv[1 + i], wrong);
            return 1;
        }
    }
    FILE *out = fopen(argv[4], "w");
    if (out == NULL) {
        fprintf(stderr, "gen-spectra: %s cannot be written\n", argv[4]);
        return 1;
    }
    fputs("// Made by gen-spectra from CIE tables.\n#include \"image/colour/spectrum_priv.h\"\n", out);
    table_write(out, &cmf, "pc_spectrum_cmf", "3");
    table_write(out, &daylight, "pc_spectrum_daylight_curves", "3");
    table_write(out, &test_colours, "pc_spectrum_test_colours", "PC_SPECTRUM_TEST_COLOURS");
    bool bad = ferror(out) != 0;
    if (fclose(out) != 0 || bad) {
        fprintf(stderr, "gen-spectra: %s could not be written whole\n", argv[4]);
        return 1;
    }
    return 0;
}
