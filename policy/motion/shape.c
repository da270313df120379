/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/shape_kinds.h"

/* How far v is beyond the range, with its sign: 0 inside. */
static double beyond(double v, double lo, double hi)
{
    return v < lo ? v - lo : v > hi ? v - hi : 0;
}

/* Signed distance of v to the outside of a range: negative inside. */
static double outside(double v, double lo, double hi)
{
    return greater(lo - v, v - hi);
}

double shape_box_distance(const struct shape_box *box, struct vec3 p)
{
    struct vec3 gap = {beyond(p.x, box->lo.x, box->hi.x), beyond(p.y, box->lo.y, box->hi.y),
                       beyond(p.z, box->lo.z, box->hi.z)};
    double nearest_face = greater(outside(p.x, box->lo.x, box->hi.x),
                                  greater(outside(p.y, box->lo.y, box->hi.y), outside(p.z, box->lo.z, box->hi.z)));
    return nearest_face > 0 ? vec_norm(gap) : nearest_face;
}

/*
 * Along a segment a + t d the squared distance to a box, f(t), is convex and made of parabolas that meet where the line
 * crosses the planes of the faces. So its slope rises, and is straight between two crossings: narrow the range to
 * where the slope changes sign, crossing by crossing, then the root is that of a straight line.
 */
struct search {
    const struct shape_box *box;
    struct vec3 a, d;
    double lo, hi;             /* the least distance is at some t in lo..hi */
    double lo_slope, hi_slope; /* f'/2 there; <= 0 and > 0 */
};

static double slope(const struct search *s, double t)
{
    return beyond(s->a.x + t * s->d.x, s->box->lo.x, s->box->hi.x) * s->d.x +
           beyond(s->a.y + t * s->d.y, s->box->lo.y, s->box->hi.y) * s->d.y +
           beyond(s->a.z + t * s->d.z, s->box->lo.z, s->box->hi.z) * s->d.z;
}

static void narrow(struct search *s, double t)
{
    if (!(t > s->lo && t < s->hi)) /* also where t is not a number: the line never crosses that plane */
        return;
    double here = slope(s, t);
    if (here > 0) {
        s->hi = t;
        s->hi_slope = here;
    } else {
        s->lo = t;
        s->lo_slope = here;
    }
}

static double nearest_t(struct search *s)
{
    s->lo_slope = slope(s, 0);
    s->hi_slope = slope(s, 1);
    if (s->lo_slope >= 0)
        return 0;
    if (s->hi_slope <= 0)
        return 1;
    narrow(s, (s->box->lo.x - s->a.x) / s->d.x);
    narrow(s, (s->box->hi.x - s->a.x) / s->d.x);
    narrow(s, (s->box->lo.y - s->a.y) / s->d.y);
    narrow(s, (s->box->hi.y - s->a.y) / s->d.y);
    narrow(s, (s->box->lo.z - s->a.z) / s->d.z);
    narrow(s, (s->box->hi.z - s->a.z) / s->d.z);
    return s->lo + (s->hi - s->lo) * (s->lo_slope / (s->lo_slope - s->hi_slope));
}

double shape_box_segment_distance(const struct shape_box *box, struct vec3 a, struct vec3 b)
{
    struct search s = {.box = box, .a = a, .d = vec_sub(b, a), .lo = 0, .hi = 1};
    return greater(shape_box_distance(box, vec_along(a, s.d, nearest_t(&s))), 0);
}

bool shape_box_valid(const struct shape_box *box)
{
    return shape_point_valid(box->lo) && shape_point_valid(box->hi) && box->lo.x < box->hi.x && box->lo.y < box->hi.y &&
           box->lo.z < box->hi.z;
}

struct shape shape_from_box(const struct shape_box *box)
{
    struct vec3 size = vec_sub(box->hi, box->lo);
    struct shape_block block = {vec_along(box->lo, size, 0.5), vec_scale(size, 0.5), {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
    return (struct shape){.kind = SHAPE_BOX, .as.block = block};
}

static struct shape_capsule round_of(const struct shape_sphere *sphere)
{
    return (struct shape_capsule){sphere->centre, sphere->centre, sphere->radius_m};
}

static double above(const struct shape_half_space *half, struct vec3 p)
{
    return vec_dot(half->normal, p) - half->offset_m;
}

double shape_distance(const struct shape *shape, struct vec3 p)
{
    switch (shape->kind) {
    case SHAPE_BOX:
        return shape_block_distance(&shape->as.block, p);
    case SHAPE_PRISM:
        return shape_prism_distance(&shape->as.prism, p);
    case SHAPE_SPHERE:
        return vec_norm(vec_sub(p, shape->as.sphere.centre)) - shape->as.sphere.radius_m;
    case SHAPE_CAPSULE:
        return shape_round_distance(&shape->as.capsule, p);
    case SHAPE_HALF_SPACE:
        return above(&shape->as.half_space, p);
    case SHAPE_KINDS:
    default:
        return -INFINITY; /* what is no solid at all keeps everything out */
    }
}

struct vec3 shape_nearest(const struct shape *shape, struct vec3 p)
{
    struct shape_capsule round;
    switch (shape->kind) {
    case SHAPE_BOX:
        return shape_block_nearest(&shape->as.block, p);
    case SHAPE_PRISM:
        return shape_prism_nearest(&shape->as.prism, p);
    case SHAPE_SPHERE:
        round = round_of(&shape->as.sphere);
        return shape_round_nearest(&round, p);
    case SHAPE_CAPSULE:
        return shape_round_nearest(&shape->as.capsule, p);
    case SHAPE_HALF_SPACE:
        return vec_along(p, shape->as.half_space.normal, -above(&shape->as.half_space, p));
    case SHAPE_KINDS:
    default:
        return p;
    }
}

int shape_pieces(const struct shape *shape, struct hull *piece, int room)
{
    struct shape_capsule round;
    if (shape->kind == SHAPE_HALF_SPACE)
        return 0;
    if (room < 1)
        return -1;
    switch (shape->kind) {
    case SHAPE_BOX:
        shape_block_hull(&shape->as.block, piece);
        return 1;
    case SHAPE_PRISM:
        return shape_cut_prism(&shape->as.prism, piece, room);
    case SHAPE_SPHERE:
        round = round_of(&shape->as.sphere);
        shape_round_hull(&round, piece);
        return 1;
    case SHAPE_CAPSULE:
        shape_round_hull(&shape->as.capsule, piece);
        return 1;
    case SHAPE_HALF_SPACE:
    case SHAPE_KINDS:
    default:
        return -1;
    }
}

static bool half_space_valid(const struct shape_half_space *half)
{
    return fabs(vec_dot(half->normal, half->normal) - 1) <= 1e-9 && shape_coordinate_valid(half->offset_m);
}

bool shape_valid(const struct shape *shape)
{
    struct shape_capsule round;
    switch (shape->kind) {
    case SHAPE_BOX:
        return shape_block_valid(&shape->as.block);
    case SHAPE_PRISM:
        return shape_prism_valid(&shape->as.prism);
    case SHAPE_SPHERE:
        round = round_of(&shape->as.sphere);
        return shape_round_valid(&round);
    case SHAPE_CAPSULE:
        return shape_round_valid(&shape->as.capsule);
    case SHAPE_HALF_SPACE:
        return half_space_valid(&shape->as.half_space);
    case SHAPE_KINDS:
    default:
        return false;
    }
}
