// SPDX-License-Identifier: Apache-2.0
#include "base/units.h"
#include "light/lamp/area.h"
#include "light/lamp/vec_priv.h"

enum { PIECES = 12 };

double pc_scrim_lit_lx(const struct pc_polygon *cloth, double diffuse_ratio, double lit_lx,
                       const struct pc_receiver *receiver)
{
    return lit_lx * diffuse_ratio / PC_PI * pc_polygon_lx(cloth, receiver);
}

// What the receiver sees of the source within the cloth's outline.
static struct pc_polygon through_cloth(const struct pc_polygon *source, const struct pc_polygon *cloth,
                                       const double receiver_m[3])
{
    struct pc_polygon seen = *source;
    struct vec at = vec_of(receiver_m), middle = {0, 0, 0};
    for (int i = 0; i < cloth->corners; i++)
        middle = vec_add(middle, 1.0 / cloth->corners, vec_of(cloth->corner_m[i]));
    for (int i = 0; i < cloth->corners && seen.corners >= 3; i++) {
        struct vec a = vec_minus(vec_of(cloth->corner_m[i]), at),
                   b = vec_minus(vec_of(cloth->corner_m[(i + 1) % cloth->corners]), at), n = vec_cross(a, b);
        double inwards[3];
        vec_put(vec_add((struct vec){0, 0, 0}, vec_dot(n, vec_minus(middle, at)) < 0 ? -1 : 1, n), inwards);
        seen = pc_polygon_clip(&seen, receiver_m, inwards);
    }
    return seen;
}

double pc_scrim_lx(const struct pc_polygon *source, const struct pc_polygon *cloth,
                   const struct pc_scrim_cloth *kind, const struct pc_receiver *receiver)
{
    PC_ASSERT(cloth->corners == 4);
    struct pc_polygon within = through_cloth(source, cloth, receiver->at_m);
    double through = pc_polygon_lx(&within, receiver);
    double sum = pc_polygon_lx(source, receiver) - (1 - kind->direct_ratio) * through;
    struct vec first = vec_of(cloth->corner_m[0]), u = vec_minus(vec_of(cloth->corner_m[1]), first),
               v = vec_minus(vec_of(cloth->corner_m[3]), first), back = vec_unit(vec_cross(v, u));
    for (int i = 0; i < PIECES; i++)
        for (int j = 0; j < PIECES; j++) {
            struct pc_polygon piece = {.corners = 4};
            static const double corner[4][2] = {{0, 0}, {1, 0}, {1, 1}, {0, 1}};
            for (int k = 0; k < 4; k++)
                vec_put(
                    vec_add(vec_add(first, (i + corner[k][0]) / PIECES, u), (j + corner[k][1]) / PIECES, v),
                    piece.corner_m[k]);
            struct pc_receiver behind;
            vec_put(vec_add(vec_add(first, (i + 0.5) / PIECES, u), (j + 0.5) / PIECES, v), behind.at_m);
            vec_put(back, behind.facing);
            sum += pc_scrim_lit_lx(&piece, kind->diffuse_ratio, pc_polygon_lx(source, &behind), receiver);
        }
    return sum;
}
