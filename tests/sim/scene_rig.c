/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene_rig.h"

#include "gateway/rig/sim_statics.h"

enum { PLACES = 60, QUICK_CORDS = 5 };

#define TICK_S        (SCENE_STEP_S * SCENE_STEPS_A_TICK)
#define REACTION_S    0.03 /* steps of the controller and the winches' own way of closing in, at most */
#define PRETENSION    0.05 /* of the load; the stage is where every cord can have that */
#define WORKING_LIMIT 2.5  /* of a cord, in loads */
#define BRAKE_RESERVE 1.1  /* the rig brakes a little harder than it is sure to, but in tight scenes */

void scene_rig_network(struct scene *s, struct random *r)
{
    struct guard_config *guard = &s->cfg.guard;
    enum fault fault = s->trouble.fault;
    double total = fault == FAULT_LATENCY ? random_between(r, 0.15, 0.3) : random_between(r, 0, s->tight ? 0.01 : 0.08);
    double there = total * random_between(r, 0, 1), jitter = fault == FAULT_REORDER ? 1 : random_between(r, 0, 0.3);
    s->lag_s = fault == FAULT_LAG ? random_between(r, 0.03, 0.12) : 0;
    s->to_rig = (struct post_way){there * (1 - jitter), there * jitter, 0, 0};
    s->to_core = (struct post_way){(total - there) * (1 - jitter), (total - there) * jitter, 0, 0};
    if (fault == FAULT_REORDER)
        s->to_rig.duplicate = s->to_core.duplicate = random_between(r, 0, 0.3);
    if (fault == FAULT_REORDER || (!s->tight && random_chance(r, 0.3)))
        s->to_rig.loss = s->to_core.loss = random_between(r, 0, 0.1);
    guard->latency_s = total + REACTION_S + 3 * s->lag_s;

    bool brief = s->to_rig.loss == 0 && (s->tight || random_chance(r, 0.5)); /* little may be under way */
    guard->lease_s = total + (brief ? random_between(r, 0.03, 0.08) : random_between(r, 0.1, 0.4));
    s->cfg.head.config.latency_s = total + REACTION_S + s->head.latency_s;
    s->cfg.head.config.lease_s = guard->lease_s;
    s->uneven = fault == FAULT_STALL ? random_between(r, 0.05, 0.5) : 0;
    s->ticks_a_report = random_chance(r, 0.7) ? 1 : 1 + random_below(r, 5);
}

static void make_controller(struct scene *s)
{
    double load = (s->physics.platform_kg + s->physics.body_kg) * SIM_GRAVITY;
    s->controller = (struct sim_controller_config){
        .cords = s->physics.cords,
        .load_n = load,
        .floor_n = PRETENSION * load,
        .ceiling_n = 10 * load,
        .stiffness_npm = s->physics.stiffness_npm,
        .brake_mps2 = (s->tight ? 1 : BRAKE_RESERVE) * s->cfg.guard.brake_mps2,
        .speed_mps = s->physics.winch_speed_mps,
        .astray_m = 0.25,
        .lease_ns = (uint64_t)(s->cfg.guard.lease_s * 1e9),
    };
    for (int i = 0; i < s->physics.cords; i++)
        s->controller.anchor[i] = s->physics.anchor[i];
}

static void make_tension_limits(struct scene *s, struct random *r)
{
    struct anticipate_config *a = &s->cfg.anticipate;
    double load = s->controller.load_n;
    s->cfg.anticipates = random_chance(r, 0.7);
    *a = (struct anticipate_config){.look_s = random_between(r, 0.1, 0.5),
                                    .band_share = random_between(r, 0.02, 0.2),
                                    .trip_s = random_between(r, 0.05, 0.09)};
    a->rig.cords = s->physics.cords;
    a->rig.mass_kg = load / SIM_GRAVITY;
    for (int i = 0; i < s->physics.cords; i++) {
        a->rig.anchor[i] = s->physics.anchor[i];
        a->rig.min_n[i] = 0.3 * PRETENSION * load;
        a->rig.max_n[i] = WORKING_LIMIT * load;
    }
}

