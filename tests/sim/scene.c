/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene.h"

#include "gateway/rig/sim_statics.h"
#include "tests/sim/scene_room.h"

enum { STARTS = 60, PLACES = 60 };

#define REACTION_S    0.03 /* steps of the controller and the winches' own way of closing in, at most */
#define BRAKE_RESERVE 1.1  /* the rig brakes a little harder than it is sure to */

static void make_speeds(struct policy_config *cfg, struct random *r)
{
    struct guard_config *guard = &cfg->guard;
    struct lanes_config *lanes = &cfg->lanes;
    guard->brake_mps2 = lanes->brake_mps2 = 1.2 * exp(random_between(r, -1.8, 0));
    guard->speed_mps = random_between(r, 0.15, 1);
    for (int l = 0; l < LANE_COUNT; l++) {
        lanes->limits[l].speed_mps = guard->speed_mps * random_between(r, 0.4, 1.1);
        lanes->limits[l].accel_mps2 = guard->brake_mps2 * random_between(r, 0.3, 1);
    }
    lanes->max_nudge_m = random_between(r, 0.1, 1);
    lanes->goal_timeout_s = random_between(r, 1, 6);
}

static void make_limits(struct policy_config *cfg, struct random *r)
{
    struct guard_config *guard = &cfg->guard;
    guard->dt_s = cfg->lanes.dt_s = SCENE_STEP_S * SCENE_STEPS_A_TICK;
    guard->margin_m = random_between(r, 0.01, 0.04);
    guard->swing_max_rad = random_between(r, 0.1, 0.5);
    make_speeds(cfg, r);
    cfg->telemetry_timeout_ns = 1000000 * (uint64_t)(100 + random_below(r, 200));
    cfg->presence_timeout_ns = 1000000 * (uint64_t)(500 + random_below(r, 1500));
    cfg->presence_required = random_chance(r, 0.5);
    cfg->jump_mps = random_between(r, 2, 4);
}

/* Latency as promised, and a network that keeps to it. */
static void make_network(struct scene *s, struct random *r)
{
    struct guard_config *guard = &s->cfg.guard;
    enum fault fault = s->trouble.fault;
    double total = fault == FAULT_LATENCY ? random_between(r, 0.15, 0.3) : random_between(r, 0, 0.08);
    double there = total * random_between(r, 0, 1), jitter = fault == FAULT_REORDER ? 1 : random_between(r, 0, 0.3);
    s->lag_s = fault == FAULT_LAG ? random_between(r, 0.03, 0.12) : 0;
    s->to_rig = (struct post_way){there * (1 - jitter), there * jitter, 0, 0};
    s->to_core = (struct post_way){(total - there) * (1 - jitter), (total - there) * jitter, 0, 0};
    if (fault == FAULT_REORDER)
        s->to_rig.duplicate = s->to_core.duplicate = random_between(r, 0, 0.3);
    if (fault == FAULT_REORDER || random_chance(r, 0.3))
        s->to_rig.loss = s->to_core.loss = random_between(r, 0, 0.1);
    guard->latency_s = total + REACTION_S + 3 * s->lag_s;
    guard->lease_s = random_between(r, 0.1, 0.4);
    s->uneven = fault == FAULT_STALL ? random_between(r, 0.05, 0.5) : 0;
}

static void make_machine(struct scene *s, struct random *r)
{
    const struct volume_outline *o = &s->cfg.guard.volume.outline;
    double platform = random_between(r, 1.5, 4), body = random_between(r, 0.5, 3);
    double load = (platform + body) * SIM_GRAVITY, stiffest = 0.3 / SCENE_STEP_S * 0.3 / SCENE_STEP_S * platform;
    s->physics = (struct sim_physics_config){
        .cords = o->cords,
        .platform_kg = platform,
        .body_kg = body,
        .boom = {.length_m = o->boom_m, .damping = random_between(r, 0.01, 0.1)},
        .stiffness_npm = stiffest / o->cords * random_between(r, 0.6, 1),
        .damping_nspm = 0.3 / SCENE_STEP_S * platform / o->cords * random_between(r, 0.2, 0.5),
        .winch_speed_mps = 2 * s->cfg.guard.speed_mps,
        .winch_accel_mps2 = 8,
    };
    s->controller = (struct sim_controller_config){
        .cords = o->cords,
        .load_n = load,
        .floor_n = 0.12 * load,
        .ceiling_n = 10 * load,
        .stiffness_npm = s->physics.stiffness_npm,
        .brake_mps2 = BRAKE_RESERVE * s->cfg.guard.brake_mps2,
        .speed_mps = s->physics.winch_speed_mps,
        .astray_m = 0.25,
        .lease_ns = (uint64_t)(s->cfg.guard.lease_s * 1e9),
    };
    for (int i = 0; i < o->cords; i++)
        s->physics.anchor[i] = s->controller.anchor[i] = o->anchor[i];
}

