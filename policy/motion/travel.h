/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How far the camera can go in a direction, and how fast it may be with that much room.
 *
 * Free travel: conservative advancement (Mirtich 1996; for signed distance fields "sphere tracing", Hart 1996): as
 * clearance is 1-Lipschitz, a step as long as the clearance beyond the margin cannot collide; repeat.
 *
 * Speed with room R, from one tick to the next, the acceleration held over a tick: the exact discrete form, so that a
 * stop begun at any later tick still ends inside R (a continuous v^2/2a would overshoot by up to a dt^2/8).
 */
#ifndef STEADYHAND_MOTION_TRAVEL_H
#define STEADYHAND_MOTION_TRAVEL_H

#include "policy/motion/volume.h"

/*
 * Distance [m] in 0..limit_m that the rig can move from `from` along the unit vector `direction` so that the clearance
 * stays >= margin_m all the way. Never too long; short by at most 1 mm or where grazing a boundary. 0 if the
 * clearance at `from` is below the margin. *block, if not NULL, gets the pair that ends it (only if the result is <
 * limit_m).
 */
double travel_free(const struct volume *vol, struct vec3 from, struct vec3 direction, double margin_m, double limit_m,
                   struct volume_clearance *block);

/* Distance [m] run while braking from speed v [m/s] >= 0 to rest at `brake` [m/s2] > 0, in ticks of dt [s]:
 * dt (v/2 + (n-1) v - brake dt n (n-1)/2), n = ceil(v / (brake dt)). */
double travel_stop_distance(double v, double brake, double dt);

/* Largest speed v [m/s] with v reaction + travel_stop_distance(v, brake, dt) <= room; 0 for room <= 0. `reaction` [s]
 * >= 0. */
double travel_speed_limit(double room, double reaction, double brake, double dt);

#endif
