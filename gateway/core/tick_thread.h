/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The thread that ticks: waits for its timer, and for nothing else. */
#ifndef STEADYHAND_CORE_TICK_THREAD_H
#define STEADYHAND_CORE_TICK_THREAD_H

#include "gateway/core/tick.h"

struct tick_thread {
    struct tick *tick;
    int timer;
};

/* Makes the timer; 0 or -errno. */
int tick_thread_open(struct tick_thread *thread, struct tick *tick);
void tick_thread_close(struct tick_thread *thread);

/* The thread's body; arg is the struct tick_thread. Ticks until shared->ending. */
void *tick_thread_run(void *arg);

#endif
