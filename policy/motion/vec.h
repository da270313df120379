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

/* No longer than `most`, direction kept. */
static inline struct vec3 vec_capped(struct vec3 a, double most)
{
    double size = vec_norm(a);
    return size > most ? vec_scale(a, most / size) : a;
}

/* From one towards another by at most `most`. */
static inline struct vec3 vec_approached(struct vec3 from, struct vec3 to, double most)
{
    struct vec3 change = vec_sub(to, from);
    return vec_norm(change) > most ? vec_add(from, vec_capped(change, most)) : to;
}

static inline bool vec_finite(struct vec3 a)
{
    return isfinite(a.x) && isfinite(a.y) && isfinite(a.z);
}

#endif
