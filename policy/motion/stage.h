/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * How deep a moving part of the rig is inside the stage: a prism, or the union of several.
 *
 * The part is a segment that moves straight, so its ends at both positions are the corners of a parallelogram,
 * thickened by a level disc and a ball. Within one prism the least depth is exact: floor and ceiling are flat, so the
 * corners decide; in plan it is the least distance of the four sides to the walls. (A wall cannot be inside the
 * parallelogram without crossing a side: walls are one closed line, and around it the corners would be outside.)
 *
 * In a union every piece of the parallelogram is to be deep enough in *one* of the prisms, so two prisms must overlap
 * by twice the clearance wanted where something is to pass from one to the other: that is what the union is less than
 * the room as it looks. The parallelogram is halved, the shallowest piece first (branch and bound), until it is so or
 * shows that it is not: to STAGE_ERROR_M, or until STAGE_LOOKS pieces were looked at, and then the shallowest counts. A
 * part that stands still is a segment, which needs fewer.
 */
#ifndef STEADYHAND_MOTION_STAGE_H
#define STEADYHAND_MOTION_STAGE_H

#include "policy/motion/volume.h"

#define STAGE_ERROR_M 5e-5

enum { STAGE_LOOKS = 96 };

/* Least depth [m] of the parallelogram with these corners (both ends at the first position, then at the second),
 * thickened; never more than the true one, and only depths below `enough` are looked for. Negative where part of it is
 * outside, by how far the corners are. */
double stage_depth(const struct volume *vol, const struct vec3 corner[4], double disc_m, double ball_m, double enough);

#endif
