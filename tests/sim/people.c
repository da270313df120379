/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/people.h"

#include "tests/property/wild.h"

enum mood { PUSH, CURVE, NUDGE, PUMP, RAM, STAY, WILD, BUZZ, MOODS };

enum { RAMMED = 300 }; /* ticks before the end of its mood, who rams begins to pump where that led to */

static void change_mood(struct people_driver *d, bool hostile, struct random *r)
{
    static const enum mood usual[] = {PUSH, PUSH, PUSH, CURVE, CURVE, NUDGE, NUDGE, PUMP, RAM, RAM, STAY, WILD};
    d->ticks_left = random_below(r, hostile ? 100 : 600);
    d->mood = hostile ? random_below(r, MOODS) : (int)usual[random_below(r, sizeof usual / sizeof *usual)];
    d->way = random_direction(r);
    d->way.z *= random_between(r, 0, 1); /* rooms are lower than they are wide */
    d->turn = random_between(r, -0.02, 0.02);
    d->nudge_id++;
}

/* In time with the body's swing: the worst that pushing to and fro can do. */
static bool half_swing(const struct people_driver *d, const struct scene *s)
{
    double boom = s->cfg.guard.volume.outline.boom_m;
    double half = boom > 0 ? 3.1416 * sqrt(boom / 9.81) / s->cfg.guard.dt_s : 20;
    return fmod(d->ticks_left, 2 * half) < half;
}

static struct wish wish_of(struct people_driver *d, const struct scene *s, bool hostile, struct random *r)
{
    if (d->ticks_left-- <= 0)
        change_mood(d, hostile, r);
    double c = cos(d->turn), t = sin(d->turn);
    if (d->mood == CURVE)
        d->way = (struct vec3){c * d->way.x - t * d->way.y, t * d->way.x + c * d->way.y, d->way.z};
    struct wish wish = {WISH_VELOCITY, d->nudge_id, d->way};
    if (d->mood == NUDGE)
        wish.kind = WISH_NUDGE;
    if (d->mood == STAY)
        wish.kind = WISH_STAY;
    bool pumps = d->mood == PUMP || (d->mood == RAM && d->ticks_left < RAMMED);
    if ((pumps && half_swing(d, s)) || (d->mood == BUZZ && d->ticks_left % 2))
        wish.v = vec_scale(d->way, -1);
    if (d->mood == WILD)
        wish.v = wild_vector(r);
    if (d->mood == WILD && random_chance(r, 0.2))
        wild_enum(&wish.kind, sizeof wish.kind, r);
    return wish;
}

static void toggle(bool *b, struct random *r, double on, double off)
{
    *b = *b != random_chance(r, *b ? off : on);
}

static void drive(struct people *p, const struct scene *s, struct random *r, struct lanes_input *lanes)
{
    bool flap = s->trouble.fault == FAULT_PEOPLE, hostile = s->trouble.fault == FAULT_LANES;
    toggle(&p->relay, r, s->tight ? 0.01 : 0.002, 0.005);
    toggle(&p->holds, r, flap ? 0.2 : p->relay ? 0.03 : 0.006, flap ? 0.2 : p->relay ? 0.03 : 0.002);
    toggle(&p->open, r, flap ? 0.2 : 0.01, flap ? 0.1 : 0.001);
    toggle(&p->fresh, r, flap ? 0.3 : 0.05, flap ? 0.1 : 0.002);
    lanes->operator_holds = p->holds;
    lanes->audience_open = p->open;
    lanes->audience_fresh = p->fresh;
    lanes->operator_wish = wish_of(&p->operators, s, hostile, r);
    lanes->audience_wish = wish_of(&p->viewers, s, hostile, r);
    if (p->relay)
        lanes->audience_wish = lanes->operator_wish;
    lanes->audience_scale = random_chance(r, hostile ? 0.2 : 0.01) ? wild_number(r) : 1;
}

