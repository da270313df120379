/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The wish, shaped so that following it leaves the body hanging still: a convolution with an input shaper
 * (swing_shaper.h) at the fixed tick.
 *
 * It acts on the *wish*, after the lane's limits and before the guard:
 *
 *   lanes, profile -> swing_step -> guard
 *
 * A stop is never delayed: stopping and the guard's proven braking look at no wish, and while motion is forbidden the
 * caller holds swing_reset(.., what the guard sent), so that nothing old is left to come out later. A wish to stay that
 * is no stop takes the shaper's length longer to come true (half a swing for ZV, a whole one for ZVD and EI), and the
 * guard proves the path of what comes out, as always.
 *
 * What comes out is a mean of the wishes in the window with weights > 0 that add up to at most 1. So no speed is above
 * the greatest wished for in the window, and no acceleration and no jerk above that of the wishes: limit them before,
 * not behind, where a limit would undo the shaping.
 *
 * Ticks: an impulse that falls between two is split over both, so that a body that swings like the model does not feel
 * the difference. With f in 0..1 how far it is to the next tick, omega_d and sigma = zeta omega of the model:
 *   this tick  A exp(sigma f dt) sin(omega_d (1-f) dt) / sin(omega_d dt)
 *   next tick  A exp(-sigma (1-f) dt) sin(omega_d f dt) / sin(omega_d dt)
 * (two real equations: a + b exp(-s dt) = A exp(-s f dt) at the model's pole s), then all divided by their sum. The
 * residual vibration at the model's own frequency is that of the shaper (ZV, ZVD: none). At another frequency omega' it
 * is more by at most |omega'^2 - omega^2| dt^2 / 8 (the second difference of exp), which is 5e-5 for a boom of 0.5 m at
 * 100 Hz and a frequency off by 10 %; weights of 1-f and f would leave up to omega^2 dt^2 / 8 everywhere.
 *
 * A pure function of plan, state and wish: no I/O, no clock, no allocation; the caller owns both. swing_step costs the
 * same every tick.
 */
#ifndef STEADYHAND_MOTION_SWING_H
#define STEADYHAND_MOTION_SWING_H

#include "policy/motion/swing_shaper.h"
#include "policy/motion/vec.h"

enum {
    SWING_WINDOW = 1024, /* ticks a shaper may last: 10 s at 100 Hz, a boom of 25 m */
    SWING_TAPS = 2 * SWING_SHAPER_IMPULSES
};

#define SWING_TICK_MAX 0.5 /* omega dt: twelve ticks a swing */

struct swing_config {
    enum swing_shaper_kind shaper; /* with NONE nothing else is looked at */
    struct swing_mode mode;
    double share; /* EI only: residual vibration that is put up with, 0.005 .. 0.2 */
    double dt_s;  /* > 0: tick */
};

enum swing_fault {
    SWING_OK,
    SWING_BAD_SHAPER,
    SWING_BAD_MODE,
    SWING_BAD_SHARE,
    SWING_BAD_TICK,    /* not above 0, or fewer than twelve ticks a swing */
    SWING_TOO_LONG,    /* the shaper does not fit into SWING_WINDOW ticks */
    SWING_NO_SOLUTION, /* EI's equations; not seen within the ranges */
    SWING_FAULTS
};

/* Made once; constant while a show runs. */
struct swing_plan {
    struct swing_shaper shaper; /* as designed, before it was put on ticks */
    int taps;
    int delay[SWING_TAPS]; /* ticks, 0 .. SWING_WINDOW - 1, rising */
    double weight[SWING_TAPS];
};

struct swing {
    struct vec3 wish[SWING_WINDOW]; /* m/s, a ring */
    struct vec3 before;             /* m/s, counts as every wish older than the reset */
    int next, filled;               /* slot of the next wish; how many there are since the reset */
};

/* On any fault *plan passes wishes through unshaped. */
enum swing_fault swing_make_plan(const struct swing_config *cfg, struct swing_plan *plan);

/* One sentence: what is wrong and what to do. */
const char *swing_fault_text(enum swing_fault fault);

/* As if `velocity` [m/s] had been wished for ever: swing_step goes on from there without a step. Before the first
 * step, and for as long as motion is forbidden, with what was sent last. Not finite counts as zero. */
void swing_reset(struct swing *swing, struct vec3 velocity);

/* One tick: takes the wish [m/s] in, gives the shaped one out. A wish that is not finite counts as zero, in all axes.
 * The output is finite whatever comes in. */
struct vec3 swing_step(const struct swing_plan *plan, struct swing *swing, struct vec3 wish);

/* V (swing_shaper.h) of what is really played, ticks and all. */
double swing_residual(const struct swing_plan *plan, struct swing_mode mode, double dt_s);

#endif
