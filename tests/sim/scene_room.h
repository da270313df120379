/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The room of a scene: anchors, the stage between and below them, keep-outs in it, and what hangs from the cords. */
#ifndef STEADYHAND_SIM_SCENE_ROOM_H
#define STEADYHAND_SIM_SCENE_ROOM_H

#include "policy/motion/volume.h"
#include "tests/property/random.h"

/* wide: the stage goes on to below the anchors. */
void scene_room_make(struct volume *vol, bool wide, struct random *r);

#endif
