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
 * margin = fixed + position uncertainty + latency * speed + swing
 * path   = straight along the velocity, length v * reaction + stop distance(v)
 * reaction = rig latency + intent lease: if core dies just after sending, the rig runs on until the lease lapses.
 *
 * Inside the margin already (sensor noise, a hand on the rig, a moved zone): only motion that recedes is allowed, one
 * along whose whole path the clearance grows; the reason says so.
 */
#ifndef STEADYHAND_MOTION_GUARD_H
#define STEADYHAND_MOTION_GUARD_H

#include "policy/motion/reason.h"
#include "policy/motion/volume.h"

struct guard_config {
    struct volume volume;
    double margin_m;      /* >= 0, fixed part */
    double latency_s;     /* >= 0: command to motion, and motion to telemetry, together */
    double lease_s;       /* > 0: how long an intent lives at the rig */
    double brake_mps2;    /* > 0: braking the rig is sure to reach */
    double speed_mps;     /* > 0: never exceeded by any lane */
    double swing_max_rad; /* > 0: more swing than this and motion is braked until it settles */
    double dt_s;          /* tick */
};

struct guard_input {
    struct vec3 position; /* finite */
    double uncertainty_m; /* >= 0, e.g. 3 sigma */
    double swing_rad;     /* >= 0: present amplitude of the body's swing */
    struct vec3 wanted;   /* m/s, finite */
    double accel_mps2;    /* > 0 */
};

struct guard {
    struct vec3 velocity; /* the last vetted velocity [m/s] */
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
void guard_step(const struct guard_config *cfg, struct guard *guard, const struct guard_input *in,
                struct guard_output *out);

/* Brakes along the last vetted velocity without asking for anything: for stops and for bad telemetry. */
void guard_brake(const struct guard_config *cfg, struct guard *guard, struct guard_output *out);

bool guard_config_valid(const struct guard_config *cfg);

#endif
