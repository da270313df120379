/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy.h"

#include <stddef.h>

#include "policy/motion/policy_tick.h"

void policy_init(const struct policy_config *cfg, struct policy *policy)
{
    *policy = (struct policy){.last = {.ever = false}};
    stop_init(&policy->stop);
    lanes_init(&policy->lanes);
    guard_init(&policy->guard);
    limits_layer_init(&cfg->limits, &policy->layer);
    locate_init(&policy->locate);
    anticipate_init(&policy->anticipate);
    swing_watch_init(&policy->swing_watch);
    standstill_init(&policy->standstill);
    stop_watch_init(&policy->stop_watch);
    swing_reset(&policy->shape.swing, (struct vec3){0, 0, 0});
    if (cfg->head.there)
        head_init(&policy->head, &cfg->head.config);
}

/* Everything that forbids motion now, besides what people ask for. */
static void judge(struct policy_tick *t)
{
    const struct policy_input *in = t->in;
    policy_rig_hear(t);
    if (t->cfg->presence_required &&
        (in->presence_ns == 0 || !policy_tick_within(in->now_ns, in->presence_ns, t->cfg->presence_timeout_ns)))
        t->forbids |= reason_bit(REASON_DESK_LOST);
    if (in->tick_late)
        t->forbids |= reason_bit(REASON_TICK_LATE);
    if (in->stop.inhibit != REASON_NONE)
        t->forbids |=
            (unsigned)in->stop.inhibit < REASON_COUNT ? reason_bit(in->stop.inhibit) : reason_bit(REASON_RIG_FAULT);
    policy_stop_judge(t);
}

static void step_lanes(struct policy_tick *t)
{
    struct policy *p = t->policy;
    struct lanes_rig rig = {.position = p->place.position,
                            .ahead = policy_shape_ahead(t),
                            .latency_s = t->cfg->guard.latency_s,
                            .may_move = t->may_move,
                            .limits = t->out->limits};
    lanes_step(&t->cfg->lanes, &p->lanes, &t->heard, &rig, &t->lanes);
    t->reasons |= t->lanes.reasons;
    if (t->lanes.reasons & reason_bit(REASON_SPEED_LIMIT))
        policy_tick_detail(t, REASON_SPEED_LIMIT, t->lanes.asked_mps, vec_norm(t->lanes.wanted), -1);
}

static struct guard_input guard_input_of(const struct policy_tick *t)
{
    return (struct guard_input){
        .position = t->policy->place.position,
        .age_s = t->age_s,
        .uncertainty_m = t->policy->place.uncertainty_m,
        .swing_rad = t->policy->last.swing_rad,
        .swing_age_s = policy_tick_seconds(t->in->now_ns, t->policy->last.received_ns),
        .wanted = t->wish,
        .accel_mps2 = t->lanes.accel_mps2,
        .ahead = policy_shape_ahead(t),
        .settle_s = policy_shape_settle(t),
        .now = &t->now,
    };
}

/* A lower floor, or a keep-out that yields, is only a spotter away. */
static void name_spotter(struct policy_tick *t)
{
    struct guard_output *g = &t->out->guard;
    struct limits low = limits_in_force(&t->cfg->limits, &t->policy->layer, t->lanes.lane, LIMITS_LOW);
    bool lower = t->cfg->spotter_timeout_ns > 0 && low.floor_m < t->now.floor_m;
    if (g->why != REASON_STAGE_EDGE || g->block.bound != VOLUME_FLOOR || !lower)
        return;
    g->why = REASON_SPOTTER_NEEDED;
    g->reasons = (g->reasons & ~reason_bit(REASON_STAGE_EDGE)) | reason_bit(REASON_SPOTTER_NEEDED);
}

