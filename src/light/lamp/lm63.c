// SPDX-License-Identifier: Apache-2.0
// ANSI/IES LM-63: a first line that names the edition (none in 1986), lines of keywords, TILT=, then numbers
// in free form, split by spaces, commas and new lines.
#include "base/text.h"
#include "light/lamp/photometry.h"
#include "light/lamp/photometry_priv.h"

enum { WORD_BYTES = 64, LINE_BYTES = 256, TILT_MAX = 181, LAMPS_MAX = 10000 };

static const double M_PER_FOOT = 0.3048;
static const double CANDELA_MAX = 1e9; // a lighthouse has 1e7

struct reader {
    struct pc_arena *arena;
    const char *at, *end, *place;
    int line; // of at
    struct pc_photometry *out;
    struct pc_err *err;
};

static const char *const editions[] = {
    [PC_PHOTOMETRY_LM63_1991] = "IESNA91",
    [PC_PHOTOMETRY_LM63_1995] = "IESNA:LM-63-1995",
    [PC_PHOTOMETRY_LM63_2002] = "IESNA:LM-63-2002",
    [PC_PHOTOMETRY_LM63_2019] = "IES:LM-63-2019",
};

// The next line without its end and the spaces there, cut to LINE_BYTES; false at the end of the text.
static bool take_line(struct reader *r, char text[LINE_BYTES], int *line)
{
    if (r->at >= r->end)
        return false;
    size_t n = 0;
    for (; r->at < r->end && *r->at != '\n' && *r->at != '\r'; r->at++)
        if (n + 1 < LINE_BYTES)
            text[n++] = *r->at;
    if (r->at < r->end && *r->at == '\r')
        r->at++;
    if (r->at < r->end && *r->at == '\n')
        r->at++;
    *line = r->line++;
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t'))
        n--;
    text[n] = '\0';
    return true;
}

static bool is_gap(char c)
{
    return c == ' ' || c == '\t' || c == ',' || c == '\r' || c == '\n';
}

static void skip_gap(struct reader *r)
{
    for (; r->at < r->end && is_gap(*r->at); r->at++)
        if (*r->at == '\n' || (*r->at == '\r' && !(r->at + 1 < r->end && r->at[1] == '\n')))
            r->line++;
}

static void take_word(struct reader *r, char word[WORD_BYTES])
{
    size_t n = 0;
    for (; r->at < r->end && !is_gap(*r->at); r->at++)
        if (n + 1 < WORD_BYTES)
            word[n++] = *r->at;
    word[n] = '\0';
}

// what: for the sentence, with its article.
static enum pc_status take_number(struct reader *r, const char *what, double *value)
{
    skip_gap(r);
    if (r->at >= r->end)
        return pc_fail_line(r->err, r->place, r->line,
                            "The file ends where %s should stand; the counts promise more numbers.", what);
    char word[WORD_BYTES], shown[WORD_BYTES];
    take_word(r, word);
    pc_text_printable(word, shown, sizeof shown);
    if (!pc_text_double(word, value))
        return pc_fail_line(r->err, r->place, r->line, "“%s” stands where %s should; it must be a number.",
                            shown, what);
    return PC_OK;
}

static enum pc_status take_within(struct reader *r, const char *what, double least, double most,
                                  double *value)
{
    PC_TRY(take_number(r, what, value));
    if (!(*value >= least && *value <= most))
        return pc_fail_line(r->err, r->place, r->line, "%g stands where %s should; it may be from %g to %g.",
                            *value, what, least, most);
    return PC_OK;
}

static enum pc_status take_whole(struct reader *r, const char *what, int least, int most, int *value)
{
    double number;
    PC_TRY(take_within(r, what, least, most, &number));
    if (number - floor(number) > 0)
        return pc_fail_line(r->err, r->place, r->line,
                            "%g stands where %s should; it must be a whole number.", number, what);
    *value = (int)number;
    return PC_OK;
}

static enum pc_status take_angles(struct reader *r, const char *what, size_t count, double *deg)
{
    for (size_t i = 0; i < count; i++) {
        PC_TRY(take_within(r, what, -180, 360, &deg[i]));
        if (i > 0 && !(deg[i] > deg[i - 1]))
            return pc_fail_line(r->err, r->place, r->line, "%g follows %g among the angles; %s must rise.",
                                deg[i], deg[i - 1], what);
    }
    return PC_OK;
}

