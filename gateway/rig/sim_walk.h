/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Somebody who walks round and round a closed way at an even speed. */
#ifndef STEADYHAND_RIG_SIM_WALK_H
#define STEADYHAND_RIG_SIM_WALK_H

#include "policy/motion/vec.h"

/* Where they are t_s after they left corner 0. corners >= 1; on a way without length they stand. */
struct vec3 sim_walk_at(const struct vec3 corner[], int corners, double speed_mps, double t_s);

#endif
