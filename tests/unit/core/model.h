/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A model of core's two threads around the stop line, made of the real functions, one shared access a step. model_run
 * walks every interleaving of a desk's presses with a number of ticks, and every choice of ticks in which an inhibit
 * arises, and judges what the network could then do to the rig.
 */
#ifndef STEADYHAND_TEST_MODEL_H
#define STEADYHAND_TEST_MODEL_H

#include <stdbool.h>
#include <stdint.h>

enum { MODEL_PRESSES = 5 };

struct model_case {
    const char *presses; /* S stop, R reset, G go, A arm, H hold; at most MODEL_PRESSES */
    bool running;        /* the camera is moving when it begins; else it is stopped ... */
    bool parked;         /* ... or parked */
    bool severe;         /* stops are of category 0, else 2 */
    int ticks;
    int inhibits; /* at most so many ticks with an inhibit */
    /* What a faulty program would do; all false for ours. */
    bool no_settle;  /* S is only the number of presses: the policy's count is not looked at */
    bool no_stamp;   /* resets and gos from before a stop are honoured */
    bool late_raise; /* the policy hears of the stop only after the count has been read */
};

struct model_result {
    uint64_t paths;
    uint64_t moved; /* paths in which an intent could move a rig that has heard a stop pressed after its go */
    uint64_t stuck; /* paths after which a reset, arming and a go do not set the rig free */
};

struct model_result model_run(const struct model_case *c);

#endif
