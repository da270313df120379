/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A run in readable form: the scene, and each tick's inputs, outputs and truth. */
#ifndef STEADYHAND_SIM_TRAIL_H
#define STEADYHAND_SIM_TRAIL_H

#include "tests/sim/run.h"

void trail_scene(const struct run *run);
void trail_tick(const struct run *run, const struct policy_input *in, const struct policy_output *out);

#endif
