/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/show/fill_rig.h"

#include <math.h>
#include <string.h>

#include "policy/motion/units.h"

static const double rad_per_deg = 0.017453292519943295, dt_s = 0.01;

/* Not every kind of sensor has every number. */
static double or_none(double x)
{
    return isnan(x) ? 0 : x;
}

void fill_rig_cords(const struct layout_draft *draft, struct show_cords *cords)
{
    const struct layout_cords *from = &draft->cords;
    *cords = (struct show_cords){.given = from->given};
    if (!from->given)
        return;
    cords->rig.cords = (int)draft->anchors;
    cords->rig.mass_kg = from->mass_kg;
    for (uint32_t i = 0; i < draft->anchors; i++) {
        cords->rig.anchor[i] = draft->anchor[i];
        cords->rig.min_n[i] = from->min_n;
        cords->rig.max_n[i] = from->max_n;
    }
    cords->rated_n = isnan(from->rated_n) ? INFINITY : from->rated_n;
    cords->reserve_mps2 = from->reserve_mps2;
    cords->min_length_m = from->min_length_m;
}

/* What a rig is taken to measure, and how well, where the file does not say: a position, as good as it says itself; the
 * cords, as a winch and a load cell of the plainer kind do; and whatever else the show needs of it. */
static void guess_sensors(const struct layout_draft *draft, struct show_sensor sensor[SHOW_SOURCES])
{
    double noise_m = draft->show.sim.enabled ? draft->show.sim.noise_m : 0;
    sensor[SHOW_POSE] = (struct show_sensor){.there = true, .sigma = noise_m};
    sensor[SHOW_LENGTH] = (struct show_sensor){.there = true, .sigma = 0.002, .bias = 0.01};
    sensor[SHOW_TENSION] = (struct show_sensor){.there = true, .sigma = 0.1, .share = 0.01, .bias = 0.03};
    sensor[SHOW_YAW] = (struct show_sensor){.there = draft->yaw == VOLUME_YAW_REPORTED, .sigma = rad_per_deg};
    sensor[SHOW_HEAD] = (struct show_sensor){.there = draft->head.given, .sigma = 0.1 * rad_per_deg};
    sensor[SHOW_SUBJECT] = (struct show_sensor){.there = draft->subject.given, .sigma = 0.05};
}

static void fill_sensors(const struct layout_draft *draft, struct show_sensor sensor[SHOW_SOURCES])
{
    memset(sensor, 0, SHOW_SOURCES * sizeof sensor[0]);
    if (!draft->sensors.given)
        guess_sensors(draft, sensor);
    for (int i = 0; draft->sensors.given && i < SHOW_SOURCES; i++) {
        const struct layout_sensor *from = &draft->sensors.of[i];
        if (from->given)
            sensor[i] = (struct show_sensor){true, from->sigma, or_none(from->share), or_none(from->bias), from->age_s};
    }
}

static void fill_walk(const struct layout_draft *draft, struct show_sim *sim)
{
    sim->walk = (int)draft->sim.walks;
    memcpy(sim->walk_at, draft->sim.walk, sizeof sim->walk_at);
}

static struct head_axis_config turning(const struct layout_axis *axis)
{
    if (!axis->given)
        return (struct head_axis_config){.limits = {1, 1, 1}}; /* stays at 0 */
    return (struct head_axis_config){
        axis->min,
        axis->max,
        axis->home,
        {axis->speed * rad_per_deg, axis->accel * rad_per_deg, axis->jerk * rad_per_deg},
    };
}

static struct head_axis_config zooming(const struct layout_axis *axis)
{
    if (!axis->given)
        return (struct head_axis_config){1, 1, 1, {1, 1, 1}};
    return (struct head_axis_config){1, axis->max, axis->home, {axis->speed, axis->accel, axis->jerk}};
}

/* From where to where; everywhere, if the file is silent. */
static void fill_span(const double deg[2], double *from, double *to)
{
    *from = isnan(deg[0]) ? -INFINITY : deg[0] * rad_per_deg;
    *to = isnan(deg[1]) ? INFINITY : deg[1] * rad_per_deg;
}

void fill_rig_head(const struct layout_draft *draft, struct head_config *head)
{
    const struct layout_head *from = &draft->head;
    *head = (struct head_config){
        .axis = {turning(&from->pan), turning(&from->tilt), turning(&from->roll), zooming(&from->zoom)},
        .regions = (int)from->regions,
        .clear_rad = from->clear_rad,
        .hfov_wide_rad = from->hfov_rad,
        .latency_s = isnan(from->latency_s) ? draft->show.policy.guard.latency_s : from->latency_s,
        .lease_s = draft->show.policy.guard.lease_s,
        .arrived = 0.5 * rad_per_deg,
        .rest_s = from->rest_s,
        .recover_s = from->recover_s,
        .dt_s = dt_s,
    };
    for (uint32_t i = 0; i < from->regions; i++) {
        struct head_region *region = &head->region[i];
        fill_span(from->region[i].pan_deg, &region->from[HEAD_PAN], &region->to[HEAD_PAN]);
        fill_span(from->region[i].tilt_deg, &region->from[HEAD_TILT], &region->to[HEAD_TILT]);
        fill_span(from->region[i].roll_deg, &region->from[HEAD_ROLL], &region->to[HEAD_ROLL]);
    }
}

