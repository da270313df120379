/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What the policy of a scene is told to keep: speeds by lane and mode, timeouts, the subject, slow zones. */
#ifndef STEADYHAND_SIM_SCENE_LIMITS_H
#define STEADYHAND_SIM_SCENE_LIMITS_H

#include "tests/sim/scene.h"

/* The room must have been made. */
void scene_limits_make(struct scene *s, struct random *r);

#endif
