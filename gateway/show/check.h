/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a show file may not say even where each value alone is good: each fault is told with its place and a hint.
 * Values that are "not there" (field.h) pass: their fault is already told. */
#ifndef STEADYHAND_SHOW_CHECK_H
#define STEADYHAND_SHOW_CHECK_H

#include "gateway/show/faults.h"
#include "gateway/show/layout.h"

void check_room(const struct layout_draft *draft, struct faults *faults);   /* anchors, stage */
void check_zone(const struct layout_draft *draft, struct faults *faults);   /* solids in the room */
void check_cords(const struct layout_draft *draft, struct faults *faults);  /* what they may carry */
void check_rig(const struct layout_draft *draft, struct faults *faults);    /* tether, swing, head, sensors */
void check_limits(const struct layout_draft *draft, struct faults *faults); /* lanes, times, listeners */
void check_modes(const struct layout_draft *draft, struct faults *faults);

/* These look only if the room is whole; the rest of the show may have faults. */
void check_home(const struct show *show, struct faults *faults);
void check_view(const struct show *show, struct faults *faults); /* view keep-outs */

#endif
