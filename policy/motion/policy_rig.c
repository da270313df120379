/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <stddef.h>

#include "policy/motion/policy_tick.h"

#define OUTSIDE_M    1.0 /* a platform further out than this of where anchors, stage and floor are cannot be there */
#define ASTRAY_SHARE 0.1 /* of the speed sent: a winch is not better than that while it changes speed */

/* The box in which the platform can be at all: nowhere near it, and the report is wrong, not the rig. */
static bool in_room(const struct volume *vol, struct vec3 p)
{
    struct shape_box room = shape_prism_box(vol->stage, vol->stages);
    room.lo.z = lesser(room.lo.z, 0);
    for (int i = 0; i < vol->outline.cords; i++)
        shape_box_widen(&room, vol->outline.anchor[i]);
    return shape_box_distance(&room, p) <= OUTSIDE_M;
}

static bool jumped(const struct policy_config *cfg, const struct rig_report *from, const struct rig_report *to)
{
    double explained = cfg->jump_mps * policy_tick_seconds(to->received_ns, from->received_ns) +
                       cfg->guard.speed_mps * cfg->guard.latency_s + from->uncertainty_m + to->uncertainty_m;
    return !(vec_norm(vec_sub(to->position, from->position)) <= explained);
}

static bool measure_valid(double v)
{
    return v >= 0 && v <= SHAPE_FAR_M; /* false for NaN */
}

/* Where the config locates, locate.h judges the rest. */
static bool believable(const struct policy_tick *t)
{
    const struct rig_report *rig = &t->in->rig, *last = &t->policy->last;
    if (!measure_valid(rig->swing_rad))
        return false;
    return t->cfg->locates ||
           (vec_finite(rig->position) && measure_valid(rig->uncertainty_m) &&
            in_room(&t->cfg->guard.volume, rig->position) && !(last->ever && jumped(t->cfg, last, rig)));
}

/* Has telemetry come that was not judged before? After the rig was lost it may begin anew with any number. */
static bool advanced(const struct policy_tick *t)
{
    const struct rig_report *rig = &t->in->rig;
    if (!rig->ever || !policy_tick_within(t->in->now_ns, rig->received_ns, t->cfg->telemetry_timeout_ns))
        return false;
    return t->policy->last.ever ? rig->seq > t->policy->seen_seq : rig->seq != t->policy->seen_seq;
}

static void hear_cords(struct policy_tick *t, const struct rig_report *rig)
{
    struct policy *p = t->policy;
    if (!t->cfg->anticipates || !(rig->where.sources & locate_bit(LOCATE_TENSION)))
        return;
    if (anticipate_hear(&t->cfg->anticipate, &p->anticipate, policy_tick_seconds(rig->received_ns, p->tension_ns),
                        rig->where.tension_n))
        p->tension_ns = rig->received_ns;
}

/* What pushes the pivot is not told: the amplitude seen is off by no more than the lean that this makes. Tilt that
 * falls silent leaves what was seen last. */
static void hear_tilt(struct policy_tick *t, const struct rig_report *rig)
{
    struct policy *p = t->policy;
    const struct swing_tilt tilt = {rig->where.tilt_x_rad, rig->where.tilt_y_rad};
    if (!t->cfg->watches_swing)
        return;
    if (rig->where.sources & locate_bit(LOCATE_TILT)) {
        swing_watch_add(&t->cfg->swing_watch, &p->swing_watch, tilt, policy_tick_seconds(rig->received_ns, p->tilt_ns),
                        0, 0);
        p->tilt_ns = rig->received_ns;
    }
    p->last.swing_rad = greater(rig->swing_rad, p->swing_watch.amplitude_rad);
}

static uint64_t before(uint64_t ns, double seconds)
{
    uint64_t span = (uint64_t)(seconds * 1e9);
    return ns > span ? ns - span : 0;
}

