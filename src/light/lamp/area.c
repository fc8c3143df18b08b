// SPDX-License-Identifier: Apache-2.0
#include "light/lamp/area.h"

#include "base/units.h"
#include "light/lamp/vec_priv.h"

// Two unit vectors in the plane that faces n, the first level.
static void plane_of(struct vec n, struct vec *across, struct vec *along)
{
    const struct vec up = {0, 0, 1};
    *across = vec_cross(up, n);
    *across = vec_length(*across) > 1e-9 ? vec_unit(*across) : (struct vec){1, 0, 0};
    *along = vec_cross(n, *across);
}

struct pc_polygon pc_polygon_rectangle(const double middle_m[3], const double facing[3], double width_m,
                                       double height_m)
{
    static const double sign[4][2] = {{-1, -1}, {1, -1}, {1, 1}, {-1, 1}};
    struct pc_polygon polygon = {.corners = 4};
    struct vec across, along;
    plane_of(vec_unit(vec_of(facing)), &across, &along);
    for (int i = 0; i < 4; i++) {
        struct vec corner = vec_add(vec_of(middle_m), 0.5 * sign[i][0] * width_m, across);
        vec_put(vec_add(corner, 0.5 * sign[i][1] * height_m, along), polygon.corner_m[i]);
    }
    return polygon;
}

struct pc_polygon pc_polygon_round(const double middle_m[3], const double facing[3], double diameter_m)
{
    enum { CORNERS = PC_POLYGON_CORNERS_GIVEN_MAX };
    struct pc_polygon polygon = {.corners = CORNERS};
    struct vec across, along;
    plane_of(vec_unit(vec_of(facing)), &across, &along);
    double step = 2 * PC_PI / CORNERS, radius_m = 0.5 * diameter_m * sqrt(step / sin(step));
    for (int i = 0; i < CORNERS; i++) {
        struct vec corner = vec_add(vec_of(middle_m), radius_m * cos(i * step), across);
        vec_put(vec_add(corner, radius_m * sin(i * step), along), polygon.corner_m[i]);
    }
    return polygon;
}

// Sutherland and Hodgman, Comm. ACM 17:32 (1974), for one plane.
struct pc_polygon pc_polygon_clip(const struct pc_polygon *polygon, const double on_m[3],
                                  const double towards[3])
{
    struct pc_polygon out = {.corners = 0};
    struct vec on = vec_of(on_m), n = vec_of(towards);
    for (int i = 0; i < polygon->corners; i++) {
        struct vec a = vec_of(polygon->corner_m[i]),
                   b = vec_of(polygon->corner_m[(i + 1) % polygon->corners]);
        double da = vec_dot(vec_minus(a, on), n), db = vec_dot(vec_minus(b, on), n);
        if (da >= 0 && out.corners < PC_POLYGON_CORNERS_MAX)
            vec_put(a, out.corner_m[out.corners++]);
        if (((da > 0 && db < 0) || (da < 0 && db > 0)) && out.corners < PC_POLYGON_CORNERS_MAX)
            vec_put(vec_add(a, da / (da - db), vec_minus(b, a)), out.corner_m[out.corners++]);
    }
    return out;
}

// One edge's part of Lambert's sum, seen from the origin.
static double edge_sum(struct vec a, struct vec b, struct vec n)
{
    struct vec across = vec_cross(a, b);
    double sine = vec_length(across);
    // Nothing for an edge that is seen end on, or that ends at the eye.
    return sine > 0 ? atan2(sine, vec_dot(a, b)) * vec_dot(n, across) / sine : 0;
}

// The side a polygon shines to, as long as twice its area (Newell).
static struct vec polygon_normal(const struct pc_polygon *polygon)
{
    struct vec sum = {0, 0, 0}, first = vec_of(polygon->corner_m[0]);
    for (int i = 1; i + 1 < polygon->corners; i++) {
        struct vec across = vec_cross(vec_minus(vec_of(polygon->corner_m[i]), first),
                                      vec_minus(vec_of(polygon->corner_m[i + 1]), first));
        sum = vec_add(sum, 1, across);
    }
    return sum;
}

