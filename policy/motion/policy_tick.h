/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside of policy.c and policy_*.c: what one tick works with, and the parts it is made of, in the order in which they
 * are called. Each may look at everything and fills what it says. */
#ifndef STEADYHAND_MOTION_POLICY_TICK_H
#define STEADYHAND_MOTION_POLICY_TICK_H

#include "policy/motion/policy.h"

struct policy_tick {
    const struct policy_config *cfg;
    struct policy *policy;
    const struct policy_input *in;
    struct policy_output *out;
    double elapsed_s;         /* since the last step */
    reason_set forbids;       /* conditions that forbid motion now */
    reason_set reasons;       /* others that apply */
    double age_s;             /* of the place, as the guard counts it */
    bool may_move;            /* whatever is wished for */
    struct lanes_input heard; /* of the lanes; in setup nobody hears the audience */
    struct lanes_output lanes;
    struct vec3 wish; /* m/s: what is left of the lane's wish */
    struct volume_now now;
    struct guard_tick guard;
    bool looked; /* guard is filled */
    struct anticipate_output cords;
};

static inline double policy_tick_seconds(uint64_t now_ns, uint64_t then_ns)
{
    return now_ns > then_ns ? (double)(now_ns - then_ns) * 1e-9 : 0;
}

/* Other threads stamp their times too, so `then` may be a little ahead of this tick's `now`. */
static inline bool policy_tick_within(uint64_t now_ns, uint64_t then_ns, uint64_t span_ns)
{
    return (now_ns > then_ns ? now_ns - then_ns : then_ns - now_ns) <= span_ns;
}

static inline double policy_tick_finite(double x)
{
    return x >= -SHAPE_FAR_M && x <= SHAPE_FAR_M ? x : x > 0 ? SHAPE_FAR_M : x < 0 ? -SHAPE_FAR_M : 0;
}

/* The numbers behind a reason. */
static inline void policy_tick_detail(struct policy_tick *t, enum reason r, double value, double limit, int index)
{
    t->out->detail[r] = (struct reason_detail){policy_tick_finite(value), policy_tick_finite(limit), index};
}

/* A reason that applies, with its numbers. */
static inline void policy_tick_note(struct policy_tick *t, enum reason r, double value, double limit, int index)
{
    t->reasons |= reason_bit(r);
    policy_tick_detail(t, r, value, limit, index);
}

/* Telemetry: is it believed, where is the platform, what is wrong with it, the cords, or the way it moves? Fills
 * forbids, age_s and out->place; then policy->last and policy->place are as believed. */
void policy_rig_hear(struct policy_tick *t);

/* What was sent in this tick, for policy_rig_hear to hold against what the rig does. */
void policy_rig_sent(struct policy_tick *t);

/* What of the stop is to be judged before it is stepped: standstill, power, a stop that was not obeyed. Fills forbids
 * and out->at_rest. */
void policy_stop_judge(struct policy_tick *t);

/* The stop state machine's step; fills may_move and out->stop_answer. */
void policy_stop_step(struct policy_tick *t);

/* Mode, limits in force, and what of the room changes with them: fills out->mode, out->limits, heard and now. */
void policy_mode_judge(struct policy_tick *t);

/* Slow zones, lag and cords scale the wish; fills wish and cords. */
void policy_wish_limit(struct policy_tick *t);

/* Whether a velocity keeps to the slow zones whatever lane, limits or network do next: there, and where it would come
 * to before it is braked as hard as the rig can. Notes REASON_SLOW_ZONE if not; braking along the last one goes on to.
 */
bool policy_wish_holds(struct policy_tick *t, struct vec3 velocity);

/* How far shaping still goes if nothing more is wished for, and by how much later it lets a wish slow down [s]. */
struct vec3 policy_shape_ahead(const struct policy_tick *t);
double policy_shape_settle(const struct policy_tick *t);

/* From what is asked for on, until all of it has come true [s]. */
double policy_shape_delay(const struct policy_tick *t);

/* The velocity to send next, on the way to `wanted`, with the jerk in force and shaped. */
struct vec3 policy_shape_step(struct policy_tick *t, struct vec3 wanted);

/* What was sent instead, or after all; `before` was sent in the tick before. */
void policy_shape_sent(struct policy_tick *t, struct vec3 before);

/* now's yaw where the body turns with pan: wherever pan may be if it is braked from now on. */
void policy_head_yaw(struct policy_tick *t);

/* Whether nothing comes into view that must not while the platform brakes from a velocity, and the head too. True where
 * none of it is watched for; notes REASON_VIEW where it does. */
bool policy_head_sees_nothing(struct policy_tick *t, struct vec3 velocity);

/* The head's step, once the platform's velocity is decided: fills out->intent.head_rate. */
void policy_head_step(struct policy_tick *t);

#endif
