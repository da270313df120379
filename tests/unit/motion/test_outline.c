/* SPDX-License-Identifier: Apache-2.0
 * Copyright The Steadyhand authors */

#include "policy/motion/outline.h"

#include <criterion/criterion.h>

#include "tests/unit/motion/shapes.h"

#define TURN 6.28318530717958647692

static struct volume_outline random_outline(struct random *r, enum volume_yaw yaw)
{
    struct volume_outline o = {.limbs = 1 + random_below(r, VOLUME_MAX_LIMBS), .yaw = yaw};
    for (int i = 0; i < o.limbs; i++) {
        struct vec3 a = random_in_ball(r, 0.4), b = random_chance(r, 0.3) ? a : random_in_ball(r, 0.4);
        o.limb[i] = (struct volume_limb){a, b, random_between(r, 0.01, 0.1)};
    }
    o.boom_m = random_chance(r, 0.2) ? 0 : random_between(r, 0, 0.6);
    o.boom_radius_m = random_between(r, 0, 0.05);
    o.cord_radius_m = random_between(r, 0, 0.01);
    o.cords = 4;
    for (int i = 0; i < o.cords; i++)
        o.anchor[i] = vec_scale(random_direction(r), 5);
    o.tether = (struct volume_tether){VOLUME_TETHER_STRAIGHT, vec_scale(random_direction(r), 3), .length_m = 9};
    return o;
}

static struct vec3 turned(struct vec3 p, double yaw)
{
    return (struct vec3){cos(yaw) * p.x - sin(yaw) * p.y, sin(yaw) * p.x + cos(yaw) * p.y, p.z};
}

/* Some point of a part, with the platform there and the body turned so; its thickness left out. */
static struct vec3 point_of(const struct volume_outline *o, int part, struct vec3 platform, double yaw, double share)
{
    struct vec3 down = {platform.x, platform.y, platform.z - o->boom_m}, end;
    if (part < OUTLINE_BOOM) {
        const struct volume_limb *limb = &o->limb[part];
        return vec_add(down, turned(vec_along(limb->a, vec_sub(limb->b, limb->a), share), yaw));
    }
    if (part == OUTLINE_BOOM)
        return vec_along(platform, vec_sub(down, platform), share);
    end = part < OUTLINE_TETHER ? o->anchor[part - OUTLINE_CORD] : o->tether.anchor;
    struct vec3 from = part < OUTLINE_TETHER ? platform : down;
    return vec_along(from, vec_sub(end, from), share);
}

static double thickness_of(const struct volume_outline *o, int part)
{
    if (part < OUTLINE_BOOM)
        return o->limb[part].radius_m;
    return part == OUTLINE_BOOM ? o->boom_radius_m : part < OUTLINE_TETHER ? o->cord_radius_m : o->tether.radius_m;
}

static double outside(const struct hull *h, struct vec3 p)
{
    struct hull point = shapes_hull_of(&p, 1);
    return hull_distance(&point, h, INFINITY);
}

/* Every point of every part, anywhere on the way, at every yaw that it may have, is in what the part sweeps. */
Test(outline, sweeps_hold_every_point_of_the_rig)
{
    static const enum volume_yaw kinds[] = {VOLUME_YAW_FIXED, VOLUME_YAW_REPORTED, VOLUME_YAW_UNKNOWN, VOLUME_YAW_PAN};
    struct random r = {111};
    for (int i = 0; i < 1500; i++) {
        enum volume_yaw kind = kinds[i % 4];
        struct volume_outline o = random_outline(&r, kind);
        struct volume_now now = volume_now_usual();
        cr_assert(outline_valid(&o) && !outline_has(&o, OUTLINE_CORD + o.cords));
        cr_assert(o.limbs == VOLUME_MAX_LIMBS || !outline_has(&o, o.limbs));
        now.yaw_rad = random_between(&r, -9, 9);
        now.yaw_off_rad = random_chance(&r, 0.3) ? 0 : random_between(&r, 0, 2);
        struct volume_turn turn = outline_turn(&o, &now);
        struct vec3 from = random_in_ball(&r, 1), to = random_chance(&r, 0.3) ? from : random_in_ball(&r, 1);
        for (int part = 0; part < VOLUME_PARTS; part++) {
            struct outline_swept swept;
            if (!outline_has(&o, part))
                continue;
            outline_sweep(&o, &turn, part, from, to, &swept);
            cr_assert(hull_valid(&swept.hull));
            for (int k = 0; k < 40; k++) {
                double yaw = kind == VOLUME_YAW_FIXED     ? 0
                             : kind == VOLUME_YAW_UNKNOWN ? random_between(&r, 0, TURN)
                                                          : now.yaw_rad + random_between(&r, -1, 1) * now.yaw_off_rad;
                struct vec3 at = vec_along(from, vec_sub(to, from), random_between(&r, 0, 1));
                struct vec3 p = point_of(&o, part, at, yaw, random_between(&r, 0, 1));
                double out = outside(&swept.hull, p) + thickness_of(&o, part);
                cr_assert_leq(out, 1e-8, "%d, part %d: %g outside", i, part, out);
            }
        }
    }
}

