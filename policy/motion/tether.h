/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Where a tether can be: the line for power and pictures from a fixed anchor A to the lower end of the boom q.
 *
 * Straight: the segment. Hanging: it may be pulled in to any length up to L, carry a plug anywhere, or lie on the
 * floor, so not one catenary counts, but all that a line of length L can do under its weight. Each of its points x
 *
 *   is below the chord A-q, in the upright plane through it (a line hangs in a plane, and between its ends in plan),
 *     or off that by what the show file allows (`side_m`);
 *   has |x - A| + |x - q| <= L, from which follow, with c = |A - q|,
 *     x.z >= (A.z + q.z - L) / 2   each part of the line is at least as long as it falls
 *     x is within b = sqrt(L^2 - c^2) / 2 of the chord   (an ellipsoid with foci A and q; b is its lesser half-axis,
 * and its tips reach past the foci by less)
 *
 * Two convex solids hold all of that: the upright curtain from the chord down to the lower of these heights (or to
 * the floor), and all within b of the chord. The distance is the larger of the distances to the two: a lower bound of
 * that to what they have in common.
 *
 * Near c = L the b of the formula changes ever faster with c. Instead its tangent of slope -1 is followed from
 * c = 2 L / sqrt 5 on: b = L sqrt(5) / 2 - c, larger (b is concave), so no point of the envelope moves more than twice
 * as far as the platform does (VOLUME_TETHER_STEEP).
 */
#ifndef STEADYHAND_MOTION_TETHER_H
#define STEADYHAND_MOTION_TETHER_H

#include "policy/motion/volume.h"

/* What it sweeps while its lower end goes straight from one place to another; not bound yet. True if it is inside both
 * solids; else only the first is filled. */
bool tether_sweep(const struct volume_tether *tether, struct vec3 from, struct vec3 to, struct hull *hull,
                  struct hull *other);

/* What is left of its length all along the way [m]; negative where it would have to be longer. */
double tether_left(const struct volume_tether *tether, struct vec3 from, struct vec3 to);

/* b above [m] of a line of length L between ends c apart. */
double tether_sag(double length_m, double apart_m);

bool tether_valid(const struct volume_tether *tether);

#endif
