/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How much happened, over all runs: so that nobody takes a quiet run for a proof. */
#ifndef STEADYHAND_SIM_TALLY_H
#define STEADYHAND_SIM_TALLY_H

#include "tests/sim/check.h"

struct tally_of_fault {
    uint64_t runs, ticks, active, moving, shown, noticed;
    double slowest_s; /* from showing to being noticed */
    double least_m;   /* true clearance while the promise held */
    uint64_t stopped_for[REASON_COUNT];
};

struct tally {
    uint64_t ticks, running, moving, blocked, fallback, inside, nudging;
    uint64_t reasons[REASON_COUNT]; /* ticks in which each applied */
    struct tally_of_fault fault[FAULT_COUNT];
};

void tally_init(struct tally *t);
void tally_tick(struct tally *t, const struct run *run, const struct policy_output *out);
void tally_run(struct tally *t, const struct run *run);

/* Enough of everything for so many ticks; if not, *what says of what there is too little. */
bool tally_busy(const struct tally *t, const char **what);

/* As comments of TAP. */
void tally_print(const struct tally *t);

/* One line of JSON. */
void tally_json(const struct tally *t);

#endif
