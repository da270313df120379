/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape_kinds.h"

static struct vec3 nearest_on_axis(const struct shape_capsule *round, struct vec3 p)
{
    struct vec3 d = vec_sub(round->b, round->a);
    double along = vec_dot(vec_sub(p, round->a), d), length2 = vec_dot(d, d);
    if (along <= 0 || length2 <= 0)
        return round->a;
    return along >= length2 ? round->b : vec_along(round->a, d, along / length2);
}

double shape_round_distance(const struct shape_capsule *round, struct vec3 p)
{
    return vec_norm(vec_sub(p, nearest_on_axis(round, p))) - round->radius_m;
}

/* Of length 1, square to d, which may be 0. */
static struct vec3 sideways(struct vec3 d)
{
    struct vec3 least = {0, 0, 1};
    if (fabs(d.x) <= fabs(d.y) && fabs(d.x) <= fabs(d.z))
        least = (struct vec3){1, 0, 0};
    else if (fabs(d.y) <= fabs(d.z))
        least = (struct vec3){0, 1, 0};
    struct vec3 n = vec_cross(d, least);
    double length = vec_norm(n);
    return length > 0 ? vec_scale(n, 1 / length) : least;
}

struct vec3 shape_round_nearest(const struct shape_capsule *round, struct vec3 p)
{
    struct vec3 on_axis = nearest_on_axis(round, p), out = vec_sub(p, on_axis);
    double length = vec_norm(out);
    /* A point on the axis is as near to all the surface around it. */
    struct vec3 n = length > 0 ? vec_scale(out, 1 / length) : sideways(vec_sub(round->b, round->a));
    return vec_along(on_axis, n, round->radius_m);
}

void shape_round_hull(const struct shape_capsule *round, struct hull *hull)
{
    struct vec3 a = round->a, b = round->b;
    bool sphere = a.x == b.x && a.y == b.y && a.z == b.z;
    *hull = (struct hull){.points = sphere ? 1 : 2, .point = {a, b}, .ball_m = round->radius_m};
    hull_bound(hull);
}

bool shape_round_valid(const struct shape_capsule *round)
{
    return shape_point_valid(round->a) && shape_point_valid(round->b) && shape_length_valid(round->radius_m) &&
           round->radius_m > 0;
}