/* And none is much larger than that: in no direction does it reach further than a point of the part does. */
Test(outline, sweeps_are_no_larger_than_they_must_be)
{
    struct random r = {112};
    for (int i = 0; i < 400; i++) {
        struct volume_outline o = random_outline(&r, VOLUME_YAW_REPORTED);
        struct volume_now now = {.yaw_rad = random_between(&r, -3, 3), .yaw_off_rad = random_between(&r, 0, 0.3)};
        struct volume_turn turn = outline_turn(&o, &now);
        struct vec3 from = random_in_ball(&r, 1), to = random_in_ball(&r, 1), n = random_direction(&r);
        for (int part = 0; part < o.limbs; part++) {
            struct outline_swept swept;
            outline_sweep(&o, &turn, part, from, to, &swept);
            double most = -INFINITY;
            for (int yaw = -20; yaw <= 20; yaw++)
                for (int end = 0; end < 4; end++)
                    most = fmax(most, vec_dot(n, point_of(&o, part, end & 1 ? from : to,
                                                          now.yaw_rad + yaw / 20.0 * now.yaw_off_rad, end / 2)));
            double reach = -INFINITY, level = sqrt(n.x * n.x + n.y * n.y);
            for (int k = 0; k < swept.hull.points; k++)
                reach = fmax(reach, vec_dot(n, swept.hull.point[k]) + level * swept.hull.disc_m);
            /* the disc stands on the whole chord of the arc: r sin(off) beyond it at most */
            cr_assert_leq(reach, most + 0.4 * sin(now.yaw_off_rad) + 1e-9, "%d", i);
            if (now.yaw_off_rad < 1e-3)
                cr_assert_float_eq(reach, most, 1e-3);
        }
    }
}

/* A limb that stands out level sweeps a roller of that radius, and a sphere on the axis only itself. */
Test(outline, an_unknown_yaw_sweeps_a_roller)
{
    struct volume_outline o = {.limbs = 2, .yaw = VOLUME_YAW_UNKNOWN};
    struct volume_now now = volume_now_usual();
    o.limb[0] = (struct volume_limb){{0.3, 0, 0}, {0.1, 0.1, 0.2}, 0.05};
    o.limb[1] = (struct volume_limb){{0, 0, -0.1}, {0, 0, -0.1}, 0.1};
    struct volume_turn turn = outline_turn(&o, &now);
    struct outline_swept swept;
    struct vec3 at = {1, 2, 3};
    outline_sweep(&o, &turn, 0, at, at, &swept);
    for (int i = 0; i < 12; i++) {
        struct vec3 p = vec_add(at, turned((struct vec3){1.3, 0, 0}, i));
        cr_assert_float_eq(outside(&swept.hull, p), 1 - 0.05, 1e-6, "%d", i);
    }
    outline_sweep(&o, &turn, 1, at, at, &swept);
    cr_assert_float_eq(outside(&swept.hull, (struct vec3){1, 2, 4}), 1, 1e-6);
    cr_assert_float_eq(outline_radius(&o), 0.3, 1e-12);
    cr_assert_float_eq(outline_reach(&o), 0.35, 1e-12);
}

Test(outline, a_yaw_that_is_no_number_may_be_any)
{
    struct random r = {113};
    struct volume_outline o = random_outline(&r, VOLUME_YAW_REPORTED);
    static const struct volume_now lost[] = {{.yaw_rad = (double)NAN},
                                             {.yaw_rad = (double)INFINITY},
                                             {.yaw_off_rad = (double)NAN},
                                             {.yaw_off_rad = (double)INFINITY},
                                             {.yaw_off_rad = 1.6}};
    for (int i = 0; i < 5; i++) {
        struct volume_turn t = outline_turn(&o, &lost[i]);
        cr_assert(fabs(t.cos) <= 0 && fabs(t.sin) <= 0 && t.spread >= 1, "%d", i);
    }
    struct volume_now backwards = {.yaw_off_rad = -1};
    cr_assert_float_eq(outline_turn(&o, &backwards).spread, 0, 1e-12);
}

Test(outline, is_valid_only_as_documented)
{
    struct random r = {114};
    const struct volume_outline good = random_outline(&r, VOLUME_YAW_PAN);
    struct volume_outline o = good;
    cr_assert(outline_valid(&good));
    double *const number[] = {&o.limb[0].a.x,   &o.limb[0].b.z,   &o.limb[0].radius_m, &o.boom_m,
                              &o.boom_radius_m, &o.cord_radius_m, &o.anchor[0].y,      &o.tether.length_m};
    static const double bad[] = {(double)NAN, (double)INFINITY, -2e6, 2e6};
    for (int i = 0; i < 8; i++) {
        for (int k = 0; k < 4; k++) {
            o = good;
            *number[i] = bad[k];
            cr_assert_not(outline_valid(&o), "%d %d", i, k);
        }
    }
    o = good;
    o.limbs = 0;
    cr_assert_not(outline_valid(&o));
    o.limbs = VOLUME_MAX_LIMBS + 1;
    cr_assert_not(outline_valid(&o));
    o = good;
    o.cords = -1;
    cr_assert_not(outline_valid(&o));
    o = good;
    o.limb[0].radius_m = 0;
    cr_assert_not(outline_valid(&o));
    o = good;
    o.yaw = (enum volume_yaw)9;
    cr_assert_not(outline_valid(&o));
}
