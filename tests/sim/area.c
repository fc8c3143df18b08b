// SPDX-License-Identifier: Apache-2.0
// Area sources in closed form, and how much of one is hidden behind simple shapes.
#include "sim_priv.h"

struct sim_panel sim_panel_at(struct sim_vec centre, struct sim_vec aim, double width_m, double tall_m)
{
    struct sim_panel panel = {.centre = centre, .luminance = 1.0};
    panel.normal = sim_unit(sim_sub(aim, centre));
    struct sim_vec level = sim_cross(sim_vec(0, 0, 1), panel.normal);
    level = sim_length(level) < 1e-9 ? sim_vec(1, 0, 0) : sim_unit(level);
    panel.half_u = sim_mul(level, width_m / 2.0);
    panel.half_v = sim_mul(sim_cross(panel.normal, level), tall_m / 2.0);
    panel.radius_m = hypot(width_m, tall_m) / 2.0;
    return panel;
}

double sim_polygon_lx(const struct sim_vec *corner, int count, struct sim_vec p, struct sim_vec n)
{
    struct sim_vec r[10];
    int m = 0;
    PC_ASSERT(count >= 3 && count <= 8);
    for (int i = 0; i < count; i++) {
        struct sim_vec a = sim_sub(corner[i], p), b = sim_sub(corner[(i + 1) % count], p);
        double da = sim_dot(a, n), db = sim_dot(b, n);
        if (da >= 0)
            r[m++] = a;
        if ((da >= 0) != (db >= 0))
            r[m++] = sim_add(a, sim_mul(sim_sub(b, a), da / (da - db)));
    }
    double sum = 0;
    for (int i = 0; i < m && m >= 3; i++) {
        struct sim_vec c = sim_cross(r[i], r[(i + 1) % m]);
        double length = sim_length(c);
        if (length > 0)
            sum += atan2(length, sim_dot(r[i], r[(i + 1) % m])) * sim_dot(n, c) / length;
    }
    return fabs(sum) / 2.0;
}

double sim_panel_lx(const struct sim_panel *panel, struct sim_vec p, struct sim_vec n)
{
    if (sim_dot(sim_sub(p, panel->centre), panel->normal) <= 0)
        return 0;
    struct sim_vec corner[4];
    for (int i = 0; i < 4; i++) {
        double u = i == 1 || i == 2 ? 1.0 : -1.0, v = i >= 2 ? 1.0 : -1.0;
        corner[i] = sim_add(panel->centre, sim_add(sim_mul(panel->half_u, u), sim_mul(panel->half_v, v)));
    }
    return panel->luminance * sim_polygon_lx(corner, 4, p, n);
}

// ---- shadows: along a line q(s) = q0 + s dq, s in 0..1, on the panel, the part hidden from p is an interval
// ----

struct span {
    double from, to; // empty where from >= to
};

static const struct span nothing = {1, 0};

// {s in 0..1 : a s^2 + b s + c >= 0 and lean0 + s lean > 0}, known to be one interval.
static struct span span_quadratic(double a, double b, double c, double lean0, double lean)
{
    double cut[5] = {0, 1, 1, 1, 1};
    int n = 1;
    double disc = b * b - 4 * a * c;
    if (fabs(a) > 1e-14 && disc > 0) {
        double q = -0.5 * (b + copysign(sqrt(disc), b));
        double r[2] = {q / a, q != 0 ? c / q : 0};
        for (int i = 0; i < 2; i++)
            if (r[i] > 0 && r[i] < 1)
                cut[n++] = r[i];
    } else if (fabs(a) <= 1e-14 && b != 0 && -c / b > 0 && -c / b < 1) {
        cut[n++] = -c / b;
    }
    if (lean != 0 && -lean0 / lean > 0 && -lean0 / lean < 1)
        cut[n++] = -lean0 / lean;
    cut[n] = 1;
    for (int i = 1; i < n; i++)
        for (int j = i; j > 1 && cut[j] < cut[j - 1]; j--) {
            double t = cut[j];
            cut[j] = cut[j - 1];
            cut[j - 1] = t;
        }
    struct span found = nothing;
    for (int i = 0; i < n; i++) {
        double mid = 0.5 * (cut[i] + cut[i + 1]);
        if ((a * mid + b) * mid + c >= 0 && lean0 + lean * mid > 0) {
            found.from = fmin(found.from, cut[i]);
            found.to = fmax(found.to, cut[i + 1]);
        }
    }
    return found;
}