double pc_polygon_lx(const struct pc_polygon *polygon, const struct pc_receiver *receiver)
{
    struct vec at = vec_of(receiver->at_m), n = vec_of(receiver->facing);
    if (polygon->corners < 3 ||
        !(vec_dot(vec_minus(at, vec_of(polygon->corner_m[0])), polygon_normal(polygon)) > 0))
        return 0;
    struct pc_polygon seen = pc_polygon_clip(polygon, receiver->at_m, receiver->facing);
    double sum = 0;
    for (int i = 0; i < seen.corners; i++)
        sum += edge_sum(vec_minus(vec_of(seen.corner_m[i]), at),
                        vec_minus(vec_of(seen.corner_m[(i + 1) % seen.corners]), at), n);
    // The corners run anticlockwise seen from the lit side, so clockwise about the receiver's normal.
    return fmax(-0.5 * sum, 0);
}

double pc_rectangle_parallel_lx(double a_m, double b_m, double d_m)
{
    double x = a_m / d_m, y = b_m / d_m, x1 = sqrt(1 + x * x), y1 = sqrt(1 + y * y);
    return 0.5 * (x / x1 * atan(y / x1) + y / y1 * atan(x / y1));
}

double pc_rectangle_upright_lx(double high_m, double wide_m, double d_m)
{
    double x = high_m / wide_m, y = d_m / wide_m, far = sqrt(x * x + y * y);
    return 0.5 * (atan(1 / y) - y / far * atan(1 / far));
}

// The receiver against a disc: `axial` along the disc's normal from its middle, `radial` beside it.
struct beside {
    double axial_m, radial_m;
    struct vec along, out; // unit: the disc's normal, and away from its axis
};

static struct beside beside_disc(const double middle_m[3], const double facing[3],
                                 const struct pc_receiver *receiver)
{
    struct vec along = vec_of(facing), off = vec_minus(vec_of(receiver->at_m), vec_of(middle_m));
    double axial_m = vec_dot(off, along);
    struct vec radial = vec_add(off, -axial_m, along);
    double radial_m = vec_length(radial);
    struct vec out = vec_unit(radial);
    if (!(radial_m > 1e-12)) {
        struct vec any = fabs(along.x) < 0.9 ? (struct vec){1, 0, 0} : (struct vec){0, 1, 0};
        out = vec_unit(vec_cross(along, any));
        radial_m = 0;
    }
    return (struct beside){axial_m, radial_m, along, out};
}

// The light vector of a whole disc has a part along its normal and one along the radius; with H = axial /
// radial, Q = R / radial, Z = 1 + H^2 + Q^2 these are pi/2 (1 - (Z - 2 Q^2) / sqrt(Z^2 - 4 Q^2)) and pi H/2
// (Z / sqrt(Z^2 - 4 Q^2) - 1). Written here without dividing by the radius, which may be 0.
static double whole_disc_lx(const struct beside *b, double radius_m, struct vec n)
{
    double h2 = b->axial_m * b->axial_m, r2 = b->radial_m * b->radial_m, q2 = radius_m * radius_m;
    double z = r2 + h2 + q2, root = sqrt(z * z - 4 * q2 * r2);
    // 1 - (z - 2 q2) / root, and (z - root) / radial^2 = 4 q2 / (z + root), without differences of like
    // numbers.
    double axial = PC_PI * q2 * (z + root - 2 * r2) / ((z + root) * root);
    double radial = 0.5 * PC_PI * b->axial_m * b->radial_m * 4 * q2 / (root * (z + root));
    return -axial * vec_dot(n, b->along) - radial * vec_dot(n, b->out);
}

