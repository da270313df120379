/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * The sentence for a reason, made from its numbers: the only place where they become words.
 *
 *   Slowed by the keep-out "signal box": 0.21 m from the boom, where 0.14 m must remain; 0.07 m are left that way.
 *   Cord 3 near its lower limit: 4.1 N of 4.0 N.
 *
 * Where a reason has no numbers, or they say nothing, it is the general sentence of policy/motion/reason.h.
 */
#ifndef STEADYHAND_BUS_REASON_TEXT_H
#define STEADYHAND_BUS_REASON_TEXT_H

#include "gateway/bus/frames.h"
#include "gateway/show/show.h"

enum { REASON_TEXT_MAX = 320 };

/* For the desk. `scene` is the one whose reasons it is of. */
void reason_text_desk(enum reason r, const struct scene *scene, const struct show *show, char text[REASON_TEXT_MAX]);

/* The name of the keep-out, slow zone or view keep-out that the reason is about; NULL if it is about none. */
const char *reason_text_zone(enum reason r, const struct scene *scene, const struct show *show);

#endif