/* Stops at any moment; and an operator who, a while later, resets, arms and says go, mostly in that order. */
static void press(struct people *p, const struct scene *s, struct random *r, struct stop_input *stop, bool *pressed)
{
    static const enum reason who[] = {REASON_STOP_OPERATOR, REASON_STOP_SPOTTER, REASON_STOP_MODERATOR};
    static const enum reason holder[] = {REASON_HOLD_OPERATOR, REASON_HOLD_SPOTTER, REASON_HOLD_MODERATOR};
    bool flap = s->trouble.fault == FAULT_PEOPLE;
    *pressed = random_chance(r, flap ? 0.02 : 1.0 / 600);
    if (*pressed)
        p->asked += 1 + (uint64_t)random_below(r, 3);
    stop->asked = p->asked;
    stop->asked_why = who[random_below(r, 3)];
    stop->asked_category = random_chance(r, 0.7) ? STOP_CATEGORY_2 : STOP_CATEGORY_1;
    stop->hold_why = holder[random_below(r, 3)];
    toggle(&p->pressed_in, r, flap ? 0.005 : 0.0005, 0.02);
    stop->asserted = p->pressed_in;
    stop->event = STOP_EVENT_NONE;
    if (!random_chance(r, flap ? 0.5 : 0.05))
        return;
    stop->event = p->next;
    p->next = p->next == STOP_EVENT_RESET ? STOP_EVENT_ARM
              : p->next == STOP_EVENT_ARM ? STOP_EVENT_GO
                                          : STOP_EVENT_RESET;
    if (random_chance(r, 0.02))
        stop->event = (enum stop_event)random_below(r, STOP_EVENT_COUNT);
    if (random_chance(r, 0.01))
        wild_enum(&stop->event, sizeof stop->event, r);
}

static struct limits any_limits(struct random *r)
{
    struct limits l = {
        .speed_mps = random_between(r, 0.02, 1.5),
        .accel_mps2 = random_between(r, 0.05, 2),
        .jerk_mps3 = random_chance(r, 0.5) ? LIMITS_JERK_FREE : random_between(r, 0.2, 20),
        .floor_m = -SHAPE_FAR_M,
        .ceiling_m = SHAPE_FAR_M,
    };
    if (random_chance(r, 0.1))
        l.speed_mps = wild_number(r);
    return l;
}

/* Modes, limits and the picture's delay change, seldom or all the time. */
static void rule(struct people *p, const struct scene *s, uint64_t now_ns, struct random *r, struct policy_input *in)
{
    bool flap = s->trouble.fault == FAULT_PEOPLE;
    toggle(&p->setup, r, flap ? 0.05 : 0.0002, flap ? 0.1 : 0.01);
    toggle(&p->spots, r, flap ? 0.05 : 0.003, flap ? 0.05 : 0.002);
    if (p->spots && s->cfg.spotter_timeout_ns > 0)
        p->spotted_ns = now_ns;
    if (random_chance(r, flap ? 0.05 : 0.002))
        p->limits = (struct policy_limits_request){++p->limits_id, (enum lane)random_below(r, LANE_COUNT),
                                                   any_limits(r), random_chance(r, 0.7)};
    for (int i = 0; i < HEAD_AXES; i++)
        if (random_chance(r, s->trouble.fault == FAULT_LANES ? 0.05 : 0.004))
            p->head[i] = random_chance(r, 0.1) ? wild_number(r) : random_between(r, -1, 1);
    in->setup = p->setup;
    in->spotter_ns = p->spotted_ns;
    in->limits = p->limits;
    in->lag_s = s->trouble.way.x > 0 ? 2 * s->trouble.way.x : 0;
    in->head_home = random_chance(r, 0.001);
    for (int i = 0; i < HEAD_AXES; i++)
        in->head_wish[i] = p->head[i];
}

static struct vec3 on_floor(struct random *r)
{
    struct vec3 p = random_in_ball(r, 4);
    p.z = 0;
    return p;
}

void people_init(struct people *p, const struct scene *s, struct random *r)
{
    *p = (struct people){.open = true, .fresh = true, .next = STOP_EVENT_RESET, .watched = s->cfg.subject.watched};
    do
        p->subject = p->subject_goal = on_floor(r);
    while (hypot(p->subject.x - s->start.x, p->subject.y - s->start.y) < 2.5);
}

void people_walk(struct people *p, const struct scene *s, struct vec3 camera, double dt_s, struct random *r)
{
    struct vec3 way = vec_sub(p->subject_goal, p->subject);
    double far = vec_norm(way), step = p->subject_mps * dt_s;
    if (far > step) {
        p->subject = vec_along(p->subject, way, step / far);
        return;
    }
    p->subject = p->subject_goal;
    if (!random_chance(r, 0.01))
        return;
    p->subject_goal = random_chance(r, 0.4) ? (struct vec3){camera.x, camera.y, 0} : on_floor(r);
    p->subject_mps = s->cfg.subject.speed_mps * random_between(r, 0.1, 1);
}

void people_act(struct people *p, const struct scene *s, uint64_t now_ns, struct random *r, struct policy_input *in,
                bool *pressed)
{
    press(p, s, r, &in->stop, pressed);
    drive(p, s, r, &in->lanes);
    rule(p, s, now_ns, r, in);
    toggle(&p->absent, r, 0.0005, 0.01);
    if (!p->absent)
        p->heard_ns = now_ns;
    in->presence_ns = p->heard_ns;
}
