/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* 3-vectors in the room frame: x right along the front wall, y away from it, z up; metres unless said. */
#ifndef STEADYHAND_MOTION_VEC_H
#define STEADYHAND_MOTION_VEC_H

#include <math.h>
#include <stdbool.h>

struct vec3 {
    double x, y, z;
};

/* Of numbers that are numbers; one instruction each, where fmin and fmax are calls. */
static inline double lesser(double a, double b)
{
    return a < b ? a : b;
}

static inline double greater(double a, double b)
{
    return a > b ? a : b;
}

static inline struct vec3 vec_add(struct vec3 a, struct vec3 b)
{
    return (struct vec3){a.x + b.x, a.y + b.y, a.z + b.z};
}

static inline struct vec3 vec_sub(struct vec3 a, struct vec3 b)
{
    return (struct vec3){a.x - b.x, a.y - b.y, a.z - b.z};
}

static inline struct vec3 vec_scale(struct vec3 a, double k)
{
    return (struct vec3){a.x * k, a.y * k, a.z * k};
}

/* a + k b */
static inline struct vec3 vec_along(struct vec3 a, struct vec3 b, double k)
{
    return (struct vec3){a.x + k * b.x, a.y + k * b.y, a.z + k * b.z};
}

static inline double vec_dot(struct vec3 a, struct vec3 b)
{
    return a.x * b.x + a.y * b.y + a.z * b.z;
}

static inline struct vec3 vec_cross(struct vec3 a, struct vec3 b)
{
    return (struct vec3){a.y * b.z - a.z * b.y, a.z * b.x - a.x * b.z, a.x * b.y - a.y * b.x};
}

static inline double vec_norm(struct vec3 a)
{
    return sqrt(vec_dot(a, a));
}

/* x, moved into the span between two numbers in any order. NaN stays NaN. */
static inline double vec_between(double x, double a, double b)
{
    double lo = lesser(a, b), hi = greater(a, b);
    return x < lo ? lo : x > hi ? hi : x;
}

/* No longer than `most` >= 0, direction kept. No part is larger than that, whatever rounding does. */
static inline struct vec3 vec_capped(struct vec3 a, double most)
{
    double size = vec_norm(a);
    if (size <= most)
        return a;
    struct vec3 cut = vec_scale(a, lesser(most / size, 1));
    return (struct vec3){vec_between(cut.x, -most, most), vec_between(cut.y, -most, most),
                         vec_between(cut.z, -most, most)};
}

/* From one towards another by at most `most` >= 0. No part leaves the span between the two, whatever rounding does: so
 * what two velocities keep to, on each axis, all on the way from one to the other do. */
static inline struct vec3 vec_approached(struct vec3 from, struct vec3 to, double most)
{
    struct vec3 change = vec_sub(to, from);
    if (!(vec_norm(change) > most))
        return to;
    struct vec3 next = vec_add(from, vec_capped(change, most));
    return (struct vec3){vec_between(next.x, from.x, to.x), vec_between(next.y, from.y, to.y),
                         vec_between(next.z, from.z, to.z)};
}

static inline bool vec_finite(struct vec3 a)
{
    return isfinite(a.x) && isfinite(a.y) && isfinite(a.z);
}

#endif
