/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include <stddef.h>

#include "policy/motion/head_reach.h"
#include "policy/motion/policy_tick.h"
#include "policy/motion/travel.h"
#include "policy/motion/units.h"

#define VIEW_CLEAR_M 0.1 /* hysteresis: what was held back goes nearer again only from so far away on */

static bool axis_known(const struct policy_tick *t, int axis)
{
    const struct rig_report *last = &t->policy->last;
    return last->ever && last->head_known && fabs(last->head[axis]) <= SHAPE_FAR_M && last->head_off >= 0 &&
           last->head_off <= SHAPE_FAR_M;
}

/* All that an axis may still be at until it has been stopped, if `next` is sent after `head` has sent what it did:
 * exactly as head.h counts it, so that what is braked is within what was let through the tick before. If there is none,
 * it is braked from now on. */
static struct view_range sweep(const struct policy_tick *t, const struct head *head, int axis,
                               const struct profile *next)
{
    const struct rig_report *last = &t->policy->last;
    const struct head_config *cfg = &t->cfg->head.config;
    struct head_tick tick = {.cfg = cfg, .elapsed_s = t->elapsed_s, .uncertainty = last->head_off};
    tick.window_s = cfg->latency_s + cfg->lease_s + policy_tick_seconds(t->in->now_ns, last->received_ns);
    if (!axis_known(t, axis))
        return (struct view_range){-UNITS_TURN, UNITS_TURN};
    const struct head_axis_tick now = head_reach_axis(&tick, head, axis, true, last->head[axis]);
    struct head_reach reach = head_reach_of(&tick, &now, next != NULL ? *next : now.braked);
    return (struct view_range){reach.lo, reach.hi};
}

/* If it is braked from now on. */
static struct view_range least_sweep(const struct policy_tick *t, int axis)
{
    return sweep(t, &t->policy->head, axis, NULL);
}

static bool turns_body(const struct policy_tick *t)
{
    return t->cfg->head.there && t->cfg->guard.volume.outline.yaw == VOLUME_YAW_PAN;
}

void policy_head_yaw(struct policy_tick *t)
{
    if (!turns_body(t))
        return;
    struct view_range pan = least_sweep(t, HEAD_PAN);
    t->now.yaw_rad = axis_known(t, HEAD_PAN) ? (pan.lo + pan.hi) / 2 : 0;
    t->now.yaw_off_rad = axis_known(t, HEAD_PAN) ? (pan.hi - pan.lo) / 2 : SHAPE_FAR_M;
}

/* ---- What the picture must never show ---- */

static bool is_watched(const struct policy_tick *t)
{
    return t->cfg->head.there && t->cfg->view.shapes > 0 && t->out->mode != LIMITS_SETUP;
}

/* What pan turns on: with a body whose yaw is not known, the camera may look anywhere. */
static struct view_range azimuth(const struct policy_tick *t, struct view_range pan)
{
    enum volume_yaw kind = t->cfg->guard.volume.outline.yaw;
    double yaw = kind == VOLUME_YAW_REPORTED ? t->now.yaw_rad : 0, off = 0;
    if (kind == VOLUME_YAW_REPORTED)
        off = t->now.yaw_off_rad;
    else if (kind == VOLUME_YAW_UNKNOWN)
        off = UNITS_TURN;
    return (struct view_range){pan.lo + yaw - lesser(off, UNITS_TURN), pan.hi + yaw + lesser(off, UNITS_TURN)};
}

/* Where the camera and the axes of its head are, or may be. */
struct course {
    struct vec3 from, to;
    struct view_range head[HEAD_AXES];
};

/* Braking from a velocity. */
static void set_way(const struct policy_tick *t, struct vec3 velocity, struct course *c)
{
    const struct guard_config *guard = &t->cfg->guard;
    double speed = vec_norm(velocity);
    double path = speed * t->guard.reaction_s + travel_stop_distance(speed, guard->brake_mps2, guard->dt_s);
    c->from = t->guard.in.position;
    c->to = speed > 0 ? vec_along(c->from, velocity, path / speed) : c->from;
}

