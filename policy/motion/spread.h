/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How a force is spread over the cords: the tensions in balance with it that are nearest to a wanted set.
 *
 *   minimise sum (t_k - ref_k)^2  subject to  sum t_k u_k = w  and, if asked, min_k <= t_k <= max_k
 *
 * Without limits: t = ref + A^+ (w - A ref), A = (u_1 .. u_N), A^+ its pseudo-inverse; with ref = 0 the minimum-norm
 * tensions (Pott, Cable-Driven Parallel Robots, 2018, ch. 3). With limits: an active-set method (Nocedal and Wright,
 * Numerical Optimization, 2006, 16.5) over at most 8 unknowns, from a point inside that is found cord by cord. Every
 * step keeps the balance and the limits, so what it ends with holds even if it were to end early.
 */
#ifndef STEADYHAND_MOTION_SPREAD_H
#define STEADYHAND_MOTION_SPREAD_H

#include "policy/motion/wrench.h"

/* Without limits. False if cords that lie in one plane or line cannot make the force, whatever their tensions: then the
 * part of it that they can. `cords` as wrench_cords says, force and ref finite. */
bool spread_free(const struct wrench_cords *cords, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                 double tension_n[VOLUME_MAX_CORDS]);

/* Within limits. Only to be asked where wrench_look says that it is feasible; false if rounding stands between the two
 * all the same, and then tension_n is all 0. */
bool spread_within(const struct wrench_cords *cords, struct vec3 force, const double ref_n[VOLUME_MAX_CORDS],
                   double tension_n[VOLUME_MAX_CORDS]);

#endif