static struct span span_ellipsoid(const struct sim_blocker *k, struct sim_vec p, struct sim_vec d0,
                                  struct sim_vec dd)
{
    // in a space where it is the unit sphere
    double sx = 1.0 / k->radius_m, sz = 1.0 / k->tall_m;
    struct sim_vec m = sim_vec((k->centre.x - p.x) * sx, (k->centre.y - p.y) * sx, (k->centre.z - p.z) * sz);
    struct sim_vec a = sim_vec(d0.x * sx, d0.y * sx, d0.z * sz), b = sim_vec(dd.x * sx, dd.y * sx, dd.z * sz);
    double out = sim_dot(m, m) - 1.0;
    if (out <= 0)
        return nothing;
    // (D.m)^2 - (D.D) out >= 0 with D = a + s b
    double am = sim_dot(a, m), bm = sim_dot(b, m);
    return span_quadratic(bm * bm - sim_dot(b, b) * out, 2 * (am * bm - sim_dot(a, b) * out),
                          am * am - sim_dot(a, a) * out, am, bm);
}

static struct span span_disc(const struct sim_blocker *k, struct sim_vec p, struct sim_vec d0,
                             struct sim_vec dd)
{
    double rise = k->centre.z - p.z;
    if (rise <= 1e-9)
        return nothing;
    // |(p - c) Dz + rise Dxy|^2 <= r^2 Dz^2 with D = d0 + s dd
    double ax = (p.x - k->centre.x) * d0.z + rise * d0.x, bx = (p.x - k->centre.x) * dd.z + rise * dd.x;
    double ay = (p.y - k->centre.y) * d0.z + rise * d0.y, by = (p.y - k->centre.y) * dd.z + rise * dd.y;
    double r = k->radius_m;
    return span_quadratic(r * r * dd.z * dd.z - bx * bx - by * by,
                          2 * (r * r * d0.z * dd.z - ax * bx - ay * by),
                          r * r * d0.z * d0.z - ax * ax - ay * ay, d0.z, dd.z);
}

static struct span span_rect(const struct sim_blocker *k, struct sim_vec p, struct sim_vec d0,
                             struct sim_vec dd)
{
    double rise = k->centre.z - p.z;
    if (rise <= 1e-9)
        return nothing;
    double ax = (p.x - k->centre.x) * d0.z + rise * d0.x, bx = (p.x - k->centre.x) * dd.z + rise * dd.x;
    double ay = (p.y - k->centre.y) * d0.z + rise * d0.y, by = (p.y - k->centre.y) * dd.z + rise * dd.y;
    double au = k->cos_turn * ax + k->sin_turn * ay, bu = k->cos_turn * bx + k->sin_turn * by;
    double av = -k->sin_turn * ax + k->cos_turn * ay, bv = -k->sin_turn * bx + k->cos_turn * by;
    const double line[5][2] = {{k->half_u_m * d0.z - au, k->half_u_m * dd.z - bu},
                               {k->half_u_m * d0.z + au, k->half_u_m * dd.z + bu},
                               {k->half_v_m * d0.z - av, k->half_v_m * dd.z - bv},
                               {k->half_v_m * d0.z + av, k->half_v_m * dd.z + bv},
                               {d0.z, dd.z}};
    struct span s = {0, 1};
    for (int i = 0; i < 5; i++) {
        double a = line[i][0], b = line[i][1];
        if (b > 0)
            s.from = fmax(s.from, -a / b);
        else if (b < 0)
            s.to = fmin(s.to, -a / b);
        else if (a < 0)
            return nothing;
    }
    return s;
}

// The light of a stretch of a line on the panel: the integral of (n.d) over |d|^4 with d = d0 + s dd, above
// the receiver's horizon; the panel's own cosine times distance is the same all along the line. With q = A
// s^2 + 2 B s
// + C and D = A C - B^2 the integrals of 1/q^2 and s/q^2 are elementary.
static double line_light(struct sim_vec d0, struct sim_vec dd, struct sim_vec n, double from, double to)
{
    double rise0 = sim_dot(d0, n), rise = sim_dot(dd, n);
    if (rise > 0)
        from = fmax(from, -rise0 / rise);
    else if (rise < 0)
        to = fmin(to, -rise0 / rise);
    else if (rise0 <= 0)
        return 0;
    if (from >= to)
        return 0;
    double A = sim_dot(dd, dd), B = sim_dot(d0, dd), C = sim_dot(d0, d0), D = A * C - B * B, root = sqrt(D);
    double q0 = (A * from + 2 * B) * from + C, q1 = (A * to + 2 * B) * to + C;
    double turn = atan2((A * (to - from)) * root, D + (A * to + B) * (A * from + B)) / root;
    double plain = ((A * to + B) / q1 - (A * from + B) / q0 + A * turn) / (2 * D);
    double by_s = -((B * to + C) / q1 - (B * from + C) / q0 + B * turn) / (2 * D);
    return fmax(0, rise0 * plain + rise * by_s);
}

