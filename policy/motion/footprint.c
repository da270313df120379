/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/footprint.h"

#include "policy/motion/outline.h"
#include "policy/motion/units.h"

#define TOUCH 1e-9 /* of the coordinates: what counts as on a surface */

static bool within(double v, double lo, double hi)
{
    return v >= lo && v <= hi; /* false for NaN */
}

static bool place_valid(struct vec3 p)
{
    return within(p.x, -SHAPE_FAR_M, SHAPE_FAR_M) && within(p.y, -SHAPE_FAR_M, SHAPE_FAR_M) &&
           within(p.z, -SHAPE_FAR_M, SHAPE_FAR_M);
}

static bool body_valid(const struct volume_outline *o)
{
    if (o->limbs < 0 || o->limbs > VOLUME_MAX_LIMBS)
        return false;
    for (int i = 0; i < o->limbs; i++) {
        const struct volume_limb *limb = &o->limb[i];
        if (!place_valid(limb->a) || !place_valid(limb->b) || !within(limb->radius_m, 0, SHAPE_FAR_M))
            return false;
    }
    return true;
}

static bool inputs_valid(const struct volume_outline *o, struct vec3 position, const struct footprint_bounds *b)
{
    if (o->cords < 0 || o->cords > VOLUME_MAX_CORDS || !place_valid(position))
        return false;
    for (int k = 0; k < o->cords; k++)
        if (!place_valid(o->anchor[k]))
            return false;
    return within(b->floor_m, -SHAPE_FAR_M, SHAPE_FAR_M) && within(b->ceiling_m, b->floor_m, SHAPE_FAR_M) &&
           within(b->give_m, 0, SHAPE_FAR_M) && within(o->boom_m, 0, SHAPE_FAR_M) && body_valid(o);
}

bool footprint_init(struct footprint *fp, const struct volume_outline *outline, struct vec3 position, unsigned parted,
                    const struct footprint_bounds *bounds)
{
    *fp = (struct footprint){.balls = 0};
    if (!inputs_valid(outline, position, bounds))
        return false;
    fp->place = position;
    fp->z_lo = lesser(bounds->floor_m, position.z);
    fp->z_hi = greater(bounds->ceiling_m, position.z);
    fp->grow_m = outline->boom_m + outline_reach(outline);
    for (int k = 0; k < outline->cords; k++) {
        if (parted >> k & 1)
            continue;
        fp->centre[fp->balls] = outline->anchor[k];
        fp->radius_m[fp->balls] = vec_norm(vec_sub(outline->anchor[k], position)) + bounds->give_m;
        fp->balls++;
    }
    return fp->balls > 0;
}

/* ---- How far in a direction: the best of all points that may be the furthest ---- */

struct reach {
    const struct footprint *fp;
    struct vec3 along; /* unit, horizontal */
    double best;
};

static bool contains(const struct footprint *fp, struct vec3 p)
{
    double slack = TOUCH * (1 + fabs(p.x) + fabs(p.y) + fabs(p.z));
    if (!(p.z >= fp->z_lo - slack && p.z <= fp->z_hi + slack))
        return false;
    for (int k = 0; k < fp->balls; k++)
        if (!(vec_norm(vec_sub(p, fp->centre[k])) <= fp->radius_m[k] + slack))
            return false;
    return true;
}

static void try_point(struct reach *r, struct vec3 p)
{
    double far = vec_dot(p, r->along);
    if (far > r->best && contains(r->fp, p))
        r->best = far;
}

/* A circle, or a point if the radius is 0: centre, unit axis, radius. */
struct circle {
    struct vec3 centre, axis;
    double radius;
};

/* Where a square came out below 0 by rounding, things touch. */
static bool root_of(double square, double scale, double *root)
{
    if (!(square >= -TOUCH * scale * scale))
        return false;
    *root = square > 0 ? sqrt(square) : 0;
    return true;
}

/* Any unit vector across `axis`, which is one. */
static struct vec3 some_across(struct vec3 axis)
{
    struct vec3 pick = fabs(axis.x) < 0.6 ? (struct vec3){1, 0, 0} : (struct vec3){0, 1, 0};
    struct vec3 across = vec_along(pick, axis, -vec_dot(pick, axis));
    return vec_scale(across, 1 / vec_norm(across));
}

static bool circle_of(const struct footprint *fp, int i, int j, struct circle *c)
{
    struct vec3 between = vec_sub(fp->centre[j], fp->centre[i]);
    double d = vec_norm(between), a = fp->radius_m[i], b = fp->radius_m[j];
    if (!(d > TOUCH * (1 + a + b)))
        return false;
    double from = (d * d + a * a - b * b) / (2 * d);
    c->axis = vec_scale(between, 1 / d);
    c->centre = vec_along(fp->centre[i], c->axis, from);
    return root_of(a * a - from * from, a + b, &c->radius);
}

