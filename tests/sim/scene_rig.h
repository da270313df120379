/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The machine of a scene, its sensors and its network, and what the config promises of them. */
#ifndef STEADYHAND_SIM_SCENE_RIG_H
#define STEADYHAND_SIM_SCENE_RIG_H

#include "tests/sim/scene.h"

/* latency_s and lease_s of the guard, and a network that keeps to them. */
void scene_rig_network(struct scene *s, struct random *r);

/* Winches, cords, masses, head; brake and speed of the guard must be known. */
void scene_rig_machine(struct scene *s, struct random *r);

/* Which there are, how good they are, and locate, if there is a choice to be made. */
void scene_rig_sensors(struct scene *s, struct random *r);

/* Where the cords hold the platform, as the policy is told; false if that cannot be said in a moment. */
bool scene_rig_reach(struct scene *s);

/* The cords can carry the load everywhere on the stage (where that is not told by reach), as far as samples tell; and
 * how far they give. */
bool scene_rig_carries(struct scene *s, struct random *r);

#endif
