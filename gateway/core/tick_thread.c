/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/tick_thread.h"

#include <errno.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include "gateway/clock.h"

int tick_thread_open(struct tick_thread *thread, struct tick *tick)
{
    thread->tick = tick;
    thread->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC);
    return thread->timer < 0 ? -errno : 0;
}

void tick_thread_close(struct tick_thread *thread)
{
    if (thread->timer >= 0)
        close(thread->timer);
    thread->timer = -1;
}

/* Absolute: a late tick does not make the next one late. Returns when the first is due. */
static uint64_t start(int timer)
{
    uint64_t first = clock_now_ns() + TICK_NS;
    struct itimerspec spec = {
        .it_interval = {.tv_nsec = TICK_NS},
        .it_value = {(time_t)(first / 1000000000u), (long)(first % 1000000000u)},
    };
    timerfd_settime(timer, TFD_TIMER_ABSTIME, &spec, NULL);
    return first;
}

void *tick_thread_run(void *arg)
{
    struct tick_thread *thread = arg;
    struct tick_time time = {.due_ns = start(thread->timer)};
    while (!atomic_load(&thread->tick->shared->ending)) {
        uint64_t expired = 0;
        if (read(thread->timer, &expired, sizeof expired) != sizeof expired || expired == 0)
            continue;
        time.now_ns = clock_now_ns();
        time.slept_ns = clock_read_ns(CLOCK_BOOTTIME) - time.now_ns;
        time.missed = expired - 1;
        tick_once(thread->tick, &time);
        time.due_ns += expired * TICK_NS;
    }
    return NULL;
}
