/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/outline.h"
#include "policy/motion/policy_tick.h"
#include "policy/motion/travel.h"

#define ROUNDING (1 + 1e-9)
#define IN_HAND  0.7 /* of the acceleration: that much slows it before a slow zone */

static void cap(struct policy_tick *t, double most_mps, enum reason why, int index)
{
    double speed = vec_norm(t->wish);
    if (!(speed > most_mps))
        return;
    t->wish = vec_scale(t->wish, most_mps / speed);
    policy_tick_note(t, why, speed, most_mps, index);
}

/* From the edge of a zone, as if the body were a ball that reaches as far as any of it does. */
static double from_zone(const struct policy_tick *t, int zone)
{
    const struct volume_outline *o = &t->cfg->guard.volume.outline;
    const struct policy_place *place = &t->policy->place;
    struct vec3 body = vec_add(place->position, (struct vec3){0, 0, -o->boom_m});
    return shape_distance(&t->cfg->zone[zone].shape, body) - outline_reach(o) - place->uncertainty_m;
}

/* Until the rig brakes, if nothing more is heard of it. */
static double reaction(const struct policy_tick *t)
{
    const struct guard_config *guard = &t->cfg->guard;
    return guard->latency_s + t->age_s + guard->lease_s + guard->dt_s;
}

/* Gently: as the lane slows down (with something in hand), and shaping lets it; at the zone's speed from where
 * policy_wish_holds() asks for it, so that it need not. */
static void slow_in_zones(struct policy_tick *t)
{
    double brake = t->cfg->guard.brake_mps2, react_s = reaction(t), shape_s = policy_shape_delay(t);
    for (int i = 0; i < t->cfg->zones; i++) {
        double zone_mps = t->cfg->zone[i].speed_mps, left = from_zone(t, i);
        double by_then = left - zone_mps * (react_s + shape_s) - brake * react_s * react_s / 2;
        double gently = limits_near_zone_mps(by_then, zone_mps, IN_HAND * t->lanes.accel_mps2, shape_s);
        double surely = limits_near_zone_mps(left, zone_mps, brake, react_s + shape_s);
        cap(t, lesser(gently, surely), REASON_SLOW_ZONE, i);
    }
}

bool policy_wish_holds(struct policy_tick *t, struct vec3 velocity)
{
    const struct guard_config *guard = &t->cfg->guard;
    double delay_s = reaction(t), speed = vec_norm(velocity);
    for (int i = 0; i < t->cfg->zones; i++) {
        double most = limits_near_zone_mps(from_zone(t, i), t->cfg->zone[i].speed_mps, guard->brake_mps2, delay_s);
        if (speed <= most * ROUNDING)
            continue;
        policy_tick_note(t, REASON_SLOW_ZONE, speed, most, i);
        return false;
    }
    return true;
}

static void slow_for_lag(struct policy_tick *t)
{
    if (t->lanes.lane == LANE_AUDIENCE)
        cap(t, limits_unseen_mps(&t->cfg->limits, t->in->lag_s), REASON_LAG_LIMIT, -1);
}

/* The way runs on from where shaping leads, until the camera could be at rest; look_s further, so that statics are seen
 * as far ahead as measured tensions are. */
static void slow_for_cords(struct policy_tick *t)
{
    const struct guard_config *guard = &t->cfg->guard;
    double speed = vec_norm(t->wish), ahead = vec_norm(policy_shape_ahead(t));
    double react_s = guard->latency_s + t->age_s + policy_shape_settle(t) + t->cfg->anticipate.look_s;
    double stop_m = travel_stop_distance(speed, t->lanes.accel_mps2, guard->dt_s);
    struct anticipate_input in = {
        .position = t->policy->place.position, .wish = t->wish, .way_m = ahead + speed * react_s + stop_m};
    anticipate_look(&t->cfg->anticipate, &t->policy->anticipate, &in, &t->cords);
    t->out->tension_margin_n = policy_tick_finite(t->cords.margin_n);
    t->out->tension_cord = t->cords.margin_cord;
    if (!(t->cords.factor < 1) || !(speed > 0))
        return;
    t->wish = vec_scale(t->wish, t->cords.factor);
    policy_tick_note(t, REASON_TENSION_LIMIT, t->cords.tension_n, t->cords.limit_n, t->cords.cord);
}

/* Nothing is known of whoever must be known of: nothing moves. */
static void wait_for_subject(struct policy_tick *t)
{
    if (t->cfg->subject.watched && t->cfg->subject.required && !t->policy->subject.known)
        cap(t, 0, REASON_SUBJECT_NEAR, -1);
}

void policy_wish_limit(struct policy_tick *t)
{
    t->wish = t->lanes.wanted;
    wait_for_subject(t);
    slow_in_zones(t);
    slow_for_lag(t);
    if (t->cfg->anticipates)
        slow_for_cords(t);
}
