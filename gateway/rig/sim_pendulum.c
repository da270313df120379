/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_pendulum.h"

void sim_pendulum_init(struct sim_pendulum *p)
{
    p->n = (struct vec3){0, 0, -1};
    p->rate = (struct vec3){0, 0, 0};
}

static double omega(const struct sim_pendulum_config *cfg)
{
    return sqrt(SIM_GRAVITY / cfg->length_m);
}

static struct vec3 across(struct vec3 n, struct vec3 a)
{
    return vec_along(a, n, -vec_dot(n, a));
}

/* Moves n along its great circle by |rate| dt and carries the rate along. */
static void rotate(struct sim_pendulum *p, double dt)
{
    double speed = vec_norm(p->rate), angle = speed * dt;
    if (speed < 1e-12)
        return;
    struct vec3 ahead = vec_scale(p->rate, 1 / speed), n = p->n;
    p->n = vec_along(vec_scale(n, cos(angle)), ahead, sin(angle));
    p->n = vec_scale(p->n, 1 / vec_norm(p->n)); /* rounding only */
    p->rate = across(p->n, vec_along(vec_scale(p->rate, cos(angle)), n, -speed * sin(angle)));
}

void sim_pendulum_step(const struct sim_pendulum_config *cfg, struct sim_pendulum *p, struct vec3 pivot_accel,
                       double dt)
{
    struct vec3 pull = vec_sub((struct vec3){0, 0, -SIM_GRAVITY}, pivot_accel);
    struct vec3 kick = vec_scale(across(p->n, pull), 1 / cfg->length_m);
    kick = vec_along(kick, p->rate, -2 * cfg->damping * omega(cfg));
    p->rate = vec_along(p->rate, kick, dt);
    rotate(p, dt);
}

double sim_pendulum_angle(const struct sim_pendulum *p)
{
    return atan2(hypot(p->n.x, p->n.y), -p->n.z);
}

double sim_pendulum_amplitude(const struct sim_pendulum_config *cfg, const struct sim_pendulum *p)
{
    return hypot(sim_pendulum_angle(p), vec_norm(p->rate) / omega(cfg));
}
