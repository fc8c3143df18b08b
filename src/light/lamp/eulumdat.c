// SPDX-License-Identifier: Apache-2.0
// EULUMDAT: one item a line, in a fixed order, candela for 1000 lm of the lamps.
#include "base/text.h"
#include "light/lamp/photometry.h"
#include "light/lamp/photometry_priv.h"

enum { WORD_BYTES = 64, C_MAX = 721, G_MAX = 361, SETS_MAX = 20 };

static const double M_PER_MM = 1e-3;
static const double CANDELA_MAX = 1e9;

struct reader {
    struct pc_arena *arena;
    const char *at, *end, *place;
    int line; // of at
    struct pc_err *err;
};

static enum pc_status take_line(struct reader *r, const char *what, const char **from, const char **to)
{
    if (r->at >= r->end)
        return pc_fail_line(r->err, r->place, r->line, "The file ends where %s should stand.", what);
    const char *stop = memchr(r->at, '\n', (size_t)(r->end - r->at));
    *from = r->at;
    *to = stop != NULL ? stop : r->end;
    r->at = stop != NULL ? stop + 1 : r->end;
    r->line++;
    while (*from < *to && (**from == ' ' || **from == '\t'))
        (*from)++;
    while (*to > *from && ((*to)[-1] == ' ' || (*to)[-1] == '\t' || (*to)[-1] == '\r'))
        (*to)--;
    return PC_OK;
}

static enum pc_status skip_text(struct reader *r, const char *what, int lines)
{
    const char *from, *to;
    for (int i = 0; i < lines; i++)
        PC_TRY(take_line(r, what, &from, &to));
    return PC_OK;
}

// A number alone on its line; a comma in it is its decimal point.
static enum pc_status take_number(struct reader *r, const char *what, double least, double most,
                                  double *value)
{
    const char *from, *to;
    PC_TRY(take_line(r, what, &from, &to));
    char word[WORD_BYTES] = "", shown[WORD_BYTES], plain[WORD_BYTES];
    size_t n = (size_t)(to - from);
    memcpy(word, from, n < WORD_BYTES ? n : WORD_BYTES - 1);
    memcpy(plain, word, sizeof plain);
    char *comma = strchr(plain, ',');
    if (comma != NULL && strchr(plain, '.') == NULL)
        *comma = '.';
    pc_text_printable(word, shown, sizeof shown);
    if (n >= WORD_BYTES || memchr(from, '\0', n) != NULL || !pc_text_double(plain, value))
        return pc_fail_line(r->err, r->place, r->line - 1,
                            "“%s” stands where %s should; it must be one number alone on its line.", shown,
                            what);
    if (!(*value >= least && *value <= most))
        return pc_fail_line(r->err, r->place, r->line - 1,
                            "%g stands where %s should; it may be from %g to %g.", *value, what, least, most);
    return PC_OK;
}

static enum pc_status take_whole(struct reader *r, const char *what, int least, int most, int *value)
{
    double number;
    PC_TRY(take_number(r, what, least, most, &number));
    if (number - floor(number) > 0)
        return pc_fail_line(r->err, r->place, r->line - 1,
                            "%g stands where %s should; it must be a whole number.", number, what);
    *value = (int)number;
    return PC_OK;
}

static enum pc_status take_angles(struct reader *r, const char *what, int count, double most, double *deg)
{
    for (int i = 0; i < count; i++) {
        PC_TRY(take_number(r, what, 0, most, &deg[i]));
        if (i > 0 && !(deg[i] > deg[i - 1]))
            return pc_fail_line(r->err, r->place, r->line - 1,
                                "%g follows %g where %s stands; angles must rise.", deg[i], deg[i - 1], what);
    }
    return PC_OK;
}

struct head {
    int symmetry, c_count, g_count, sets, lamps;
    double lumens, conversion, down_pct, output_pct;
};

static enum pc_status read_sizes(struct reader *r, struct pc_photometry *out)
{
    static const char *const whole[] = {"the luminaire's length", "the luminaire's width",
                                        "the luminaire's height"};
    static const char *const heights[] = {"the opening's height at C0", "the opening's height at C90",
                                          "the opening's height at C180", "the opening's height at C270"};
    const double most_mm = 1e5;
    double unused, length_mm, width_mm, height_mm;
    for (size_t i = 0; i < PC_COUNT(whole); i++)
        PC_TRY(take_number(r, whole[i], 0, most_mm, &unused));
    PC_TRY(take_number(r, "the opening's length or diameter", 0, most_mm, &length_mm));
    PC_TRY(take_number(r, "the opening's width (0: round)", 0, most_mm, &width_mm));
    for (size_t i = 0; i < PC_COUNT(heights); i++) {
        PC_TRY(take_number(r, heights[i], 0, most_mm, &height_mm));
        out->height_m = fmax(out->height_m, M_PER_MM * height_mm);
    }
    out->length_m = M_PER_MM * length_mm;
    out->width_m = M_PER_MM * (width_mm > 0 ? width_mm : length_mm);
    out->opening = width_mm > 0    ? PC_PHOTOMETRY_RECTANGLE
                   : length_mm > 0 ? PC_PHOTOMETRY_ROUND
                                   : PC_PHOTOMETRY_POINT;
    return PC_OK;
}