// Whether a blocker may stand between p and any of the panel, never wrongly no.
static bool may_block(const struct sim_panel *panel, const struct sim_blocker *k, struct sim_vec p)
{
    double from_axis = hypot(p.x - k->centre.x, p.y - k->centre.y), below = k->centre.z - p.z;
    if (k->kind == SIM_BLOCK_HOLE)
        return below > 1e-9 && below < k->tall_m + 1e-6 && from_axis < k->radius_m + 1e-6;
    if (k->kind != SIM_BLOCK_ELLIPSOID && below <= 1e-9)
        return false;
    if (k->kind == SIM_BLOCK_DISC && below < k->tall_m + 1e-6 && from_axis < k->hollow_m + 1e-6)
        return false;
    struct sim_vec m = sim_sub(k->centre, p), d = sim_sub(panel->centre, p);
    double distance = sim_length(d), along = sim_dot(m, d) / distance;
    if (along < -k->bound_m)
        return false;
    double aside = sqrt(fmax(0, sim_dot(m, m) - along * along));
    return aside <= k->bound_m + panel->radius_m *
                                     fmin(1.0, (along + k->bound_m) / fmax(1e-6, distance - panel->radius_m));
}

// Adds the spans hidden by one blocker (a hole hides everything but its span).
static int add_spans(const struct sim_blocker *k, struct sim_vec p, struct sim_vec d0, struct sim_vec dd,
                     struct span *span, int n)
{
    struct span s = k->kind == SIM_BLOCK_ELLIPSOID ? span_ellipsoid(k, p, d0, dd)
                    : k->kind == SIM_BLOCK_RECT    ? span_rect(k, p, d0, dd)
                                                   : span_disc(k, p, d0, dd);
    if (k->kind == SIM_BLOCK_HOLE) {
        if (s.from >= s.to)
            s = (struct span){0, 0};
        span[n++] = (struct span){0, s.from};
        span[n++] = (struct span){s.to, 1};
    } else if (s.from < s.to) {
        span[n++] = s;
    }
    return n;
}

// A line of the panel as seen from p, and the spans of it that the near blockers hide.
struct line {
    struct sim_vec d0, dd;
    struct span span[2 * SIM_BLOCKERS_MAX];
    int spans;
};

static void line_make(const struct sim_panel *panel, const struct sim_blocker *const *near, int nears,
                      struct sim_vec p, double v, struct line *line)
{
    struct sim_vec q0 = sim_add(sim_sub(panel->centre, panel->half_u), sim_mul(panel->half_v, v));
    line->d0 = sim_sub(q0, p);
    line->dd = sim_mul(panel->half_u, 2.0);
    line->spans = 0;
    for (int i = 0; i < nears; i++)
        line->spans = add_spans(near[i], p, line->d0, line->dd, line->span, line->spans);
}

// The light of all the spans together, merged from the left; whole is that of the line.
static double line_hidden(const struct line *line, struct sim_vec n, double whole)
{
    double hidden = 0, upto = 0;
    for (;;) {
        const struct span *next = NULL;
        for (int i = 0; i < line->spans; i++)
            if (line->span[i].to > upto && (next == NULL || line->span[i].from < next->from))
                next = &line->span[i];
        if (next == NULL)
            return hidden;
        double from = fmax(upto, next->from);
        bool all = from <= 0 && next->to >= 1;
        hidden += all ? whole : line_light(line->d0, line->dd, n, from, next->to);
        upto = next->to;
    }
}

double sim_panel_visible(const struct sim_panel *panel, const struct sim_blocker *blocker, int count,
                         int self, struct sim_vec p, struct sim_vec n, int lines, double offset)
{
    const struct sim_blocker *near[SIM_BLOCKERS_MAX];
    int nears = 0;
    for (int i = 0; i < count; i++)
        if (blocker[i].thing != self && may_block(panel, &blocker[i], p))
            near[nears++] = &blocker[i];
    if (!nears)
        return 1;
    // Most points see all of it although something is near: the lines' light need not be known for that.
    struct line line;
    bool free = true;
    for (int l = 0; l < lines && free; l++) {
        line_make(panel, near, nears, p, 2.0 * (l + offset) / lines - 1.0, &line);
        free = line.spans == 0;
    }
    if (free)
        return 1;
    double all = 0, seen = 0;
    for (int l = 0; l < lines; l++) {
        line_make(panel, near, nears, p, 2.0 * (l + offset) / lines - 1.0, &line);
        double whole = line_light(line.d0, line.dd, n, 0, 1);
        all += whole;
        seen += fmax(0, whole - line_hidden(&line, n, whole));
    }
    return all > 0 ? seen / all : 1;
}