/* How near the picture comes to what it must not show. */
static struct view_answer look(const struct policy_tick *t, const struct course *c)
{
    struct view_span span = {
        .from = c->from,
        .to = c->to,
        .azimuth_rad = azimuth(t, c->head[HEAD_PAN]),
        .tilt_rad = c->head[HEAD_TILT],
        .roll_rad = c->head[HEAD_ROLL],
        .hfov_rad = head_hfov(&t->cfg->head.config, c->head[HEAD_ZOOM].lo),
        .off_m = t->guard.margin_m,
        .turn_rad = guard_swing(&t->cfg->guard, &t->guard.in),
    };
    span.vfov_rad = view_vfov(span.hfov_rad, t->cfg->head.aspect);
    return view_look(&t->cfg->view, &span, 2 * VIEW_CLEAR_M);
}

/* From the end of the way and the middle of each sweep: whether it leads nearer shows there, where nothing is widened
 * for being swept. */
static double look_ahead(const struct policy_tick *t, const struct course *c)
{
    struct course end = {.from = c->to, .to = c->to};
    for (int i = 0; i < HEAD_AXES; i++)
        end.head[i].lo = end.head[i].hi = (c->head[i].lo + c->head[i].hi) / 2;
    return look(t, &end).distance_m;
}

/* What sees nothing, is let through; but what was held back before, only if it leads away, or from far enough. */
static bool allowed(struct policy_tick *t, bool *held, const struct course *would, const struct course *anyway)
{
    struct view_answer seen = look(t, would);
    bool clear = seen.distance_m >= VIEW_CLEAR_M;
    bool away = *held && !clear && look_ahead(t, would) >= look_ahead(t, anyway);
    bool yes = seen.distance_m > 0 && (!*held || clear || away);
    *held = !yes || (*held && !clear);
    if (!yes)
        policy_tick_note(t, REASON_VIEW, 0, 0, seen.shape);
    return yes;
}

bool policy_head_sees_nothing(struct policy_tick *t, struct vec3 velocity)
{
    struct course would, anyway;
    if (!is_watched(t) || !(vec_norm(velocity) > 0)) /* to stand still is what braking ends with anyway */
        return true;
    struct vec3 slower =
        vec_approached(t->policy->guard.velocity, (struct vec3){0, 0, 0}, t->cfg->guard.brake_mps2 * t->elapsed_s);
    for (int i = 0; i < HEAD_AXES; i++)
        would.head[i] = anyway.head[i] = least_sweep(t, i);
    set_way(t, velocity, &would);
    set_way(t, slower, &anyway);
    return allowed(t, &t->policy->view_held[0], &would, &anyway);
}

/* ---- The head itself ---- */

/* The lane's wishes; none but the operator turns the head. */
static struct head_input input_of(const struct policy_tick *t)
{
    const struct policy_head *h = &t->cfg->head;
    const struct rig_report *last = &t->policy->last;
    struct head_input in = {
        .uncertainty = last->head_off,
        .age_s = policy_tick_seconds(t->in->now_ns, last->received_ns),
        .elapsed_s = t->elapsed_s,
        .cross_s = h->cross_s,
        .go_home = t->in->head_home,
    };
    for (int i = 0; i < HEAD_AXES; i++) {
        double wish = t->in->head_wish[i], most = h->config.axis[i].limits.speed * h->share[t->lanes.lane];
        bool drives = t->lanes.lane == LANE_OPERATOR;
        in.position[i] = axis_known(t, i) ? last->head[i] : (double)NAN;
        in.wanted[i] = !drives ? 0 : wish > 1 ? most : wish < -1 ? -most : wish * most;
    }
    return in;
}

/* A turn that would bring a limb too near something is an end of the pan axis, for this tick: head.h knows how to come
 * to rest at one, whatever the noise. */