void scene_rig_machine(struct scene *s, struct random *r)
{
    const struct volume_outline *o = &s->cfg.guard.volume.outline;
    double platform = random_between(r, 1.5, 4), decay = 0.3 / SCENE_STEP_S * platform / o->cords;
    s->physics = (struct sim_physics_config){
        .cords = o->cords,
        .platform_kg = platform,
        .body_kg = random_between(r, 0.5, 3),
        .boom = {.length_m = o->boom_m, .damping = random_between(r, 0.01, 0.1)},
        .stiffness_npm = 0.3 / SCENE_STEP_S * decay * random_between(r, 0.6, 1),
        .damping_nspm = decay * random_between(r, 0.2, 0.5),
        .winch_speed_mps = 2 * s->cfg.guard.speed_mps,
        .winch_accel_mps2 = 8,
    };
    for (int i = 0; i < o->cords; i++)
        s->physics.anchor[i] = o->anchor[i];
    bool turns = o->yaw == VOLUME_YAW_REPORTED || o->yaw == VOLUME_YAW_UNKNOWN;
    s->yaw_rad = turns ? random_between(r, -3, 3) : 0;
    s->sway_rad = !turns ? 0 : o->yaw == VOLUME_YAW_REPORTED ? random_between(r, 0, 0.3) : 3;
    s->turns = random_between(r, 0.02, 0.3);
    make_controller(s);
    make_tension_limits(s, r);
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
    if (!sim_statics_solve(c->cords, u, (struct vec3){0, 0, c->load_n}, 1.2 * c->floor_n, 0, tension))
        return false;
    for (int i = 0; i < c->cords; i++)
        if (tension[i] > 0.8 * WORKING_LIMIT * c->load_n)
            return false;
    return true;
}

bool scene_rig_reach(struct scene *s)
{
    struct volume *vol = &s->cfg.guard.volume;
    const struct vec3 around = {0.2, 0.2, 0.2};
    struct vec3 lo = {INFINITY, INFINITY, INFINITY}, hi = {-INFINITY, -INFINITY, -INFINITY};
    for (int k = 0; k < vol->stages; k++)
        for (int i = 0; i < vol->stage[k].corners; i++) {
            const struct shape_prism *p = &vol->stage[k];
            lo = (struct vec3){lesser(lo.x, p->x[i]), lesser(lo.y, p->y[i]), lesser(lo.z, p->z_lo)};
            hi = (struct vec3){greater(hi.x, p->x[i]), greater(hi.y, p->y[i]), greater(hi.z, p->z_hi)};
        }
    struct reach_config cfg = {.rig = s->cfg.anticipate.rig,
                               .room = {vec_sub(lo, around), vec_add(hi, around)},
                               .reserve_mps2 = 1.5 * s->controller.brake_mps2,
                               .min_length_m = 0.3,
                               .error_m = 0.1};
    if (s->physics.cords > QUICK_CORDS)
        return false;
    vol->reach = &s->reach;
    return reach_build(&s->reach, &cfg, s->reach_cell, SCENE_CELLS) != REACH_INVALID && s->reach.reachable_m3 > 0.5;
}

/* The corners of the stages above all. */
bool scene_rig_carries(struct scene *s, struct random *r)
{
    const struct volume *vol = &s->cfg.guard.volume;
    s->slip_m = 0;
    for (int i = 0; i < PLACES; i++) {
        const struct shape_prism *stage = &vol->stage[i % vol->stages];
        int c = i / vol->stages % stage->corners, d = random_below(r, stage->corners);
        double share = i < 2 * stage->corners * vol->stages ? 1 : random_between(r, 0, 1);
        double z = i % 2 ? stage->z_hi : random_between(r, stage->z_lo + vol->outline.boom_m, stage->z_hi);
        struct vec3 p = {share * stage->x[c] + (1 - share) * stage->x[d],
                         share * stage->y[c] + (1 - share) * stage->y[d], z};
        bool asked = !s->wide || reach_distance(&s->reach, p) > 0;
        if (asked && !holds(s, p, &s->slip_m) && !s->wide)
            return false;
    }
    return true;
}