static void explain_guard(struct policy_tick *t)
{
    struct guard_output *g = &t->out->guard;
    name_spotter(t);
    t->reasons |= g->reasons;
    if (g->why != REASON_NONE)
        policy_tick_detail(t, g->why, g->free_m, g->margin_m, g->keepout);
    if (g->reasons & reason_bit(REASON_OUT_OF_VOLUME))
        policy_tick_detail(t, REASON_OUT_OF_VOLUME, g->nearest.distance_m, 0, -1);
    if (g->reasons & reason_bit(REASON_SWING))
        policy_tick_detail(t, REASON_SWING, t->policy->last.swing_rad, t->cfg->guard.swing_max_rad, -1);
}

/* Steered, shaped, proven. */
static void move(struct policy_tick *t, const struct guard_input *in)
{
    struct policy *p = t->policy;
    struct guard_way way;
    t->looked = guard_begin(&t->cfg->guard, &p->guard, in, &t->guard);
    if (!t->looked) {
        guard_brake(&t->cfg->guard, &p->guard, t->elapsed_s, NULL, &t->out->guard);
        return;
    }
    guard_steer(&t->guard, &p->guard, &way);
    struct vec3 shaped = policy_shape_step(t, way.velocity);
    struct vec3 next = guard_next(&t->guard, &p->guard, t->elapsed_s, shaped);
    bool may = policy_wish_holds(t, next) && policy_head_sees_nothing(t, next);
    guard_prove(&t->guard, &p->guard, t->elapsed_s, &way, shaped, may, &t->out->guard);
}

static void step_guard(struct policy_tick *t)
{
    struct policy *p = t->policy;
    struct guard_input in = guard_input_of(t);
    struct vec3 before = p->guard.velocity;
    if (t->may_move)
        move(t, &in);
    else
        guard_brake(&t->cfg->guard, &p->guard, t->elapsed_s, p->last.ever ? &in : NULL, &t->out->guard);
    policy_shape_sent(t, before);
    explain_guard(t);
}

static void fill_intent(struct policy_tick *t)
{
    const struct policy *p = t->policy;
    const struct volume_outline *outline = &t->cfg->guard.volume.outline;
    struct intent *intent = &t->out->intent;
    intent->velocity = p->guard.velocity;
    intent->cords = outline->cords;
    intent->motion = t->may_move;
    intent->power = stop_powers(&p->stop);
    intent->category = p->stop.category;
    intent->stop_count = p->stop.count;
    intent->permit = p->stop.permit;
    cords_rates(outline, p->place.position, intent->velocity, intent->cord_rate_mps);
    for (int k = 0; k < outline->cords && t->cfg->anticipates; k++)
        intent->cord_tension_n[k] = t->cords.wanted_n[k];
}

static void fill_output(struct policy_tick *t)
{
    const struct policy *p = t->policy;
    t->out->stop_state = p->stop.state;
    t->out->stop_reason = p->stop.reason;
    t->out->stop_category = p->stop.category;
    t->out->lane = t->lanes.lane;
    t->out->wanted = t->lanes.wanted;
    t->out->reasons = t->forbids | t->reasons;
    t->out->goal_set = p->lanes.goal_set;
    t->out->goal = p->lanes.goal;
}

void policy_step(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in,
                 struct policy_output *out)
{
    struct policy_tick t;
    t.cfg = cfg;
    t.policy = policy;
    t.in = in;
    t.out = out;
    t.elapsed_s = policy->stepped_ns == 0 ? 0 : policy_tick_seconds(in->now_ns, policy->stepped_ns);
    t.forbids = t.reasons = 0;
    t.age_s = 0;
    t.looked = false;
    t.guard.in = (struct guard_input){.settle_s = 0};
    t.guard.margin_m = t.guard.reaction_s = 0;
    t.cords = (struct anticipate_output){.factor = 1};
    *out = (struct policy_output){.stop_state = STOP_PARKED};
    for (int r = 0; r < REASON_COUNT; r++)
        out->detail[r].index = -1;
    judge(&t);
    policy_stop_step(&t);
    policy_mode_judge(&t);
    step_lanes(&t);
    policy_wish_limit(&t);
    policy_head_yaw(&t);
    step_guard(&t);
    policy_head_step(&t);
    fill_intent(&t);
    policy_rig_sent(&t);
    fill_output(&t);
    policy->stepped_ns = in->now_ns;
}
