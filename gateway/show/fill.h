/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A draft turned into a show: every lane, list and unit in its place. */
#ifndef STEADYHAND_SHOW_FILL_H
#define STEADYHAND_SHOW_FILL_H

#include "gateway/show/layout.h"

/* A solid as the policy has it; valid (shape_valid) if the draft's numbers make one. */
struct shape fill_solid(const struct layout_solid *solid);
struct shape_prism fill_prism(const struct layout_prism *prism);

/* The room alone, names included. Lists with faults are empty, numbers with faults NaN: volume_valid() tells whether it
 * can be used. */
void fill_room(const struct layout_draft *draft, struct show *show);

/* All. Needs a draft without faults. */
void fill_show(const struct layout_draft *draft, struct show *show);

#endif
