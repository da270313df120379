/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A hung mass in a plane under a pivot that accelerates, by the textbook and in full. */
#ifndef STEADYHAND_TESTS_PENDULUM_H
#define STEADYHAND_TESTS_PENDULUM_H

#include <math.h>
#include <stdbool.h>

#include "tests/unit/reference.h"

#define PENDULUM_G 9.80665

struct pendulum {
    double omega, zeta;
    bool linear; /* sin q = q, cos q = 1 */
    double angle, rate;
};

/* q'' = -2 zeta omega q' - omega^2 (sin q + a/g cos q): the mass lags behind the pivot. */
static inline double pendulum_accel(const struct pendulum *p, double angle, double rate, double pivot_accel)
{
    double s = p->linear ? angle : sin(angle), c = p->linear ? 1 : cos(angle);
    return -2 * p->zeta * p->omega * rate - p->omega * p->omega * (s + pivot_accel / PENDULUM_G * c);
}

/* One step of Runge and Kutta's fourth order, the pivot's acceleration held. */
static inline void pendulum_step(struct pendulum *p, double a, double h)
{
    double q = p->angle, r = p->rate;
    double r1 = r, k1 = pendulum_accel(p, q, r1, a);
    double r2 = r + h / 2 * k1, k2 = pendulum_accel(p, q + h / 2 * r1, r2, a);
    double r3 = r + h / 2 * k2, k3 = pendulum_accel(p, q + h / 2 * r2, r3, a);
    double r4 = r + h * k3, k4 = pendulum_accel(p, q + h * r3, r4, a);
    p->angle = q + h / 6 * (r1 + 2 * r2 + 2 * r3 + r4);
    p->rate = r + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4);
}

/* In n equal steps; the largest angle on the way is kept in *peak. */
static inline void pendulum_run(struct pendulum *p, double a, double seconds, int n, double *peak)
{
    for (int i = 0; i < n; i++) {
        pendulum_step(p, a, seconds / n);
        *peak = fmax(*peak, fabs(p->angle));
    }
}

/* The linear swing's amplitude with the pivot at rest, as the published cases define it. */
static inline double pendulum_amplitude(const struct pendulum *p)
{
    double damped = p->omega * sqrt(1 - p->zeta * p->zeta);
    return hypot(p->angle, (p->rate + p->zeta * p->omega * p->angle) / damped);
}

#endif
