/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "metronome.h"

#include <stddef.h>
#include <sys/mman.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

enum { PERIOD_NS = 10000000 };

struct metronome *metronome_new(void)
{
    void *at = mmap(NULL, sizeof(struct metronome), PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    return at == MAP_FAILED ? NULL : at; /* all zero */
}

static uint64_t now_ns(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint64_t)t.tv_sec * 1000000000u + (uint64_t)t.tv_nsec;
}

_Noreturn void metronome_run(struct metronome *m)
{
    uint64_t due = now_ns() + PERIOD_NS, expired;
    const struct itimerspec spec = {
        .it_interval = {.tv_nsec = PERIOD_NS},
        .it_value = {(time_t)(due / 1000000000u), (long)(due % 1000000000u)},
    };
    int timer = timerfd_create(CLOCK_MONOTONIC, TFD_CLOEXEC);
    if (timer < 0 || timerfd_settime(timer, TFD_TIMER_ABSTIME, &spec, NULL) != 0)
        _exit(1);
    while (read(timer, &expired, sizeof expired) == sizeof expired) {
        uint64_t now = now_ns(), late = now > due ? now - due : 0;
        if (late > atomic_load(&m->latest_ns))
            atomic_store(&m->latest_ns, late);
        atomic_fetch_add(&m->ticks, 1);
        atomic_fetch_add(&m->skipped, expired - 1);
        due += expired * PERIOD_NS;
    }
    _exit(1);
}
