/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The head of a scene, the regions it must not be in, and what its picture must not show. */
#ifndef STEADYHAND_SIM_SCENE_HEAD_H
#define STEADYHAND_SIM_SCENE_HEAD_H

#include "tests/sim/scene.h"

void scene_head_make(struct scene *s, struct random *r);

/* The boom must be known. */
void scene_head_view(struct scene *s, struct random *r);

#endif
