/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "gateway/rig/sim_setup.h"

#include <string.h>

enum { LEAST_SUBSTEPS = 4, MOST_SUBSTEPS = 32 };

#define CONTROL_S       (SIM_RIG_CONTROL_NS * 1e-9)
#define BRAKE_RESERVE   1.1  /* the show names the braking the rig is *sure* to reach: it can do a little more */
#define FLOOR_OF_LOAD   0.12 /* least planned tension of a cord, as a part of the whole weight */
#define CEILING_OF_LOAD 10.0 /* most, likewise */
#define ASTRAY_M        0.1
#define MOTOR_RESERVE   1.5  /* the head's motors can do more than the show lets them */
#define BEYOND          0.05 /* from an axis' limit to its mechanical stop, rad; zoom: magnification */

static void set_machine(struct sim_rig *rig, const struct show *show)
{
    const struct volume_outline *outline = &show->policy.guard.volume.outline;
    const struct show_sim *sim = &show->sim;
    rig->physics_cfg = (struct sim_physics_config){
        .cords = outline->cords,
        .platform_kg = sim->platform_kg,
        .body_kg = sim->body_kg,
        .boom = {.length_m = outline->boom_m, .damping = sim->swing_damping},
        .stiffness_npm = sim->cord_stiffness_npm,
        .damping_nspm = sim->cord_damping_nspm,
        .winch_speed_mps = sim->winch_speed_mps,
        .winch_accel_mps2 = sim->winch_accel_mps2,
    };
    memcpy(rig->physics_cfg.anchor, outline->anchor, sizeof outline->anchor);
}

static void set_controller(struct sim_rig *rig, const struct show *show)
{
    const struct guard_config *guard = &show->policy.guard;
    const struct volume_outline *outline = &guard->volume.outline;
    const struct show_sensor *pose = &show->sensor[SHOW_POSE], *length = &show->sensor[SHOW_LENGTH];
    double load = (show->sim.platform_kg + show->sim.body_kg) * SIM_GRAVITY;
    rig->controller_cfg = (struct sim_controller_config){
        .cords = outline->cords,
        .load_n = load,
        .floor_n = FLOOR_OF_LOAD * load,
        .ceiling_n = CEILING_OF_LOAD * load,
        .stiffness_npm = show->sim.cord_stiffness_npm,
        .brake_mps2 = BRAKE_RESERVE * guard->brake_mps2,
        .speed_mps = show->sim.winch_speed_mps,
        .astray_m = ASTRAY_M + 6 * fmax(pose->sigma, length->sigma) + fmax(pose->bias, length->bias),
        .lease_ns = (uint64_t)(guard->lease_s * 1e9),
    };
    memcpy(rig->controller_cfg.anchor, outline->anchor, sizeof outline->anchor);
}

static void set_head(struct sim_rig *rig, const struct show *show)
{
    const struct policy_head *head = &show->policy.head;
    rig->head_cfg = (struct sim_head_config){.there = head->there, .latency_s = show->sim.head_latency_s};
    for (int i = 0; head->there && i < WIRE_HEAD_AXES; i++) {
        const struct head_axis_config *axis = &head->config.axis[i];
        bool moves = axis->max > axis->min;
        rig->head_cfg.axis[i] = (struct sim_head_axis){
            .min = axis->min - BEYOND,
            .max = axis->max + BEYOND,
            .home = axis->home,
            .speed = moves ? MOTOR_RESERVE * axis->limits.speed : 0,
            .accel = moves ? MOTOR_RESERVE * axis->limits.accel : 0,
        };
    }
}

static void set_sensors(struct sim_rig *rig, const struct show *show)
{
    static const int values[WIRE_SOURCES] = {
        [WIRE_POSE] = 6,    [WIRE_RANGE] = 1, [WIRE_TILT] = 2, [WIRE_YAW] = 1, [WIRE_HEAD] = WIRE_HEAD_AXES,
        [WIRE_SUBJECT] = 3,
    };
    struct sim_sensors_config *cfg = &rig->sensors_cfg;
    *cfg = (struct sim_sensors_config){.swing_sigma_rad = show->sim.noise_rad, .period_s = SIM_RIG_TELEMETRY_NS * 1e-9};
    memcpy(cfg->sensor, show->sensor, sizeof cfg->sensor);
    memcpy(cfg->values, values, sizeof values);
    cfg->values[WIRE_LENGTH] = cfg->values[WIRE_TENSION] = rig->physics_cfg.cords;
    cfg->sensor[WIRE_HEAD].there &= rig->head_cfg.there;
    cfg->sensor[WIRE_SUBJECT].there &= show->sim.walk > 0;
}

static const char *set_steps(struct sim_rig *rig)
{
    const struct sim_physics_config *cfg = &rig->physics_cfg;
    if (cfg->cords < 3 || cfg->cords > VOLUME_MAX_CORDS)
        return "the simulated rig needs 3 to 8 anchors";
    if (!(cfg->platform_kg > 0 && cfg->body_kg >= 0 && cfg->stiffness_npm > 0 && cfg->damping_nspm >= 0 &&
          cfg->winch_speed_mps > 0 && cfg->winch_accel_mps2 > 0))
        return "the simulated rig's masses, stiffness and winch limits must be above 0";
    double steps = ceil(CONTROL_S / sim_physics_max_dt(cfg));
    if (!(steps <= MOST_SUBSTEPS))
        return "the cords are too stiff or too damped for so light a platform to be simulated: lower "
               "cord_stiffness_npm or cord_damping_nspm, or raise platform_kg";
    rig->substeps = steps < LEAST_SUBSTEPS ? LEAST_SUBSTEPS : (int)steps;
    return NULL;
}

const char *sim_setup(struct sim_rig *rig, const struct show *show)
{
    rig->room = show->policy.guard.volume;
    rig->show = show->sim;
    rig->floor_m = show->policy.locate.floor_m;
    set_head(rig, show);
    set_machine(rig, show);
    set_controller(rig, show);
    set_sensors(rig, show);
    return set_steps(rig);
}
