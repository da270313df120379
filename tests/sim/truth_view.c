/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/truth_view.h"

static struct vec3 on_box(const struct shape_block *b, int i, struct random *r)
{
    double at[3] = {random_between(r, -1, 1), random_between(r, -1, 1), random_between(r, -1, 1)};
    for (int axis = 0; axis < 3; axis++)
        if (i < 8 || axis == i % 3) /* the corners first, then anywhere on the faces */
            at[axis] = i >> axis & 1 ? 1 : -1;
    struct vec3 p = vec_along(b->centre, b->axis[0], at[0] * b->half.x);
    p = vec_along(p, b->axis[1], at[1] * b->half.y);
    return vec_along(p, b->axis[2], at[2] * b->half.z);
}

void truth_view_init(struct truth_view *truth, const struct view *view, struct random *r)
{
    truth->points = 0;
    for (int k = 0; k < view->shapes; k++)
        for (int i = 0; i < TRUTH_VIEW_POINTS; i++) {
            const struct shape *shape = &view->shape[k];
            const struct shape_sphere *ball = &shape->as.sphere;
            bool box = shape->kind == SHAPE_BOX;
            truth->point[truth->points++] =
                box ? on_box(&shape->as.block, i, r) : vec_along(ball->centre, random_direction(r), ball->radius_m);
        }
}

static struct vec3 turned(struct vec3 v, struct vec3 axis, double angle)
{
    double c = cos(angle), s = sin(angle);
    struct vec3 along = vec_scale(axis, vec_dot(axis, v) * (1 - c));
    return vec_add(along, vec_along(vec_scale(v, c), vec_cross(axis, v), s));
}

/* As plumb is tilted to `down`: the shortest turn. */
static struct vec3 leaning(struct vec3 v, struct vec3 down)
{
    struct vec3 axis = vec_cross((struct vec3){0, 0, -1}, down);
    double sine = vec_norm(axis);
    return sine > 1e-12 ? turned(v, vec_scale(axis, 1 / sine), atan2(sine, -down.z)) : v;
}

double truth_view_left(const struct truth_view *truth, const struct view *view, const struct truth_view_pose *pose)
{
    const struct vec3 up = {0, 0, 1};
    struct vec3 ahead = turned((struct vec3){1, 0, 0}, up, pose->azimuth_rad);
    struct vec3 left = turned((struct vec3){0, 1, 0}, up, pose->azimuth_rad), above;
    ahead = turned(ahead, left, -pose->tilt_rad);
    above = vec_cross(ahead, left);
    left = turned(left, ahead, pose->roll_rad);
    above = turned(above, ahead, pose->roll_rad);
    ahead = leaning(ahead, pose->down);
    left = leaning(left, pose->down);
    above = leaning(above, pose->down);
    struct vec3 lens = vec_add(pose->body, leaning(turned(view->camera, up, pose->azimuth_rad), pose->down));

    double wide = tan(pose->hfov_rad / 2), high = wide / pose->aspect, least = INFINITY;
    double side = 1 / sqrt(1 + wide * wide), top = 1 / sqrt(1 + high * high);
    for (int i = 0; i < truth->points; i++) {
        struct vec3 p = vec_sub(truth->point[i], lens);
        double x = vec_dot(p, ahead), y = fabs(vec_dot(p, left)), z = fabs(vec_dot(p, above));
        double beyond = greater(greater((y - wide * x) * side, (z - high * x) * top), x - view->range_m);
        least = lesser(least, beyond);
    }
    return least;
}
