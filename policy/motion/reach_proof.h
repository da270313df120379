/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What can be proven of one cell of reach.h, where the definitions and the formula are. */
#ifndef STEADYHAND_MOTION_REACH_PROOF_H
#define STEADYHAND_MOTION_REACH_PROOF_H

#include "policy/motion/reach.h"

enum reach_proof {
    REACH_PROOF_OPEN,        /* none of the following: a smaller cell may tell */
    REACH_PROOF_REACHABLE,   /* every point of it is reachable */
    REACH_PROOF_UNREACHABLE, /* no point of it is */
    REACH_PROOF_MIXED,       /* some point of it is not */
};

/* The config must be valid. */
enum reach_proof reach_proof_of(const struct reach_config *cfg, const struct shape_box *cell);

/* By direct statics: is this position reachable? */
bool reach_proof_at(const struct reach_config *cfg, struct vec3 position);

#endif
