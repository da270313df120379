/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How long one step of locate takes, by mix of sources: the sensors' simulation is recorded first and not counted. */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

#include "locate_bench.h"

enum { TICKS = 2000, TURNS = 10 };

static double now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec * 1e9 + (double)t.tv_nsec;
}

static int ascending(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

static double took[TICKS * TURNS];

static void time_mix(const struct bench_mix *mix)
{
    static struct bench b;
    static struct locate_report report[TICKS];
    static uint64_t at[TICKS];
    struct locate_config cfg = bench_config(mix, 0.01);
    bench_start(&b, mix, &cfg, 5);
    for (int k = 0; k < TICKS; k++) {
        bench_step(&b);
        report[k] = b.report;
        at[k] = b.now_ns;
    }
    int n = 0;
    double sum = 0;
    for (int turn = 0; turn < TURNS; turn++) {
        locate_init(&b.locate);
        for (int k = 0; k < TICKS; k++) {
            double start = now_ns();
            locate_step(&cfg, &b.locate, at[k], &report[k], b.now.velocity, &b.out);
            took[n] = now_ns() - start;
            sum += took[n++];
        }
    }
    qsort(took, (size_t)n, sizeof *took, ascending);
    printf("%-37s %8.0f ns mean %8.0f ns half %8.0f ns 99 %%\n", mix->name, sum / n, took[n / 2], took[n * 99 / 100]);
}

int main(void)
{
    for (int m = 0; m < bench_mix_count; m++)
        time_mix(&bench_mixes[m]);
    return 0;
}
