/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Repeatable random numbers: SplitMix64 (Steele, Lea, Flood, OOPSLA 2014). A failing run is run again from its seed. */
#ifndef STEADYHAND_TESTS_RANDOM_H
#define STEADYHAND_TESTS_RANDOM_H

#include <stdint.h>

struct random {
    uint64_t state;
};

static inline uint64_t random_u64(struct random *r)
{
    uint64_t z = (r->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/* 0 .. n - 1; n > 0 */
static inline uint32_t random_below(struct random *r, uint32_t n)
{
    return (uint32_t)(random_u64(r) % n);
}

/* least <= x < most */
static inline double random_between(struct random *r, double least, double most)
{
    return least + (most - least) * (double)(random_u64(r) >> 11) * 0x1p-53;
}

#endif
