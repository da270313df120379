/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Sums that stay at the top instead of starting again from 0: times and counts that come from outside. */
#ifndef STEADYHAND_CROWD_SATURATE_H
#define STEADYHAND_CROWD_SATURATE_H

#include <stdint.h>

static inline uint64_t saturate_add64(uint64_t a, uint64_t b)
{
    return b > UINT64_MAX - a ? UINT64_MAX : a + b;
}

static inline uint32_t saturate_add32(uint32_t a, uint32_t b)
{
    return b > UINT32_MAX - a ? UINT32_MAX : a + b;
}

/* a - b, 0 where b is greater. */
static inline uint64_t saturate_sub64(uint64_t a, uint64_t b)
{
    return a > b ? a - b : 0;
}

#endif
