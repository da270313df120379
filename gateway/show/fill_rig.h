/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The machine of a draft: cords, sensors, head, swing. */
#ifndef STEADYHAND_SHOW_FILL_RIG_H
#define STEADYHAND_SHOW_FILL_RIG_H

#include "gateway/show/layout.h"

void fill_rig(const struct layout_draft *draft, struct show *show);

/* Parts of it, for checks on a draft that may have faults: what depends on a fault is NaN, or empty. */
void fill_rig_cords(const struct layout_draft *draft, struct show_cords *cords);
void fill_rig_head(const struct layout_draft *draft, struct head_config *head);
void fill_rig_swing(const struct layout_draft *draft, struct swing_config *swing);
void fill_rig_locate(const struct layout_draft *draft, struct locate_config *locate);

#endif