void fill_rig_swing(const struct layout_draft *draft, struct swing_config *swing)
{
    const struct layout_swing *from = &draft->swing;
    *swing = (struct swing_config){.shaper = SWING_SHAPER_NONE, .dt_s = dt_s};
    if (!from->given || from->shaper == SWING_SHAPER_NONE)
        return;
    swing->shaper = (enum swing_shaper_kind)from->shaper;
    swing->mode = isnan(from->frequency_hz) ? swing_shaper_mode(draft->boom_m, from->damping)
                                            : (struct swing_mode){UNITS_TURN * from->frequency_hz, from->damping};
    swing->share = from->share;
}

/* Still is what a tenth of the most allowed is. Where the file does not say how the body swings, its boom does. */
static void fill_swing_watch(const struct layout_draft *draft, struct policy_config *policy)
{
    static const double damping = 0.01;
    const struct layout_swing *from = &draft->swing;
    double most = policy->guard.swing_max_rad;
    bool told = from->given && !isnan(from->frequency_hz);
    policy->watches_swing = draft->sensors.given && draft->sensors.of[SHOW_TILT].given && draft->boom_m > 0;
    if (!policy->watches_swing)
        return;
    struct swing_mode mode = swing_shaper_mode(draft->boom_m, from->given ? from->damping : damping);
    mode.omega_radps = told ? UNITS_TURN * from->frequency_hz : mode.omega_radps;
    policy->swing_watch = (struct swing_watch_config){.mode = mode, .settle_rad = most / 10, .unsettle_rad = most / 5};
}

void fill_rig_locate(const struct layout_draft *draft, struct locate_config *locate)
{
    const struct layout_sensors *s = &draft->sensors;
    const struct guard_config *guard = &draft->show.policy.guard;
    const struct layout_cords *c = &draft->cords;
    double timeout_s = (double)draft->show.policy.telemetry_timeout_ns / 1e9;
    *locate = (struct locate_config){
        .cords = (int)draft->anchors,
        .weight_n = c->given ? c->mass_kg * UNITS_GRAVITY_MPS2 : 0,
        .body_n = c->given ? (isnan(c->body_kg) ? c->mass_kg : c->body_kg) * UNITS_GRAVITY_MPS2 : 0,
        .boom_m = draft->boom_m,
        .floor_m = or_none(s->of[SHOW_RANGE].sees_m),
        .accel_mps2 = 1.5 * guard->brake_mps2, /* a rig may well brake harder than it is sure to */
        .speed_mps = 1.5 * fmax(draft->operator.speed_mps, draft->audience.speed_mps),
        .tilt_rad = fmin(guard->swing_max_rad, 0.7),
        .anchor_bias_m = s->anchor_bias_m,
        .pose_bias_m = or_none(s->of[SHOW_POSE].bias),
        .length_bias_m = or_none(s->of[SHOW_LENGTH].bias),
        .tension_bias_share = or_none(s->of[SHOW_TENSION].bias),
        .range_bias_m = or_none(s->of[SHOW_RANGE].bias),
        .slack_n = c->given ? c->min_n / 2 : 0,
        .age_max_s = 0.5,
        .coast_s = timeout_s,
        .memory_s = 1,
        .frozen_s = fmax(0.1, 2 * guard->latency_s),
        .frozen_m = 0.02 + 2 * guard->latency_s * draft->operator.speed_mps,
        .again_s = fmax(1, timeout_s),
        .outliers = 3,
        .uncertainty_max_m = s->uncertainty_max_m,
    };
    memcpy(locate->anchor, draft->anchor, draft->anchors * sizeof draft->anchor[0]);
}

static void fill_anticipate(const struct layout_draft *draft, const struct show_cords *cords,
                            struct policy_config *policy)
{
    policy->anticipates = cords->given;
    if (cords->given)
        policy->anticipate = (struct anticipate_config){
            .rig = cords->rig,
            .look_s = draft->cords.look_s,
            .band_share = draft->cords.band_share,
            .trip_s = draft->cords.trip_s,
            .measured = draft->sensors.given && draft->sensors.of[SHOW_TENSION].given,
        };
}

/* The audience does not turn the head yet. */
static void fill_head(const struct layout_draft *draft, struct show *show)
{
    show->policy.head = (struct policy_head){.there = draft->head.given};
    show->vfov_wide_rad = 0;
    if (!draft->head.given)
        return;
    fill_rig_head(draft, &show->policy.head.config);
    show->policy.head.share[LANE_OPERATOR] = 1;
    show->policy.head.cross_s = draft->head.cross_s;
    show->policy.head.aspect = tan(draft->head.hfov_rad / 2) / tan(draft->head.vfov_rad / 2);
    show->vfov_wide_rad = draft->head.vfov_rad;
}

void fill_rig(const struct layout_draft *draft, struct show *show)
{
    struct swing_config swing;
    fill_rig_cords(draft, &show->cords);
    fill_anticipate(draft, &show->cords, &show->policy);
    fill_sensors(draft, show->sensor);
    struct policy_subject *subject = &show->policy.subject;
    subject->uncertainty_m = fmax(subject->uncertainty_m, subject->watched ? 3 * show->sensor[SHOW_SUBJECT].sigma : 0);
    show->policy.locates = draft->sensors.given;
    show->policy.astray_s = draft->sensors.given ? draft->sensors.astray_s : 0;
    if (draft->sensors.given)
        fill_rig_locate(draft, &show->policy.locate);
    fill_head(draft, show);
    fill_swing_watch(draft, &show->policy);
    fill_rig_swing(draft, &swing);
    (void)swing_make_plan(&swing, &show->policy.swing); /* checked: else it passes wishes through unshaped */
    fill_walk(draft, &show->sim);
}
