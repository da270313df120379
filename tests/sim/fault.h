/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What can go wrong in a simulated run, and what is asserted of it.
 *
 * A fault within the promise is one that the show file allows for: its noise, its latency, its lost datagrams, people
 * who do as they like. Nothing may ever touch while it lasts. A fault beyond the promise breaks what the proof of
 * stoppability rests on (guard.h): then it must be noticed within its time, latch a stop, and motion must not be
 * permitted again before somebody has reset and said go; where it goes on showing, not even then.
 *
 * fault.c has the table: what each one does and what is asserted of it; notice.h from when its time is counted.
 */
#ifndef STEADYHAND_SIM_FAULT_H
#define STEADYHAND_SIM_FAULT_H

#include <stdbool.h>

#include "policy/motion/reason.h"

enum fault {
    /* within the promise */
    FAULT_NONE,
    FAULT_NOISE,
    FAULT_LATENCY,
    FAULT_REORDER,
    FAULT_LOSS,
    FAULT_LAG,
    FAULT_LANES,
    FAULT_PEOPLE,
    FAULT_STALL,
    FAULT_SUBJECT,
    /* beyond it: what is heard */
    FAULT_SILENCE,
    FAULT_CORE_DEAD,
    FAULT_FROZEN_SEQ,
    FAULT_NOT_A_NUMBER,
    FAULT_FLAG,
    /* beyond it: what sensors say */
    FAULT_JUMP,
    FAULT_JUMPING,
    FAULT_DRIFT,
    FAULT_FROZEN,
    /* beyond it: what is true */
    FAULT_PARTED,
    FAULT_RUNAWAY,
    FAULT_STICKS,
    FAULT_ANCHOR,
    FAULT_PUSH,
    FAULT_COUNT
};

/* What must be done about it. */
enum fault_demand {
    FAULT_MOVES,   /* nothing: it is within the promise */
    FAULT_STOPS,   /* noticed in time, which stops; after a go, no more */
    FAULT_FORBIDS, /* noticed in time, and no motion as long as it shows, whatever anybody presses */
};

/* Until when nothing may touch. */
enum fault_touch {
    FAULT_NEVER,      /* as long as the run lasts */
    FAULT_UNTIL_GO,   /* until somebody says go after a stop since it began, whatever that stop was for */
    FAULT_UNTIL_THEN, /* until it begins */
};

struct fault_kind {
    const char *name, *what;
    enum fault_demand demand;
    enum fault_touch touch;
    reason_set told_by; /* reasons that say it, or what comes of it: noticed is what forbids motion for one of these */
    const char *asserted; /* besides what check.h asserts */
};

extern const struct fault_kind fault_kinds[FAULT_COUNT];

/* FAULT_COUNT if there is none of that name. */
enum fault fault_named(const char *name);

#endif
