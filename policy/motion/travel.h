/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How far the camera can go in a direction, and how fast it may be with that much room.
 *
 * Both ask what was looked at once a tick (volume_look): its within_m should be at least the limit here plus the
 * margin. Beyond that there is taken to be nothing but obstacles.
 *
 * Free travel is searched by halving: the clearance of a whole straight path is known exactly (volume_path_clearance)
 * and can only fall as the path grows (but for VOLUME_ERROR_M). Stepping as far as the clearance allows (conservative
 * advancement, Mirtich 1996; for signed distance fields "sphere tracing", Hart 1996) would give the same answer, but
 * crawls where a path runs along a wall, and that is where a crowd likes to be.
 *
 * Speed with room R, from one tick to the next, the acceleration held over a tick: the exact discrete form, so that a
 * stop begun at any later tick still ends inside R (a continuous v^2/2a would overshoot by up to a dt^2/8).
 */
#ifndef STEADYHAND_MOTION_TRAVEL_H
#define STEADYHAND_MOTION_TRAVEL_H

#include "policy/motion/volume.h"

/*
 * Distance [m] in 0..limit_m that the rig can move from `from` along the unit vector `direction` so that the clearance
 * stays >= margin_m all the way. Never too long; short by at most 0.5 mm, or where VOLUME_ERROR_M of clearance is lost.
 * 0 if the clearance at `from` is below the
 * margin. *block, if not NULL, gets the pair that ends it (only if the result is < limit_m).
 */
double travel_free(const struct volume_near *near, struct vec3 from, struct vec3 direction, double margin_m,
                   double limit_m, struct volume_clearance *block);

/* The same; and *few gets what is nearer than below_m >= margin_m on the way of limit_m (volume_narrow). */
double travel_free_among(const struct volume_near *near, struct vec3 from, struct vec3 direction, double margin_m,
                         double below_m, double limit_m, struct volume_clearance *block, struct volume_few *few);

/*
 * For a rig that is closer to something than it should be: distance [m] in 0..limit_m along the unit vector `direction`
 * on which it gains at least half a metre of clearance a metre, from the start on and on the whole; 0 if the way does
 * not lead out. The clearance falls below that at the start nowhere on it, but for VOLUME_ERROR_M and for 0.3 mm in the
 * first millimetre (0.8 mm if there is a hanging tether).
 */
double travel_away(const struct volume_near *near, struct vec3 from, struct vec3 direction, double limit_m);

/*
 * Yaw [rad] in 0..limit_rad that the body can turn from yaw_rad on, to the left (direction +1) or right (-1), while the
 * platform is anywhere on the way from `from` to `to`, so that the clearance stays >= margin_m. Found in spans that
 * double while they are clear and are halved where they are not, each judged as a whole, so nothing is stepped over.
 * Never too much; too little by what a milliradian adds to the limbs' sweep (that, times outline_radius(), of
 * clearance), or where 96 spans did not get further. Where the yaw is fixed or unknown turning changes nothing.
 */
double travel_turn(const struct volume_near *near, struct vec3 from, struct vec3 to, double yaw_rad, int direction,
                   double margin_m, double limit_rad, struct volume_clearance *block);

/* Distance [m] run while braking from speed v [m/s] >= 0 to rest at `brake` [m/s2] > 0, in ticks of dt [s]:
 * dt (v/2 + (n-1) v - brake dt n (n-1)/2), n = ceil(v / (brake dt)). */
double travel_stop_distance(double v, double brake, double dt);

/* Largest speed v [m/s] with v reaction + travel_stop_distance(v, brake, dt) <= room; 0 for room <= 0. `reaction` [s]
 * >= 0. */
double travel_speed_limit(double room, double reaction, double brake, double dt);

#endif
