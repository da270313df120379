/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The rig, as it truly is: winches, elastic cords, the body swinging on its boom (gateway/rig/sim_physics.h), and the
 * controller that drives them (sim_controller.h), without the sealing of datagrams. Faults of the machine go in here.
 */
#ifndef STEADYHAND_SIM_MACHINE_H
#define STEADYHAND_SIM_MACHINE_H

#include "tests/sim/scene.h"

struct machine {
    struct sim_physics physics;
    struct sim_controller controller;
    struct sim_winch_target given; /* to the winches: late, or at odds with what the controller wants */
    double runs_mps;               /* the speed of a winch that runs away, 0 = none does */
    bool flagged;                  /* it reports a fault that nothing shows */
    uint64_t refused;
};

/* At rest at the start. False if the cords cannot hold it there. */
bool machine_init(struct machine *m, const struct scene *s);

/* An order has come: judged as a rig does, by sequence, expiry and stop count. */
void machine_hear(struct machine *m, const struct scene *s, uint64_t now_ns, const struct post_order *order);

/* One SCENE_STEP_S; the controller takes part in every second one. */
void machine_step(struct machine *m, const struct scene *s, uint64_t now_ns, bool control);

struct vec3 machine_body(const struct machine *m, const struct scene *s);

#endif
