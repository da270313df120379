/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy_tick.h"
#include "policy/motion/separation.h"

#define NEAR_M 1000.0 /* a distance kept that closes any room */

static enum limits_mode mode_of(const struct policy_tick *t)
{
    uint64_t heard = t->in->spotter_ns;
    if (t->in->setup)
        return LIMITS_SETUP;
    if (t->cfg->spotter_timeout_ns > 0 && heard != 0 &&
        policy_tick_within(t->in->now_ns, heard, t->cfg->spotter_timeout_ns))
        return LIMITS_LOW;
    return LIMITS_SHOW;
}

/* Armed: what was checked before it was is what go starts. */
static void hear_request(struct policy_tick *t)
{
    struct policy *p = t->policy;
    const struct policy_limits_request *r = &t->in->limits;
    if (r->id != 0 && r->id != p->limits_id) {
        bool armed = stop_is_armed(p->stop.state);
        p->limits_id = r->id;
        p->limits_answer = limits_layer_set(&t->cfg->limits, &p->layer, r->lane, &r->limits, r->by_operator, armed);
        if (p->limits_answer == LIMITS_IS_ARMED || p->limits_answer == LIMITS_NOT_OPERATOR)
            t->reasons |= reason_bit(REASON_LIMITS_ARMED);
        if (p->limits_answer == LIMITS_BAD)
            t->reasons |= reason_bit(REASON_BAD_WISH);
    }
    t->out->limits_answer = p->limits_answer;
    t->out->limits_id = p->limits_id;
}

/* How long the camera may still move, whatever is sent now [s]. */
static double until_rest(const struct policy_tick *t)
{
    const struct guard_config *guard = &t->cfg->guard;
    double speed = greater(t->out->limits.speed_mps, vec_norm(t->policy->guard.velocity));
    return guard->latency_s + guard->lease_s + speed / guard->brake_mps2 + guard->dt_s;
}

/*
 * How far somebody may have walked (separation.h) since they were seen and until the camera would be at rest: reaction,
 * then braking from the greatest speed it may have. A report so old that they may be anywhere closes every place
 * that they can reach by the same formula.
 */
static double may_have_walked(const struct policy_tick *t)
{
    double age_s = policy_tick_seconds(t->in->now_ns, t->policy->subject.seen_ns);
    return lesser(separation_kept(t->cfg->subject.speed_mps, age_s + until_rest(t), 0), NEAR_M);
}

static void watch_subject(struct policy_tick *t)
{
    const struct policy_seen *seen = &t->policy->subject;
    t->now.subject = t->cfg->subject.watched && seen->known;
    if (!t->now.subject)
        return;
    t->now.subject_at = seen->at;
    t->now.subject_radius_m = t->cfg->subject.radius_m + t->cfg->subject.uncertainty_m;
    t->now.subject_walk_m = may_have_walked(t);
    t->now.subject_height_m = t->cfg->subject.height_m;
}

/* As reported, and as far as the body may have turned since and until the camera would be at rest. Where it turns with
 * pan, policy_head.c says how far. */
static void watch_yaw(struct policy_tick *t)
{
    const struct rig_report *last = &t->policy->last;
    bool known = last->yaw_known && last->yaw_off_rad >= 0 && isfinite(last->yaw_rad);
    double age_s = policy_tick_seconds(t->in->now_ns, last->received_ns);
    double turns_rad = t->cfg->yaw_radps * (age_s + until_rest(t));
    t->now.yaw_rad = known ? last->yaw_rad : 0;
    t->now.yaw_off_rad = known ? last->yaw_off_rad + turns_rad : SHAPE_FAR_M;
}

void policy_mode_judge(struct policy_tick *t)
{
    hear_request(t);
    t->out->mode = mode_of(t);
    t->heard = t->in->lanes;
    t->heard.audience_open = t->in->lanes.audience_open && t->out->mode != LIMITS_SETUP;
    t->out->limits = limits_in_force(&t->cfg->limits, &t->policy->layer, lanes_present(&t->heard), t->out->mode);
    t->now = volume_now_usual();
    t->now.floor_m = t->out->limits.floor_m;
    t->now.ceiling_m = t->out->limits.ceiling_m;
    t->now.yielded = t->out->limits.yields;
    watch_subject(t);
    watch_yaw(t);
}
