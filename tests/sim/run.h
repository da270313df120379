/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One run: a scene from its seed, and everything that happens in it, tick by tick in virtual time.
 *
 *   people -> core (the real policy) -> network -> machine -> sensors -> network -> core
 *                                                     \-> the judge of what is true
 */
#ifndef STEADYHAND_SIM_RUN_H
#define STEADYHAND_SIM_RUN_H

#include "tests/sim/people.h"
#include "tests/sim/sense.h"
#include "tests/sim/truth.h"

enum { RUN_TICKS = 2500 };

/* Core, as far as it is not the policy: what it last heard. */
struct run_core {
    struct policy policy;
    struct rig_report rig;
    uint64_t rig_ns, confirmed; /* of the newest telemetry: the rig's clock, the stop count it has heard */
    uint64_t sent;              /* intents and stops so far: their sequence */
    uint64_t last_ns;           /* when the last tick was */
    bool bad;                   /* what came last was spoilt */
};

/* What only the test knows, for the checks. */
struct run_account {
    bool pressed, late, absent; /* in this tick */
    double elapsed_s;           /* since the last one */
    bool reset_seen, go_seen;   /* since the last stop */
    bool moved;                 /* motion was permitted in the last tick */
    uint64_t moved_ns;          /* when it last was */
    struct vec3 sent, wanted;   /* velocity last sent, and wanted */
    int alike;                  /* ticks in which the same was wanted */
    uint64_t shown_ns;          /* when the fault first showed, 0: not yet */
    uint64_t noticed_ns;        /* when motion was first not permitted after that */
    uint64_t heard_ns;          /* when telemetry was last heard that was sound */
    double took_s;              /* the longest from showing to being noticed */
    double least_m;             /* true clearance, as long as the promise held */
};

struct run {
    struct scene scene;
    struct random random;
    struct machine machine;
    struct sense sense;
    struct people people;
    struct truth truth;
    struct post to_rig, to_core;
    struct run_core core;
    struct run_account account;
    uint64_t now_ns;
    int tick, steps;
    bool active; /* the fault is on */
};

void run_init(struct run *run, uint64_t seed, enum fault fault);

/* What core sees in this tick; false if there is none: core is dead. */
bool run_input(struct run *run, struct policy_input *in);

/* Core's tick: what the policy says of it is sent. */
void run_core(struct run *run, const struct policy_input *in, struct policy_output *out);

/* The world goes on until the next tick. */
void run_on(struct run *run);

/* The longest that an intent, or telemetry, can be under way [ns]. */
uint64_t run_to_rig_ns(const struct run *run);
uint64_t run_to_core_ns(const struct run *run);

#endif
