/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where the platform is by one report alone: weighted nonlinear least squares over whatever it holds.
 *
 * Gauss-Newton steps, damped where one does not lower the cost (Levenberg 1944, Marquardt 1963; Nocedal, Wright,
 * Numerical Optimization, 10.3), a bounded number of them. The differenced linear system of trilateration is not used
 * anywhere: with errors of millimetres in the lengths it is centimetres off in height, and it is singular if the
 * anchors share one height.
 *
 * Lengths alone have a mirror image above the anchors, exactly so if these lie in one plane. A cold start begins below
 * them, at the distance that the lengths imply: sum |A_i - p|^2 = sum |A_i - c|^2 + n |p - c|^2 with c the anchors'
 * centroid (Steiner's theorem).
 */
#ifndef STEADYHAND_MOTION_LOCATE_SOLVE_H
#define STEADYHAND_MOTION_LOCATE_SOLVE_H

#include "policy/motion/locate_model.h"

#define LOCATE_FIX_SIGMA_M 1.0 /* a fix vaguer than this along any direction is none */

/* What one report says by itself. */
struct locate_fix {
    bool full;            /* it fixes all of the position; else `position` is only where the model is linearised */
    struct vec3 position; /* m */
    struct mat3 spread;   /* if full: inverse of the information, a covariance that counts biases as evenly spread */
    struct locate_model model;
    uint32_t there; /* bit per term in the model */
    struct locate_term term[LOCATE_TERMS];
};

/* From a good guess, with the velocity that carries older readings forward. Not full: linearised at the guess. */
void locate_solve_near(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 guess,
                       struct vec3 velocity, struct locate_fix *fix);

/* From nothing. Velocity is taken as 0. */
void locate_solve_cold(const struct locate_config *cfg, const struct locate_reading *reading, struct locate_fix *fix);

/*
 * The place where the reading's tensions balance its wrench: the unique minimiser of sum t_i |p - A_i| + w . p, convex,
 * for three cords or more that are not in line, by Newton's method with a line search (Boyd, Vandenberghe, Convex
 * Optimization, 9.5). False, *p unchanged, if there is none (they cannot carry the weight).
 */
bool locate_solve_tensions(const struct locate_config *cfg, const struct locate_reading *reading, struct vec3 *p);

#endif
