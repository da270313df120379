/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The independent judge of the simulated rig: what really happened, from the true state, by geometry of its own. It
 * shares no code with the policy and uses another method: distances of points only, and a search along boom and cords
 * that steps as far as a distance can fall.
 *
 * True clearance: body and boom (as they hang, swing included) inside the stage, one of its prisms at least; body, boom
 * and cords outside each keep-out as drawn, its padding not counted. Below zero is a touch; so is a state that is not
 * finite. Limbs are where the body is, turned by its yaw; they do not lean with the swing. A tether counts if it is
 * kept straight. Keep-outs that yield do not count: whether somebody watches is not for the rig to know.
 */
#ifndef STEADYHAND_RIG_SIM_JUDGE_H
#define STEADYHAND_RIG_SIM_JUDGE_H

#include <stdint.h>

#include "policy/motion/volume.h"

#define SIM_JUDGE_STEP_M 0.0005 /* finest step of the search: no clearance is overstated by more than half of it */

struct sim_truth {
    double t_s;
    struct vec3 position, velocity; /* platform */
    struct vec3 body;
    double yaw_rad; /* of the body */
    double tension_n[VOLUME_MAX_CORDS];
};

struct sim_judge {
    double t_s, clearance_m, min_clearance_m;
    bool touching;
    uint64_t touched; /* times contact began */
    uint64_t slack;   /* times a cord went slack */
    bool slack_now[VOLUME_MAX_CORDS];
    double speed_mps, moved_at_s; /* when it last went faster than a crawl */
    struct vec3 position, body;
};

void sim_judge_init(struct sim_judge *judge);
void sim_judge_observe(const struct volume *room, struct sim_judge *judge, const struct sim_truth *truth);

/* Slower than 1 cm/s for the last tenth of a second. */
bool sim_judge_at_rest(const struct sim_judge *judge);

/* Signed: positive inside the stage / outside the solid. */
double sim_judge_stage_depth(const struct shape_prism *stage, struct vec3 p);
double sim_judge_box_distance(const struct shape_box *box, struct vec3 p);
double sim_judge_distance(const struct shape *shape, struct vec3 p);

#endif
