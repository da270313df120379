/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

/*
 * Cluttered rooms with every kind of thing in them, and their clearance as brute force finds it: many points of every
 * part of the rig, each held against every solid by its distance alone (shape_distance). Shares nothing with the
 * policy's pairs, sweeps and hulls.
 */
#ifndef STEADYHAND_TESTS_MOTION_SAMPLED_H
#define STEADYHAND_TESTS_MOTION_SAMPLED_H

#include "policy/motion/volume.h"
#include "tests/unit/motion/shapes.h"

enum { SAMPLED_ON_LIMB = 12, SAMPLED_ON_CORD = 60, SAMPLED_ON_WAY = 40 };

static inline struct shape_prism sampled_rectangle(double x0, double y0, double x1, double y1, double z0, double z1)
{
    return (struct shape_prism){4, {x0, x1, x1, x0}, {y0, y0, y1, y1}, z0, z1};
}

/* Smaller than shapes_of() makes it, and somewhere in the room. */
static inline struct shape sampled_solid(struct random *r, enum shape_kind kind)
{
    struct vec3 at = {random_between(r, -4, 4), random_between(r, -3, 3), random_between(r, 0, 2.5)};
    for (;;) {
        struct shape s = shapes_of(r, kind);
        if (kind == SHAPE_BOX) {
            s.as.block.centre = at;
            s.as.block.half = vec_scale(s.as.block.half, 0.5);
        } else if (kind == SHAPE_SPHERE) {
            s.as.sphere = (struct shape_sphere){at, 0.4 * s.as.sphere.radius_m};
        } else if (kind == SHAPE_CAPSULE) {
            s.as.capsule = (struct shape_capsule){at, vec_along(at, s.as.capsule.b, 0.5), 0.2 * s.as.capsule.radius_m};
        } else if (kind == SHAPE_PRISM) {
            for (int i = 0; i < s.as.prism.corners; i++) {
                s.as.prism.x[i] = at.x + 0.4 * s.as.prism.x[i];
                s.as.prism.y[i] = at.y + 0.4 * s.as.prism.y[i];
            }
        } else {
            s.as.half_space.offset_m = random_between(r, -4, -3);
        }
        if (shape_valid(&s))
            return s;
    }
}

static inline void sampled_outline(struct volume_outline *o, struct random *r)
{
    *o = (struct volume_outline){.limbs = 1 + random_below(r, 3), .cords = 3 + random_below(r, 4)};
    for (int i = 0; i < o->limbs; i++) {
        struct vec3 a = random_in_ball(r, 0.3), b = random_chance(r, 0.3) ? a : random_in_ball(r, 0.3);
        o->limb[i] = (struct volume_limb){a, b, random_between(r, 0.02, 0.1)};
    }
    o->boom_m = random_chance(r, 0.2) ? 0 : random_between(r, 0.1, 0.5);
    o->boom_radius_m = random_between(r, 0, 0.03);
    o->cord_radius_m = random_between(r, 0, 0.01);
    for (int i = 0; i < o->cords; i++) {
        double turn = 6.283185307179586 * i / o->cords;
        o->anchor[i] = (struct vec3){5 * cos(turn), 4 * sin(turn), random_between(r, 2.5, 4)};
    }
    o->yaw = random_chance(r, 0.5) ? VOLUME_YAW_REPORTED : VOLUME_YAW_PAN;
    if (random_chance(r, 0.5))
        o->tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT,
                                           {random_between(r, -4, 4), 4, 0.5},
                                           .length_m = random_between(r, 4, 12),
                                           .radius_m = 0.01};
}

static inline void sampled_room(struct volume *vol, struct random *r)
{
    *vol = (struct volume){.stages = 1 + random_below(r, 3), .keepouts = random_below(r, 9)};
    vol->stage[0] = sampled_rectangle(-2.5, -2, 1.5, 2, 0, 3);
    vol->stage[1] = sampled_rectangle(0.5, -1, 3.5, 1.5, 0.2, 3.5);
    vol->stage[2] = sampled_rectangle(-1, -3, 1, -1.3, 0.5, 2.8);
    for (int k = 0; k < vol->keepouts; k++)
        vol->keepout[k] =
            (struct volume_keepout){sampled_solid(r, (enum shape_kind)random_below(r, SHAPE_KINDS)),
                                    random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.2), random_chance(r, 0.2)};
    sampled_outline(&vol->outline, r);
}

