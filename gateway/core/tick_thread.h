/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The thread that ticks: waits for its timer, and for nothing else. As long as it does, and the desk thread lives, it
 * says so to whoever supervises core (notify.h); nobody else says it for it. */
#ifndef STEADYHAND_CORE_TICK_THREAD_H
#define STEADYHAND_CORE_TICK_THREAD_H

#include "gateway/core/tick.h"
#include "gateway/notify.h"

enum { TICK_THREAD_BEAT = 20 }; /* ticks from one beat to the next */

struct tick_thread {
    struct tick *tick;
    int timer;
    struct notify notify;
    int unbeaten;       /* ticks since the last beat */
    uint64_t faults_at; /* page faults of this thread until core was ready */
    bool ready;
};

/* Makes the timer; 0 or -errno. notify_address: NOTIFY_SOCKET, or NULL. */
int tick_thread_open(struct tick_thread *thread, struct tick *tick, const char *notify_address);
void tick_thread_close(struct tick_thread *thread);

/* The thread's body; arg is the struct tick_thread. Ticks until shared->ending. */
void *tick_thread_run(void *arg);

#endif
