/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/core/tick.h"

#include <math.h>
#include <string.h>

#include "gateway/core/tick_report.h"

enum { PERCENTILE_EVERY = 50 };

_Static_assert((int)DESK_JSON_STEPS == (int)LATENESS_STEPS, "the desk shows all of them");

void tick_init(struct tick *tick, struct shared *shared, uint32_t round)
{
    memset(tick, 0, sizeof *tick);
    tick->shared = shared;
    policy_init(&shared->show->policy, &tick->policy);
    crowd_init(&tick->crowd);
    tick->crowd.poll.round = round;
    tick->lease_ns = (uint64_t)(shared->show->policy.guard.lease_s * 1e9);
}

static bool older(uint64_t then_ns, uint64_t age_ns, uint64_t now_ns)
{
    return now_ns > then_ns && now_ns - then_ns > age_ns;
}

bool tick_rig_fresh(const struct tick *tick, uint64_t now_ns)
{
    return tick->rig.ever && !older(tick->rig.received_ns, tick->shared->show->policy.telemetry_timeout_ns, now_ns);
}

bool tick_desk_lives(const struct tick *tick, uint64_t now_ns)
{
    return !older(tick->orders.alive_ns, TICK_DESK_NS, now_ns);
}

/* What forbids motion besides the rig: core is about to end, or its desk thread hangs and no stop would be heard. */
static enum reason hear_house(const struct tick *tick, uint64_t now_ns)
{
    if (atomic_load(&tick->shared->stopping))
        return REASON_STOP_OPERATOR;
    return tick_desk_lives(tick, now_ns) ? REASON_NONE : REASON_DESK_LOST;
}

/* The rig's own watch against ours: an intent expired on it, or it has heard that it may move and brakes all the same.
 * A fault is the rig's own reason, and a stop on its way to us takes no longer than this waits. */
static bool rig_refuses(struct tick *tick, uint64_t now_ns)
{
    const struct wire_telemetry *said = &tick->shared->link.last;
    if (!tick_rig_fresh(tick, now_ns) || (said->flags & WIRE_RIG_FAULT))
        return false;
    bool told = tick->moving_seq != 0 && said->last_intent_seq >= tick->moving_seq;
    if (!told || !(said->flags & WIRE_RIG_BRAKING))
        tick->braking_ns = 0;
    else if (tick->braking_ns == 0)
        tick->braking_ns = now_ns;
    return (said->flags & WIRE_RIG_LAPSED) ||
           (tick->braking_ns != 0 && older(tick->braking_ns, TICK_REFUSES_NS, now_ns));
}

/* Returns what forbids motion as the rig speaks of itself, besides its faults. A new session does: the rig has lost its
 * stop count and its place, so nothing goes on from there without a reset and a go. */
static enum reason hear_rig(struct tick *tick, uint64_t now_ns)
{
    bool new_session = false;
    bool begun_lately = !older(tick->session_ns, tick->shared->show->policy.telemetry_timeout_ns, now_ns);
    bool lost = !tick_rig_fresh(tick, now_ns) && !begun_lately;
    link_poll(&tick->shared->link, now_ns, lost, &tick->rig, &new_session);
    if (new_session) {
        tick->session_ns = now_ns;
        return REASON_RIG_LOST;
    }
    if (link_taken(&tick->shared->link, now_ns))
        return REASON_RIG_TAKEN;
    return rig_refuses(tick, now_ns) ? REASON_RIG_STOPPED : REASON_NONE;
}

static void hear_crowd(struct tick *tick, uint64_t now_ns, struct lanes_input *lanes)
{
    const struct show *show = tick->shared->show;
    struct crowd_output wish;
    mailbox_get(&tick->shared->crowd, &tick->sum);
    struct crowd_input in = {
        .mode = tick->orders.mode,
        .fresh = tick->sum.edges > 0 && !older(tick->sum.made_ns, show->crowd_lease_ns, now_ns),
        .running = tick->running,
        .round = tick->sum.round,
        .tally = tick->sum.tally,
        .now_ns = now_ns,
    };
    crowd_step(&show->crowd, &tick->crowd, &in, &wish);
    struct vec3 v = {wish.v[0], wish.v[1], wish.v[2]};
    lanes->audience_fresh = in.fresh;
    lanes->audience_wish = wish.kind == CROWD_WISH_STICK   ? (struct wish){.kind = WISH_VELOCITY, .v = v}
                           : wish.kind == CROWD_WISH_NUDGE ? (struct wish){WISH_NUDGE, wish.nudge_id, v}
                                                           : (struct wish){.kind = WISH_STAY};
    memset(tick->report.scene.blend, 0, sizeof tick->report.scene.blend);
    if (wish.kind == CROWD_WISH_STICK)
        memcpy(tick->report.scene.blend, wish.v, sizeof wish.v);
    tick->report.view.rounds += wish.round_decided;
}

