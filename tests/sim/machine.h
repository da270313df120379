/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig, as it truly is: winches, elastic cords, the body swinging on its boom, the head (gateway/rig/sim_*), and the
 * controller that drives them, without the sealing of datagrams. Faults of the machine go in here.
 */
#ifndef STEADYHAND_SIM_MACHINE_H
#define STEADYHAND_SIM_MACHINE_H

#include "tests/sim/scene.h"

struct machine {
    struct sim_physics_config cfg; /* as it truly is: the anchors may be elsewhere than anybody thinks */
    struct sim_physics physics;
    struct sim_controller controller;
    struct sim_head head;
    bool flagged; /* it reports a fault that nothing shows */
};

/* At rest at the start. False if the cords cannot hold it there. */
bool machine_init(struct machine *m, const struct scene *s);

/* An order has come: judged as a rig does, by sequence, expiry and stop count. */
void machine_hear(struct machine *m, const struct scene *s, uint64_t now_ns, const struct post_order *order);

/* One SCENE_STEP_S; the controller and the head take part in every second one. active: the scene's fault is on. */
void machine_step(struct machine *m, const struct scene *s, uint64_t now_ns, bool control, bool active);

struct vec3 machine_body(const struct machine *m);
double machine_yaw(const struct machine *m, const struct scene *s, uint64_t now_ns);

#endif
