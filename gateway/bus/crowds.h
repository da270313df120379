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
    uint64_t lease_ns; /* an edge silent for longer loses its voice */
    int max_edges;     /* connections at once; crowds_init sets CROWDS_MAX_EDGES, core the show's number and a spare */
    uint32_t max_viewers; /* an edge may speak for no more; crowds_init sets BUS_MAX_VIEWERS, core the show's limit */
    uint64_t stale;       /* snapshots dropped: not newer */
    uint64_t oversized;   /* snapshots dropped: more than max_viewers */
    struct edge_counts gone; /* counts of edges that have left, so that totals never fall */
};

struct crowds_sum {
    uint64_t made_ns;
    uint32_t edges;     /* alive: 0 means that nobody was heard, however young the sum */
    uint32_t round;     /* the round the votes are for */
    struct tally tally; /* votes only of edges whose snapshot is for `round`; none for round 0 */
    struct edge_counts counts;
};

void crowds_init(struct crowds *crowds, uint64_t lease_ns);

/* One slot a connection: an edge that connects again starts anew. -1 if full. */
int crowds_join(struct crowds *crowds);
void crowds_leave(struct crowds *crowds, int slot);

/* Takes a decoded snapshot if it is newer than the slot's last and within max_viewers. A slot not joined is ignored. */
void crowds_put(struct crowds *crowds, int slot, const struct snapshot *s, uint64_t now_ns);

void crowds_total(const struct crowds *crowds, uint32_t round, uint64_t now_ns, struct crowds_sum *sum);

#endif
