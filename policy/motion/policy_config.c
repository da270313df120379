/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/policy.h"

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

/* No lane is told to do what the guard would not let it, or the rig could not follow. */
static bool limits_valid(const struct policy_config *cfg)
{
    if (!limits_table_valid(&cfg->limits))
        return false;
    for (int l = 0; l < LANE_COUNT; l++) {
        const struct limits *show = &cfg->limits.cell[l][LIMITS_SHOW]; /* none is looser in these */
        if (show->speed_mps > cfg->guard.speed_mps || show->accel_mps2 > cfg->guard.brake_mps2)
            return false;
    }
    return true;
}

static bool stop_config_valid(const struct policy_config *cfg)
{
    return (unsigned)cfg->stop.inhibit <= STOP_CATEGORY_2;
}

static bool shaping_valid(const struct policy_config *cfg)
{
    const struct swing_plan *plan = &cfg->swing;
    double sum = 0;
    if (plan->taps < 0 || plan->taps > SWING_TAPS)
        return false;
    for (int i = 0; i < plan->taps; i++) {
        if (plan->delay[i] < 0 || plan->delay[i] >= SWING_WINDOW || !(plan->weight[i] >= 0))
            return false;
        sum += plan->weight[i];
    }
    return sum <= 1;
}

static bool head_valid(const struct policy_config *cfg)
{
    const struct policy_head *h = &cfg->head;
    if (!h->there)
        return cfg->view.shapes == 0 && cfg->guard.volume.outline.yaw != VOLUME_YAW_PAN;
    for (int l = 0; l < LANE_COUNT; l++) {
        if (!within(h->share[l], 0, 1))
            return false;
    }
    bool seen = cfg->view.shapes == 0 || (view_valid(&cfg->view) && within(h->aspect, 0.01, 100));
    return head_config_valid(&h->config) && h->config.lease_s >= cfg->guard.lease_s && within(h->cross_s, 0, 1000) &&
           seen;
}

static bool zones_valid(const struct policy_config *cfg)
{
    if (cfg->zones < 0 || cfg->zones > POLICY_MAX_ZONES)
        return false;
    for (int i = 0; i < cfg->zones; i++) {
        if (!shape_valid(&cfg->zone[i].shape) || !within(cfg->zone[i].speed_mps, 1e-3, SHAPE_FAR_M))
            return false;
    }
    return true;
}

static bool subject_valid(const struct policy_subject *s)
{
    return !s->watched || (within(s->radius_m, 1e-3, 100) && within(s->height_m, 1e-3, 100) &&
                           within(s->speed_mps, 1e-3, 100) && within(s->uncertainty_m, 0, 100));
}

bool policy_config_valid(const struct policy_config *cfg)
{
    return guard_config_valid(&cfg->guard) && lanes_config_valid(&cfg->lanes) &&
           cfg->lanes.brake_mps2 <= cfg->guard.brake_mps2 && limits_valid(cfg) && stop_config_valid(cfg) &&
           cfg->telemetry_timeout_ns > 0 && cfg->presence_timeout_ns > 0 && cfg->jump_mps > 0 &&
           isfinite(cfg->jump_mps) && within(cfg->yaw_radps, 0, SHAPE_FAR_M) &&
           (!cfg->locates || locate_config_valid(&cfg->locate)) && within(cfg->astray_s, 0, 100) &&
           (!cfg->anticipates || anticipate_config_valid(&cfg->anticipate)) && shaping_valid(cfg) &&
           (!cfg->watches_swing || swing_watch_config_valid(&cfg->swing_watch)) && head_valid(cfg) &&
           zones_valid(cfg) && subject_valid(&cfg->subject);
}
