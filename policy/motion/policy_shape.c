/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy_tick.h"

static const struct vec3 zero = {0, 0, 0};

static bool has_jerk(const struct policy_tick *t)
{
    return t->out->limits.jerk_mps3 < LIMITS_JERK_FREE;
}

static bool has_shaper(const struct policy_tick *t)
{
    return t->cfg->swing.taps > 1;
}

/* How late a shaper plays what it is given, on average. */
static double mean_delay(const struct policy_config *cfg)
{
    double sum = 0;
    for (int i = 0; i < cfg->swing.taps; i++)
        sum += cfg->swing.weight[i] * cfg->swing.delay[i];
    return sum * cfg->guard.dt_s;
}

static void begin_anew(struct policy_tick *t, struct vec3 velocity)
{
    struct policy_shape *s = &t->policy->shape;
    if (!has_shaper(t))
        return;
    swing_reset(&s->swing, velocity);
    s->ahead = vec_scale(velocity, mean_delay(t->cfg));
}

static struct profile_limits limits_of(const struct policy_tick *t)
{
    return (struct profile_limits){t->cfg->guard.speed_mps, t->lanes.accel_mps2, t->out->limits.jerk_mps3};
}

struct vec3 policy_shape_ahead(const struct policy_tick *t)
{
    return has_shaper(t) ? t->policy->shape.ahead : zero;
}

double policy_shape_settle(const struct policy_tick *t)
{
    return has_jerk(t) ? t->lanes.accel_mps2 / t->out->limits.jerk_mps3 : 0;
}

double policy_shape_delay(const struct policy_tick *t)
{
    double last = has_shaper(t) ? t->cfg->swing.delay[t->cfg->swing.taps - 1] * t->cfg->guard.dt_s : 0;
    return last + policy_shape_settle(t);
}

/* After braking, and for as long as the rig is faster than is wished for: on along what can be proven, as fast as
 * braking is. Shaping what then comes would only make the next proof fail. */
static bool still_braking(const struct policy_tick *t, struct vec3 wanted)
{
    return t->policy->shape.braking && vec_norm(t->policy->guard.velocity) > vec_norm(wanted);
}

struct vec3 policy_shape_step(struct policy_tick *t, struct vec3 wanted)
{
    struct policy_shape *s = &t->policy->shape;
    struct profile_limits limits = limits_of(t);
    double dt = t->cfg->guard.dt_s, held_s = lesser(t->elapsed_s, dt);
    s->braking = still_braking(t, wanted);
    if (s->braking)
        return vec_approached(t->policy->guard.velocity, wanted, t->cfg->guard.brake_mps2 * held_s);
    if (!has_jerk(t)) {
        struct vec3 from = has_shaper(t) ? s->profile.v : t->policy->guard.velocity;
        s->profile = (struct profile3){.v = vec_approached(from, wanted, limits.accel * held_s)};
    } else {
        s->profile = profile_step3(&limits, &s->profile, wanted, dt);
    }
    if (!has_shaper(t))
        return s->profile.v;
    struct vec3 shaped = swing_step(&t->cfg->swing, &s->swing, s->profile.v);
    s->ahead = vec_along(s->ahead, vec_sub(s->profile.v, shaped), dt);
    return shaped;
}

void policy_shape_sent(struct policy_tick *t, struct vec3 before)
{
    struct policy_shape *s = &t->policy->shape;
    struct profile_limits limits = limits_of(t);
    struct vec3 sent = t->policy->guard.velocity;
    if (!has_jerk(t) && !has_shaper(t))
        return;
    if (!t->out->guard.braked && !s->braking)
        return;
    struct profile3 from = {.v = before}, said = {.v = vec_sub(zero, sent)};
    /* A shaper begins from a steady velocity, so what is fed to it does too. */
    s->profile = has_shaper(t) ? (struct profile3){.v = sent}
                               : profile_sent3(&limits, &from, &said, sent, greater(t->elapsed_s, t->cfg->guard.dt_s));
    s->braking = true;
    begin_anew(t, sent);
}
