/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The guard and travel, whatever the room says: every clearance is anything, NaN and infinities too, so that no mistake
 * in the geometry can make the velocity something that is none or faster than allowed. Wish, position, ages and what
 * shaping made are anything; the config is as guard_config_valid wants it, within what a rig can be.
 *
 * analyse: policy/motion/guard.c policy/motion/guard_steer.c policy/motion/travel.c
 * options: -eva-precision 2 -eva-split-return-function guard_begin:full
 */
#include "policy/motion/guard.h"
#include "policy/motion/travel.h"
#include "tests/proof/rooms.h"

static struct volume_clearance any_clearance(void)
{
    ANY(struct volume_clearance, c);
    c.bound = (enum volume_bound)among(VOLUME_STAGE, VOLUME_TETHER_END);
    c.keepout = among(0, VOLUME_MAX_KEEPOUTS - 1);
    return c;
}

void volume_look(struct volume_near *near, const struct volume *volume, const struct volume_now *now, struct vec3 at,
                 double within_m)
{
    ANY(struct volume_near, seen);
    *near = seen;
    near->vol = volume;
    near->nearest = any_clearance();
    (void)now, (void)at, (void)within_m;
}

struct volume_clearance volume_clearance(const struct volume *volume, const struct volume_now *now,
                                         struct vec3 position)
{
    (void)volume, (void)now, (void)position;
    return any_clearance();
}

struct volume_clearance volume_path_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                              double enough)
{
    (void)near, (void)from, (void)to, (void)enough;
    return any_clearance();
}

struct volume_clearance volume_turned_clearance(const struct volume_near *near, struct vec3 from, struct vec3 to,
                                                double yaw_rad, double yaw_off_rad, double enough)
{
    (void)near, (void)from, (void)to, (void)yaw_rad, (void)yaw_off_rad, (void)enough;
    return any_clearance();
}

bool volume_valid(const struct volume *volume)
{
    (void)volume;
    return either();
}

static struct guard_config config(void)
{
    ANY(struct guard_config, cfg);
    struct volume_outline *o = &cfg.volume.outline;
    o->boom_m = between(0, 1e3);
    o->limbs = among(0, VOLUME_MAX_LIMBS);
    for (int i = 0; i < VOLUME_MAX_LIMBS; i++)
        o->limb[i] = (struct volume_limb){within_cube(1e3), within_cube(1e3), between(0, 1e3)};
    cfg.margin_m = between(0, 1e3);
    cfg.latency_s = between(0, 1e3);
    cfg.lease_s = between(1e-4, 1e3);
    cfg.brake_mps2 = between(1e-3, 1e3);
    cfg.speed_mps = between(1e-3, FASTEST);
    cfg.swing_max_rad = between(1e-3, 10);
    cfg.dt_s = between(1e-4, 1);
    return cfg;
}

/* The velocity sent last is one that was sent: no axis beyond the fastest that any config allows. */
static struct guard a_guard(void)
{
    return (struct guard){.velocity = a_velocity(1.001 * FASTEST), .settling = either()};
}

static void ticks(const struct guard_config *cfg, const struct guard_input *in, double elapsed_s)
{
    struct guard guard = a_guard();
    struct guard_tick tick;
    struct guard_way way;
    struct guard_output out;
    ANY(struct vec3, shaped);
    if (!guard_begin(cfg, &guard, in, &tick))
        return;
    guard_steer(&tick, &guard, &way);
    must_be_velocity(guard_next(&tick, &guard, elapsed_s, shaped), 1.001 * FASTEST);
    guard_prove(&tick, &guard, elapsed_s, &way, shaped, either(), &out);
    must_be_velocity(out.velocity, 1.001 * FASTEST);
    must_be_velocity(guard.velocity, 1.001 * FASTEST);
    must_hold((unsigned)out.why < REASON_COUNT);
    must_hold(out.keepout >= -1 && out.keepout < VOLUME_MAX_KEEPOUTS);
}

static void brakes(const struct guard_config *cfg, const struct guard_input *in, double elapsed_s)
{
    struct guard guard = a_guard();
    struct guard_output out;
    struct guard_input aged = *in;
    aged.age_s = between(0, 1e11); /* as a clock of 64 bits may say at most, in ns */
    guard_brake(cfg, &guard, elapsed_s, either() ? &aged : NULL, &out);
    must_be_velocity(out.velocity, 1.001 * FASTEST);
    must_be_velocity(guard.velocity, 1.001 * FASTEST);
    must_be_finite(out.braking_m);
    guard_init(&guard);
    must_hold(!guard.settling);
}

static void distances(void)
{
    double v = between(0, 2 * FASTEST), brake = between(1e-3, 1e3), dt = between(1e-4, 1);
    must_be_finite(travel_stop_distance(v, brake, dt));
    must_be_within(0, travel_speed_limit(between(-SHAPE_FAR_M, SHAPE_FAR_M), between(0, 1e3), brake, dt), 1e30);
}

static void turns(void)
{
    ANY(struct volume_near, near);
    struct volume_clearance block;
    double limit = between(0, 100);
    must_be_within(
        0,
        travel_turn(&near, somewhere(), somewhere(), between(-100, 100), among(-1, 1), between(0, 1e3), limit, &block),
        100);
}

int main(void)
{
    struct guard_config cfg = config();
    ANY(struct volume_now, now);
    ANY(struct guard_input, in);
    in.now = &now;
    double elapsed_s = between(0, 1e10);
    guard_config_valid(&cfg);
    ticks(&cfg, &in, elapsed_s);
    brakes(&cfg, &in, elapsed_s);
    distances();
    turns();
}
