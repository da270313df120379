/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The line that decides whether the camera may move: wanted velocity in, vetted velocity and reasons out.
 *
 * Invariant (stoppable): after every tick the rig, moving at the vetted velocity, can run on for the reaction time and
 * then brake to rest with a clearance of at least the margin all the way. A new velocity is sent only if that whole
 * braking path is clear. Otherwise the guard brakes along the velocity it last sent, whose path was proven when it was
 * sent.
 *
 *   path     = straight along the velocity from the reported position, v * reaction + stop distance(v) long
 *   reaction = rig latency + age of the report + intent lease: the report is old by up to the first two, and if core
 *              dies just after sending, the rig runs on until the lease lapses
 *   margin   = fixed + position uncertainty + bend + swing
 *
 * The latency times the speed lies along the path, so it makes the path longer and not the margin wider. What it can
 * do sideways is the *bend*: the rig may still follow older velocities, as intents can be lost, or late up to their
 * lease. One sent s seconds ago differs by at most brake * s, so over the whole window W = reaction + a tick that adds
 * up to brake W^2 / 2.
 *
 * Swing: the body hangs from the platform by the boom, and at an angle q it is 2 boom sin(q/2) away from where it
 * hangs at rest. A pivot accelerated at a from rest lifts an undamped pendulum to exactly 2 atan(a/g) (mechanics; case
 * pendulum-step of tests/reference/motion.json), and one that swings already to no more than that on top. Counted are
 * the swing reported, or that of the lane's own acceleration if that is more (so the margin does not grow under way);
 * what braking adds; and what it can have gained since it was measured, omega * (latency + age) of atan(brake/g).
 *
 * The proof rests on the rig: it takes up a velocity within latency_s at brake_mps2 or faster; when intents lapse it
 * brakes at brake_mps2 and does not move again before it has heard an intent without motion; and it reports where it is
 * to within the uncertainty it states.
 *
 * Inside the margin already (sensor noise, a hand on the rig, a moved zone): only motion that recedes is allowed, one
 * that gains clearance all along (travel_away); the reason says so. That is judged where the rig says it is; where it
 * really is the way may gain less, and the fixed part of the margin is what is left for that. So margin_m should be at
 * least three times the uncertainty.
 */
#ifndef STEADYHAND_MOTION_GUARD_H
#define STEADYHAND_MOTION_GUARD_H

#include "policy/motion/reason.h"
#include "policy/motion/volume.h"

struct guard_config {
    struct volume volume;
    double margin_m;      /* >= 0, fixed part */
    double latency_s;     /* >= 0: command to motion, and motion to telemetry, together */
    double lease_s;       /* >= dt_s: how long an intent lives at the rig */
    double brake_mps2;    /* > 0: braking the rig is sure to reach */
    double speed_mps;     /* > 0: never exceeded by any lane */
    double swing_max_rad; /* > 0: more swing than this and motion is braked until it settles below half of it */
    double dt_s;          /* > 0: tick, as planned */
};

struct guard_input {
    struct vec3 position; /* finite */
    double age_s;         /* >= 0: since the position was received */
    double uncertainty_m; /* >= 0, e.g. 3 sigma */
    double swing_rad;     /* >= 0: present amplitude of the body's swing */
    struct vec3 wanted;   /* m/s, finite */
    double accel_mps2;    /* > 0; more than the rig's braking counts as that */
};

struct guard {
    struct vec3 velocity; /* the last vetted velocity [m/s] */
    bool settling;        /* swung too much, and has not settled since */
};

struct guard_output {
    struct vec3 velocity;            /* vetted, finite, |v| <= speed_mps */
    double margin_m;                 /* the margin that was kept */
    struct volume_clearance nearest; /* at the present position */
    double braking_m;                /* length of the braking path from here, reaction included */
    bool fallback;                   /* the proven braking path was followed instead of the wish */
    reason_set reasons;
    int keepout; /* which one, where REASON_KEEPOUT is set; else -1 */
};

void guard_init(struct guard *guard);

/* elapsed_s >= 0 is the time since the last step, as it was: a core whose ticks come late brakes as hard as ever, and
 * never speeds up faster than its ticks are planned. */
void guard_step(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                struct guard_output *out);

/* Brakes along the last vetted velocity without asking for anything: for stops and for bad telemetry. `in` is only
 * looked at to fill margin and nearest, and may be NULL if the position is not known: they are 0 then. */
void guard_brake(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                 struct guard_output *out);

/* The margin [m] that guard_step would keep; for a rig at rest: age and swing 0. */
double guard_margin(const struct guard_config *cfg, const struct guard_input *in);

bool guard_config_valid(const struct guard_config *cfg);

#endif
