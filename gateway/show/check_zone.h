/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Checks of one solid or outline, wherever in the file it stands: `at` is its JSON Pointer. */
#ifndef STEADYHAND_SHOW_CHECK_ZONE_H
#define STEADYHAND_SHOW_CHECK_ZONE_H

#include "gateway/show/faults.h"
#include "gateway/show/layout.h"
#include "gateway/show/place.h"

/* The prism's footprint and heights. True if the footprint is whole and without a fault. */
bool check_zone_prism(const struct layout_prism *prism, const char *at, struct faults *faults);

#endif
