/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/bounds.h"

#define ROUNDING 1e-9
/* Acceleration and jerk are those of the limits so long after anything else (a shaper echoes it), and speed so long
 * after, and the time to brake. */
#define EASED_S  2.0
#define SLOWED_S 4.0
#define SLACK_S  1.0  /* a cord may bounce, but not hang through */
#define INSIDE_M 0.01 /* a zone counts where the body is so much in it, and what the cords give */

static const struct check_fault holds = {CHECK_COUNT, 0, 0};

static struct check_fault broken(double value, double limit)
{
    return (struct check_fault){CHECK_BOUNDED, value, limit};
}

static bool finite_output(const struct policy_output *out)
{
    bool finite = vec_finite(out->intent.velocity) && vec_finite(out->wanted) && vec_finite(out->goal) &&
                  isfinite(out->guard.margin_m) && isfinite(out->guard.braking_m) &&
                  isfinite(out->guard.nearest.distance_m);
    for (int i = 0; i < out->intent.cords; i++)
        finite = finite && isfinite(out->intent.cord_rate_mps[i]) && isfinite(out->intent.cord_tension_n[i]);
    for (int i = 0; i < HEAD_AXES; i++)
        finite = finite && isfinite(out->intent.head_rate[i]);
    for (int i = 0; i < REASON_COUNT; i++)
        finite = finite && isfinite(out->detail[i].value) && isfinite(out->detail[i].limit);
    return finite;
}

static bool same_limits(const struct limits *a, const struct limits *b)
{
    return a->speed_mps == b->speed_mps && a->accel_mps2 == b->accel_mps2 && a->jerk_mps3 == b->jerk_mps3;
}

/* How long motion has been ordinary. */
static double ordinary_s(struct run *run, const struct policy_output *out)
{
    struct run_account *a = &run->account;
    bool on_time = fabs(a->elapsed_s - run->scene.cfg.guard.dt_s) < ROUNDING;
    bool same = out->lane == a->lane && out->mode == a->mode && same_limits(&out->limits, &a->limits);
    bool ordinary = out->intent.motion && !out->guard.braked && on_time && same;
    a->ordinary_s = ordinary ? a->ordinary_s + a->elapsed_s : 0;
    a->lane = out->lane;
    a->mode = out->mode;
    a->limits = out->limits;
    return a->ordinary_s;
}

static struct check_fault in_force(struct run *run, const struct policy_output *out)
{
    const struct limits *l = &out->limits;
    double for_s = ordinary_s(run, out), dt = run->scene.cfg.guard.dt_s, speed = vec_norm(out->intent.velocity);
    struct vec3 change = vec_sub(out->intent.velocity, run->account.sent);
    double accel = vec_norm(change) / dt, jerk = vec_norm(vec_sub(change, run->account.change)) / dt / dt;
    double brakes_s = run->scene.cfg.guard.speed_mps / l->accel_mps2 + l->accel_mps2 / l->jerk_mps3;
    if (for_s > SLOWED_S + brakes_s && speed > l->speed_mps + 1e-6)
        return broken(speed, l->speed_mps);
    if (for_s > EASED_S + l->accel_mps2 / l->jerk_mps3 && accel > l->accel_mps2 + 1e-6)
        return broken(accel, l->accel_mps2);
    if (for_s > EASED_S + l->accel_mps2 / l->jerk_mps3 && jerk > l->jerk_mps3 * (1 + 1e-6) + 1e-6)
        return broken(jerk, l->jerk_mps3);
    return holds;
}

struct check_fault bounds_tick(struct run *run, const struct policy_output *out)
{
    const struct policy_config *cfg = &run->scene.cfg;
    double speed = vec_norm(out->intent.velocity), before = vec_norm(run->account.sent);
    double change = vec_norm(vec_sub(out->intent.velocity, run->account.sent));
    double braking = cfg->guard.brake_mps2 * run->account.elapsed_s;
    if (!finite_output(out))
        return broken((double)NAN, 0);
    if (!(speed <= cfg->guard.speed_mps + ROUNDING))
        return broken(speed, cfg->guard.speed_mps);
    if (!(change <= braking + ROUNDING))
        return broken(change, braking);
    if (!out->intent.motion && speed > before + ROUNDING)
        return broken(speed, before);
    for (int i = 0; i < HEAD_AXES; i++) {
        double most = cfg->head.there ? cfg->head.config.axis[i].limits.speed : 0;
        if (fabs(out->intent.head_rate[i]) > most + ROUNDING)
            return broken(out->intent.head_rate[i], most);
    }
    return in_force(run, out);
}

static struct check_fault in_zones(const struct run *run)
{
    const struct policy_config *cfg = &run->scene.cfg;
    const struct volume_outline *o = &cfg->guard.volume.outline;
    struct vec3 body = run->machine.physics.position;
    double reach = 0, speed = vec_norm(run->machine.controller.velocity);
    body.z -= o->boom_m;
    for (int i = 0; i < o->limbs; i++)
        reach = fmax(reach, fmax(vec_norm(o->limb[i].a), vec_norm(o->limb[i].b)) + o->limb[i].radius_m);
    for (int i = 0; i < cfg->zones; i++) {
        double left = truth_shape(&cfg->zone[i].shape, body) - reach;
        if (left < -INSIDE_M - run->scene.slip_m && speed > cfg->zone[i].speed_mps + 1e-3)
            return broken(speed, cfg->zone[i].speed_mps);
    }
    return holds;
}

struct check_fault bounds_truth(const struct run *run)
{
    struct check_fault found = in_zones(run);
    for (int i = 0; i < run->scene.physics.cords && run->scene.wide; i++)
        if (run->notice.slack_s[i] > SLACK_S)
            found = broken(run->notice.slack_s[i], SLACK_S);
    return found;
}
