/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a thread needs to be on time. Each of these is tried; where the system does not permit it, one plain line says
 * so and what would help, and the show runs all the same: the tick measures its own lateness and motion stops over
 * budget.
 */
#ifndef STEADYHAND_CORE_REALTIME_H
#define STEADYHAND_CORE_REALTIME_H

#include <pthread.h>
#include <stdbool.h>
#include <stddef.h>

/* SCHED_FIFO priorities. The tick's work is bounded and short, the desk's is as long as strangers make it: so the desk
 * may wait for a tick (tens of microseconds), never a tick for the desk. */
enum { REALTIME_TICK = 70, REALTIME_DESK = 60 };

/* First thing in a thread that has to be on time: brings its stack in, so that no call is the first one so deep. */
void realtime_touch_stack(void);

/* One heap for all threads, never given back to the system. Before the first thread starts. */
void realtime_keep_heap(void);

/* Starts a thread on a small stack, SCHED_FIFO at `priority` if that is permitted (0: normal). False if it cannot be
 * started at all. *permitted is set to false where FIFO was refused. */
bool realtime_start(pthread_t *thread, int priority, void *(*run)(void *), void *ctx, bool *permitted);

/* Brings in all memory mapped now and keeps it in, and all that is mapped later too where no limit could then refuse
 * it. After the threads have started. */
bool realtime_lock_memory(void);

#endif
