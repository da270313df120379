/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Limits and states for the tests of profiles and heads: from the reference file, and at random. */
#ifndef STEADYHAND_TESTS_PROFILES_H
#define STEADYHAND_TESTS_PROFILES_H

#include <math.h>

#include "policy/motion/profile.h"
#include "tests/unit/crowd/random.h"
#include "tests/unit/reference.h"

/* Evenly over the orders of magnitude. */
static inline double profiles_magnitude(struct random *r, double least, double most)
{
    return least * pow(most / least, random_between(r, 0, 1));
}

/* From a second or two at full jerk down to less than a tick of it. */
static inline struct profile_limits profiles_limits(struct random *r)
{
    struct profile_limits limits;
    limits.speed = profiles_magnitude(r, 0.05, 2);
    limits.accel = profiles_magnitude(r, 0.1, 5);
    limits.jerk = profiles_magnitude(r, 0.5, 2000);
    return limits;
}

static inline double profiles_hostile(struct random *r)
{
    static const double hostile[] = {NAN, -NAN, INFINITY, -INFINITY, 1e308, -1e308, 1e18, -1e18, 5e-324, -0.0, 1e-300};
    return hostile[random_below(r, sizeof hostile / sizeof hostile[0])];
}

#endif
