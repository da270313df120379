/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_physics.h"

#define WINCH_GAIN    25.0 /* 1/s: how hard a winch closes a position error */
#define SHORTEST_BOOM 1e-3 /* m */

bool sim_physics_has_boom(const struct sim_physics_config *cfg)
{
    return cfg->boom.length_m >= SHORTEST_BOOM && cfg->body_kg > 0;
}

void sim_physics_init(const struct sim_physics_config *cfg, struct sim_physics *s, struct vec3 position,
                      const double rest_m[])
{
    *s = (struct sim_physics){.position = position};
    sim_pendulum_init(&s->swing);
    for (int i = 0; i < cfg->cords; i++) {
        s->rest_m[i] = s->told_m[i] = rest_m[i];
        s->length_m[i] = vec_norm(vec_sub(cfg->anchor[i], position));
        s->tension_n[i] = fmax(0, cfg->stiffness_npm * (s->length_m[i] - rest_m[i]));
    }
}

static double clip(double x, double limit)
{
    return x > limit ? limit : x < -limit ? -limit : x;
}

/* The speed at which winch i would go now. */
static double winch_wish(struct sim_physics *s, int i, const struct sim_winch_target *to, double dt)
{
    const struct sim_winch_fault *fault = &s->winch[i];
    double before = s->told_m[i];
    bool lags = fault->trouble == SIM_WINCH_LAGS && fault->lag_s > dt;
    s->told_m[i] += (to->rest_m[i] - before) * (lags ? dt / fault->lag_s : 1);
    if (s->braked || fault->trouble == SIM_WINCH_STICKS)
        return 0;
    if (fault->trouble == SIM_WINCH_RUNS_AWAY)
        return fault->rate_mps;
    double rate = lags ? (s->told_m[i] - before) / dt : to->rate_mps[i];
    return rate + WINCH_GAIN * (s->told_m[i] - s->rest_m[i]);
}

static void step_winches(const struct sim_physics_config *cfg, struct sim_physics *s, const struct sim_winch_target *to,
                         double dt)
{
    double accel = cfg->winch_accel_mps2 * (s->braked ? SIM_PHYSICS_BRAKE : 1);
    for (int i = 0; i < cfg->cords; i++) {
        double want = clip(winch_wish(s, i, to, dt), cfg->winch_speed_mps);
        s->rest_rate_mps[i] += clip(want - s->rest_rate_mps[i], accel * dt);
        s->rest_m[i] += s->rest_rate_mps[i] * dt;
    }
}

/* Sum of what pulls at the platform [N]: the cords, and what pushes it. */
static struct vec3 pull_of_cords(const struct sim_physics_config *cfg, struct sim_physics *s)
{
    struct vec3 sum = s->push_n;
    for (int i = 0; i < cfg->cords; i++) {
        struct vec3 to_anchor = vec_sub(cfg->anchor[i], s->position);
        double length = vec_norm(to_anchor);
        if (length < 1e-9)
            continue;
        struct vec3 u = vec_scale(to_anchor, 1 / length);
        double stretch = length - s->rest_m[i], stretch_rate = -vec_dot(u, s->velocity) - s->rest_rate_mps[i];
        double pull = cfg->stiffness_npm * stretch + cfg->damping_nspm * stretch_rate;
        s->length_m[i] = length;
        s->tension_n[i] = stretch > 0 && !s->parted[i] ? fmax(0, pull) : 0;
        sum = vec_along(sum, u, s->tension_n[i]);
    }
    return sum;
}

static struct vec3 platform_accel(const struct sim_physics_config *cfg, const struct sim_physics *s, struct vec3 pull)
{
    const struct vec3 gravity = {0, 0, -SIM_GRAVITY};
    double platform = cfg->platform_kg, body = cfg->body_kg, boom = cfg->boom.length_m;
    if (!sim_physics_has_boom(cfg))
        return vec_along(gravity, pull, 1 / (platform + body));
    struct vec3 n = s->swing.n, rate = s->swing.rate;
    double lambda = (boom * vec_dot(rate, rate) - vec_dot(n, pull) / platform) / (1 / body + 1 / platform);
    double friction = 2 * cfg->boom.damping * sqrt(SIM_GRAVITY / boom) * body * boom;
    struct vec3 force = vec_along(vec_along(pull, n, lambda), rate, friction);
    return vec_along(gravity, force, 1 / platform);
}

void sim_physics_step(const struct sim_physics_config *cfg, struct sim_physics *s, const struct sim_winch_target *to,
                      double dt)
{
    step_winches(cfg, s, to, dt);
    struct vec3 accel = platform_accel(cfg, s, pull_of_cords(cfg, s));
    if (sim_physics_has_boom(cfg))
        sim_pendulum_step(&cfg->boom, &s->swing, accel, dt);
    s->velocity = vec_along(s->velocity, accel, dt);
    s->position = vec_along(s->position, s->velocity, dt);
}

double sim_physics_max_dt(const struct sim_physics_config *cfg)
{
    double vibration = sqrt(cfg->cords * cfg->stiffness_npm / cfg->platform_kg);
    double decay = cfg->cords * cfg->damping_nspm / cfg->platform_kg;
    return 0.3 / fmax(vibration, decay);
}

struct vec3 sim_physics_body(const struct sim_physics_config *cfg, const struct sim_physics *s)
{
    return vec_along(s->position, s->swing.n, cfg->boom.length_m);
}

double sim_physics_swing(const struct sim_physics_config *cfg, const struct sim_physics *s)
{
    return sim_physics_has_boom(cfg) ? sim_pendulum_amplitude(&cfg->boom, &s->swing) : 0;
}

double sim_physics_energy(const struct sim_physics_config *cfg, const struct sim_physics *s)
{
    struct vec3 body = sim_physics_body(cfg, s);
    struct vec3 body_velocity = vec_along(s->velocity, s->swing.rate, cfg->boom.length_m);
    double sum = 0.5 * cfg->platform_kg * vec_dot(s->velocity, s->velocity) +
                 0.5 * cfg->body_kg * vec_dot(body_velocity, body_velocity) +
                 SIM_GRAVITY * (cfg->platform_kg * s->position.z + cfg->body_kg * body.z);
    for (int i = 0; i < cfg->cords; i++) {
        double stretch = vec_norm(vec_sub(cfg->anchor[i], s->position)) - s->rest_m[i];
        if (stretch > 0 && !s->parted[i])
            sum += 0.5 * cfg->stiffness_npm * stretch * stretch;
    }
    return sum;
}
