/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A room to try things in: 8 x 6 m, one keep-out on the floor, four cords from the corners. */
#ifndef STEADYHAND_TESTS_MOTION_ROOMS_H
#define STEADYHAND_TESTS_MOTION_ROOMS_H

#include "policy/motion/policy.h"

static const struct vec3 rooms_middle = {4, 2, 2};

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
        .lanes = {.limits = {{0.2, 0.2}, {0.2, 0.2}, {0.4, 0.3}},
                  .max_nudge_m = 0.4,
                  .goal_timeout_s = 6,
                  .brake_mps2 = 0.6,
                  .dt_s = 0.01},
        .telemetry_timeout_ns = 250000000,
        .presence_timeout_ns = 2000000000,
        .presence_required = true,
        .jump_mps = 3,
    };
    cfg.guard.volume = (struct volume){
        .stage = {4, {0, 8, 8, 0}, {0, 0, 6, 6}, 0.5, 3},
        .keepouts = 1,
        .keepout = {{{5, 3, 0}, {6, 4, 1.5}}},
        .padding_m = {0.05},
        .outline = {.body_radius_m = 0.15,
                    .boom_m = 0.3,
                    .boom_radius_m = 0.02,
                    .cord_radius_m = 0.003,
                    .cords = 4,
                    .anchor = {{0, 0, 3.2}, {8, 0, 3.2}, {8, 6, 3.2}, {0, 6, 3.2}}},
    };
    return cfg;
}

#endif