// Sets of lamps are choices of what to put in; the first is what the figures are for.
static enum pc_status read_sets(struct reader *r, struct head *h, struct pc_photometry *out)
{
    PC_TRY(take_whole(r, "the number of sets of lamps", 1, SETS_MAX, &h->sets));
    for (int i = 0; i < h->sets; i++) {
        int lamps = 0;
        double lumens, watts;
        PC_TRY(take_whole(r, "the number of lamps (-1: measured as a whole)", -10000, 10000, &lamps));
        PC_TRY(skip_text(r, "the kind of lamp", 1));
        PC_TRY(take_number(r, "the lumens of the lamps together", 1e-3, 1e9, &lumens));
        PC_TRY(skip_text(r, "the colour of the lamps", 2));
        PC_TRY(take_number(r, "the watts with ballast", 0, 1e7, &watts));
        if (i > 0)
            continue;
        h->lamps = lamps;
        h->lumens = lumens;
        out->watts = watts;
    }
    if (h->sets > 1)
        pc_photometry_add_note(
            out,
            pc_arena_printf(r->arena, "It lists %d sets of lamps; the figures are for the first.", h->sets));
    return PC_OK;
}

static enum pc_status read_head(struct reader *r, struct head *h, struct pc_photometry *out)
{
    double unused, tilt_deg;
    int kind;
    PC_TRY(skip_text(r, "the maker", 1));
    PC_TRY(take_whole(r, "the kind of luminaire (0 to 3)", 0, 3, &kind));
    PC_TRY(take_whole(r, "the symmetry (0 to 4)", 0, 4, &h->symmetry));
    PC_TRY(take_whole(r, "the number of C planes", 1, C_MAX, &h->c_count));
    PC_TRY(take_number(r, "the angle between C planes", 0, 360, &unused));
    PC_TRY(take_whole(r, "the number of angles in a plane", 2, G_MAX, &h->g_count));
    PC_TRY(take_number(r, "the angle between angles in a plane", 0, 180, &unused));
    PC_TRY(skip_text(r, "the report, names and date", 5));
    PC_TRY(read_sizes(r, out));
    PC_TRY(take_number(r, "the share of light downwards", 0, 100, &h->down_pct));
    PC_TRY(take_number(r, "the light output ratio", 0, 1000, &h->output_pct));
    PC_TRY(take_number(r, "the factor of all intensities", 1e-9, 1e9, &h->conversion));
    PC_TRY(take_number(r, "the tilt while measured", -360, 360, &tilt_deg));
    if (fabs(tilt_deg) > 0)
        pc_photometry_add_note(
            out,
            pc_arena_printf(r->arena, "It was measured tilted by %g degrees; angles are the luminaire's own.",
                            tilt_deg));
    PC_TRY(read_sets(r, h, out));
    for (int i = 0; i < 10; i++)
        PC_TRY(take_number(r, "a direct ratio", -1000, 1000, &unused));
    return PC_OK;
}

// Which of the C planes are stored: from first, count of them, going round. False: the angles do not suit the
// symmetry.
static bool stored_planes(const struct head *h, const double *c_deg, int *first, int *count)
{
    int n = h->c_count;
    bool halves = n % 2 == 0 && pc_photometry_same_deg(c_deg[n / 2], 180);
    bool quarters = n % 4 == 0 && pc_photometry_same_deg(c_deg[n / 4], 90);
    *first = 0;
    switch (h->symmetry) {
    case 0:
        *count = n;
        return pc_photometry_same_deg(c_deg[0], 0) && c_deg[n - 1] < 360;
    case 1:
        *count = 1;
        return true;
    case 2:
        *count = n / 2 + 1;
        return pc_photometry_same_deg(c_deg[0], 0) && halves;
    case 3:
        *first = 3 * n / 4;
        *count = n / 2 + 1;
        return pc_photometry_same_deg(c_deg[0], 0) && halves && quarters &&
               pc_photometry_same_deg(c_deg[3 * n / 4], 270);
    default:
        *count = n / 4 + 1;
        return pc_photometry_same_deg(c_deg[0], 0) && quarters;
    }
}

