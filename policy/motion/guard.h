/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The line that decides whether the camera may move. One tick in three steps, with whatever shapes motion between the
 * second and the third:
 *
 *   guard_begin   looks at the room once
 *   guard_steer   a wish in, a wish out that fits the room: slowed, or turned along what is in the way
 *      ...        profile, shaper: ordinary motion along walls stays limited in jerk, and shaped
 *   guard_prove   what came out of that is sent if its whole braking path is clear; otherwise the rig brakes
 *
 * Steering makes proofs succeed; only the proof decides. It asks nothing of what comes in, so no mistake in steering or
 * shaping can break the invariant, and neither delays a stop.
 *
 * Invariant (stoppable): after every tick the rig, moving at the vetted velocity, can run on for the reaction time and
 * then brake to rest with a clearance of at least the margin all the way. A new velocity is sent only if that whole
 * braking path is clear. Otherwise the guard brakes along the velocity it last sent, whose path was proven when it was
 * sent.
 *
 *   path     = straight along the velocity from the reported position, v * reaction + stop distance(v) long
 *   reaction = rig latency + age of the report + intent lease: the report is old by up to the first two, and if core
 *              dies just after sending, the rig runs on until the lease lapses
 *   margin   = fixed + tether (position uncertainty + bend + swing)
 *   tether   = 2 where one hangs, whose envelope moves up to twice as far as its end does (volume.h), else 1
 *
 * The latency times the speed lies along the path, so it makes the path longer and not the margin wider. What it can
 * do sideways is the *bend*: the rig may still follow older velocities, as intents can be lost, or late up to their
 * lease. One sent s seconds ago differs by at most brake * s, so over the whole window W = reaction + a tick that adds
 * up to brake W^2 / 2.
 *
 * Swing: the body hangs from the platform by the boom, and at an angle q what is L from the platform is 2 L sin(q/2)
 * away from where it hangs at rest; L is that of the furthest limb. A pivot accelerated at a from rest lifts an
 * undamped pendulum to exactly 2 atan(a/g) (mechanics; case pendulum-step of tests/reference/motion.json), and one that
 * swings already to no more than that on top. Counted are the swing reported, or that of the lane's own acceleration if
 * that is more (so the margin does not grow under way); what braking adds; and what it can have gained since it was
 * measured, omega * (latency + its age) of atan(brake/g).
 *
 * So where no swing is told, that of the lane's own acceleration always counts, unshaped, and that of braking. It is
 * one push that is counted: pushes at the swing's own time add up to more, which only a shaper or a swing that is told
 * keeps out; a show with neither is warned of when it is loaded.
 *
 * Steering looks from where the camera will be when shaping has played out what it was given (position + ahead), so
 * that what is under way is not decided about twice; and it reckons with settle, the time by which shaping lets a wish
 * slow down later, as with reaction. A shaper's output is a mean of the places and speeds that were steered to, so
 * beside a flat wall it fits the room as they did.
 *
 * Squeezed, the camera rests: where what is in the way leaves a wish no more speed than the noise of the position
 * makes, (uncertainty + 1 mm) / (reaction + settle), it is steered to stand still, until three times that is left. So
 * it does not tremble in a corner however long somebody presses.
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
    double swing_rad;     /* >= 0: amplitude of the body's swing ... */
    double swing_age_s;   /* >= 0: ... so long ago: a position may be for now that was not measured now */
    struct vec3 wanted;   /* m/s, finite */
    double accel_mps2;    /* > 0; more than the rig's braking counts as that */
    struct vec3 ahead;    /* m: how far shaping still goes if nothing more is wished for; 0 without it */
    double settle_s;      /* >= 0: by how much later shaping lets a wish slow down */
    const struct volume_now *now;
};

struct guard {
    struct vec3 velocity; /* the last vetted velocity [m/s] */
    bool resting;         /* squeezed, and not worth moving for */
    bool settling;        /* swung too much, and has not settled since */
};

/* What one tick works with; about 117 KB. */
struct guard_tick {
    const struct guard_config *cfg;
    struct guard_input in;
    struct volume_near near;
    double margin_m, reaction_s, accel_mps2;
    struct vec3 from; /* where steering looks from */
    double clear_m;   /* clearance there */
};

/* A wish and how far it may run. */
struct guard_way {
    struct vec3 velocity;          /* the wish as far as it fits the room; |v| <= speed_mps */
    double free_m;                 /* how far it could go straight on, if it is blocked */
    bool blocked;                  /* it had to be slowed or turned ... */
    struct volume_clearance block; /* ... by this */
};

struct guard_output {
    struct vec3 velocity;            /* vetted, finite, |v| <= speed_mps */
    double margin_m;                 /* the margin that was kept */
    struct volume_clearance nearest; /* at the present position */
    double braking_m;                /* length of the braking path from here, reaction included */
    bool fallback;                   /* the proven braking path was followed instead of the wish */
    bool braked;                     /* that, or it waits for the swing to settle: shaping begins anew from here */
    reason_set reasons;
    enum reason why;               /* something is in the way; REASON_NONE: nothing */
    struct volume_clearance block; /* what, */
    double free_m;                 /* and how far it could still go that way */
    int keepout;                   /* which one, if it is a keep-out; else -1 */
};

void guard_init(struct guard *guard);

/* False, and nothing may be asked of *tick but to brake, if the input is none. *cfg and *in->now must outlive it. */
bool guard_begin(const struct guard_config *cfg, const struct guard *guard, const struct guard_input *in,
                 struct guard_tick *tick);

void guard_steer(const struct guard_tick *tick, struct guard *guard, struct guard_way *way);

/* What guard_prove would send of `shaped`: no faster than allowed, and no further from the last velocity than the rig
 * can brake in the time. */
struct vec3 guard_next(const struct guard_tick *tick, const struct guard *guard, double elapsed_s, struct vec3 shaped);

/*
 * `shaped` [m/s] is what is to be sent, whatever it is made of; `way` is what was steered, for the reasons. It is
 * followed as guard_next() says, if it can be proven and `may` is true: whatever else the caller asks of guard_next(),
 * in a way that what brakes along the last velocity goes on to meet. elapsed_s >= 0 is the time since the last step, as
 * it was: a core whose ticks come late brakes as hard as ever, and never speeds up faster than its ticks are planned.
 */
void guard_prove(const struct guard_tick *tick, struct guard *guard, double elapsed_s, const struct guard_way *way,
                 struct vec3 shaped, bool may, struct guard_output *out);

/* Brakes along the last vetted velocity without asking for anything: for stops and for bad telemetry. `in` is only
 * looked at to fill margin and nearest, and may be NULL if the position is not known: they are 0 then. */
void guard_brake(const struct guard_config *cfg, struct guard *guard, double elapsed_s, const struct guard_input *in,
                 struct guard_output *out);

/* How far from plumb [rad] the body may come until it hangs at rest, as counted above, and so how far its camera may be
 * turned by that. */
double guard_swing(const struct guard_config *cfg, const struct guard_input *in);

/* The margin [m] that guard_prove keeps; for a rig at rest: age and swing 0. */
double guard_margin(const struct guard_config *cfg, const struct guard_input *in);

bool guard_config_valid(const struct guard_config *cfg);

#endif
