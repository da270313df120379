/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside of profile.c and profile_stop.c: G and its inverse (profile.h) in units of a tick, which are jerk dt of
 * acceleration and jerk dt^2 of velocity. */
#ifndef STEADYHAND_MOTION_PROFILE_TICK_H
#define STEADYHAND_MOTION_PROFILE_TICK_H

#include <math.h>

/* The velocity that easing off an acceleration, this tick's included, gains; 0 for one below 0. */
static inline double profile_tick_gained(double accel)
{
    double m = floor(accel);
    return accel > 0 ? (m + 1) * accel - m * (m + 1) / 2 : 0;
}

/* The acceleration that gains `wanting` >= 0. A rounding that puts m out by one does not matter: both lines meet. */
static inline double profile_tick_accel(double wanting)
{
    double m = floor((sqrt(1 + 8 * wanting) - 1) / 2);
    return (wanting + m * (m + 1) / 2) / (m + 1);
}

#endif
