/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/lateness.h"

void lateness_add(struct lateness *l, uint64_t late_ns)
{
    uint64_t bin = late_ns / (LATENESS_BIN_US * 1000u);
    l->bin[bin < LATENESS_BINS ? bin : LATENESS_BINS - 1]++;
    l->total++;
    if (late_ns > l->max_ns)
        l->max_ns = late_ns;
}

uint32_t lateness_us(const struct lateness *l, double share)
{
    double want = share * (double)l->total, sum = 0;
    uint64_t max_us = l->max_ns / 1000 + (l->max_ns % 1000 != 0);
    uint32_t max = max_us > UINT32_MAX ? UINT32_MAX : (uint32_t)max_us;
    for (uint32_t i = 0; i + 1 < LATENESS_BINS; i++) {
        uint32_t edge = (i + 1) * LATENESS_BIN_US;
        sum += l->bin[i];
        if (l->bin[i] > 0 && sum >= want)
            return edge < max ? edge : max;
    }
    return max;
}

void lateness_steps(const struct lateness *l, uint64_t count[LATENESS_STEPS])
{
    static const uint32_t upto_us[LATENESS_STEPS - 1] = {20, 50, 100, 200, 500, 1000, 2000, 5000, 10000};
    uint32_t bin = 0;
    for (int step = 0; step < LATENESS_STEPS; step++) {
        uint32_t end = step + 1 < LATENESS_STEPS ? upto_us[step] / LATENESS_BIN_US : LATENESS_BINS;
        for (count[step] = 0; bin < end; bin++)
            count[step] += l->bin[bin];
    }
}