static bool circle_at_height(const struct footprint *fp, int i, double z, struct circle *c)
{
    double rise = z - fp->centre[i].z, a = fp->radius_m[i];
    c->axis = (struct vec3){0, 0, 1};
    c->centre = (struct vec3){fp->centre[i].x, fp->centre[i].y, z};
    return root_of(a * a - rise * rise, a + fabs(rise), &c->radius);
}

static void try_circle(struct reach *r, const struct circle *c)
{
    struct vec3 across = vec_along(r->along, c->axis, -vec_dot(r->along, c->axis));
    double length = vec_norm(across);
    across = length > TOUCH ? vec_scale(across, 1 / length) : some_across(c->axis);
    try_point(r, vec_along(c->centre, across, c->radius));
}

/* The two points of a circle that are on a plane: normal . x = at. */
static void try_cut(struct reach *r, const struct circle *c, struct vec3 normal, double at)
{
    struct vec3 in_circle = vec_along(normal, c->axis, -vec_dot(normal, c->axis));
    double size = vec_norm(in_circle), off = at - vec_dot(normal, c->centre), half;
    if (!(size > TOUCH))
        return;
    in_circle = vec_scale(in_circle, 1 / size);
    off /= size;
    if (!root_of(c->radius * c->radius - off * off, c->radius + fabs(off), &half))
        return;
    struct vec3 middle = vec_along(c->centre, in_circle, off), to_side = vec_cross(c->axis, in_circle);
    try_point(r, vec_along(middle, to_side, half));
    try_point(r, vec_along(middle, to_side, -half));
}

/* What is on the circle and on ball k is on the plane in which that ball meets either of the others. */
static void try_third(struct reach *r, const struct circle *c, int i, int k)
{
    const struct footprint *fp = r->fp;
    struct vec3 between = vec_sub(fp->centre[k], fp->centre[i]);
    double d = vec_norm(between), a = fp->radius_m[i], b = fp->radius_m[k];
    if (!(d > TOUCH * (1 + a + b)))
        return;
    struct vec3 normal = vec_scale(between, 1 / d);
    try_cut(r, c, normal, vec_dot(normal, fp->centre[i]) + (d * d + a * a - b * b) / (2 * d));
}

static void try_at_height(struct reach *r, double z)
{
    struct circle c;
    for (int i = 0; i < r->fp->balls; i++) {
        if (!circle_at_height(r->fp, i, z, &c))
            continue;
        try_circle(r, &c);
        for (int k = i + 1; k < r->fp->balls; k++)
            try_third(r, &c, i, k);
    }
}

double footprint_reach(const struct footprint *fp, double angle)
{
    struct reach r = {fp, {cos(angle), sin(angle), 0}, 0};
    struct circle c;
    r.best = vec_dot(fp->place, r.along);
    for (int i = 0; i < fp->balls; i++) {
        try_point(&r, vec_along(fp->centre[i], r.along, fp->radius_m[i]));
        for (int j = i + 1; j < fp->balls; j++) {
            if (!circle_of(fp, i, j, &c))
                continue;
            try_circle(&r, &c);
            for (int k = j + 1; k < fp->balls; k++)
                try_third(&r, &c, i, k);
        }
    }
    try_at_height(&r, fp->z_lo);
    try_at_height(&r, fp->z_hi);
    return r.best + fp->grow_m;
}

/* ---- In plan ---- */

/* Is there a height at which (x, y) is within all balls, each grown? */
bool footprint_covers(const struct footprint *fp, double x, double y)
{
    double lo = fp->z_lo, hi = fp->z_hi;
    for (int k = 0; k < fp->balls; k++) {
        double dx = x - fp->centre[k].x, dy = y - fp->centre[k].y, radius = fp->radius_m[k] + fp->grow_m;
        double square = radius * radius - dx * dx - dy * dy;
        if (!(square >= 0))
            return false;
        lo = greater(lo, fp->centre[k].z - sqrt(square));
        hi = lesser(hi, fp->centre[k].z + sqrt(square));
    }
    return fp->balls > 0 && lo <= hi;
}

bool footprint_hull_init(struct footprint_hull *hull, int sides)
{
    bool valid = sides >= 3 && sides <= FOOTPRINT_MAX_SIDES;
    hull->sides = valid ? sides : 0;
    for (int i = 0; i < FOOTPRINT_MAX_SIDES; i++)
        hull->reach_m[i] = -INFINITY;
    return valid;
}

void footprint_hull_add(struct footprint_hull *hull, const struct footprint *fp)
{
    for (int i = 0; i < hull->sides; i++)
        hull->reach_m[i] = greater(hull->reach_m[i], footprint_reach(fp, UNITS_TURN * i / hull->sides));
}

void footprint_hull_corner(const struct footprint_hull *hull, int i, double *x, double *y)
{
    double step = UNITS_TURN / hull->sides, a = step * i;
    double here = hull->reach_m[i], next = hull->reach_m[(i + 1) % hull->sides];
    double aside = (next - here * cos(step)) / sin(step);
    *x = here * cos(a) - aside * sin(a);
    *y = here * sin(a) + aside * cos(a);
}
