/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The head on its way home: begun by a press, and going on until it is there, or something ends it. */
#ifndef STEADYHAND_CORE_HOMING_H
#define STEADYHAND_CORE_HOMING_H

#include "policy/motion/policy.h"

struct homing {
    bool on;
    uint64_t presses;  /* seen so far */
    uint64_t since_ns; /* of the last one */
};

struct homing_input {
    uint64_t now_ns;
    uint64_t presses;                 /* so far */
    bool may_move;                    /* motion is allowed, and somebody has control */
    const double *wish;               /* HEAD_AXES rates of the holder: whoever turns the head wants it otherwise */
    const struct policy_head *config; /* nothing is done without a head */
    const struct rig_report *rig;
};

/* One tick. A press while nothing may move is not kept for later. It ends by itself where the head cannot get home
 * within the time that it may take (head.h). */
bool homing_step(struct homing *homing, const struct homing_input *in);

#endif
