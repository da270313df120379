/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/scene_limits.h"

#include "tests/sim/scene_head.h"

#define TICK_S (SCENE_STEP_S * SCENE_STEPS_A_TICK)

static struct limits any_limits(const struct guard_config *guard, double least, double most, struct random *r)
{
    double accel = guard->brake_mps2 * random_between(r, least, most);
    return (struct limits){
        .speed_mps = guard->speed_mps * random_between(r, 0.5, 1),
        .accel_mps2 = accel,
        .jerk_mps3 = random_chance(r, 0.3) ? LIMITS_JERK_FREE : accel / random_between(r, 0.02, 0.5),
        .floor_m = -SHAPE_FAR_M,
        .ceiling_m = SHAPE_FAR_M,
    };
}

/* Setup and low flight are slower; a mode's floor is above the stage's, and low flight has none. */
static void make_table(struct policy_config *cfg, bool tight, struct random *r)
{
    const struct volume *vol = &cfg->guard.volume;
    double floor = random_chance(r, 0.4) ? vol->stage[0].z_lo + random_between(r, 0, 0.3) : -SHAPE_FAR_M;
    for (int l = 0; l < LANE_COUNT; l++) {
        struct limits show = any_limits(&cfg->guard,
                                        !tight               ? 0.3
                                        : l == LANE_OPERATOR ? 0.9
                                                             : 0.1,
                                        tight && l != LANE_OPERATOR ? 0.3 : 1, r),
                      slow = show;
        show.floor_m = floor;
        slow.speed_mps *= random_between(r, 0.3, 1);
        slow.floor_m = floor;
        cfg->limits.cell[l][LIMITS_SHOW] = show;
        cfg->limits.cell[l][LIMITS_SETUP] = slow;
        slow.floor_m = -SHAPE_FAR_M;
        slow.yields = true;
        cfg->limits.cell[l][LIMITS_LOW] = slow;
    }
    cfg->limits.unseen_m = random_chance(r, 0.5) ? 0 : random_between(r, 0.05, 1);
}

static void make_timeouts(struct policy_config *cfg, struct random *r)
{
    /* Not before it must be at rest: category 0 in mid-braking swings as nothing here allows for. */
    double rest_s = 2 + cfg->guard.latency_s + cfg->guard.lease_s + cfg->guard.speed_mps / cfg->guard.brake_mps2;
    cfg->stop.watch.confirm_ns = cfg->stop.watch.standstill_ns = (uint64_t)(rest_s * 1e9);
    cfg->stop.inhibit = random_chance(r, 0.7) ? STOP_CATEGORY_2 : STOP_CATEGORY_1;
    cfg->telemetry_timeout_ns = 1000000 * (uint64_t)(100 + random_below(r, 200));
    cfg->presence_timeout_ns = 1000000 * (uint64_t)(500 + random_below(r, 1500));
    cfg->spotter_timeout_ns = random_chance(r, 0.3) ? 0 : 1000000 * (uint64_t)(200 + random_below(r, 800));
    cfg->presence_required = random_chance(r, 0.5);
    cfg->jump_mps = random_between(r, 2, 4);
}

static void make_subject(struct scene *s, struct random *r)
{
    s->cfg.subject = (struct policy_subject){
        .watched = s->trouble.fault == FAULT_SUBJECT || random_chance(r, 0.2),
        .required = random_chance(r, 0.5),
        .radius_m = random_between(r, 0.2, 0.5),
        .height_m = random_between(r, 0.3, 1.2),
        .speed_mps = random_between(r, 0.3, 1.6),
        .uncertainty_m = 0.15,
    };
}

static void make_zones(struct policy_config *cfg, struct random *r)
{
    cfg->zones = random_chance(r, 0.7) ? 0 : 1 + random_below(r, 2);
    for (int i = 0; i < cfg->zones; i++) {
        struct vec3 at = vec_add((struct vec3){0, 0, 1}, random_in_ball(r, 2));
        cfg->zone[i] = (struct policy_zone){
            .shape = {.kind = SHAPE_SPHERE, .as.sphere = {at, random_between(r, 0.3, 1)}},
            .speed_mps = cfg->guard.speed_mps * random_between(r, 0.1, 0.6),
        };
    }
}

/* A long boom or none, hard braking and lanes that differ: swing, or else the proof, has to make up for as much as can
 * be, and nothing else hides it. */
static void tighten(struct policy_config *cfg, struct random *r)
{
    struct guard_config *guard = &cfg->guard;
    guard->margin_m = random_between(r, 0.002, 0.004);
    guard->swing_max_rad = random_between(r, 0.5, 1.5);
    guard->brake_mps2 = cfg->lanes.brake_mps2 = random_between(r, 0.8, 2);
    guard->speed_mps = random_between(r, 0.5, 1.5);
    for (int k = 0; k < guard->volume.keepouts; k++)
        guard->volume.keepout[k].padding_m = 0;
    guard->volume.outline.boom_m = random_chance(r, 0.5) ? 0 : random_between(r, 0.3, 0.6);
}

static void make_shaper(struct policy_config *cfg, struct random *r)
{
    double boom = cfg->guard.volume.outline.boom_m;
    struct swing_config c = {.shaper = SWING_SHAPER_NONE, .dt_s = TICK_S, .share = 0.05};
    if (boom > 0 && random_chance(r, 0.4)) {
        c.shaper = random_chance(r, 0.5) ? SWING_SHAPER_ZV : SWING_SHAPER_ZVD;
        c.mode = swing_shaper_mode(boom, 0.03);
    }
    swing_make_plan(&c, &cfg->swing);
}

void scene_limits_make(struct scene *s, struct random *r)
{
    struct policy_config *cfg = &s->cfg;
    struct guard_config *guard = &cfg->guard;
    guard->dt_s = cfg->lanes.dt_s = TICK_S;
    guard->margin_m = random_between(r, 0.003, 0.03);
    guard->swing_max_rad = random_between(r, 0.1, 0.5);
    bool fast = random_chance(r, 0.3);
    guard->brake_mps2 = cfg->lanes.brake_mps2 = fast ? random_between(r, 0.6, 1.5) : exp(random_between(r, -1.8, 0));
    guard->speed_mps = fast ? random_between(r, 0.8, 2) : random_between(r, 0.15, 1);
    if (s->tight)
        tighten(cfg, r);
    make_table(cfg, s->tight, r);
    cfg->lanes.max_nudge_m = random_between(r, 0.1, 1);
    cfg->lanes.goal_timeout_s = random_between(r, 1, 6);
    make_timeouts(cfg, r);
    make_subject(s, r);
    make_zones(cfg, r);
    scene_head_make(s, r);
    make_shaper(cfg, r);
}