static enum pc_status read_table(struct reader *r, const struct head *h, struct pc_photometry_table *table)
{
    static const char *const rules[] = {
        "without symmetry they begin at 0 and end below 360", "",
        "with symmetry about C0-C180 they need 0 and 180, as many on either side",
        "with symmetry about C90-C270 they need 0, 90, 180 and 270, as many between each",
        "with symmetry about both planes they need 0 and 90, as many in each quarter"};
    size_t g_count = (size_t)h->g_count;
    double *c = PC_NEW_N(r->arena, (size_t)h->c_count, double), *g = PC_NEW_N(r->arena, g_count, double);
    int first, count;
    PC_TRY(take_angles(r, "the angle of a C plane", h->c_count, 360, c));
    if (!stored_planes(h, c, &first, &count))
        return pc_fail_line(r->err, r->place, r->line - 1, "The C planes go from %g to %g; %s.", c[0],
                            c[h->c_count - 1], rules[h->symmetry]);
    PC_TRY(take_angles(r, "an angle in a plane", h->g_count, 180, g));
    if (!pc_photometry_v_fits(g, g_count))
        return pc_fail_line(
            r->err, r->place, r->line - 1,
            "The angles in a plane go from %g to %g; they begin at 0 or 90 and end at 90 or 180.", g[0],
            g[g_count - 1]);
    bool close = h->symmetry == 0;
    double *deg = PC_NEW_N(r->arena, (size_t)count + 1, double);
    double *candela = PC_NEW_N(r->arena, ((size_t)count + 1) * g_count, double);
    for (int j = 0; j < count; j++) {
        deg[j] = h->symmetry == 1 ? 0 : c[(first + j) % h->c_count] + (first + j >= h->c_count ? 360 : 0);
        for (size_t i = 0; i < g_count; i++) {
            double *cd = &candela[(size_t)j * g_count + i];
            PC_TRY(take_number(r, "an intensity", 0, CANDELA_MAX, cd));
            *cd *= h->lumens / 1000 * h->conversion;
            if (*cd > CANDELA_MAX)
                return pc_fail_line(
                    r->err, r->place, r->line - 1,
                    "With the lamps' lumens this comes to %g cd, which nothing gives; look at the "
                    "lumens and the factor.",
                    *cd);
        }
    }
    if (close) {
        deg[count] = deg[0] + 360;
        memcpy(candela + (size_t)count * g_count, candela, g_count * sizeof *candela);
    }
    *table = (struct pc_photometry_table){g_count, (size_t)(count + close), g, deg, candela};
    return PC_OK;
}

static enum pc_status read_end(struct reader *r)
{
    while (r->at < r->end) {
        const char *from, *to;
        PC_TRY(take_line(r, "nothing", &from, &to));
        if (from < to && *from != '\x1a') // an old end-of-file mark
            return pc_fail_line(
                r->err, r->place, r->line - 1,
                "The file goes on after its last intensity; the counts of angles do not fit.");
    }
    return PC_OK;
}

enum pc_status pc_photometry_read_eulumdat(struct pc_arena *arena, const char *text, size_t count,
                                           const char *place, struct pc_photometry *photometry,
                                           struct pc_err *err)
{
    static const enum pc_photometry_symmetry symmetries[] = {PC_PHOTOMETRY_NONE, PC_PHOTOMETRY_AXIAL,
                                                             PC_PHOTOMETRY_HALVES, PC_PHOTOMETRY_SIDES,
                                                             PC_PHOTOMETRY_QUARTERS};
    struct pc_photometry out = {.form = PC_PHOTOMETRY_EULUMDAT, .type = PC_PHOTOMETRY_C};
    struct reader r = {arena, text, text + count, place, 1, err};
    struct head head;
    struct pc_photometry_table table;
    if (count == 0)
        return pc_fail(err, PC_BAD_INPUT, place, "It is empty; fetch the photometric file again.");
    if (memchr(text, '\0', count) != NULL)
        return pc_fail(err, PC_BAD_INPUT, place,
                       "It is not text, and so no photometric file; those end in .ies or .ldt.");
    PC_TRY(read_head(&r, &head, &out));
    PC_TRY(read_table(&r, &head, &table));
    PC_TRY(read_end(&r));
    out.symmetry = symmetries[head.symmetry];
    out.lamps_lm = head.lamps < 0 ? (double)NAN : head.lumens * head.conversion;
    out.claimed_lm = head.lumens * head.conversion * head.output_pct / 100;
    out.claimed_down_pct = head.down_pct;
    pc_photometry_unfold(arena, &table, &out);
    *photometry = out;
    return PC_OK;
}
