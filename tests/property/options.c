/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/property/options.h"

#define ROUNDING 1e-9

/* ---- Making ---- */

static void make_jerk(struct policy_config *cfg, struct random *r)
{
    for (int l = 0; l < LANE_COUNT; l++) {
        double build_s = random_between(r, 0.05, 1);
        for (int m = 0; m < LIMITS_MODES; m++)
            cfg->limits.cell[l][m].jerk_mps3 = cfg->limits.cell[l][m].accel_mps2 / build_s;
    }
}

static void make_shaper(struct policy_config *cfg, struct random *r)
{
    static const enum swing_shaper_kind kinds[] = {SWING_SHAPER_ZV, SWING_SHAPER_ZVD, SWING_SHAPER_EI};
    double boom = cfg->guard.volume.outline.boom_m;
    if (boom <= 0)
        return;
    struct swing_config swing = {.shaper = kinds[random_below(r, 3)],
                                 .mode = swing_shaper_mode(boom * random_between(r, 0.8, 1.2), 0.03),
                                 .share = 0.05,
                                 .dt_s = cfg->guard.dt_s};
    swing_make_plan(&swing, &cfg->swing);
}

/* The show's floor is above the stage's, and some keep-outs yield. */
static void make_modes(struct policy_config *cfg, struct random *r)
{
    struct volume *vol = &cfg->guard.volume;
    double high = vol->stage[0].z_hi - vol->stage[0].z_lo,
           floor = vol->stage[0].z_lo + random_between(r, 0, 0.4) * high;
    for (int l = 0; l < LANE_COUNT; l++) {
        cfg->limits.cell[l][LIMITS_SHOW].floor_m = cfg->limits.cell[l][LIMITS_SETUP].floor_m = floor;
        cfg->limits.cell[l][LIMITS_LOW].yields = true;
        cfg->limits.cell[l][LIMITS_LOW].speed_mps *= random_between(r, 0.3, 1);
        cfg->limits.cell[l][LIMITS_SETUP].speed_mps *= random_between(r, 0.3, 1);
    }
    for (int k = 0; k < vol->keepouts; k++)
        vol->keepout[k].yields = random_chance(r, 0.4);
    cfg->spotter_timeout_ns = 1000000 * (uint64_t)(200 + random_below(r, 500));
    cfg->limits.unseen_m = random_chance(r, 0.5) ? 0 : random_between(r, 0.1, 1);
}

static void make_zones(struct policy_config *cfg, struct random *r)
{
    const struct shape_prism *stage = &cfg->guard.volume.stage[0];
    cfg->zones = 1 + random_below(r, 3);
    for (int i = 0; i < cfg->zones; i++) {
        struct vec3 at = {random_between(r, 6, 14), random_between(r, 6, 14),
                          random_between(r, stage->z_lo, stage->z_hi)};
        struct vec3 half = {random_between(r, 0.2, 1.5), random_between(r, 0.2, 1.5), random_between(r, 0.2, 2)};
        cfg->zone[i].speed_mps = cfg->guard.speed_mps * random_between(r, 0.1, 0.7);
        cfg->zone[i].shape =
            (struct shape){.kind = SHAPE_BOX, .as.block = shape_block_turned(at, half, random_between(r, -3, 3), 0, 0)};
        if (random_chance(r, 0.3))
            cfg->zone[i].shape = (struct shape){.kind = SHAPE_SPHERE, .as.sphere = {at, half.x}};
    }
}

static void make_cords(struct policy_config *cfg, struct random *r)
{
    const struct volume_outline *o = &cfg->guard.volume.outline;
    if (o->cords < 3)
        return;
    struct anticipate_config *a = &cfg->anticipate;
    *a = (struct anticipate_config){.rig = {.cords = o->cords, .mass_kg = random_between(r, 1, 5)},
                                    .look_s = 0.3,
                                    .band_share = random_between(r, 0.05, 0.3),
                                    .trip_s = 0.2};
    for (int k = 0; k < o->cords; k++) {
        a->rig.anchor[k] = o->anchor[k];
        a->rig.min_n[k] = random_between(r, 0, 0.05) * a->rig.mass_kg;
        a->rig.max_n[k] = random_between(r, 30, 100) * a->rig.mass_kg;
    }
    cfg->anticipates = true;
}

