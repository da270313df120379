/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Which tensions hold a load: sum t_i u_i = wrench, every t_i at or above a floor, as near to t_ref as may be.
 *
 * Least squares about t_ref in closed form, t = t_ref + A^T (A A^T)^-1 (w - A t_ref); while a cord falls below the
 * floor, the lowest one is pinned there and the rest solved again ("improved closed form", Pott, Cable-Driven Parallel
 * Robots, 2018, 3.7). With t_ref = 0 and no cord at the floor that is the minimum-norm distribution.
 */
#ifndef STEADYHAND_RIG_SIM_STATICS_H
#define STEADYHAND_RIG_SIM_STATICS_H

#include "policy/motion/volume.h"

/* u: unit vectors from the load to the anchors. Fills tension[cords]. False if no such tensions were found: tension
 * then holds the floor for every cord. */
bool sim_statics_solve(int cords, const struct vec3 u[], struct vec3 wrench_n, double floor_n, double ref_n,
                       double tension[VOLUME_MAX_CORDS]);

/* The same, each tension as near as may be to its own ref_n. */
bool sim_statics_near(int cords, const struct vec3 u[], struct vec3 wrench_n, double floor_n,
                      const double ref_n[VOLUME_MAX_CORDS], double tension[VOLUME_MAX_CORDS]);

#endif
