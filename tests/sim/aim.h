/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the head points and what the picture shows, as commanded and as it truly is.
 *
 * Commanded: once wishes have been the same for a second, the rate of an axis changes sign at most once and does not
 * start and stop again and again. In truth: no axis beyond its ends, the head in none of the regions in which it
 * vibrates, and nothing in the picture that must not be there, unless it came there in setup, when nothing is held
 * back.
 */
#ifndef STEADYHAND_SIM_AIM_H
#define STEADYHAND_SIM_AIM_H

#include "tests/sim/check.h"

struct check_fault aim_tick(struct run *run, const struct policy_input *in, const struct policy_output *out);

/* What is true, while the promise holds. */
struct check_fault aim_truth(struct run *run);

#endif
