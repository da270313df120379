/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* Can the camera get from home to wherever it could be, or do keep-outs stand around it? For check: a look at some ten
 * thousand places, a tenth of a second or two. */
#ifndef STEADYHAND_SHOW_SHOW_WAY_H
#define STEADYHAND_SHOW_SHOW_WAY_H

#include "gateway/show/show.h"

struct show_way {
    double clear_m3; /* where the rig is clear by margin_m, in the show */
    double way_m3;   /* and that can be got to from home */
    double cell_m;   /* gaps narrower than this may be missed */
};

/* False if there is no memory. */
bool show_way_look(const struct show *show, struct show_way *out);

#endif
