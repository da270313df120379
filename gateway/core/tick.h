/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The tick: a hundred times a second, on absolute monotonic time, everything known goes through the policy and one
 * intent goes to the rig. It waits for nothing but its timer and allocates nothing.
 */
#ifndef STEADYHAND_CORE_TICK_H
#define STEADYHAND_CORE_TICK_H

#include "gateway/core/homing.h"
#include "gateway/core/lateness.h"
#include "gateway/core/shared.h"

enum {
    TICK_NS = 10000000,
    TICK_BUDGET_NS = 50000000,   /* a gap longer than this between two ticks latches a stop */
    TICK_REFUSES_NS = 100000000, /* a rig that brakes for longer, though it heard that it may move, refuses to */
    TICK_DESK_NS = 300000000,    /* a desk thread that is silent for longer hangs: nobody could stop */
};

struct tick {
    struct shared *shared;
    struct policy policy;
    struct crowd crowd;
    struct desk_orders orders;
    struct crowds_sum sum;
    struct rig_report rig;
    struct shared_report report;
    struct lateness late;
    uint64_t lease_ns;    /* of an intent */
    uint64_t events_seen; /* of orders.events */
    uint64_t limits_seen; /* of orders.limits */
    uint64_t holds_seen;  /* of orders.holds */
    struct homing homing;
    bool setup;          /* in force: it begins and ends only while not armed */
    uint64_t last_ns;    /* when the last tick began, 0 = none yet */
    uint64_t slept_ns;   /* the host's suspended time, as of the last tick */
    uint64_t gap_ns;     /* the longest between two ticks of those that were too long, while that is why it stands */
    uint64_t session_ns; /* when the present session with the rig began */
    bool running;        /* motion was allowed after the last tick */
    uint64_t moving_seq; /* of the first intent since it was allowed, 0 = it is not */
    uint64_t braking_ns; /* since when the rig says that it brakes, having heard that intent; 0 = it does not */
};

/* round: where the numbering of rounds begins; far from where a run before this one ended, so that no old vote counts.
 */
void tick_init(struct tick *tick, struct shared *shared, uint32_t round);

struct tick_time {
    uint64_t now_ns, due_ns; /* monotonic; when it should have begun */
    uint64_t missed;         /* whole periods that passed without a tick since the last one */
    uint64_t slept_ns;       /* time the host was suspended so far (CLOCK_BOOTTIME - CLOCK_MONOTONIC) */
    uint64_t page_faults;    /* of this thread, since core was ready */
};

/* One tick. */
void tick_once(struct tick *tick, const struct tick_time *time);

/* The desk thread has been heard of lately: a stop would be, too. */
bool tick_desk_lives(const struct tick *tick, uint64_t now_ns);

/* Telemetry is at hand and not too old. */
bool tick_rig_fresh(const struct tick *tick, uint64_t now_ns);

#endif
