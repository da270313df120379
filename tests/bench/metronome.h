/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The floor core's tick is measured against: a process that does nothing but wake a hundred times a second, at the same
 * priority on the same processor. What it misses, the machine itself has missed. */
#ifndef STEADYHAND_BENCH_METRONOME_H
#define STEADYHAND_BENCH_METRONOME_H

#include <stdatomic.h>
#include <stdint.h>

struct metronome {
    _Atomic uint64_t ticks, skipped;
    _Atomic uint64_t latest_ns; /* the greatest lateness; the reader sets it back to 0 */
};

/* Shared with a child process; NULL if out of memory. */
struct metronome *metronome_new(void);

/* Never returns: the body of a child process. */
_Noreturn void metronome_run(struct metronome *m);

#endif