/* Noise and bias of each sensor: good ones, of which the config says the truth. */
static void make_quality(struct scene *s, struct random *r)
{
    static const int values[WIRE_SOURCES] = {
        [WIRE_POSE] = 6, [WIRE_RANGE] = 1, [WIRE_TILT] = 2, [WIRE_YAW] = 1, [WIRE_HEAD] = 4, [WIRE_SUBJECT] = 3};
    double most = s->cfg.guard.margin_m / 3, share = random_between(r, 0.1, 0.9);
    if (s->trouble.fault != FAULT_NOISE)
        most *= random_between(r, 0.1, 0.8);
    struct show_sensor good = {.there = true, .sigma = most * share / 3, .bias = most * (1 - share)};
    s->sensors = (struct sim_sensors_config){.swing_sigma_rad = random_between(r, 0, 0.002),
                                             .period_s = TICK_S * s->ticks_a_report};
    for (int i = 0; i < WIRE_SOURCES; i++)
        s->sensors.values[i] = values[i];
    s->sensors.values[WIRE_LENGTH] = s->sensors.values[WIRE_TENSION] = s->physics.cords;
    s->sensors.sensor[WIRE_POSE] = s->sensors.sensor[WIRE_LENGTH] = s->sensors.sensor[WIRE_RANGE] = good;
    s->sensors.sensor[WIRE_TENSION] =
        (struct show_sensor){true, 0.003 * s->controller.load_n, random_between(r, 0, 0.02), 0.01, 0};
    s->sensors.sensor[WIRE_TILT] = (struct show_sensor){true, 0.001, 0, 0, 0};
    s->sensors.sensor[WIRE_YAW] = (struct show_sensor){true, random_between(r, 0, 0.02), 0, 3 * s->sway_rad, 0};
    s->sensors.sensor[WIRE_HEAD] = (struct show_sensor){true, random_between(r, 0, 0.001), 0, 0, 0};
    s->sensors.sensor[WIRE_SUBJECT] = (struct show_sensor){true, random_between(r, 0, 0.02), 0, 0.02, 0};
}

static void make_locate(struct scene *s)
{
    const struct show_sensor *of = s->sensors.sensor;
    double brake = s->controller.brake_mps2, speed = s->cfg.guard.speed_mps;
    struct locate_config *l = &s->cfg.locate;
    *l = (struct locate_config){
        .cords = s->physics.cords,
        .weight_n = s->controller.load_n,
        .body_n = s->physics.body_kg * SIM_GRAVITY,
        .boom_m = s->cfg.guard.volume.outline.boom_m,
        .accel_mps2 = 2 * brake + 1,
        .speed_mps = 1.2 * speed + 0.1,
        .tilt_rad = 0.4,
        .anchor_bias_m = 0.001,
        .pose_bias_m = of[WIRE_POSE].bias,
        .length_bias_m = of[WIRE_LENGTH].bias,
        .tension_bias_share = of[WIRE_TENSION].bias,
        .range_bias_m = of[WIRE_RANGE].bias,
        .slack_n = 0.2 * PRETENSION * s->controller.load_n,
        .age_max_s = 0.3,
        .coast_s = 0.3,
        .memory_s = 1,
        .frozen_s = 0.2,
        .frozen_m = 1.5 * s->cfg.guard.latency_s * speed + 0.02,
        .again_s = 1,
        .outliers = 1,
        .uncertainty_max_m = 0.1 + 4 * s->cfg.guard.margin_m,
    };
    for (int i = 0; i < l->cords; i++)
        l->anchor[i] = s->physics.anchor[i];
}

/* What places the platform: a pose alone, believed or checked; a pose and what can contradict it; lengths alone. */
void scene_rig_sensors(struct scene *s, struct random *r)
{
    int mix = random_below(r, 6);
    make_quality(s, r);
    struct show_sensor *of = s->sensors.sensor;
    of[WIRE_POSE].there = mix < 5;
    of[WIRE_LENGTH].there = mix >= 2;
    of[WIRE_RANGE].there = mix >= 3 && random_chance(r, 0.5);
    of[WIRE_TENSION].there = s->cfg.anticipates;
    of[WIRE_YAW].there = s->cfg.guard.volume.outline.yaw == VOLUME_YAW_REPORTED;
    of[WIRE_HEAD].there = s->head.there && random_chance(r, 0.97); /* else the head must stand still */
    of[WIRE_SUBJECT].there = s->cfg.subject.watched;
    s->cfg.locates = mix > 0;
    make_locate(s);
    s->cfg.astray_s = s->cfg.locates && random_chance(r, 0.6) ? random_between(r, 0.1, 0.15) : 0;
}