// Half the sum around the part of the disc above the receiver's horizon: an arc and a chord. On the arc
// Lambert's sum is an integral of n.(r x dr) / |r|^2, smooth, done by Gauss and Legendre's rule of 5 points
// in 64 pieces.
static double cut_disc_lx(struct vec middle, struct vec side, struct vec up, double radius_m, double half_rad,
                          struct vec n)
{
    static const double node[5] = {-0.9061798459386640, -0.5384693101056831, 0, 0.5384693101056831,
                                   0.9061798459386640};
    static const double weight[5] = {0.2369268850561891, 0.4786286704993665, 0.5688888888888889,
                                     0.4786286704993665, 0.2369268850561891};
    enum { PIECES = 64 };
    double sum = 0, piece = 2 * half_rad / PIECES;
    for (int i = 0; i < PIECES; i++)
        for (int k = 0; k < 5; k++) {
            double a = -half_rad + piece * (i + 0.5 + 0.5 * node[k]);
            struct vec spoke = vec_add((struct vec){0, 0, 0}, radius_m * cos(a), up);
            spoke = vec_add(spoke, radius_m * sin(a), side);
            struct vec step = vec_add((struct vec){0, 0, 0}, -radius_m * sin(a), up);
            step = vec_add(step, radius_m * cos(a), side);
            struct vec r = vec_add(middle, 1, spoke);
            sum += 0.5 * piece * weight[k] * vec_dot(n, vec_cross(r, step)) / vec_dot(r, r);
        }
    struct vec high = vec_add(middle, radius_m * cos(half_rad), up);
    sum += edge_sum(vec_add(high, radius_m * sin(half_rad), side),
                    vec_add(high, -radius_m * sin(half_rad), side), n);
    return 0.5 * fabs(sum);
}

double pc_disc_lx(const double middle_m[3], const double facing[3], double radius_m,
                  const struct pc_receiver *receiver)
{
    struct beside b = beside_disc(middle_m, facing, receiver);
    struct vec n = vec_of(receiver->facing), middle = vec_minus(vec_of(middle_m), vec_of(receiver->at_m));
    if (!(b.axial_m > 0) || !(radius_m > 0))
        return 0;
    double height = vec_dot(middle, n);                           // of the middle over the horizon
    struct vec slope = vec_add(n, -vec_dot(n, b.along), b.along); // the horizon's normal in the disc's plane
    double steep = vec_length(slope);
    if (height >= radius_m * steep)
        return fmax(whole_disc_lx(&b, radius_m, n), 0);
    if (height <= -radius_m * steep)
        return 0;
    struct vec up = vec_unit(slope);
    return cut_disc_lx(middle, vec_cross(b.along, up), up, radius_m, acos(-height / (radius_m * steep)), n);
}

struct pc_polygon pc_polygon_behind_blades(const struct pc_polygon *source, const struct pc_blade *blades,
                                           int count, const double receiver_m[3])
{
    struct pc_polygon seen = *source;
    if (source->corners < 3)
        return seen;
    struct vec n = vec_unit(polygon_normal(source)), at = vec_of(receiver_m), middle = {0, 0, 0};
    for (int i = 0; i < source->corners; i++)
        middle = vec_add(middle, 1.0 / source->corners, vec_of(source->corner_m[i]));
    for (int k = 0; k < count && seen.corners >= 3; k++) {
        struct vec hinge = vec_of(blades[k].hinge_m), edge = vec_of(blades[k].edge_m[0]);
        struct vec along = vec_minus(vec_of(blades[k].edge_m[1]), edge);
        struct vec blade = vec_cross(along, vec_minus(edge, hinge)); // its plane
        double source_side = vec_dot(blade, vec_minus(middle, hinge));
        if (vec_dot(blade, vec_minus(at, hinge)) * source_side >= 0)
            continue; // receiver and source lie on one side of the blade
        if (vec_dot(n, vec_minus(at, edge)) <=
            0) { // nearer to the source than the edge: all behind the blade
            seen.corners = 0;
            break;
        }
        struct vec sight = vec_cross(along, vec_minus(edge, at));
        double away[3];
        vec_put(vec_add((struct vec){0, 0, 0}, vec_dot(sight, vec_minus(hinge, at)) > 0 ? -1 : 1, sight),
                away);
        seen = pc_polygon_clip(&seen, receiver_m, away);
    }
    return seen;
}

double pc_penumbra_m(double source_width_m, double source_m, double edge_m)
{
    if (!(edge_m >= 0 && edge_m < source_m && source_width_m >= 0))
        return NAN;
    return source_width_m * edge_m / (source_m - edge_m);
}

void pc_shadow_depths(int count, const double lx[], double share_ratio[], double depth_ev[])
{
    double all = 0;
    for (int i = 0; i < count; i++)
        all += lx[i];
    for (int i = 0; i < count; i++) {
        share_ratio[i] = lx[i] / all;
        depth_ev[i] = -pc_ev_from_ratio(1 - share_ratio[i]);
    }
}
