/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/* What a room may have besides, each in some rooms: jerk limits, a shaper against swing, heights and keep-outs that
 * yield to a spotter, slow zones, cords looked ahead to, a head, a position that is located. And the checks of them. */
#ifndef STEADYHAND_PROPERTY_OPTIONS_H
#define STEADYHAND_PROPERTY_OPTIONS_H

#include "tests/property/checks.h"

/* Draws the options of a room that is made but for them. */
void options_make(struct room *room, struct random *r);

/* As rooms are entered: in the show, no spotter there. */
struct volume_now options_usual(const struct policy_config *cfg);

/* While running, the limits in force of a lane and mode never get looser. */
bool options_tighten(struct run *run, const struct policy_output *out);

/* |jerk| and |acceleration| within the loosest lane's but while braking; speed within the limits in force, or falling.
 */
bool options_smooth(struct run *run, const struct policy_input *in, const struct policy_output *out);

/* In a slow zone the platform, as it truly is, moves no faster than the zone's speed. */
bool options_slow(const struct run *run);

/* Without a spotter the camera stays above the floor of the show and clear of what yields; if it is not when the hold
 * lapses, it gets no deeper but by braking. */
bool options_low(struct run *run, const struct policy_input *in, const struct policy_output *out);

/* The head's rates and their changes within its axes', and where it truly stands within their ends. */
bool options_head(struct run *run, const struct policy_output *out);

#endif
