/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Speeds, accelerations, jerks and head rates, as sent and as they truly are.
 *
 * In every tick: all numbers finite, speed below the guard's, change of velocity below its braking, none gained without
 * motion permitted, head rates below the axes' speeds. In ordinary motion (the same lane, mode and limits, ticks on
 * time, nothing braked) for long enough to have come down from whatever was before: speed, acceleration and jerk of the
 * limits in force. In truth: the zone's speed wherever the body reaches into a slow zone, and no cord slack for good
 * where the policy is told how far the cords reach.
 */
#ifndef STEADYHAND_SIM_BOUNDS_H
#define STEADYHAND_SIM_BOUNDS_H

#include "tests/sim/check.h"

/* Before run->account takes up what was sent. */
struct check_fault bounds_tick(struct run *run, const struct policy_output *out);

/* What is true, while the promise holds. */
struct check_fault bounds_truth(const struct run *run);

#endif
