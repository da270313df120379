/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* The simulated rig that a show file describes. */
#ifndef STEADYHAND_RIG_SIM_SETUP_H
#define STEADYHAND_RIG_SIM_SETUP_H

#include "gateway/rig/sim_rig.h"

/* Fills all that is constant in *rig. NULL, or what in the show to mend: then it cannot be simulated. */
const char *sim_setup(struct sim_rig *rig, const struct show *show);

#endif
