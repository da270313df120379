/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Where two things squeeze the camera stops and does not jitter: pressed for minutes into a corner, a slot and between
 * somebody and a wall, its position noisy, by sticks, steps and polls, with jerk limit and shaper and without. */
#include <criterion/criterion.h>

#include "policy/motion/policy.h"
#include "tests/property/random.h"
#include "tests/unit/motion/rooms.h"

enum { TICK_NS = 10000000, LATE = 6, MINUTE = 6000 };

enum squeeze { CORNER, SLOT, SUBJECT, SQUEEZES };
enum driver { STICK, STEPS, WANDERING, DRIVERS };

/* A rig that does what it was told LATE ticks ago, and says where it is with noise. */
struct bench {
    struct policy_config cfg;
    struct policy policy;
    struct policy_input in;
    struct policy_output out;
    struct random random;
    struct vec3 truth, under_way[LATE];
    double noise_m;
    int tick;
};

static void step(struct bench *b)
{
    struct rig_report *rig = &b->in.rig;
    struct vec3 *late = &b->under_way[b->tick % LATE];
    b->truth = vec_along(b->truth, *late, 0.01);
    b->in.now_ns += TICK_NS;
    b->in.presence_ns = rig->received_ns = b->in.now_ns;
    rig->seq++;
    rig->position = vec_add(b->truth, random_in_ball(&b->random, b->noise_m));
    policy_step(&b->cfg, &b->policy, &b->in, &b->out);
    *late = b->out.intent.motion ? b->out.intent.velocity : (struct vec3){0, 0, 0};
    b->in.stop.event = STOP_EVENT_NONE;
    b->tick++;
}

static void begin(struct bench *b, struct vec3 at)
{
    b->truth = at;
    b->in.now_ns = 1000000000;
    b->in.rig.ever = true;
    b->in.rig.uncertainty_m = b->noise_m;
    b->in.lanes = (struct lanes_input){.audience_open = true, .audience_fresh = true, .audience_scale = 1};
    policy_init(&b->cfg, &b->policy);
    struct random random = b->random;
    for (int i = 0; i < 100; i++)
        step(b);
    b->random = random; /* what is measured later does not depend on how long this took */
    b->in.stop.event = STOP_EVENT_ARM;
    step(b);
    b->in.stop.event = STOP_EVENT_GO;
    step(b);
    cr_assert(b->out.intent.motion);
}

static void shape(struct policy_config *cfg)
{
    struct swing_config swing = {.shaper = SWING_SHAPER_ZV,
                                 .mode = swing_shaper_mode(cfg->guard.volume.outline.boom_m, 0.05),
                                 .dt_s = cfg->guard.dt_s};
    cr_assert_eq(swing_make_plan(&swing, &cfg->swing), SWING_OK);
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            cfg->limits.cell[l][m].jerk_mps3 = 1;
}

/* Which way to press. */
static struct vec3 make(struct bench *b, enum squeeze squeeze)
{
    if (squeeze == CORNER) {
        begin(b, (struct vec3){1, 1, 2});
        return (struct vec3){-1, -0.7, 0.3};
    }
    if (squeeze == SLOT) { /* narrower and narrower, and as high as the room */
        struct volume *vol = &b->cfg.guard.volume;
        const struct vec3 half = {2, 1, 2};
        const struct shape wedge[2] = {
            {.kind = SHAPE_BOX, .as.block = shape_block_turned((struct vec3){6, 5, 1.5}, half, -0.3, 0, 0)},
            {.kind = SHAPE_BOX, .as.block = shape_block_turned((struct vec3){6, 1.6, 1.5}, half, 0.3, 0, 0)}};
        vol->outline.cords = 0;
        vol->keepouts = 2;
        for (int k = 0; k < 2; k++)
            vol->keepout[k] = (struct volume_keepout){.shape = wedge[k]};
        cr_assert(volume_prepare(vol));
        begin(b, (struct vec3){2, 3.3, 2});
        return (struct vec3){1, 0.05, 0};
    }
    b->cfg.subject = (struct policy_subject){true, true, 0.3, 1.6, 0.3, 0.05};
    b->cfg.guard.volume.outline.cords = 0;
    b->in.rig.subject_known = true;
    b->in.rig.subject = (struct vec3){3.2, 0.9, 0};
    begin(b, (struct vec3){1.5, 1, 1.4});
    return (struct vec3){0.8, -0.6, 0};
}

static void press(struct bench *b, enum driver driver, struct vec3 way, int tick)
{
    struct wish *wish = &b->in.lanes.audience_wish;
    if (driver == STICK)
        *wish = (struct wish){WISH_VELOCITY, 0, way};
    else if (driver == STEPS && tick % 600 == 0) /* a poll's rounds */
        *wish = (struct wish){WISH_NUDGE, (uint32_t)(1 + tick / 600), vec_scale(way, 0.4)};
    else if (driver == WANDERING) /* a median stick that trembles */
        *wish = (struct wish){WISH_VELOCITY, 0, vec_along(way, random_in_ball(&b->random, 1), 0.15)};
}

struct calm {
    double speed_mps, moved_m; /* greatest of the last minute: speed sent, and from where to where it went */
    int fallbacks;             /* proofs that failed */
};

static struct calm watch(struct bench *b, enum driver driver, struct vec3 way)
{
    struct calm calm = {0};
    struct vec3 at = {0, 0, 0};
    for (int i = 0; i < 3 * MINUTE; i++) {
        press(b, driver, way, i);
        step(b);
        calm.fallbacks += b->out.guard.fallback;
        if (i < 2 * MINUTE) {
            at = b->truth;
            continue;
        }
        calm.speed_mps = fmax(calm.speed_mps, vec_norm(b->out.intent.velocity));
        calm.moved_m = fmax(calm.moved_m, vec_norm(vec_sub(b->truth, at)));
    }
    return calm;
}

static void all(bool shaped, double noise_m)
{
    for (int s = 0; s < SQUEEZES; s++)
        for (int d = 0; d < DRIVERS; d++) {
            static struct bench b;
            b = (struct bench){.cfg = rooms_plain(), .random = {(uint64_t)(7 + s * DRIVERS + d)}, .noise_m = noise_m};
            b.cfg.presence_required = false;
            if (shaped)
                shape(&b.cfg);
            struct vec3 way = make(&b, (enum squeeze)s);
            struct calm calm = watch(&b, (enum driver)d, way);
            /* Of what noise makes of a squeeze (guard.h), and no more. */
            double speed = 2 * (noise_m + 1e-3) / (b.cfg.guard.latency_s + b.cfg.guard.lease_s);
            double moved = 2 * noise_m + 2e-3;
            bool trembles = noise_m > 0 || d == WANDERING;
            cr_assert_leq(calm.speed_mps, trembles ? speed : 1e-6, "squeeze %d driver %d: %.4f m/s", s, d,
                          calm.speed_mps);
            cr_assert_leq(calm.moved_m, moved, "squeeze %d driver %d: %.4f m", s, d, calm.moved_m);
            cr_assert_neq(b.out.guard.why, REASON_NONE);
            cr_assert(s != SUBJECT || b.truth.x < 3.2, "it did not squeeze past: %.3f", b.truth.x);
            cr_assert_leq(calm.fallbacks, MINUTE / 60, "squeeze %d driver %d: %d", s, d, calm.fallbacks);
        }
}

Test(policy_calm, without_noise_it_comes_to_rest, .timeout = 100)
{
    all(false, 0);
    all(true, 0);
}

Test(policy_calm, with_noise_it_moves_no_more_than_noise, .timeout = 100)
{
    all(false, 0.003);
    all(true, 0.003);
}
