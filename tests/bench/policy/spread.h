/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Many durations, in a few numbers. */
#ifndef STEADYHAND_BENCH_POLICY_SPREAD_H
#define STEADYHAND_BENCH_POLICY_SPREAD_H

struct spread {
    double mean, p50, p99, most; /* ns */
};

/* Sorts `ns` on the way. */
struct spread spread_of(double *ns, int n);

/* Of each number by itself: what a run is like when the machine leaves it alone as much as it usually does. */
struct spread spread_median(const struct spread *run, int runs);

double spread_median_of(double *value, int n);

#endif