static void make_head(struct room *room, struct random *r)
{
    struct policy_head *h = &room->cfg.head;
    struct head_config *c = &h->config;
    h->there = true;
    for (int i = 0; i < HEAD_AXES; i++) {
        double speed = random_between(r, 0.2, 1.5), accel = speed * random_between(r, 0.5, 4);
        double low = i == HEAD_ZOOM ? 1 : -random_between(r, 0.1, 3), high = low + random_between(r, 0.2, 5);
        c->axis[i] = (struct head_axis_config){low, high, random_between(r, low, high), {speed, accel, accel / 0.2}};
    }
    c->hfov_wide_rad = 1.2;
    c->latency_s = room->cfg.guard.latency_s;
    c->lease_s = room->cfg.guard.lease_s;
    c->arrived = 0.02 + 20 * c->latency_s * c->latency_s;
    c->rest_s = 0.5;
    c->recover_s = 20;
    c->dt_s = room->cfg.guard.dt_s;
    h->share[LANE_OPERATOR] = random_between(r, 0.2, 1);
    room->head_off = random_between(r, 0, 0.01);
}

static void make_locate(struct room *room, struct random *r)
{
    struct policy_config *cfg = &room->cfg;
    const struct guard_config *guard = &cfg->guard;
    double timeout_s = (double)cfg->telemetry_timeout_ns * 1e-9;
    cfg->locates = true;
    cfg->locate = (struct locate_config){
        .accel_mps2 = 1.05 * guard->brake_mps2,
        .speed_mps = 1.2 * guard->speed_mps,
        .tilt_rad = 0.7,
        .pose_bias_m = vec_norm(room->bias),
        .age_max_s = 2,
        .coast_s = timeout_s,
        .again_s = timeout_s,
        .memory_s = 5,
        .frozen_s = 3,
        .frozen_m = 2 + guard->speed_mps * (guard->latency_s + guard->lease_s + 2),
        .uncertainty_max_m = random_between(r, 1, 10),
    };
}

void options_make(struct room *room, struct random *r)
{
    if (random_chance(r, 0.35))
        return; /* as plain as can be */
    if (random_chance(r, 0.5))
        make_jerk(&room->cfg, r);
    if (random_chance(r, 0.5))
        make_shaper(&room->cfg, r);
    if (random_chance(r, 0.5))
        make_modes(&room->cfg, r);
    if (random_chance(r, 0.5))
        make_zones(&room->cfg, r);
    if (random_chance(r, 0.3))
        make_cords(&room->cfg, r);
    if (random_chance(r, 0.4))
        make_head(room, r);
    if (random_chance(r, 0.3))
        make_locate(room, r);
}

struct volume_now options_usual(const struct policy_config *cfg)
{
    struct volume_now now = volume_now_usual();
    now.floor_m = cfg->limits.cell[LANE_IDLE][LIMITS_SHOW].floor_m;
    return now;
}

/* ---- Checking ---- */

static double loosest(const struct policy_config *cfg, bool jerk)
{
    double most = 0;
    for (int l = 0; l < LANE_COUNT; l++)
        for (int m = 0; m < LIMITS_MODES; m++)
            most = fmax(most, jerk ? cfg->limits.cell[l][m].jerk_mps3 : cfg->limits.cell[l][m].accel_mps2);
    return most;
}

static bool looser(const struct limits *a, const struct limits *b)
{
    return a->speed_mps > b->speed_mps || a->accel_mps2 > b->accel_mps2 || a->jerk_mps3 > b->jerk_mps3 ||
           a->floor_m < b->floor_m || a->ceiling_m > b->ceiling_m;
}

bool options_tighten(struct run *run, const struct policy_output *out)
{
    struct limits *last = &run->last_limits[out->lane][out->mode];
    bool running = out->stop_state == STOP_RUNNING;
    if (!running)
        run->limits_seen = 0;
    unsigned bit = 1u << (out->lane * LIMITS_MODES + (unsigned)out->mode);
    bool good = !(run->limits_seen & bit) || !looser(&out->limits, last);
    run->limits_seen |= running ? bit : 0;
    *last = out->limits;
    return good;
}