/* What a message does not name stays as it is. */
static double or_as_is(double asked, double now)
{
    return isnan(asked) ? now : asked;
}

/* Limits asked for at the desks, one a tick; whether they are granted is for the policy to say. */
static void hear_limits(struct tick *tick, struct policy_limits_request *request)
{
    const struct desk_asked_limit *asked = desk_orders_next_limit(&tick->orders, &tick->limits_seen);
    if (!asked)
        return;
    *request = (struct policy_limits_request){
        .id = (uint32_t)tick->limits_seen,
        .lane = asked->limit.lane,
        .limits = tick->policy.layer.lane[asked->limit.lane],
        .by_operator = asked->by_operator,
    };
    struct limits *l = &request->limits;
    l->speed_mps = or_as_is(asked->limit.speed_mps, l->speed_mps);
    l->floor_m = or_as_is(asked->limit.floor_m, l->floor_m);
    l->ceiling_m = or_as_is(asked->limit.ceiling_m, l->ceiling_m);
}

/* All levels of the desks; what leads towards motion are events, and the line between them and a stop is stop_line.h's.
 */
static void hear_desk(struct tick *tick, uint64_t now_ns, struct policy_input *in)
{
    const struct desk_orders *orders = &tick->orders;
    uint64_t lease_ns = tick->shared->show->operator_lease_ns;
    if (!stop_is_armed(tick->policy.stop.state))
        tick->setup = orders->setup;
    in->presence_ns = orders->presence_ns;
    in->spotter_ns = orders->spotter_ns;
    in->setup = tick->setup;
    in->lag_s = tick->shared->show->audience_lag_s;
    desk_orders_lanes(orders, lease_ns, now_ns, &in->lanes);
    desk_orders_head(orders, lease_ns, now_ns, in->head_wish);
    in->head_home = homing_step(&tick->homing, &(struct homing_input){
                                                   .now_ns = now_ns,
                                                   .presses = orders->homes,
                                                   .may_move = tick->running && orders->held,
                                                   .wish = in->head_wish,
                                                   .config = &tick->shared->show->policy.head,
                                                   .rig = &tick->rig,
                                               });
    hear_limits(tick, &in->limits);
}

static void answer_limits(struct tick *tick, const struct policy_limits_request *request,
                          const struct policy_output *out)
{
    struct shared_report *r = &tick->report;
    if (request->id == 0)
        return;
    r->limit_answer[(tick->limits_seen - 1) % DESK_ORDERS_EVENTS] =
        out->limits_id == request->id ? out->limits_answer : LIMITS_BAD;
    r->limits = tick->limits_seen;
}

/* A hold goes before all events; what was pressed before it was seen is void by its count. Returns the event that is
 * answered: a hold is not. */
static enum stop_event hear_events(struct tick *tick, struct stop_input *stop)
{
    const struct desk_orders *orders = &tick->orders;
    bool holds = orders->holds != tick->holds_seen;
    tick->holds_seen = orders->holds;
    if (holds) {
        stop->event = STOP_EVENT_HOLD;
        stop->hold_why = orders->hold_why;
        return STOP_EVENT_NONE;
    }
    return stop->event = desk_orders_next(orders, &tick->events_seen, tick->policy.stop.count, stop->asked);
}

