/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * A way out of what the rig is too near to already must not lead into anything else. The least clearance of all says
 * nothing of that where one of them is deep inside: a zone that no longer yields, somebody who has come near. So each
 * pair of a part and a boundary is held by itself:
 *   all along the way its clearance is at least the margin, or, where it is less at the start, no less than there.
 *
 * Where two overlap by more than their balls (hull.h), how deep is not told: both answers are -(ball_a + ball_b), and
 * the way counts as kept. A cord that is so deep in where somebody may have walked to may be lowered further on the way
 * out; body and boom too, where that way does not lead towards them over the ground (guard_path.c). Separation is to
 * keep anything from getting there: it holds while nobody walks faster than subject.speed_mps.
 */
#ifndef STEADYHAND_MOTION_VOLUME_KEEP_H
#define STEADYHAND_MOTION_VOLUME_KEEP_H

#include "policy/motion/volume.h"

/* Is it so on the straight way from where was looked at to another position? *block, if not NULL, gets a pair that is
 * not. The way and the margin together must be within what was looked at. */
bool volume_keep(const struct volume_near *near, struct vec3 to, double margin_m, struct volume_clearance *block);

#endif
