/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Jerk-limited steps and stops: limits as they can be configured; the state, the wish and what was really sent
 * anything.
 *
 * analyse: policy/motion/profile.c policy/motion/profile_stop.c
 * options: -eva-precision 4
 */
#include "policy/motion/profile.h"
#include "tests/proof/rooms.h"

static struct profile_limits limits(void)
{
    return (struct profile_limits){between(1e-3, 1e3), between(1e-3, 1e3), between(1e-3, 1e5)};
}

static void one_axis(double dt)
{
    struct profile_limits l = limits();
    ANY(struct profile, now);
    ANY(struct profile, said);
    ANY(double, wanted);
    ANY(double, sent);
    profile_limits_valid(&l, dt);
    struct profile next = profile_step(&l, now, wanted, dt), on = profile_sent(&l, now, said, sent, dt);
    must_be_finite(next.v);
    must_be_finite(next.a);
    must_be_finite(on.v);
    must_be_finite(on.a);
    struct profile sane = profile_sane(&l, now);
    must_be_within(-1e9, sane.v, 1e9);
    must_be_within(-1e9, sane.a, 1e9);
}

static void in_space(double dt)
{
    struct profile_limits l = limits();
    ANY(struct profile3, now);
    ANY(struct profile3, said);
    ANY(struct vec3, wanted);
    ANY(struct vec3, sent);
    struct profile3 next = profile_step3(&l, &now, wanted, dt), on = profile_sent3(&l, &now, &said, sent, dt);
    MUST_BE_FINITE3(next.v);
    MUST_BE_FINITE3(next.a);
    MUST_BE_FINITE3(on.v);
    MUST_BE_FINITE3(on.a);
}

static void must_be_a_stop(struct profile_stop stop)
{
    must_be_finite(stop.time);
    must_be_within(0, stop.highest, DBL_MAX);
    must_be_within(-DBL_MAX, stop.lowest, 0);
    must_be_within(0, stop.peak, DBL_MAX);
}

static void stops(double dt)
{
    struct profile_limits l = limits();
    ANY(struct profile, now);
    must_be_a_stop(profile_stop(&l, now));
    must_be_a_stop(profile_stop_in_ticks(&l, now, dt));
}

int main(void)
{
    double dt = between(1e-4, 0.1);
    one_axis(dt);
    in_space(dt);
    stops(dt);
}
