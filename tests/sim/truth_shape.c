/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "tests/sim/truth_shape.h"

/* Outside, the distance to the point of the box nearest to p; inside, minus the way out through the nearest face. */
static double block(const struct shape_block *b, struct vec3 p)
{
    struct vec3 at = vec_sub(p, b->centre);
    double x = fabs(vec_dot(at, b->axis[0])) - b->half.x, y = fabs(vec_dot(at, b->axis[1])) - b->half.y;
    double z = fabs(vec_dot(at, b->axis[2])) - b->half.z, most = greater(x, greater(y, z));
    return most <= 0 ? most : vec_norm((struct vec3){greater(x, 0), greater(y, 0), greater(z, 0)});
}

/* Inside the footprint if a ray along x crosses an odd number of its edges. */
double truth_shape_prism(const struct shape_prism *prism, struct vec3 p)
{
    bool inside = false;
    double square = INFINITY;
    for (int i = 0, j = prism->corners - 1; i < prism->corners; j = i++) {
        double ex = prism->x[i] - prism->x[j], ey = prism->y[i] - prism->y[j];
        double px = p.x - prism->x[j], py = p.y - prism->y[j];
        double s = lesser(1, greater(0, (px * ex + py * ey) / (ex * ex + ey * ey)));
        double dx = px - s * ex, dy = py - s * ey;
        square = lesser(square, dx * dx + dy * dy);
        if ((prism->y[i] > p.y) != (prism->y[j] > p.y) && px < ex * py / ey)
            inside = !inside;
    }
    double plan = inside ? -sqrt(square) : sqrt(square);
    double level = greater(prism->z_lo - p.z, p.z - prism->z_hi);
    return plan <= 0 || level <= 0 ? greater(plan, level) : sqrt(plan * plan + level * level);
}

static double capsule(const struct shape_capsule *c, struct vec3 p)
{
    struct vec3 way = vec_sub(c->b, c->a), to = vec_sub(p, c->a);
    double square = vec_dot(way, way), s = square > 0 ? lesser(1, greater(0, vec_dot(to, way) / square)) : 0;
    return vec_norm(vec_along(to, way, -s)) - c->radius_m;
}

double truth_shape(const struct shape *shape, struct vec3 p)
{
    switch (shape->kind) {
    case SHAPE_BOX:
        return block(&shape->as.block, p);
    case SHAPE_PRISM:
        return truth_shape_prism(&shape->as.prism, p);
    case SHAPE_SPHERE:
        return vec_norm(vec_sub(p, shape->as.sphere.centre)) - shape->as.sphere.radius_m;
    case SHAPE_CAPSULE:
        return capsule(&shape->as.capsule, p);
    case SHAPE_HALF_SPACE:
        return vec_dot(p, shape->as.half_space.normal) - shape->as.half_space.offset_m;
    default:
        return -INFINITY;
    }
}

double truth_shape_inside(const struct volume *vol, struct vec3 p)
{
    double deepest = -INFINITY;
    for (int i = 0; i < vol->stages; i++)
        deepest = greater(deepest, -truth_shape_prism(&vol->stage[i], p));
    return deepest;
}

double truth_shape_post(struct vec3 foot, double height, double radius, struct vec3 p)
{
    double beyond = greater(0, greater(foot.z - p.z, p.z - foot.z - height));
    return vec_norm((struct vec3){p.x - foot.x, p.y - foot.y, beyond}) - radius;
}
