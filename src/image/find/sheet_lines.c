// SPDX-License-Identifier: Apache-2.0
// Straight lines among the edges of one plain area.
#include "image/find/sheet_priv.h"

#include "base/units.h"

enum { SPREAD_ways = 10, BAND_px = 2, LEAST_VOTERS = 15 };

static const double OFF_WAY_rad = 0.35;

// The table of votes: SHEET_WAYS rows of rhos about a middle.
struct table {
    float cosine[SHEET_WAYS], sine[SHEET_WAYS];
    float most[SHEET_WAYS]; // votes of the way's best line
    int at[SHEET_WAYS];     // which that is
    bool stale[SHEET_WAYS];
    double x, y; // the middle
    int reach_px, rhos;
};

int sheet_most_rhos(const struct sheet_field *field)
{
    return 2 * (int)ceil(hypot(field->width_px, field->height_px)) + 8;
}

static void table_init(const struct sheet_field *field, const int32_t *voters, int count, struct table *table)
{
    int w = field->width_px, left = w, right = 0, top = field->height_px, bottom = 0;
    for (int i = 0; i < count; i++) {
        int x = voters[i] % w, y = voters[i] / w;
        left = x < left ? x : left;
        right = x > right ? x : right;
        top = y < top ? y : top;
        bottom = y > bottom ? y : bottom;
    }
    table->x = 0.5 * (left + right + 1);
    table->y = 0.5 * (top + bottom + 1);
    table->reach_px = (int)ceil(0.5 * hypot(right - left + 1, bottom - top + 1)) + 2;
    table->rhos = 2 * table->reach_px + 3;
    for (int i = 0; i < SHEET_WAYS; i++) {
        table->cosine[i] = (float)cos(2.0 * PC_PI * i / SHEET_WAYS);
        table->sine[i] = (float)sin(2.0 * PC_PI * i / SHEET_WAYS);
        table->most[i] = 0.0F;
        table->at[i] = 0;
        table->stale[i] = false;
    }
    memset(field->votes, 0, SHEET_WAYS * (size_t)table->rhos * sizeof *field->votes);
}

// An edge's votes for the lines through it that run about across its gradient (Hough transform with the way
// of the gradient known: Duda and Hart, CACM 15:11, 1972).
static void vote(const struct sheet_field *field, struct table *table, int32_t at, float weight)
{
    float x = (float)(at % field->width_px + 0.5 - table->x),
          y = (float)(at / field->width_px + 0.5 - table->y);
    int way = (int)lrintf(field->way_rad[at] * (float)(SHEET_WAYS / (2.0 * PC_PI)));
    for (int k = way - SPREAD_ways; k <= way + SPREAD_ways; k++) {
        int i = (k + SHEET_WAYS) % SHEET_WAYS;
        float rho = x * table->cosine[i] + y * table->sine[i];
        float *to = field->votes + (ptrdiff_t)i * table->rhos + (int)lrintf(rho) + table->reach_px + 1;
        to[0] += weight;
        to[1] += 0.5F * weight;
        to[-1] += 0.5F * weight;
        table->stale[i] = true;
    }
}

static float best_line(const struct sheet_field *field, struct table *table, struct sheet_line *line)
{
    int best = 0;
    for (int i = 0; i < SHEET_WAYS; i++) {
        if (table->stale[i]) {
            const float *row = field->votes + (ptrdiff_t)i * table->rhos;
            int at = 0;
            for (int r = 1; r < table->rhos; r++)
                at = row[r] > row[at] ? r : at;
            table->at[i] = at;
            table->most[i] = row[at];
            table->stale[i] = false;
        }
        best = table->most[i] > table->most[best] ? i : best;
    }
    double way = 2.0 * PC_PI * best / SHEET_WAYS, nx = cos(way), ny = sin(way);
    double middle = ny * -table->x + nx * table->y; // along the line
    *line =
        (struct sheet_line){.way_rad = way,
                            .nx = nx,
                            .ny = ny,
                            .rho_px = table->at[best] - table->reach_px - 1 + nx * table->x + ny * table->y,
                            .along_px = (int)floor(middle) - table->reach_px,
                            .steps = 2 * table->reach_px};
    return table->most[best];
}

static int32_t pixel_at(const struct sheet_field *field, const struct sheet_line *line, double along, int off)
{
    double x = (line->rho_px + off) * line->nx - along * line->ny;
    double y = (line->rho_px + off) * line->ny + along * line->nx;
    if (!(x >= 0.0) || !(y >= 0.0) || x >= field->width_px || y >= field->height_px)
        return -1;
    return (int32_t)y * field->width_px + (int32_t)x;
}

