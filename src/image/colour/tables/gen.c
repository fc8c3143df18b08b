// SPDX-License-Identifier: Apache-2.0
// Build-time generator: reads the CIE 1931 colour-matching functions from a CGATS file (5 nm) and writes them
// at 1 nm, and the Planckian locus in 1 % steps, as C tables.
//
//   gen-colour-tables CIE1931-2deg-XYZ.cmf OUTPUT.c
//
// 5 nm to 1 nm: Sprague's fifth-order interpolation, as CIE 167:2005 recommends for evenly spaced data.
#include "image/colour/locus_priv.h"

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { STEP_NM = 5, BANDS = 95 };

// Reads the line "KEY value"; false when the key is another one.
static bool key_number(const char *line, const char *key, double *value)
{
    size_t n = strlen(key);
    if (strncmp(line, key, n) != 0 || (line[n] != ' ' && line[n] != '\t'))
        return false;
    const char *at = line + n + strspn(line + n, " \t\"");
    char *end;
    *value = strtod(at, &end);
    return end != at;
}

static bool row_read(const char *line, double row[BANDS])
{
    for (int i = 0; i < BANDS; i++) {
        char *end;
        row[i] = strtod(line, &end);
        if (end == line || !isfinite(row[i]))
            return false;
        line = end;
    }
    return line[strspn(line, " \t\r\n")] == '\0';
}

// The three rows of numbers, after the header has said what they are. What is wrong, or NULL.
static const char *cgats_read(FILE *file, double bands[3][BANDS])
{
    static char line[65536];
    double start = 0, end = 0, count = 0, sets = 0, norm = 0;
    bool data = false;
    int rows = 0;
    while (fgets(line, sizeof line, file) != NULL) {
        if (strncmp(line, "END_DATA", 8) == 0 && data)
            break;
        if (data) {
            if (rows == 3 || !row_read(line, bands[rows]))
                return "a row of data is not 95 numbers";
            rows++;
        } else if (strncmp(line, "BEGIN_DATA", 10) == 0 && line[10] != '_') {
            data = true;
        } else {
            (void)(key_number(line, "SPECTRAL_START_NM", &start) ||
                   key_number(line, "SPECTRAL_END_NM", &end) || key_number(line, "SPECTRAL_BANDS", &count) ||
                   key_number(line, "NUMBER_OF_SETS", &sets) || key_number(line, "SPECTRAL_NORM", &norm));
        }
    }
    if (fabs(start - PC_LOCUS_FIRST_NM) > 0 || fabs(end - PC_LOCUS_LAST_NM) > 0 || fabs(count - BANDS) > 0)
        return "it does not run from 360 to 830 nm in 5 nm steps";
    if (rows != 3 || fabs(sets - 3) > 0 || fabs(norm - 1.0) > 0)
        return "it does not hold three sets of numbers on a scale of 1";
    return NULL;
}

// The row with two values added at either end (CIE 167:2005, extrapolation for Sprague's formula).
static void extend(const double y[BANDS], double out[BANDS + 4])
{
    static const double before[2][6] = {{884, -1960, 3033, -2648, 1080, -180},
                                        {508, -540, 488, -367, 144, -24}};
    memcpy(out + 2, y, sizeof(double) * BANDS);
    for (int k = 0; k < 2; k++) {
        double low = 0, high = 0;
        for (int i = 0; i < 6; i++) {
            low += before[k][i] * y[i] / 209.0;
            high += before[k][i] * y[BANDS - 1 - i] / 209.0;
        }
        out[k] = low;
        out[BANDS + 3 - k] = high;
    }
}

// Sprague's polynomial on the interval from y[2] to y[3], x in 0..1.
static double sprague(const double y[6], double x)
{
    static const double weight[6][6] = {{0, 0, 24, 0, 0, 0},           {2, -16, 0, 16, -2, 0},
                                        {-1, 16, -30, 16, -1, 0},      {-9, 39, -70, 66, -33, 7},
                                        {13, -64, 126, -124, 61, -12}, {-5, 25, -50, 50, -25, 5}};
    double sum = 0;
    for (int power = 5; power >= 0; power--) {
        double a = 0;
        for (int i = 0; i < 6; i++)
            a += weight[power][i] * y[i];
        sum = sum * x + a / 24.0;
    }
    return sum;
}

static void fine_from_bands(const double bands[3][BANDS], double cmf[PC_LOCUS_SAMPLES][3])
{
    for (int c = 0; c < 3; c++) {
        double y[BANDS + 4];
        extend(bands[c], y);
        for (int i = 0; i < PC_LOCUS_SAMPLES; i++) {
            int k = i / STEP_NM, rest = i % STEP_NM;
            double value = rest == 0 ? bands[c][k] : sprague(y + k, (double)rest / STEP_NM);
            cmf[i][c] = value > 0 ? value : 0; // the tails may swing a hair below nothing
        }
    }
}

static void tables_write(FILE *out, const double cmf[PC_LOCUS_SAMPLES][3])
{
    fputs("// Made by gen-colour-tables from the CIE 1931 colour-matching functions.\n"
          "#include \"image/colour/locus_priv.h\"\n\nconst double pc_locus_cmf[PC_LOCUS_SAMPLES][3] = {\n",
          out);
    for (int i = 0; i < PC_LOCUS_SAMPLES; i++)
        fprintf(out, "    {%.17g, %.17g, %.17g},\n", cmf[i][0], cmf[i][1], cmf[i][2]);
    fputs("};\n\nconst struct pc_locus_row pc_locus_table[PC_LOCUS_ROWS] = {\n", out);
    for (int i = 0; i < PC_LOCUS_ROWS; i++) {
        double T = 1000.0 * pow(PC_LOCUS_STEP_RATIO, i - 1), xyz[3];
        pc_locus_xyz(cmf, T, xyz, NULL);
        double d = xyz[0] + 15.0 * xyz[1] + 3.0 * xyz[2];
        fprintf(out, "    {%.17g, %.17g, %.17g},\n", T, 4.0 * xyz[0] / d, 6.0 * xyz[1] / d);
    }
    fputs("};\n", out);
}

int main(int argc, char **argv)
{
    if (argc != 3) {
        fputs("gen-colour-tables: give the colour-matching functions' file and the file to write\n", stderr);
        return 2;
    }
    FILE *in = fopen(argv[1], "r");
    if (in == NULL) {
        fprintf(stderr, "gen-colour-tables: %s cannot be opened: install the package colord-data\n", argv[1]);
        return 1;
    }
    double bands[3][BANDS];
    static double cmf[PC_LOCUS_SAMPLES][3];
    const char *wrong = cgats_read(in, bands);
    fclose(in);
    if (wrong != NULL) {
        fprintf(stderr, "gen-colour-tables: %s: %s\n", argv[1], wrong);
        return 1;
    }
    fine_from_bands(bands, cmf);
    FILE *out = fopen(argv[2], "w");
    if (out == NULL) {
        fprintf(stderr, "gen-colour-tables: %s cannot be written\n", argv[2]);
        return 1;
    }
    tables_write(out, cmf);
    bool bad = ferror(out) != 0;
    if (fclose(out) != 0 || bad) {
        fprintf(stderr, "gen-colour-tables: %s could not be written whole\n", argv[2]);
        return 1;
    }
    return 0;
}
