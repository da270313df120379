/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How far the camera can get in plan when a cord parts, from any place on the stage, along a number of directions.
 *
 * Where cords run flat, a cord a little longer lets the camera swing much further out, so places close enough together
 * to cover a stage would be too many. Branch and bound instead: cords of two places less than d apart differ by less
 * than d, so all places of a cell are covered by its middle with d more of give. A cell that thereby gets no further in
 * a direction than something that was found already, plus the tolerance, needs no more looking at; others are cut into
 * eight.
 */
#ifndef STEADYHAND_SURVEY_FALL_PLAN_H
#define STEADYHAND_SURVEY_FALL_PLAN_H

#include "gateway/survey/site.h"
#include "policy/motion/footprint.h"

/* What may hold the platform at one place after that cord has parted, each of its cords longer by give_m. False if
 * nothing holds it. */
bool fall_plan_from(const struct site *site, struct vec3 place, int cord, double give_m, struct footprint *fp);

/* Fills hull->reach_m[0 .. hull->sides), of a hull that was initialised: no less than the furthest, and more by no more
 * than the tolerance, but for the last few cells. -INFINITY if nothing holds the platform. False if out of memory. */
bool fall_plan_find(const struct site *site, int cord, double give_m, double tolerance_m, struct footprint_hull *hull);

#endif
