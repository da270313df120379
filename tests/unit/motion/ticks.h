/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A policy and a rig that does what it was told some ticks ago, for tests of whole ticks. */
#ifndef STEADYHAND_TESTS_MOTION_TICKS_H
#define STEADYHAND_TESTS_MOTION_TICKS_H

#include <criterion/criterion.h>

#include "policy/motion/policy.h"
#include "tests/property/random.h"
#include "tests/unit/motion/rooms.h"

enum { TICKS_NS = 10000000, TICKS_LATE = 6 };

struct ticks {
    struct policy_config cfg;
    struct policy policy;
    struct policy_input in;
    struct policy_output out;
    struct random random;
    struct vec3 truth, under_way[TICKS_LATE];
    struct vec3 astray; /* m/s: moves on top of what it is told */
    double noise_m;
    double head[HEAD_AXES];
    int tick;
    bool silent; /* no new telemetry */
};

static inline void ticks_report(struct ticks *t)
{
    struct rig_report *rig = &t->in.rig;
    rig->received_ns = t->in.now_ns;
    rig->seq++;
    rig->position = vec_add(t->truth, random_in_ball(&t->random, t->noise_m));
    rig->where.position = rig->position;
    for (int i = 0; i < HEAD_AXES; i++)
        rig->head[i] = t->head[i];
}

static inline void ticks_step(struct ticks *t)
{
    struct vec3 *late = &t->under_way[t->tick % TICKS_LATE];
    t->truth = vec_along(vec_along(t->truth, *late, 0.01), t->astray, 0.01);
    for (int i = 0; i < HEAD_AXES; i++)
        t->head[i] += t->out.intent.head_rate[i] * 0.01;
    t->in.now_ns += TICKS_NS;
    t->in.presence_ns = t->in.now_ns;
    if (!t->silent)
        ticks_report(t);
    policy_step(&t->cfg, &t->policy, &t->in, &t->out);
    *late = t->out.intent.motion ? t->out.intent.velocity : (struct vec3){0, 0, 0};
    t->in.stop.event = STOP_EVENT_NONE;
    t->tick++;
}

static inline void ticks_run(struct ticks *t, double seconds)
{
    for (int i = 0; i < (int)lround(seconds * 100); i++)
        ticks_step(t);
}

/* A room with one option or the other is changed between these two. */
static inline void ticks_make(struct ticks *t, struct vec3 at)
{
    *t = (struct ticks){.cfg = rooms_plain(), .random = {1}, .truth = at};
    t->cfg.presence_required = false;
    t->in = (struct policy_input){.now_ns = 1000000000, .rig = {.ever = true}};
    t->in.lanes = (struct lanes_input){.audience_open = true, .audience_fresh = true, .audience_scale = 1};
}

static inline void ticks_go(struct ticks *t)
{
    cr_assert(policy_config_valid(&t->cfg));
    policy_init(&t->cfg, &t->policy);
    ticks_run(t, 0.5); /* whatever needs to settle */
    t->in.stop.event = STOP_EVENT_ARM;
    ticks_step(t);
    t->in.stop.event = STOP_EVENT_GO;
    ticks_step(t);
    cr_assert(t->out.intent.motion, "%s", reason_code(reason_first(t->out.reasons)));
}

static inline void ticks_operator(struct ticks *t, double x, double y, double z)
{
    t->in.lanes.operator_holds = true;
    t->in.lanes.operator_wish = (struct wish){WISH_VELOCITY, 0, {x, y, z}};
}

static inline void ticks_audience(struct ticks *t, double x, double y, double z)
{
    t->in.lanes.operator_holds = false;
    t->in.lanes.audience_wish = (struct wish){WISH_VELOCITY, 0, {x, y, z}};
}

static inline bool ticks_has(const struct ticks *t, enum reason r)
{
    return (t->out.reasons & reason_bit(r)) != 0;
}

static inline double ticks_speed(const struct ticks *t)
{
    return vec_norm(t->out.intent.velocity);
}

/* Jerk limits for every lane, and ZV against the boom's swing if asked. */
static inline void ticks_shape(struct ticks *t, bool shaper)
{
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            t->cfg.limits.cell[l][m].jerk_mps3 = l == LANE_OPERATOR ? 1.5 : 0.8;
    struct swing_config swing = {.shaper = SWING_SHAPER_ZV,
                                 .mode = swing_shaper_mode(t->cfg.guard.volume.outline.boom_m, 0.05),
                                 .dt_s = t->cfg.guard.dt_s};
    if (shaper)
        cr_assert_eq(swing_make_plan(&swing, &t->cfg.swing), SWING_OK);
}

#endif