/* Whoever was seen once stays where they were seen, for as long as nothing newer is known: see policy_mode.c. */
static void hear_subject(struct policy_tick *t, const struct rig_report *rig)
{
    struct policy_seen *seen = &t->policy->subject;
    if (!rig->subject_known || !(vec_norm(rig->subject) <= SHAPE_FAR_M) || !measure_valid(rig->subject_age_s))
        return;
    *seen = (struct policy_seen){true, rig->subject, before(rig->received_ns, rig->subject_age_s)};
}

static void hear_report(struct policy_tick *t)
{
    struct policy *p = t->policy;
    p->seen_seq = t->in->rig.seq;
    p->seen_bad = !believable(t);
    if (p->seen_bad)
        return;
    p->last = t->in->rig;
    hear_cords(t, &p->last);
    hear_tilt(t, &t->in->rig);
    hear_subject(t, &p->last);
}

static void forbid(struct policy_tick *t, enum reason r, double value, double limit, int index)
{
    t->forbids |= reason_bit(r);
    policy_tick_detail(t, r, value, limit, index);
}

/* What was told of the cords once says nothing of them now: load cells that fall silent would hide a slack cord. */
static bool cords_silent(const struct policy_tick *t)
{
    const struct policy *p = t->policy;
    return (t->cfg->anticipate.measured || p->anticipate.heard) &&
           !policy_tick_within(t->in->now_ns, p->tension_ns, t->cfg->telemetry_timeout_ns);
}

static void judge_cords(struct policy_tick *t)
{
    const struct anticipate_config *cfg = &t->cfg->anticipate;
    int cord;
    if (cords_silent(t))
        t->forbids |= reason_bit(REASON_RIG_LOST);
    enum anticipate_fault fault = anticipate_fault(cfg, &t->policy->anticipate, &cord);
    if (fault == ANTICIPATE_SLACK)
        forbid(t, REASON_CORD_SLACK, t->policy->anticipate.tension_n[cord], cfg->rig.min_n[cord], cord);
    else if (fault == ANTICIPATE_OVERLOAD)
        forbid(t, REASON_CORD_OVERLOAD, t->policy->anticipate.tension_n[cord], cfg->rig.max_n[cord], cord);
}

static void judge_place(struct policy_tick *t, const struct locate_output *found)
{
    static const enum reason by_fault[LOCATE_FAULTS] = {
        [LOCATE_BAD_VALUE] = REASON_POSITION_BAD,    [LOCATE_NOT_ENOUGH] = REASON_POSITION_VAGUE,
        [LOCATE_FROZEN] = REASON_POSITION_FROZEN,    [LOCATE_JUMP] = REASON_POSITION_JUMP,
        [LOCATE_DISAGREE] = REASON_SENSORS_DISAGREE, [LOCATE_ANCHOR] = REASON_ANCHOR_MOVED,
        [LOCATE_UNCERTAIN] = REASON_POSITION_VAGUE,
    };
    for (int f = LOCATE_SOUND + 1; f < LOCATE_FAULTS; f++) {
        const struct locate_detail *d = &found->detail[f];
        int index = f == LOCATE_ANCHOR ? d->cord : d->source < LOCATE_SOURCES ? (int)d->source : -1;
        if (!(found->faults & 1u << f))
            continue;
        if (f == LOCATE_NOT_ENOUGH)
            forbid(t, by_fault[f], found->uncertainty_m, t->cfg->locate.uncertainty_max_m, -1);
        else if (f == LOCATE_BAD_VALUE)
            forbid(t, by_fault[f], 0, 0, index);
        else
            forbid(t, by_fault[f], d->value, d->limit, index);
    }
    if (found->known && !in_room(&t->cfg->guard.volume, found->position))
        forbid(t, REASON_POSITION_BAD, 0, 0, -1);
}

