/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/outline.h"

#include "policy/motion/tether.h"
#include "policy/motion/units.h"

bool outline_has(const struct volume_outline *o, int part)
{
    if (part < OUTLINE_BOOM)
        return part < o->limbs;
    if (part < OUTLINE_CORD)
        return true;
    if (part < OUTLINE_TETHER)
        return part - OUTLINE_CORD < o->cords;
    return o->tether.kind != VOLUME_TETHER_NONE;
}

static double from_axis(struct vec3 p)
{
    return sqrt(p.x * p.x + p.y * p.y);
}

struct volume_turn outline_turn(const struct volume_outline *o, const struct volume_now *now)
{
    if (o->yaw == VOLUME_YAW_FIXED)
        return (struct volume_turn){.cos = 1};
    bool known = o->yaw != VOLUME_YAW_UNKNOWN && isfinite(now->yaw_rad) && now->yaw_off_rad < UNITS_HALF_TURN / 2;
    if (!known)
        return (struct volume_turn){.spread = 1};
    double off = greater(now->yaw_off_rad, 0);
    double in = cos(off);
    return (struct volume_turn){in * cos(now->yaw_rad), in * sin(now->yaw_rad), sin(off)};
}

static struct vec3 turned(const struct volume_turn *t, struct vec3 p)
{
    return (struct vec3){t->cos * p.x - t->sin * p.y, t->sin * p.x + t->cos * p.y, p.z};
}

static bool same(struct vec3 a, struct vec3 b)
{
    return a.x == b.x && a.y == b.y && a.z == b.z;
}

static void add_point(struct hull *h, struct vec3 p)
{
    if (h->points < HULL_MAX_POINTS)
        h->point[h->points++] = p;
}

static void sweep_limb(const struct volume_outline *o, const struct volume_turn *turn, int i, struct vec3 down[2],
                       struct outline_swept *s)
{
    const struct volume_limb *limb = &o->limb[i];
    struct vec3 a = turned(turn, limb->a), b = turned(turn, limb->b);
    bool round = same(limb->a, limb->b), moves = !same(down[0], down[1]);
    for (int k = 0; k < 2; k++) {
        s->end[2 * k] = vec_add(down[k], a);
        s->end[2 * k + 1] = vec_add(down[k], b);
    }
    add_point(&s->hull, s->end[0]);
    if (!round)
        add_point(&s->hull, s->end[1]);
    if (moves)
        add_point(&s->hull, s->end[2]);
    if (moves && !round)
        add_point(&s->hull, s->end[3]);
    s->hull.disc_m = turn->spread * greater(from_axis(limb->a), from_axis(limb->b));
    s->hull.ball_m = limb->radius_m;
}

static void sweep_boom(const struct volume_outline *o, struct vec3 from, struct vec3 to, struct vec3 down[2],
                       struct outline_swept *s)
{
    s->end[0] = from;
    s->end[1] = down[0];
    s->end[2] = to;
    s->end[3] = down[1];
    add_point(&s->hull, down[0]);
    if (!same(from, to))
        add_point(&s->hull, down[1]);
    s->hull.tall_m = o->boom_m;
    s->hull.ball_m = o->boom_radius_m;
}

static void sweep_cord(const struct volume_outline *o, int i, struct vec3 from, struct vec3 to, struct outline_swept *s)
{
    add_point(&s->hull, o->anchor[i]);
    add_point(&s->hull, from);
    if (!same(from, to))
        add_point(&s->hull, to);
    s->hull.ball_m = o->cord_radius_m;
}

void outline_sweep(const struct volume_outline *o, const struct volume_turn *turn, int part, struct vec3 from,
                   struct vec3 to, struct outline_swept *swept)
{
    struct vec3 down[2] = {from, to};
    down[0].z -= o->boom_m;
    down[1].z -= o->boom_m;
    swept->twice = false;
    swept->hull.points = 0;
    swept->hull.disc_m = swept->hull.ball_m = swept->hull.tall_m = 0;
    if (part < OUTLINE_BOOM)
        sweep_limb(o, turn, part, down, swept);
    else if (part < OUTLINE_CORD)
        sweep_boom(o, from, to, down, swept);
    else if (part < OUTLINE_TETHER)
        sweep_cord(o, part - OUTLINE_CORD, from, to, swept);
    else
        swept->twice = tether_sweep(&o->tether, down[0], down[1], &swept->hull, &swept->other);
    hull_bound(&swept->hull);
    if (swept->twice)
        hull_bound(&swept->other);
}

double outline_reach(const struct volume_outline *o)
{
    double most = 0;
    for (int i = 0; i < o->limbs; i++) {
        const struct volume_limb *limb = &o->limb[i];
        most = greater(most, greater(vec_norm(limb->a), vec_norm(limb->b)) + limb->radius_m);
    }
    return most;
}

double outline_radius(const struct volume_outline *o)
{
    double most = 0;
    for (int i = 0; i < o->limbs; i++)
        most = greater(most, greater(from_axis(o->limb[i].a), from_axis(o->limb[i].b)));
    return most;
}

static bool limb_valid(const struct volume_limb *limb)
{
    return shape_point_valid(limb->a) && shape_point_valid(limb->b) && shape_length_valid(limb->radius_m) &&
           limb->radius_m > 0;
}

bool outline_valid(const struct volume_outline *o)
{
    if (o->limbs < 1 || o->limbs > VOLUME_MAX_LIMBS || o->cords < 0 || o->cords > VOLUME_MAX_CORDS)
        return false;
    if ((int)o->yaw < VOLUME_YAW_FIXED || (int)o->yaw > VOLUME_YAW_PAN)
        return false;
    for (int i = 0; i < o->limbs; i++) {
        if (!limb_valid(&o->limb[i]))
            return false;
    }
    for (int i = 0; i < o->cords; i++) {
        if (!shape_point_valid(o->anchor[i]))
            return false;
    }
    return shape_length_valid(o->boom_m) && shape_length_valid(o->boom_radius_m) &&
           shape_length_valid(o->cord_radius_m) && tether_valid(&o->tether);
}