static void end_pan(const struct policy_tick *t, struct head_axis_config *pan)
{
    const struct guard_tick *g = &t->guard;
    double speed = vec_norm(t->out->guard.velocity), path = t->out->guard.braking_m;
    struct vec3 from = g->in.position, to = from;
    struct view_range now = least_sweep(t, HEAD_PAN);
    const struct profile fast = {.v = pan->limits.speed};
    struct view_range furthest = sweep(t, &t->policy->head, HEAD_PAN, &fast);
    double most = furthest.hi - furthest.lo;
    if (speed > 0)
        to = vec_along(from, t->out->guard.velocity, path / speed);
    double left = travel_turn(&g->near, from, to, t->now.yaw_rad, 1, g->margin_m - VOLUME_ERROR_M, most, NULL);
    double right = travel_turn(&g->near, from, to, t->now.yaw_rad, -1, g->margin_m - VOLUME_ERROR_M, most, NULL);
    pan->max = greater(lesser(pan->max, now.hi + left), pan->min);
    pan->min = lesser(greater(pan->min, now.lo - right), pan->max);
}

static void explain(struct policy_tick *t, unsigned notes)
{
    static const struct {
        unsigned notes;
        enum reason why;
    } table[] = {
        {HEAD_BAD_WISH, REASON_BAD_WISH},
        {HEAD_COMFORT | HEAD_AT_LIMIT | HEAD_RATE_LIMIT, REASON_HEAD_LIMIT},
        {HEAD_REGION, REASON_HEAD_REGION},
        {HEAD_RECOVERING | HEAD_LET_GO | HEAD_NO_WAY, REASON_HEAD_RECOVERING},
    };
    for (unsigned i = 0; i < sizeof table / sizeof *table; i++) {
        if (notes & table[i].notes)
            t->reasons |= reason_bit(table[i].why);
    }
    for (int i = HEAD_AXES - 1; i >= 0; i--) {
        const struct head_axis_config *axis = &t->cfg->head.config.axis[i];
        if ((notes & HEAD_POSITION_LOST) && axis->max > axis->min && !axis_known(t, i))
            policy_tick_note(t, REASON_HEAD_LOST, 0, 0, i);
    }
}

/* The step, or if it would show what must not be seen, braking. */
static void step(struct policy_tick *t, const struct head_config *cfg, struct head_output *out)
{
    struct head *head = &t->policy->head;
    struct head_input in = input_of(t);
    if (!is_watched(t)) {
        head_step(cfg, head, &in, out);
        return;
    }
    struct head before = *head;
    struct course would, anyway;
    for (int i = 0; i < HEAD_AXES; i++)
        anyway.head[i] = least_sweep(t, i);
    head_step(cfg, head, &in, out);
    for (int i = 0; i < HEAD_AXES; i++)
        would.head[i] = sweep(t, &before, i, &head->axis[i]);
    set_way(t, t->out->guard.velocity, &would);
    set_way(t, t->out->guard.velocity, &anyway);
    if (allowed(t, &t->policy->view_held[1], &would, &anyway))
        return;
    *head = before;
    head_brake(cfg, head, t->elapsed_s, out);
}

void policy_head_step(struct policy_tick *t)
{
    struct head_output out = {.notes = 0};
    if (!t->cfg->head.there)
        return;
    if (!t->may_move || !t->looked) {
        head_brake(&t->cfg->head.config, &t->policy->head, t->elapsed_s, &out);
    } else if (turns_body(t)) {
        struct head_config ended = t->cfg->head.config;
        end_pan(t, &ended.axis[HEAD_PAN]);
        step(t, &ended, &out);
    } else {
        step(t, &t->cfg->head.config, &out);
    }
    for (int i = 0; i < HEAD_AXES; i++)
        t->out->intent.head_rate[i] = out.rate[i];
    explain(t, out.notes);
}
