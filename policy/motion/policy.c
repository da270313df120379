/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy.h"

#include <stddef.h>

#define OUTSIDE_M 1.0 /* a platform further out than this of where anchors, stage and floor are cannot be there */

void policy_init(struct policy *policy)
{
    *policy = (struct policy){.last = {.ever = false}};
    stop_init(&policy->stop);
    lanes_init(&policy->lanes);
    guard_init(&policy->guard);
}

/* Other threads stamp their times too, so `then` may be a little ahead of this tick's `now`. */
static bool within(uint64_t now_ns, uint64_t then_ns, uint64_t span_ns)
{
    return (now_ns > then_ns ? now_ns - then_ns : then_ns - now_ns) <= span_ns;
}

static double seconds_since(uint64_t now_ns, uint64_t then_ns)
{
    return now_ns > then_ns ? (double)(now_ns - then_ns) * 1e-9 : 0;
}

static void widen(struct shape_box *box, struct vec3 p)
{
    box->lo = (struct vec3){lesser(box->lo.x, p.x), lesser(box->lo.y, p.y), lesser(box->lo.z, p.z)};
    box->hi = (struct vec3){greater(box->hi.x, p.x), greater(box->hi.y, p.y), greater(box->hi.z, p.z)};
}

/* The box in which the platform can be at all: nowhere near it, and the report is wrong, not the rig. */
static bool in_room(const struct volume *vol, struct vec3 p)
{
    struct vec3 first = {vol->stage[0].x[0], vol->stage[0].y[0], lesser(vol->stage[0].z_lo, 0)};
    struct shape_box room = {first, first};
    for (int k = 0; k < vol->stages; k++) {
        const struct shape_prism *stage = &vol->stage[k];
        for (int i = 0; i < stage->corners; i++)
            widen(&room, (struct vec3){stage->x[i], stage->y[i], stage->z_hi});
        widen(&room, (struct vec3){stage->x[0], stage->y[0], stage->z_lo});
    }
    for (int i = 0; i < vol->outline.cords; i++)
        widen(&room, vol->outline.anchor[i]);
    return shape_box_distance(&room, p) <= OUTSIDE_M;
}

static bool jumped(const struct policy_config *cfg, const struct rig_report *from, const struct rig_report *to)
{
    double explained = cfg->jump_mps * seconds_since(to->received_ns, from->received_ns) +
                       cfg->guard.speed_mps * cfg->guard.latency_s + from->uncertainty_m + to->uncertainty_m;
    return !(vec_norm(vec_sub(to->position, from->position)) <= explained);
}

static bool measure_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M; /* false for NaN */
}

static bool believable(const struct policy_config *cfg, const struct policy *policy, const struct rig_report *rig)
{
    return vec_finite(rig->position) && measure_valid(rig->uncertainty_m) && measure_valid(rig->swing_rad) &&
           in_room(&cfg->guard.volume, rig->position) && !(policy->last.ever && jumped(cfg, &policy->last, rig));
}

/* Has telemetry come that was not judged before? After the rig was lost it may begin anew with any number. */
static bool advanced(const struct policy_config *cfg, const struct policy *policy, const struct policy_input *in)
{
    const struct rig_report *rig = &in->rig;
    if (!rig->ever || !within(in->now_ns, rig->received_ns, cfg->telemetry_timeout_ns))
        return false;
    return policy->last.ever ? rig->seq > policy->seen_seq : rig->seq != policy->seen_seq;
}

static reason_set judge_rig(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in)
{
    reason_set forbids = 0;
    if (advanced(cfg, policy, in)) {
        policy->seen_seq = in->rig.seq;
        policy->seen_bad = !believable(cfg, policy, &in->rig);
        if (!policy->seen_bad)
            policy->last = in->rig;
    }
    if (!within(in->now_ns, policy->last.received_ns, cfg->telemetry_timeout_ns))
        policy->last.ever = false;
    if (!policy->last.ever)
        forbids |= reason_bit(REASON_RIG_LOST);
    if (policy->seen_bad)
        forbids |= reason_bit(REASON_POSITION_BAD);
    if (in->rig.fault)
        forbids |= reason_bit(REASON_RIG_FAULT);
    return forbids;
}

