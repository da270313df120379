/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What must hold in every tick of every run, judged by the test's own account and by what is true. */
#ifndef STEADYHAND_SIM_CHECK_H
#define STEADYHAND_SIM_CHECK_H

#include "tests/sim/run.h"

enum check {
    CHECK_UNTOUCHED, /* what moves never touches anything, as far as fault.c promises */
    CHECK_SUBJECT,   /* nor do body and boom move on, but at a crawl, towards somebody whom they touch */
    CHECK_BOUNDED,   /* every number finite; speed, acceleration, jerk, head rates within what is in force */
    CHECK_STOP_WINS, /* no motion under a stop, nor before a reset and then a go */
    CHECK_RESTS,     /* what may not move commands no motion, and truly stays where it stopped */
    CHECK_AIMED,     /* the head keeps to its axes and out of its regions, steadily; aim.h */
    CHECK_UNSEEN,    /* the picture never shows what it must not; aim.h */
    CHECK_NOTICED,   /* fault.c, notice.h */
    CHECK_EXPLAINED, /* a wish that is not followed has a reason */
    CHECK_REPLAYED,
    CHECK_BUSY,
    CHECK_COUNT
};

extern const char *const check_names[CHECK_COUNT];

struct check_fault {
    enum check check; /* CHECK_COUNT: none */
    double value, limit;
};

/* After run_core: the first that does not hold. */
struct check_fault check_tick(struct run *run, const struct policy_input *in, const struct policy_output *out);

/* After run_on. That a stop brings to rest holds whatever has befallen; the rest for as long as the fault leaves the
 * promise that nothing touches. */
struct check_fault check_truth(struct run *run);

#endif
