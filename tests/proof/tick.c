/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * One whole tick. What comes in is anything: reports, wishes, requests, times, events. So is what the parts say that
 * others analyse: the room and the view (any distance, NaN too), where locate finds the platform and how wrong that is,
 * what anticipation makes of the cords; of the head and the shaper it is any number. So no mistake in any of those can
 * send a velocity that is none, or is faster than allowed. The state of the parts that are in here is as they leave it.
 *
 * analyse: policy/motion/policy.c policy/motion/policy_head.c policy/motion/policy_mode.c policy/motion/policy_rig.c
 * analyse: policy/motion/policy_shape.c policy/motion/policy_wish.c policy/motion/guard.c policy/motion/guard_path.c
 * analyse: policy/motion/guard_steer.c policy/motion/travel.c policy/motion/lanes.c policy/motion/limits.c
 * analyse: policy/motion/stop.c policy/motion/stop_watch.c policy/motion/standstill.c policy/motion/policy_stop.c
 * analyse: policy/motion/reason.c policy/motion/cords.c policy/motion/profile.c
 * analyse: policy/motion/profile_stop.c
 * options: -eva-precision 1 -eva-plevel 2000 -eva-split-return-function guard_begin:full
 * options: -eva-slevel-function move:100,policy_step:60,step_guard:60,policy_head_step:60,step:60
 */
#include "policy/motion/head_reach.h"
#include "policy/motion/outline.h"
#include "policy/motion/policy.h"
#include "tests/proof/any_room.h"

#define SWIFT (1.001 * FASTEST)

double shape_distance(const struct shape *shape, struct vec3 p)
{
    ANY(double, distance_m);
    (void)shape, (void)p;
    return distance_m;
}

double shape_box_distance(const struct shape_box *box, struct vec3 p)
{
    ANY(double, distance_m);
    (void)box, (void)p;
    return distance_m;
}

double outline_reach(const struct volume_outline *o)
{
    ANY(double, reach_m);
    (void)o;
    return reach_m;
}

struct view_answer view_look(const struct view *view, const struct view_span *span, double enough_m)
{
    ANY(struct view_answer, answer);
    (void)view, (void)span, (void)enough_m;
    answer.shape = among(-1, 63);
    return answer;
}

double view_vfov(double hfov_rad, double aspect)
{
    ANY(double, vfov);
    (void)hfov_rad, (void)aspect;
    return vfov;
}

void locate_init(struct locate *locate)
{
    ANY(struct locate, l);
    *locate = l;
}

void locate_step(const struct locate_config *cfg, struct locate *locate, uint64_t now_ns,
                 const struct locate_report *report, struct vec3 commanded, struct locate_output *out)
{
    ANY(struct locate_output, found);
    (void)cfg, (void)now_ns, (void)report, (void)commanded;
    locate_init(locate);
    *out = found;
    for (int f = 0; f < LOCATE_FAULTS; f++) {
        out->detail[f].source = (enum locate_source)among(0, LOCATE_SOURCES);
        out->detail[f].cord = among(-1, VOLUME_MAX_CORDS - 1);
    }
}

void anticipate_init(struct anticipate *anticipate)
{
    ANY(struct anticipate, a);
    *anticipate = a;
}

bool anticipate_hear(const struct anticipate_config *cfg, struct anticipate *anticipate, double elapsed_s,
                     const double tension_n[VOLUME_MAX_CORDS])
{
    (void)cfg, (void)elapsed_s, (void)tension_n;
    anticipate_init(anticipate);
    return among(0, 1) != 0;
}

void swing_watch_init(struct swing_watch *watch)
{
    ANY(struct swing_watch, w);
    *watch = w;
}

void swing_watch_add(const struct swing_watch_config *cfg, struct swing_watch *watch, struct swing_tilt tilt,
                     double elapsed_s, double accel_x, double accel_y)
{
    (void)cfg, (void)tilt, (void)elapsed_s, (void)accel_x, (void)accel_y;
    swing_watch_init(watch);
}

enum anticipate_fault anticipate_fault(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                                       int *cord)
{
    (void)cfg, (void)anticipate;
    *cord = among(0, VOLUME_MAX_CORDS - 1);
    return (enum anticipate_fault)among(ANTICIPATE_SOUND, ANTICIPATE_OVERLOAD);
}

void anticipate_look(const struct anticipate_config *cfg, const struct anticipate *anticipate,
                     const struct anticipate_input *in, struct anticipate_output *out)
{
    ANY(struct anticipate_output, looked);
    (void)cfg, (void)anticipate, (void)in;
    *out = looked;
    out->cord = out->margin_cord = among(0, VOLUME_MAX_CORDS - 1);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++)
        out->wanted_n[k] = between(0, 1e7);
}

void head_init(struct head *head, const struct head_config *cfg)
{
    ANY(struct head, h);
    (void)cfg;
    *head = h;
}

void head_step(const struct head_config *cfg, struct head *head, const struct head_input *in, struct head_output *out)
{
    (void)in;
    head_init(head, cfg);
    for (int i = 0; i < HEAD_AXES; i++)
        out->rate[i] = between(-1e3, 1e3);
    ANY(unsigned, notes);
    out->notes = notes;
}

