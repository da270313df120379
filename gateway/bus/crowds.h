/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The newest snapshot of every edge, and their sum. Core's bus thread owns one. No I/O, no clock: time is passed in. */
#ifndef STEADYHAND_BUS_CROWDS_H
#define STEADYHAND_BUS_CROWDS_H

#include "gateway/bus/frames.h"

enum { CROWDS_MAX_EDGES = 64 };

struct crowds_entry {
    bool used, heard;
    uint64_t heard_ns;
    struct snapshot newest;
};

struct crowds {
    struct crowds_entry edge[CROWDS_MAX_EDGES];
    uint64_t lease_ns;       /* an edge silent for longer loses its voice */
    uint64_t stale;          /* snapshots dropped: not newer */
    struct edge_counts gone; /* counts of edges that have left, so that totals never fall */
};

struct crowds_sum {
    uint64_t made_ns;
    uint32_t edges;     /* alive */
    struct tally tally; /* votes only of edges whose snapshot is for `round` */
    struct edge_counts counts;
};

void crowds_init(struct crowds *crowds, uint64_t lease_ns);
int crowds_join(struct crowds *crowds); /* slot, or -1 if full */
void crowds_leave(struct crowds *crowds, int slot);
void crowds_put(struct crowds *crowds, int slot, const struct snapshot *s, uint64_t now_ns);
void crowds_total(const struct crowds *crowds, uint32_t round, uint64_t now_ns, struct crowds_sum *sum);

#endif
