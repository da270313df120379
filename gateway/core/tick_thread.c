/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/tick_thread.h"

#include <errno.h>
#include <sys/resource.h>
#include <sys/timerfd.h>
#include <unistd.h>

#include "gateway/clock.h"
#include "gateway/core/realtime.h"

int tick_thread_open(struct tick_thread *thread, struct tick *tick, const char *notify_address)
{
    *thread = (struct tick_thread){.tick = tick, .timer = -1};
    int err = notify_open(&thread->notify, notify_address);
    if (err != 0)
        return err;
    thread->timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC);
    return thread->timer < 0 ? -errno : 0;
}

void tick_thread_close(struct tick_thread *thread)
{
    notify_close(&thread->notify);
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

/* How often this thread had to wait for a page since core was ready. */
static uint64_t page_faults(struct tick_thread *thread)
{
    struct rusage used;
    if (!thread->ready && !atomic_load(&thread->tick->shared->ready))
        return 0;
    if (getrusage(RUSAGE_THREAD, &used) != 0)
        return 0;
    uint64_t faults = (uint64_t)used.ru_minflt + (uint64_t)used.ru_majflt;
    if (!thread->ready)
        thread->faults_at = faults;
    thread->ready = true;
    return faults - thread->faults_at;
}

/* A core that nobody can stop is not well, however punctual its ticks. */
static void beat(struct tick_thread *thread, uint64_t now_ns)
{
    if (thread->unbeaten < TICK_THREAD_BEAT)
        thread->unbeaten++;
    if (thread->unbeaten < TICK_THREAD_BEAT || !tick_desk_lives(thread->tick, now_ns))
        return;
    if (notify_send(&thread->notify, NOTIFY_BEAT)) /* else again with the next tick */
        thread->unbeaten = 0;
}

void *tick_thread_run(void *arg)
{
    struct tick_thread *thread = arg;
    realtime_touch_stack();
    struct tick_time time = {.due_ns = start(thread->timer)};
    while (!atomic_load(&thread->tick->shared->ending)) {
        uint64_t expired = 0;
        if (read(thread->timer, &expired, sizeof expired) != sizeof expired || expired == 0)
            continue;
        time.now_ns = clock_now_ns();
        time.slept_ns = clock_read_ns(CLOCK_BOOTTIME) - time.now_ns;
        time.missed = expired - 1;
        time.page_faults = page_faults(thread);
        tick_once(thread->tick, &time);
        beat(thread, time.now_ns);
        time.due_ns += expired * TICK_NS;
    }
    return NULL;
}