static reason_set judge(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in)
{
    reason_set forbids = judge_rig(cfg, policy, in);
    if (cfg->presence_required &&
        (in->presence_ns == 0 || !within(in->now_ns, in->presence_ns, cfg->presence_timeout_ns)))
        forbids |= reason_bit(REASON_DESK_LOST);
    if (in->tick_late)
        forbids |= reason_bit(REASON_TICK_LATE);
    if (in->stop.inhibit != REASON_NONE)
        forbids |=
            (unsigned)in->stop.inhibit < REASON_COUNT ? reason_bit(in->stop.inhibit) : reason_bit(REASON_RIG_FAULT);
    return forbids;
}

static void step_guard(const struct policy_config *cfg, struct policy *policy, uint64_t now_ns,
                       const struct lanes_output *lanes, bool may_move, struct guard_output *out)
{
    const struct rig_report *last = &policy->last;
    double elapsed_s = policy->stepped_ns == 0 ? 0 : seconds_since(now_ns, policy->stepped_ns);
    struct guard_input in = {
        .position = last->position,
        .age_s = seconds_since(now_ns, last->received_ns),
        .uncertainty_m = last->uncertainty_m,
        .swing_rad = last->swing_rad,
        .wanted = lanes->wanted,
        .accel_mps2 = lanes->accel_mps2,
    };
    if (may_move)
        guard_step(&cfg->guard, &policy->guard, elapsed_s, &in, out);
    else
        guard_brake(&cfg->guard, &policy->guard, elapsed_s, last->ever ? &in : NULL, out);
    policy->stepped_ns = now_ns;
}

static void fill_intent(const struct policy_config *cfg, const struct policy *policy, bool may_move,
                        struct intent *intent)
{
    const struct volume_outline *outline = &cfg->guard.volume.outline;
    *intent = (struct intent){
        .velocity = policy->guard.velocity,
        .cords = outline->cords,
        .motion = may_move,
        .stop_count = policy->stop.count,
        .permit = policy->stop.permit,
    };
    cords_rates(outline, policy->last.position, intent->velocity, intent->cord_rate_mps);
}

void policy_step(const struct policy_config *cfg, struct policy *policy, const struct policy_input *in,
                 struct policy_output *out)
{
    struct lanes_output lanes;
    *out = (struct policy_output){.stop_state = STOP_LATCHED};
    struct stop_input stop = in->stop;
    reason_set forbids = judge(cfg, policy, in);
    stop.inhibit = reason_first(forbids);
    stop_step(&policy->stop, &stop);

    bool may_move = stop_allows_motion(&policy->stop);
    struct lanes_rig rig = {policy->last.position, cfg->guard.latency_s, may_move};
    lanes_step(&cfg->lanes, &policy->lanes, &in->lanes, &rig, &lanes);
    step_guard(cfg, policy, in->now_ns, &lanes, may_move, &out->guard);
    fill_intent(cfg, policy, may_move, &out->intent);

    out->stop_state = policy->stop.state;
    out->stop_reason = policy->stop.reason;
    out->lane = lanes.lane;
    out->wanted = lanes.wanted;
    out->reasons = forbids | lanes.reasons | out->guard.reasons;
    out->goal_set = policy->lanes.goal_set;
    out->goal = policy->lanes.goal;
}

bool policy_config_valid(const struct policy_config *cfg)
{
    return guard_config_valid(&cfg->guard) && lanes_config_valid(&cfg->lanes) &&
           cfg->lanes.brake_mps2 <= cfg->guard.brake_mps2 && cfg->telemetry_timeout_ns > 0 &&
           cfg->presence_timeout_ns > 0 && cfg->jump_mps > 0 && isfinite(cfg->jump_mps);
}
