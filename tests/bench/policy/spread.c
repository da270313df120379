/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/bench/policy/spread.h"

#include <stddef.h>
#include <stdlib.h>

enum { MOST_RUNS = 64 };

static int by_size(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

struct spread spread_of(double *ns, int n)
{
    double sum = 0;
    qsort(ns, (size_t)n, sizeof *ns, by_size);
    for (int i = 0; i < n; i++)
        sum += ns[i];
    return (struct spread){sum / n, ns[n / 2], ns[(int)((n - 1) * 0.99)], ns[n - 1]};
}

double spread_median_of(double *value, int n)
{
    qsort(value, (size_t)n, sizeof *value, by_size);
    return n % 2 ? value[n / 2] : (value[n / 2 - 1] + value[n / 2]) / 2;
}

static double median_at(const struct spread *run, int runs, size_t offset)
{
    double value[MOST_RUNS];
    int n = runs < MOST_RUNS ? runs : MOST_RUNS;
    for (int i = 0; i < n; i++)
        value[i] = *(const double *)((const char *)&run[i] + offset);
    return spread_median_of(value, n);
}

struct spread spread_median(const struct spread *run, int runs)
{
    return (struct spread){
        median_at(run, runs, offsetof(struct spread, mean)), median_at(run, runs, offsetof(struct spread, p50)),
        median_at(run, runs, offsetof(struct spread, p99)), median_at(run, runs, offsetof(struct spread, most))};
}
