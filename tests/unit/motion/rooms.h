/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A room to try things in: 8 x 6 m, one keep-out on the floor, four cords from the corners. */
#ifndef STEADYHAND_TESTS_MOTION_ROOMS_H
#define STEADYHAND_TESTS_MOTION_ROOMS_H

#include "policy/motion/policy.h"

static const struct vec3 rooms_middle = {4, 2, 2};

/* Keep-out k becomes a box. */
static inline void rooms_box(struct volume *vol, int k, struct vec3 lo, struct vec3 hi, double padding_m)
{
    struct shape_box box = {lo, hi};
    vol->keepout[k] = (struct volume_keepout){.shape = shape_from_box(&box), .padding_m = padding_m};
    volume_prepare(vol);
}

/* As it is with nothing out of the usual. */
static inline struct volume_clearance rooms_clearance(const struct volume *vol, struct vec3 position)
{
    struct volume_now now = volume_now_usual();
    return volume_clearance(vol, &now, position);
}

/* As far as anybody may ask. */
static inline struct volume_near rooms_look(const struct volume *vol, struct vec3 at)
{
    struct volume_now now = volume_now_usual();
    struct volume_near near;
    volume_look(&near, vol, &now, at, (double)INFINITY);
    return near;
}

static inline struct volume_clearance rooms_path(const struct volume *vol, struct vec3 from, struct vec3 to,
                                                 double enough)
{
    struct volume_near near = rooms_look(vol, from);
    return volume_path_clearance(&near, from, to, enough);
}

static inline struct policy_config rooms_plain(void)
{
    struct policy_config cfg = {
        .guard = {.margin_m = 0.05,
                  .latency_s = 0.08,
                  .lease_s = 0.3,
                  .brake_mps2 = 0.6,
                  .speed_mps = 0.4,
                  .swing_max_rad = 0.2,
                  .dt_s = 0.01},
        .lanes = {.max_nudge_m = 0.4, .goal_timeout_s = 6, .brake_mps2 = 0.6, .dt_s = 0.01},
        .telemetry_timeout_ns = 250000000,
        .stop = {.inhibit = STOP_CATEGORY_2},
        .presence_timeout_ns = 2000000000,
        .presence_required = true,
        .jump_mps = 3,
    };
    for (int m = 0; m < LIMITS_MODES; m++) {
        const struct limits gentle = {0.2, 0.2, LIMITS_JERK_FREE, -SHAPE_FAR_M, SHAPE_FAR_M, false};
        cfg.limits.cell[LANE_IDLE][m] = cfg.limits.cell[LANE_AUDIENCE][m] = cfg.limits.cell[LANE_OPERATOR][m] = gentle;
        cfg.limits.cell[LANE_OPERATOR][m].speed_mps = 0.4;
        cfg.limits.cell[LANE_OPERATOR][m].accel_mps2 = 0.3;
    }
    cfg.guard.volume = (struct volume){
        .stages = 1,
        .stage = {{4, {0, 8, 8, 0}, {0, 0, 6, 6}, 0.5, 3}},
        .keepouts = 1,
        .outline = {.limbs = 1,
                    .limb = {{.radius_m = 0.15}},
                    .boom_m = 0.3,
                    .boom_radius_m = 0.02,
                    .cord_radius_m = 0.003,
                    .cords = 4,
                    .anchor = {{0, 0, 3.2}, {8, 0, 3.2}, {8, 6, 3.2}, {0, 6, 3.2}}},
    };
    rooms_box(&cfg.guard.volume, 0, (struct vec3){5, 3, 0}, (struct vec3){6, 4, 1.5}, 0.05);
    return cfg;
}

#endif