static inline struct volume_now sampled_now(struct random *r)
{
    struct volume_now now = volume_now_usual();
    if (random_chance(r, 0.3))
        now.floor_m = random_between(r, -1, 1);
    if (random_chance(r, 0.3))
        now.ceiling_m = random_between(r, 2, 3);
    now.yielded = random_chance(r, 0.3);
    now.yaw_rad = random_between(r, -4, 4);
    now.yaw_off_rad = random_chance(r, 0.5) ? 0 : random_between(r, 0, 0.5);
    now.subject = random_chance(r, 0.3);
    now.subject_at = (struct vec3){random_between(r, -3, 3), random_between(r, -2, 2), random_between(r, 0, 1)};
    now.subject_radius_m = random_between(r, 0, 0.6);
    now.subject_height_m = random_between(r, 0, 1.8);
    now.subject_walk_m = random_chance(r, 0.5) ? random_between(r, 0, 1) : 0;
    return now;
}

static inline struct vec3 sampled_place(struct random *r)
{
    return (struct vec3){random_between(r, -2.5, 3.5), random_between(r, -2.8, 2), random_between(r, 0.2, 3.2)};
}

static inline double sampled_solids(const struct volume *vol, const struct volume_now *now, struct vec3 p)
{
    double least = INFINITY;
    for (int k = 0; k < vol->keepouts; k++) {
        const struct volume_keepout *keepout = &vol->keepout[k];
        if (!(keepout->yields && now->yielded))
            least = fmin(least, shape_distance(&keepout->shape, p) - keepout->padding_m);
    }
    double aside = fmax(hypot(p.x - now->subject_at.x, p.y - now->subject_at.y) - now->subject_walk_m, 0);
    double apart = hypot(aside, p.z - fmax(0, fmin(p.z, now->subject_height_m)));
    return now->subject ? fmin(least, apart - now->subject_radius_m) : least;
}

static inline double sampled_stage(const struct volume *vol, const struct volume_now *now, struct vec3 p)
{
    double deepest = -INFINITY;
    for (int k = 0; k < vol->stages; k++)
        deepest = fmax(deepest, -shape_prism_distance(&vol->stage[k], p));
    return fmin(deepest, fmin(p.z - now->floor_m, now->ceiling_m - p.z));
}

/* A rod of the rig: thick, and perhaps held in the stage. */
static inline double sampled_rod(const struct volume *vol, const struct volume_now *now, struct vec3 a, struct vec3 b,
                                 int points, double thick, bool staged)
{
    double least = INFINITY;
    for (int i = 0; i <= points; i++) {
        struct vec3 p = vec_along(a, vec_sub(b, a), (double)i / points);
        least = fmin(least, sampled_solids(vol, now, p));
        if (staged)
            least = fmin(least, sampled_stage(vol, now, p));
    }
    return least - thick;
}

static inline struct vec3 sampled_turned(struct vec3 p, double yaw)
{
    return (struct vec3){cos(yaw) * p.x - sin(yaw) * p.y, sin(yaw) * p.x + cos(yaw) * p.y, p.z};
}

/* With the platform here and the body turned just so. Never less than the true clearance; more by half of how far
 * points are apart. */
static inline double sampled_clearance(const struct volume *vol, const struct volume_now *now, struct vec3 platform,
                                       double yaw)
{
    const struct volume_outline *o = &vol->outline;
    struct vec3 down = {platform.x, platform.y, platform.z - o->boom_m};
    double least = sampled_rod(vol, now, platform, down, SAMPLED_ON_LIMB, o->boom_radius_m, true);
    for (int i = 0; i < o->limbs; i++) {
        struct vec3 a = vec_add(down, sampled_turned(o->limb[i].a, yaw));
        struct vec3 b = vec_add(down, sampled_turned(o->limb[i].b, yaw));
        least = fmin(least, sampled_rod(vol, now, a, b, SAMPLED_ON_LIMB, o->limb[i].radius_m, true));
    }
    for (int i = 0; i < o->cords; i++)
        least = fmin(least, sampled_rod(vol, now, platform, o->anchor[i], SAMPLED_ON_CORD, o->cord_radius_m, false));
    if (o->tether.kind == VOLUME_TETHER_NONE)
        return least;
    double left = o->tether.length_m - vec_norm(vec_sub(o->tether.anchor, down));
    double line = sampled_rod(vol, now, down, o->tether.anchor, SAMPLED_ON_CORD, o->tether.radius_m, false);
    return fmin(least, fmin(left, line));
}

#endif
