/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The one clock that anything is timed by: monotonic nanoseconds, the same for every process on the machine. */
#ifndef STEADYHAND_CLOCK_H
#define STEADYHAND_CLOCK_H

#include <stdint.h>
#include <time.h>

static inline uint64_t clock_read_ns(clockid_t clock)
{
    struct timespec t;
    clock_gettime(clock, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

static inline uint64_t clock_now_ns(void)
{
    return clock_read_ns(CLOCK_MONOTONIC);
}

#endif