static enum pc_status read_edition(struct reader *r)
{
    struct reader first = *r;
    int line;
    char text[LINE_BYTES];
    if (!take_line(&first, text, &line))
        return pc_fail(r->err, PC_BAD_INPUT, r->place, "It is empty; fetch the photometric file again.");
    r->out->form = PC_PHOTOMETRY_LM63_1986;
    for (size_t i = PC_PHOTOMETRY_LM63_1991; i < PC_COUNT(editions); i++)
        if (strcmp(text, editions[i]) == 0) {
            r->out->form = (enum pc_photometry_form)i;
            *r = first;
            return PC_OK;
        }
    char shown[LINE_BYTES];
    pc_text_printable(text, shown, sizeof shown);
    if (strncmp(text, "IES:", 4) == 0 || strncmp(text, "IESNA", 5) == 0)
        return pc_fail_line(
            r->err, r->place, 1,
            "“%s” is no edition of LM-63 known here; they begin with IESNA91, IESNA:LM-63-1995, "
            "IESNA:LM-63-2002 or IES:LM-63-2019.",
            shown);
    return PC_OK;
}

static void note_missing_keywords(struct reader *r, const bool found[4])
{
    static const char *const required[] = {"[TEST]", "[TESTLAB]", "[ISSUEDATE]", "[MANUFAC]"};
    char list[128] = "";
    for (size_t i = 0; i < PC_COUNT(required); i++)
        if (!found[i]) {
            strncat(list, list[0] != '\0' ? ", " : "", sizeof list - strlen(list) - 1);
            strncat(list, required[i], sizeof list - strlen(list) - 1);
        }
    if (r->out->form >= PC_PHOTOMETRY_LM63_2002 && list[0] != '\0')
        pc_photometry_add_note(
            r->out, pc_arena_printf(r->arena, "It lacks %s, which its edition of LM-63 asks for.", list));
}

// Down to and with the line TILT=, whose value comes back.
static enum pc_status read_keywords(struct reader *r, char tilt[LINE_BYTES], int *tilt_line)
{
    static const char *const required[] = {"[TEST]", "[TESTLAB]", "[ISSUEDATE]", "[MANUFAC]"};
    bool found[4] = {false};
    int line;
    char whole[LINE_BYTES];
    while (take_line(r, whole, &line)) {
        const char *text = whole + strspn(whole, " \t");
        if (strncmp(text, "TILT=", 5) == 0) {
            note_missing_keywords(r, found);
            memmove(tilt, text + 5, strlen(text + 5) + 1);
            *tilt_line = line;
            return PC_OK;
        }
        for (size_t i = 0; i < PC_COUNT(required); i++)
            found[i] = found[i] || strncmp(text, required[i], strlen(required[i])) == 0;
        if (r->out->form >= PC_PHOTOMETRY_LM63_1995 && text[0] != '[' && text[0] != '\0')
            return pc_fail_line(
                r->err, r->place, line,
                "Until a line TILT= stand keywords in brackets, like [LAMP]; this line is neither.");
    }
    return pc_fail(
        r->err, PC_BAD_INPUT, r->place,
        "It has no line that begins with TILT=, so it is not a photometric file in the form of LM-63.");
}

static enum pc_status read_tilt(struct reader *r, const char *tilt, int line)
{
    if (strcmp(tilt, "NONE") == 0)
        return PC_OK;
    char shown[LINE_BYTES];
    pc_text_printable(tilt, shown, sizeof shown);
    if (strcmp(tilt, "INCLUDE") != 0)
        return pc_fail_line(
            r->err, r->place, line,
            "The factors for tilting are in another file, “%s”; write them into this one after "
            "TILT=INCLUDE, or TILT=NONE when the lamp does not mind how it hangs.",
            shown);
    int geometry, count = 0;
    PC_TRY(take_whole(r, "how the lamp lies in the luminaire", 1, 3, &geometry));
    PC_TRY(take_whole(r, "the number of tilt angles", 1, TILT_MAX, &count));
    double *deg = PC_NEW_N(r->arena, (size_t)count, double),
           *ratio = PC_NEW_N(r->arena, (size_t)count, double);
    PC_TRY(take_angles(r, "tilt angles", (size_t)count, deg));
    for (int i = 0; i < count; i++)
        PC_TRY(take_within(r, "a factor for tilting", 0.001, 100, &ratio[i]));
    r->out->tilt_count = (size_t)count;
    r->out->tilt_deg = deg;
    r->out->tilt_ratio = ratio;
    return PC_OK;
}

// The numbers before the angles.
struct head {
    int lamps, v_count, h_count, type, units;
    double lumens, multiplier, width, length, height, ballast, second, watts;
};

