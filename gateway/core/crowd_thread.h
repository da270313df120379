/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The bus thread: takes in the edges, their snapshots and their deaths, hands the sum to the tick, and sends the newest
 * scene to every edge. Normal priority, and bounded work a turn: nothing an edge sends can hold up a tick or a stop,
 * and no edge can keep the others from being heard. A process has one connection, its newest, and there are no more of
 * them than the show has edges, and one: an edge that is taken over cannot speak for many.
 */
#ifndef STEADYHAND_CORE_CROWD_THREAD_H
#define STEADYHAND_CORE_CROWD_THREAD_H

#include <sys/types.h>

#include "gateway/core/shared.h"

enum { CROWD_THREAD_PERIOD_MS = 50 };

struct crowd_thread {
    struct shared *shared;
    int listener, epoll, timer;
    int edge[CROWDS_MAX_EDGES];   /* descriptor of each slot, -1 = free */
    pid_t peer[CROWDS_MAX_EDGES]; /* the process that connected it */
    struct crowds crowds;
    struct scene scene; /* newest from the tick */
    uint64_t sent_seq;  /* of the scene the edges got last */
    uint64_t malformed; /* frames dropped */
};

/* Listens on the bus at `path`. 0 or -errno. */
int crowd_thread_open(struct crowd_thread *thread, struct shared *shared, const char *path);
void crowd_thread_close(struct crowd_thread *thread);

/* The thread's body; arg is the struct crowd_thread. Runs until shared->ending. */
void *crowd_thread_run(void *arg);

#endif