/* How far a velocity is from all that lies between rest and what was sent lately: slower than told is not astray. */
static double astray(const struct policy_tick *t, struct vec3 velocity, double *sent_mps)
{
    const struct policy *p = t->policy;
    double window_s = t->cfg->guard.latency_s + t->cfg->guard.lease_s, off = vec_norm(velocity);
    *sent_mps = 0;
    for (int i = 1; i <= POLICY_SENT; i++) {
        const struct policy_sent *s = &p->sent[(unsigned)(p->sent_next - i) % POLICY_SENT];
        double speed2 = vec_dot(s->velocity, s->velocity);
        double share = speed2 > 0 ? greater(lesser(vec_dot(velocity, s->velocity) / speed2, 1), 0) : 0;
        off = lesser(off, vec_norm(vec_along(velocity, s->velocity, -share)));
        *sent_mps = greater(*sent_mps, speed2);
        if (s->at_ns == 0 || policy_tick_seconds(t->in->now_ns, s->at_ns) > window_s)
            break;
    }
    *sent_mps = sqrt(*sent_mps);
    return off;
}

static void judge_motion(struct policy_tick *t, const struct locate_output *found)
{
    struct policy *p = t->policy;
    double sent_mps, allowed = found->velocity_error_mps, off = 0;
    if (found->known && vec_norm(found->velocity) > allowed) {
        off = astray(t, found->velocity, &sent_mps);
        allowed += ASTRAY_SHARE * sent_mps;
    }
    p->astray_s = off > allowed ? lesser(p->astray_s + t->elapsed_s, 1000) : 0;
    if (p->astray_s > t->cfg->astray_s)
        forbid(t, REASON_RIG_ASTRAY, off, allowed, -1);
}

/*
 * The place comes out for now, whatever the age of the report, with what that age adds in its uncertainty: so the guard
 * counts no age. It does count latency_s whole: of that only the part from measuring to receiving lies in the ages that
 * the rig states, and how much it is cannot be told apart from the part on the way there without clocks that agree.
 */
static void locate(struct policy_tick *t)
{
    struct policy *p = t->policy;
    struct locate_output found;
    struct locate_report heard = p->last.where;
    const struct vec3 still = {0, 0, 0};
    heard.seq = p->last.seq;
    heard.received_ns = p->last.received_ns;
    if (!p->last.ever)
        locate_init(&p->locate);
    locate_step(&t->cfg->locate, &p->locate, t->in->now_ns, p->last.ever ? &heard : NULL,
                p->moved ? p->guard.velocity : still, &found);
    if (!p->last.ever)
        return;
    p->place = (struct policy_place){found.position, found.velocity, found.uncertainty_m, found.used};
    judge_place(t, &found);
    if (t->cfg->astray_s > 0)
        judge_motion(t, &found);
}

static void believe_pose(struct policy_tick *t)
{
    const struct rig_report *last = &t->policy->last;
    t->policy->place = (struct policy_place){
        .position = last->position, .uncertainty_m = last->uncertainty_m, .sources = locate_bit(LOCATE_POSE)};
    t->age_s = policy_tick_seconds(t->in->now_ns, last->received_ns);
}

void policy_rig_hear(struct policy_tick *t)
{
    struct policy *p = t->policy;
    if (advanced(t))
        hear_report(t);
    if (!policy_tick_within(t->in->now_ns, p->last.received_ns, t->cfg->telemetry_timeout_ns))
        p->last.ever = false;
    if (!p->last.ever)
        t->forbids |= reason_bit(REASON_RIG_LOST);
    if (p->seen_bad)
        t->forbids |= reason_bit(REASON_POSITION_BAD);
    if (t->in->rig.fault)
        t->forbids |= reason_bit(REASON_RIG_FAULT);
    if (t->cfg->locates)
        locate(t);
    else
        believe_pose(t);
    if (t->cfg->anticipates)
        judge_cords(t);
    t->out->place = p->place;
}

void policy_rig_sent(struct policy_tick *t)
{
    struct policy *p = t->policy;
    p->moved = t->may_move;
    if (!(t->cfg->astray_s > 0))
        return;
    p->sent[p->sent_next] = (struct policy_sent){p->guard.velocity, t->in->now_ns};
    p->sent_next = (p->sent_next + 1) % POLICY_SENT;
}