void head_brake(const struct head_config *cfg, struct head *head, double elapsed_s, struct head_output *out)
{
    (void)elapsed_s;
    head_step(cfg, head, NULL, out);
}

struct head_axis_tick head_reach_axis(const struct head_tick *t, const struct head *head, int which, bool known,
                                      double at)
{
    ANY(struct head_axis_tick, axis);
    (void)t, (void)head, (void)which, (void)known, (void)at;
    return axis;
}

struct head_reach head_reach_of(const struct head_tick *t, const struct head_axis_tick *axis, struct profile next)
{
    ANY(struct head_reach, reach);
    (void)t, (void)axis, (void)next;
    return reach;
}

double head_hfov(const struct head_config *cfg, double magnification)
{
    (void)cfg, (void)magnification;
    return between(1e-6, 3.15);
}

void swing_reset(struct swing *swing, struct vec3 velocity)
{
    ANY(struct swing, s);
    (void)velocity;
    *swing = s;
}

struct vec3 swing_step(const struct swing_plan *plan, struct swing *swing, struct vec3 wish)
{
    ANY(struct vec3, shaped);
    (void)plan;
    swing_reset(swing, wish);
    return shaped;
}

static void some_head(struct policy_head *head)
{
    for (int i = 0; i < HEAD_AXES; i++)
        head->config.axis[i] = (struct head_axis_config){between(-1e6, 1e6),
                                                         between(-1e6, 1e6),
                                                         between(-1e6, 1e6),
                                                         {between(1e-3, 1e3), between(1e-3, 1e3), between(1e-3, 1e5)}};
    head->config.latency_s = between(0, 60);
    head->config.lease_s = between(0, 60);
    head->config.dt_s = between(1e-4, 0.1);
    for (int l = 0; l < LANE_COUNT; l++)
        head->share[l] = between(0, 1);
    head->cross_s = between(0, 1e3);
    head->aspect = between(0.1, 10);
}

static void some_config(struct policy_config *cfg)
{
    struct volume *v = &cfg->guard.volume;
    cfg->guard = a_guard_config();
    v->stages = among(1, VOLUME_MAX_STAGES);
    for (int i = 0; i < VOLUME_MAX_STAGES; i++)
        v->stage[i].corners = among(3, SHAPE_MAX_CORNERS);
    v->outline.cords = among(0, VOLUME_MAX_CORDS);
    for (int i = 0; i < VOLUME_MAX_CORDS; i++)
        v->outline.anchor[i] = somewhere();
    cfg->lanes = (struct lanes_config){between(1e-3, 1e3), between(1e-3, 1e6), between(1e-3, 1e3), between(1e-4, 1)};
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            cfg->limits.cell[l][m] = some_limits();
    cfg->limits.unseen_m = between(0, 1e3);
    cfg->swing.taps = among(0, SWING_TAPS);
    for (int i = 0; i < SWING_TAPS; i++)
        cfg->swing.delay[i] = among(0, SWING_WINDOW - 1);
    cfg->zones = among(0, POLICY_MAX_ZONES);
    some_head(&cfg->head);
}

static void some_state(struct policy *p)
{
    p->stop.state = (enum stop_state)among(0, STOP_STATE_COUNT - 1);
    p->guard.velocity = a_velocity(SWIFT);
    p->lanes.goal = within_cube(1e110);
    p->lanes.goal_age_s = between(0, 1e9);
    p->sent_next = among(0, POLICY_SENT - 1);
    for (int l = 0; l < LANE_COUNT; l++)
        p->layer.lane[l] = some_limits();
}

static void must_be_an_intent(const struct intent *intent)
{
    must_be_velocity(intent->velocity, SWIFT);
    for (int k = 0; k < VOLUME_MAX_CORDS; k++) {
        must_be_within(-2 * FASTEST, intent->cord_rate_mps[k], 2 * FASTEST);
        must_be_within(0, intent->cord_tension_n[k], 1e7);
    }
    for (int i = 0; i < HEAD_AXES; i++)
        must_be_within(-1e3, intent->head_rate[i], 1e3);
}

int main(void)
{
    ANY(struct policy_config, cfg);
    ANY(struct policy, policy);
    ANY(struct policy_input, in);
    struct policy_output out;
    some_config(&cfg);
    some_state(&policy);
    policy_step(&cfg, &policy, &in, &out);
    must_be_an_intent(&out.intent);
    must_be_velocity(policy.guard.velocity, SWIFT);
    must_hold(policy.sent_next >= 0 && policy.sent_next < POLICY_SENT);
    must_hold((unsigned)out.stop_state < STOP_STATE_COUNT);
    must_hold((unsigned)out.lane < LANE_COUNT);
    for (int r = 0; r < REASON_COUNT; r++) {
        must_be_within(-SHAPE_FAR_M, out.detail[r].value, SHAPE_FAR_M);
        must_be_within(-SHAPE_FAR_M, out.detail[r].limit, SHAPE_FAR_M);
    }
    policy_init(&cfg, &policy);
    must_hold(policy.stop.state == STOP_PARKED);
}