bool options_smooth(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    const struct policy_config *cfg = &run->room.cfg;
    double elapsed_s = (double)(in->now_ns - run->last_ns) * 1e-9, speed = vec_norm(out->intent.velocity);
    struct vec3 gained = vec_sub(out->intent.velocity, run->last_velocity);
    bool planned = fabs(elapsed_s - cfg->guard.dt_s) < 1e-9;
    /* Jerk limits that are tightened while it speeds up may let it run into the greatest speed of all. */
    bool topped = speed > cfg->guard.speed_mps * (1 - ROUNDING);
    bool braked = out->guard.braked || run->policy.shape.braking || !planned || topped;
    double accel_mps2 = vec_norm(gained) / cfg->guard.dt_s;
    struct vec3 accel = vec_scale(gained, 1 / cfg->guard.dt_s);
    double jerk = vec_norm(vec_sub(accel, run->last_accel)) / cfg->guard.dt_s;
    bool smooth = run->room.uneven > 0 || run->calm_ticks < 3 || braked ||
                  (accel_mps2 <= loosest(cfg, false) + 1e-6 && jerk <= loosest(cfg, true) * (1 + 1e-6) + 1e-6);
    run->calm_ticks = braked ? 0 : run->calm_ticks + 1;
    run->last_accel = accel;
    double most = fmax(out->limits.speed_mps, vec_norm(run->last_velocity)); /* it may come from wider limits */
    return smooth && vec_norm(out->wanted) <= out->limits.speed_mps + ROUNDING &&
           (cfg->swing.taps > 1 || loosest(cfg, true) < LIMITS_JERK_FREE || speed <= most + ROUNDING);
}

static struct vec3 hanging(const struct run *run)
{
    struct vec3 body = run->rig.platform;
    body.z -= run->room.cfg.guard.volume.outline.boom_m;
    return body;
}

bool options_slow(const struct run *run)
{
    const struct policy_config *cfg = &run->room.cfg;
    double radius = cfg->guard.volume.outline.limb[0].radius_m, speed = vec_norm(run->rig.velocity);
    for (int i = 0; i < cfg->zones; i++) {
        if (shape_distance(&cfg->zone[i].shape, hanging(run)) < radius && speed > cfg->zone[i].speed_mps + 1e-6)
            return false;
    }
    return true;
}

/* Of the hanging body and the boom to the floor of the show, and of all of it to what yields. */
static double left_without_spotter(const struct run *run, struct vec3 platform)
{
    const struct volume *vol = &run->room.cfg.guard.volume;
    struct vec3 body = platform;
    body.z -= vol->outline.boom_m;
    double low = body.z - vol->outline.limb[0].radius_m - run->room.cfg.limits.cell[LANE_IDLE][LIMITS_SHOW].floor_m;
    return fmin(low, judge_yielding(vol, platform, body));
}

bool options_low(struct run *run, const struct policy_input *in, const struct policy_output *out)
{
    double left = left_without_spotter(run, run->rig.platform), before = run->least_left;
    bool low = run->room.cfg.spotter_timeout_ns > 0 && in->spotter_ns != 0 && !in->setup &&
               in->now_ns - in->spotter_ns <= run->room.cfg.spotter_timeout_ns;
    if (low != (out->mode == LIMITS_LOW))
        return false;
    double grace_s = run->room.cfg.guard.latency_s + 2 * run->room.cfg.guard.lease_s +
                     run->room.cfg.guard.speed_mps / run->room.cfg.guard.brake_mps2 + 0.2;
    run->since_low_s = low ? 0 : run->since_low_s + (double)(run->rig.now_ns - run->last_ns) * 1e-9;
    if (low || (run->excused && run->since_low_s < grace_s)) {
        run->excused = true;
        run->least_left = left;
        return true;
    }
    double kept = run->room.cfg.guard.margin_m;
    if (run->excused && out->guard.margin_m > 0 && left >= out->guard.margin_m + 2 * run->room.uncertainty_m)
        run->excused = false;
    run->least_left = run->excused ? fmax(before, left - 2e-3 - 2 * run->room.uncertainty_m) : left;
    return run->excused ? left >= before - 2e-3 - 2 * run->room.uncertainty_m || left >= kept : left >= kept;
}

bool options_head(struct run *run, const struct policy_output *out)
{
    const struct head_config *c = &run->room.cfg.head.config;
    double elapsed_s = (double)(run->rig.now_ns - run->last_ns) * 1e-9; /* braking takes all of a late tick */
    bool good = true;
    for (int i = 0; i < HEAD_AXES && run->room.cfg.head.there; i++) {
        double rate = out->intent.head_rate[i], change = fabs(rate - run->last_head_rate[i]);
        double off = 2 * run->room.head_off + c->axis[i].limits.speed * c->dt_s + 1e-6;
        good = good && fabs(rate) <= c->axis[i].limits.speed + ROUNDING &&
               change <= c->axis[i].limits.accel * fmax(elapsed_s, c->dt_s) + ROUNDING;
        bool within = run->rig.head[i] >= c->axis[i].min - off && run->rig.head[i] <= c->axis[i].max + off;
        good = good && within;
        run->last_head_rate[i] = rate;
    }
    return good;
}
