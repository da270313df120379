/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The camera body on its rigid, light boom: a spherical pendulum in full (no small angles) under a pivot that moves.
 *
 *   d2n/dt2 = P (g - a_pivot) / L - 2 zeta omega dn/dt - |dn/dt|^2 n,   P = I - n n^T,   omega = sqrt(g / L)
 *
 * n: unit vector from the pivot to the body. Semi-implicit: kick, then an exact rotation along the great circle, so
 * that |n| = 1 and the energy of a free swing stays bounded.
 */
#ifndef STEADYHAND_RIG_SIM_PENDULUM_H
#define STEADYHAND_RIG_SIM_PENDULUM_H

#include "policy/motion/vec.h"

#define SIM_GRAVITY 9.80665 /* m/s^2 */

struct sim_pendulum_config {
    double length_m; /* > 0 */
    double damping;  /* zeta, 0..1 */
};

struct sim_pendulum {
    struct vec3 n;    /* unit */
    struct vec3 rate; /* dn/dt [1/s], perpendicular to n */
};

void sim_pendulum_init(struct sim_pendulum *p); /* hanging at rest */
void sim_pendulum_step(const struct sim_pendulum_config *cfg, struct sim_pendulum *p, struct vec3 pivot_accel,
                       double dt);

/* Angle from straight down [rad]. */
double sim_pendulum_angle(const struct sim_pendulum *p);

/* sqrt(theta^2 + (theta' / omega)^2): the angle this swing will reach if the pivot stays where it is. */
double sim_pendulum_amplitude(const struct sim_pendulum_config *cfg, const struct sim_pendulum *p);

#endif
