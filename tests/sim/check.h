/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What must hold in every tick of every run, judged by the test's own account and by what is true. */
#ifndef STEADYHAND_SIM_CHECK_H
#define STEADYHAND_SIM_CHECK_H

#include "tests/sim/run.h"

enum check {
    CHECK_UNTOUCHED,
    CHECK_BOUNDED,
    CHECK_STOP_WINS,
    CHECK_RESTS,
    CHECK_NOTICED,
    CHECK_EXPLAINED,
    CHECK_REPLAYED,
    CHECK_BUSY,
    CHECK_COUNT
};

extern const char *const check_names[CHECK_COUNT];

struct check_fault {
    enum check check; /* CHECK_COUNT: none */
    double value, limit;
};

/* After run_core; `out` is NULL where core is dead. The first that does not hold. */
struct check_fault check_tick(struct run *run, const struct policy_input *in, const struct policy_output *out);

/* After run_on. */
struct check_fault check_truth(const struct run *run);

/* Folds an output into a digest. */
uint64_t check_digest(uint64_t digest, const struct policy_output *out);

#endif
