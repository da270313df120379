/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Is the uncertainty honest? For each mix of sources, many runs with fresh biases at their bounds, noise as stated and
 * a platform that moves as hard as it may: the true error must be within the stated uncertainty 99.73 % of the
 * time, and no fault may be raised that is none. Prints a table, then a line a mix in TAP.
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "locate_bench.h"

enum { RUNS = 60, TICKS = 600, MOST = RUNS * TICKS };

struct tally {
    int n, inside, faults, unknown;
    double error[MOST], stated[MOST];
    unsigned which;
};

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double quantile(double *sorted, int n, double q)
{
    return n == 0 ? 0 : sorted[(int)(q * (n - 1))];
}

static void run(const struct bench_mix *mix, uint64_t seed, struct tally *t)
{
    static struct bench b;
    struct locate_config cfg = bench_config(mix, 0.01);
    bench_start(&b, mix, &cfg, seed);
    for (int k = 0; k < TICKS; k++) {
        bench_step(&b);
        if (!b.out.known) {
            t->unknown++;
            continue;
        }
        double e = bench_error(&b);
        t->error[t->n] = e;
        t->stated[t->n++] = b.out.uncertainty_m;
        t->inside += e <= b.out.uncertainty_m;
        t->faults += b.out.hold;
        t->which |= b.out.faults;
    }
}

int main(void)
{
    static struct tally t;
    int failed = 0;
    printf("1..%d\n# %-37s %9s %27s %27s %7s\n", bench_mix_count, "sources", "within", "true error mm: half, 99.7%",
           "stated mm: half, 99.7%", "faults");
    for (int m = 0; m < bench_mix_count; m++) {
        memset(&t, 0, sizeof t);
        for (int r = 0; r < RUNS; r++)
            run(&bench_mixes[m], 1000 * (uint64_t)m + (uint64_t)r, &t);
        qsort(t.error, (size_t)t.n, sizeof *t.error, ascending);
        qsort(t.stated, (size_t)t.n, sizeof *t.stated, ascending);
        double within = t.n > 0 ? (double)t.inside / t.n : 0;
        bool ok = within >= 0.9973 && t.faults == 0 && t.unknown <= RUNS * 10;
        failed += !ok;
        printf("# %-37s %8.4f%% %13.2f %13.2f %13.2f %13.2f %7d (%x)\n", bench_mixes[m].name, 100 * within,
               1e3 * quantile(t.error, t.n, 0.5), 1e3 * quantile(t.error, t.n, 0.997),
               1e3 * quantile(t.stated, t.n, 0.5), 1e3 * quantile(t.stated, t.n, 0.997), t.faults, t.which);
        printf("%s %d - %s\n", ok ? "ok" : "not ok", m + 1, bench_mixes[m].name);
    }
    return failed != 0;
}
