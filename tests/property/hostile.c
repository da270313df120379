/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/hostile.h"

#include "tests/property/wild.h"

enum mood { PUSH, CURVE, NUDGE, PUMP, STAY, WILD };

/* Turns slowly about the vertical: what sweeps a braking path sideways. */
static struct vec3 turned(struct vec3 v, double by)
{
    return (struct vec3){v.x * cos(by) - v.y * sin(by), v.x * sin(by) + v.y * cos(by), v.z};
}

static struct wish wish_of(struct hostile_driver *d, struct random *r, const struct room *room)
{
    if (d->ticks_left-- <= 0) {
        static const int moods[] = {PUSH, PUSH, PUSH, CURVE, CURVE, CURVE, NUDGE, PUMP, STAY, WILD};
        d->ticks_left = random_below(r, 700);
        d->kind = moods[random_below(r, sizeof moods / sizeof *moods)];
        d->way = random_direction(r);
        d->way.z *= random_between(r, 0, 1); /* rooms are lower than they are wide */
        d->turn = random_between(r, -0.02, 0.02);
        d->nudge_id++;
    }
    struct wish wish = {WISH_VELOCITY, d->nudge_id, d->way};
    double boom = room->cfg.guard.volume.outline.boom_m;
    double half_period = boom > 0 ? 3.1416 * sqrt(boom / 9.81) / room->cfg.guard.dt_s : 20;
    if (d->kind == CURVE)
        d->way = turned(d->way, d->turn);
    else if (d->kind == NUDGE)
        wish.kind = WISH_NUDGE;
    else if (d->kind == STAY)
        wish.kind = WISH_STAY;
    else if (d->kind == PUMP && fmod(d->ticks_left, 2 * half_period) < half_period)
        wish.v = vec_scale(d->way, -1);
    else if (d->kind == WILD)
        wish.v = wild_vector(r);
    if (d->kind == WILD && random_chance(r, 0.2))
        wild_enum(&wish.kind, sizeof wish.kind, r);
    return wish;
}

static void toggle(bool *b, struct random *r, double p)
{
    *b = *b != random_chance(r, p);
}

static void fill_lanes(struct hostile *h, const struct room *room, struct random *r, struct lanes_input *lanes)
{
    toggle(&h->holds, r, h->holds ? 0.002 : 0.006);
    toggle(&h->open, r, h->open ? 0.001 : 0.01);
    toggle(&h->fresh, r, h->fresh ? 0.002 : 0.05);
    lanes->operator_holds = h->holds;
    lanes->audience_open = h->open;
    lanes->audience_fresh = h->fresh;
    lanes->operator_wish = wish_of(&h->operator_, r, room);
    lanes->audience_wish = wish_of(&h->audience, r, room);
    lanes->audience_scale = random_chance(r, 0.01) ? wild_number(r) : 1;
}

void hostile_scramble_audience(struct random *r, struct lanes_input *lanes)
{
    lanes->audience_open = random_chance(r, 0.5);
    lanes->audience_fresh = random_chance(r, 0.5);
    lanes->audience_scale = wild_number(r);
    lanes->audience_wish =
        (struct wish){random_chance(r, 0.5) ? WISH_VELOCITY : WISH_NUDGE, (uint32_t)random_bits(r), wild_vector(r)};
}

static void begin_trouble(struct hostile *h, struct random *r)
{
    if (h->trouble_ticks-- > 0)
        return;
    h->trouble = TROUBLE_NONE;
    if (h->tick < 20 || !random_chance(r, 1.0 / 250))
        return;
    h->trouble = (enum hostile_trouble)random_below(r, TROUBLE_COUNT);
    /* A position that is wrong must not stay so long that it could have got there honestly. */
    h->trouble_ticks = h->trouble == TROUBLE_JUMP ? random_below(r, 4) : random_below(r, 50);
}

static void spoil_numbers(struct rig_report *report, struct random *r)
{
    static const double bad[] = {(double)NAN, (double)INFINITY, -1, -(double)INFINITY};
    double value = bad[random_below(r, sizeof bad / sizeof *bad)];
    int which = random_below(r, 3);
    if (which == 0)
        report->position.y = report->where.position.y = value < 0 && isfinite(value) ? (double)NAN : value;
    else if (which == 1)
        report->uncertainty_m = report->where.quality[LOCATE_POSE].sigma = value;
    else
        report->swing_rad = value;
}

/* Returns true if what came must stop the rig in this very tick. */
static bool fill_report(struct hostile *h, const struct room *room, const struct rig *rig, struct random *r)
{
    begin_trouble(h, r);
    bool late = rig->now_ns - h->report_changed_ns > room->cfg.telemetry_timeout_ns;
    if (h->trouble == TROUBLE_SILENCE || h->tick % room->ticks_a_report != 0)
        return h->report.fault || late;
    if (h->trouble == TROUBLE_FROZEN) {
        h->report.received_ns = rig->now_ns;
        return late;
    }
    h->report = rig_report(rig, room, r, ++h->seq);
    if (h->trouble == TROUBLE_FAULT)
        h->report.fault = true;
    if (h->trouble == TROUBLE_NUMBERS)
        spoil_numbers(&h->report, r);
    else if (h->trouble == TROUBLE_JUMP && !late) /* after a loss there is nothing to jump from */
        h->report.where.position = h->report.position =
            vec_along(h->report.position, random_direction(r), random_between(r, 3, 9));
    else
        h->report_changed_ns = rig->now_ns;
    return h->report_changed_ns != rig->now_ns || h->report.fault;
}

