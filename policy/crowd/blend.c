/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/crowd/blend.h"

enum { MIDDLE = TALLY_BINS / 2 };

/* Walks from `bin` by `step` until at least half of the sticks lie behind. The bins' own sum is the total, not
 * `sticks`: a walk over them ends at the last stick. That it stays within the bins is not left to sums alone. */
static int half_way(const uint32_t bins[TALLY_BINS], int bin, int step)
{
    uint64_t total = 0, passed = 0;
    for (int i = 0; i < TALLY_BINS; i++)
        total += bins[i];
    if (total == 0)
        return MIDDLE;
    for (int steps = 1; steps < TALLY_BINS && 2 * (passed += bins[bin]) < total; steps++)
        bin += step;
    return bin;
}

int blend_lower(const uint32_t bins[TALLY_BINS])
{
    return half_way(bins, 0, 1);
}

int blend_upper(const uint32_t bins[TALLY_BINS])
{
    return half_way(bins, TALLY_BINS - 1, -1);
}

void blend_median(const struct tally *tally, uint32_t quorum, double axis[TALLY_AXES])
{
    for (int a = 0; a < TALLY_AXES; a++) {
        int bin = MIDDLE, lower = blend_lower(tally->stick[a]), upper = blend_upper(tally->stick[a]);
        if (bin < lower)
            bin = lower;
        if (bin > upper)
            bin = upper;
        axis[a] = tally->sticks < quorum ? 0 : tally_bin_value(bin);
    }
}
