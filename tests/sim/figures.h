/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How much happened, over all runs: so that nobody takes a quiet run for a proof. */
#ifndef STEADYHAND_SIM_FIGURES_H
#define STEADYHAND_SIM_FIGURES_H

#include "tests/sim/check.h"

struct figures_of_fault {
    uint64_t runs, ticks, active, moving, noticed;
    double slowest_s; /* from showing to being noticed */
    double least_m;   /* true clearance while the promise held */
    uint64_t stopped_for[REASON_COUNT];
};

struct figures {
    uint64_t ticks, running, moving, blocked, fallback, inside, nudging;
    uint64_t reasons[REASON_COUNT];                  /* ticks in which each applied, or was what it was stopped for */
    uint64_t lanes[LANE_COUNT], modes[LIMITS_MODES]; /* ticks with motion permitted */
    double unseen_m;                                 /* least from the picture to what it must not show */
    struct figures_of_fault fault[FAULT_COUNT];
};

void figures_init(struct figures *t);
void figures_tick(struct figures *t, const struct run *run, const struct policy_output *out);
void figures_run(struct figures *t, const struct run *run);

/* Enough of everything for so many ticks; if not, *what says of what there is too little. */
bool figures_busy(const struct figures *t, const char **what);

/* As comments of TAP. */
void figures_print(const struct figures *t);

/* One line of JSON. */
void figures_json(const struct figures *t);

#endif