static bool is_its_edge(const struct sheet_field *field, const struct sheet_line *line, int32_t at)
{
    return at >= 0 && field->edge[at] != 0 &&
           fabs(remainder((double)field->way_rad[at] - line->way_rad, 2.0 * PC_PI)) < OFF_WAY_rad;
}

// The edge of the line's own way nearest to it at a step along it: how far off, or NAN.
static double edge_at(const struct sheet_field *field, const struct sheet_line *line, double along)
{
    double best = NAN;
    for (int k = -BAND_px; k <= BAND_px; k++) {
        int32_t at = pixel_at(field, line, along, k);
        if (!is_its_edge(field, line, at))
            continue;
        double off =
            (at % field->width_px + 0.5) * line->nx + (at / field->width_px + 0.5) * line->ny - line->rho_px;
        if (!(fabs(off) >= fabs(best)))
            best = off;
    }
    return best;
}

// Takes back the votes of the edges that lie on a line, so that they count for no other: 2 in edge[].
static void take_back(struct sheet_field *field, struct table *table, const struct sheet_line *line)
{
    for (int t = line->along_px; t < line->along_px + line->steps; t++)
        for (int k = -BAND_px; k <= BAND_px; k++) {
            int32_t at = pixel_at(field, line, t, k);
            if (at < 0 || field->edge[at] != 3 || !is_its_edge(field, line, at))
                continue;
            field->edge[at] = 2;
            vote(field, table, at, -1.0F);
        }
}

// Lays the line on its edges.
static void settle(const struct sheet_field *field, struct sheet_line *line)
{
    for (int pass = 0; pass < 2; pass++) {
        double n = 0, st = 0, so = 0, stt = 0, sto = 0;
        for (int t = line->along_px; t < line->along_px + line->steps; t++) {
            double off = edge_at(field, line, t);
            if (isnan(off))
                continue;
            n += 1.0;
            st += t;
            so += off;
            stt += (double)t * t;
            sto += t * off;
        }
        double spread = n * stt - st * st;
        if (n < LEAST_VOTERS || !(spread > 0.0))
            return;
        double slope = (n * sto - st * so) / spread, offset = so / n, middle = st / n;
        double x = (line->rho_px + offset) * line->nx - middle * line->ny;
        double y = (line->rho_px + offset) * line->ny + middle * line->nx;
        line->way_rad -= slope;
        line->nx = cos(line->way_rad);
        line->ny = sin(line->way_rad);
        line->rho_px = x * line->nx + y * line->ny;
        line->along_px += (int)lrint(y * line->nx - x * line->ny - middle);
    }
}

static void note_seen(const struct sheet_field *field, struct sheet_line *line, int32_t *seen)
{
    line->seen = seen;
    seen[0] = 0;
    for (int i = 0; i < line->steps; i++)
        seen[i + 1] = seen[i] + !isnan(edge_at(field, line, line->along_px + i));
}

double sheet_line_seen(const struct sheet_line *line, const double a[2], const double b[2])
{
    double ta = line->nx * a[1] - line->ny * a[0], tb = line->nx * b[1] - line->ny * b[0];
    int whole = (int)ceil(fabs(tb - ta));
    int from = (int)floor(fmin(ta, tb)) - line->along_px, to = from + whole;
    from = from < 0 ? 0 : from;
    to = to > line->steps ? line->steps : to;
    return to > from && whole > 0 ? (line->seen[to] - line->seen[from]) / (double)whole : 0.0;
}

int sheet_lines(struct sheet_field *field, const int32_t *voters, int count, int32_t *seen,
                struct sheet_line lines[SHEET_LINES_MAX])
{
    struct table table;
    int found = 0;
    table_init(field, voters, count, &table);
    for (int i = 0; i < count; i++) {
        field->edge[voters[i]] = 3; // its vote counts
        vote(field, &table, voters[i], 1.0F);
    }
    while (found < SHEET_LINES_MAX) {
        struct sheet_line line;
        if (best_line(field, &table, &line) < (float)LEAST_VOTERS)
            break;
        take_back(field, &table, &line);
        settle(field, &line);
        take_back(field, &table, &line);
        note_seen(field, &line, seen + (ptrdiff_t)found * sheet_most_rhos(field));
        lines[found++] = line;
    }
    for (int i = 0; i < count; i++)
        field->edge[voters[i]] = 1;
    return found;
}
