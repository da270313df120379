/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How late something periodic was: a histogram of fixed size, no allocation. One thread owns it. */
#ifndef STEADYHAND_CORE_LATENESS_H
#define STEADYHAND_CORE_LATENESS_H

#include <stdint.h>

enum { LATENESS_BIN_US = 10, LATENESS_BINS = 1001 }; /* 0 .. 10 ms; the last bin holds all that is later */
enum { LATENESS_STEPS = 10 };                        /* of the coarse one that people read */

struct lateness {
    uint32_t bin[LATENESS_BINS];
    uint64_t total, max_ns;
};

void lateness_add(struct lateness *l, uint64_t late_ns);

/* Upper edge, in microseconds, of the bin in which the given share (0..1) is reached; the maximum if that is the last
 * bin; 0 if nothing was added. */
uint32_t lateness_us(const struct lateness *l, double share);

/* How many were up to 20, 50, 100, 200, 500 us, 1, 2, 5, 10 ms late, and later: each counted once. */
void lateness_steps(const struct lateness *l, uint64_t count[LATENESS_STEPS]);

#endif