static enum pc_status read_head(struct reader *r, struct head *h)
{
    const double sizes = 1000;
    PC_TRY(take_whole(r, "the number of lamps", 1, LAMPS_MAX, &h->lamps));
    PC_TRY(take_within(r, "the lumens of a lamp (-1: measured as a whole)", -1, 1e8, &h->lumens));
    if (h->lumens < 0 && h->lumens > -1)
        return pc_fail_line(r->err, r->place, r->line,
                            "%g stands where the lumens of a lamp should; below 0 there is only -1.",
                            h->lumens);
    PC_TRY(take_within(r, "the factor of all candela", 1e-9, 1e9, &h->multiplier));
    PC_TRY(take_whole(r, "the number of vertical angles", 2, PC_PHOTOMETRY_V_MAX, &h->v_count));
    PC_TRY(take_whole(r, "the number of horizontal angles", 1, PC_PHOTOMETRY_H_MAX, &h->h_count));
    PC_TRY(take_whole(r, "the photometric type (1 C, 2 B, 3 A)", 1, 3, &h->type));
    PC_TRY(take_whole(r, "the units (1 feet, 2 metres)", 1, 2, &h->units));
    PC_TRY(take_within(r, "the width of the opening", -sizes, sizes, &h->width));
    PC_TRY(take_within(r, "the length of the opening", -sizes, sizes, &h->length));
    PC_TRY(take_within(r, "the height of the opening", -sizes, sizes, &h->height));
    PC_TRY(take_within(r, "the ballast factor", 1e-6, 1000, &h->ballast));
    PC_TRY(take_within(r, "the factor after the ballast factor", 0, 1e6, &h->second));
    PC_TRY(take_within(r, "the input watts", 0, 1e6, &h->watts));
    if ((long)h->v_count * h->h_count > PC_PHOTOMETRY_CELLS_MAX)
        return pc_fail_line(r->err, r->place, r->line,
                            "%d by %d angles are more than %d values; no luminaire is measured so closely.",
                            h->v_count, h->h_count, PC_PHOTOMETRY_CELLS_MAX);
    return PC_OK;
}

// A negative size is that of a round opening; with one size alone it is as wide as long.
static void put_opening(struct pc_photometry *out, const struct head *h)
{
    double m = h->units == 1 ? M_PER_FOOT : 1.0;
    out->width_m = m * fabs(h->width);
    out->length_m = m * fabs(h->length);
    out->height_m = m * fabs(h->height);
    out->opening = h->width < 0 || h->length < 0           ? PC_PHOTOMETRY_ROUND
                   : out->width_m > 0 || out->length_m > 0 ? PC_PHOTOMETRY_RECTANGLE
                                                           : PC_PHOTOMETRY_POINT;
    if (out->opening == PC_PHOTOMETRY_ROUND) {
        out->width_m = out->width_m > 0 ? out->width_m : out->length_m;
        out->length_m = out->length_m > 0 ? out->length_m : out->width_m;
    }
}

static enum pc_status check_v(struct reader *r, const double *deg, size_t count)
{
    double first = deg[0], last = deg[count - 1];
    if (r->out->type == PC_PHOTOMETRY_C
            ? pc_photometry_v_fits(deg, count)
            : (pc_photometry_same_deg(first, 0) || pc_photometry_same_deg(first, -90)) &&
                  pc_photometry_same_deg(last, 90))
        return PC_OK;
    return pc_fail_line(r->err, r->place, r->line, "The vertical angles go from %g to %g; %s.", first, last,
                        r->out->type == PC_PHOTOMETRY_C
                            ? "in type C they begin at 0 or 90 and end at 90 or 180"
                            : "in types A and B they go from -90 or 0 to 90");
}

static enum pc_status check_h(struct reader *r, const double *deg, size_t count)
{
    static const struct {
        double first, last;
        enum pc_photometry_symmetry symmetry;
    } c[] = {{0, 0, PC_PHOTOMETRY_AXIAL},
             {0, 90, PC_PHOTOMETRY_QUARTERS},
             {0, 180, PC_PHOTOMETRY_HALVES},
             {90, 270, PC_PHOTOMETRY_SIDES},
             {0, 360, PC_PHOTOMETRY_NONE}},
      ab[] = {{0, 90, PC_PHOTOMETRY_SIDES}, {-90, 90, PC_PHOTOMETRY_NONE}};
    bool is_c = r->out->type == PC_PHOTOMETRY_C;
    for (size_t i = 0; i < (is_c ? PC_COUNT(c) : PC_COUNT(ab)); i++) {
        double first = is_c ? c[i].first : ab[i].first, last = is_c ? c[i].last : ab[i].last;
        if (pc_photometry_same_deg(deg[0], first) && pc_photometry_same_deg(deg[count - 1], last)) {
            r->out->symmetry = is_c ? c[i].symmetry : ab[i].symmetry;
            return PC_OK;
        }
    }
    return pc_fail_line(r->err, r->place, r->line, "The horizontal angles go from %g to %g; %s.", deg[0],
                        deg[count - 1],
                        is_c ? "in type C they go from 0 to 0, 90, 180 or 360, or from 90 to 270"
                             : "in types A and B they go from -90 or 0 to 90");
}

