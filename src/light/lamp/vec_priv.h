// SPDX-License-Identifier: Apache-2.0
// Three numbers as a vector, for this room's geometry.
#ifndef PC_LIGHT_LAMP_VEC_PRIV_H
#define PC_LIGHT_LAMP_VEC_PRIV_H

#include "base/err.h"

struct vec {
    double x, y, z;
};

static inline struct vec vec_of(const double v[3])
{
    return (struct vec){v[0], v[1], v[2]};
}

static inline void vec_put(struct vec v, double out[3])
{
    out[0] = v.x;
    out[1] = v.y;
    out[2] = v.z;
}

static inline struct vec vec_add(struct vec a, double times, struct vec b)
{
    return (struct vec){a.x + times * b.x, a.y + times * b.y, a.z + times * b.z};
}

static inline struct vec vec_minus(struct vec a, struct vec b)
{
    return vec_add(a, -1.0, b);
}

static inline double vec_dot(struct vec a, struct vec b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static inline struct vec vec_cross(struct vec a, struct vec b)
{
    return (struct vec){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

static inline double vec_length(struct vec a)
{
    return sqrt(vec_dot(a, a));
}

static inline struct vec vec_unit(struct vec a)
{
    double length = vec_length(a);
    return length > 0 ? (struct vec){a.x / length, a.y / length, a.z / length} : (struct vec){0, 0, 0};
}

#endif