static void answer(struct tick *tick, uint64_t before, const struct policy_output *out, enum stop_event what)
{
    struct shared_report *r = &tick->report;
    reason_set others = out->reasons & ~reason_bit(REASON_STOP_UNCONFIRMED); /* that one is told everywhere anyhow */
    reason_set why = others ? others : out->reasons;
    for (uint64_t n = before; n < tick->events_seen; n++) {
        bool last = n + 1 == tick->events_seen && what != STOP_EVENT_NONE;
        r->answer[n % DESK_ORDERS_EVENTS] = (struct shared_answer){
            .what = tick->orders.event[n % DESK_ORDERS_EVENTS].what,
            .answer = last ? out->stop_answer : STOP_FORBIDDEN,
            .overtaken = !last,
            .state = out->stop_state,
            .reason = why ? reason_first(why) : out->stop_reason,
        };
    }
    r->answers = tick->events_seen;
}

static void count_lateness(struct tick *tick, const struct tick_time *time)
{
    struct desk_view *view = &tick->report.view;
    lateness_add(&tick->late, time->now_ns > time->due_ns ? time->now_ns - time->due_ns : 0);
    view->ticks++;
    view->skipped += time->missed;
    view->page_faults = time->page_faults;
    view->late_max_us = lateness_us(&tick->late, 1);
    if (view->ticks % PERCENTILE_EVERY != 0)
        return;
    view->late_p50_us = lateness_us(&tick->late, 0.5);
    view->late_p99_us = lateness_us(&tick->late, 0.99);
    view->late_p999_us = lateness_us(&tick->late, 0.999);
    lateness_steps(&tick->late, view->late_steps);
}

static uint64_t passed(uint64_t from_ns, uint64_t to_ns)
{
    return to_ns > from_ns ? to_ns - from_ns : 0;
}

/* Too long since the last tick, be it load, a debugger or a laptop's lid: the clock may not have counted that one. */
static bool overran(struct tick *tick, const struct tick_time *time)
{
    uint64_t gap = passed(tick->last_ns, time->now_ns) + passed(tick->slept_ns, time->slept_ns);
    bool late = tick->last_ns != 0 && gap > TICK_BUDGET_NS;
    tick->last_ns = time->now_ns;
    tick->slept_ns = time->slept_ns;
    if (late && gap > tick->gap_ns)
        tick->gap_ns = gap;
    return late;
}

/* The gap that was too long stays told for as long as it is why nothing moves. */
static void tell_gap(struct tick *tick, bool late, struct policy_output *out)
{
    if (!late && out->stop_reason != REASON_TICK_LATE)
        tick->gap_ns = 0;
    else
        out->detail[REASON_TICK_LATE] =
            (struct reason_detail){(double)tick->gap_ns * 1e-9, TICK_BUDGET_NS * 1e-9, .index = -1};
}

/* The order of the middle lines is what the proof in stop_line.h rests on: events, then take, step, publish, send. */
void tick_once(struct tick *tick, const struct tick_time *time)
{
    struct shared *shared = tick->shared;
    uint64_t now_ns = time->now_ns;
    struct policy_input in = {.now_ns = now_ns, .tick_late = overran(tick, time)};
    struct policy_output out;
    count_lateness(tick, time);
    in.stop.inhibit = hear_rig(tick, now_ns);
    in.rig = tick->rig;
    mailbox_get(&shared->orders, &tick->orders);
    if (in.stop.inhibit == REASON_NONE)
        in.stop.inhibit = hear_house(tick, now_ns);
    stop_line_take(&shared->stops, &in.stop);
    uint64_t events_before = tick->events_seen;
    enum stop_event event = hear_events(tick, &in.stop);
    hear_desk(tick, now_ns, &in);
    hear_crowd(tick, now_ns, &in.lanes);
    policy_step(&shared->show->policy, &tick->policy, &in, &out);
    tell_gap(tick, in.tick_late, &out);
    stop_line_publish(&shared->stops, tick->policy.stop.count);
    link_send_intent(&shared->link, &out.intent, tick->lease_ns, now_ns);
    tick->running = stop_allows_motion(&tick->policy.stop);
    if (!out.intent.motion)
        tick->moving_seq = 0;
    else if (tick->moving_seq == 0)
        tick->moving_seq = shared->link.intent_seq;
    answer(tick, events_before, &out, event);
    answer_limits(tick, &in.limits, &out);
    tick_report_publish(tick, &out, in.lanes.audience_fresh, now_ns);
}