// 0 and 360 degrees are one plane; where a file has it twice the first one holds.
static void close_circle(struct reader *r, const struct head *h, double *candela)
{
    size_t v_count = (size_t)h->v_count;
    double *last = candela + ((size_t)h->h_count - 1) * v_count;
    bool differ = false;
    if (r->out->symmetry != PC_PHOTOMETRY_NONE || r->out->type != PC_PHOTOMETRY_C)
        return;
    for (size_t i = 0; i < v_count; i++) {
        differ = differ || fabs(candela[i] - last[i]) > 1e-3 * fmax(candela[i], last[i]);
        last[i] = candela[i];
    }
    if (differ)
        pc_photometry_add_note(r->out,
                               "Its planes at 0 and at 360 degrees differ, and are the same plane; that at 0 "
                               "was taken.");
}

static enum pc_status read_table(struct reader *r, const struct head *h, struct pc_photometry_table *table)
{
    size_t v_count = (size_t)h->v_count, h_count = (size_t)h->h_count;
    double *v = PC_NEW_N(r->arena, v_count, double), *horizontal = PC_NEW_N(r->arena, h_count, double);
    double *candela = PC_NEW_N(r->arena, v_count * h_count, double);
    PC_TRY(take_angles(r, "vertical angles", v_count, v));
    PC_TRY(check_v(r, v, v_count));
    PC_TRY(take_angles(r, "horizontal angles", h_count, horizontal));
    PC_TRY(check_h(r, horizontal, h_count));
    double scale = h->multiplier * h->ballast;
    if (r->out->form <= PC_PHOTOMETRY_LM63_1991)
        scale *= h->second; // the ballast-lamp factor of the first two editions
    for (size_t i = 0; i < v_count * h_count; i++) {
        PC_TRY(take_within(r, "a candela value", 0, CANDELA_MAX, &candela[i]));
        candela[i] *= scale;
        if (candela[i] > CANDELA_MAX)
            return pc_fail_line(
                r->err, r->place, r->line,
                "With the file's factors this comes to %g cd, which nothing gives; look at the "
                "factors before the angles.",
                candela[i]);
    }
    skip_gap(r);
    if (r->at < r->end)
        return pc_fail_line(
            r->err, r->place, r->line,
            "The file goes on after the last of %zu candela values; the counts of angles do not "
            "fit them.",
            v_count * h_count);
    close_circle(r, h, candela);
    *table = (struct pc_photometry_table){v_count, h_count, v, horizontal, candela};
    return PC_OK;
}

static void note_rest(struct reader *r, const struct head *h, const struct pc_photometry_table *table)
{
    struct pc_photometry *out = r->out;
    if (out->type != PC_PHOTOMETRY_C && pc_photometry_same_deg(table->v_deg[0], 0)) {
        out->symmetry = out->symmetry == PC_PHOTOMETRY_SIDES ? PC_PHOTOMETRY_QUARTERS : PC_PHOTOMETRY_HALVES;
        pc_photometry_add_note(
            out, "Its vertical angles begin at 0, so the light below is taken to mirror that above.");
    }
    if ((out->form == PC_PHOTOMETRY_LM63_1995 || out->form == PC_PHOTOMETRY_LM63_2002) &&
        fabs(h->second - 1) > 0)
        pc_photometry_add_note(
            out,
            pc_arena_printf(r->arena,
                            "The number after the ballast factor is %g, which its edition keeps at 1; it "
                            "was passed over.",
                            h->second));
}

enum pc_status pc_photometry_read_lm63(struct pc_arena *arena, const char *text, size_t count,
                                       const char *place, struct pc_photometry *photometry,
                                       struct pc_err *err)
{
    static const enum pc_photometry_type types[] = {PC_PHOTOMETRY_C, PC_PHOTOMETRY_B, PC_PHOTOMETRY_A};
    struct pc_photometry out = {.claimed_lm = NAN, .claimed_down_pct = NAN};
    struct reader r = {arena, text, text + count, place, 1, &out, err};
    char tilt[LINE_BYTES];
    int tilt_line = 0;
    struct head head;
    struct pc_photometry_table table;
    PC_TRY(read_edition(&r));
    PC_TRY(read_keywords(&r, tilt, &tilt_line));
    PC_TRY(read_tilt(&r, tilt, tilt_line));
    PC_TRY(read_head(&r, &head));
    out.type = types[head.type - 1];
    out.watts = head.watts;
    out.lamps_lm = head.lumens < 0 ? (double)NAN : head.lamps * head.lumens;
    put_opening(&out, &head);
    PC_TRY(read_table(&r, &head, &table));
    note_rest(&r, &head, &table);
    pc_photometry_unfold(arena, &table, &out);
    *photometry = out;
    return PC_OK;
}
