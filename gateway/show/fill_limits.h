/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * What each lane may do in each mode, of a draft. Each cell is the strictest of what was said:
 *
 *   show    the lane's own, and the show's
 *   setup   that, and setup's: 0.25 m/s if it says nothing (reduced speed with people at the machine, ISO 10218-1)
 *   low     that of the show but for the floor, and low's; its floor is its own
 */
#ifndef STEADYHAND_SHOW_FILL_LIMITS_H
#define STEADYHAND_SHOW_FILL_LIMITS_H

#include "gateway/show/layout.h"

void fill_limits(const struct layout_draft *draft, struct policy_config *policy);

#endif
