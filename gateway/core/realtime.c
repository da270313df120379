/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/realtime.h"

#include <malloc.h>
#include <sched.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/resource.h>

enum { STACK = 512 * 1024, STACK_READY = STACK / 2, HEAP_READY = 4 * 1024 * 1024 };

/* A second arena would be 64 MB of address space a thread, which no plain user may lock. */
void realtime_keep_heap(void)
{
    mallopt(M_ARENA_MAX, 1);
    mallopt(M_TRIM_THRESHOLD, 64 * 1024 * 1024);
    mallopt(M_MMAP_THRESHOLD, 32 * 1024 * 1024);
    void *ready = malloc(HEAP_READY);
    if (ready)
        explicit_bzero(ready, HEAP_READY); /* touched, and not optimised away: the pages are ours from now on */
    free(ready);
}

void realtime_touch_stack(void)
{
    char ready[STACK_READY];
    explicit_bzero(ready, sizeof ready);
}

bool realtime_start(pthread_t *thread, int priority, void *(*run)(void *), void *ctx, bool *permitted)
{
    pthread_attr_t attr;
    if (pthread_attr_init(&attr) != 0)
        return false;
    bool started = pthread_attr_setstacksize(&attr, STACK) == 0 && pthread_create(thread, &attr, run, ctx) == 0;
    pthread_attr_destroy(&attr);
    if (!started || priority == 0)
        return started;
    struct sched_param param = {.sched_priority = priority};
    if (pthread_setschedparam(*thread, SCHED_FIFO, &param) != 0)
        *permitted = false;
    return true;
}

/* MCL_FUTURE only without a limit: under a small one a later allocation would fail instead of merely being slow. */
bool realtime_lock_memory(void)
{
    struct rlimit limit;
    bool unlimited = getrlimit(RLIMIT_MEMLOCK, &limit) == 0 && limit.rlim_cur == RLIM_INFINITY;
    return mlockall(unlimited ? MCL_CURRENT | MCL_FUTURE : MCL_CURRENT) == 0;
}
