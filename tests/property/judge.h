/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * An independent judge of whether anything touches: geometry of its own, by other means than the policy's (searching
 * where that computes, angles where that counts crossings), for a rig whose body has swung out from below the platform.
 */
#ifndef STEADYHAND_PROPERTY_JUDGE_H
#define STEADYHAND_PROPERTY_JUDGE_H

#include "policy/motion/volume.h"

/* What is left, at least, between anything of the rig and anything it must keep off. Negative: touched. */
double judge_clearance(const struct volume *vol, struct vec3 platform, struct vec3 body);

/* Of what yields to a spotter; judge_clearance() does not count it. */
double judge_yielding(const struct volume *vol, struct vec3 platform, struct vec3 body);

/* The same as judge_clearance(), but exact only where less than `near` is left; else a lower bound, which spares most
 * of the measuring. */
struct judge {
    double near;
    double left;
    struct vec3 platform, body; /* when that was measured */
};

double judge_look(struct judge *judge, const struct volume *vol, struct vec3 platform, struct vec3 body);

#endif
