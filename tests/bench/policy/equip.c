/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/bench/policy/equip.h"

#include <math.h>

#define GRAVITY_MPS2 9.80665
#define SIGMA_M      0.001

static void equip_outline(struct volume_outline *o)
{
    o->yaw = VOLUME_YAW_REPORTED;
    o->limbs = 2;
    o->limb[0] = (struct volume_limb){{0, 0, 0}, {0.12, 0, -0.05}, 0.09};
    o->limb[1] = (struct volume_limb){{-0.1, 0, 0}, {-0.1, 0, 0}, 0.06};
    o->tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, {6, 4.5, 5.8}, 9, 0.004, 0, 0};
}

static void equip_cords(struct policy_config *cfg)
{
    const struct volume_outline *o = &cfg->guard.volume.outline;
    struct anticipate_config *a = &cfg->anticipate;
    cfg->anticipates = true;
    *a = (struct anticipate_config){
        .rig = {.cords = o->cords, .mass_kg = 2.4}, .look_s = 0.3, .band_share = 0.05, .trip_s = 0.3};
    for (int i = 0; i < o->cords; i++) {
        a->rig.anchor[i] = o->anchor[i];
        a->rig.min_n[i] = 0.2;
        a->rig.max_n[i] = 150;
    }
}

static void equip_locate(struct policy_config *cfg)
{
    const struct volume_outline *o = &cfg->guard.volume.outline;
    struct locate_config *l = &cfg->locate;
    cfg->locates = true;
    cfg->astray_s = 0.5;
    *l = (struct locate_config){
        .cords = o->cords,
        .weight_n = 2.4 * GRAVITY_MPS2,
        .body_n = 1.6 * GRAVITY_MPS2,
        .boom_m = o->boom_m,
        .accel_mps2 = 4,
        .speed_mps = 1,
        .tilt_rad = 0.4,
        .anchor_bias_m = SIGMA_M,
        .pose_bias_m = SIGMA_M,
        .length_bias_m = SIGMA_M,
        .tension_bias_share = 0.02,
        .range_bias_m = SIGMA_M,
        .age_max_s = 0.3,
        .coast_s = 0.3,
        .memory_s = 1,
        .frozen_s = 0.3,
        .frozen_m = 0.1,
        .again_s = 1,
        .outliers = 1,
        .uncertainty_max_m = 0.1,
    };
    for (int i = 0; i < o->cords; i++)
        l->anchor[i] = o->anchor[i];
}

static void equip_head(struct policy_config *cfg)
{
    struct policy_head *h = &cfg->head;
    *h = (struct policy_head){.there = true, .share = {0.5, 0.5, 1}, .cross_s = 7, .aspect = 16.0 / 9};
    h->config = (struct head_config){.axis = {{-1, 1, 0, {0.5, 1, 4}},
                                              {-0.8, 0.4, -0.2, {0.5, 1, 4}},
                                              {-0.2, 0.2, 0, {0.3, 1, 4}},
                                              {1, 4, 1, {0.5, 1, 4}}},
                                     .regions = 0,
                                     .clear_rad = 0.02,
                                     .hfov_wide_rad = 1,
                                     .latency_s = 0.08,
                                     .lease_s = cfg->guard.lease_s,
                                     .arrived = 0.01,
                                     .rest_s = 0.5,
                                     .recover_s = 20,
                                     .dt_s = cfg->guard.dt_s};
    cfg->view = (struct view){.boom_m = cfg->guard.volume.outline.boom_m, .camera = {0.1, 0, 0}, .range_m = 8};
    cfg->view.shapes = 4;
    for (int i = 0; i < 4; i++)
        cfg->view.shape[i] = (struct shape){.kind = SHAPE_SPHERE, .as.sphere = {{-2, 2.0 * i, 2}, 0.5}};
}

static void equip_zones(struct policy_config *cfg)
{
    cfg->zones = 4;
    for (int i = 0; i < 4; i++)
        cfg->zone[i] = (struct policy_zone){
            .shape = {.kind = SHAPE_SPHERE, .as.sphere = {{3 + 2.0 * i, 3 + 1.0 * i, 1.5}, 0.6}}, .speed_mps = 0.15};
    cfg->subject = (struct policy_subject){true, true, 0.3, 1.0, 0.5, 0.05};
}

bool equip(struct show *show)
{
    struct policy_config *cfg = &show->policy;
    struct swing_config shaper = {
        .shaper = SWING_SHAPER_ZVD, .mode = {sqrt(GRAVITY_MPS2 / 0.35), 0.05}, .dt_s = cfg->guard.dt_s};
    equip_outline(&cfg->guard.volume.outline);
    equip_cords(cfg);
    equip_locate(cfg);
    equip_head(cfg);
    equip_zones(cfg);
    return swing_make_plan(&shaper, &cfg->swing) == SWING_OK && volume_prepare(&cfg->guard.volume) &&
           view_prepare(&cfg->view) && policy_config_valid(cfg);
}

static void report_sources(struct locate_report *where, unsigned source, double sigma)
{
    where->sources |= locate_bit(source);
    where->quality[source] = (struct locate_quality){sigma, 0.01};
}

void equip_report(const struct show *show, const struct equip_truth *truth, struct rig_report *report)
{
    const struct volume_outline *o = &show->policy.guard.volume.outline;
    struct locate_report *where = &report->where;
    struct tension_state tension;
    report_sources(where, LOCATE_POSE, SIGMA_M);
    report_sources(where, LOCATE_LENGTH, SIGMA_M);
    report_sources(where, LOCATE_RANGE, SIGMA_M);
    report_sources(where, LOCATE_TILT, 0.002);
    report_sources(where, LOCATE_TENSION, 0.5);
    where->position = vec_along(truth->position, truth->velocity, -0.01);
    for (int i = 0; i < o->cords; i++)
        where->length_m[i] = vec_norm(vec_sub(o->anchor[i], where->position));
    where->range_m = where->position.z - o->boom_m - show->policy.locate.floor_m;
    tension_solve(&show->policy.anticipate.rig, truth->position, (struct vec3){0, 0, 0}, &tension);
    for (int i = 0; i < o->cords; i++)
        where->tension_n[i] = tension.feasible ? tension.middle_n[i] : 1;
    report->yaw_known = report->head_known = true;
    report->yaw_off_rad = 0.03;
    for (int i = 0; i < HEAD_AXES; i++)
        report->head[i] = truth->head[i];
    report->head_off = 0.002;
    report->subject_known = true;
    report->subject = (struct vec3){6 + 4 * cos(0.1 * truth->time_s), 4.5 + 3 * sin(0.1 * truth->time_s), 0};
    report->subject_age_s = 0.05;
}