/* The cords hold the load here with tension to spare. *slip_m: how far a load of brake_mps2 sideways moves the
 * platform, at most, on cords that give. */
static bool holds(const struct scene *s, struct vec3 p, double *slip_m)
{
    const struct sim_controller_config *c = &s->controller;
    struct vec3 u[VOLUME_MAX_CORDS], stiff = {0, 0, 0};
    double tension[VOLUME_MAX_CORDS];
    for (int i = 0; i < c->cords; i++) {
        u[i] = vec_sub(c->anchor[i], p);
        u[i] = vec_scale(u[i], 1 / vec_norm(u[i]));
        stiff = vec_add(stiff, (struct vec3){u[i].x * u[i].x, u[i].y * u[i].y, u[i].z * u[i].z});
    }
    double least = c->stiffness_npm * fmin(stiff.z, fmin(stiff.x, stiff.y));
    *slip_m = fmax(*slip_m, c->load_n / SIM_GRAVITY * c->brake_mps2 / least);
    if (!sim_statics_solve(c->cords, u, (struct vec3){0, 0, c->load_n}, 0.06 * c->load_n, 0, tension))
        return false;
    for (int i = 0; i < c->cords; i++)
        if (tension[i] > 0.5 * c->ceiling_n)
            return false;
    return true;
}

/* Everywhere on the stage, as far as samples tell: its corners above all. */
static bool carries(struct scene *s, struct random *r)
{
    const struct shape_prism *stage = &s->cfg.guard.volume.stage;
    double boom = s->cfg.guard.volume.outline.boom_m, lowest = stage->z_lo + boom;
    for (int i = 0; i < PLACES; i++) {
        int c = i % stage->corners;
        double in = i < 2 * stage->corners ? 1 : random_between(r, 0, 1);
        double z = i < stage->corners ? stage->z_hi : random_between(r, lowest, stage->z_hi);
        if (!holds(s, (struct vec3){in * stage->x[c], in * stage->y[c], z}, &s->slip_m))
            return false;
    }
    return true;
}

static bool find_start(struct scene *s, struct random *r)
{
    const struct guard_config *guard = &s->cfg.guard;
    struct guard_input at_rest = {.uncertainty_m = s->sense.uncertainty_m, .accel_mps2 = guard->brake_mps2};
    double margin = guard_margin(guard, &at_rest) + s->sense.uncertainty_m;
    for (int i = 0; i < STARTS; i++) {
        struct vec3 p = vec_add((struct vec3){0, 0, 1.5}, random_in_ball(r, 3));
        if (volume_clearance(&guard->volume, p).distance_m < margin)
            continue;
        s->start = p;
        return true;
    }
    return false;
}

/* Noise of one axis never passes 3.5 sigma (noise.h), so of the vector 6.1. */
static void make_sensors(struct scene *s, struct random *r)
{
    double most = s->cfg.guard.margin_m / 3, share = random_between(r, 0.1, 0.9);
    if (s->trouble.fault != FAULT_NOISE)
        most *= random_between(r, 0.1, 0.8);
    s->sense = (struct scene_sense){
        .sigma_m = most * share / 6.1,
        .bias = vec_scale(random_direction(r), most * (1 - share)),
        .uncertainty_m = most,
        .sigma_rad = random_between(r, 0, 0.002),
        .ticks_a_report = random_chance(r, 0.7) ? 1 : 1 + random_below(r, 5),
    };
}

static void make_trouble(struct scene *s, enum fault fault, struct random *r)
{
    struct scene_trouble *t = &s->trouble;
    t->fault = fault < FAULT_COUNT ? fault : (enum fault)random_below(r, FAULT_COUNT);
    t->begin = 300 + random_below(r, 1200);
    t->end = random_chance(r, 0.5) ? t->begin + 5 + random_below(r, 300) : 1 << 30;
    t->size = random_between(r, 0, 1);
    t->way = random_direction(r);
    t->watched = random_chance(r, 0.7);
}

void scene_make(struct scene *s, uint64_t seed, enum fault fault, struct random *r)
{
    struct policy_config *cfg = &s->cfg;
    *s = (struct scene){.seed = seed};
    make_trouble(s, fault, r);
    for (;;) {
        s->slip_m = 0;
        scene_room_make(&cfg->guard.volume, r);
        make_limits(cfg, r);
        make_network(s, r);
        make_machine(s, r);
        if (!carries(s, r) || s->slip_m > 0.03)
            continue;
        cfg->guard.margin_m += 3 * s->slip_m;
        make_sensors(s, r);
        if (policy_config_valid(cfg) && find_start(s, r))
            break;
    }
    s->trouble.cord = random_below(r, s->physics.cords);
}
