/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The shaper and the watch over the swing: any config makes a plan that can be played, any wish and any tilt comes out
 * as a number. A ring is as swing_reset and swing_step leave it.
 *
 * analyse: policy/motion/swing.c policy/motion/swing_shaper.c policy/motion/swing_ei.c policy/motion/swing_watch.c
 * options: -eva-precision 1 -eva-min-loop-unroll 7 -eva-plevel 2000
 */
#include "policy/motion/swing.h"
#include "policy/motion/swing_watch.h"
#include "tests/proof/rooms.h"

static void must_be_playable(const struct swing_plan *plan)
{
    must_hold(plan->taps >= 0 && plan->taps <= SWING_TAPS);
    for (int i = 0; i < SWING_TAPS; i++)
        must_hold(plan->delay[i] >= 0 && plan->delay[i] < SWING_WINDOW);
}

static void plans(void)
{
    ANY(struct swing_config, cfg);
    ANY(enum swing_fault, fault);
    struct swing_plan plan;
    must_hold((unsigned)swing_make_plan(&cfg, &plan) < SWING_FAULTS);
    must_be_playable(&plan);
    must_hold(*swing_fault_text(fault) != 0);
}

static void plays(void)
{
    struct swing_plan plan = {.taps = among(0, SWING_TAPS)};
    struct swing swing;
    ANY(struct vec3, wish);
    ANY(struct vec3, velocity);
    for (int i = 0; i < SWING_TAPS; i++) {
        plan.delay[i] = among(0, SWING_WINDOW - 1);
        plan.weight[i] = between(0, 1);
    }
    //@ loop unroll SWING_WINDOW;
    for (int i = 0; i < SWING_WINDOW; i++)
        swing.wish[i] = within_cube(1e100);
    swing.before = within_cube(1e100);
    swing.next = among(0, SWING_WINDOW - 1);
    swing.filled = among(0, SWING_WINDOW);
    wish = isfinite(vec_norm(wish)) ? wish : velocity;
    MUST_BE_FINITE3(swing_step(&plan, &swing, within_cube(1e100)));
    must_hold(swing.next >= 0 && swing.next < SWING_WINDOW);
    must_hold(swing.filled >= 0 && swing.filled <= SWING_WINDOW);
    swing_step(&plan, &swing, wish);
    swing_reset(&swing, velocity);
    MUST_BE_FINITE3(swing.before);
    must_hold(swing.next == 0 && swing.filled == 0);
}

static void watches(void)
{
    ANY(struct swing_watch, watch);
    ANY(struct swing_tilt, tilt);
    ANY(double, elapsed_s);
    ANY(double, accel_x);
    ANY(double, accel_y);
    struct swing_watch_config cfg = {.mode = {between(1e-2, 1e3), between(0, SWING_SHAPER_DAMPING_MAX)}};
    cfg.zero = (struct swing_tilt){between(-1.57, 1.57), between(-1.57, 1.57)};
    cfg.settle_rad = between(1e-6, 1);
    cfg.unsettle_rad = between(1e-6, 1);
    watch.x = (struct swing_watch_axis){between(-10, 10), between(-10, 10)};
    watch.y = (struct swing_watch_axis){between(-10, 10), between(-10, 10)};
    watch.amplitude_rad = between(0, 100);
    watch.since_s = between(0, 1e3);
    watch.watched_s = between(0, 1e3);
    watch.quiet_s = between(0, 1e3);
    if (either())
        swing_watch_init(&watch);
    swing_watch_config_valid(&cfg);
    swing_watch_add(&cfg, &watch, tilt, elapsed_s, accel_x, accel_y);
    must_be_within(-10, watch.x.q, 10);
    must_be_within(-10, watch.x.u, 10);
    must_be_within(-10, watch.y.q, 10);
    must_be_within(-10, watch.y.u, 10);
    must_be_within(0, watch.amplitude_rad, 100);
}

int main(void)
{
    plans();
    plays();
    watches();
}
