/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Jerk-limited velocity: one step from (velocity, acceleration) towards a wanted velocity, and how far a stop runs.
 *
 * Units are those of what moves: m for the camera, rad for a head's axis, 1 for a lens; seconds throughout.
 *
 * Model of a tick, as in guard.h: the acceleration is held over it, so that v' = v + a' dt, x' = x + (v + v') dt / 2
 * and the jerk is the change of acceleration from tick to tick, over dt. With u = jerk dt, an acceleration eased off by
 * u a tick still gains the velocity
 *
 *   G(a) = dt (a + (a - u) + (a - 2u) + ...)+ = dt ((m + 1) a - u m (m + 1) / 2),  m = floor(a / u)
 *
 * which is the discrete form of a^2 / 2j. A step takes the largest acceleration within the limits with G(a') <= what is
 * wanting, so it lands on the wanted velocity with the acceleration at nought, exactly and without overshoot, as soon
 * as any sequence of such ticks can. It is the seven-segment profile of Biagiotti & Melchiorri,
 * "Trajectory Planning for Automatic Machines and Robots" (2008), 3.4, for the velocity alone, in ticks.
 *
 * Hand-over: the state is all there is. Whoever wants something else from the next tick on, or has other limits,
 * starts from the velocity and the acceleration at hand; neither can step.
 *
 * Which limit yields: none, from rest on and while the limits stay. A state left by wider ones (more speed than is
 * allowed now, or acceleration that must still ease off) comes back as fast as the jerk allows: the jerk is kept first,
 * then the acceleration, then the speed.
 *
 * Pure. Callers own all memory. Whatever comes in, what comes out is finite: a wish that is not finite (in space: whose
 * square is not) is a wish for rest, and a state that no step can have left (not finite, or beyond PROFILE_SANE times
 * the limits) counts as rest.
 */
#ifndef STEADYHAND_MOTION_PROFILE_H
#define STEADYHAND_MOTION_PROFILE_H

#include "policy/motion/vec.h"

#define PROFILE_SANE 1e6

struct profile_limits {
    double speed; /* > 0 */
    double accel; /* > 0 */
    double jerk;  /* > 0 */
};

/* Rest is {0}. */
struct profile {
    double v; /* the velocity last sent */
    double a; /* the acceleration held over the tick before it */
};

struct profile3 {
    struct vec3 v, a;
};

/* All finite and positive, and no phase of a stop longer than a million ticks of dt. */
bool profile_limits_valid(const struct profile_limits *limits, double dt);

/* The state, or rest if no step can have left it. */
struct profile profile_sane(const struct profile_limits *limits, struct profile now);

struct profile profile_step(const struct profile_limits *limits, struct profile now, double wanted, double dt);

/* The velocity that it comes to if its acceleration is eased off from the next tick on: as fast as a stop lets it get.
 */
double profile_eased(const struct profile_limits *limits, struct profile now, double dt);

/*
 * The same for a velocity in space, |v|, |a| and |jerk| within the limits. Where the velocity would end if the
 * acceleration were eased off from here straight to nought (v + G(|a| - u) along a) moves towards the wish in a
 * straight line, as far each tick as jerk and acceleration allow. It can always stay where it is (easing off does
 * that), and both its ends are inside the ball |v| <= speed, so by convexity every velocity is; and what is wanting
 * never grows, so it cannot go round the wish. From rest, or along the acceleration at hand, it is the scalar step;
 * where the wish turns through more than a right angle the acceleration eases off first, which is not time-optimal.
 */
struct profile3 profile_step3(const struct profile_limits *limits, const struct profile3 *now, struct vec3 wanted,
                              double dt);

/*
 * What to go on from when `sent` went out after `before`, where the step said `said`: the guard may brake as hard as it
 * must. If it is what was said, that is the state. Otherwise the acceleration is what it was in that tick, cut to the
 * limit and to what can be eased off without passing rest or the speed limit: the jerk limit is broken already.
 */
struct profile profile_sent(const struct profile_limits *limits, struct profile before, struct profile said,
                            double sent, double dt);
struct profile3 profile_sent3(const struct profile_limits *limits, const struct profile3 *before,
                              const struct profile3 *said, struct vec3 sent, double dt);

/*
 * A stop, from a state on. Displacements are from where it begins, positive towards positive velocities; `highest` and
 * `lowest` are the furthest it goes either way: a state that decelerates too hard to ease off in time turns back.
 */
struct profile_stop {
    double time;
    double highest; /* >= 0 */
    double lowest;  /* <= 0 */
    double peak;    /* >= 0: hardest deceleration on the way, of profile_stop only */
};

/*
 * In continuous time, closed form. With s = |v| and a counted along v, for a stop that does not turn back (v >= 0 and
 * v >= a^2/2j where a < 0): peak p = min(accel, sqrt(j v + a^2/2)), hold h = (v + a^2/2j - p^2/j) / p,
 * time = (a + p)/j + h + p/j. For a = 0: v >= accel^2/j gives v^2/2accel + v accel/2j, less than that v sqrt(v/j). Case
 * brake-scurve of tests/reference/profile.json.
 */
struct profile_stop profile_stop(const struct profile_limits *limits, struct profile now);

/*
 * As profile_step runs it with nothing wanted, in ticks of dt, closed form. `highest` and `lowest` are never short of
 * what is run: they are the sums of the very ticks, the ends of which are found by solving for the tick in which each
 * phase ends; a tick in which the velocity crosses nought counts in full; and the result is rounded up by 1e-9 of it.
 */
struct profile_stop profile_stop_in_ticks(const struct profile_limits *limits, struct profile now, double dt);

#endif
