/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Seeded random numbers, the same on every machine: SplitMix64 (Steele, Lea, Flood 2014). */
#ifndef STEADYHAND_PROPERTY_RANDOM_H
#define STEADYHAND_PROPERTY_RANDOM_H

#include <stdint.h>

#include "policy/motion/vec.h"

struct random {
    uint64_t state;
};

static inline uint64_t random_bits(struct random *r)
{
    uint64_t z = r->state += 0x9e3779b97f4a7c15u;
    z = (z ^ z >> 30) * 0xbf58476d1ce4e5b9u;
    z = (z ^ z >> 27) * 0x94d049bb133111ebu;
    return z ^ z >> 31;
}

static inline double random_between(struct random *r, double lo, double hi)
{
    return lo + (hi - lo) * (double)(random_bits(r) >> 11) * 0x1p-53;
}

/* 0 .. n-1 */
static inline int random_below(struct random *r, int n)
{
    return (int)(random_bits(r) >> 33) % n;
}

static inline bool random_chance(struct random *r, double p)
{
    return random_between(r, 0, 1) < p;
}

/* Anywhere in the ball. */
static inline struct vec3 random_in_ball(struct random *r, double radius)
{
    for (;;) {
        struct vec3 v = {random_between(r, -1, 1), random_between(r, -1, 1), random_between(r, -1, 1)};
        if (vec_dot(v, v) <= 1)
            return vec_scale(v, radius);
    }
}

static inline struct vec3 random_direction(struct random *r)
{
    for (;;) {
        struct vec3 v = random_in_ball(r, 1);
        if (vec_dot(v, v) > 0.01)
            return vec_scale(v, 1 / vec_norm(v));
    }
}

#endif
