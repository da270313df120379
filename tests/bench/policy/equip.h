/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Everything the policy can be asked to watch, at once: located from pose, lengths, range and tilt; tensions looked
 * ahead to; a shaper; limbs that turn and a tether; a head with pictures it must not take; slow zones; somebody who
 * walks about. */
#ifndef STEADYHAND_BENCH_POLICY_EQUIP_H
#define STEADYHAND_BENCH_POLICY_EQUIP_H

#include "gateway/show/show.h"

/* Of a show that has a room already. False if the policy does not take it. */
bool equip(struct show *show);

/* What the rig reports then, beside its position. */
struct equip_truth {
    struct vec3 position, velocity;
    double head[HEAD_AXES];
    double time_s;
};

void equip_report(const struct show *show, const struct equip_truth *truth, struct rig_report *report);

#endif
