/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Many ticks of the real policy in virtual time, with somebody at the stick and a rig that follows; how long each took.
 */
#ifndef STEADYHAND_BENCH_POLICY_DRIVE_H
#define STEADYHAND_BENCH_POLICY_DRIVE_H

#include "tests/bench/policy/equip.h"
#include "tests/property/random.h"

enum drive_wish {
    DRIVE_WANDER, /* this way and that, a few seconds each */
    DRIVE_PRESS,  /* at full stick against a wall or a keep-out, then against another */
};

struct drive {
    const struct show *show;
    enum drive_wish wish;
    struct policy policy;
    struct random random;
    struct equip_truth rig;
    struct vec3 stick;
    int ticks_left; /* of that stick */
    uint64_t now_ns, seq;
    int ticks, moving, guarded, refused; /* moving at all; held back by something in the room; motion not permitted */
};

void drive_init(struct drive *drive, const struct show *show, enum drive_wish wish);

/*
 * Runs `ticks`. Into took_ns goes the processor time of each as it ran: caches cold where the machine was busy with
 * others. Into least_ns, the least of that and of the same tick repeated from the same state: what the tick costs on
 * its own. The policy is a pure function, so it can be asked again.
 */
void drive_run(struct drive *drive, int ticks, double *took_ns, double *least_ns);

/* Of the calling thread, and what asking for it takes. */
double drive_now_ns(void);
double drive_clock_ns(void);

#endif
