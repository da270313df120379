/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The simulated machine: N cords from winches to a platform (a point mass), and the camera body swinging below it on
 * its boom. Pure and deterministic: no I/O, no clock, no allocation; the caller steps it.
 *
 * Cord i pulls with t_i = max(0, k (l_i - r_i) + c (dl_i/dt - dr_i/dt)) while it is longer than its paid-out rest
 * length r_i, else it is slack: cords never push. Platform (mass M, position p) and body (mass m, at p + L n):
 *
 *   M p'' = F + M g + lambda n - f        F = sum t_i u_i + push        lambda = (L |n'|^2 - n . F / M) / (1/m + 1/M)
 *
 * With the brakes set every winch stands still, whatever it is told and whatever is wrong with its drive; they come to
 * that SIM_PHYSICS_BRAKE times as hard as the drives can, as a drum's brake does.
 *
 * lambda is the pull of the boom, from n . (q'' - p'') = -L |n'|^2; f = -2 zeta omega m L n' is the friction of the
 * swing, equal and opposite on both ends. Integrated semi-implicitly (velocities first, then positions with them).
 */
#ifndef STEADYHAND_RIG_SIM_PHYSICS_H
#define STEADYHAND_RIG_SIM_PHYSICS_H

#include "gateway/rig/sim_faults.h"
#include "gateway/rig/sim_pendulum.h"
#include "policy/motion/volume.h"

#define SIM_PHYSICS_BRAKE 10.0

struct sim_physics_config {
    int cords; /* 3 .. VOLUME_MAX_CORDS */
    struct vec3 anchor[VOLUME_MAX_CORDS];
    double platform_kg;                       /* > 0 */
    double body_kg;                           /* >= 0 */
    struct sim_pendulum_config boom;          /* under 1 mm long: the body rides on the platform */
    double stiffness_npm, damping_nspm;       /* of a cord; > 0, >= 0 */
    double winch_speed_mps, winch_accel_mps2; /* > 0 */
};

struct sim_physics {
    struct vec3 position, velocity; /* of the platform */
    struct sim_pendulum swing;
    double rest_m[VOLUME_MAX_CORDS], rest_rate_mps[VOLUME_MAX_CORDS]; /* what the winches have paid out */
    double length_m[VOLUME_MAX_CORDS], tension_n[VOLUME_MAX_CORDS];   /* as of the last step */
    double told_m[VOLUME_MAX_CORDS];                                  /* where each winch thinks it is to go */
    bool braked;                                                      /* these are set by the caller: brakes, */
    bool parted[VOLUME_MAX_CORDS];                                    /* a cord that parts, */
    struct sim_winch_fault winch[VOLUME_MAX_CORDS];                   /* a winch that fails, */
    struct vec3 push_n;                                               /* and something pushes the platform */
};

/* Where the controller wants the winches. */
struct sim_winch_target {
    double rest_m[VOLUME_MAX_CORDS], rate_mps[VOLUME_MAX_CORDS];
};

/* At rest at `position` with these rest lengths, the body hanging plumb. */
void sim_physics_init(const struct sim_physics_config *cfg, struct sim_physics *s, struct vec3 position,
                      const double rest_m[]);

/* dt: at most sim_physics_max_dt(). */
void sim_physics_step(const struct sim_physics_config *cfg, struct sim_physics *s, const struct sim_winch_target *to,
                      double dt);

/* The longest step that is stable with a wide margin: 0.3 of the fastest vibration and of the fastest decay. */
double sim_physics_max_dt(const struct sim_physics_config *cfg);

bool sim_physics_has_boom(const struct sim_physics_config *cfg);
struct vec3 sim_physics_body(const struct sim_physics_config *cfg, const struct sim_physics *s);
double sim_physics_swing(const struct sim_physics_config *cfg, const struct sim_physics *s); /* amplitude [rad] */

/* Kinetic, potential and elastic together [J]; with the winches still it can only fall. */
double sim_physics_energy(const struct sim_physics_config *cfg, const struct sim_physics *s);

#endif