static bool fill_stop(struct hostile *h, const struct room *room, const struct rig *rig, struct random *r,
                      struct policy_input *in, struct hostile_told *told)
{
    static const enum reason who[] = {REASON_STOP_OPERATOR, REASON_STOP_SPOTTER, REASON_STOP_MODERATOR};
    static const enum reason holder[] = {REASON_HOLD_OPERATOR, REASON_HOLD_SPOTTER, REASON_HOLD_MODERATOR};
    in->stop.event = (enum stop_event)(random_chance(r, 0.5) ? random_below(r, STOP_EVENT_HOLD) : STOP_EVENT_NONE);
    if (random_chance(r, 0.004))
        in->stop.event = random_chance(r, 0.5) ? STOP_EVENT_HOLD : STOP_EVENT_PARK;
    in->stop.hold_why = holder[random_below(r, 3)];
    if (random_chance(r, 0.001))
        wild_enum(&in->stop.event, sizeof in->stop.event, r);
    told->pressed = random_chance(r, 1.0 / 400);
    if (told->pressed)
        h->asked += 1 + (uint64_t)random_below(r, 3) + (random_chance(r, 0.02) ? 1u << 30 : 0);
    in->stop.asked = h->asked;
    in->stop.asked_why = who[random_below(r, 3)];
    in->stop.asked_category = (enum stop_category)(random_chance(r, 0.6) ? STOP_CATEGORY_2 : random_below(r, 3));
    if (random_chance(r, 0.01))
        wild_enum(&in->stop.asked_category, sizeof in->stop.asked_category, r);
    if (random_chance(r, 0.01))
        wild_enum(&in->stop.asked_why, sizeof in->stop.asked_why, r);
    if (random_chance(r, 1.0 / 1500))
        in->stop.inhibit = random_chance(r, 0.5) ? REASON_RIG_LOST : (enum reason)1000;
    in->tick_late = random_chance(r, 1.0 / 1500);
    toggle(&h->absent, r, h->absent ? 0.01 : 0.0005);
    if (!h->absent)
        h->heard_ns = rig->now_ns;
    in->presence_ns = h->heard_ns;
    bool absent = room->cfg.presence_required && rig->now_ns - h->heard_ns > room->cfg.presence_timeout_ns;
    return told->pressed || in->stop.inhibit != REASON_NONE || in->tick_late || absent;
}

static void ask_for_limits(struct hostile *h, const struct room *room, struct random *r)
{
    if (!random_chance(r, 1.0 / 700))
        return;
    struct policy_limits_request *ask = &h->limits;
    ask->id++;
    ask->lane = (enum lane)random_below(r, LANE_COUNT + 1);
    ask->by_operator = random_chance(r, 0.6);
    ask->limits = room->cfg.limits.cell[LANE_OPERATOR][LIMITS_SHOW];
    ask->limits.speed_mps *= random_between(r, 0, 3);
    ask->limits.accel_mps2 *= random_between(r, 0.3, 2);
    if (random_chance(r, 0.2))
        ask->limits.jerk_mps3 = wild_number(r);
}

/* What else may be so, seldom or often. */
static void fill_house(struct hostile *h, const struct room *room, const struct rig *rig, struct random *r,
                       struct policy_input *in)
{
    static const double lags[] = {0, 0, 2, 8, (double)NAN, -1};
    toggle(&h->setup, r, h->setup ? 0.01 : 0.0005);
    toggle(&h->spotter, r, h->spotter ? 0.004 : 0.002);
    if (h->spotter)
        h->spotter_ns = rig->now_ns;
    if (random_chance(r, 0.002))
        h->lag_s = lags[random_below(r, 6)];
    for (int i = 0; i < HEAD_AXES; i++)
        if (random_chance(r, 0.01))
            h->head[i] = random_chance(r, 0.05) ? wild_number(r) : random_between(r, -1.2, 1.2);
    ask_for_limits(h, room, r);
    in->setup = h->setup;
    in->spotter_ns = h->spotter_ns;
    in->lag_s = h->lag_s;
    in->limits = h->limits;
    in->head_home = random_chance(r, 0.001);
    for (int i = 0; i < HEAD_AXES; i++)
        in->head_wish[i] = h->head[i];
}

void hostile_init(struct hostile *h)
{
    *h = (struct hostile){.open = true, .fresh = true};
}

void hostile_input(struct hostile *h, const struct room *room, const struct rig *rig, struct random *r,
                   struct policy_input *in, struct hostile_told *told)
{
    *in = (struct policy_input){.now_ns = rig->now_ns};
    bool bad_report = fill_report(h, room, rig, r);
    told->must_stop = fill_stop(h, room, rig, r, in, told) || bad_report;
    in->rig = h->report;
    fill_lanes(h, room, r, &in->lanes);
    fill_house(h, room, rig, r, in);
    h->tick++;
}
