/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape_kinds.h"

/* How far from length 1 and from square the axes may be: 1 um at a distance of 1 km. */
#define SQUARE 1e-9

struct shape_block shape_block_turned(struct vec3 centre, struct vec3 half, double yaw, double pitch, double roll)
{
    double cy = cos(yaw), sy = sin(yaw), cp = cos(pitch), sp = sin(pitch), cr = cos(roll), sr = sin(roll);
    return (struct shape_block){centre,
                                half,
                                {{cy * cp, sy * cp, -sp},
                                 {cy * sp * sr - sy * cr, sy * sp * sr + cy * cr, cp * sr},
                                 {cy * sp * cr + sy * sr, sy * sp * cr - cy * sr, cp * cr}}};
}

/* In the frame of the block. */
static struct vec3 to_block(const struct shape_block *block, struct vec3 p)
{
    struct vec3 w = vec_sub(p, block->centre);
    return (struct vec3){vec_dot(w, block->axis[0]), vec_dot(w, block->axis[1]), vec_dot(w, block->axis[2])};
}

static struct vec3 from_block(const struct shape_block *block, struct vec3 q)
{
    struct vec3 p = vec_along(block->centre, block->axis[0], q.x);
    return vec_along(vec_along(p, block->axis[1], q.y), block->axis[2], q.z);
}

double shape_block_distance(const struct shape_block *block, struct vec3 p)
{
    struct vec3 q = to_block(block, p);
    struct vec3 out = {fabs(q.x) - block->half.x, fabs(q.y) - block->half.y, fabs(q.z) - block->half.z};
    double nearest_face = greater(out.x, greater(out.y, out.z));
    if (nearest_face <= 0)
        return nearest_face;
    return vec_norm((struct vec3){greater(out.x, 0), greater(out.y, 0), greater(out.z, 0)});
}

static double clamp(double v, double half)
{
    return v < -half ? -half : v > half ? half : v;
}

struct vec3 shape_block_nearest(const struct shape_block *block, struct vec3 p)
{
    struct vec3 q = to_block(block, p), h = block->half;
    struct vec3 on = {clamp(q.x, h.x), clamp(q.y, h.y), clamp(q.z, h.z)};
    struct vec3 deep = {h.x - fabs(q.x), h.y - fabs(q.y), h.z - fabs(q.z)};
    bool inside = deep.x > 0 && deep.y > 0 && deep.z > 0;
    if (inside && deep.x <= deep.y && deep.x <= deep.z)
        on.x = q.x < 0 ? -h.x : h.x;
    else if (inside && deep.y <= deep.z)
        on.y = q.y < 0 ? -h.y : h.y;
    else if (inside)
        on.z = q.z < 0 ? -h.z : h.z;
    return from_block(block, on);
}

/* Eight corners, or four below those that are plumb above them. */
void shape_block_hull(const struct shape_block *block, struct hull *hull)
{
    const struct vec3 h = block->half, *axis = block->axis;
    bool upright = axis[2].x == 0 && axis[2].y == 0 && axis[0].z == 0 && axis[1].z == 0;
    *hull = (struct hull){.points = upright ? 4 : 8, .tall_m = upright ? 2 * h.z : 0};
    double bottom = upright && axis[2].z < 0 ? h.z : -h.z;
    for (int i = 0; i < hull->points; i++) {
        struct vec3 q = {i & 1 ? h.x : -h.x, i & 2 ? h.y : -h.y, i & 4 ? -bottom : bottom};
        hull->point[i] = from_block(block, q);
    }
    hull_bound(hull);
}

static bool square(const struct vec3 *axis)
{
    for (int i = 0; i < 3; i++) {
        if (!(fabs(vec_dot(axis[i], axis[i]) - 1) <= SQUARE) || !(fabs(vec_dot(axis[i], axis[(i + 1) % 3])) <= SQUARE))
            return false;
    }
    return true;
}

bool shape_block_valid(const struct shape_block *block)
{
    struct vec3 h = block->half;
    return shape_point_valid(block->centre) && shape_point_valid(h) && h.x > 0 && h.y > 0 && h.z > 0 &&
           square(block->axis);
}
