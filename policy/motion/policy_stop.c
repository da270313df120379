/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy_tick.h"

#define POWER_NS 1000000000u /* what drives may take to come under power once they were told to */

static bool hears(const struct policy_tick *t)
{
    return t->policy->last.ever;
}

/* An axis sent at rest, a rig that says it rests, and a position that does. */
static bool stands_still(struct policy_tick *t)
{
    struct policy *p = t->policy;
    const reason_set lost = reason_bit(REASON_RIG_LOST) | reason_bit(REASON_POSITION_BAD);
    struct standstill_input in = {
        .elapsed_s = t->elapsed_s,
        .known = hears(t) && (t->forbids & lost) == 0,
        .position = p->place.position,
        .uncertainty_m = p->place.uncertainty_m,
        .driven = p->last.moving || vec_norm(p->guard.velocity) > 0,
    };
    return standstill_step(&p->standstill, &in);
}

/* Drives that have no power where they should: at once if they had it since, else once they had the time to. */
static bool powerless(struct policy_tick *t)
{
    struct policy *p = t->policy;
    uint64_t now_ns = t->in->now_ns;
    bool unpowered = hears(t) && p->last.unpowered;
    if (!stop_is_armed(p->stop.state)) {
        p->power_seen = false;
        p->armed_ns = now_ns;
        return false;
    }
    p->power_seen = p->power_seen || (hears(t) && !unpowered);
    return unpowered && (p->power_seen || now_ns < p->armed_ns || now_ns - p->armed_ns > POWER_NS);
}

static bool unconfirmed(struct policy_tick *t)
{
    struct policy *p = t->policy;
    struct stop_watch_input in = {
        .now_ns = t->in->now_ns, .heard = hears(t) ? p->last.stop_count : 0, .at_rest = t->out->at_rest};
    uint64_t late_ns = stop_watch_step(&t->cfg->stop.watch, &p->stop_watch, &p->stop, &in);
    if (late_ns > 0)
        policy_tick_detail(t, REASON_STOP_UNCONFIRMED, (double)late_ns * 1e-9, 0, -1);
    return late_ns > 0;
}

void policy_stop_judge(struct policy_tick *t)
{
    t->out->at_rest = stands_still(t);
    if (t->in->stop.asserted)
        t->forbids |= reason_bit(REASON_STOP_INPUT);
    if (powerless(t))
        t->forbids |= reason_bit(REASON_RIG_UNPOWERED);
    if (unconfirmed(t))
        t->forbids |= reason_bit(REASON_STOP_UNCONFIRMED);
}

void policy_stop_step(struct policy_tick *t)
{
    struct policy *p = t->policy;
    struct stop_input in = t->in->stop;
    in.inhibit = reason_first(t->forbids);
    in.inhibit_category = t->cfg->stop.inhibit;
    in.moving = in.moving || !t->out->at_rest;
    in.unpowered = in.unpowered || p->last.unpowered;
    in.unconfirmed = in.unconfirmed || (t->forbids & reason_bit(REASON_STOP_UNCONFIRMED)) != 0;
    t->out->stop_answer = stop_step(&p->stop, &in);
    t->may_move = stop_allows_motion(&p->stop);
}
