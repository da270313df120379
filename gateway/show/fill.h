/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* A draft turned into a show: every lane, list and unit in its place. */
#ifndef STEADYHAND_SHOW_FILL_H
#define STEADYHAND_SHOW_FILL_H

#include "gateway/show/layout.h"

struct shape_prism fill_prism(const struct layout_prism *prism);

/* All. Needs a draft without faults. */
void fill_show(const struct layout_draft *draft, struct show *show);

#endif
