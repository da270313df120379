/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Inside of guard.c and guard_steer.c: how long a braking path is, and how much room there is for one. */
#ifndef STEADYHAND_MOTION_GUARD_PATH_H
#define STEADYHAND_MOTION_GUARD_PATH_H

#include "policy/motion/guard.h"
#include "policy/motion/travel.h"

#define GUARD_SLACK_M     VOLUME_ERROR_M /* proofs allow this: clearances asked for in two ways differ so much */
#define GUARD_STAND_OFF_M 1e-3           /* steering keeps this and the uncertainty off the proven margin, a turn */
#define GUARD_SLOPE_M     1e-3           /* for the direction away from what blocks */
#define GUARD_STILL_MPS   1e-9           /* slower than this is at rest */

enum { GUARD_TURNS = 2 }; /* along a wall, and where that runs into another, along the corner */

/* From a speed on, if braking begins a reaction later. */
static inline double guard_path_length(const struct guard_tick *t, double speed, double reaction_s, double brake)
{
    return speed * reaction_s + travel_stop_distance(speed, brake, t->cfg->dt_s);
}

/* Clearance at a place, or `enough` if it is that at least. */
static inline double guard_path_clear(const struct volume_near *near, struct vec3 place, double enough)
{
    return lesser(volume_path_clearance(near, place, place, enough).distance_m, enough);
}

/* How far the rig may go in a direction from a place with a clearance of clear_m: while it keeps the margin, or, where
 * it has none to keep, while it gains, and comes near nothing else (volume_keep.h). Then `from` is where was looked at.
 * *few gets what the way of limit_m comes nearer to than below_m >= margin_m, or else everything.
 */
double guard_path_room(const struct guard_tick *t, struct vec3 from, double clear_m, struct vec3 direction,
                       double margin_m, double below_m, double limit_m, struct volume_clearance *block,
                       struct volume_few *few);

#endif
