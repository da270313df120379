/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The guard and travel, whatever the room says: every clearance is anything, NaN and infinities too, so that no mistake
 * in the geometry can make the velocity something that is none or faster than allowed. Wish, position, ages and what
 * shaping made are anything; the config is as guard_config_valid wants it, within what a rig can be.
 *
 * analyse: policy/motion/guard.c policy/motion/guard_path.c policy/motion/guard_steer.c policy/motion/travel.c
 * options: -eva-precision 2 -eva-split-return-function guard_begin:full
 */
#include "policy/motion/guard.h"
#include "policy/motion/travel.h"
#include "tests/proof/any_room.h"

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
    struct guard_config cfg = a_guard_config();
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
