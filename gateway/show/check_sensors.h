/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* How well the sensors of a show tell where the camera is. */
#ifndef STEADYHAND_SHOW_CHECK_SENSORS_H
#define STEADYHAND_SHOW_CHECK_SENSORS_H

#include "gateway/show/faults.h"
#include "gateway/show/layout.h"

/* The uncertainty [m] that the policy will work with at home, at rest, everything in order: what locate says after a
 * second of readings without an error. SHAPE_FAR_M if it does not find the camera. */
double check_sensors_uncertainty(const struct show *show);

/* Is that little enough to move, and worth less than the margin? Needs a show whose room is whole. */
void check_sensors(const struct show *show, struct faults *faults);

#endif
